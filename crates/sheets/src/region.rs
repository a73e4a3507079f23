use bitmap::Bitmap;
use measure::{Length, Point, Rect, Resolution, Size};

/// Where film is needed: a bitmap of square cells, each with ink or its surround in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// The side of a cell, at most 0.25 in.
    pub cell: Length,
    /// Where the bitmap's top-left corner lies on the film.
    pub origin: Point,
    /// The cells; set = needs film.
    pub cells: Bitmap,
}

impl Region {
    /// The coarsest cell that is advised.
    pub const COARSEST: Length = Length::inches(0.25);

    /// The finest cell that is advised: finer ones take long and save no sheet.
    pub const FINEST: Length = Length::inches(0.0625);

    /// The cell that suits an overlap and a film's resolution: a whole number of film pixels
    /// between [`Region::FINEST`] and [`Region::COARSEST`], of which an even number makes the
    /// overlap or a little more. Overlaps below an eighth of an inch come out as that.
    ///
    /// ```
    /// use measure::{Length, Resolution};
    /// use sheets::Region;
    /// let cell = Region::cell_for(Length::inches(0.5), Resolution::ppi(300.0));
    /// assert_eq!(Resolution::ppi(300.0).whole_px(cell), 75);
    /// ```
    pub fn cell_for(overlap: Length, film: Resolution) -> Length {
        // Forgive a thousandth of a pixel of rounding before rounding up.
        let half_px = (film.px(overlap) / 2.0 - 1e-3).ceil();
        let most_px = film.px(Self::COARSEST).floor().max(1.0);
        let least_px = film.px(Self::FINEST).ceil().clamp(1.0, most_px);
        if half_px <= 0.0 || half_px.is_nan() {
            return film.length(most_px);
        }
        let parts = (half_px / most_px).ceil().max(1.0);
        film.length((half_px / parts).ceil().max(least_px))
    }

    /// A region of `width` x `height` cells of which those need film where `needs(x, y)`.
    pub fn from_fn(
        cell: Length,
        origin: Point,
        (width, height): (u32, u32),
        needs: impl Fn(u32, u32) -> bool,
    ) -> Self {
        Self { cell, origin, cells: Bitmap::from_fn(width, height, needs) }
    }

    /// The place and size of cells `x, y` to `x1, y1` (exclusive) on the film.
    pub fn rect_of(&self, x: i32, y: i32, x1: i32, y1: i32) -> Rect {
        let at = |x: i32, y: i32| {
            self.origin + Point::new(self.cell * f64::from(x), self.cell * f64::from(y))
        };
        let size = Size::new(self.cell * f64::from(x1 - x), self.cell * f64::from(y1 - y));
        Rect::new(at(x, y), size)
    }

    /// The region with every cell added that a disc of `radius` around any place of a needed
    /// cell touches. The bitmap keeps its extent; leave room for the surround beforehand.
    #[must_use]
    pub fn surrounded(&self, radius: Length) -> Self {
        let reach = radius / self.cell;
        if reach <= 0.0 || reach.is_nan() {
            return self.clone();
        }
        let (w, h) = (self.cells.width(), self.cells.height());
        let whole = (reach.ceil().min(f64::from(w.max(h)))) as i64;
        // How far the disc reaches sideways, in cells, `dy` rows away: between two cells lie
        // all cells but themselves.
        let side: Vec<Option<i64>> = (0..=whole)
            .map(|dy| {
                let gap = (dy - 1).max(0) as f64;
                (gap < reach)
                    .then(|| ((reach * reach - gap * gap).sqrt() - 1e-9).floor() as i64 + 1)
            })
            .collect();
        let mut out = Bitmap::new(w, h);
        let (mut changes, mut row) = (Vec::new(), Vec::new());
        for y in 0..i64::from(h) {
            row.clear();
            for dy in -whole..=whole {
                let from = y + dy;
                let Some(reach) = side[dy.unsigned_abs() as usize] else { continue };
                if from < 0 || from >= i64::from(h) {
                    continue;
                }
                changes.clear();
                self.cells.changes_of_row(from as u32, 0, w, &mut changes);
                for run in bitmap::runs(&changes, w) {
                    let start = (i64::from(run.start) - reach).max(0);
                    row.push((start, (i64::from(run.end) + reach).min(i64::from(w))));
                }
            }
            for (start, end) in &row {
                for x in *start..*end {
                    out.set(x as u32, y as u32, true);
                }
            }
        }
        Self { cells: out, ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_divide_the_overlap_and_hold_whole_pixels() {
        for ppi in [72.0, 150.0, 300.0, 360.0, 720.0, 1440.0, 299.7] {
            for overlap_mm in [0.0, 1.0, 6.35, 10.0, 12.7, 25.4, 40.0] {
                let (film, overlap) = (Resolution::ppi(ppi), Length::mm(overlap_mm));
                let cell = Region::cell_for(overlap, film);
                let px = film.px(cell);
                assert!((px - px.round()).abs() < 1e-6 && px >= 1.0, "{ppi} {overlap_mm}");
                assert!(cell.fits(Region::COARSEST + film.pixel()));
                let half = (overlap / 2.0 / cell - 1e-4).ceil();
                let real = cell * half * 2.0;
                let least = (Region::FINEST + film.pixel()) * 2.0;
                let most = overlap.max(least) + film.pixel() * (2.0 * half + 1.0);
                assert!(overlap.fits(real) && real.fits(most), "{ppi} {overlap_mm} {real:?}");
            }
        }
    }

    #[test]
    fn the_surround_is_a_disc() {
        let cell = Length::mm(1.0);
        let dot = Region::from_fn(cell, Point::default(), (21, 21), |x, y| (x, y) == (10, 10));
        let grown = dot.surrounded(Length::mm(5.0));
        for y in 0..21_i32 {
            for x in 0..21_i32 {
                // The gap between two cells, by the definition of Euclidean distance.
                let (dx, dy) = (((x - 10).abs() - 1).max(0), ((y - 10).abs() - 1).max(0));
                let within = dx * dx + dy * dy < 25;
                assert_eq!(grown.cells.get(x as u32, y as u32), within, "{x} {y}");
            }
        }
        assert_eq!(dot.surrounded(Length::ZERO), dot);
    }
}
