//! Specks and pinholes: patches of ink or paper too small to be meant.

use crate::Cleaned;
use crate::plane::Plane;

/// Clears patches of ink, and fills patches of paper, of less than `least` source pixels in
/// the coefficients `u`, whose edge lies at `level`. Gives what was cleaned, largest first.
pub(crate) fn clean(u: &mut Plane, level: f32, least: f64) -> Vec<Cleaned> {
    if least <= 0.0 {
        return Vec::new();
    }
    // A coefficient's own share of ink, rising over one pixel about the edge.
    let cover: Vec<f32> = u.data.iter().map(|v| (v - level + 0.5).clamp(0.0, 1.0)).collect();
    let mut cleaned = Vec::new();
    for ink in [true, false] {
        let share = |at: usize| if ink { cover[at] } else { 1.0 - cover[at] };
        let mut seen = vec![false; cover.len()];
        let mut patch = Vec::new();
        for start in 0..cover.len() {
            if seen[start] || share(start) < 0.05 {
                continue;
            }
            patch.clear();
            patch.push(start);
            seen[start] = true;
            let mut next = 0;
            while next < patch.len() {
                let (x, y) = (patch[next] % u.width, patch[next] / u.width);
                next += 1;
                for v in y.saturating_sub(1)..(y + 2).min(u.height) {
                    for w in x.saturating_sub(1)..(x + 2).min(u.width) {
                        let at = v * u.width + w;
                        if !seen[at] && share(at) >= 0.05 {
                            seen[at] = true;
                            patch.push(at);
                        }
                    }
                }
            }
            let area: f64 = patch.iter().map(|at| f64::from(share(*at))).sum();
            if area >= least || patch.iter().all(|at| share(*at) <= 0.5) {
                continue;
            }
            let mean = |f: &dyn Fn(usize) -> usize| {
                patch.iter().map(|at| (f(*at) as f64 + 0.5) * f64::from(share(*at))).sum::<f64>()
                    / area
            };
            cleaned.push(Cleaned {
                x: mean(&|at| at % u.width),
                y: mean(&|at| at / u.width),
                area_px: area,
                ink,
            });
            let flat = if ink { level - 0.5 } else { level + 0.5 };
            patch.iter().for_each(|at| u.data[*at] = flat);
        }
    }
    cleaned.sort_by(|a, b| b.area_px.total_cmp(&a.area_px));
    cleaned
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A disc of ink of 9 px across, a speck of two pixels beside it, a pinhole within it.
    #[test]
    fn small_patches_go_and_large_ones_stay() {
        let mut u = Plane::new(24, 16);
        for (i, v) in u.data.iter_mut().enumerate() {
            let (x, y) = ((i % 24) as f32, (i / 24) as f32);
            *v = if (x - 8.0).hypot(y - 8.0) < 4.6 { 1.0 } else { 0.0 };
        }
        u.data[8 * 24 + 8] = 0.0;
        u.data[4 * 24 + 20] = 1.0;
        u.data[4 * 24 + 21] = 1.0;
        let before = u.clone();
        assert_eq!(clean(&mut u, 0.5, 0.0), []);
        assert_eq!(u, before);
        let cleaned = clean(&mut u, 0.5, 3.0);
        assert_eq!(cleaned.len(), 2);
        assert_eq!(
            (cleaned[0].x, cleaned[0].y, cleaned[0].area_px, cleaned[0].ink),
            (21.0, 4.5, 2.0, true)
        );
        assert_eq!(
            (cleaned[1].x, cleaned[1].y, cleaned[1].area_px, cleaned[1].ink),
            (8.5, 8.5, 1.0, false)
        );
        assert_eq!(clean(&mut u, 0.5, 3.0), []);
        assert!(clean(&mut u, 0.5, 100.0).len() == 1, "the disc itself, when asked");
    }
}
