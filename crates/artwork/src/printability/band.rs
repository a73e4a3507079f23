//! Some rows of a film, with what decides which of their pixels are too fine.

use crate::distance::squared_distances;
use bitmap::Raster;
use std::ops::Range;

/// The widest line that can be asked for, in film pixels.
pub(super) const MOST_PX: f64 = 160.0;
/// What the bands worked on at one time may take, in bytes.
const ROOM: usize = 64 << 20;

/// Rows of a film, clear past its edges, and how deep each pixel lies. It holds more rows and
/// columns than asked for, on whose account alone its pixels are what they are.
pub(super) struct Band {
    /// The film's columns.
    pub(super) width: usize,
    /// Columns held, the film's and as many more on either side as `rim`.
    pub(super) wide: usize,
    /// How many more rows and columns are held on each side.
    pub(super) rim: usize,
    /// One for each pixel of the colour looked at.
    pub(super) mask: Vec<u8>,
    /// The squared distance to the nearest pixel of the other colour.
    pub(super) depth: Vec<u16>,
    /// The squared distance to the nearest pixel about which the finest disc fits.
    away: Vec<u16>,
    /// Up to this far away, squared, a pixel is spared.
    spared: u16,
    /// How deep the middle of the finest disc lies, squared.
    pub(super) room: f64,
}

impl Band {
    /// The rows of a film as far as it has ink there, or none where all of it is one colour.
    /// Whether a pixel is fine is told for `around` more rows and columns.
    pub(super) fn of(
        film: &dyn Raster,
        rows: Range<u32>,
        finest_px: f64,
        ink: bool,
        around: usize,
    ) -> Option<Self> {
        let width = film.width() as usize;
        let half = finest_px / 2.0;
        let near = near(finest_px);
        let rim = rim(finest_px) + around;
        let wide = width + 2 * rim;
        let (top, bottom) = (i64::from(rows.start) - rim as i64, i64::from(rows.end) + rim as i64);
        let mut mask = vec![u8::from(!ink); wide * (bottom - top) as usize];
        let mut changes = Vec::new();
        let mut any = false;
        for (y, row) in (top..bottom).zip(mask.chunks_exact_mut(wide)) {
            if !(0..i64::from(film.height())).contains(&y) {
                continue;
            }
            changes.clear();
            film.changes(y as u32, 0, film.width(), &mut changes);
            any |= !changes.is_empty();
            for run in bitmap::runs(&changes, film.width()) {
                row[rim + run.start as usize..rim + run.end as usize].fill(u8::from(ink));
            }
        }
        if !any {
            return None;
        }
        let depth = squared_distances(&mask, wide, half.ceil() as u8 + 1);
        let room = half * half;
        let unfit: Vec<u8> = depth.iter().map(|d| u8::from(f64::from(*d) < room)).collect();
        let away = squared_distances(&unfit, wide, near as u8 + 1);
        let spared = (near * near) as u16;
        Some(Self { width, wide, rim, mask, depth, away, spared, room })
    }

    /// Where the pixels of row `y`, counted from the first row asked for, begin among all.
    pub(super) fn row(&self, y: usize) -> usize {
        (y + self.rim) * self.wide + self.rim
    }

    /// Whether the pixel is of a line that is too fine.
    pub(super) fn is_fine(&self, at: usize) -> bool {
        self.mask[at] != 0 && self.away[at] > self.spared
    }
}

/// What lies this near to where the finest disc fits is spared, in pixels.
pub(super) fn near(finest_px: f64) -> usize {
    (finest_px + 1.0).ceil() as usize
}

/// How many rows away a pixel can lie that decides whether one is fine.
fn rim(finest_px: f64) -> usize {
    (finest_px / 2.0).ceil() as usize + near(finest_px) + 1
}

/// How many bands of so many rows are worked on at one time, within a fixed room.
pub(super) fn at_once(film: &dyn Raster, rows: u32, finest_px: f64, around: usize) -> u32 {
    let rim = rim(finest_px) + around;
    let pixels = (film.width() as usize + 2 * rim) * (rows as usize + 2 * rim);
    // The mask, what does not fit, two depths, and the distances of one of them in the making.
    (ROOM / (pixels * 7).max(1)).clamp(1, 8) as u32
}
