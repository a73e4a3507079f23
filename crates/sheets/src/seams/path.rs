//! The best cut with few bends, by dynamic programming along the seam.
//!
//! With f[k][i][x][s] the least cost of a cut from its start to column x of row i that arrives
//! with slope s after k bends,
//! f[k][i][x][s] = step(i, x, s) + min(f[k][i-1][x-s][s], bend + min over t of f[k-1][i-1][x-s][t]),
//! at a cost of rows x columns x slopes x bends. Prior work on least-cost seams through pictures:
//! Efros & Freeman 2001; Avidan & Shamir 2007. Here bends are counted, for the knife's sake.

use super::RASTER;
use super::cost::{CostMap, Piece};
use super::division::Edge;
use super::room::Room;
use super::settings::SeamSettings;

/// The steepest slope, in raster columns from one row to the next.
const STEEP: i32 = 8;
const SLOPES: usize = 2 * STEEP as usize + 1;

/// The least costly cut with at most the settings' bends inside `room`: its nodes, along and
/// across, and its cost.
pub(super) fn best(
    edge: &Edge,
    room: &Room,
    map: &CostMap,
    settings: &SeamSettings,
) -> Option<(Vec<(f64, f64)>, f64)> {
    let table = Table::new(edge, room);
    let nodes = table.search(map, settings)?;
    let points: Vec<(f64, f64)> =
        nodes.into_iter().map(|(row, column)| (table.along(row), table.across(column))).collect();
    let cost = map.cost(&points, &settings.weights);
    Some((points, cost))
}

struct Table<'a> {
    edge: &'a Edge,
    /// Columns left and right of the edge's line.
    left: i32,
    columns: usize,
    /// The columns allowed in each row.
    allowed: Vec<(i32, i32)>,
}

impl<'a> Table<'a> {
    fn new(edge: &'a Edge, room: &Room) -> Self {
        let raster = RASTER.to_inches();
        let column = |(low, high): &(f64, f64)| {
            let low = ((low - edge.at) / raster - 1e-6).ceil().min(0.0) as i32;
            (low, ((high - edge.at) / raster + 1e-6).floor().max(0.0) as i32)
        };
        let mut allowed: Vec<(i32, i32)> = room.rows.iter().map(column).collect();
        // An end that other seams meet stays where it is.
        for (end, free) in [0, allowed.len() - 1].into_iter().zip(edge.free) {
            if !free {
                allowed[end] = (0, 0);
            }
        }
        let left = allowed.iter().map(|a| a.0).min().unwrap_or(0);
        let right = allowed.iter().map(|a| a.1).max().unwrap_or(0);
        Self { edge, left, columns: (right - left + 1) as usize, allowed }
    }

    fn along(&self, row: usize) -> f64 {
        let rows = (self.allowed.len() - 1) as f64;
        self.edge.from + (self.edge.to - self.edge.from) * row as f64 / rows
    }

    fn across(&self, column: i32) -> f64 {
        self.edge.at + f64::from(column) * RASTER.to_inches()
    }

    #[cfg(test)]
    fn allows(&self, row: usize, column: i32) -> bool {
        (self.allowed[row].0..=self.allowed[row].1).contains(&column)
    }

    /// The columns of `row` into which a step of slope `s` leads.
    fn reached(&self, row: usize, s: i32) -> std::ops::Range<i32> {
        let (from, to) = (self.allowed[row - 1], self.allowed[row]);
        to.0.max(from.0 + s)..to.1.min(from.1 + s) + 1
    }

    fn index(&self, column: i32, slope: i32) -> usize {
        (slope + STEEP) as usize * self.columns + (column - self.left) as usize
    }

    /// The nodes of the best cut, as rows and columns.
    fn search(&self, map: &CostMap, settings: &SeamSettings) -> Option<Vec<(usize, i32)>> {
        let weights = &settings.weights;
        let (rows, columns) = (self.allowed.len(), self.columns);
        let layers = settings.bends as usize + 1;
        let size = columns * SLOPES;
        let mut how = How {
            bent: vec![false; rows * layers * size],
            slopes: vec![0; rows * layers * columns],
        };
        let mut before = vec![f64::INFINITY; layers * size];
        // At the start every slope is free.
        for s in -STEEP..=STEEP {
            let at = self.index(self.allowed[0].0, s)..=self.index(self.allowed[0].1, s);
            before[at].fill(0.0);
        }
        let mut next = before.clone();
        let mut turn = vec![f64::INFINITY; layers * columns];
        let mut steps = Steps::new(self, map, weights.crossing);
        for row in 1..rows {
            // The best slope to have come with, for each layer and column, and its bend. At the
            // start nothing is there to bend.
            if row > 1 {
                let slopes = &mut how.slopes[(row - 1) * layers * columns..][..layers * columns];
                for (layer, before) in before.chunks_exact(size).enumerate() {
                    let at = layer * columns..(layer + 1) * columns;
                    least(before, &mut turn[at.clone()], &mut slopes[at]);
                }
                turn.iter_mut().for_each(|cost| *cost += weights.bend);
            }
            let costs = steps.arriving_at(row);
            next.fill(f64::INFINITY);
            for s in -STEEP..=STEEP {
                let reached = self.reached(row, s);
                if reached.is_empty() {
                    continue;
                }
                let count = reached.len();
                let (to, from) = (self.index(reached.start, s), self.index(reached.start - s, s));
                let costs = &costs[to..to + count];
                for layer in 0..layers {
                    let straight = &before[layer * size + from..][..count];
                    let next = &mut next[layer * size + to..][..count];
                    if layer == 0 {
                        for ((next, straight), cost) in next.iter_mut().zip(straight).zip(costs) {
                            *next = straight + cost;
                        }
                        continue;
                    }
                    let turn = &turn[(layer - 1) * columns + from % columns..][..count];
                    let bent = &mut how.bent[(row * layers + layer) * size + to..][..count];
                    for i in 0..count {
                        bent[i] = turn[i] < straight[i];
                        next[i] = if bent[i] { turn[i] } else { straight[i] } + costs[i];
                    }
                }
            }
            std::mem::swap(&mut before, &mut next);
        }
        // Of equals the one with the fewest bends, then the leftmost, then the least slope.
        let mut best = (f64::INFINITY, 0);
        for layer in 0..layers {
            for column in 0..columns {
                for slope in 0..SLOPES {
                    let at = layer * size + slope * columns + column;
                    if before[at] < best.0 {
                        best = (before[at], at);
                    }
                }
            }
        }
        best.0.is_finite().then(|| self.trace(&how, layers, best.1))
    }

    /// Goes back from the best end, noting where the slope changes.
    fn trace(&self, how: &How, layers: usize, end: usize) -> Vec<(usize, i32)> {
        let size = self.columns * SLOPES;
        let (mut layer, mut state) = (end / size, end % size);
        let mut row = self.allowed.len() - 1;
        let column = |state: usize| (state % self.columns) as i32 + self.left;
        let mut out = vec![(row, column(state))];
        while row > 0 {
            let slope = (state / self.columns) as i32 - STEEP;
            let from = column(state) - slope;
            let bent = how.bent[(row * layers + layer) * size + state];
            row -= 1;
            if bent && row > 0 {
                out.push((row, from));
                layer -= 1;
                let at = (row * layers + layer) * self.columns + (from - self.left) as usize;
                state = self.index(from, i32::from(how.slopes[at]) - STEEP);
            } else {
                state = self.index(from, slope);
            }
            if row == 0 {
                out.push((0, from));
            }
        }
        out.reverse();
        out
    }
}

/// How each state was reached.
struct How {
    /// Whether by a bend, for each row, layer, slope and column.
    bent: Vec<bool>,
    /// The number of the best slope to have come with, for each row, layer and column.
    slopes: Vec<u8>,
}

/// The least cost in each column over all slopes, and the first slope that has it.
fn least(costs: &[f64], least: &mut [f64], slopes: &mut [u8]) {
    let columns = least.len();
    least.fill(f64::INFINITY);
    for (slope, costs) in costs.chunks_exact(columns).enumerate() {
        for i in 0..columns {
            slopes[i] = if costs[i] < least[i] { slope as u8 } else { slopes[i] };
            least[i] = least[i].min(costs[i]);
        }
    }
}

/// The costs of all steps into one row after another.
struct Steps<'a> {
    table: &'a Table<'a>,
    map: &'a CostMap,
    crossing: f64,
    /// The pieces between rows of nodes some exact distance apart, by column and slope; rounding
    /// makes a few such distances along one seam.
    pieces: Vec<(f64, Vec<Option<Piece>>)>,
    costs: Vec<f64>,
}

impl<'a> Steps<'a> {
    fn new(table: &'a Table<'a>, map: &'a CostMap, crossing: f64) -> Self {
        let costs = vec![0.0; table.columns * SLOPES];
        Self { table, map, crossing, pieces: Vec::new(), costs }
    }

    /// The cost of each step into `row`, by slope and column.
    fn arriving_at(&mut self, row: usize) -> &[f64] {
        let (table, map) = (self.table, self.map);
        let (a, b) = (table.along(row - 1), table.along(row));
        let ends = |column: i32, s: i32| ((a, table.across(column - s)), (b, table.across(column)));
        let (from, to) = ends(0, 0);
        let rows: Vec<i32> = map.passed(from, to).map(|(row, ..)| row).collect();
        let known = self.pieces.iter().position(|(apart, _)| *apart == b - a);
        let known = known.unwrap_or_else(|| {
            self.pieces.push((b - a, Vec::new()));
            self.pieces.len() - 1
        });
        let pieces = &mut self.pieces[known].1;
        pieces.resize_with(self.costs.len(), || None);
        let strip = map.strip(&rows);
        for s in -STEEP..=STEEP {
            for column in table.reached(row, s) {
                let (from, to) = ends(column, s);
                let at = table.index(column, s);
                if pieces[at].is_none() {
                    pieces[at] = Piece::new(map, from, to, rows.len());
                }
                self.costs[at] = match &pieces[at] {
                    Some(piece) => strip.cost(piece, self.crossing),
                    None => map.piece(from, to, self.crossing).0,
                };
            }
        }
        &self.costs
    }
}

#[cfg(test)]
mod tests {
    use super::super::settings::SeamWeights;
    use super::*;
    use bitmap::Bitmap;

    /// All cuts through a small room, by plain recursion over every column of every row.
    fn by_trying(table: &Table<'_>, map: &CostMap, settings: &SeamSettings) -> f64 {
        fn go(
            t: &Table<'_>,
            map: &CostMap,
            w: &SeamWeights,
            (row, column, slope, bends): (usize, i32, Option<i32>, u32),
        ) -> f64 {
            if row + 1 == t.allowed.len() {
                return 0.0;
            }
            let mut best = f64::MAX;
            for s in -STEEP..=STEEP {
                let bent = slope.is_some_and(|b| b != s);
                if !t.allows(row + 1, column + s) || (bent && bends == 0) {
                    continue;
                }
                let (a, b) = (t.along(row), t.along(row + 1));
                let (from, to) = ((a, t.across(column)), (b, t.across(column + s)));
                let (step, ..) = map.piece(from, to, w.crossing);
                let left = if bent { bends - 1 } else { bends };
                let rest = go(t, map, w, (row + 1, column + s, Some(s), left));
                best = best.min(step + rest + if bent { w.bend } else { 0.0 });
            }
            best
        }
        let starts = table.allowed[0].0..=table.allowed[0].1;
        let start = |c| go(table, map, &settings.weights, (0, c, None, settings.bends));
        starts.map(start).fold(f64::MAX, f64::min)
    }

    /// A seam's edge and room, and the seed of the ink around it.
    fn any_room(
        u: &mut arbtest::arbitrary::Unstructured<'_>,
    ) -> Result<(Edge, Room, u32), arbtest::arbitrary::Error> {
        let rows = u.int_in_range(1..=5_usize)?;
        let to = rows as f64 * 0.1;
        let free = [u.arbitrary()?, u.arbitrary()?];
        let edge = Edge { vertical: u.arbitrary()?, at: 0.0, from: 0.0, to, low: 0, high: 1, free };
        let mut room = Room { rows: Vec::new() };
        for _ in 0..=rows {
            let side = |v: u8| f64::from(v) * 0.01;
            room.rows.push((-side(u.int_in_range(0..=4)?), side(u.int_in_range(0..=4)?)));
        }
        Ok((edge, room, u.arbitrary()?))
    }

    /// Blocks of ink without any regularity, `size` times as big as the least.
    fn blocks(seed: u32, size: u32) -> impl Fn(measure::Rect, measure::Length) -> Bitmap + Sync {
        move |rect, step| {
            let px = |l: measure::Length| (l / step).round().max(1.0) as u32;
            Bitmap::from_fn(px(rect.size.width), px(rect.size.height), |x, y| {
                let block = (x / (3 * size)) ^ (y / (4 * size));
                block.wrapping_mul(0x9E37_79B9).wrapping_add(seed) >> 13 & 1 == 1
            })
        }
    }

    #[test]
    fn steps_cost_to_the_last_bit_what_their_pieces_cost() {
        arbtest::arbtest(|u| {
            let (mut edge, room, seed) = any_room(u)?;
            let off = f64::from(u.arbitrary::<u16>()?) / 1000.0;
            (edge.from, edge.to) = (edge.from + off, edge.to + off);
            let size = u.int_in_range(1..=12)?;
            let weights = SeamWeights::default();
            let map = CostMap::of(&edge, &room, &weights, &[&blocks(seed, size)]);
            let table = Table::new(&edge, &room);
            let mut steps = Steps::new(&table, &map, weights.crossing);
            for row in 1..table.allowed.len() {
                let (a, b) = (table.along(row - 1), table.along(row));
                let costs = steps.arriving_at(row);
                for s in -STEEP..=STEEP {
                    for column in table.reached(row, s) {
                        assert!(table.allows(row - 1, column - s) && table.allows(row, column));
                        let ends = ((a, table.across(column - s)), (b, table.across(column)));
                        let (cost, ..) = map.piece(ends.0, ends.1, weights.crossing);
                        assert_eq!(costs[table.index(column, s)], cost);
                    }
                }
            }
            let across: Vec<f64> = (-3..=3).map(|column| table.across(column)).collect();
            let straight = map.straight((edge.from, edge.to), &across, weights.crossing);
            for (at, cost) in across.into_iter().zip(straight) {
                assert_eq!(cost, map.cost(&[(edge.from, at), (edge.to, at)], &weights));
            }
            Ok(())
        });
    }

    #[test]
    fn the_programme_finds_what_trying_all_cuts_finds() {
        arbtest::arbtest(|u| {
            let (edge, room, seed) = any_room(u)?;
            let ink = blocks(seed, 1);
            let settings =
                SeamSettings { bends: u.int_in_range(0..=3)?, ..SeamSettings::default() };
            let map = CostMap::of(&edge, &room, &settings.weights, &[&ink]);
            let table = Table::new(&edge, &room);
            let nodes = table.search(&map, &settings).unwrap();
            assert!(nodes.len() as u32 <= settings.bends + 2);
            // The cost of the nodes found, step by step as the programme counts it.
            let mut cost = (nodes.len() - 2) as f64 * settings.weights.bend;
            for pair in nodes.windows(2) {
                let n = (pair[1].0 - pair[0].0) as i32;
                let slope = (pair[1].1 - pair[0].1) / n;
                for i in 0..n {
                    let node = |i: i32| {
                        let row = pair[0].0 + i as usize;
                        assert!(table.allows(row, pair[0].1 + slope * i));
                        (table.along(row), table.across(pair[0].1 + slope * i))
                    };
                    cost += map.piece(node(i), node(i + 1), settings.weights.crossing).0;
                }
            }
            let least = by_trying(&table, &map, &settings);
            assert!((cost - least).abs() < 1e-9, "{cost} against {least}");
            Ok(())
        });
    }
}
