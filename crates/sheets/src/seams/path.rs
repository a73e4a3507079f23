//! The best cut with few bends, by dynamic programming along the seam.
//!
//! With f[k][i][x][s] the least cost of a cut from its start to column x of row i that arrives
//! with slope s after k bends,
//! f[k][i][x][s] = step(i, x, s) + min(f[k][i-1][x-s][s], bend + min over t of f[k-1][i-1][x-s][t]),
//! at a cost of rows x columns x slopes x bends. Prior work on least-cost seams through pictures:
//! Efros & Freeman 2001; Avidan & Shamir 2007. Here bends are counted, for the knife's sake.

use super::RASTER;
use super::cost::CostMap;
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

    fn allows(&self, row: usize, column: i32) -> bool {
        (self.allowed[row].0..=self.allowed[row].1).contains(&column)
    }

    /// The cost of each step into `row`, by column and slope.
    fn steps(&self, row: usize, map: &CostMap, crossing: f64) -> Vec<f64> {
        let mut out = vec![f64::MAX; self.columns * SLOPES];
        let (a, b) = (self.along(row - 1), self.along(row));
        for column in self.allowed[row].0..=self.allowed[row].1 {
            for s in -STEEP..=STEEP {
                if self.allows(row - 1, column - s) {
                    let from = (a, self.across(column - s));
                    let (cost, ..) = map.piece(from, (b, self.across(column)), crossing);
                    out[self.index(column, s)] = cost;
                }
            }
        }
        out
    }

    fn index(&self, column: i32, slope: i32) -> usize {
        (column - self.left) as usize * SLOPES + (slope + STEEP) as usize
    }

    /// The nodes of the best cut, as rows and columns.
    fn search(&self, map: &CostMap, settings: &SeamSettings) -> Option<Vec<(usize, i32)>> {
        let weights = &settings.weights;
        let rows = self.allowed.len();
        let layers = settings.bends as usize + 1;
        let size = self.columns * SLOPES;
        // How each state was reached: 0 straight on, else one more than the slope before.
        let mut how = vec![0_u8; rows * layers * size];
        let mut before = vec![f64::MAX; layers * size];
        // At the start every slope is free.
        for column in self.allowed[0].0..=self.allowed[0].1 {
            let at = self.index(column, -STEEP);
            before[at..at + SLOPES].fill(0.0);
        }
        for row in 1..rows {
            let steps = self.steps(row, map, weights.crossing);
            let mut next = vec![f64::MAX; layers * size];
            // The best slope to have come with, for each layer and column.
            let turn: Vec<(f64, usize)> = before
                .chunks_exact(SLOPES)
                .map(|slopes| {
                    let best = (0..SLOPES).min_by(|a, b| slopes[*a].total_cmp(&slopes[*b]));
                    best.map_or((f64::MAX, 0), |s| (slopes[s], s))
                })
                .collect();
            for layer in 0..layers {
                for column in self.allowed[row].0..=self.allowed[row].1 {
                    for s in -STEEP..=STEEP {
                        let at = self.index(column, s);
                        if steps[at] == f64::MAX {
                            continue;
                        }
                        let from = self.index(column - s, s);
                        let mut best = (before[layer * size + from], 0);
                        if layer > 0 && row > 1 {
                            let (cost, slope) = turn[(layer - 1) * self.columns + from / SLOPES];
                            if cost < f64::MAX && cost + weights.bend < best.0 {
                                best = (cost + weights.bend, slope as u8 + 1);
                            }
                        }
                        if best.0 < f64::MAX {
                            next[layer * size + at] = best.0 + steps[at];
                            how[(row * layers + layer) * size + at] = best.1;
                        }
                    }
                }
            }
            before = next;
        }
        let best = (0..before.len()).min_by(|a, b| before[*a].total_cmp(&before[*b]))?;
        if before[best] == f64::MAX {
            return None;
        }
        Some(self.trace(&how, layers, best))
    }

    /// Goes back from the best end, noting where the slope changes.
    fn trace(&self, how: &[u8], layers: usize, end: usize) -> Vec<(usize, i32)> {
        let size = self.columns * SLOPES;
        let (mut layer, mut state) = (end / size, end % size);
        let mut row = self.allowed.len() - 1;
        let column = |state: usize| (state / SLOPES) as i32 + self.left;
        let mut out = vec![(row, column(state))];
        while row > 0 {
            let slope = (state % SLOPES) as i32 - STEEP;
            let from = column(state) - slope;
            let came = how[(row * layers + layer) * size + state];
            row -= 1;
            if came > 0 && row > 0 {
                out.push((row, from));
                layer -= 1;
                state = self.index(from, i32::from(came) - 1 - STEEP);
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

    #[test]
    fn the_programme_finds_what_trying_all_cuts_finds() {
        arbtest::arbtest(|u| {
            let rows = u.int_in_range(1..=5_usize)?;
            let to = rows as f64 * 0.1;
            let free = [u.arbitrary()?, u.arbitrary()?];
            let edge =
                Edge { vertical: u.arbitrary()?, at: 0.0, from: 0.0, to, low: 0, high: 1, free };
            let mut room = Room { rows: Vec::new() };
            for _ in 0..=rows {
                let side = |v: u8| f64::from(v) * 0.01;
                room.rows.push((-side(u.int_in_range(0..=4)?), side(u.int_in_range(0..=4)?)));
            }
            let seed: u32 = u.arbitrary()?;
            let ink = |rect: measure::Rect, step: measure::Length| {
                let px = |l: measure::Length| (l / step).round().max(1.0) as u32;
                Bitmap::from_fn(px(rect.size.width), px(rect.size.height), |x, y| {
                    ((x / 3) ^ (y / 4)).wrapping_mul(0x9E37_79B9).wrapping_add(seed) >> 13 & 1 == 1
                })
            };
            let settings =
                SeamSettings { bends: u.int_in_range(0..=3)?, ..SeamSettings::default() };
            let map = CostMap::of(&edge, &room, &settings.weights, &ink);
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
