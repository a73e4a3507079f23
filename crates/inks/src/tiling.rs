use crate::cover::Cover;
use crate::image::index;
use crate::spline::weights;
use bitmap::Turned;
use std::collections::BTreeMap;

/// A plane cut into inks without gap or overlap: at every point the ink of the greatest
/// level prints, whatever the film's size.
pub(crate) struct Tiling {
    levels: Cover,
    /// Where each cell's inks begin in `inks`; cells lie between four pixels' middles, one
    /// more than pixels each way.
    starts: Vec<u32>,
    /// The inks that may be greatest somewhere in a cell.
    inks: Vec<u8>,
    /// Specks taken out, by cell.
    swaps: BTreeMap<u32, Vec<Swap>>,
}

/// In the marked parts of a cell, `from` gives way to the greatest of `to`.
#[derive(Clone, Debug)]
pub(crate) struct Swap {
    pub(crate) from: u8,
    pub(crate) to: u32,
    /// The cell's parts, 8 x 8, row by row, first in the lowest bit.
    pub(crate) parts: u64,
}

/// Parts of a cell across, and down, for [`Swap`].
pub(crate) const PARTS: u32 = 8;

impl Tiling {
    pub(crate) fn new(levels: Cover) -> Self {
        let mut tiling = Self { levels, starts: vec![0], inks: Vec::new(), swaps: BTreeMap::new() };
        let (w, h) = (tiling.levels.width, tiling.levels.height);
        let mut ranges = vec![(0.0, 0.0); tiling.levels.inks];
        for cy in 0..=h as isize {
            for cx in 0..=w as isize {
                for (k, range) in ranges.iter_mut().enumerate() {
                    *range = tiling.range(k, cx, cy);
                }
                // A spline stays within the range of its coefficients, so that an ink whose
                // most is below another's least is nowhere the greatest.
                let sure = ranges.iter().map(|r| r.0).fold(f32::MIN, f32::max);
                let may = ranges.iter().enumerate().filter(|(_, r)| r.1 >= sure);
                tiling.inks.extend(may.map(|(k, _)| k as u8));
                tiling.starts.push(tiling.inks.len() as u32);
            }
        }
        tiling
    }

    pub(crate) fn width(&self) -> usize {
        self.levels.width
    }
    pub(crate) fn height(&self) -> usize {
        self.levels.height
    }
    pub(crate) fn levels(&self) -> &Cover {
        &self.levels
    }

    /// The least and greatest of the 16 coefficients about a cell.
    fn range(&self, k: usize, cx: isize, cy: isize) -> (f32, f32) {
        let plane = self.levels.plane(k);
        let mut range = (f32::MAX, f32::MIN);
        for dy in -2..2 {
            for dx in -2..2 {
                let v = plane[index(self.levels.width, self.levels.height, cx + dx, cy + dy)];
                range = (range.0.min(v), range.1.max(v));
            }
        }
        range
    }

    pub(crate) fn swap(&mut self, cell: u32, swap: Swap) {
        self.swaps.entry(cell).or_default().push(swap);
    }

    fn inks_of(&self, cell: usize) -> &[u8] {
        &self.inks[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }
}

/// A tiling at one film size.
pub(crate) struct Film<'a> {
    tiling: &'a Tiling,
    columns: &'a Columns,
    height: u32,
}

/// Where each of a film's columns lies among a tiling's cells.
pub(crate) struct Columns {
    /// The first column in each cell, and one past the last.
    starts: Vec<u32>,
    /// How far across its cell each column is.
    across: Vec<f32>,
}

impl Columns {
    pub(crate) fn new(source: usize, film: u32) -> Self {
        let mut starts = Vec::with_capacity(source + 2);
        let mut across = Vec::with_capacity(film as usize);
        for x in 0..film {
            let (cell, t) = place(x, source, film);
            while starts.len() <= cell {
                starts.push(x);
            }
            across.push(t);
        }
        starts.resize(source + 2, film);
        Self { starts, across }
    }
}

/// The cell that a film pixel's middle lies in, and how far into it.
fn place(x: u32, source: usize, film: u32) -> (usize, f32) {
    let at = (f64::from(x) + 0.5) * source as f64 / f64::from(film) + 0.5;
    let cell = at.floor();
    (cell as usize, (at - cell) as f32)
}

impl<'a> Film<'a> {
    pub(crate) fn new(tiling: &'a Tiling, columns: &'a Columns, height: u32) -> Self {
        Self { tiling, columns, height }
    }

    /// Calls `put(from, to, ink)` for each stretch of columns `x0..x1` of row `y`, in order.
    /// Stretches of one ink may come in pieces. With a set of inks `wanted`, any ink may be
    /// named where all that may print in a cell are in the set, or none is: it is all the
    /// same to who asks, and saves most of the work.
    pub(crate) fn row(
        &self,
        y: u32,
        x0: u32,
        x1: u32,
        wanted: Option<u32>,
        mut put: impl FnMut(u32, u32, u8),
    ) {
        let tiling = self.tiling;
        let (cy, down) = place(y, tiling.height(), self.height);
        let rows = weights(down);
        let part_row = ((down * PARTS as f32) as u32).min(PARTS - 1);
        let starts = &self.columns.starts;
        let first = starts.partition_point(|s| *s <= x0).saturating_sub(1);
        for cx in first..=tiling.width() {
            let (from, to) = (starts[cx].max(x0), starts[cx + 1].min(x1));
            if from >= x1 {
                break;
            }
            if from >= to {
                continue;
            }
            let cell = cy * (tiling.width() + 1) + cx;
            let inks = tiling.inks_of(cell);
            let swaps = tiling.swaps_of(cell);
            let mask = may_print(inks, swaps);
            if mask.count_ones() == 1
                || wanted.is_some_and(|set| mask & set == 0 || mask & !set == 0)
            {
                put(from, to, mask.trailing_zeros() as u8);
                continue;
            }
            self.tiling.curves(cx as isize, cy as isize, &rows, mask, |curves| {
                let (mut start, mut ink) = (from, u8::MAX);
                for x in from..to {
                    let t = self.columns.across[x as usize];
                    let top = top(inks, swaps, curves, t, part_row);
                    if top != ink {
                        if start < x {
                            put(start, x, ink);
                        }
                        (start, ink) = (x, top);
                    }
                }
                put(start, to, ink);
            });
        }
    }
}

impl Tiling {
    /// As [`Film::row`], of a film that shows the tiling turned; what lies past its sides is not
    /// put.
    pub(crate) fn turned_row(
        &self,
        turned: &Turned,
        y: u32,
        (x0, x1): (u32, u32),
        wanted: u32,
        mut put: impl FnMut(u32, u32, u8),
    ) {
        let (wide, high) = turned.picture();
        let across = |u: f64| u * self.width() as f64 / wide + 0.5;
        let down = |v: f64| v * self.height() as f64 / high + 0.5;
        turned.cells(y, x0, x1, across, down, |xs, cx, cy| {
            let (cx, cy) = (cx.min(self.width()), cy.min(self.height()));
            let cell = cy * (self.width() + 1) + cx;
            let inks = self.inks_of(cell);
            let swaps = self.swaps_of(cell);
            let mask = may_print(inks, swaps);
            if mask.count_ones() == 1 || mask & wanted == 0 || mask & !wanted == 0 {
                return put(xs.start, xs.end, mask.trailing_zeros() as u8);
            }
            for x in xs {
                let (u, v) = turned.at(x, y);
                let t = (across(u) - cx as f64) as f32;
                let s = (down(v) - cy as f64) as f32;
                let part_row = ((s * PARTS as f32) as u32).min(PARTS - 1);
                self.curves(cx as isize, cy as isize, &weights(s), mask, |curves| {
                    put(x, x + 1, top(inks, swaps, curves, t, part_row));
                });
            }
        });
    }

    fn swaps_of(&self, cell: usize) -> &[Swap] {
        self.swaps.get(&(cell as u32)).map_or(&[][..], Vec::as_slice)
    }

    /// The levels of a cell's inks along one row, as cubics.
    fn curves(
        &self,
        cx: isize,
        cy: isize,
        rows: &[f32; 4],
        mask: u32,
        then: impl FnOnce(&[(u8, [f32; 4])]),
    ) {
        let levels = &self.levels;
        let mut curves = [(0, [0.0; 4]); crate::MAX_INKS + 1];
        let mut count = 0;
        for k in (0..levels.inks).filter(|k| mask >> k & 1 == 1) {
            let plane = levels.plane(k);
            let mut v = [0.0; 4];
            for (dy, weight) in (-2..).zip(rows) {
                for (dx, v) in (-2..).zip(&mut v) {
                    *v += weight * plane[index(levels.width, levels.height, cx + dx, cy + dy)];
                }
            }
            let [a, b, c, d] = v;
            let cubic = [
                (a + 4.0 * b + c) / 6.0,
                (c - a) / 2.0,
                (a - 2.0 * b + c) / 2.0,
                (d - a + 3.0 * (b - c)) / 6.0,
            ];
            curves[count] = (k as u8, cubic);
            count += 1;
        }
        then(&curves[..count]);
    }
}

/// The inks that may print somewhere in a cell, one bit each.
fn may_print(inks: &[u8], swaps: &[Swap]) -> u32 {
    let mask = inks.iter().fold(0, |mask, k| mask | 1_u32 << k);
    swaps.iter().fold(mask, |mask, swap| mask | swap.to | 1 << swap.from)
}

/// The ink that prints `t` of the way across a cell, in one of its rows of parts.
fn top(inks: &[u8], swaps: &[Swap], curves: &[(u8, [f32; 4])], t: f32, part_row: u32) -> u8 {
    let all = inks.iter().fold(0, |mask, k| mask | 1_u32 << k);
    let mut top = greatest(curves, all, t);
    for swap in swaps {
        let part = part_row * PARTS + ((t * PARTS as f32) as u32).min(PARTS - 1);
        if swap.from == top && swap.parts >> part & 1 == 1 {
            top = greatest(curves, swap.to, t);
        }
    }
    top
}

/// The ink of `among` with the greatest level, the first of equals.
fn greatest(curves: &[(u8, [f32; 4])], among: u32, t: f32) -> u8 {
    let mut best = (f32::MIN, u8::MAX);
    for (k, [a, b, c, d]) in curves {
        let v = a + t * (b + t * (c + t * d));
        if among >> k & 1 == 1 && (best.1 == u8::MAX || v > best.0) {
            best = (v, *k);
        }
    }
    best.1
}
