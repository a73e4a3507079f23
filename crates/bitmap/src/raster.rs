use crate::Bitmap;
use rayon::prelude::*;
use std::ops::Range;

/// A one-bit picture that can give any part of any row, without being held whole.
pub trait Raster: Sync {
    /// Pixels across.
    fn width(&self) -> u32;
    /// Pixels down.
    fn height(&self) -> u32;
    /// Appends the colour changes of columns `x0..x1` of row `y`: the columns, counted
    /// from `x0` and rising, where the colour differs from the one before, starting from
    /// clear. So `[0]` is a row of solid ink and `[]` a clear one. The same pixel is the
    /// same colour whatever part of its row is asked for.
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>);
}

impl Raster for Bitmap {
    fn width(&self) -> u32 {
        self.width()
    }
    fn height(&self) -> u32 {
        self.height()
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        self.changes_of_row(y, x0, x1, out);
    }
}

impl<T: Raster + Send + ?Sized> Raster for std::sync::Arc<T> {
    fn width(&self) -> u32 {
        (**self).width()
    }
    fn height(&self) -> u32 {
        (**self).height()
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        (**self).changes(y, x0, x1, out);
    }
}

/// A rectangle cut out of another raster. It may reach past the raster's edges, where it is clear.
pub struct Window<'a> {
    raster: &'a dyn Raster,
    x: i64,
    y: i64,
    width: u32,
    height: u32,
}

impl<'a> Window<'a> {
    /// The `width` x `height` pixels of `raster` whose top-left corner is `x, y`.
    pub fn new(raster: &'a dyn Raster, x: i64, y: i64, width: u32, height: u32) -> Self {
        Self { raster, x, y, width, height }
    }
}

impl Raster for Window<'_> {
    fn width(&self) -> u32 {
        self.width
    }
    fn height(&self) -> u32 {
        self.height
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let row = self.y + i64::from(y);
        if row < 0 || row >= i64::from(self.raster.height()) {
            return;
        }
        let inside = |x: i64| x.clamp(0, i64::from(self.raster.width())) as u32;
        let (from, to) = (inside(self.x + i64::from(x0)), inside(self.x + i64::from(x1)));
        if from >= to {
            return;
        }
        let start = out.len();
        self.raster.changes(row as u32, from, to, out);
        let shift = (i64::from(from) - self.x - i64::from(x0)) as u32;
        for change in &mut out[start..] {
            *change += shift;
        }
        // Ink that runs to the raster's edge ends there, where the window goes on.
        let end = to - from + shift;
        if (out.len() - start) % 2 == 1 && end < x1 - x0 {
            out.push(end);
        }
    }
}

/// The inked runs of a row `width` pixels wide, by its changes.
pub fn runs(changes: &[u32], width: u32) -> impl Iterator<Item = Range<u32>> + '_ {
    changes.chunks(2).map(move |run| run[0]..run.get(1).copied().unwrap_or(width))
}

/// Every pixel of a raster, worked out over all threads.
pub fn collect(raster: &dyn Raster) -> Bitmap {
    let mut out = Bitmap::new(raster.width(), raster.height());
    let (width, stride) = (raster.width(), out.stride());
    if stride == 0 {
        return out;
    }
    out.words_mut().par_chunks_mut(stride * 16).enumerate().for_each(|(band, words)| {
        let mut rows = Bitmap::new(width, (words.len() / stride) as u32);
        let mut changes = Vec::new();
        for y in 0..rows.height() {
            changes.clear();
            raster.changes(band as u32 * 16 + y, 0, width, &mut changes);
            rows.set_row_from_changes(y, &changes);
        }
        words.copy_from_slice(rows.words());
    });
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_past_the_edges_is_clear_there() {
        let solid = Bitmap::from_fn(70, 5, |_, _| true);
        for (x, y) in [(-3, -2), (60, 2), (-80, 0), (0, 0)] {
            let window = Window::new(&solid, x, y, 90, 8);
            let got = collect(&window);
            for v in 0..8 {
                for u in 0..90 {
                    let (sx, sy) = (x + i64::from(u), y + i64::from(v));
                    let ink = (0..70).contains(&sx) && (0..5).contains(&sy);
                    assert_eq!(got.get(u, v), ink, "window at {x},{y}, pixel {u},{v}");
                }
            }
        }
    }
}
