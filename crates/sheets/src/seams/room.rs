//! The room in which a seam may bend: nearer to its own line than to any other, over film that
//! both sheets hold.

use super::RASTER;
use super::division::{CLOSE_TO, Division, Edge, across_at};
use super::settings::SeamSettings;

/// How far from its line a seam may go, in inches.
const FAR: f64 = 1.0;
/// The distance between the places along a seam where it may bend, in inches.
const STEP: f64 = 0.1;

/// The room of one edge: how far across a cut may be at equal distances along it.
#[derive(Clone, Debug)]
pub(super) struct Room {
    /// Least and most across, in inches, at each place along from the first to the last.
    pub(super) rows: Vec<(f64, f64)>,
}

pub(super) fn rooms(division: &Division, edges: &[Edge], settings: &SeamSettings) -> Vec<Room> {
    let one = |(i, edge): (usize, &Edge)| {
        let n = ((edge.to - edge.from) / STEP).round().max(1.0) as usize;
        let rows = (0..=n).map(|row| {
            let along = edge.from + (edge.to - edge.from) * row as f64 / n as f64;
            let side =
                |sign: f64| edge.at + sign * reach(division, edges, i, along, sign, settings);
            (side(-1.0), side(1.0))
        });
        Room { rows: rows.collect() }
    };
    edges.iter().enumerate().map(one).collect()
}

/// How far a cut may go to one side of edge `i` at `along`.
fn reach(
    division: &Division,
    edges: &[Edge],
    i: usize,
    along: f64,
    sign: f64,
    settings: &SeamSettings,
) -> f64 {
    let edge = &edges[i];
    let sliver = settings.sliver.to_inches();
    let k = usize::from(!edge.vertical);
    // To the low side the cut stays on the high sheet, and the other way round.
    let mut most = if sign < 0.0 {
        edge.at - (division.sheets[edge.high][k] + sliver)
    } else {
        division.sheets[edge.low][k + 2] - sliver - edge.at
    };
    most = most.clamp(0.0, FAR);
    for (_, other) in edges.iter().enumerate().filter(|(j, _)| *j != i) {
        most = most.min(nearer(edge, other, along, sign));
    }
    // The outside of the sheet that gives way is no place to go to either.
    let owner = if sign < 0.0 { edge.low } else { edge.high };
    let raster = RASTER.to_inches();
    let mut reach = 0.0;
    // The middle of the row decides at its ends.
    let inside = along.clamp(edge.from + CLOSE_TO, edge.to - CLOSE_TO);
    while reach + raster <= most {
        let p = edge.point((inside, edge.at + sign * (reach + raster)));
        if division.owner(p) != Some(owner) {
            break;
        }
        reach += raster;
    }
    reach
}

/// How far one may go from `edge` at `along` and still be nearer to it than to `other`, the
/// distance being the greater of that along and that across.
fn nearer(edge: &Edge, other: &Edge, along: f64, sign: f64) -> f64 {
    if edge.vertical == other.vertical {
        let beside = (other.from - along).max(along - other.to);
        let apart = sign * (other.at - edge.at);
        // Where the two run side by side they meet half way.
        return if beside > 0.0 || apart <= 0.0 { f64::MAX } else { apart / 2.0 };
    }
    // A crosswise edge lies `line` away along, and across it begins and ends at `from` and `to`.
    let line = (along - other.at).abs();
    let (from, to) = (other.from - edge.at, other.to - edge.at);
    let (from, to) = if sign > 0.0 { (from, to) } else { (-to, -from) };
    if to <= CLOSE_TO { f64::MAX } else { line.max(from / 2.0) }
}

impl Room {
    /// The least and most across at `along`.
    pub(super) fn at(&self, edge: &Edge, along: f64) -> (f64, f64) {
        let n = (self.rows.len() - 1) as f64;
        let row = ((along - edge.from) / (edge.to - edge.from) * n).clamp(0.0, n);
        let (a, b) = (self.rows[row.floor() as usize], self.rows[row.ceil() as usize]);
        let t = row.fract();
        (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t)
    }

    /// The widest across that any row allows.
    pub(super) fn extent(&self) -> (f64, f64) {
        self.rows.iter().fold((f64::MAX, f64::MIN), |(l, h), r| (l.min(r.0), h.max(r.1)))
    }

    /// A cut through `points`, sorted, inside the room, and from end to end.
    pub(super) fn draw_in(&self, edge: &Edge, mut points: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
        points.retain(|p| p.0 >= edge.from && p.0 <= edge.to);
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        points.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-9);
        let end = |along: f64, free: bool| {
            if free && !points.is_empty() { across_at(&points, along) } else { edge.at }
        };
        let ends =
            [(edge.from, end(edge.from, edge.free[0])), (edge.to, end(edge.to, edge.free[1]))];
        points.retain(|p| p.0 > edge.from + 1e-9 && p.0 < edge.to - 1e-9);
        points.insert(0, ends[0]);
        points.push(ends[1]);
        // Between two points inside, the room may still be narrower than the straight line: it
        // is followed row by row where it is.
        let n = self.rows.len() - 1;
        let mut out: Vec<((f64, f64), bool)> = Vec::new();
        let wish = points.clone();
        let rows = (0..=n).map(|i| edge.from + (edge.to - edge.from) * i as f64 / n as f64);
        let mut all: Vec<f64> = rows.chain(points.iter().map(|p| p.0)).collect();
        all.sort_by(f64::total_cmp);
        all.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        for along in all {
            let (low, high) = self.at(edge, along);
            let across = across_at(&wish, along);
            let inside = across.clamp(low, high.max(low));
            let is_node = points.iter().any(|p| (p.0 - along).abs() < 1e-9);
            if is_node || (inside - across).abs() > 1e-9 {
                out.push(((along, inside), is_node));
            }
        }
        // Where the room's side is straight, its ends tell all of it.
        let mut kept: Vec<(f64, f64)> = Vec::new();
        for (i, &(p, is_node)) in out.iter().enumerate() {
            let on_line = match (kept.last(), out.get(i + 1)) {
                (Some(before), Some((next, _))) => {
                    (across_at(&[*before, *next], p.0) - p.1).abs() < 1e-9
                }
                _ => false,
            };
            if is_node || !on_line {
                kept.push(p);
            }
        }
        kept
    }
}
