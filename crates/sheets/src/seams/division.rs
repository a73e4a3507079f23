//! The film divided among its sheets by straight lines.

use measure::{Length, Point, Rect};

/// The most an edge may lie beside a line and still count as on it, in inches.
const CLOSE: f64 = 1e-6;
/// A step off a line that surely lies beside it, in inches.
pub(super) const CLOSE_TO: f64 = 1e-5;

/// A sheet in inches: left, top, right, bottom.
pub(super) type Sides = [f64; 4];

/// The film divided among its sheets. A sheet's *core* is what lies at least half an overlap
/// inside; a place belongs to the first sheet in whose core it lies, and where it lies in none,
/// to the sheet furthest inside which it lies.
#[derive(Clone, Debug)]
pub(super) struct Division {
    pub(super) sheets: Vec<Sides>,
    /// The cores, whose sides may be moved.
    pub(super) cores: Vec<Sides>,
    xs: Vec<f64>,
    ys: Vec<f64>,
    /// The owner of each box between the lines `xs` and `ys`, row by row.
    owners: Vec<Option<usize>>,
}

/// A stretch of a line between two sheets, in inches. `along` runs down a vertical edge and
/// right along a horizontal one; `across` is the other way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Edge {
    pub(super) vertical: bool,
    /// The line's place across.
    pub(super) at: f64,
    pub(super) from: f64,
    pub(super) to: f64,
    /// The sheet left of it or above.
    pub(super) low: usize,
    /// The sheet right of it or below.
    pub(super) high: usize,
    /// Whether no other edge begins where it starts, or where it ends.
    pub(super) free: [bool; 2],
}

impl Division {
    pub(super) fn new(sheets: &[Rect], overlap: Length) -> Self {
        let sides = |r: &Rect| [r.left(), r.top(), r.right(), r.bottom()].map(Length::to_inches);
        let sheets: Vec<Sides> = sheets.iter().map(sides).collect();
        let all = sheets
            .iter()
            .copied()
            .reduce(|a, b| [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]);
        let all = all.unwrap_or_default();
        let half = overlap.to_inches() / 2.0;
        // At the film's outside nothing is handed over.
        let core = |s: &Sides| {
            std::array::from_fn(|k| {
                let inward = if k < 2 { half } else { -half };
                if (s[k] - all[k]).abs() < CLOSE { s[k] } else { s[k] + inward }
            })
        };
        let cores = sheets.iter().map(core).collect();
        let mut out = Self { sheets, cores, xs: Vec::new(), ys: Vec::new(), owners: Vec::new() };
        out.divide();
        out
    }

    /// Divides anew, after cores were changed.
    pub(super) fn divide(&mut self) {
        let lines = |k: usize| {
            let sides = self.sheets.iter().chain(&self.cores);
            let mut at: Vec<f64> = sides.flat_map(|s| [s[k], s[k + 2]]).collect();
            at.sort_by(f64::total_cmp);
            at.dedup_by(|a, b| (*a - *b).abs() < CLOSE);
            at
        };
        (self.xs, self.ys) = (lines(0), lines(1));
        let middle = |pair: &[f64]| (pair[0] + pair[1]) / 2.0;
        let mut owners = Vec::new();
        for y in self.ys.windows(2).map(middle) {
            owners.extend(self.xs.windows(2).map(middle).map(|x| self.belongs(x, y)));
        }
        self.owners = owners;
    }

    fn belongs(&self, x: f64, y: f64) -> Option<usize> {
        let inside = |s: &Sides| (x - s[0]).min(s[2] - x).min(y - s[1]).min(s[3] - y);
        self.cores.iter().position(|core| inside(core) > 0.0).or_else(|| {
            let deepest = (0..self.sheets.len()).map(|i| (i, inside(&self.sheets[i])));
            let deepest = deepest.filter(|(_, d)| *d > 0.0);
            deepest.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0))).map(|(i, _)| i)
        })
    }

    /// The owner of a place.
    pub(super) fn owner(&self, p: Point) -> Option<usize> {
        let index = |at: &[f64], v: f64| at.partition_point(|a| *a <= v).checked_sub(1);
        let (x, y) = (index(&self.xs, p.x.to_inches())?, index(&self.ys, p.y.to_inches())?);
        self.box_owner(x, y)
    }

    fn box_owner(&self, x: usize, y: usize) -> Option<usize> {
        let across = self.xs.len().saturating_sub(1);
        if x >= across { None } else { self.owners.get(y * across + x).copied().flatten() }
    }

    /// The stretches of lines between two sheets.
    pub(super) fn edges(&self) -> Vec<Edge> {
        let mut out = Vec::new();
        for vertical in [true, false] {
            let (across, along) =
                if vertical { (&self.xs, &self.ys) } else { (&self.ys, &self.xs) };
            let owner = |across: usize, along: usize| {
                if vertical { self.box_owner(across, along) } else { self.box_owner(along, across) }
            };
            for (i, at) in across.iter().enumerate().skip(1) {
                let mut open: Option<Edge> = None;
                for j in 0..along.len() - 1 {
                    let sides = (owner(i - 1, j), owner(i, j));
                    let (Some(low), Some(high)) = sides else {
                        out.extend(open.take());
                        continue;
                    };
                    match &mut open {
                        Some(edge) if (edge.low, edge.high) == (low, high) => {
                            edge.to = along[j + 1]
                        }
                        _ => {
                            out.extend(open.take());
                            open = (low != high).then_some(Edge {
                                vertical,
                                at: *at,
                                from: along[j],
                                to: along[j + 1],
                                low,
                                high,
                                free: [true; 2],
                            });
                        }
                    }
                }
                out.extend(open.take());
            }
        }
        let all = out.clone();
        for (i, edge) in out.iter_mut().enumerate() {
            for (end, along) in [edge.from, edge.to].into_iter().enumerate() {
                let (p, mine) = ((edge.at, along), edge.vertical);
                let touches = |o: &Edge| {
                    let (across, along) = if o.vertical == mine { p } else { (p.1, p.0) };
                    (across - o.at).abs() < CLOSE && along > o.from - CLOSE && along < o.to + CLOSE
                };
                edge.free[end] = !all.iter().enumerate().any(|(j, o)| j != i && touches(o));
            }
        }
        out
    }
}

impl Edge {
    /// A place as distances along and across, in inches.
    pub(super) fn local(&self, p: Point) -> (f64, f64) {
        let (x, y) = (p.x.to_inches(), p.y.to_inches());
        if self.vertical { (y, x) } else { (x, y) }
    }

    /// The place at distances along and across.
    pub(super) fn point(&self, (along, across): (f64, f64)) -> Point {
        let (x, y) = if self.vertical { (across, along) } else { (along, across) };
        Point::new(Length::inches(x), Length::inches(y))
    }
}

/// How far across a path is at `along`; it goes straight on past its ends.
pub(super) fn across_at(path: &[(f64, f64)], along: f64) -> f64 {
    let Some(first) = path.first() else { return 0.0 };
    let after = path.partition_point(|p| p.0 <= along);
    match (after.checked_sub(1).and_then(|i| path.get(i)), path.get(after)) {
        (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (along - a.0) / (b.0 - a.0).max(1e-12),
        (Some(a), None) => a.1,
        (None, _) => first.1,
    }
}
