//! Fitting to what a JPEG file stores instead of to its pixels.

use super::band::{Band, Numbers};
use crate::jpeg::{Dct, JpegPlane};
use crate::plane::Plane;
use rayon::prelude::*;

/// The luma of a JPEG laid over the part of the picture that is fitted.
pub(crate) struct Stored {
    luma: JpegPlane,
    /// Where the part's first pixel lies in the file's picture.
    x: usize,
    y: usize,
    /// The greys of no ink and of full ink.
    clear: f32,
    ink: f32,
    /// Of half a step on either side, the share that costs nothing.
    free: f32,
    dct: Dct,
}

impl Stored {
    pub(crate) fn new(luma: JpegPlane, [x, y]: [usize; 2], clear: f32, ink: f32) -> Self {
        Self { luma, x, y, clear, ink, free: 0.2, dct: Dct::new() }
    }

    /// How the coverages `seen` would have to change for the file to hold what it holds:
    /// stored less seen, block by block, without what rounding explains.
    pub(super) fn residual(&self, seen: &Plane, band: &Band) -> Numbers {
        let (width, height) = (seen.width, seen.height);
        let mut out = Plane::new(width, height);
        // Rows of blocks cut the part at the file's own multiples of eight.
        let head = (8 - self.y % 8) % 8;
        let (first, rest) = out.data.split_at_mut(head.min(height) * width);
        let mut jobs: Vec<(usize, &mut [f32])> = Vec::new();
        if !first.is_empty() {
            jobs.push((0, first));
        }
        jobs.extend(rest.chunks_mut(8 * width).enumerate().map(|(i, rows)| (head + 8 * i, rows)));
        jobs.into_par_iter().for_each(|(top, rows)| {
            let count = rows.len() / width;
            let block_y = (self.y + top) / 8;
            let mut x = 0;
            while x < width {
                let block_x = (self.x + x) / 8;
                let end = (8 * (block_x + 1) - self.x).min(width);
                let touched = (top..top + count)
                    .any(|y| band.rows[y].iter().any(|&(from, to)| from < end && to > x));
                if touched && block_x < self.luma.blocks_wide && block_y < self.luma.blocks_high {
                    let change = self.block(seen, block_x, block_y);
                    for y in 0..count {
                        for x in x..end {
                            let (v, u) = ((self.y + top + y) % 8, (self.x + x) % 8);
                            rows[y * width + x] = change[8 * v + u];
                        }
                    }
                }
                x = end;
            }
        });
        band.take(&out)
    }

    fn block(&self, seen: &Plane, block_x: usize, block_y: usize) -> [f32; 64] {
        let span = self.ink - self.clear;
        let samples: [f32; 64] = std::array::from_fn(|i| {
            let at = |block: usize, i: usize, origin: usize, size: usize| {
                (8 * block + i).saturating_sub(origin).min(size - 1)
            };
            let x = at(block_x, i % 8, self.x, seen.width);
            let y = at(block_y, i / 8, self.y, seen.height);
            self.clear + span * seen.row(y)[x] - 128.0
        });
        let mut coefficients = self.dct.forward(&samples);
        let stored =
            &self.luma.coefficients[64 * (block_y * self.luma.blocks_wide + block_x)..][..64];
        for ((c, q), step) in coefficients.iter_mut().zip(stored).zip(&self.luma.steps) {
            let step = f32::from(*step);
            let off = f32::from(*q) - *c / step;
            *c = off.signum() * (off.abs() - self.free).max(0.0) * step;
        }
        self.dct.inverse(&coefficients).map(|v| v / span)
    }
}
