//! A film that shows its picture turned: the same smooth edge, read along a slanting line.

use crate::cut::{Cubic, Extent, Pen, Place};
use crate::grid::{Grid, MARGIN};
use bitmap::{Bitmap, Raster, Turned};
use std::ops::Range;
use std::sync::Arc;

/// The part `extent` of a grid, turned. A film pixel has the colour found at its middle; what
/// lies past the picture's sides is clear.
pub(crate) struct TurnedFilm {
    grid: Arc<Grid>,
    extent: Extent,
    turned: Turned,
    invert: bool,
    /// The cells that an edge may cross, and of the others those that are ink.
    crossed: Bitmap,
    ink: Bitmap,
}

impl TurnedFilm {
    pub(crate) fn new(grid: Arc<Grid>, extent: Extent, turned: Turned, invert: bool) -> Self {
        let (columns, rows) = (grid.columns as u32 + 1, grid.rows as u32 + 1);
        let (mut crossed, mut ink) = (Bitmap::new(columns, rows), Bitmap::new(columns, rows));
        for row in 0..rows {
            let (mut inked, spans) = grid.edges_of(row as usize);
            let mut from = 0;
            for span in spans {
                if inked {
                    ink.fill(from, span.from, row);
                }
                crossed.fill(span.from, span.to, row);
                (inked, from) = (span.ink_after, span.to);
            }
            if inked {
                ink.fill(from, columns, row);
            }
        }
        Self { grid, extent, turned, invert, crossed, ink }
    }
}

impl Raster for TurnedFilm {
    fn width(&self) -> u32 {
        self.turned.film().0
    }

    fn height(&self) -> u32 {
        self.turned.film().1
    }

    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let x1 = x1.min(self.width());
        if x0 >= x1 {
            return;
        }
        let (wide, high) = self.turned.picture();
        let (grid, extent) = (&*self.grid, self.extent);
        let across = Place::new(extent.x, extent.width, wide, grid.columns);
        let down = Place::new(extent.y, extent.height, high, grid.rows);
        let step = extent.width / wide;
        let (along, aside) = self.turned.per_column();
        let steps = (step * along, extent.height / high * aside);
        let mut pen = Pen::new(out, x0);
        let mut end = x0;
        let cells = (|u| across.of(u), |v| down.of(v));
        self.turned.cells(y, x0, x1, cells.0, cells.1, |xs, cell_x, cell_y| {
            let (cell_x, cell_y) = (cell_x.min(grid.columns), cell_y.min(grid.rows));
            end = xs.end;
            if !self.crossed.get(cell_x as u32, cell_y as u32) {
                let ink = self.ink.get(cell_x as u32, cell_y as u32);
                pen.change(xs.start, ink != self.invert);
                return;
            }
            let rows = grid.four_rows(cell_y);
            // What the value changes by from one column to the next, at most.
            let slope = grid.kernel.steepest(&rows.map(|row| &row[cell_x..cell_x + 4]), steps);
            let origin = extent.x + 0.5 - cell_x as f64;
            let Range { start: mut x, end } = xs;
            while x < end {
                // In the order of an upright film, so that a quarter turn gives its very bits.
                let (u, v) = self.turned.at(x, y);
                let (_, t) = down.cell(v);
                let weights = grid.kernel.weights(t);
                let column = |x: usize| {
                    weights[0] * f64::from(rows[0][x])
                        + weights[1] * f64::from(rows[1][x])
                        + weights[2] * f64::from(rows[2][x])
                        + weights[3] * f64::from(rows[3][x])
                };
                let four = std::array::from_fn(|i| column(cell_x + i));
                let value = Cubic::new(grid.kernel, four).at(origin + u * step);
                pen.change(x, (value > 0.0) != self.invert);
                // Until the value can have come to nought the colour stays.
                let same = ((value.abs() - MARGIN) / slope) as u32;
                x = x.saturating_add(1 + same.min(u32::MAX - 1));
            }
        });
        if end < x1 {
            pen.change(end, false);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cut::CutFilm;
    use crate::cut::tests::{rows_are_what_pixels_say, some_grid};
    use bitmap::collect;
    use measure::Angle;

    /// The plain way: every pixel on its own, from the sixteen numbers about it.
    fn plainly(grid: &Grid, extent: Extent, turned: &Turned, x: u32, y: u32) -> Option<f64> {
        let (u, v) = turned.at(x, y);
        let (wide, high) = turned.picture();
        if !((0.0..wide).contains(&u) && (0.0..high).contains(&v)) {
            return None;
        }
        let (cx, tx) = Place::new(extent.x, extent.width, wide, grid.columns).cell(u);
        let (cy, ty) = Place::new(extent.y, extent.height, high, grid.rows).cell(v);
        let (wx, wy) = (grid.kernel.weights(tx), grid.kernel.weights(ty));
        let rows = grid.four_rows(cy);
        let mut sum = 0.0;
        for (row, wy) in rows.iter().zip(wy) {
            for (i, wx) in wx.iter().enumerate() {
                sum += wy * wx * f64::from(row[cx + i]);
            }
        }
        Some(sum)
    }

    #[test]
    fn any_part_of_any_row_is_what_every_pixel_says() {
        arbtest::arbtest(|u| {
            let (grid, extent) = some_grid(u)?;
            let invert: bool = u.arbitrary()?;
            let degrees = f64::from(u.int_in_range(-1800..=1800)?) / 10.0;
            let (w, h) = (u.int_in_range(1..=120)?, u.int_in_range(1..=40)?);
            let turned = Turned::by(w, h, Angle::deg(degrees));
            let film = TurnedFilm::new(grid.clone(), extent, turned, invert);
            rows_are_what_pixels_say(u, &film, invert, |x, y| plainly(&grid, extent, &turned, x, y))
        });
    }

    #[test]
    fn quarter_turns_are_the_upright_film_turned() {
        arbtest::arbtest(|u| {
            let (grid, extent) = some_grid(u)?;
            let invert: bool = u.arbitrary()?;
            let (w, h) = (u.int_in_range(1..=120)?, u.int_in_range(1..=40)?);
            let mut want = collect(&CutFilm::new(grid.clone(), extent, w, h, invert));
            for quarters in 0..4 {
                let turned = Turned::by(w, h, Angle::deg(90.0 * f64::from(quarters)));
                let film = TurnedFilm::new(grid.clone(), extent, turned, invert);
                assert_eq!(collect(&film), want, "{quarters} quarters");
                want = want.turned_clockwise();
            }
            Ok(())
        });
    }
}
