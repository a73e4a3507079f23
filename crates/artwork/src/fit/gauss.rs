//! Gaussian smoothing.

use crate::plane::Plane;
use rayon::prelude::*;

/// The plane smoothed by a Gaussian of standard deviation `sigma` pixels, cut off at four of
/// them; the number at the edge goes on past it.
pub(crate) fn blurred(plane: &Plane, sigma: f32) -> Plane {
    let radius = (4.0 * sigma + 0.5) as usize;
    let mut weights: Vec<f32> = (0..=2 * radius)
        .map(|i| (-0.5 * ((i as f32 - radius as f32) / sigma).powi(2)).exp())
        .collect();
    let sum: f32 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= sum);
    let (width, height) = (plane.width, plane.height);
    let mut out = Plane::new(width, height);
    out.data.par_chunks_mut(width).enumerate().for_each_init(
        || vec![0.0_f32; width + 2 * radius],
        |padded, (y, row)| {
            let mixed = &mut padded[radius..radius + width];
            mixed.fill(0.0);
            for (i, weight) in weights.iter().enumerate() {
                let from = plane.row((y + i).saturating_sub(radius).min(height - 1));
                mixed.iter_mut().zip(from).for_each(|(m, v)| *m += weight * v);
            }
            let (first, last) = (mixed[0], mixed[width - 1]);
            padded[..radius].fill(first);
            padded[radius + width..].fill(last);
            row.fill(0.0);
            for (i, weight) in weights.iter().enumerate() {
                row.iter_mut().zip(&padded[i..]).for_each(|(out, v)| *out += weight * v);
            }
        },
    );
    out
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
        for (x, y, want) in SCIPY {
            assert!((smooth.row(y)[x] - want).abs() < 1e-3, "{x} {y}: {} {want}", smooth.row(y)[x]);
        }
    }
}
