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
const ASKED: usize = 800;
/// ... and fewer than so many tell nothing.
const FEW: usize = 24;
/// Points either side of the edge, half a pixel apart.
const POINTS: i32 = (REACH + SPARE) as i32;

/// The standard deviation of the blur in photo pixels; nothing where too few straight edges are
/// seen. The drawing was blurred by `drawn` photo pixels.
pub(crate) fn blur(
    samples: &[Sample],
    drawn: f64,
    model: &Model,
    photo: &PhotoLevel,
) -> Option<f64> {
    let clean: Vec<&Sample> = samples.iter().filter(|s| is_straight(s, 2.0 * drawn)).collect();
    let asked: Vec<&&Sample> = clean.iter().step_by(clean.len().div_ceil(ASKED).max(1)).collect();
    let widths: Vec<f64> =
        asked.into_par_iter().filter_map(|sample| width(sample, model, photo)).collect();
    (widths.len() >= FEW).then(|| median(widths))
}

/// Whether the drawing shows nothing but one straight edge, blurred by so many steps.
fn is_straight(sample: &Sample, blur: f64) -> bool {
    (0..PROFILE).all(|k| {
        let expected = step((k as f64 - f64::from(POINTS)) / blur);
        (f64::from(sample.profile[k]) - expected).abs() < CLEAN
    })
}

/// How wide the photo shows an edge, in photo pixels: the best blurred step, by Gauss-Newton.
fn width(sample: &Sample, model: &Model, photo: &PhotoLevel) -> Option<f64> {
    let p = model.camera.projected(model.place(sample.at, sample.sheet))?;
    let along: Xy = std::array::from_fn(|i| {
        p.by_film[0][i] * sample.normal[0] + p.by_film[1][i] * sample.normal[1]
    });
    let long = along[0].hypot(along[1]);
    let seen: Vec<(f64, f64)> = (-POINTS..=POINTS)
        .map(|k| {
            let t = f64::from(k) / 2.0;
            let at: Xy = std::array::from_fn(|i| (p.at[i] + along[i] / long * t) / photo.scale);
            Some((t, f64::from(photo.light.cubic(at[0], at[1])?) / 65535.0))
        })
        .collect::<Option<_>>()?;
    let (first, last) = (seen.first()?.1, seen.last()?.1);
    // Dark, contrast, place and width.
    let mut fit = Vector4::new(first, last - first, 0.0, 1.1);
    let mut noise = 0.0;
    for _ in 0..8 {
        let (mut normal, mut right) = (Matrix4::zeros(), Vector4::zeros());
        noise = 0.0;
        for (t, value) in &seen {
            let u = (t - fit[2]) / fit[3];
            let (up, slope) = (step(u), bell(u) * fit[1] / fit[3]);
            let row = Vector4::new(1.0, up, -slope, -slope * u);
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
    let noise = (noise / seen.len() as f64).sqrt();
    (noise < 0.1 * fit[1]).then_some(fit[3])
}

/// The normal distribution's density.
fn bell(u: f64) -> f64 {
    (-0.5 * u * u).exp() / std::f64::consts::TAU.sqrt()
}

/// The normal distribution (Abramowitz & Stegun 1964, 26.2.17; to 7.5e-8).
fn step(u: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.231_641_9 * u.abs());
    let series = [0.319_381_530, -0.356_563_782, 1.781_477_937, -1.821_255_978, 1.330_274_429];
    let tail = bell(u) * t * series.iter().rev().fold(0.0, |sum, c| sum * t + c);
    if u > 0.0 { 1.0 - tail } else { tail }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Camera;
    use crate::field::Mesh;
    use crate::grey::Grey;

    /// Of a slanting edge drawn at known blurs; the step itself against a table (Abramowitz & Stegun
    /// 1964, table 26.1).
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
        for wide in [0.7, 1.2, 2.0] {
            let px = (0..side * side).map(|i| {
                let (x, y) = ((i % side) as f64 + 0.5, (i / side) as f64 + 0.5);
                (10_000.0 + 40_000.0 * step(to_edge(x, y) / wide)) as u16
            });
            let light = Grey { width: side, height: side, px: px.collect() };
            let photo = PhotoLevel { light: &light, scale: 1.0, mm: 1.0 };
            let seen = blur(&samples, 1.25, &model, &photo).unwrap();
            assert!((seen - wide).abs() < 0.03, "{seen} is {wide}");
            assert_eq!(blur(&samples[..20], 1.25, &model, &photo), None);
        }
    }
}
