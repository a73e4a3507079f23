use crate::model::{MOST_SHEETS, Model};
use crate::{Placed, Plan, PlanError, Request, grid, naming};
use progress::Progress;

/// Plans the fewest (or cheapest) sheets.
///
/// # Errors
/// Where no plan exists, or when cancelled.
pub fn plan(request: &Request, progress: &Progress) -> Result<Plan, PlanError> {
    progress.step("Planning sheets", 0, 1)?;
    let model = Model::new(request)?;
    let (kind, cells) = grid::best(&model);
    let number = cells.len() as u32;
    if u64::from(number) > MOST_SHEETS {
        return Err(PlanError::TooMany { needed: 1, most: MOST_SHEETS });
    }
    let placed = cells.into_iter().map(|c| {
        let rect = request.region.rect_of(c.x0, c.y0, c.x1, c.y1);
        (Placed { rect, stock: kind.stock, turned: kind.turned }, false)
    });
    let sheets = naming::name(placed.collect());
    let why = format!("{number}, at least 1 needed");
    Ok(Plan { sheets, lower_bound: 1, why, grid: number })
}
