//! What a cut costs where, and what it crosses.

use super::division::Edge;
use super::room::Room;
use super::settings::SeamWeights;
use super::{InkWindow, RASTER};
use measure::Rect;

/// The films' ink and the cost of cutting there, around one edge, on the raster; rows along the
/// edge, columns across.
pub(super) struct CostMap {
    width: usize,
    height: usize,
    /// Where the first row and column begin, in inches.
    along: f64,
    across: f64,
    /// A bit for each film that has ink there.
    ink: Vec<u32>,
    per_inch: Vec<f32>,
    /// How many films there are, at most as many as bits.
    films: u32,
    /// The cost of an inch away from ink edges: through clear film and through ink.
    plain: [f32; 2],
}

/// Places kept around a room, so that ink edges just outside are felt.
const BORDER: f64 = 0.1;

impl CostMap {
    pub(super) fn of(
        edge: &Edge,
        room: &Room,
        weights: &SeamWeights,
        inks: &[&InkWindow<'_>],
    ) -> Self {
        let raster = RASTER.to_inches();
        let (low, high) = room.extent();
        let snap = |v: f64| (v / raster).floor() * raster;
        let (along, across) = (snap(edge.from - BORDER), snap(low.min(edge.at) - BORDER));
        let ends = (edge.to + BORDER, high.max(edge.at) + BORDER);
        let rect = Rect::between(edge.point((along, across)), edge.point(ends));
        let (mut width, mut height) = (0, 0);
        let mut cells = Vec::new();
        let mut changes = Vec::new();
        for (n, ink) in inks.iter().enumerate() {
            let window = ink(rect, RASTER);
            let (w, h) = (window.width(), window.height());
            let sides = if edge.vertical { (w, h) } else { (h, w) };
            (width, height) = (sides.0 as usize, sides.1 as usize);
            cells.resize(width * height, 0_u32);
            // Films beyond the bits share one with another.
            let film = 1 << (n as u32 % u32::BITS);
            for y in 0..h {
                changes.clear();
                window.changes_of_row(y, 0, w, &mut changes);
                for run in bitmap::runs(&changes, w) {
                    let inked = run.start as usize..run.end as usize;
                    let y = y as usize;
                    if edge.vertical {
                        cells[y * width..][inked].iter_mut().for_each(|cell| *cell |= film);
                    } else {
                        inked.for_each(|x| cells[x * width + y] |= film);
                    }
                }
            }
        }
        let films = (inks.len() as u32).min(u32::BITS);
        let plain = [weights.clear as f32, weights.ink as f32];
        let mut out =
            Self { width, height, along, across, ink: cells, per_inch: Vec::new(), films, plain };
        out.per_inch = out.weigh(weights);
        out
    }

    /// The cost of an inch of cut through each pixel.
    fn weigh(&self, weights: &SeamWeights) -> Vec<f32> {
        let reach_px = weights.reach.to_inches() / RASTER.to_inches();
        let n = reach_px.ceil() as usize;
        // An edge lies half a pixel nearer than the pixel behind it.
        let near = |square: u8| {
            let far = f64::from(square).sqrt() - 0.5;
            if square > 0 && far < reach_px { 1.0 - far / reach_px } else { 0.0 }
        };
        let costs = |flat: f64| {
            let cost = |square| (flat + weights.near * near(square)) as f32;
            (0..=u8::MAX).map(cost).collect::<Vec<f32>>()
        };
        let (inked, cleared) = (costs(weights.ink), costs(weights.clear));
        // To the nearest ink edge of any film.
        let mut squares = vec![u8::MAX; self.ink.len()];
        let stride = self.width + n;
        for film in (0..self.films).map(|bit| 1 << bit) {
            let (to_ink, to_clear) = (self.squares(n, film, true), self.squares(n, film, false));
            let width = self.width.max(1);
            let rows = squares.chunks_exact_mut(width).zip(self.ink.chunks_exact(width));
            for (row, (squares, ink)) in rows.enumerate() {
                let at = row * stride..row * stride + self.width;
                let to_edge = to_ink[at.clone()].iter().zip(&to_clear[at]);
                for ((square, ink), (to_ink, to_clear)) in squares.iter_mut().zip(ink).zip(to_edge)
                {
                    *square = (*square).min(if ink & film == 0 { *to_ink } else { *to_clear });
                }
            }
        }
        let cost = |(ink, square): (&u32, u8)| {
            let costs = if *ink == 0 { &cleared } else { &inked };
            costs[usize::from(square)]
        };
        self.ink.iter().zip(squares).map(cost).collect()
    }

    /// The square of the distance from each pixel to the nearest where a film has ink, or has
    /// none, in pixels; `u8::MAX` beyond `n` pixels along and across. Rows are `n` longer than
    /// the map's, so that a row's end is never near the next row's start.
    fn squares(&self, n: usize, film: u32, ink: bool) -> Vec<u8> {
        let stride = self.width + n;
        let mut cells = vec![u8::MAX; stride * self.height];
        for (to, from) in
            cells.chunks_exact_mut(stride.max(1)).zip(self.ink.chunks(self.width.max(1)))
        {
            let here = |is: u32| (is & film != 0) == ink;
            to.iter_mut().zip(from).for_each(|(to, is)| *to = if here(*is) { 0 } else { u8::MAX });
        }
        // First along the rows, then from row to row.
        nearest(&nearest(&cells, n, 1), n, stride)
    }

    /// The number of a pixel; outside the map, of the nearest at its border.
    fn index(&self, row: i32, column: i32) -> usize {
        let row = row.clamp(0, self.height.max(1) as i32 - 1) as usize;
        row * self.width + column.clamp(0, self.width.max(1) as i32 - 1) as usize
    }

    /// The films that have ink at a pixel; outside the map it is as at its border.
    fn at(&self, row: i32, column: i32) -> u32 {
        self.ink.get(self.index(row, column)).copied().unwrap_or(0)
    }

    /// The pixels that the straight line between two places passes, with the inches in each.
    pub(super) fn passed(
        &self,
        a: (f64, f64),
        b: (f64, f64),
    ) -> impl Iterator<Item = (i32, i32, f64)> + use<> {
        let raster = RASTER.to_inches();
        let (da, dc) = (b.0 - a.0, b.1 - a.1);
        let n = (da.abs().max(dc.abs()) / raster).ceil().max(1.0);
        let long = da.hypot(dc) / n;
        let (along, across) = (self.along, self.across);
        (0..n as u32).map(move |i| {
            let t = (f64::from(i) + 0.5) / n;
            let px = |v: f64, origin: f64| ((v - origin) / raster).floor() as i32;
            (px(a.0 + da * t, along), px(a.1 + dc * t, across), long)
        })
    }

    /// The cost of a straight piece, and which films have ink at its first and last pixel.
    pub(super) fn piece(&self, a: (f64, f64), b: (f64, f64), crossing: f64) -> (f64, u32, u32) {
        let (mut cost, mut first, mut last) = (0.0, None, 0);
        for (row, column, inches) in self.passed(a, b) {
            let ink = self.at(row, column);
            if first.is_some() {
                cost += crossing * edges(ink, last);
            }
            first.get_or_insert(ink);
            last = ink;
            let per_inch = self.per_inch.get(self.index(row, column)).copied().unwrap_or(0.0);
            cost += f64::from(per_inch) * inches;
        }
        (cost, first.unwrap_or(0), last)
    }

    /// The costs of straight cuts across at each of `places`, all from and to the same places
    /// along.
    pub(super) fn straight(
        &self,
        (from, to): (f64, f64),
        places: &[f64],
        crossing: f64,
    ) -> Vec<f64> {
        let pixels = |at: f64| self.passed((from, at), (to, at));
        let columns: Vec<i32> = places
            .iter()
            .filter_map(|at| pixels(*at).next())
            .map(|(_, column, _)| column)
            .collect();
        let mut costs = vec![0.0; columns.len()];
        let mut last: Option<usize> = None;
        for (row, _, inches) in places.first().into_iter().flat_map(|at| pixels(*at)) {
            let start = self.index(row, 0);
            for (cost, column) in costs.iter_mut().zip(&columns) {
                let column = self.index(0, *column);
                let (Some(ink), Some(per_inch)) =
                    (self.ink.get(start + column), self.per_inch.get(start + column))
                else {
                    continue;
                };
                let crossed = last.map_or(0.0, |last| edges(self.ink[last + column], *ink));
                *cost += crossing * crossed;
                *cost += f64::from(*per_inch) * inches;
            }
            last = Some(start);
        }
        costs
    }

    /// The cost of a cut with its bends.
    pub(super) fn cost(&self, points: &[(f64, f64)], weights: &SeamWeights) -> f64 {
        let mut cost = points.len().saturating_sub(2) as f64 * weights.bend;
        let mut before = None;
        for pair in points.windows(2) {
            let (piece, first, last) = self.piece(pair[0], pair[1], weights.crossing);
            cost += piece;
            cost += weights.crossing * before.map_or(0.0, |before| edges(before, first));
            before = Some(last);
        }
        cost
    }

    /// The rows of pixels that the pieces between two rows of nodes pass.
    pub(super) fn strip(&self, rows: &[i32]) -> Strip<'_> {
        let starts: Vec<usize> = rows.iter().map(|row| self.index(*row, 0)).collect();
        let kind = |column: usize| {
            let ink = *self.ink.get(starts.first()? + column)?;
            let cost = self.plain[usize::from(ink != 0)];
            let plain = starts.iter().all(|at| {
                self.ink.get(at + column) == Some(&ink)
                    && self.per_inch.get(at + column) == Some(&cost)
            });
            plain.then_some(ink)
        };
        let mut plain: Vec<(Option<u32>, usize)> = Vec::with_capacity(self.width);
        for column in (0..self.width).rev() {
            let kind = kind(column);
            let to = plain.last().filter(|(k, _)| *k == kind).map_or(column, |(_, to)| *to);
            plain.push((kind, to));
        }
        plain.reverse();
        Strip { map: self, starts, plain }
    }

    /// The places where a cut crosses an ink edge of a film: row, column, the cut's direction
    /// there, and the film's bit.
    pub(super) fn crossings(&self, points: &[(f64, f64)]) -> Vec<(i32, i32, (f64, f64), u32)> {
        let mut out = Vec::new();
        let mut before = None;
        for pair in points.windows(2) {
            let (da, dc) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
            let long = da.hypot(dc).max(1e-12);
            for (row, column, _) in self.passed(pair[0], pair[1]) {
                let ink = self.at(row, column);
                let changed = before.map_or(0, |before: u32| before ^ ink);
                let films = (0..self.films).map(|bit| 1 << bit).filter(|film| changed & film != 0);
                out.extend(films.map(|film| (row, column, (da / long, dc / long), film)));
                before = Some(ink);
            }
        }
        out
    }

    /// The direction in which a film's ink grows at a pixel, along and across; nought where none
    /// does.
    pub(super) fn slope(&self, row: i32, column: i32, film: u32) -> (f64, f64) {
        let (mut along, mut across) = (0, 0);
        for dy in -3..=3 {
            for dx in -3..=3 {
                if self.at(row + dy, column + dx) & film != 0 {
                    along += dy;
                    across += dx;
                }
            }
        }
        (f64::from(along), f64::from(across))
    }
}

/// Rows of pixels, one for each that a piece between two rows of nodes passes.
pub(super) struct Strip<'a> {
    map: &'a CostMap,
    /// Where each row of pixels starts.
    starts: Vec<usize>,
    /// For each column whether the rows are all plain ink of the same films or plain clear, far
    /// from any ink edge, and the last column to the right up to which they stay so.
    plain: Vec<(Option<u32>, usize)>,
}

/// A straight piece between two rows of nodes, wherever along the seam it lies.
pub(super) struct Piece {
    /// Its column in each row of pixels.
    columns: Vec<u32>,
    /// The inches in each.
    inches: f64,
    /// Its cost through nothing but clear film, and through nothing but ink.
    plain: [f64; 2],
}

impl Piece {
    /// A piece between two places, if it passes as many `rows` of pixels.
    pub(super) fn new(map: &CostMap, a: (f64, f64), b: (f64, f64), rows: usize) -> Option<Self> {
        let passed: Vec<(i32, i32, f64)> = map.passed(a, b).collect();
        let inches = passed.first()?.2;
        if passed.len() != rows || map.ink.is_empty() {
            return None;
        }
        let columns = passed.iter().map(|(_, column, _)| map.index(0, *column) as u32).collect();
        // Added up as pixel by pixel, so that not even the last bit differs.
        let plain = map.plain.map(|cost| {
            passed.iter().fold(0.0, |sum, (_, _, inches)| sum + f64::from(cost) * inches)
        });
        Some(Self { columns, inches, plain })
    }
}

impl Strip<'_> {
    /// The cost of a piece, as [`CostMap::piece`] gives it.
    pub(super) fn cost(&self, piece: &Piece, crossing: f64) -> f64 {
        let (first, last) = (piece.columns[0], piece.columns[piece.columns.len() - 1]);
        if let (Some(ink), to) = self.plain[first.min(last) as usize]
            && to >= first.max(last) as usize
        {
            return piece.plain[usize::from(ink != 0)];
        }
        let mut cost = 0.0;
        let mut before = self.map.ink[self.starts[0] + first as usize];
        for (start, column) in self.starts.iter().zip(&piece.columns) {
            let at = start + *column as usize;
            let ink = self.map.ink[at];
            cost += crossing * edges(ink, before);
            cost += f64::from(self.map.per_inch[at]) * piece.inches;
            before = ink;
        }
        cost
    }
}

/// How many films' ink edges lie between two pixels.
fn edges(a: u32, b: u32) -> f64 {
    f64::from((a ^ b).count_ones())
}

/// The least of `squares` and, up to `n` places of `apart` before and behind, of those there with
/// the square of the places between added.
fn nearest(squares: &[u8], n: usize, apart: usize) -> Vec<u8> {
    let mut out = squares.to_vec();
    for d in 1..=n.min(15) {
        let (shift, square) = (d * apart, (d * d) as u8);
        if shift >= squares.len() {
            break;
        }
        let nearer = |(to, from): (&mut u8, &u8)| *to = (*to).min(from.saturating_add(square));
        out[shift..].iter_mut().zip(squares).for_each(nearer);
        out.iter_mut().zip(&squares[shift..]).for_each(nearer);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::Length;

    #[test]
    fn a_pixel_costs_more_the_nearer_it_lies_to_an_ink_edge() {
        arbtest::arbtest(|u| {
            let (width, height) = (u.int_in_range(1..=14_usize)?, u.int_in_range(1..=14_usize)?);
            let often = u.int_in_range(1..=40_u8)?;
            let mut ink = Vec::new();
            for _ in 0..width * height {
                ink.push(u32::from(u.int_in_range(0..=often)? == 0));
            }
            let reach = Length::inches(f64::from(u.int_in_range(0..=80_u8)?) / 1000.0);
            let weights = SeamWeights { reach, ..SeamWeights::default() };
            let map = CostMap {
                width,
                height,
                along: 0.0,
                across: 0.0,
                ink,
                per_inch: Vec::new(),
                films: 1,
                plain: [0.0; 2],
            };
            let reach_px = reach / RASTER;
            for (at, cost) in map.weigh(&weights).into_iter().enumerate() {
                let away = |other: usize| {
                    let apart = (at / width).abs_diff(other / width).pow(2)
                        + (at % width).abs_diff(other % width).pow(2);
                    (apart as f64).sqrt() - 0.5
                };
                let others = (0..width * height).filter(|other| map.ink[*other] != map.ink[at]);
                let far = others.map(away).filter(|far| *far < reach_px).min_by(f64::total_cmp);
                let near = far.map_or(0.0, |far| 1.0 - far / reach_px);
                let flat = if map.ink[at] == 1 { weights.ink } else { weights.clear };
                assert_eq!(cost, (flat + weights.near * near) as f32);
            }
            Ok(())
        });
    }
}
