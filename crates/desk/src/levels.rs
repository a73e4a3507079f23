//! A film made ready to be looked at: its bits, and grey levels of how much of an area is ink.

use bitmap::Bitmap;
use rayon::prelude::*;
use std::sync::Arc;

/// The first level that is kept; finer ones are counted from the bits when they are looked at.
const FIRST_KEPT: u32 = 3;

/// The film's bits and its coarser levels. A pixel of level `k` stands for a square of
/// `2^k` film pixels on a side, and says how much of it is ink. A film of 136 million
/// pixels takes 17 MB, its levels 3 MB.
pub(crate) struct Levels {
    bits: Arc<Bitmap>,
    kept: Vec<Grey>,
}

struct Grey {
    width: usize,
    height: usize,
    cover: Vec<u8>,
}

impl Levels {
    pub(crate) fn new(bits: Bitmap) -> Self {
        let mut kept = vec![eighths(&bits)];
        while let Some(last) = kept.last()
            && last.width.max(last.height) > 512
        {
            let next = halved(last);
            kept.push(next);
        }
        Self { bits: Arc::new(bits), kept }
    }

    /// The film itself.
    pub(crate) fn bits(&self) -> &Arc<Bitmap> {
        &self.bits
    }
    pub(crate) fn width(&self) -> u32 {
        self.bits.width()
    }
    pub(crate) fn height(&self) -> u32 {
        self.bits.height()
    }
    /// The coarsest level there is.
    pub(crate) fn coarsest(&self) -> u32 {
        FIRST_KEPT + self.kept.len() as u32 - 1
    }
    /// Pixels across and down at a level.
    pub(crate) fn size(&self, level: u32) -> (usize, usize) {
        let at = |n: u32| (n as usize).div_ceil(1 << level).max(1);
        (at(self.bits.width()), at(self.bits.height()))
    }

    /// How much of each pixel of a part of a level is ink, 255 all of it.
    pub(crate) fn cover(
        &self,
        level: u32,
        x: usize,
        y: usize,
        width: usize,
        height: usize,
    ) -> Vec<u8> {
        let mut out = Vec::with_capacity(width * height);
        match (level as usize).checked_sub(FIRST_KEPT as usize) {
            Some(at) => {
                let grey = &self.kept[at.min(self.kept.len() - 1)];
                for row in y..y + height {
                    out.extend_from_slice(&grey.cover[row * grey.width + x..][..width]);
                }
            }
            None => {
                for row in y..y + height {
                    self.count(level, x, row, width, &mut out);
                }
            }
        }
        out
    }

    /// A row of level 0, 1 or 2, counted from the bits.
    fn count(&self, level: u32, x: usize, y: usize, width: usize, out: &mut Vec<u8>) {
        let side = 1_usize << level;
        let rows: Vec<&[u64]> = (y * side..(y + 1) * side)
            .filter(|r| *r < self.bits.height() as usize)
            .map(|r| self.bits.row(r as u32))
            .collect();
        let full = u32::try_from(side * side).unwrap_or(1);
        for i in x..x + width {
            let at = i * side;
            let mask = ((1_u64 << side) - 1) << (64 - side) >> (at % 64);
            let ink: u32 = rows.iter().map(|r| (r[at / 64] & mask).count_ones()).sum();
            out.push((ink * 255 / full) as u8);
        }
    }
}

/// Level 3: a byte of a row is eight pixels across.
fn eighths(bits: &Bitmap) -> Grey {
    let (width, height) = (bits.width().div_ceil(8) as usize, bits.height().div_ceil(8) as usize);
    let (width, height) = (width.max(1), height.max(1));
    let mut cover = vec![0; width * height];
    cover.par_chunks_mut(width).enumerate().for_each(|(j, out)| {
        let mut counts = vec![0_u32; width];
        for y in j * 8..(j * 8 + 8).min(bits.height() as usize) {
            for (at, word) in bits.row(y as u32).iter().enumerate() {
                if *word == 0 {
                    continue;
                }
                for (i, byte) in word.to_be_bytes().iter().enumerate() {
                    if let Some(count) = counts.get_mut(at * 8 + i) {
                        *count += byte.count_ones();
                    }
                }
            }
        }
        for (o, n) in out.iter_mut().zip(&counts) {
            *o = (n * 255 / 64) as u8;
        }
    });
    Grey { width, height, cover }
}

fn halved(grey: &Grey) -> Grey {
    let (width, height) = (grey.width.div_ceil(2), grey.height.div_ceil(2));
    let at = |x: usize, y: usize| {
        if x < grey.width && y < grey.height {
            u32::from(grey.cover[y * grey.width + x])
        } else {
            0
        }
    };
    let mut cover = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let sum = at(2 * x, 2 * y)
                + at(2 * x + 1, 2 * y)
                + at(2 * x, 2 * y + 1)
                + at(2 * x + 1, 2 * y + 1);
            cover.push((sum / 4) as u8);
        }
    }
    Grey { width, height, cover }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_level_counts_the_same_ink() {
        let bits = Bitmap::from_fn(700, 530, |x, y| (x * 7 + y * 13) % 29 < 11 || x > 650);
        let levels = Levels::new(bits.clone());
        for level in 0..=levels.coarsest() {
            let (w, h) = levels.size(level);
            let cover = levels.cover(level, 0, 0, w, h);
            let side = 1_u32 << level;
            for (x, y) in [(0, 0), (w / 2, h / 3), (w - 1, h - 1), (w - 2, h / 2)] {
                let ink = (0..side * side)
                    .filter(|i| bits.get(x as u32 * side + i % side, y as u32 * side + i / side))
                    .count();
                let want = (ink * 255) as f64 / f64::from(side * side);
                let got = f64::from(cover[y * w + x]);
                // Each halving may lose less than one.
                assert!(
                    (got - want).abs() <= 1.0 + f64::from(level),
                    "level {level}: {got} {want}"
                );
            }
        }
    }
}
