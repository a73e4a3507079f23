//! Small fields of cells, each weighed with its neighbours: blurred, moved, or both at once.

use crate::grey::keys;
use crate::sharpness::Spread;

/// A field's size. Past its border the border goes on.
#[derive(Clone, Copy)]
pub(crate) struct Cells {
    pub(crate) width: usize,
    pub(crate) height: usize,
}

/// The weights of neighbours along an axis, the first of them so many cells on.
pub(crate) struct Taps {
    first: i64,
    weights: Vec<f32>,
}

impl Taps {
    /// What a photo makes of fine lines along the other axis whose pixels are so many cells, moved
    /// by so many cells too.
    pub(crate) fn spread(spread: Spread, per_pixel: f64, by: f64) -> Self {
        let (near, far) = (spread.blur * per_pixel, spread.wide() * per_pixel);
        let half = (3.0 * if spread.halo > 0.0 { far } else { near }).ceil() as i64 + 1;
        let first = -(by.floor() as i64) - half;
        let bell = |sigma: f64, t: f64| (-0.5 * (t / sigma).powi(2)).exp() / sigma;
        let weight = |k: i64| {
            let t = (first + k) as f64 + by;
            (1.0 + spread.halo) * bell(near, t) - spread.halo * bell(far, t)
        };
        let raw: Vec<f64> = (0..=2 * half).map(weight).collect();
        let sum: f64 = raw.iter().sum();
        Self { first, weights: raw.iter().map(|w| (w / sum) as f32).collect() }
    }

    /// Moves what is there by so many cells, bilinear between them.
    pub(crate) fn linear(by: f64) -> Self {
        let first = (-by).floor();
        let part = (-by - first) as f32;
        Self { first: first as i64, weights: vec![1.0 - part, part] }
    }

    /// Moves what is there by so many cells, by cubic convolution between them.
    pub(crate) fn cubic(by: f64) -> Self {
        let first = (-by).floor();
        Self { first: first as i64 - 1, weights: keys((-by - first) as f32).to_vec() }
    }
}

impl Cells {
    /// Every `step`th cell of every `step`th row, weighed with its neighbours across and down.
    pub(crate) fn weighed(&self, field: &[f32], step: usize, taps: [Taps; 2]) -> Vec<f32> {
        let Self { width, height } = *self;
        let [across, down] = taps;
        let count = width.div_ceil(step);
        // Of every row the cells that fall on the same places of the sum, side by side.
        let long = count + across.weights.len().div_ceil(step);
        let within = |at: i64, len: usize| at.clamp(0, len as i64 - 1) as usize;
        let from = |which| (0..long).map(move |i| (i * step + which) as i64 + across.first);
        let from: Vec<Vec<usize>> =
            (0..step).map(|which| from(which).map(|at| within(at, width)).collect()).collect();
        let mut sides = vec![vec![0.0; long]; step];
        let mut sums = vec![0.0; width];
        let mut out = Vec::with_capacity(count * height.div_ceil(step));
        for y in (0..height).step_by(step) {
            let row = |k: usize| within((y + k) as i64 + down.first, height) * width;
            weigh(&mut sums, &down.weights, |k| &field[row(k)..][..width]);
            for (side, from) in sides.iter_mut().zip(&from) {
                side.iter_mut().zip(from).for_each(|(v, at)| *v = sums[*at]);
            }
            let start = out.len();
            out.resize(start + count, 0.0);
            weigh(&mut out[start..], &across.weights, |k| &sides[k % step][k / step..][..count]);
        }
        out
    }
}

/// The sum of rows by their weights.
fn weigh<'a>(out: &mut [f32], weights: &[f32], row: impl Fn(usize) -> &'a [f32]) {
    // So many sums are held at once.
    const HELD: usize = 16;
    let (held, rest) = out.as_chunks_mut::<HELD>();
    for (i, out) in held.iter_mut().enumerate() {
        let mut sums = [0.0; HELD];
        for (k, weight) in weights.iter().enumerate() {
            for (sum, v) in sums.iter_mut().zip(&row(k)[i * HELD..][..HELD]) {
                *sum += v * weight;
            }
        }
        *out = sums;
    }
    let done = held.len() * HELD;
    rest.fill(0.0);
    for (k, weight) in weights.iter().enumerate() {
        for (sum, v) in rest.iter_mut().zip(&row(k)[done..]) {
            *sum += v * weight;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A Gaussian's middle and spread, by its moments.
    #[test]
    fn what_is_blurred_is_moved_as_far_as_was_asked() {
        let cells = Cells { width: 61, height: 47 };
        let mut field = vec![0.0; 61 * 47];
        field[20 * 61 + 30] = 1.0;
        for (by, sigma) in [([3.3, -2.6], 2.0), ([-4.0, 0.5], 3.1)] {
            let blurred =
                cells.weighed(&field, 1, by.map(|by| Taps::spread(Spread::blur(sigma), 1.0, by)));
            let once = cells.weighed(
                &field,
                1,
                [0.0; 2].map(|by| Taps::spread(Spread::blur(sigma), 1.0, by)),
            );
            let cubic = cells.weighed(&once, 1, by.map(Taps::cubic));
            for seen in [&blurred, &cubic] {
                let sum = |value: &dyn Fn(f64, f64) -> f64| -> f64 {
                    seen.iter()
                        .enumerate()
                        .map(|(i, v)| f64::from(*v) * value((i % 61) as f64, (i / 61) as f64))
                        .sum()
                };
                assert!((sum(&|_, _| 1.0) - 1.0).abs() < 1e-3);
                let (x, y) = (sum(&|x, _| x), sum(&|_, y| y));
                assert!(
                    (x - 30.0 - by[0]).abs() < 0.02 && (y - 20.0 - by[1]).abs() < 0.02,
                    "{x} {y}"
                );
                let wide = sum(&|u, _| (u - x).powi(2)).sqrt();
                assert!((wide - sigma).abs() < 0.06, "{wide}");
            }
            let second =
                cells.weighed(&field, 2, by.map(|by| Taps::spread(Spread::blur(sigma), 1.0, by)));
            let every: Vec<f32> =
                (0..24 * 31).map(|i| blurred[i / 31 * 2 * 61 + i % 31 * 2]).collect();
            assert!(second.iter().zip(&every).all(|(a, b)| (a - b).abs() < 1e-6));
        }
    }
}
