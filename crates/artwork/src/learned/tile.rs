use super::JpegGrid;
use super::conv::{CELL, Strip, columns};
use super::model::{DILATIONS, INPUTS, Layer, Model, OUTPUTS, REACHES, WIDTHS};
use super::need::{by_layer, near_edges, runs};
use crate::plane::{Plane, twice};

/// The side of a tile in source pixels.
pub(crate) const TILE: usize = 128;
/// How far an output looks: the sum of [`REACHES`], and 3 more for where edges are sought.
const HALO: usize = 24;
/// The side of a tile with its halo.
const SIDE: usize = TILE + 2 * HALO;

/// A thread's working memory.
#[derive(Default)]
pub(crate) struct Buffers {
    input: Vec<[f32; INPUTS]>,
    /// Maps pixel by pixel, as many to a pixel as the network is wide.
    a: Vec<f32>,
    b: Vec<f32>,
    last: Vec<[f32; OUTPUTS]>,
}

/// A tile's coefficients, in the frame of the finer grid.
pub(crate) struct Done {
    pub(crate) x: usize,
    pub(crate) y: usize,
    pub(crate) width: usize,
    pub(crate) values: Vec<f32>,
}

/// The coefficients of the tile whose first pixel is `at`.
pub(crate) fn run(
    model: &Model,
    share: &Plane,
    grid: JpegGrid,
    at: [usize; 2],
    buffers: &mut Buffers,
) -> Done {
    let (width, height) = ((share.width - at[0]).min(TILE), (share.height - at[1]).min(TILE));
    let seen = extended(share, at);
    let mut needed = near_edges(&seen, SIDE);
    // Only the tile itself is asked for.
    for (i, need) in needed.iter_mut().enumerate() {
        let inside = |v: usize, n: usize| (HALO..HALO + n).contains(&v);
        *need &= inside(i % SIDE, width) && inside(i / SIDE, height);
    }
    let mut done = base(&seen, at, width, height);
    if needed.iter().any(|n| *n) {
        let layers = by_layer(needed.clone(), SIDE);
        if model.wide == WIDTHS[0] {
            network::<{ WIDTHS[0] }>(model, &seen, grid, at, &layers, buffers);
        } else {
            network::<{ WIDTHS[1] }>(model, &seen, grid, at, &layers, buffers);
        }
        for y in 0..height {
            for x in 0..width {
                let i = (HALO + y) * SIDE + HALO + x;
                if needed[i] {
                    for (o, r) in buffers.last[i].iter().enumerate() {
                        done.values[(2 * y + o / 2) * done.width + 2 * x + o % 2] += r;
                    }
                }
            }
        }
    }
    done
}

/// The tile's shares and its halo's; the picture's outermost pixels go on without end.
fn extended(share: &Plane, at: [usize; 2]) -> Vec<f32> {
    let inside = |i: usize, from: usize, n: usize| (i + from).saturating_sub(HALO).min(n - 1);
    let mut out = Vec::with_capacity(SIDE * SIDE);
    for y in 0..SIDE {
        let row = share.row(inside(y, at[1], share.height));
        out.extend((0..SIDE).map(|x| row[inside(x, at[0], share.width)]));
    }
    out
}

/// The ink map enlarged twice bilinearly, to which the network adds.
fn base(seen: &[f32], at: [usize; 2], width: usize, height: usize) -> Done {
    let ink = |x: usize, y: usize| 2.0 * seen[y * SIDE + x] - 1.0;
    let mut values = Vec::with_capacity(4 * width * height);
    for y in 0..2 * height {
        values.extend((0..2 * width).map(|x| twice([2 * HALO + x, 2 * HALO + y], [SIDE; 2], ink)));
    }
    Done { x: 2 * at[0], y: 2 * at[1], width: 2 * width, values }
}

/// Runs the layers; what they add to the tile's coefficients is then in `buffers.last`.
fn network<const WIDE: usize>(
    model: &Model,
    seen: &[f32],
    grid: JpegGrid,
    at: [usize; 2],
    needed: &[Vec<bool>],
    buffers: &mut Buffers,
) {
    let Buffers { input, a, b, last } = buffers;
    input.clear();
    for (i, share) in seen.iter().enumerate() {
        let place = |v: usize, from: usize, origin: usize| {
            // Eight halos are a whole number of blocks.
            ((v + from + 8 * HALO - HALO + 8 - origin % 8) % 8) as f32 / 3.5 - 1.0
        };
        let ink = 2.0 * share - 1.0;
        input.push(match grid {
            Some([ox, oy]) => [ink, 1.0, place(i / SIDE, at[1], oy), place(i % SIDE, at[0], ox)],
            None => [ink, 0.0, 0.0, 0.0],
        });
    }
    a.resize(SIDE * SIDE * WIDE, 0.0);
    b.resize(SIDE * SIDE * WIDE, 0.0);
    let (a, b) = (a.as_chunks_mut::<WIDE>().0, b.as_chunks_mut::<WIDE>().0);
    last.resize(SIDE * SIDE, [0.0; OUTPUTS]);
    let mut margin = REACHES[0];
    layer::<INPUTS, WIDE, 5>(&model.first, 1, input, a, &needed[0], margin, |new, _| new.max(0.0));
    for (n, pair) in model.inner.chunks_exact(2).enumerate() {
        for (k, inner) in pair.iter().enumerate() {
            let at = 2 * n + k;
            margin += DILATIONS[at];
            if k == 0 {
                layer::<WIDE, WIDE, 3>(
                    inner,
                    DILATIONS[at],
                    a,
                    b,
                    &needed[1 + at],
                    margin,
                    |new, _| new.max(0.0),
                );
            } else {
                // The sum goes on where it came from: this layer reads only `b`.
                let sum = |new: f32, old: f32| old + new.max(0.0);
                layer::<WIDE, WIDE, 3>(inner, DILATIONS[at], b, a, &needed[1 + at], margin, sum);
            }
        }
    }
    layer::<WIDE, OUTPUTS, 3>(&model.last, 1, a, last, &needed[11], margin + 1, |new, _| new);
}

/// One layer on the needed pixels that lie `margin` inside the tile; `join` makes the new
/// activation of what the layer gives and what was there before.
fn layer<const I: usize, const O: usize, const TAPS: usize>(
    layer: &Layer,
    step: usize,
    input: &[[f32; I]],
    out: &mut [[f32; O]],
    needed: &[bool],
    margin: usize,
    join: impl Fn(f32, f32) -> f32,
) {
    let mut old = Vec::new();
    for row in margin..SIDE - margin {
        for (from, to) in runs(&needed[row * SIDE..][..SIDE], margin, SIDE - margin) {
            // A run too narrow for a cell takes in some of what lies beside it.
            let to = to.max(from + CELL).min(SIDE - margin);
            let from = from.min(to - CELL);
            let place = row * SIDE + from..row * SIDE + to;
            old.clear();
            old.extend_from_slice(&out[place.clone()]);
            columns::<I, O, TAPS>(layer, step, input, out, Strip { stride: SIDE, row, from, to });
            let new = out[place].as_flattened_mut();
            for (new, old) in new.iter_mut().zip(old.as_flattened()) {
                *new = join(*new, *old);
            }
        }
    }
}
