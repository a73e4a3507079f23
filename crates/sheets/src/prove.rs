//! Whether some number of sheets can hold everything: a cover, or the proof that there is none.
//!
//! The proof looks at few demands at a time. As long as these can be covered, some that the
//! cover leaves open join them, those first that local search found hard to hold.

use crate::cover::Cover;
use crate::exact::{Exact, MOST, Outcome};
use crate::local::Local;
use crate::model::{Cells, Lay, Model};
use crate::shares::{ONE, Shares};
use crate::work::Work;
use progress::Cancelled;

/// More demands than are worth carrying over from one question to the next.
const MANY: usize = 160;

/// What a budget of sheets came to.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Answer {
    /// These sheets hold everything.
    Cover(Vec<Lay>),
    /// It is proved that no such sheets do.
    Proved,
    /// The work allowed was done first.
    Unknown,
}

/// Decides one budget after another over the same demands.
pub(crate) struct Prover<'a> {
    model: &'a Model,
    pub(crate) local: Local<'a>,
    /// The demands looked at, by number.
    chosen: Vec<u32>,
    shares: Shares,
    /// No cover has fewer sheets than this.
    pub(crate) lower: u32,
}

impl<'a> Prover<'a> {
    pub(crate) fn new(model: &'a Model) -> Self {
        let lower = model.by_area();
        let mut chosen = extremes(model);
        let all: Vec<u32> = (0..model.demands.len() as u32).collect();
        choose(model, &mut chosen, &all, 16, |far, _| far);
        Self { model, local: Local::new(model, 1), chosen, shares: Shares::default(), lower }
    }

    /// Raises the lower bound by the demands chosen so far.
    pub(crate) fn bound(&mut self, work: &mut Work<'_>) -> Result<(), Cancelled> {
        let demands: Vec<Cells> =
            self.chosen.iter().map(|d| self.model.demands[*d as usize]).collect();
        let share = self.shares.improve(&demands, &self.model.kinds, 100, work)?;
        self.lower = self.lower.max(share.iter().sum::<u32>().div_ceil(ONE));
        Ok(())
    }

    /// Whether everything can be held with at most `budget` sheets of each purse.
    pub(crate) fn decide(
        &mut self,
        budget: &[u32],
        work: &mut Work<'_>,
    ) -> Result<Answer, Cancelled> {
        if self.chosen.len() > MANY {
            // Too many to branch on: begin again with those that proved hard.
            self.chosen = extremes(self.model);
            let all: Vec<u32> = (0..self.model.demands.len() as u32).collect();
            let hard = &self.local.hard;
            let worth = |far: i64, d: u32| far * i64::from(hard[d as usize]);
            choose(self.model, &mut self.chosen, &all, 48, worth);
        }
        loop {
            let demands: Vec<Cells> =
                self.chosen.iter().map(|d| self.model.demands[*d as usize]).collect();
            let share = self.shares.improve(&demands, &self.model.kinds, 100, work)?;
            self.lower = self.lower.max(share.iter().sum::<u32>().div_ceil(ONE));
            let lays = match Exact::new(&demands, &self.model.kinds, share).run(budget, work)? {
                Outcome::None => return Ok(Answer::Proved),
                Outcome::Unknown => return Ok(Answer::Unknown),
                Outcome::Found(lays) => lays,
            };
            let mut open = Cover::with(self.model, &lays).open;
            if open.is_empty() {
                return Ok(Answer::Cover(lays));
            }
            if let Some(lays) = self.local.search(&lays, budget, 30, work)? {
                return Ok(Answer::Cover(lays));
            }
            if self.chosen.len() >= MOST || work.left() == 0 {
                return Ok(Answer::Unknown);
            }
            open.sort_unstable();
            let hard = &self.local.hard;
            let worth = |far: i64, d: u32| far * i64::from(hard[d as usize]);
            choose(self.model, &mut self.chosen, &open, 2, worth);
        }
    }
}

/// The demands that reach furthest in sixteen directions.
fn extremes(model: &Model) -> Vec<u32> {
    let mut out: Vec<u32> = Vec::new();
    for (dx, dy) in [(1, 0), (2, 1), (1, 1), (1, 2), (0, 1), (-1, 2), (-1, 1), (-2, 1)] {
        for (dx, dy) in [(dx, dy), (-dx, -dy)] {
            let reach = |d: &u32| {
                let q = model.demands[*d as usize];
                let x = if dx > 0 { q.x1 } else { q.x0 };
                let y = if dy > 0 { q.y1 } else { q.y0 };
                (dx * x + dy * y, *d)
            };
            out.extend((0..model.demands.len() as u32).max_by_key(reach));
        }
    }
    out.sort_unstable();
    out.dedup();
    out
}

/// Adds up to `number` of `among` to `chosen`: each time the one worth most, by its distance
/// from all chosen and its number.
fn choose(
    model: &Model,
    chosen: &mut Vec<u32>,
    among: &[u32],
    number: usize,
    worth: impl Fn(i64, u32) -> i64,
) {
    let apart = |c: u32, d: u32| {
        let (a, b) = (model.demands[c as usize], model.demands[d as usize]);
        let sides = [a.x0 - b.x0, a.y0 - b.y0, a.x1 - b.x1, a.y1 - b.y1];
        i64::from(sides.into_iter().map(i32::abs).max().unwrap_or(0))
    };
    let far = |d: &u32| chosen.iter().map(|c| apart(*c, *d)).min().unwrap_or(1);
    let mut far: Vec<i64> = among.iter().map(far).collect();
    for _ in 0..number {
        let best = (0..among.len()).max_by_key(|i| (worth(far[*i], among[*i]), usize::MAX - i));
        let Some(best) = best.filter(|i| far[*i] > 0 && chosen.len() < MOST) else { return };
        let added = among[best];
        chosen.push(added);
        for (far, d) in far.iter_mut().zip(among) {
            *far = (*far).min(apart(added, *d));
        }
    }
}
