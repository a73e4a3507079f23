//! Branch and bound on a few demands: either a cover of them, or the proof that none exists.
//!
//! Of the demands still open, one that reaches furthest to the left must be held by a sheet, and
//! that sheet may be slid right until its left edge is flush with the demand's: nothing open
//! reaches further left. The same holds on all four sides. So on each side only a slide along
//! that side and the kind of sheet remain to be chosen, and the side with the fewest choices is
//! branched on. A slide, too, may go on until its sheet is flush with a demand it holds.

use crate::model::{Cells, Kind, Lay, MOST_PURSES};
use crate::shares::ONE;
use crate::work::Work;
use progress::Cancelled;
use std::collections::HashSet;

/// The most demands looked at together.
pub(crate) const MOST: usize = 256;

/// A set of demands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Set([u64; MOST / 64]);

impl Set {
    const NONE: Self = Self([0; MOST / 64]);
    fn first(n: usize) -> Self {
        let mut out = Self::NONE;
        (0..n).for_each(|i| out.insert(i));
        out
    }
    fn insert(&mut self, i: usize) {
        self.0[i / 64] |= 1 << (i % 64);
    }
    fn is_empty(&self) -> bool {
        self.0 == [0; MOST / 64]
    }
    fn and(&self, o: &Self) -> Self {
        Self(std::array::from_fn(|i| self.0[i] & o.0[i]))
    }
    fn less(&self, o: &Self) -> Self {
        Self(std::array::from_fn(|i| self.0[i] & !o.0[i]))
    }
    fn within(&self, o: &Self) -> bool {
        self.0.iter().zip(&o.0).all(|(a, b)| a & !b == 0)
    }
    fn count(&self) -> u32 {
        self.0.iter().map(|w| w.count_ones()).sum()
    }
    fn iter(&self) -> impl Iterator<Item = usize> + '_ {
        self.0.iter().enumerate().flat_map(|(i, w)| {
            let mut w = *w;
            std::iter::from_fn(move || {
                (w != 0).then(|| {
                    let bit = w.trailing_zeros() as usize;
                    w &= w - 1;
                    i * 64 + bit
                })
            })
        })
    }
    fn lowest(&self) -> Option<usize> {
        self.iter().next()
    }
}

/// What a search came to.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Outcome {
    /// No cover exists, not even of these demands.
    None,
    /// A cover of these demands.
    Found(Vec<Lay>),
    /// The nodes ran out first.
    Unknown,
}

/// The search, for one set of demands.
pub(crate) struct Exact<'a> {
    demands: &'a [Cells],
    kinds: &'a [Kind],
    /// Demands by what they may not pass: index 0 left edges at or right of `x`, and so on.
    x0_from: Edges,
    y0_from: Edges,
    x1_to: Edges,
    y1_to: Edges,
    /// For each kind and each left edge the demands between it and the sheet's right edge, and
    /// likewise from top to bottom.
    across: Vec<Vec<Set>>,
    down: Vec<Vec<Set>>,
    /// For each demand those that no sheet holds together with it.
    apart: Vec<Set>,
    /// A weight for each demand, such that no sheet holds more than `ONE`.
    share: Vec<u32>,
    /// What is known not to be coverable.
    failed: HashSet<(Set, Budget)>,
}

/// For each distinct coordinate the demands on its far side.
struct Edges {
    at: Vec<i32>,
    sets: Vec<Set>,
}

impl Edges {
    /// Demands whose coordinate is at least (`up`) or at most each distinct coordinate.
    fn new(coordinates: &[i32], up: bool) -> Self {
        let mut at = coordinates.to_vec();
        at.sort_unstable();
        at.dedup();
        let sets = at
            .iter()
            .map(|limit| {
                let mut set = Set::NONE;
                for (i, c) in coordinates.iter().enumerate() {
                    if if up { c >= limit } else { c <= limit } {
                        set.insert(i);
                    }
                }
                set
            })
            .collect();
        Self { at, sets }
    }
    /// Those at or past `limit`.
    fn from(&self, limit: i32) -> Set {
        let i = self.at.partition_point(|c| *c < limit);
        self.sets.get(i).copied().unwrap_or(Set::NONE)
    }
    /// Those up to `limit`.
    fn to(&self, limit: i32) -> Set {
        let i = self.at.partition_point(|c| *c <= limit);
        if i == 0 { Set::NONE } else { self.sets[i - 1] }
    }
}

#[derive(Clone, Copy, Debug)]
enum Side {
    Left,
    Top,
    Right,
    Bottom,
}

/// How many sheets of each purse are left.
type Budget = [u16; MOST_PURSES];

impl<'a> Exact<'a> {
    /// Prepares a search over at most [`MOST`] demands; `share` gives each demand's weight.
    pub(crate) fn new(demands: &'a [Cells], kinds: &'a [Kind], share: Vec<u32>) -> Self {
        let of = |f: fn(&Cells) -> i32| demands.iter().map(f).collect::<Vec<_>>();
        let fits = |c: Cells| kinds.iter().any(|k| c.width() <= k.w && c.height() <= k.h);
        let apart = demands
            .iter()
            .map(|a| {
                let mut set = Set::NONE;
                for (i, b) in demands.iter().enumerate() {
                    if !fits(a.hull(*b)) {
                        set.insert(i);
                    }
                }
                set
            })
            .collect();
        let (x0_from, y0_from) = (Edges::new(&of(|d| d.x0), true), Edges::new(&of(|d| d.y0), true));
        let (x1_to, y1_to) = (Edges::new(&of(|d| d.x1), false), Edges::new(&of(|d| d.y1), false));
        let bands = |from: &Edges, to: &Edges, length: i32| {
            let pairs = from.at.iter().zip(&from.sets);
            pairs.map(|(at, set)| set.and(&to.to(at + length))).collect::<Vec<_>>()
        };
        Self {
            demands,
            kinds,
            across: kinds.iter().map(|k| bands(&x0_from, &x1_to, k.w)).collect(),
            down: kinds.iter().map(|k| bands(&y0_from, &y1_to, k.h)).collect(),
            x0_from,
            y0_from,
            x1_to,
            y1_to,
            apart,
            share,
            failed: HashSet::new(),
        }
    }

    /// Looks for a cover with at most `budget` sheets of each purse.
    pub(crate) fn run(
        &mut self,
        budget: &[u32],
        work: &mut Work<'_>,
    ) -> Result<Outcome, Cancelled> {
        let all = Set::first(self.demands.len());
        let mut left: Budget = [0; MOST_PURSES];
        for (l, b) in left.iter_mut().zip(budget) {
            *l = (*b).min(60_000) as u16;
        }
        let mut lays = Vec::new();
        Ok(match self.cover(all, left, &mut lays, work)? {
            Some(true) => Outcome::Found(lays),
            Some(false) => Outcome::None,
            None => Outcome::Unknown,
        })
    }

    /// Whether `open` can be covered; `None` where no work is left.
    fn cover(
        &mut self,
        open: Set,
        left: Budget,
        lays: &mut Vec<Lay>,
        work: &mut Work<'_>,
    ) -> Result<Option<bool>, Cancelled> {
        if open.is_empty() {
            return Ok(Some(true));
        }
        let total: u32 = left.iter().map(|n| u32::from(*n)).sum();
        if self.least(&open) > total {
            return Ok(Some(false));
        }
        if total == 1 {
            return Ok(Some(self.one(&open, &left, lays)));
        }
        let key = (open, left);
        if self.failed.contains(&key) {
            return Ok(Some(false));
        }
        if !work.spend(8)? {
            return Ok(None);
        }
        for (lay, set) in self.choices(&open, &left) {
            let mut rest = left;
            rest[self.kinds[lay.kind].purse] -= 1;
            lays.push(lay);
            match self.cover(open.less(&set), rest, lays, work)? {
                Some(false) => lays.pop(),
                done => return Ok(done),
            };
        }
        self.failed.insert(key);
        Ok(Some(false))
    }

    /// Whether one sheet holds all that is open; lays it.
    fn one(&self, open: &Set, left: &Budget, lays: &mut Vec<Lay>) -> bool {
        let hull = open.iter().map(|d| self.demands[d]).reduce(Cells::hull);
        let Some(hull) = hull else { return true };
        let fits = |k: &Kind| left[k.purse] > 0 && hull.width() <= k.w && hull.height() <= k.h;
        let kind = self.kinds.iter().position(fits);
        lays.extend(kind.map(|kind| Lay { kind, x: hull.x0, y: hull.y0 }));
        kind.is_some()
    }

    /// A number of sheets that `open` takes at least.
    fn least(&self, open: &Set) -> u32 {
        let shares: u32 = open.iter().map(|d| self.share[d]).sum();
        // Demands of which no two fit one sheet, picked from either end.
        let (mut rest, mut from_first) = (*open, 0);
        while let Some(d) = rest.lowest() {
            from_first += 1;
            rest = rest.and(&self.apart[d]);
        }
        from_first.max(shares.div_ceil(ONE))
    }

    /// The choices on the side that has the fewest, the one that holds most first.
    fn choices(&self, open: &Set, left: &Budget) -> Vec<(Lay, Set)> {
        let mut best: Vec<(Lay, Set)> = Vec::new();
        let mut found = false;
        for side in [Side::Left, Side::Top, Side::Right, Side::Bottom] {
            for must in self.extremes(open, side) {
                let options = self.slides(open, left, side, must);
                if !found || options.len() < best.len() {
                    best = options;
                    found = true;
                }
            }
        }
        best.sort_by_key(|(lay, set)| (std::cmp::Reverse(set.count()), *lay));
        // What holds no more than another of the same purse is no choice.
        let mut kept: Vec<(Lay, Set)> = Vec::new();
        for (lay, set) in best {
            let purse = |l: &Lay| self.kinds[l.kind].purse;
            if !kept.iter().any(|(k, s)| purse(k) == purse(&lay) && set.within(s)) {
                kept.push((lay, set));
            }
        }
        kept
    }

    /// The open demands that reach furthest to a side: the first and last along it.
    fn extremes(&self, open: &Set, side: Side) -> impl Iterator<Item = usize> + use<> {
        let reach = |d: usize| {
            let q = self.demands[d];
            match side {
                Side::Left => (-q.x0, q.y0, q.y1),
                Side::Top => (-q.y0, q.x0, q.x1),
                Side::Right => (q.x1, q.y0, q.y1),
                Side::Bottom => (q.y1, q.x0, q.x1),
            }
        };
        let first = open.iter().max_by_key(|d| (reach(*d).0, -reach(*d).1, *d));
        let last = open.iter().max_by_key(|d| (reach(*d).0, reach(*d).2, *d));
        first.into_iter().chain(last.filter(|l| Some(*l) != first))
    }

    /// The sheets flush with `must` on `side` that hold it, less those that hold no more than
    /// their neighbour.
    fn slides(&self, open: &Set, left: &Budget, side: Side, must: usize) -> Vec<(Lay, Set)> {
        let q = self.demands[must];
        let mut out: Vec<(Lay, Set)> = Vec::new();
        for (kind, k) in self.kinds.iter().enumerate() {
            if left[k.purse] == 0 {
                continue;
            }
            let begin = out.len();
            // Flush on one side, sliding along the other: where a slide holds no demand flush
            // with its own edge it can go on.
            let (base, edges, bands, length, end) = match side {
                Side::Left | Side::Right => {
                    let x = if matches!(side, Side::Left) { q.x0 } else { q.x1 - k.w };
                    let base = open.and(&self.x0_from.from(x)).and(&self.x1_to.to(x + k.w));
                    (base, &self.y0_from, &self.down[kind], k.h, (x, q.y0, q.y1))
                }
                Side::Top | Side::Bottom => {
                    let y = if matches!(side, Side::Top) { q.y0 } else { q.y1 - k.h };
                    let base = open.and(&self.y0_from.from(y)).and(&self.y1_to.to(y + k.h));
                    (base, &self.x0_from, &self.across[kind], k.w, (y, q.x0, q.x1))
                }
            };
            let (fixed, most, needs) = end;
            let first = edges.at.partition_point(|at| *at < needs - length);
            let places = edges.at.iter().zip(bands).skip(first);
            for (at, band) in places.take_while(|(at, _)| **at <= most) {
                let (at, set) = (*at, base.and(band));
                let last = out.last().filter(|_| out.len() > begin);
                if last.is_some_and(|(_, s)| set.within(s)) {
                    continue;
                }
                while out.len() > begin && out.last().is_some_and(|(_, s)| s.within(&set)) {
                    out.pop();
                }
                let (x, y) = match side {
                    Side::Left | Side::Right => (fixed, at),
                    Side::Top | Side::Bottom => (at, fixed),
                };
                out.push((Lay { kind, x, y }, set));
            }
        }
        out
    }
}
