//! The fewest sheets, or where stocks differ in price the cheapest: bounds from both sides until
//! they meet or the work allowed is done.

use crate::local::Local;
use crate::model::{Cells, Lay, MOST_SHEETS, Model};
use crate::prove::{Answer, Prover};
use crate::work::Work;
use crate::{link, strips};
use progress::{Cancelled, Progress};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::ops::Range;

/// The best sheets found.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    pub(crate) lays: Vec<Lay>,
    /// No plan has fewer sheets.
    pub(crate) lower: u32,
    /// Whether no plan costs less; where all stocks cost the same, whether none has fewer sheets.
    pub(crate) proved: bool,
}

/// The best sheets for a model, or how many sheets it takes at least where no plan was found
/// with what is on hand.
pub(crate) fn find(model: &Model, work: &mut Work<'_>) -> Result<Result<Found, u32>, Cancelled> {
    if model.demands.is_empty() {
        // The pinned sheets hold it all, but may lie apart.
        let lays = if model.one_piece && model.pins_can_link() {
            chained(model, &[])
        } else {
            Some(Vec::new())
        };
        return Ok(lays.ok_or(1).map(|lays| Found { proved: lays.is_empty(), lays, lower: 0 }));
    }
    let mut prover = Prover::new(model);
    let Some(start) = first(model, &mut prover, work)? else { return Ok(Err(prover.lower)) };
    let mut best = start.clone();
    let proved = loop {
        let (budgets, all) = cheaper(model, model.cost(&best), &prover);
        match improve(&best, &budgets, &mut prover, work)? {
            Answer::Cover(better) => best = better,
            Answer::Proved => break all,
            Answer::Unknown => break false,
        }
    };
    let mut lower = prover.lower;
    if let [_] = model.purses[..] {
        if proved {
            lower = best.len() as u32;
        } else {
            lower = raise(best.len() as u32, &mut prover, work)?;
        }
    }
    let before = model.cost(&best);
    if model.one_piece {
        let number = best.len() as u32;
        match one_piece(model, best, &start, work)? {
            Some(joined) => best = joined,
            None => return Ok(Err(number + 1)),
        }
        // Plain strips of a whole region hang together by themselves.
        if start.len() < best.len() && joined(model, &start) {
            best = start;
        }
    }
    let proved = proved && model.cost(&best) <= before;
    Ok(Ok(Found { lays: best, lower, proved }))
}

/// A first plan: strips of one purse, or whatever the drawer gives.
fn first(
    model: &Model,
    prover: &mut Prover<'_>,
    work: &mut Work<'_>,
) -> Result<Option<Vec<Lay>>, Cancelled> {
    let mut plans: Vec<Vec<Lay>> = Vec::new();
    for (purse, p) in model.purses.iter().enumerate() {
        let plan = strips::best(model, purse);
        if plan.len() as u64 <= u64::from(p.limit) {
            plans.push(plan);
        }
    }
    let cheapest = plans.into_iter().min_by(|a, b| by_cost(model, a, b));
    if cheapest.is_some() {
        return Ok(cheapest);
    }
    let all: Vec<u32> = model.purses.iter().map(|p| p.limit.min(MOST_SHEETS as u32)).collect();
    if all.iter().sum::<u32>() < prover.lower {
        return Ok(None);
    }
    if let Some(found) = prover.local.search(&[], &all, 1000, work)? {
        return Ok(Some(found));
    }
    Ok(match work.with_share(2, |work| prover.decide(&all, work))? {
        Answer::Cover(lays) => Some(lays),
        _ => None,
    })
}

/// The most budgets that are weighed; with more, nothing is claimed.
const MOST_BUDGETS: usize = 2000;

/// The budgets that cost less than `cost`, of which none allows all that another does. Those
/// that cannot do are left out.
fn cheaper(model: &Model, cost: f64, prover: &Prover<'_>) -> (Vec<Vec<u32>>, bool) {
    let mut out: Vec<Vec<u32>> = Vec::new();
    let mut budget = vec![0; model.purses.len()];
    fill(model, cost - 1e-9 * cost.abs().max(1.0), 0, &mut budget, &mut out);
    let complete = out.len() < MOST_BUDGETS;
    let within = |a: &Vec<u32>, b: &Vec<u32>| a.iter().zip(b).all(|(a, b)| a <= b);
    let all = out.clone();
    out.retain(|a| !all.iter().any(|b| a != b && within(a, b)));
    let full = model.full_windows();
    out.retain(|b| b.iter().sum::<u32>() >= prover.lower && model.room(b) >= full);
    // Those with most room first.
    out.sort_by_key(|b| std::cmp::Reverse(model.room(b)));
    (out, complete)
}

fn fill(model: &Model, rest: f64, purse: usize, budget: &mut Vec<u32>, out: &mut Vec<Vec<u32>>) {
    if out.len() >= MOST_BUDGETS {
        return;
    }
    let p = &model.purses[purse];
    let last = purse + 1 == model.purses.len();
    // Strictly less than `rest` may be spent.
    let most = if p.price > 0.0 { ((rest / p.price).ceil() - 1.0).max(0.0) } else { f64::MAX };
    let most = (most.min(MOST_SHEETS as f64) as u32).min(p.limit);
    for n in if last { most..=most } else { 0..=most } {
        budget[purse] = n;
        let rest = rest - p.price * f64::from(n);
        if last {
            if rest > 0.0 {
                out.push(budget.clone());
            }
        } else {
            fill(model, rest, purse + 1, budget, out);
        }
    }
    budget[purse] = 0;
}

/// A cover within any of the budgets, or that there is none.
fn improve(
    best: &[Lay],
    budgets: &[Vec<u32>],
    prover: &mut Prover<'_>,
    work: &mut Work<'_>,
) -> Result<Answer, Cancelled> {
    for budget in budgets {
        if let Some(found) = prover.local.search(best, budget, 300, work)? {
            return Ok(Answer::Cover(found));
        }
    }
    prover.bound(work)?;
    let mut open = Vec::new();
    // Far from the bound a proof is out of reach, but there may well be something to find: the
    // covers of a few demands, and a longer search, by turns.
    let far = |budget: &&Vec<u32>| budget.iter().sum::<u32>() > prover.lower + 1;
    if let Some(budget) = budgets.iter().find(far).filter(|_| budgets.len() == 1) {
        for turn in 0..4 {
            match work.with_share(12, |work| prover.decide(budget, work))? {
                Answer::Unknown => {}
                answer => return Ok(answer),
            }
            let found = work.with_share(4, |work| {
                let start = if turn % 2 == 0 { best } else { &[] };
                prover.local.search(start, budget, u64::MAX, work)
            })?;
            if let Some(found) = found {
                return Ok(Answer::Cover(found));
            }
        }
        return Ok(Answer::Unknown);
    }
    for (i, budget) in budgets.iter().enumerate() {
        if budget.iter().sum::<u32>() < prover.lower {
            continue;
        }
        let parts = (budgets.len() - i) as u64 + 1;
        match work.with_share(parts, |work| prover.decide(budget, work))? {
            Answer::Cover(found) => return Ok(Answer::Cover(found)),
            Answer::Proved => {}
            Answer::Unknown => open.push(budget),
        }
    }
    for (i, budget) in open.iter().enumerate() {
        let parts = (open.len() - i) as u64 + 1;
        let steps = u64::MAX;
        let found =
            work.with_share(parts, |work| prover.local.search(best, budget, steps, work))?;
        if let Some(found) = found {
            return Ok(Answer::Cover(found));
        }
    }
    Ok(if open.is_empty() { Answer::Proved } else { Answer::Unknown })
}

/// Proves as many sheets needed as the work left allows.
fn raise(number: u32, prover: &mut Prover<'_>, work: &mut Work<'_>) -> Result<u32, Cancelled> {
    let mut lower = prover.lower;
    while lower + 1 < number {
        match work.with_share(2, |work| prover.decide(&[lower], work))? {
            Answer::Proved => lower = prover.lower.max(lower + 1),
            _ => break,
        }
    }
    Ok(lower)
}

/// Whether sheets hang together with each other and the pinned ones.
fn joined(model: &Model, lays: &[Lay]) -> bool {
    let sheets = lays.iter().map(|l| model.cells(*l)).chain(model.pinned.iter().copied());
    link::connected(&sheets.collect::<Vec<Cells>>(), model.overlap())
}

/// The most sheets that hold nothing for which other covers are tried; more are laid in chains.
const MOST_FREE: usize = 4;

/// The same sheets, slid until they hang together; where that fails other covers with as many
/// sheets, then with one more, and so on up to what plain chains between them take. `None` where
/// the drawer has too few.
fn one_piece(
    model: &Model,
    best: Vec<Lay>,
    start: &[Lay],
    work: &mut Work<'_>,
) -> Result<Option<Vec<Lay>>, Cancelled> {
    // A pin narrower than the overlap is linked by nothing, whatever is laid.
    if joined(model, &best) || !model.pins_can_link() {
        return Ok(Some(best));
    }
    let chained = fewest_chained(model, &best, start, work)?;
    let most = chained
        .as_ref()
        .map_or(MOST_FREE, |all| all.len().saturating_sub(best.len()).min(MOST_FREE));
    let mut found = None;
    let mut extra = 0;
    while extra < most && found.is_none() {
        found = joined_with(model, &best, extra, 0..40, work)?;
        extra += usize::from(found.is_none());
    }
    // One less may be a matter of luck.
    if let Some(extra) = extra.checked_sub(1)
        && let Some(fewer) = joined_with(model, &best, extra, 40..200, work)?
    {
        return Ok(Some(fewer));
    }
    Ok(found.or(chained))
}

/// The cheapest of many covers with chains between what is apart, each rid of what it can spare:
/// where sheets lie far apart, which of them are needed hangs on where the chains run.
fn fewest_chained(
    model: &Model,
    best: &[Lay],
    start: &[Lay],
    work: &mut Work<'_>,
) -> Result<Option<Vec<Lay>>, Cancelled> {
    const AT_ONCE: u64 = 30;
    let budget = spent(model, best);
    let mut fewest: Option<Vec<Lay>> = None;
    let covers = (work.whole() / PER_COVER).max(2);
    for from in (0..covers).step_by(AT_ONCE as usize) {
        let (found, done) = side_by_side(work, from..covers.min(from + AT_ONCE), |n, own| {
            let cover = match n {
                0 => best.to_vec(),
                1 => start.to_vec(),
                _ => {
                    let mut local = Local::new(model, 1000 + n);
                    let thin = local.thin(best);
                    // Now and then with a sheet more, which leaves them more freedom.
                    let mut budget = budget.clone();
                    if n % 2 == 1 && budget[0] < model.purses[0].limit {
                        budget[0] += 1;
                    }
                    local.search(&thin, &budget, STEPS, own).ok().flatten()?
                }
            };
            chained(model, &cover).map(|found| link::spared(model, found))
        });
        fewest = fewest.into_iter().chain(found).min_by(|a, b| by_cost(model, a, b));
        if !work.spend(done)? {
            break;
        }
    }
    Ok(fewest)
}

/// For so much of the work allowed one cover is laid in chains.
const PER_COVER: u64 = 2000;
/// So long a cover is sought from each start.
const STEPS: u64 = 200;

/// What tries by these numbers find, a few threads at a time and each with the work that is left
/// to itself, in the order of the numbers; and what work was done.
fn side_by_side<T: Send>(
    work: &Work<'_>,
    tries: Range<u64>,
    one: impl Fn(u64, &mut Work<'_>) -> Option<T> + Sync,
) -> (Vec<T>, u64) {
    let most = work.left();
    let tried: Vec<(Option<T>, u64)> = tries
        .into_par_iter()
        .map(|n| {
            let quiet = Progress::none();
            let mut own = Work::new(most, &quiet);
            let found = one(n, &mut own);
            (found, most - own.left())
        })
        .collect();
    let done = tried.iter().map(|(_, done)| done).sum();
    (tried.into_iter().filter_map(|(found, _)| found).collect(), done)
}

/// The cheaper first, and of those that cost as much the one with fewer sheets.
fn by_cost(model: &Model, a: &[Lay], b: &[Lay]) -> Ordering {
    model.cost(a).total_cmp(&model.cost(b)).then(a.len().cmp(&b.len()))
}

/// How many sheets of each purse a plan takes.
fn spent(model: &Model, lays: &[Lay]) -> Vec<u32> {
    let mut out = vec![0; model.purses.len()];
    lays.iter().for_each(|lay| out[model.purse(*lay)] += 1);
    out
}

/// Sheets with `extra` more that hang together: those at hand or other covers with as many, of
/// which some are tried, each number another, a few at a time side by side. The first that does is
/// taken, whatever the number of threads.
fn joined_with(
    model: &Model,
    best: &[Lay],
    extra: usize,
    tries: Range<u64>,
    work: &mut Work<'_>,
) -> Result<Option<Vec<Lay>>, Cancelled> {
    const AT_ONCE: u64 = 8;
    let budget = spent(model, best);
    let hung = |cover: &[Lay]| {
        with_free(model, cover, extra).iter().find_map(|lays| link::join(model, lays, extra))
    };
    if let Some(found) = hung(best) {
        return Ok(Some(found));
    }
    for from in tries.clone().step_by(AT_ONCE as usize) {
        let (found, done) = side_by_side(work, from..tries.end.min(from + AT_ONCE), |n, own| {
            // From nothing, or from what is there less a few sheets.
            let mut local = Local::new(model, 2 + n);
            let start = local.thin(best);
            hung(&local.search(&start, &budget, STEPS, own).ok().flatten()?)
        });
        let found = found.into_iter().next();
        if found.is_some() || !work.spend(done)? {
            return Ok(found);
        }
    }
    Ok(None)
}

/// The sheets with chains of more between what is apart, of the purse that makes it cheapest.
fn chained(model: &Model, lays: &[Lay]) -> Option<Vec<Lay>> {
    let with = |purse| {
        let all = link::chain(model, lays, purse)?;
        (all.iter().filter(|l| model.purse(**l) == purse).count() as u64
            <= u64::from(model.purses[purse].limit))
        .then_some(all)
    };
    (0..model.purses.len()).filter_map(with).min_by(|a, b| by_cost(model, a, b))
}

/// Adds `extra` sheets that hold nothing: all of one kind, and one of another, of the cheapest
/// purse that has them.
fn with_free(model: &Model, lays: &[Lay], extra: usize) -> Vec<Vec<Lay>> {
    if extra == 0 {
        return vec![lays.to_vec()];
    }
    let has = |purse: &usize| {
        let used = lays.iter().filter(|l| model.purse(**l) == *purse).count() + extra;
        used as u64 <= u64::from(model.purses[*purse].limit)
    };
    let cheapest = (0..model.purses.len())
        .filter(has)
        .min_by(|a, b| model.purses[*a].price.total_cmp(&model.purses[*b].price));
    let kinds: Vec<usize> =
        (0..model.kinds.len()).filter(|k| Some(model.kinds[*k].purse) == cheapest).collect();
    let hull = model.hull();
    let mut out = Vec::new();
    for a in &kinds {
        for b in &kinds {
            if extra > 1 || a == b {
                let mut all = lays.to_vec();
                all.extend((0..extra).map(|i| Lay {
                    kind: if i == 0 { *a } else { *b },
                    x: (hull.x0 + hull.x1) / 2,
                    y: (hull.y0 + hull.y1) / 2,
                }));
                out.push(all);
            }
        }
    }
    out
}
