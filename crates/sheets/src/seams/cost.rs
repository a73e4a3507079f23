//! What a cut costs where, and what it crosses.

use super::division::Edge;
use super::room::Room;
use super::settings::SeamWeights;
use super::{InkWindow, RASTER};
use measure::Rect;

/// The film's ink and the cost of cutting there, around one edge, on the raster; rows along the
/// edge, columns across.
pub(super) struct CostMap {
    width: usize,
    height: usize,
    /// Where the first row and column begin, in inches.
    along: f64,
    across: f64,
    ink: Vec<bool>,
    per_inch: Vec<f32>,
}

/// Places kept around a room, so that ink edges just outside are felt.
const BORDER: f64 = 0.1;

impl CostMap {
    pub(super) fn of(edge: &Edge, room: &Room, weights: &SeamWeights, ink: &InkWindow<'_>) -> Self {
        let raster = RASTER.to_inches();
        let (low, high) = room.extent();
        let snap = |v: f64| (v / raster).floor() * raster;
        let (along, across) = (snap(edge.from - BORDER), snap(low.min(edge.at) - BORDER));
        let ends = (edge.to + BORDER, high.max(edge.at) + BORDER);
        let rect = Rect::between(edge.point((along, across)), edge.point(ends));
        let window = ink(rect, RASTER);
        let (w, h) = (window.width(), window.height());
        let (width, height) = if edge.vertical { (w, h) } else { (h, w) };
        let (width, height) = (width as usize, height as usize);
        let mut cells = Vec::with_capacity(width * height);
        for row in 0..height as u32 {
            for column in 0..width as u32 {
                let (x, y) = if edge.vertical { (column, row) } else { (row, column) };
                cells.push(window.get(x, y));
            }
        }
        let mut out = Self { width, height, along, across, ink: cells, per_inch: Vec::new() };
        out.per_inch = out.weigh(weights);
        out
    }

    /// The cost of an inch of cut through each pixel.
    fn weigh(&self, weights: &SeamWeights) -> Vec<f32> {
        let raster = RASTER.to_inches();
        let reach_px = weights.reach.to_inches() / raster;
        let n = reach_px.ceil() as i32;
        // Steps to pixels within reach, the nearest first. An edge lies half a pixel nearer
        // than the pixel behind it.
        let mut steps: Vec<(f64, i32, i32)> = Vec::new();
        for dy in -n..=n {
            for dx in -n..=n {
                let far = f64::from(dx * dx + dy * dy).sqrt() - 0.5;
                if (dx, dy) != (0, 0) && far < reach_px {
                    steps.push((far, dx, dy));
                }
            }
        }
        steps.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
        let mixed = self.mixed(n as usize);
        let mut out = Vec::with_capacity(self.ink.len());
        for row in 0..self.height {
            for column in 0..self.width {
                let at = row * self.width + column;
                let here = self.ink[at];
                let mut near = 0.0;
                if mixed[at] {
                    let other = |(_, dx, dy): &&(f64, i32, i32)| {
                        self.at(row as i32 + dy, column as i32 + dx) != here
                    };
                    near = steps.iter().find(other).map_or(0.0, |(far, ..)| 1.0 - far / reach_px);
                }
                let flat = if here { weights.ink } else { weights.clear };
                out.push((flat + weights.near * near) as f32);
            }
        }
        out
    }

    /// Whether the square of `n` pixels around each pixel holds both ink and none: elsewhere
    /// there is no ink edge to look for.
    fn mixed(&self, n: usize) -> Vec<bool> {
        let stride = self.width + 1;
        let mut sums = vec![0_u32; stride * (self.height + 1)];
        for row in 0..self.height {
            let mut run = 0;
            for column in 0..self.width {
                run += u32::from(self.ink[row * self.width + column]);
                sums[(row + 1) * stride + column + 1] = sums[row * stride + column + 1] + run;
            }
        }
        let mut out = Vec::with_capacity(self.ink.len());
        for row in 0..self.height {
            let (top, bottom) = (row.saturating_sub(n), (row + n + 1).min(self.height));
            for column in 0..self.width {
                let (left, right) = (column.saturating_sub(n), (column + n + 1).min(self.width));
                let corner = |y: usize, x: usize| sums[y * stride + x];
                let inked = corner(bottom, right) + corner(top, left)
                    - corner(top, right)
                    - corner(bottom, left);
                let all = ((bottom - top) * (right - left)) as u32;
                out.push(inked != 0 && inked != all);
            }
        }
        out
    }

    /// Whether a pixel is ink; outside the map it is as at its border.
    fn at(&self, row: i32, column: i32) -> bool {
        if self.ink.is_empty() {
            return false;
        }
        let row = row.clamp(0, self.height as i32 - 1) as usize;
        let column = column.clamp(0, self.width as i32 - 1) as usize;
        self.ink[row * self.width + column]
    }

    /// The pixels that the straight line between two places passes, with the inches in each.
    fn passed(
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

    /// The cost of a straight piece, and whether its first and last pixel are ink.
    pub(super) fn piece(&self, a: (f64, f64), b: (f64, f64), crossing: f64) -> (f64, bool, bool) {
        let (mut cost, mut first, mut last) = (0.0, None, false);
        for (row, column, inches) in self.passed(a, b) {
            let ink = self.at(row, column);
            if first.is_some() && ink != last {
                cost += crossing;
            }
            first.get_or_insert(ink);
            last = ink;
            let row = row.clamp(0, self.height.max(1) as i32 - 1) as usize;
            let column = column.clamp(0, self.width.max(1) as i32 - 1) as usize;
            let per_inch = self.per_inch.get(row * self.width + column).copied().unwrap_or(0.0);
            cost += f64::from(per_inch) * inches;
        }
        (cost, first.unwrap_or(false), last)
    }

    /// The cost of a cut with its bends.
    pub(super) fn cost(&self, points: &[(f64, f64)], weights: &SeamWeights) -> f64 {
        let mut cost = points.len().saturating_sub(2) as f64 * weights.bend;
        let mut before = None;
        for pair in points.windows(2) {
            let (piece, first, last) = self.piece(pair[0], pair[1], weights.crossing);
            cost += piece;
            if before.is_some_and(|b| b != first) {
                cost += weights.crossing;
            }
            before = Some(last);
        }
        cost
    }

    /// The places where a cut crosses an ink edge: row, column, and the cut's direction there.
    pub(super) fn crossings(&self, points: &[(f64, f64)]) -> Vec<(i32, i32, (f64, f64))> {
        let mut out = Vec::new();
        let mut before = None;
        for pair in points.windows(2) {
            let (da, dc) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
            let long = da.hypot(dc).max(1e-12);
            for (row, column, _) in self.passed(pair[0], pair[1]) {
                let ink = self.at(row, column);
                if before.is_some_and(|b| b != ink) {
                    out.push((row, column, (da / long, dc / long)));
                }
                before = Some(ink);
            }
        }
        out
    }

    /// The direction in which ink grows at a pixel, along and across; nought where none does.
    pub(super) fn slope(&self, row: i32, column: i32) -> (f64, f64) {
        let (mut along, mut across) = (0, 0);
        for dy in -3..=3 {
            for dx in -3..=3 {
                if self.at(row + dy, column + dx) {
                    along += dy;
                    across += dx;
                }
            }
        }
        (f64::from(along), f64::from(across))
    }
}
