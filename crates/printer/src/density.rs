use measure::Length;

/// The shares of ink of the density patches, in the order they stand on the page.
pub const PATCHES: [f64; 11] = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0];

/// Patches are made of lines this far apart.
pub const PATCH_PITCH: Length = Length::mm(1.0);

/// The share of ink that a patch's density tells, beside those of clear film and of solid ink
/// (Murray 1936, an equation credited there to Davies).
pub fn coverage(patch: f64, clear: f64, solid: f64) -> f64 {
    let shade = |density: f64| 1.0 - 10_f64.powf(clear - density);
    shade(patch) / shade(solid)
}

/// How far ink spreads past each edge, and one standard deviation of it, from the densities of
/// all patches; nothing where they do not rise from clear to solid. A line of a patch that
/// should cover a share `a` of its pitch `p` covers `a + 2 spread / p`.
pub(crate) fn spread(densities: &[f64; 11]) -> Option<(Length, Length)> {
    let (clear, solid) = (densities[0], densities[10]);
    if densities.iter().any(|d| !d.is_finite() || *d < 0.0) || solid < clear + 0.3 {
        return None;
    }
    // Where lines nearly touch or nearly vanish, the last of the gap goes at once.
    let patches = PATCHES.iter().zip(densities).filter(|(share, _)| (0.15..0.75).contains(*share));
    let each: Vec<f64> =
        patches.map(|(share, density)| (coverage(*density, clear, solid) - share) / 2.0).collect();
    let n = each.len() as f64;
    let mean = each.iter().sum::<f64>() / n;
    let scatter = each.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    Some((PATCH_PITCH * mean, PATCH_PITCH * (scatter / n).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coverage_follows_the_published_equation() {
        // Murray-Davies by hand: D .5 beside a solid of 1.2 over the clear film covers .7298;
        // a half covered shows .2745.
        assert!((coverage(0.5, 0.0, 1.2) - 0.7298).abs() < 5e-5);
        assert!((coverage(0.2745, 0.0, 1.2) - 0.5).abs() < 1e-4);
        assert!((coverage(0.55, 0.05, 1.25) - 0.7298).abs() < 5e-5);
    }

    #[test]
    fn lines_that_spread_are_measured_by_their_density() {
        let (clear, solid) = (0.04, 3.1);
        for by in [0.03, 0.0, -0.02] {
            let seen = PATCHES.map(|share: f64| {
                let covered = match share {
                    0.0 | 1.0 => share,
                    _ => (share + 2.0 * by).clamp(0.0, 1.0),
                };
                clear - (1.0 - covered * (1.0 - 10_f64.powf(clear - solid))).log10()
            });
            let (found, sd) = spread(&seen).unwrap();
            assert!((found.to_mm() - by).abs() < 1e-9 && sd.to_mm() < 1e-9, "{by}: {found:?}");
        }
        assert!(spread(&[0.1; 11]).is_none());
    }
}
