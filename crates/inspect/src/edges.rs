//! Finding the film's edges in the photograph, to a small part of a pixel.

use crate::camera::Xy;
use crate::grey::Grey;
use crate::model::Model;
use crate::samples::{PROFILE, REACH, SPARE, Sample};
use rayon::prelude::*;

/// An edge that was found.
#[derive(Clone, Debug)]
pub(crate) struct Edge {
    pub(crate) at: Xy,
    pub(crate) normal: Xy,
    pub(crate) sheet: usize,
    /// How far along the normal the photo has it from where the model does, mm.
    pub(crate) shift: f64,
    /// What the noise about the profile lets that be off by, mm.
    pub(crate) sd: f64,
}

/// A level of the photograph.
pub(crate) struct PhotoLevel<'a> {
    pub(crate) light: &'a Grey,
    /// Photo pixels a pixel of this level.
    pub(crate) scale: f64,
    /// The side of this level's pixels on the film, mm.
    pub(crate) mm: f64,
}

/// Points compared.
const POINTS: usize = 2 * REACH + 1;

/// Looks for every sample within `reach` half pixels of where the model has it.
pub(crate) fn find(
    samples: &[Sample],
    model: &Model,
    photo: &PhotoLevel,
    reach: usize,
) -> Vec<Edge> {
    samples.par_iter().filter_map(|s| find_one(s, model, photo, reach)).collect()
}

fn find_one(sample: &Sample, model: &Model, photo: &PhotoLevel, reach: usize) -> Option<Edge> {
    let p = model.camera.projected(model.place(sample.at, sample.sheet))?;
    let step = photo.mm / 2.0;
    let along: Xy = std::array::from_fn(|i| {
        (p.by_film[0][i] * sample.normal[0] + p.by_film[1][i] * sample.normal[1]) * step
            / photo.scale
    });
    let at = [p.at[0] / photo.scale, p.at[1] / photo.scale];
    let mut seen = [0.0_f32; POINTS + 2 * REACH];
    let seen = &mut seen[..POINTS + 2 * reach];
    for (k, seen) in seen.iter_mut().enumerate() {
        let t = k as f64 - (REACH + reach) as f64;
        *seen = photo.light.cubic(at[0] + along[0] * t, at[1] + along[1] * t)? / 65535.0;
    }
    let film: [f32; POINTS] = std::array::from_fn(|k| sample.profile[k + SPARE]);
    let (mut best, mut offset) = (f32::NEG_INFINITY, 0);
    for k in 0..=2 * reach {
        let r = correlation(&film, &seen[k..k + POINTS]);
        if r > best {
            (best, offset) = (r, k);
        }
    }
    // A peak at the end of the reach may be a slope to a better one beyond.
    if best < 0.8 || (reach > 0 && (offset == 0 || offset == 2 * reach)) {
        return None;
    }
    let (shift, sd) = fit(&sample.profile, &seen[offset..offset + POINTS])?;
    Some(Edge {
        at: sample.at,
        normal: sample.normal,
        sheet: sample.sheet,
        shift: (shift + offset as f64 - reach as f64) * step - model.growth,
        sd: sd * step,
    })
}

fn correlation(a: &[f32], b: &[f32]) -> f32 {
    let n = a.len() as f32;
    let (ma, mb) = (a.iter().sum::<f32>() / n, b.iter().sum::<f32>() / n);
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (a, b) in a.iter().zip(b) {
        let (a, b) = (a - ma, b - mb);
        ab += a * b;
        aa += a * a;
        bb += b * b;
    }
    // A profile without contrast is no edge.
    if aa < 1e-3 || bb < 1e-6 { -1.0 } else { ab / (aa * bb).sqrt() }
}

/// Fits `seen(s) = b + a film(s - d)` by Gauss-Newton; gives `d` and its uncertainty in steps.
fn fit(film: &[f32; PROFILE], seen: &[f32]) -> Option<(f64, f64)> {
    let mut d = 0.0_f64;
    let mut sd = f64::INFINITY;
    for _ in 0..4 {
        let (mut normal, mut right) =
            (nalgebra::Matrix3::<f64>::zeros(), nalgebra::Vector3::zeros());
        let mut points = [(0.0, 0.0, 0.0); POINTS];
        for (k, (point, seen)) in points.iter_mut().zip(seen).enumerate() {
            let (value, slope) = shifted(film, k + SPARE, d);
            *point = (value, slope, f64::from(*seen));
        }
        // First the best a and b at this d, then the step.
        let n = POINTS as f64;
        let (mf, ms) = points.iter().fold((0.0, 0.0), |m, p| (m.0 + p.0 / n, m.1 + p.2 / n));
        let (cov, var) = points
            .iter()
            .fold((0.0, 0.0), |m, p| (m.0 + (p.0 - mf) * (p.2 - ms), m.1 + (p.0 - mf).powi(2)));
        let a = cov / var;
        let b = ms - a * mf;
        let mut noise = 0.0;
        for (value, slope, seen) in points {
            let row = nalgebra::Vector3::new(1.0, value, -a * slope);
            let miss = seen - b - a * value;
            normal += row * row.transpose();
            right += row * miss;
            noise += miss * miss;
        }
        let inverse = normal.try_inverse()?;
        d += (inverse * right).z;
        sd = (noise / (n - 3.0) * inverse[(2, 2)]).sqrt();
        if d.abs() > 1.0 || !d.is_finite() {
            return None;
        }
    }
    Some((d, sd))
}

/// The film's profile at point `k` shifted by `d` steps (at most one), and its slope a step.
fn shifted(film: &[f32; PROFILE], k: usize, d: f64) -> (f64, f64) {
    let t = k as f64 - d;
    let i = (t.floor() as usize).clamp(1, PROFILE - 3);
    let t = t - i as f64;
    let [p, q, r, s] = std::array::from_fn(|j| f64::from(film[i + j - 1]));
    // Catmull-Rom.
    let (c1, c2, c3) =
        ((r - p) / 2.0, p - 2.5 * q + 2.0 * r - s / 2.0, (s - p) / 2.0 + 1.5 * (q - r));
    (q + t * (c1 + t * (c2 + t * c3)), c1 + t * (2.0 * c2 + 3.0 * t * c3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shifted_profile_is_found_to_a_hundredth_of_a_step() {
        let step = |s: f64| 1.0 / (1.0 + (-s * 0.9).exp());
        let film: [f32; PROFILE] =
            std::array::from_fn(|k| step(k as f64 - (REACH + SPARE) as f64) as f32);
        for d in [-0.45, -0.1, 0.0, 0.3, 0.5] {
            let seen: Vec<f32> = (0..POINTS)
                .map(|k| (0.1 + 0.7 * step(k as f64 - REACH as f64 - d)) as f32)
                .collect();
            let (got, _) = fit(&film, &seen).unwrap();
            assert!((got - d).abs() < 0.01, "{got} {d}");
        }
    }
}
