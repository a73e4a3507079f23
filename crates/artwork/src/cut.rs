//! The film itself: the sign of a grid's spline at every film pixel, found without visiting
//! the pixels where it cannot change.

use crate::grid::{Grid, Kernel, MARGIN};
use bitmap::Raster;
use std::sync::Arc;

/// The part of a grid that a film shows, in grid steps: grid point `i` stands for the square
/// from `i` to `i + 1`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Extent {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) width: f64,
    pub(crate) height: f64,
}

impl Extent {
    /// The same part of a grid so many times finer.
    pub(crate) fn times(self, fine: f64) -> Self {
        Self {
            x: self.x * fine,
            y: self.y * fine,
            width: self.width * fine,
            height: self.height * fine,
        }
    }
}

/// A film: the part `extent` of a grid at some size. Film pixel `i` of `n` covers its share
/// of the part from `i / n` to `(i + 1) / n`, and has the colour found at its middle.
pub(crate) struct CutFilm {
    grid: Arc<Grid>,
    extent: Extent,
    width: u32,
    height: u32,
    invert: bool,
    /// Per column of cells, from the one left of the picture: its first film column; then the
    /// film's width.
    starts: Vec<u32>,
}

impl CutFilm {
    pub(crate) fn new(
        grid: Arc<Grid>,
        extent: Extent,
        width: u32,
        height: u32,
        invert: bool,
    ) -> Self {
        let mut starts = Vec::with_capacity(grid.columns + 2);
        let across = Place::new(extent.x, extent.width, f64::from(width), grid.columns);
        for x in 0..width {
            let (cell, _) = across.cell(f64::from(x) + 0.5);
            while starts.len() <= cell {
                starts.push(x);
            }
        }
        starts.resize(grid.columns + 2, width);
        Self { grid, extent, width, height, invert, starts }
    }
}

/// How places along one side of a film, in its pixels, lie among a grid's cells.
#[derive(Clone, Copy)]
pub(crate) struct Place {
    origin: f64,
    length: f64,
    pixels: f64,
    points: f64,
}

impl Place {
    /// A film of so many pixels that shows `length` grid steps of `points` from `origin` on.
    pub(crate) fn new(origin: f64, length: f64, pixels: f64, points: usize) -> Self {
        Self { origin, length, pixels, points: points as f64 }
    }

    /// A place in cells, counted from the one before the picture.
    pub(crate) fn of(self, at: f64) -> f64 {
        self.origin + at * self.length / self.pixels + 0.5
    }

    /// The cell that a place lies in, and how far into it from 0 to 1.
    pub(crate) fn cell(self, at: f64) -> (usize, f64) {
        let at = self.of(at);
        let cell = at.floor().clamp(0.0, self.points);
        (cell as usize, (at - cell).clamp(0.0, 1.0))
    }
}

impl Raster for CutFilm {
    fn width(&self) -> u32 {
        self.width
    }

    fn height(&self) -> u32 {
        self.height
    }

    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let x1 = x1.min(self.width);
        if x0 >= x1 {
            return;
        }
        let (from, length) = (self.extent.y, self.extent.height);
        let down = Place::new(from, length, f64::from(self.height), self.grid.rows);
        let (cell_y, t) = down.cell(f64::from(y) + 0.5);
        let weights = self.grid.kernel.weights(t);
        let rows = self.grid.four_rows(cell_y);
        let (mut ink, spans) = self.grid.edges_of(cell_y);
        let mut pen = Pen::new(out, x0);
        let first = spans.partition_point(|span| self.starts[span.to as usize] <= x0);
        if first > 0 {
            ink = spans[first - 1].ink_after;
        }
        pen.change(x0, ink != self.invert);
        for span in &spans[first..] {
            if self.starts[span.from as usize] >= x1 {
                return;
            }
            self.cross(&rows, weights, span.from as usize, span.to as usize, x0, x1, &mut pen);
            let end = self.starts[span.to as usize];
            if end >= x1 {
                return;
            }
            pen.change(end, span.ink_after != self.invert);
        }
    }
}

impl CutFilm {
    /// Draws the film columns `x0..x1` of the cells `from..to`.
    #[expect(clippy::too_many_arguments, reason = "a hot inner step, called once")]
    fn cross(
        &self,
        rows: &[&[f32]; 4],
        weights: [f64; 4],
        from: usize,
        to: usize,
        x0: u32,
        x1: u32,
        pen: &mut Pen<'_>,
    ) {
        let column = |x: usize| {
            weights[0] * f64::from(rows[0][x])
                + weights[1] * f64::from(rows[1][x])
                + weights[2] * f64::from(rows[2][x])
                + weights[3] * f64::from(rows[3][x])
        };
        let mut four = [0.0, column(from), column(from + 1), column(from + 2)];
        for cell in from..to {
            four = [four[1], four[2], four[3], column(cell + 3)];
            let (a, b) = (self.starts[cell].max(x0), self.starts[cell + 1].min(x1));
            if a < b {
                self.cross_cell(&Cubic::new(self.grid.kernel, four), cell, a, b, pen);
            }
        }
    }

    /// Draws the film columns `a..b`, which all lie in one cell.
    fn cross_cell(&self, cubic: &Cubic, cell: usize, a: u32, b: u32, pen: &mut Pen<'_>) {
        let step = self.extent.width / f64::from(self.width);
        let origin = self.extent.x + 0.5 - cell as f64;
        let ink = |x: u32| {
            let t = origin + (f64::from(x) + 0.5) * step;
            (cubic.at(t) > 0.0) != self.invert
        };
        let [o0, o1, o2, o3] = cubic.ordinates;
        let (low, high) = (o0.min(o1).min(o2).min(o3), o0.max(o1).max(o2).max(o3));
        if low > MARGIN || high < -MARGIN {
            pen.change(a, (low > 0.0) != self.invert);
            return;
        }
        let (d0, d1, d2) = (o1 - o0, o2 - o1, o3 - o2);
        let steep = d0.min(d1).min(d2) > MARGIN || d0.max(d1).max(d2) < -MARGIN;
        if !steep {
            for x in a..b {
                pen.change(x, ink(x));
            }
            return;
        }
        // The cubic rises or falls all along, by far more from pixel to pixel than rounding
        // can hide: the colour changes at most once, and halving finds where.
        let start = ink(a);
        pen.change(a, start);
        let (mut before, mut after) = (a, b);
        while after - before > 1 {
            let middle = before + (after - before) / 2;
            if ink(middle) == start { before = middle } else { after = middle }
        }
        if after < b {
            pen.change(after, !start);
        }
    }
}

/// A cubic over one cell.
pub(crate) struct Cubic {
    ordinates: [f64; 4],
    powers: [f64; 4],
}

impl Cubic {
    pub(crate) fn new(kernel: Kernel, four: [f64; 4]) -> Self {
        let [a, b, c, d] = kernel.ordinates(four);
        Self {
            ordinates: [a, b, c, d],
            powers: [a, 3.0 * (b - a), 3.0 * (a - 2.0 * b + c), d - a + 3.0 * (b - c)],
        }
    }

    pub(crate) fn at(&self, t: f64) -> f64 {
        let [p0, p1, p2, p3] = self.powers;
        p0 + t * (p1 + t * (p2 + t * p3))
    }
}

/// Writes the columns where the colour changes.
pub(crate) struct Pen<'a> {
    out: &'a mut Vec<u32>,
    start: usize,
    origin: u32,
    ink: bool,
}

impl<'a> Pen<'a> {
    /// Of a row that starts clear at column `origin`.
    pub(crate) fn new(out: &'a mut Vec<u32>, origin: u32) -> Self {
        Self { start: out.len(), out, origin, ink: false }
    }

    /// From column `x` on the film is `ink`.
    pub(crate) fn change(&mut self, x: u32, ink: bool) {
        if ink != self.ink {
            self.ink = ink;
            // Cells too narrow to hold a film pixel may change the colour twice in one place.
            if self.out.len() > self.start && self.out.last() == Some(&(x - self.origin)) {
                self.out.pop();
            } else {
                self.out.push(x - self.origin);
            }
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::grid::Border;
    use crate::plane::Plane;
    use arbtest::arbitrary::{Result, Unstructured};

    /// The plain way: every pixel on its own, from the sixteen numbers about it.
    fn plainly(grid: &Grid, extent: Extent, width: u32, height: u32, x: u32, y: u32) -> f64 {
        let across = Place::new(extent.x, extent.width, f64::from(width), grid.columns);
        let down = Place::new(extent.y, extent.height, f64::from(height), grid.rows);
        let (cx, tx) = across.cell(f64::from(x) + 0.5);
        let (cy, ty) = down.cell(f64::from(y) + 0.5);
        let (wx, wy) = (grid.kernel.weights(tx), grid.kernel.weights(ty));
        let rows = grid.four_rows(cy);
        let mut sum = 0.0;
        for (row, wy) in rows.iter().zip(wy) {
            for (i, wx) in wx.iter().enumerate() {
                sum += wy * wx * f64::from(row[cx + i]);
            }
        }
        sum
    }

    /// A small grid, mostly flat, and the part of it that is shown.
    pub(crate) fn some_grid(u: &mut Unstructured<'_>) -> Result<(Arc<Grid>, Extent)> {
        let (columns, rows) = (u.int_in_range(1..=9)?, u.int_in_range(1..=7)?);
        let kernel = if u.arbitrary()? { Kernel::BSpline } else { Kernel::Keys };
        let border = if u.arbitrary()? { Border::Repeat } else { Border::Nought };
        let mut plane = Plane::new(columns, rows);
        // Mostly flat, as artwork is, with some edges and some nearly at the level.
        for value in &mut plane.data {
            *value = match u.int_in_range(0..=9)? {
                0..=3 => 0.5,
                4..=7 => -0.5,
                8 => f32::from(u.arbitrary::<i8>()?) / 256.0,
                _ => f32::from(u.arbitrary::<i8>()?) * 1e-8,
            };
        }
        let grid = Arc::new(Grid::new(&plane, kernel, border));
        let extent = Extent {
            x: 0.25 * f64::from(u.int_in_range(0..=2)?),
            y: 0.0,
            width: columns as f64 - 0.5,
            height: rows as f64,
        };
        Ok((grid, extent))
    }

    /// Any part of any row of a film is what the whole row says, and what `pixel` says of every
    /// column and row: its value, ink above nought but for `invert`, or `None` past the picture.
    pub(crate) fn rows_are_what_pixels_say(
        u: &mut Unstructured<'_>,
        film: &dyn Raster,
        invert: bool,
        pixel: impl Fn(u32, u32) -> Option<f64>,
    ) -> Result<()> {
        let width = film.width();
        let x0 = u.int_in_range(0..=width)?;
        let x1 = u.int_in_range(x0..=width)?;
        let (mut part, mut whole) = (Vec::new(), Vec::new());
        for y in 0..film.height() {
            part.clear();
            whole.clear();
            film.changes(y, x0, x1, &mut part);
            film.changes(y, 0, width, &mut whole);
            assert!(part.windows(2).all(|w| w[0] < w[1]), "changes rise: {part:?}");
            for x in x0..x1 {
                let in_part = part.partition_point(|c| *c <= x - x0) % 2 == 1;
                let in_whole = whole.partition_point(|c| *c <= x) % 2 == 1;
                assert_eq!(in_part, in_whole, "part and whole differ at {x}, {y}");
                match pixel(x, y) {
                    None => assert!(!in_part, "ink outside the picture at {x}, {y}"),
                    Some(v) if v.abs() > 1e-12 => {
                        assert_eq!(in_part, (v > 0.0) != invert, "{v} at {x}, {y}");
                    }
                    Some(_) => {}
                }
            }
        }
        Ok(())
    }

    #[test]
    fn any_part_of_any_row_is_what_every_pixel_says() {
        arbtest::arbtest(|u| {
            let (grid, extent) = some_grid(u)?;
            let (width, height) = (u.int_in_range(1..=200)?, u.int_in_range(1..=40)?);
            let invert: bool = u.arbitrary()?;
            let film = CutFilm::new(grid.clone(), extent, width, height, invert);
            rows_are_what_pixels_say(u, &film, invert, |x, y| {
                Some(plainly(&grid, extent, width, height, x, y))
            })
        });
    }
}
