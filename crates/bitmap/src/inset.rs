use crate::{Bitmap, Raster, collect};
use rayon::prelude::*;

/// The picture with every edge of its ink drawn in by `by_px` pixels, or out where that is
/// negative, to the nearest pixel: an ink pixel stays where no clear pixel's middle lies within
/// `by_px + 0.5` of its own. What lies outside the picture counts as more of the same.
///
/// What is drawn in does not vanish: ink too thin to be thinned stays as it is, except within
/// reach of ink that was thinned.
pub fn inset(raster: &dyn Raster, by_px: f64) -> Bitmap {
    let whole = collect(raster);
    let reach = by_px.abs() + 0.5;
    if !reach.is_finite() || reach < 1.0 {
        return whole;
    }
    if by_px < 0.0 {
        return grown(&whole, reach);
    }
    let thinned = inverted(grown(&inverted(whole.clone()), reach));
    // A square's corner lies further from the thinned square than its sides do, by the root of
    // two; what lies further still was part of nothing thicker.
    let near = grown(&thinned, reach * std::f64::consts::SQRT_2);
    let mut out = thinned;
    for ((out, whole), near) in out.words_mut().iter_mut().zip(whole.words()).zip(near.words()) {
        *out |= whole & !near;
    }
    out
}

fn inverted(mut picture: Bitmap) -> Bitmap {
    let last = u64::MAX << ((64 - picture.width() % 64) % 64);
    for y in 0..picture.height() {
        let row = picture.row_mut(y);
        row.iter_mut().for_each(|word| *word = !*word);
        if let Some(word) = row.last_mut() {
            *word &= last;
        }
    }
    picture
}

/// Ink wherever a pixel's middle lies within `reach` of an ink pixel's.
fn grown(picture: &Bitmap, reach: f64) -> Bitmap {
    let mut out = Bitmap::new(picture.width(), picture.height());
    let (stride, height) = (out.stride(), i64::from(picture.height()));
    if stride == 0 {
        return out;
    }
    let last = u64::MAX << ((64 - picture.width() % 64) % 64);
    let far = reach.floor() as i64;
    // How far ink reaches aside from a row so many rows away.
    let aside: Vec<usize> =
        (0..=far).map(|dy| (reach * reach - (dy * dy) as f64).max(0.0).sqrt() as usize).collect();
    out.words_mut().par_chunks_mut(stride).enumerate().for_each(|(y, row)| {
        let mut wide = Vec::with_capacity(stride);
        for dy in -far..=far {
            let from = y as i64 + dy;
            if (0..height).contains(&from) {
                widened(picture.row(from as u32), aside[dy.unsigned_abs() as usize], &mut wide);
                row.iter_mut().zip(&wide).for_each(|(out, more)| *out |= more);
            }
        }
        if let Some(word) = row.last_mut() {
            *word &= last;
        }
    });
    out
}

/// A row with every ink pixel spread by so many pixels to both sides.
fn widened(row: &[u64], by: usize, out: &mut Vec<u64>) {
    out.clear();
    out.extend_from_slice(row);
    // Spreads add up: 1, then 2, then 4 and so on, each no more than what is left.
    let (mut left, mut step) = (by, 1);
    while left > 0 {
        let now = step.min(left).min(63) as u32;
        let mut before = 0;
        for n in 0..out.len() {
            let word = out[n];
            let after = out.get(n + 1).copied().unwrap_or(0);
            let right = word >> now | before << (64 - now);
            let back = word << now | after >> (64 - now);
            before = word;
            // Steps at most twice as long as what is filled already leave no gap.
            out[n] = word | right | back;
        }
        left -= now as usize;
        step = 2 * now as usize;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same by looking at every pixel's surroundings.
    fn slowly(picture: &Bitmap, reach: f64) -> Bitmap {
        let far = reach as i64;
        Bitmap::from_fn(picture.width(), picture.height(), |x, y| {
            (-far..=far).any(|dy| {
                (-far..=far).any(|dx| {
                    let (u, v) = (i64::from(x) + dx, i64::from(y) + dy);
                    ((dx * dx + dy * dy) as f64) <= reach * reach
                        && u >= 0
                        && v >= 0
                        && picture.get(u as u32, v as u32)
                })
            })
        })
    }

    fn specks(width: u32, height: u32) -> Bitmap {
        Bitmap::from_fn(width, height, |x, y| {
            let h = (x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77))
                .wrapping_mul(0xC2B2_AE3D);
            (h >> 16) % 40 == 0
        })
    }

    #[test]
    fn growing_fills_discs() {
        for width in [1, 63, 64, 65, 200] {
            let picture = specks(width, 40);
            for reach in [1.0, 1.3, 1.5, 2.0, 2.9, 5.5, 14.2] {
                assert_eq!(grown(&picture, reach), slowly(&picture, reach), "{width} {reach}");
            }
        }
    }

    #[test]
    fn less_than_half_a_pixel_changes_nothing() {
        let picture = specks(100, 30);
        for by in [0.0, 0.49, -0.49, f64::NAN, f64::INFINITY] {
            assert_eq!(inset(&picture, by), picture);
        }
    }

    /// A block is drawn in by whole pixels; printed by a printer whose ink spreads as far, it
    /// is the block again.
    #[test]
    fn what_is_drawn_in_spreads_back() {
        let block = |x: u32, y: u32| (20..90).contains(&x) && (10..40).contains(&y);
        let picture = Bitmap::from_fn(120, 60, block);
        for (by, px) in [(0.5, 1), (1.4, 1), (1.6, 2), (3.0, 3)] {
            let thin = inset(&picture, by);
            let inner = Bitmap::from_fn(120, 60, |x, y| {
                (20 + px..90 - px).contains(&x) && (10 + px..40 - px).contains(&y)
            });
            assert_eq!(thin, inner, "{by}");
            let edge = |x: u32, y: u32| block(x, y) && !thin.get(x, y);
            assert!(edge(20, 20) && edge(50, 10));
        }
        assert_eq!(inset(&picture, -1.0).count(), slowly(&picture, 1.5).count());
    }

    #[test]
    fn lines_too_thin_stay() {
        for (by, wide) in [(0.6, 1), (0.6, 2), (1.6, 4)] {
            let line = Bitmap::from_fn(100, 40, |x, y| (50..50 + wide).contains(&x) && y > 4);
            assert_eq!(inset(&line, by), line, "{by} {wide}");
            // Beside a block that is thinned as usual.
            let both = Bitmap::from_fn(100, 40, |x, y| line.get(x, y) || x < 30);
            let thin = inset(&both, by);
            assert!(thin.get(50, 20) && !thin.get(29, 20) && thin.get(20, 20));
        }
    }
}
