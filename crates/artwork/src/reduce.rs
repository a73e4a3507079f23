//! Making a plane smaller without aliasing: Keys' cubic widened by the reduction.

use crate::plane::Plane;
use rayon::prelude::*;

/// The part of `plane` from `origin` of `length` steps each way, at `width` x `height`.
/// Where it is made smaller, each result is the mean of what it covers and a little more,
/// weighted by Keys' cubic (a = -1/2) widened by the reduction; weights past the plane's
/// edge are left out and the rest made to sum to one.
pub(crate) fn reduce(
    plane: &Plane,
    origin: [f64; 2],
    length: [f64; 2],
    width: usize,
    height: usize,
) -> Plane {
    let across = taps(plane.width, origin[0], length[0], width);
    let down = taps(plane.height, origin[1], length[1], height);
    let mut out = Plane::new(width, height);
    out.data.par_chunks_mut(width).zip(&down).for_each_init(
        || vec![0.0_f32; plane.width],
        |mixed, (row, (from, weights))| {
            mixed.fill(0.0);
            for (y, weight) in (*from..).zip(weights) {
                for (sum, value) in mixed.iter_mut().zip(plane.row(y)) {
                    *sum += weight * value;
                }
            }
            for (value, (from, weights)) in row.iter_mut().zip(&across) {
                *value = mixed[*from..].iter().zip(weights).map(|(v, w)| v * w).sum();
            }
        },
    );
    out
}

/// For each result, the first source it takes and the weights.
fn taps(sources: usize, origin: f64, length: f64, results: usize) -> Vec<(usize, Vec<f32>)> {
    let scale = length / results as f64;
    let wide = scale.max(1.0);
    (0..results)
        .map(|i| {
            let middle = origin + (i as f64 + 0.5) * scale;
            let from = (middle - 2.0 * wide + 0.5).max(0.0) as usize;
            let to = ((middle + 2.0 * wide + 0.5) as usize).clamp(from + 1, sources.max(from + 1));
            let from = from.min(sources - 1);
            let weights: Vec<f64> =
                (from..to.min(sources)).map(|x| keys((x as f64 - middle + 0.5) / wide)).collect();
            let sum: f64 = weights.iter().sum();
            (from, weights.iter().map(|w| (w / sum) as f32).collect())
        })
        .collect()
}

fn keys(x: f64) -> f64 {
    let x = x.abs();
    if x < 1.0 {
        1.0 + x * x * (1.5 * x - 2.5)
    } else if x < 2.0 {
        2.0 + x * (-4.0 + x * (2.5 - 0.5 * x))
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Width, height, x, y and the value there.
    const PILLOW: [(usize, usize, usize, usize, f32); 9] = [
        (9, 7, 0, 0, 21.7041),
        (9, 7, 8, 6, 37.5457),
        (9, 7, 4, 2, 40.4682),
        (23, 5, 0, 0, 19.6205),
        (23, 5, 22, 4, 50.4987),
        (23, 5, 11, 1, 33.1146),
        (40, 31, 0, 0, -1.5896),
        (40, 31, 39, 30, 43.3843),
        (40, 31, 20, 10, 33.1978),
    ];

    /// Pillow 13: `Image.fromarray(a).resize((w, h), Image.BICUBIC)` in mode F, with
    /// `a[y, x] = (x*x*7 + y*13 + x*y*5) % 64`, 23 wide and 17 high.
    #[test]
    fn reducing_and_enlarging_agree_with_pillow() {
        let mut plane = Plane::new(23, 17);
        for (i, value) in plane.data.iter_mut().enumerate() {
            let (x, y) = (i % 23, i / 23);
            *value = ((x * x * 7 + y * 13 + x * y * 5) % 64) as f32;
        }
        for (width, height, x, y, want) in PILLOW {
            let got = reduce(&plane, [0.0, 0.0], [23.0, 17.0], width, height);
            let got = got.data[y * width + x];
            assert!((got - want).abs() < 1e-3, "{width} x {height} at {x}, {y}: {got} {want}");
        }
    }
}
