//! How blurred the photograph is, from the film's own straight edges.

use crate::camera::Xy;
use crate::edges::PhotoLevel;
use crate::model::Model;
use crate::samples::{PROFILE, REACH, SPARE, Sample};
use crate::solve::median;
use nalgebra::{Matrix4, Vector4};
use rayon::prelude::*;

/// An edge's drawing may differ from a straight one's by so much, black to white being 1.
const CLEAN: f64 = 0.04;
/// So many edges are asked at most, ...
const ASKED: usize = 300;
/// ... and fewer than so many tell nothing.
const FEW: usize = 24;
/// Points either side of the edge, half a pixel apart.
const POINTS: i32 = (REACH + SPARE) as i32;

/// How far the halos of a camera that sharpens reach, photo pixels, ...
const HALO: f64 = 1.2;
/// ... and how strong they may be; a sharper one must explain the edges so many times better.
const HALOS: [f64; 6] = [0.0, 0.2, 0.4, 0.6, 0.9, 1.3];
const BETTER: f64 = 0.965;

/// How a photo spreads light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Spread {
    /// A bell's standard deviation in photo pixels.
    pub(crate) blur: f64,
    /// So much of a wider one is taken away, and so much more of the first is there: what cameras
    /// do that sharpen.
    pub(crate) halo: f64,
}

impl Spread {
    /// Without halos.
    pub(crate) const fn blur(blur: f64) -> Self {
        Self { blur, halo: 0.0 }
    }

    /// The standard deviation of what is taken away.
    pub(crate) fn wide(self) -> f64 {
        self.blur.hypot(HALO)
    }

    /// A step's light so many pixels past it, and how that changes with the place and the blur.
    fn edge(self, t: f64) -> [f64; 3] {
        let (more, wide) = (1.0 + self.halo, self.wide());
        let (near, far) = (t / self.blur, t / wide);
        let (bell, wide_bell) = (more * bell(near), self.halo * bell(far));
        [
            more * step(near) - self.halo * step(far),
            bell / self.blur - wide_bell / wide,
            -bell * near / self.blur + wide_bell * far * self.blur / (wide * wide),
        ]
    }
}

/// How the photo spreads light; nothing where too few straight edges are seen. The drawing was
/// blurred by `drawn` photo pixels.
pub(crate) fn spread(
    samples: &[Sample],
    drawn: f64,
    model: &Model,
    photo: &PhotoLevel,
) -> Option<Spread> {
    let clean: Vec<&Sample> = samples.iter().filter(|s| is_straight(s, 2.0 * drawn)).collect();
    let asked: Vec<&&Sample> = clean.iter().step_by(clean.len().div_ceil(ASKED).max(1)).collect();
    let seen: Vec<Seen> =
        asked.into_par_iter().filter_map(|sample| seen(sample, model, photo)).collect();
    let mut best: Option<(f64, Spread)> = None;
    for halo in HALOS {
        let fits: Vec<(f64, f64)> = seen.par_iter().filter_map(|seen| fit(seen, halo)).collect();
        if fits.len() < FEW {
            continue;
        }
        let middle = |value: fn(&(f64, f64)) -> f64| median(fits.iter().map(value).collect());
        let (blur, noise) = (middle(|f| f.0), middle(|f| f.1));
        if best.is_none_or(|(least, _)| noise < BETTER * least) {
            best = Some((noise, Spread { blur, halo }));
        }
    }
    best.map(|(_, spread)| spread)
}

/// Whether the drawing shows nothing but one straight edge, blurred by so many steps.
fn is_straight(sample: &Sample, blur: f64) -> bool {
    (0..PROFILE).all(|k| {
        let expected = step((k as f64 - f64::from(POINTS)) / blur);
        (f64::from(sample.profile[k]) - expected).abs() < CLEAN
    })
}

/// What the photo shows along an edge's normal, so many photo pixels from it.
type Seen = Vec<(f64, f64)>;

fn seen(sample: &Sample, model: &Model, photo: &PhotoLevel) -> Option<Seen> {
    let p = model.camera.projected(model.place(sample.at, sample.sheet))?;
    let along: Xy = std::array::from_fn(|i| {
        p.by_film[0][i] * sample.normal[0] + p.by_film[1][i] * sample.normal[1]
    });
    let long = along[0].hypot(along[1]);
    let light = |k| {
        let t = f64::from(k) / 2.0;
        let at: Xy = std::array::from_fn(|i| (p.at[i] + along[i] / long * t) / photo.scale);
        Some((t, f64::from(photo.light.cubic(at[0], at[1])?) / 65535.0))
    };
    (-POINTS..=POINTS).map(light).collect()
}

/// How blurred an edge is that has such halos, and what that leaves unexplained of its contrast:
/// the best step, by Gauss-Newton.
fn fit(seen: &Seen, halo: f64) -> Option<(f64, f64)> {
    let (first, last) = (seen.first()?.1, seen.last()?.1);
    // Dark, contrast, place and blur.
    let mut fit = Vector4::new(first, last - first, 0.0, 1.1);
    let mut noise = 0.0;
    for _ in 0..8 {
        let (mut normal, mut right) = (Matrix4::zeros(), Vector4::zeros());
        noise = 0.0;
        let spread = Spread { blur: fit[3], halo };
        for (t, value) in seen {
            let [up, slope, by_blur] = spread.edge(t - fit[2]);
            let row = Vector4::new(1.0, up, -fit[1] * slope, fit[1] * by_blur);
            let miss = value - fit[0] - fit[1] * up;
            normal += row * row.transpose();
            right += row * miss;
            noise += miss * miss;
        }
        fit += normal.try_inverse()? * right;
        if !(0.2..6.0).contains(&fit[3]) || fit[2].abs() > 3.0 {
            return None;
        }
    }
    let noise = (noise / seen.len() as f64).sqrt() / fit[1];
    (noise < 0.1 && noise > 0.0).then_some((fit[3], noise))
}

/// The normal distribution's density.
fn bell(u: f64) -> f64 {
    (-0.5 * u * u).exp() / std::f64::consts::TAU.sqrt()
}

/// The normal distribution.
fn step(u: f64) -> f64 {
    0.5 * libm::erfc(-u * std::f64::consts::FRAC_1_SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Camera;
    use crate::field::Mesh;
    use crate::grey::Grey;

    /// Of a slanting edge drawn at known blurs, sharpened or not; the step itself against a table
    /// (Abramowitz & Stegun 1964, table 26.1).
    #[test]
    fn a_known_blur_is_measured() {
        assert!(
            (step(1.0) - 0.841_344_746).abs() < 1e-7 && (step(-2.0) - 0.022_750_132).abs() < 1e-7
        );
        let (side, normal) = (200, [0.8, 0.6]);
        let to_edge = |x: f64, y: f64| (x - 100.0) * normal[0] + (y - 100.0) * normal[1];
        let profile = std::array::from_fn(|k| step((k as f64 - f64::from(POINTS)) / 2.5) as f32);
        let samples: Vec<Sample> = (-30..30)
            .map(|k| {
                let at = [f64::from(k) * 0.6, f64::from(k) * -0.8];
                Sample { at, normal, sheet: 0, profile }
            })
            .collect();
        // A pixel a mm, seen squarely.
        let by = 2.0 / side as f64;
        let camera = Camera::new([by, 0.0, 0.0, 0.0, by, 0.0, 0.0, 0.0], 200.0, 200.0);
        let model = Model::new(camera, vec![[0.0; 2]], Mesh::new(200.0, 200.0, 100.0));
        for (wide, halo) in [(0.7, 0.0), (1.2, 0.0), (2.0, 0.0), (0.8, 0.6), (1.1, 0.4)] {
            let spread = Spread { blur: wide, halo };
            let px = (0..side * side).map(|i| {
                let (x, y) = ((i % side) as f64 + 0.5, (i / side) as f64 + 0.5);
                (15_000.0 + 35_000.0 * spread.edge(to_edge(x, y))[0]) as u16
            });
            let light = Grey { width: side, height: side, px: px.collect() };
            let photo = PhotoLevel { light: &light, scale: 1.0, mm: 1.0 };
            let seen = super::spread(&samples, 1.25, &model, &photo).unwrap();
            assert!((seen.blur - wide).abs() < 0.03, "{seen:?} is {spread:?}");
            assert_eq!(seen.halo, halo, "{seen:?} is {spread:?}");
            assert_eq!(super::spread(&samples[..20], 1.25, &model, &photo), None);
        }
    }
}
