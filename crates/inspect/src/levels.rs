//! The film and the photograph as grey pictures, each half the size of the one before.

use crate::grey::Grey;
use crate::{Photo, Tone};
use bitmap::Raster;
use rayon::prelude::*;

/// A picture and its halvings, finest first.
pub(crate) struct Levels(pub(crate) Vec<Grey>);

impl Levels {
    /// The picture halved until its longer side is at most `least` pixels.
    pub(crate) fn new(finest: Grey, least: usize) -> Self {
        let mut all = vec![finest];
        while all[all.len() - 1].width.max(all[all.len() - 1].height) > least {
            all.push(all[all.len() - 1].halved());
        }
        Self(all)
    }
}

/// The photograph in linear light, 65535 at full white.
pub(crate) fn linear(photo: &Photo) -> Grey {
    let table: Vec<u16> = (0..256)
        .map(|v| {
            let v = f64::from(v) / 255.0;
            // IEC 61966-2-1, the sRGB curve.
            let v = match photo.tone {
                Tone::Linear => v,
                Tone::Srgb if v <= 0.04045 => v / 12.92,
                Tone::Srgb => ((v + 0.055) / 1.055).powf(2.4),
            };
            (v * 65535.0).round() as u16
        })
        .collect();
    let px = photo.grey.par_iter().map(|v| table[usize::from(*v)]).collect();
    Grey { width: photo.width as usize, height: photo.height as usize, px }
}

/// The film's ink cover in square cells of `cell` film pixels (at least 1), exact to rounding.
pub(crate) fn cover(film: &dyn Raster, cell: f64) -> Grey {
    let width = ((f64::from(film.width()) / cell).ceil() as usize).max(1);
    let height = ((f64::from(film.height()) / cell).ceil() as usize).max(1);
    let mut px = vec![0; width * height];
    // Rows are read once in a band, and the one that two bands share, twice.
    const BAND: usize = 32;
    px.par_chunks_mut(width * BAND).enumerate().for_each(|(band, out)| {
        let mut rows = CellRows::new(width, cell, band * BAND, out.len() / width);
        let first = (rows.first as f64 * cell) as u32;
        let last = ((rows.first + rows.count) as f64 * cell).ceil() as u32;
        let mut changes = Vec::new();
        for y in first..last.min(film.height()) {
            changes.clear();
            film.changes(y, 0, film.width(), &mut changes);
            rows.add(y, &changes, film.width());
        }
        rows.finish(out);
    });
    Grey { width, height, px }
}

/// Rows of cells being filled with ink.
struct CellRows {
    cell: f64,
    first: usize,
    count: usize,
    width: usize,
    /// Ink in the cell itself.
    own: Vec<f32>,
    /// Where ink over whole cells starts and ends.
    starts: Vec<f32>,
}

impl CellRows {
    fn new(width: usize, cell: f64, first: usize, count: usize) -> Self {
        let len = (width + 2) * count;
        Self { cell, first, count, width: width + 2, own: vec![0.0; len], starts: vec![0.0; len] }
    }

    /// Adds film row `y` to the one or two rows of cells under it.
    fn add(&mut self, y: u32, changes: &[u32], end: u32) {
        let (top, bottom) = (f64::from(y) / self.cell, (f64::from(y) + 1.0) / self.cell);
        for row in top as usize..=bottom as usize {
            let share = (bottom.min(row as f64 + 1.0) - top.max(row as f64)) as f32;
            if row < self.first || row >= self.first + self.count || share <= 0.0 {
                continue;
            }
            let at = (row - self.first) * self.width;
            for run in bitmap::runs(changes, end) {
                let from = f64::from(run.start) / self.cell;
                let to = f64::from(run.end) / self.cell;
                let (i, j) = (from as usize, to as usize);
                if i == j {
                    self.own[at + i] += (to - from) as f32 * share;
                } else {
                    self.own[at + i] += (i as f64 + 1.0 - from) as f32 * share;
                    self.starts[at + i + 1] += share;
                    self.starts[at + j] -= share;
                    self.own[at + j] += (to - j as f64) as f32 * share;
                }
            }
        }
    }

    fn finish(&self, out: &mut [u16]) {
        for (row, out) in out.chunks_mut(self.width - 2).enumerate() {
            let at = row * self.width;
            let mut whole = 0.0;
            for (x, out) in out.iter_mut().enumerate() {
                whole += self.starts[at + x];
                *out = ((whole + self.own[at + x]) * 65535.0).round().clamp(0.0, 65535.0) as u16;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bitmap::Bitmap;

    #[test]
    fn cover_is_the_exact_area() {
        let film =
            Bitmap::from_fn(97, 61, |x, y| (x * 7 + y * 13) % 11 < 4 || (20..50).contains(&x));
        for cell in [1.0, 1.37, 2.0, 3.6] {
            let got = cover(&film, cell);
            for (cx, cy) in [(0, 0), (5, 7), (9, 3), (13, 11)] {
                let mut area = 0.0;
                for y in 0..61 {
                    for x in 0..97 {
                        let overlap = |p: u32, c: usize| {
                            let (a, b) = (c as f64 * cell, (c + 1) as f64 * cell);
                            (b.min(f64::from(p) + 1.0) - a.max(f64::from(p))).max(0.0)
                        };
                        if film.get(x, y) {
                            area += overlap(x, cx) * overlap(y, cy);
                        }
                    }
                }
                let got = f64::from(got.at(cx, cy)) / 65535.0;
                assert!((got - area / (cell * cell)).abs() < 1e-4, "{cell} {cx} {cy} {got} {area}");
            }
        }
    }
}
