use crate::{Bitmap, Raster};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A raster that keeps the rows it was asked for whole, as far as they take little room: flat
/// artwork changes colour so seldom that a whole film does, and is worked out but once.
pub struct Kept<R> {
    raster: R,
    rows: Vec<OnceLock<Box<[u32]>>>,
    /// How many more changes there is room for.
    room: AtomicUsize,
}

impl<R: Raster> Kept<R> {
    /// Keeps at most `most` changes of `raster`, of four bytes each.
    pub fn new(raster: R, most: usize) -> Self {
        let rows = (0..raster.height()).map(|_| OnceLock::new()).collect();
        Self { raster, rows, room: AtomicUsize::new(most) }
    }
}

impl<R: Raster> Raster for Kept<R> {
    fn width(&self) -> u32 {
        self.raster.width()
    }

    fn height(&self) -> u32 {
        self.raster.height()
    }

    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let kept = &self.rows[y as usize];
        if let Some(row) = kept.get() {
            // An odd number of changes up to the first column leaves it inked.
            let before = row.partition_point(|x| *x <= x0);
            if before % 2 == 1 && x0 < x1 {
                out.push(0);
            }
            out.extend(row[before..].iter().take_while(|x| **x < x1).map(|x| x - x0));
            return;
        }
        let start = out.len();
        self.raster.changes(y, x0, x1, out);
        let row = &out[start..];
        let whole = x0 == 0 && x1 >= self.width();
        let take = |room: usize| room.checked_sub(row.len());
        if whole && self.room.fetch_update(Ordering::Relaxed, Ordering::Relaxed, take).is_ok() {
            // Another thread may have been as quick, with the same changes.
            let _ = kept.set(row.into());
        }
    }
}

/// A raster that keeps the rows it was asked for whole as packed pixels, up to a limit: a film
/// of dots changes colour so often that its changes would take more room than its pixels,
/// and is costly to work out twice.
pub struct KeptPixels<R> {
    raster: R,
    rows: Vec<OnceLock<Bitmap>>,
}

impl<R: Raster> KeptPixels<R> {
    /// Keeps the first rows of `raster`, as many as `most_bytes` hold.
    pub fn new(raster: R, most_bytes: usize) -> Self {
        let row = (raster.width() as usize).div_ceil(64) * 8;
        let count = (most_bytes / row.max(1)).min(raster.height() as usize);
        Self { rows: (0..count).map(|_| OnceLock::new()).collect(), raster }
    }
}

impl<R: Raster> Raster for KeptPixels<R> {
    fn width(&self) -> u32 {
        self.raster.width()
    }

    fn height(&self) -> u32 {
        self.raster.height()
    }

    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let kept = self.rows.get(y as usize);
        if let Some(row) = kept.and_then(OnceLock::get) {
            row.changes_of_row(0, x0, x1, out);
            return;
        }
        let start = out.len();
        self.raster.changes(y, x0, x1, out);
        if let Some(kept) = kept.filter(|_| x0 == 0 && x1 >= self.width()) {
            let mut row = Bitmap::new(self.width(), 1);
            row.set_row_from_changes(0, &out[start..]);
            // Another thread may have been as quick, with the same pixels.
            let _ = kept.set(row);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_what_was_worked_out() {
        arbtest::arbtest(|u| {
            let (w, h) = (u.int_in_range(1..=90)?, u.int_in_range(1..=6)?);
            let seed: u32 = u.arbitrary()?;
            let film = Bitmap::from_fn(w, h, |x, y| {
                ((x / 3) ^ seed).wrapping_mul(2_654_435_761).wrapping_add(y) & 2 == 0
            });
            let changes = Kept::new(film.clone(), u.int_in_range(0..=60)?);
            let pixels = KeptPixels::new(film.clone(), u.int_in_range(0..=60)?);
            for kept in [&changes as &dyn Raster, &pixels, &changes, &pixels] {
                for y in 0..h {
                    let mut whole = Vec::new();
                    kept.changes(y, 0, w, &mut whole);
                    let x0 = u.int_in_range(0..=w)?;
                    let x1 = u.int_in_range(x0..=w)?;
                    let (mut got, mut want) = (vec![7], vec![7]);
                    kept.changes(y, x0, x1, &mut got);
                    film.changes(y, x0, x1, &mut want);
                    assert_eq!(got, want, "row {y}, columns {x0} to {x1}");
                }
            }
            Ok(())
        });
    }
}
