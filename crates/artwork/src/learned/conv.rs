//! Convolutions on maps laid out `[row][column][map]`.

use super::model::Layer;

/// Where a layer's input and output lie, and how.
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
/// `O`, without its activation. `out` is the whole output, `[row][column][O]`.
pub(crate) fn columns<const I: usize, const O: usize, const SIDE: usize>(
    layer: &Layer,
    step: usize,
    input: &[f32],
    out: &mut [f32],
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
    input: &[f32],
    out: &mut [f32],
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
    input: &[f32],
    out: &mut [f32],
    strip: Strip,
) {
    let mut x = strip.from;
    while x + 6 <= strip.to {
        cells::<I, O, SIDE, 6>(layer, step, input, out, strip, x);
        x += 6;
    }
    while x < strip.to {
        cells::<I, O, SIDE, 1>(layer, step, input, out, strip, x);
        x += 1;
    }
}

/// `P` columns, their outputs in blocks that the processor's registers hold.
#[inline(always)]
fn cells<const I: usize, const O: usize, const SIDE: usize, const P: usize>(
    layer: &Layer,
    step: usize,
    input: &[f32],
    out: &mut [f32],
    strip: Strip,
    x: usize,
) {
    let mut o = 0;
    while o + 16 <= O {
        block::<I, O, SIDE, P, 16>(layer, step, input, out, strip, x, o);
        o += 16;
    }
    while o + 8 <= O {
        block::<I, O, SIDE, P, 8>(layer, step, input, out, strip, x, o);
        o += 8;
    }
    while o + 4 <= O {
        block::<I, O, SIDE, P, 4>(layer, step, input, out, strip, x, o);
        o += 4;
    }
}

#[inline(always)]
fn block<const I: usize, const O: usize, const SIDE: usize, const P: usize, const B: usize>(
    layer: &Layer,
    step: usize,
    input: &[f32],
    out: &mut [f32],
    strip: Strip,
    x: usize,
    o: usize,
) {
    let mut sums = [[0.0_f32; B]; P];
    for sum in &mut sums {
        sum.copy_from_slice(&layer.biases[o..o + B]);
    }
    let half = SIDE / 2 * step;
    let (weights, _) = layer.weights.as_chunks::<O>();
    for ty in 0..SIDE {
        let row = strip.row + ty * step - half;
        for tx in 0..SIDE {
            let first = (row * strip.stride + x + tx * step - half) * I;
            let (pixels, _) = input[first..first + P * I].as_chunks::<I>();
            let Some(pixels) = pixels.first_chunk::<P>() else { return };
            let tap = (ty * SIDE + tx) * I;
            let Some(taken) = weights[tap..].first_chunk::<I>() else { return };
            for i in 0..I {
                let mut w = [0.0_f32; B];
                w.copy_from_slice(&taken[i][o..o + B]);
                for (sum, pixel) in sums.iter_mut().zip(pixels) {
                    for (s, w) in sum.iter_mut().zip(&w) {
                        *s = pixel[i].mul_add(*w, *s);
                    }
                }
            }
        }
    }
    for (p, sum) in sums.iter().enumerate() {
        let at = (strip.row * strip.stride + x + p) * O + o;
        out[at..at + B].copy_from_slice(sum);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_agree_to_the_last_bit() {
        let number = |i: usize| ((i * 7919 + 13) % 1009) as f32 / 504.5 - 1.0;
        let layer = Layer {
            weights: (0..9 * 40 * 40).map(|i| 0.1 * number(i)).collect(),
            biases: (0..40).map(number).collect(),
        };
        let input: Vec<f32> = (0..30 * 9 * 40).map(|i| number(i + 5)).collect();
        let (mut fast, mut slow) = (vec![0.0; 30 * 9 * 40], vec![0.0; 30 * 9 * 40]);
        let strip = Strip { stride: 30, row: 4, from: 4, to: 26 };
        columns::<40, 40, 3>(&layer, 4, &input, &mut fast, strip);
        plain::<40, 40, 3>(&layer, 4, &input, &mut slow, strip);
        assert!(fast.iter().any(|v| *v != 0.0));
        assert_eq!(fast, slow);
    }
}
