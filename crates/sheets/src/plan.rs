use crate::fewest::{self, Found};
use crate::model::{MOST_SHEETS, Model};
use crate::work::Work;
use crate::{Placed, Plan, PlanError, Request, grid, naming, tidy};
use measure::Length;
use progress::Progress;

/// Plans the fewest sheets or, where stocks differ in price, the cheapest.
///
/// Sheets of all sizes are mixed as it suits; a roll is weighed against them as a whole.
///
/// # Errors
/// Where no plan exists, or when cancelled.
pub fn plan(request: &Request, progress: &Progress) -> Result<Plan, PlanError> {
    let mut best: Option<(Plan, f64)> = None;
    let groups = groups(request);
    if groups.is_empty() {
        return Err(PlanError::NoStock);
    }
    let mut work = Work::new(request.effort, progress);
    let mut short = None;
    for (i, stocks) in groups.iter().enumerate() {
        let parts = (groups.len() - i) as u64;
        let plan = work.with_share(parts, |work| plan_group(request, stocks, work));
        match plan {
            Ok(plan) => {
                let priced = request.stocks.iter().all(|s| s.price > 0.0);
                let worth = if priced { plan.cost } else { plan.sheets.len() as f64 };
                match &mut best {
                    Some((_, other)) if *other <= worth => {}
                    _ => best = Some((plan, worth)),
                }
            }
            Err(error @ PlanError::NotEnough { .. }) => short = Some(error),
            Err(error) => return Err(error),
        }
    }
    let (mut plan, _) = best.ok_or_else(|| short.unwrap_or(PlanError::NoStock))?;
    if groups.len() > 1 {
        // What one group proves says nothing about the others.
        plan.proved = false;
        plan.lower_bound = 1;
        plan.why = format!("{}: the best of sheets and rolls", plan.sheets.len());
    }
    Ok(plan)
}

/// The sheets together, and each roll for itself.
fn groups(request: &Request) -> Vec<Vec<usize>> {
    let (rolls, sheets): (Vec<usize>, Vec<usize>) =
        (0..request.stocks.len()).partition(|i| request.stocks[*i].roll);
    let sheets = (!sheets.is_empty()).then_some(sheets);
    sheets.into_iter().chain(rolls.into_iter().map(|i| vec![i])).collect()
}

fn plan_group(request: &Request, stocks: &[usize], work: &mut Work<'_>) -> Result<Plan, PlanError> {
    let model = Model::new(request, stocks)?;
    let needed = model.by_area().into();
    if needed > MOST_SHEETS {
        return Err(PlanError::TooMany { needed, most: MOST_SHEETS });
    }
    let grid = grid::best(&model);
    let pinned = request.pinned.len() as u32;
    let found = match fewest::find(&model, work)? {
        Ok(found) => found,
        Err(needed) => {
            let on_hand = model.purses.iter().map(|p| u64::from(p.limit)).sum();
            return Err(PlanError::NotEnough { on_hand, needed: needed.into() });
        }
    };
    let number = found.lays.len() as u64 + u64::from(pinned);
    if number > MOST_SHEETS {
        return Err(PlanError::TooMany { needed: number, most: MOST_SHEETS });
    }
    let why = why(&model, &found, pinned);
    let mut placed: Vec<(Placed, bool)> =
        request.pinned.iter().map(|pin| (pin.clone(), true)).collect();
    let lays = tidy::tidy(&model, &found.lays);
    for (lay, cells) in lays.iter().zip(tidy::clip(&model, &lays)) {
        let kind = model.kinds[lay.kind];
        let rect = request.region.rect_of(cells.x0, cells.y0, cells.x1, cells.y1);
        placed.push((Placed { rect, stock: kind.stock, turned: kind.turned }, false));
    }
    let cost = placed.iter().map(|(p, _)| cost(request, p)).sum();
    Ok(Plan {
        sheets: naming::name(placed),
        lower_bound: found.lower + pinned,
        why,
        grid,
        cost,
        proved: found.proved,
    })
}

fn cost(request: &Request, placed: &Placed) -> f64 {
    let stock = &request.stocks[placed.stock];
    let size = placed.rect.size;
    let along = if placed.turned { size.width } else { size.height };
    let margins: Length = stock.margins.top + stock.margins.bottom;
    stock.cost(along + margins)
}

/// The bound in the printer's words.
fn why(model: &Model, found: &Found, pinned: u32) -> String {
    let number = found.lays.len() as u32 + pinned;
    let lower = found.lower + pinned;
    let keeping = if pinned > 0 { " that keeps the pinned sheets" } else { "" };
    match (&model.purses[..], found.proved) {
        ([_], true) if number == 1 => "1: one sheet holds it all".into(),
        ([_], true) => format!("{number}: no plan of {}{keeping} exists", number - 1),
        (_, true) => format!("{number}: no plan{keeping} costs less"),
        (_, false) => format!("{number}, at least {lower} needed"),
    }
}
