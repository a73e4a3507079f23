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
    pull: Pull,
    /// The steps' mean.
    even: f32,
    dct: Dct,
}

/// How what is stored pulls at what is seen.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pull {
    /// Towards the middle of every step, by as much as it is off.
    Fit,
    /// Well into the step and no further, every coefficient by the same for the same share of one.
    Hold,
}

impl Pull {
    /// How far from the middle of a step costs nothing, in steps.
    const fn free(self) -> f32 {
        match self {
            Self::Fit => 0.2,
            Self::Hold => 0.45,
        }
    }
}

impl Stored {
    pub(crate) fn new(
        luma: JpegPlane,
        [x, y]: [usize; 2],
        [clear, ink]: [f32; 2],
        pull: Pull,
    ) -> Self {
        let even = luma.steps.iter().map(|s| f32::from(*s)).sum::<f32>() / 64.0;
        Self { luma, x, y, clear, ink, pull, even, dct: Dct::new() }
    }

    /// How the coverages `seen` would have to change for the file to hold what it holds:
    /// stored less seen, block by block, without what rounding explains. Also gives the mean
    /// square, in steps, of what it does not explain, over the blocks that the band touches.
    pub(super) fn residual(&self, seen: &Plane, band: &Band) -> (Numbers, f64) {
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
        let work = |(top, rows): (usize, &mut [f32])| {
            let (mut off, mut blocks) = (0.0, 0_u32);
            let count = rows.len() / width;
            let block_y = (self.y + top) / 8;
            let mut x = 0;
            while x < width {
                let block_x = (self.x + x) / 8;
                let end = (8 * (block_x + 1) - self.x).min(width);
                let touched = (top..top + count)
                    .any(|y| band.rows[y].iter().any(|&(from, to)| from < end && to > x));
                if touched && block_x < self.luma.blocks_wide && block_y < self.luma.blocks_high {
                    let (change, left) = self.block(seen, block_x, block_y);
                    off += left;
                    blocks += 1;
                    for y in 0..count {
                        for x in x..end {
                            let (v, u) = ((self.y + top + y) % 8, (self.x + x) % 8);
                            rows[y * width + x] = change[8 * v + u];
                        }
                    }
                }
                x = end;
            }
            (off, blocks)
        };
        let sums: Vec<(f64, u32)> = jobs.into_par_iter().map(work).collect();
        let blocks: u32 = sums.iter().map(|s| s.1).sum();
        let off: f64 = sums.iter().map(|s| s.0).sum();
        (band.take(&out), off / (64.0 * f64::from(blocks.max(1))))
    }

    fn block(&self, seen: &Plane, block_x: usize, block_y: usize) -> ([f32; 64], f64) {
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
        let mut unexplained = 0.0;
        for ((c, q), step) in coefficients.iter_mut().zip(stored).zip(&self.luma.steps) {
            let step = f32::from(*step);
            let off = f32::from(*q) - *c / step;
            unexplained += f64::from((off.abs() - 0.5).max(0.0).powi(2));
            let by = if self.pull == Pull::Hold { self.even } else { step };
            *c = off.signum() * (off.abs() - self.pull.free()).max(0.0) * by;
        }
        (self.dct.inverse(&coefficients).map(|v| v / span), unexplained)
    }
}
