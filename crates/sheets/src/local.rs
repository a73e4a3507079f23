//! Local search for a cover with a given number of sheets: the sheet that least depends on is
//! taken away and one is laid where it holds most of what is open, and what stays open long
//! counts ever more. After the row weighting local search of Gao, Weise and Li (2015) for set
//! cover.

use crate::cover::Cover;
use crate::model::{Cells, Lay, Model};
use crate::random::Random;
use crate::work::Work;
use progress::Cancelled;

/// A local search, which remembers which demands were hard to hold.
pub(crate) struct Local<'a> {
    model: &'a Model,
    /// How often each demand was left open: the hard ones stand out.
    pub(crate) hard: Vec<i32>,
    random: Random,
    scratch: Vec<i32>,
}

impl<'a> Local<'a> {
    /// A search that makes its choices by `seed`.
    pub(crate) fn new(model: &'a Model, seed: u64) -> Self {
        let hard = vec![1; model.demands.len()];
        Self { model, hard, random: Random::new(seed), scratch: Vec::new() }
    }

    /// Some of the sheets, without pattern; now and then none.
    pub(crate) fn thin(&mut self, lays: &[Lay]) -> Vec<Lay> {
        let keep = self.random.below(4);
        lays.iter().filter(|_| self.random.below(4) < keep).copied().collect()
    }

    /// Tries to hold everything with `budget` sheets of each purse, beginning with `start`.
    pub(crate) fn search(
        &mut self,
        start: &[Lay],
        budget: &[u32],
        steps: u64,
        work: &mut Work<'_>,
    ) -> Result<Option<Vec<Lay>>, Cancelled> {
        let model = self.model;
        let mut cover = Cover::with(model, start);
        let mut left: Vec<i64> = budget.iter().map(|n| i64::from(*n)).collect();
        for lay in start {
            left[model.purse(*lay)] -= 1;
        }
        // Take away what the budget does not give.
        while let Some(purse) = left.iter().position(|n| *n < 0) {
            let of_purse = |s: &usize| cover.lays[*s].is_some_and(|lay| model.purse(lay) == purse);
            let slot = (0..cover.lays.len()).filter(of_purse).min_by_key(|s| cover.alone[*s]);
            slot.map(|s| cover.remove(s));
            left[purse] += 1;
        }
        // When each slot was filled, and what was taken away last.
        let mut since = vec![0_u64; cover.lays.len()];
        let mut last = None;
        let cells: u64 = model.kinds.iter().map(|k| (k.w * k.h) as u64).sum();
        for step in 1..=steps {
            while !cover.open.is_empty() && left.iter().any(|n| *n > 0) {
                let must = cover.open[self.random.below(cover.open.len())];
                let Some(lay) = self.best_place(&cover, must, &left, last) else { break };
                let slot = cover.add(lay);
                left[model.purse(lay)] -= 1;
                since.resize(cover.lays.len(), 0);
                since[slot] = step;
            }
            if cover.open.is_empty() {
                return Ok(Some(cover.sheets()));
            }
            for d in &cover.open {
                cover.weight[*d as usize] += 1;
                self.hard[*d as usize] += 1;
            }
            if !work.spend(2 + cells / 800 + cover.open.len() as u64 / 100)? {
                return Ok(None);
            }
            // Of sheets that matter as little, the one that lies longest goes.
            let newest = |s: &usize| since[*s] == step;
            let laid = |s: &usize| cover.lays[*s].is_some();
            let number = (0..since.len()).filter(laid).count();
            let slot = (0..since.len())
                .filter(|s| laid(s) && (!newest(s) || number == 1))
                .min_by_key(|s| (cover.alone[*s], since[*s]));
            let Some(slot) = slot else { return Ok(None) };
            last = cover.remove(slot);
            if let Some(lay) = last {
                left[model.purse(lay)] += 1;
            }
        }
        Ok(None)
    }

    /// Where a sheet that holds demand `must` holds the most open weight, other than at `not`.
    fn best_place(
        &mut self,
        cover: &Cover<'_>,
        must: u32,
        left: &[i64],
        not: Option<Lay>,
    ) -> Option<Lay> {
        let model = self.model;
        let must = model.demands[must as usize];
        let mut best = None;
        let (mut high, mut ties) = (1, 0);
        for (kind, k) in model.kinds.iter().enumerate().filter(|(_, k)| left[k.purse] > 0) {
            // The corners from which a sheet holds `must`.
            let corners = Cells { x0: must.x1 - k.w, y0: must.y1 - k.h, x1: must.x0, y1: must.y0 };
            let across = (corners.width() + 2) as usize;
            let (left, top) = self.differences(cover, k.w, k.h, corners);
            let mut above = vec![0; across];
            for (row, y) in self.scratch.chunks_exact(across).zip(corners.y0..=corners.y1) {
                let mut run = 0;
                for (x, (sum, step)) in (corners.x0..=corners.x1).zip(above.iter_mut().zip(row)) {
                    run += step;
                    *sum += run;
                    // Further left or up than all that is open, a sheet gains nothing.
                    if *sum >= high && x >= left && y >= top {
                        let lay = Lay { kind, x, y };
                        if Some(lay) != not {
                            ties = if *sum > high { 1 } else { ties + 1 };
                            high = *sum;
                            if self.random.below(ties) == 0 {
                                best = Some(lay);
                            }
                        }
                    }
                }
            }
        }
        best
    }

    /// Fills the scratch with the open weight held from each corner, as differences both ways: a
    /// demand is held from a rectangle of corners. Gives the leftmost and topmost corner worth
    /// trying.
    fn differences(&mut self, cover: &Cover<'_>, w: i32, h: i32, corners: Cells) -> (i32, i32) {
        let across = (corners.width() + 2) as usize;
        self.scratch.clear();
        self.scratch.resize(across * (corners.height() + 2) as usize, 0);
        let (mut left, mut top) = (corners.x1, corners.y1);
        for d in &cover.open {
            let q = self.model.demands[*d as usize];
            let (l, r) = ((q.x1 - w).max(corners.x0), q.x0.min(corners.x1));
            let (t, b) = ((q.y1 - h).max(corners.y0), q.y0.min(corners.y1));
            if l <= r && t <= b {
                let weight = cover.weight[*d as usize];
                let at = |x, y| (y - corners.y0) as usize * across + (x - corners.x0) as usize;
                self.scratch[at(l, t)] += weight;
                self.scratch[at(r + 1, t)] -= weight;
                self.scratch[at(l, b + 1)] -= weight;
                self.scratch[at(r + 1, b + 1)] += weight;
                left = left.min(q.x0);
                top = top.min(q.y0);
            }
        }
        (left, top)
    }
}
