//! The cubic B-spline (Unser 1999) that level functions are read between pixels with.

/// Sub-samples a pixel across, and down, in the coverage of a pixel.
pub(crate) const SUBS: usize = 5;

/// The weights of the four coefficients about a place `t` of the way between two pixels.
pub(crate) fn weights(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    let u = 1.0 - t;
    [
        u * u * u / 6.0,
        (3.0 * t3 - 6.0 * t2 + 4.0) / 6.0,
        (-3.0 * t3 + 3.0 * t2 + 3.0 * t + 1.0) / 6.0,
        t3 / 6.0,
    ]
}

/// The weights of the five coefficients about a pixel at each of its sub-samples.
pub(crate) fn sub_weights() -> [[f32; 5]; SUBS] {
    let mut out = [[0.0; 5]; SUBS];
    for (i, row) in out.iter_mut().enumerate() {
        let offset = (i as f32 + 0.5) / SUBS as f32 - 0.5;
        let (first, t) = if offset < 0.0 { (0, offset + 1.0) } else { (1, offset) };
        row[first..first + 4].copy_from_slice(&weights(t));
    }
    out
}

/// The spline at the sub-samples of a pixel, from the 5 x 5 coefficients about it.
pub(crate) fn sample(patch: &[[f32; 5]; 5], w: &[[f32; 5]; SUBS]) -> [f32; SUBS * SUBS] {
    let mut out = [0.0; SUBS * SUBS];
    for (sy, wy) in w.iter().enumerate() {
        let mut row = [0.0; 5];
        for (tap, line) in wy.iter().zip(patch) {
            for (r, v) in row.iter_mut().zip(line) {
                *r += tap * v;
            }
        }
        for (sx, wx) in w.iter().enumerate() {
            out[sy * SUBS + sx] = wx.iter().zip(&row).map(|(a, b)| a * b).sum();
        }
    }
    out
}

/// The nearest point of the simplex (Martins, Astudillo 2016): shares of at least 0 that
/// sum to 1. Of two values it is their difference clipped to one sub-sample's width.
pub(crate) fn sparsemax(z: &mut [f32]) {
    match z {
        [] => {}
        [a] => *a = 1.0,
        [a, b] => {
            *a = ((*a - *b + 1.0) / 2.0).clamp(0.0, 1.0);
            *b = 1.0 - *a;
        }
        _ => {
            let mut sorted = [f32::MIN; crate::MAX_INKS + 1];
            let sorted = &mut sorted[..z.len()];
            sorted.copy_from_slice(z);
            sorted.sort_unstable_by(|a, b| b.total_cmp(a));
            let (mut sum, mut level) = (0.0, 0.0);
            for (i, v) in sorted.iter().enumerate() {
                sum += v;
                let t = (sum - 1.0) / (i + 1) as f32;
                if *v > t {
                    level = t;
                }
            }
            z.iter_mut().for_each(|v| *v = (*v - level).max(0.0));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sparsemax_is_the_nearest_point_of_the_simplex() {
        // Worked from the definition: threshold tau with sum of (z - tau)+ equal to 1.
        let cases: [(&[f32], &[f32]); 4] = [
            (&[0.5, 0.5], &[0.5, 0.5]),
            (&[3.0, 1.0], &[1.0, 0.0]),
            (&[0.6, 0.4, 0.4], &[7.0 / 15.0, 4.0 / 15.0, 4.0 / 15.0]),
            (&[1.2, 1.0, -1.0], &[0.6, 0.4, 0.0]),
        ];
        for (z, expected) in cases {
            let mut got = z.to_vec();
            sparsemax(&mut got);
            assert!(
                got.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-6),
                "{z:?} gave {got:?}"
            );
        }
    }

    #[test]
    fn weights_sum_to_one_and_keep_straight_lines() {
        for t in [0.0, 0.1, 0.5, 0.93, 1.0] {
            let w = weights(t);
            assert!((w.iter().sum::<f32>() - 1.0).abs() < 1e-6);
            let line: f32 = w.iter().zip([-1.0, 0.0, 1.0, 2.0]).map(|(w, x)| w * x).sum();
            assert!((line - t).abs() < 1e-6);
        }
    }
}
