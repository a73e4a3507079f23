//! Gaussian smoothing.

use super::band::{Band, Numbers};
use crate::plane::Plane;
use rayon::prelude::*;

/// The plane smoothed by a Gaussian of standard deviation `sigma` pixels, cut off at four of
/// them; the number at the edge goes on past it.
pub(crate) fn blurred(plane: &Plane, sigma: f32) -> Plane {
    let weights = weights(sigma);
    let width = plane.width;
    let mut out = Plane::new(width, plane.height);
    out.data
        .par_chunks_mut(width)
        .enumerate()
        .for_each_init(Vec::new, |mixed, (y, row)| smooth_run(plane, &weights, y, 0, row, mixed));
    out
}

/// The same, only for the pixels of a band.
pub(super) fn blurred_in(band: &Band, plane: &Plane, sigma: f32) -> Numbers {
    let weights = weights(sigma);
    band.work_out(|y, (from, _), out| smooth_run(plane, &weights, y, from, out, &mut Vec::new()))
}

fn weights(sigma: f32) -> Vec<f32> {
    let radius = (4.0 * sigma + 0.5) as usize;
    let weight = |i: usize| (-0.5 * ((i as f32 - radius as f32) / sigma).powi(2)).exp();
    let sum: f32 = (0..=2 * radius).map(weight).sum();
    (0..=2 * radius).map(|i| weight(i) / sum).collect()
}

/// The smoothed numbers of row `y` from column `from` on, as many as `out` holds.
fn smooth_run(
    plane: &Plane,
    weights: &[f32],
    y: usize,
    from: usize,
    out: &mut [f32],
    mixed: &mut Vec<f32>,
) {
    let (width, height, radius) = (plane.width, plane.height, weights.len() / 2);
    mixed.clear();
    mixed.resize(out.len() + 2 * radius, 0.0);
    // Columns of the picture among those that are needed, first from all rows near.
    let first = from.saturating_sub(radius);
    let last = (from + out.len() + radius).min(width);
    let lead = first + radius - from;
    let inside = lead..lead + last - first;
    for (i, weight) in weights.iter().enumerate() {
        let row = plane.row((y + i).saturating_sub(radius).min(height - 1));
        mixed[inside.clone()].iter_mut().zip(&row[first..last]).for_each(|(m, v)| *m += weight * v);
    }
    let (left, right) = (mixed[inside.start], mixed[inside.end - 1]);
    mixed[..inside.start].fill(left);
    mixed[inside.end..].fill(right);
    out.fill(0.0);
    for (i, weight) in weights.iter().enumerate() {
        out.iter_mut().zip(&mixed[i..]).for_each(|(out, v)| *out += weight * v);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCIPY: [(usize, usize, f32); 4] =
        [(0, 0, 6.1298), (5, 4, 30.4235), (11, 8, 46.5421), (11, 0, 26.8708)];

    /// scipy 1.17: `gaussian_filter(a, 0.8, mode="nearest")` of `scipy.ndimage` with
    /// `a[y, x] = (x*x*7 + y*13 + x*y*5) % 64`, 12 wide and 9 high.
    #[test]
    fn smoothing_agrees_with_scipy() {
        let mut plane = Plane::new(12, 9);
        for (i, value) in plane.data.iter_mut().enumerate() {
            let (x, y) = (i % 12, i / 12);
            *value = ((x * x * 7 + y * 13 + x * y * 5) % 64) as f32;
        }
        let smooth = blurred(&plane, 0.8);
        let band = Band { rows: vec![vec![(0, 3), (5, 12)]; 9] };
        assert_eq!(blurred_in(&band, &plane, 0.8), band.take(&smooth));
        for (x, y, want) in SCIPY {
            assert!((smooth.row(y)[x] - want).abs() < 1e-3, "{x} {y}: {} {want}", smooth.row(y)[x]);
        }
    }
}
