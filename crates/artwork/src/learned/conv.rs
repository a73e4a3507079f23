//! Convolutions on maps laid out `[row][column][map]`.
//!
//! Six columns are worked out at a time, sixteen or eight maps of each: as many sums as the
//! processor's registers hold. They are named one by one, since sums in an array of arrays
//! would be kept in memory.

use super::model::Layer;

/// Columns that are worked out at a time: a strip is never narrower.
pub(crate) const CELL: usize = 6;
/// Maps that a register holds.
type Lane = [f32; 8];

/// Where in the maps to work.
#[derive(Clone, Copy)]
pub(crate) struct Strip {
    /// Columns of a row of input, and of output.
    pub(crate) stride: usize,
    /// The row, and the columns `from..to` of it, to compute.
    pub(crate) row: usize,
    pub(crate) from: usize,
    pub(crate) to: usize,
}

/// Computes columns of a row of a layer of `SIDE` x `SIDE` taps, `step` apart, from `I` maps to
/// `O`, without its activation.
pub(crate) fn columns<const I: usize, const O: usize, const SIDE: usize>(
    layer: &Layer,
    step: usize,
    input: &[[f32; I]],
    out: &mut [[f32; O]],
    strip: Strip,
) {
    #[cfg(target_arch = "x86_64")]
    if std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma") {
        #[allow(unsafe_code, reason = "the processor was just asked; `both_ways_agree` tests it")]
        // SAFETY: the function needs AVX2 and FMA, which the processor has.
        return unsafe { with_avx2::<I, O, SIDE>(layer, step, input, out, strip) };
    }
    plain::<I, O, SIDE>(layer, step, input, out, strip);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn with_avx2<const I: usize, const O: usize, const SIDE: usize>(
    layer: &Layer,
    step: usize,
    input: &[[f32; I]],
    out: &mut [[f32; O]],
    strip: Strip,
) {
    plain::<I, O, SIDE>(layer, step, input, out, strip);
}

/// The same for every processor: where it has no fused multiply-add, the library's makes the
/// same bits, slowly.
#[inline(always)]
fn plain<const I: usize, const O: usize, const SIDE: usize>(
    layer: &Layer,
    step: usize,
    input: &[[f32; I]],
    out: &mut [[f32; O]],
    strip: Strip,
) {
    let mut x = strip.from;
    while x < strip.to {
        // The last cell is moved back to end where the strip does.
        x = x.min(strip.to - CELL);
        let mut o = 0;
        while o + 16 <= O {
            sixteen::<I, O, SIDE>(layer, step, input, out, strip, x, o);
            o += 16;
        }
        while o + 8 <= O {
            eight::<I, O, SIDE>(layer, step, input, out, strip, x, o);
            o += 8;
        }
        while o < O {
            single::<I, O, SIDE>(layer, step, input, out, strip, x, o);
            o += 1;
        }
        x += CELL;
    }
}

/// Goes through the taps of a cell: gives each tap's six input columns and its weights. It is a
/// macro because a closure would be compiled without the processor's multiply-add.
macro_rules! taps {
    ($layer:ident, $step:ident, $input:ident, $strip:ident, $x:ident, |$p:ident, $taken:ident| $body:block) => {
        let half = SIDE / 2 * $step;
        let (weights, _) = $layer.weights.as_chunks::<O>();
        for ty in 0..SIDE {
            let first = ($strip.row + ty * $step - half) * $strip.stride + $x - half;
            for tx in 0..SIDE {
                let pixels = $input[first + tx * $step..].first_chunk::<CELL>();
                let taken = weights[(ty * SIDE + tx) * I..].first_chunk::<I>();
                if let (Some($p), Some($taken)) = (pixels, taken) $body
            }
        }
    };
}

#[inline(always)]
fn lane<const N: usize>(from: &[f32; N], at: usize) -> Lane {
    let mut out = [0.0; 8];
    out.copy_from_slice(&from[at..at + 8]);
    out
}

#[inline(always)]
fn add(mut sum: Lane, value: f32, weights: &Lane) -> Lane {
    for (s, w) in sum.iter_mut().zip(weights) {
        *s = value.mul_add(*w, *s);
    }
    sum
}

#[inline(always)]
fn biases<const N: usize>(layer: &Layer, at: usize) -> [f32; N] {
    let mut out = [0.0; N];
    out.copy_from_slice(&layer.biases[at..at + N]);
    out
}

#[inline(always)]
fn sixteen<const I: usize, const O: usize, const SIDE: usize>(
    layer: &Layer,
    step: usize,
    input: &[[f32; I]],
    out: &mut [[f32; O]],
    strip: Strip,
    x: usize,
    o: usize,
) {
    let (b, c): (Lane, Lane) = (biases(layer, o), biases(layer, o + 8));
    let (mut b0, mut b1, mut b2, mut b3, mut b4, mut b5) = (b, b, b, b, b, b);
    let (mut c0, mut c1, mut c2, mut c3, mut c4, mut c5) = (c, c, c, c, c, c);
    taps!(layer, step, input, strip, x, |p, taken| {
        for i in 0..I {
            let (v, w) = (lane(&taken[i], o), lane(&taken[i], o + 8));
            (b0, c0) = (add(b0, p[0][i], &v), add(c0, p[0][i], &w));
            (b1, c1) = (add(b1, p[1][i], &v), add(c1, p[1][i], &w));
            (b2, c2) = (add(b2, p[2][i], &v), add(c2, p[2][i], &w));
            (b3, c3) = (add(b3, p[3][i], &v), add(c3, p[3][i], &w));
            (b4, c4) = (add(b4, p[4][i], &v), add(c4, p[4][i], &w));
            (b5, c5) = (add(b5, p[5][i], &v), add(c5, p[5][i], &w));
        }
    });
    let at = strip.row * strip.stride + x;
    for (n, (b, c)) in
        [(b0, c0), (b1, c1), (b2, c2), (b3, c3), (b4, c4), (b5, c5)].iter().enumerate()
    {
        out[at + n][o..o + 8].copy_from_slice(b);
        out[at + n][o + 8..o + 16].copy_from_slice(c);
    }
}

#[inline(always)]
fn eight<const I: usize, const O: usize, const SIDE: usize>(
    layer: &Layer,
    step: usize,
    input: &[[f32; I]],
    out: &mut [[f32; O]],
    strip: Strip,
    x: usize,
    o: usize,
) {
    let b: Lane = biases(layer, o);
    let (mut b0, mut b1, mut b2, mut b3, mut b4, mut b5) = (b, b, b, b, b, b);
    taps!(layer, step, input, strip, x, |p, taken| {
        for i in 0..I {
            let v = lane(&taken[i], o);
            (b0, b1) = (add(b0, p[0][i], &v), add(b1, p[1][i], &v));
            (b2, b3) = (add(b2, p[2][i], &v), add(b3, p[3][i], &v));
            (b4, b5) = (add(b4, p[4][i], &v), add(b5, p[5][i], &v));
        }
    });
    let at = strip.row * strip.stride + x;
    for (n, b) in [b0, b1, b2, b3, b4, b5].iter().enumerate() {
        out[at + n][o..o + 8].copy_from_slice(b);
    }
}

/// One map, for the few that are left over.
#[inline(always)]
fn single<const I: usize, const O: usize, const SIDE: usize>(
    layer: &Layer,
    step: usize,
    input: &[[f32; I]],
    out: &mut [[f32; O]],
    strip: Strip,
    x: usize,
    o: usize,
) {
    let mut sums = [layer.biases[o]; CELL];
    taps!(layer, step, input, strip, x, |p, taken| {
        for i in 0..I {
            for (sum, pixel) in sums.iter_mut().zip(p) {
                *sum = pixel[i].mul_add(taken[i][o], *sum);
            }
        }
    });
    let at = strip.row * strip.stride + x;
    for (pixel, sum) in out[at..at + CELL].iter_mut().zip(sums) {
        pixel[o] = sum;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(i: usize) -> f32 {
        ((i * 7919 + 13) % 1009) as f32 / 504.5 - 1.0
    }

    fn maps<const N: usize>(count: usize) -> Vec<[f32; N]> {
        (0..count).map(|i| std::array::from_fn(|k| number(i * N + k + 5))).collect()
    }

    fn agree<const I: usize, const O: usize, const SIDE: usize>(step: usize) {
        let layer = Layer {
            weights: (0..SIDE * SIDE * I * O).map(|i| 0.1 * number(i)).collect(),
            biases: (0..O).map(number).collect(),
        };
        let input = maps::<I>(30 * 9);
        let (mut fast, mut slow) = (vec![[0.0; O]; 30 * 9], vec![[0.0; O]; 30 * 9]);
        let strip = Strip { stride: 30, row: 4, from: 4, to: 25 };
        columns::<I, O, SIDE>(&layer, step, &input, &mut fast, strip);
        plain::<I, O, SIDE>(&layer, step, &input, &mut slow, strip);
        assert_eq!(fast, slow, "{I} {O} {SIDE}");
        // By the definition of a convolution, in double precision.
        for x in strip.from..strip.to {
            for (o, got) in fast[4 * 30 + x].iter().enumerate() {
                let mut want = f64::from(layer.biases[o]);
                for tap in 0..SIDE * SIDE {
                    let (ty, tx) = (tap / SIDE * step, tap % SIDE * step);
                    let at = (4 + ty - SIDE / 2 * step) * 30 + x + tx - SIDE / 2 * step;
                    for (i, value) in input[at].iter().enumerate() {
                        let weight = layer.weights[(tap * I + i) * O + o];
                        want += f64::from(*value) * f64::from(weight);
                    }
                }
                assert!((f64::from(*got) - want).abs() < 1e-4, "{x} {o}");
            }
        }
    }

    #[test]
    fn both_ways_agree_to_the_last_bit() {
        agree::<40, 40, 3>(4);
        agree::<40, 40, 3>(1);
        agree::<4, 40, 5>(1);
        agree::<40, 4, 3>(1);
        agree::<64, 64, 3>(2);
        agree::<4, 64, 5>(1);
        agree::<64, 4, 3>(1);
    }
}
