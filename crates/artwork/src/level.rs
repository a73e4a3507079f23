//! Levels: where grey is parted into ink and clear.

/// Otsu's level of a histogram (black first): pixels of this grey or darker are ink. It
/// parts the greys so that the variance between the two classes is greatest, the lowest such
/// level where several are equal. N. Otsu 1979, doi:10.1109/TSMC.1979.4310076.
///
/// ```
/// let mut counts = [0; 256];
/// counts[..6].copy_from_slice(&[8, 7, 2, 6, 9, 4]);
/// assert_eq!(artwork::otsu(&counts), 2);
/// ```
pub fn otsu(counts: &[u64; 256]) -> u8 {
    let total: u64 = counts.iter().sum();
    let sum: u64 = counts.iter().zip(0_u64..).map(|(n, grey)| n * grey).sum();
    let (mut below, mut below_sum) = (0_u64, 0_u64);
    let (mut best, mut best_variance) = (None, -1.0);
    for (grey, n) in counts.iter().enumerate() {
        below += n;
        below_sum += n * grey as u64;
        let above = total - below;
        if below == 0 || above == 0 {
            continue;
        }
        let (w0, w1) = (below as f64, above as f64);
        let difference = below_sum as f64 / w0 - (sum - below_sum) as f64 / w1;
        let variance = w0 * w1 * difference * difference;
        if variance > best_variance {
            (best, best_variance) = (Some(grey as u8), variance);
        }
    }
    // A picture of a single grey has no two classes: it is ink where it is dark.
    best.unwrap_or(127)
}

/// The share of ink at which greys up to `grey` become ink: half-way to the next grey.
pub(crate) fn share_of(grey: u8) -> f64 {
    (1.0 - (f64::from(grey) + 0.5) / 255.0).clamp(0.5 / 255.0, 1.0 - 0.5 / 255.0)
}

/// Sauvola's level of each pixel in grey, m (1 + k (s / R - 1)) over a square window, with
/// k = 0.2 and R = 127.5; the picture is mirrored at its edges.
/// J. Sauvola, M. Pietikainen 2000, doi:10.1016/S0031-3203(99)00055-2.
pub(crate) fn sauvola(grey: &[u8], width: usize, height: usize, window: usize) -> Vec<f32> {
    const K: f64 = 0.2;
    const R: f64 = 127.5;
    let half = window / 2;
    let side = 2 * half + 1;
    let mirrored = |i: usize, n: usize| {
        // Position `i` counts from `half` pixels before the first.
        let period = 2 * (n as i64 - 1).max(1);
        let at = (i as i64 - half as i64).rem_euclid(period);
        at.min(period - at).min(n as i64 - 1) as usize
    };
    // Sums down each column of the window, moved on one row at a time.
    let mut sums = vec![(0_u64, 0_u64); width];
    let add = |sums: &mut [(u64, u64)], y: usize, sign: bool| {
        for (sum, g) in sums.iter_mut().zip(&grey[y * width..][..width]) {
            let g = u64::from(*g);
            if sign {
                *sum = (sum.0 + g, sum.1 + g * g);
            } else {
                *sum = (sum.0 - g, sum.1 - g * g);
            }
        }
    };
    for i in 0..side {
        add(&mut sums, mirrored(i, height), true);
    }
    let count = (side * side) as f64;
    let mut out = Vec::with_capacity(grey.len());
    for y in 0..height {
        let at = |i: usize| sums[mirrored(i, width)];
        let mut sum = (0..side).map(at).fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
        for x in 0..width {
            let mean = sum.0 as f64 / count;
            let deviation = (sum.1 as f64 / count - mean * mean).max(0.0).sqrt();
            out.push((mean * (1.0 + K * (deviation / R - 1.0))) as f32);
            let (leaves, comes) = (at(x), at(x + side));
            sum = (sum.0 + comes.0 - leaves.0, sum.1 + comes.1 - leaves.1);
        }
        if y + 1 < height {
            add(&mut sums, mirrored(y, height), false);
            add(&mut sums, mirrored(y + side, height), true);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture whose values follow a rule that Python repeats:
    /// `g = (x*x*7 + y*y*13 + x*y*5 + (x//6)*40) % 256`, 40 wide and 30 high.
    fn patterned() -> Vec<u8> {
        (0..30_usize)
            .flat_map(|y| {
                (0..40_usize)
                    .map(move |x| ((x * x * 7 + y * y * 13 + x * y * 5 + x / 6 * 40) % 256) as u8)
            })
            .collect()
    }

    /// scikit-image 0.26: `threshold_sauvola(g, window_size=11, k=0.2)` at `x, y`.
    const SAUVOLA: [(usize, usize, f64); 6] = [
        (0, 0, 104.276_336),
        (5, 5, 119.351_345),
        (20, 15, 110.911_645),
        (39, 29, 125.285_296),
        (39, 0, 110.751_234),
        (2, 28, 111.259_134),
    ];

    /// scikit-image 0.26: `threshold_otsu(g)` is 127.
    #[test]
    fn otsu_agrees_with_scikit_image() {
        let mut counts = [0; 256];
        patterned().iter().for_each(|g| counts[*g as usize] += 1);
        assert_eq!(otsu(&counts), 127);
    }

    #[test]
    fn sauvola_agrees_with_scikit_image() {
        let levels = sauvola(&patterned(), 40, 30, 11);
        for (x, y, level) in SAUVOLA {
            assert!(
                (f64::from(levels[y * 40 + x]) - level).abs() < 2e-3,
                "{x} {y}: {} {level}",
                levels[y * 40 + x]
            );
        }
    }

    /// The worked value of the paper's formula: m 100, s 30, R 128 gives 84.6875; with
    /// R 127.5 it is 84.7059. A window half black and half white shows mean and deviation.
    #[test]
    fn a_flat_picture_is_cut_below_its_grey() {
        let levels = sauvola(&[100; 81], 9, 9, 5);
        assert!(levels.iter().all(|l| (l - 80.0).abs() < 1e-4));
    }
}
