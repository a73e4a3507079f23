use crate::Damage;
use crate::image::distance;
use crate::tiling::{Columns, Film, PARTS, Swap, Tiling};
use std::collections::BTreeMap;

/// Takes out the pieces too small to be meant, and gives each to what lies about it.
/// Returns each ink's share of the whole afterwards.
pub(crate) fn clean(tiling: &mut Tiling, damage: Damage, inks: &[[f32; 3]]) -> Vec<f64> {
    let mut pieces = Pieces::of(tiling);
    // A piece taken out may leave its neighbour as a speck; few pictures need a third pass.
    for _ in 0..4 {
        let specks = pieces.specks(damage, inks);
        if specks.is_empty() {
            break;
        }
        pieces.swap(&specks, tiling);
        pieces = Pieces::of(tiling);
    }
    pieces.shares(inks.len())
}

/// A stretch of one ink in a row, at 8 rows and columns a source pixel.
#[derive(Clone, Copy)]
struct Run {
    from: u32,
    to: u32,
    y: u32,
    ink: u8,
}

/// The joined pieces of a tiling, sides and corners, as runs.
struct Pieces {
    width: u32,
    runs: Vec<Run>,
    /// Where each row begins in `runs`; one more entry than rows.
    rows: Vec<usize>,
    /// The run that stands for each run's piece.
    roots: Vec<u32>,
}

/// A piece's size and surroundings.
#[derive(Clone, Copy, Default)]
struct Piece {
    /// Area, 64 to a source pixel.
    area: u64,
    /// The inks that touch it.
    rim: u32,
}

impl Pieces {
    fn of(tiling: &Tiling) -> Self {
        let (width, height) = (tiling.width() as u32 * PARTS, tiling.height() as u32 * PARTS);
        let columns = Columns::new(tiling.width(), width);
        let film = Film::new(tiling, &columns, height);
        let mut runs: Vec<Run> = Vec::new();
        let mut rows = vec![0];
        for y in 0..height {
            let first = runs.len();
            film.row(y, 0, width, None, |from, to, ink| match runs[first..].last_mut() {
                Some(last) if last.ink == ink => last.to = to,
                _ => runs.push(Run { from, to, y, ink }),
            });
            rows.push(runs.len());
        }
        let mut pieces = Self { width, roots: (0..runs.len() as u32).collect(), runs, rows };
        pieces.neighbours(|roots, runs, a, b| {
            if runs[a].ink == runs[b].ink {
                let (a, b) = (root(roots, a), root(roots, b));
                // The earlier run stands for both, whatever the order of joining.
                let (low, high) = (a.min(b), a.max(b));
                roots[high] = low as u32;
            }
        });
        for i in 0..pieces.roots.len() {
            pieces.roots[i] = root(&mut pieces.roots, i) as u32;
        }
        pieces
    }

    /// Calls `meet` for every two runs that touch in neighbouring rows, corners included.
    fn neighbours(&mut self, mut meet: impl FnMut(&mut [u32], &[Run], usize, usize)) {
        for y in 1..self.rows.len() - 1 {
            let (mut a, end) = (self.rows[y - 1], self.rows[y]);
            for b in self.rows[y]..self.rows[y + 1] {
                while self.runs[a].to < self.runs[b].from {
                    a += 1;
                }
                for above in (a..end).take_while(|above| self.runs[*above].from <= self.runs[b].to)
                {
                    meet(&mut self.roots, &self.runs, above, b);
                }
            }
        }
    }

    /// Each piece's size and rim, by the run that stands for it.
    fn measure(&mut self) -> BTreeMap<u32, Piece> {
        let mut pieces: BTreeMap<u32, Piece> = BTreeMap::new();
        for (run, root) in self.runs.iter().zip(&self.roots) {
            pieces.entry(*root).or_default().area += u64::from(run.to - run.from);
        }
        let mut touch = |roots: &[u32], runs: &[Run], a: usize, b: usize| {
            if runs[a].ink != runs[b].ink {
                pieces.entry(roots[a]).or_default().rim |= 1 << runs[b].ink;
                pieces.entry(roots[b]).or_default().rim |= 1 << runs[a].ink;
            }
        };
        for i in 1..self.runs.len() {
            if self.runs[i - 1].y == self.runs[i].y {
                touch(&self.roots, &self.runs, i - 1, i);
            }
        }
        self.neighbours(|roots, runs, a, b| touch(roots, runs, a, b));
        pieces
    }

    /// The pieces too small to be meant, and the inks about each.
    fn specks(&mut self, damage: Damage, inks: &[[f32; 3]]) -> BTreeMap<u32, u32> {
        let (always, faint, reach) = match damage {
            Damage::Clean => (0.15, 1.0, 10.0),
            Damage::Noisy(_) => (0.6, 4.0, 40.0),
            Damage::Jpeg => (0.8, 8.0, 50.0_f32),
        };
        // Where two other inks meet, their mix can look like a third.
        const BETWEEN: f32 = 1.2;
        let pieces = self.measure();
        let too_small = |root: u32, piece: &Piece| {
            let area = piece.area as f32 / (PARTS * PARTS) as f32;
            let ink = self.runs[root as usize].ink as usize;
            let rim = (0..inks.len()).filter(|k| piece.rim >> k & 1 == 1);
            let contrast = rim.map(|k| distance(inks[k], inks[ink])).fold(f32::MAX, f32::min);
            area < always
                || (piece.rim.count_ones() >= 2 && area < BETWEEN)
                || area < (reach / contrast.max(1e-3)).powi(2).min(faint)
        };
        let small =
            pieces.iter().filter(|(root, piece)| piece.rim != 0 && too_small(**root, piece));
        small.map(|(root, piece)| (*root, piece.rim)).collect()
    }

    /// Has the tiling give these pieces to what lies about them.
    fn swap(&self, specks: &BTreeMap<u32, u32>, tiling: &mut Tiling) {
        let height = self.rows.len() as u32 - 1;
        let mut swaps: BTreeMap<(u32, u8, u32), u64> = BTreeMap::new();
        for (run, root) in self.runs.iter().zip(&self.roots) {
            let Some(rim) = specks.get(root) else { continue };
            // One part further on every side, since a film samples between our samples. No
            // other piece of this ink is there, or it would be joined to this one.
            for y in run.y.saturating_sub(1)..(run.y + 2).min(height) {
                for x in run.from.saturating_sub(1)..(run.to + 1).min(self.width) {
                    let (x, y) = (x + PARTS / 2, y + PARTS / 2);
                    let cell = y / PARTS * (tiling.width() as u32 + 1) + x / PARTS;
                    let part = y % PARTS * PARTS + x % PARTS;
                    *swaps.entry((cell, run.ink, *rim)).or_default() |= 1 << part;
                }
            }
        }
        for ((cell, from, to), parts) in swaps {
            tiling.swap(cell, Swap { from, to, parts });
        }
    }

    /// Each ink's share of the whole area.
    fn shares(&self, inks: usize) -> Vec<f64> {
        let mut area = vec![0_u64; inks];
        for run in &self.runs {
            area[run.ink as usize] += u64::from(run.to - run.from);
        }
        let all: u64 = area.iter().sum();
        area.into_iter().map(|a| a as f64 / all.max(1) as f64).collect()
    }
}

/// The run that stands for `at`'s piece; the way there is shortened for next time.
fn root(roots: &mut [u32], mut at: usize) -> usize {
    while roots[at] as usize != at {
        roots[at] = roots[roots[at] as usize];
        at = roots[at] as usize;
    }
    at
}
