//! What pixels would measure of a film: how much of each the spline inks.

use super::band::{Band, Numbers};
use crate::grid::Kernel;
use crate::plane::Plane;

/// Samples across and down a pixel.
const SAMPLES: usize = 5;

/// The five coefficients' weights at each sample of a pixel, from two before it to two after.
fn taps() -> [[f32; 5]; SAMPLES] {
    std::array::from_fn(|i| {
        let at = (i as f64 + 0.5) / SAMPLES as f64 - 0.5;
        let (from, t) = if at < 0.0 { (0, 1.0 + at) } else { (1, at) };
        let weights = Kernel::BSpline.weights(t);
        std::array::from_fn(|j| {
            if (from..from + 4).contains(&j) { weights[j - from] as f32 } else { 0.0 }
        })
    })
}

/// The coverage that the spline of coefficients `u` gives each pixel in the band. A sample's
/// own coverage goes from 0 to 1 within half a sample of the edge, as if the spline rose by
/// one a pixel.
pub(super) fn seen(u: &Plane, band: &Band) -> Numbers {
    let (width, height) = (u.width, u.height);
    let taps = taps();
    band.work_out(|y, (from, to), sums| {
        let rows: [&[f32]; 5] =
            std::array::from_fn(|i| u.row((y + i).saturating_sub(2).min(height - 1)));
        let mut mixed = vec![0.0_f32; to - from + 4];
        for down in &taps {
            // One row of the spline, two columns wider than the run on either side.
            for (i, mixed) in mixed.iter_mut().enumerate() {
                let x = (from + i).saturating_sub(2).min(width - 1);
                *mixed = (0..5).map(|j| down[j] * rows[j][x]).sum();
            }
            for across in &taps {
                for (sum, near) in sums.iter_mut().zip(mixed.windows(5)) {
                    let value: f32 = (0..5).map(|j| across[j] * near[j]).sum();
                    *sum += (SAMPLES as f32 * (value - 0.5) + 0.5).clamp(0.0, 1.0);
                }
            }
        }
        sums.iter_mut().for_each(|sum| *sum /= (SAMPLES * SAMPLES) as f32);
    })
}

/// Measured less seen. Where only sides are known a pixel on its own side is pulled less.
pub(super) fn residual(cover: &Plane, seen: &Numbers, band: &Band, sides_only: bool) -> Numbers {
    let mut out = band.take(cover);
    for (wants, seen) in out.iter_mut().zip(seen) {
        for (want, is) in wants.iter_mut().zip(seen) {
            let all = *want - is;
            let hinge = if *want > 0.5 { (0.5 - is).max(0.0) } else { (0.5 - is).min(0.0) };
            *want = if sides_only { 0.5 * all + 2.0 * hinge } else { all };
        }
    }
    out
}
