//! Straightening: motion by curvature.

use super::band::{Band, Numbers};
use crate::plane::Plane;

/// The curvature of the level through each pixel of the band times the gradient's size: what
/// must be added, per pixel of movement, for edges to move to their centres of curvature.
pub(super) fn bends(u: &Plane, band: &Band) -> Numbers {
    let (width, height) = (u.width, u.height);
    band.work_out(|y, (from, to), out| {
        let above = u.row(y.saturating_sub(1));
        let here = u.row(y);
        let below = u.row((y + 1).min(height - 1));
        for (x, bend) in (from..to).zip(out) {
            let (left, right) = (x.saturating_sub(1), (x + 1).min(width - 1));
            let dx = (here[right] - here[left]) / 2.0;
            let dy = (below[x] - above[x]) / 2.0;
            let dxx = here[right] - 2.0 * here[x] + here[left];
            let dyy = below[x] - 2.0 * here[x] + above[x];
            let dxy = (below[right] - below[left] - above[right] + above[left]) / 4.0;
            // Kept finite where there is no gradient.
            let steep = dx * dx + dy * dy + 1e-4;
            *bend =
                ((dxx * dy * dy - 2.0 * dx * dy * dxy + dyy * dx * dx) / steep).clamp(-1.0, 1.0);
        }
    })
}
