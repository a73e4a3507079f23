//! Exact distances in a band of a one-bit picture, as far as they matter.

/// The squared distance in pixels from each pixel to the nearest that is nought, up to
/// `cap` pixels away (and `cap` squared beyond), of `rows` of a mask of noughts and ones.
/// Outside the mask nothing is nought. `cap` is at most 180, so that squares fit.
pub(crate) fn squared_distances(mask: &[u8], width: usize, cap: u8) -> Vec<u16> {
    let cap = cap.min(180);
    let mut down: Vec<u8> = mask.iter().map(|m| if *m == 0 { 0 } else { cap }).collect();
    let rows = mask.len() / width;
    for y in 1..rows {
        let (above, here) = down.split_at_mut(y * width);
        let above = &above[(y - 1) * width..];
        here[..width].iter_mut().zip(above).for_each(|(v, a)| *v = (*v).min(a.saturating_add(1)));
    }
    for y in (0..rows.saturating_sub(1)).rev() {
        let (here, below) = down.split_at_mut((y + 1) * width);
        here[y * width..]
            .iter_mut()
            .zip(below)
            .for_each(|(v, b)| *v = (*v).min(b.saturating_add(1)));
    }
    let reach = usize::from(cap);
    let most = u16::from(cap) * u16::from(cap);
    let mut out = vec![0; mask.len()];
    let mut padded = vec![most; width + 2 * reach];
    for (row, out) in down.chunks_exact(width).zip(out.chunks_exact_mut(width)) {
        padded[reach..reach + width]
            .iter_mut()
            .zip(row)
            .for_each(|(p, v)| *p = u16::from(*v) * u16::from(*v));
        out.copy_from_slice(&padded[reach..reach + width]);
        for step in 1..=reach {
            let square = (step * step) as u16;
            let (left, right) = (&padded[reach - step..], &padded[reach + step..]);
            for ((out, l), r) in out.iter_mut().zip(left).zip(right) {
                *out = (*out).min(l.saturating_add(square)).min(r.saturating_add(square));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCIPY: [(usize, usize, u16); 6] =
        [(3, 2, 13), (10, 7, 98), (19, 13, 173), (0, 13, 169), (12, 1, 26), (6, 9, 117)];
    const SUM: u32 = 22162;

    /// scipy 1.17: `distance_transform_edt(a) ** 2` with `a[y, x] = (x*x*7 + y*y*5 + x*y*3) % 17 > 0`,
    /// 20 wide and 14 high.
    #[test]
    fn distances_agree_with_scipy() {
        let mask: Vec<u8> = (0..14_usize * 20)
            .map(|i| {
                let (x, y) = (i % 20, i / 20);
                u8::from((x * x * 7 + y * y * 5 + x * y * 3) % 17 > 0)
            })
            .collect();
        let got = squared_distances(&mask, 20, 100);
        for (x, y, want) in SCIPY {
            assert_eq!(got[y * 20 + x], want, "{x} {y}");
        }
        assert_eq!(got.iter().map(|d| u32::from(*d)).sum::<u32>(), SUM);
        let capped = squared_distances(&mask, 20, 2);
        assert!(capped.iter().zip(&got).all(|(c, g)| *c == (*g).min(4)));
    }
}
