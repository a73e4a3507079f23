//! Sheets placed by hand: a pinned sheet is kept, the planner completes the rest.

use crate::command::Command;
use crate::desk::Desk;
use job::Edit;
use measure::{Length, Point, Rect, Size};
use sheets::{Placed, Sheet};

/// The sheet that is chosen.
pub(crate) fn chosen(desk: &Desk) -> Option<&Sheet> {
    desk.stages.layout()?.plan.sheets.get(desk.canvas.sheet?)
}

/// A sheet of the plan as it lies, and all other pins: what there is before it is moved.
pub(crate) fn taken(desk: &Desk, index: usize) -> Option<(Placed, Vec<Placed>)> {
    let sheet = desk.stages.layout()?.plan.sheets.get(index)?;
    let others = desk.job().pinned.iter().filter(|p| !same(p, &sheet.placed)).cloned().collect();
    Some((sheet.placed.clone(), others))
}

/// The edit that pins a sheet beside the others.
pub(crate) fn with(others: &[Placed], placed: Placed) -> Edit {
    let mut pinned = others.to_vec();
    pinned.push(placed);
    Edit::Pinned(pinned)
}

/// What a command about sheets comes to.
pub(crate) fn edit(desk: &Desk, command: Command) -> Option<Edit> {
    let layout = desk.stages.layout()?;
    match command {
        Command::PinAll => {
            Some(Edit::Pinned(layout.plan.sheets.iter().map(|s| s.placed.clone()).collect()))
        }
        Command::UnpinAll => Some(Edit::Pinned(Vec::new())),
        Command::PinSheet => {
            let sheet = chosen(desk)?;
            let (placed, others) = taken(desk, desk.canvas.sheet?)?;
            Some(if sheet.pinned { Edit::Pinned(others) } else { with(&others, placed) })
        }
        Command::RemoveSheet => {
            let (_, others) = taken(desk, desk.canvas.sheet?)?;
            Some(Edit::Pinned(others))
        }
        Command::TurnSheet => {
            let (placed, others) = taken(desk, desk.canvas.sheet?)?;
            let middle = placed.rect.center();
            let turned = !placed.turned;
            let size = printable(desk, placed.stock, turned)?;
            Some(with(&others, Placed { rect: around(middle, size), turned, ..placed }))
        }
        Command::AddSheet => {
            let size = printable(desk, 0, false)?;
            let film = desk.film_rect()?;
            let view =
                desk.canvas.eye().table_from_screen(desk.canvas.rect.center(), desk.canvas.rect);
            let rect = around(view - film.origin, size);
            Some(with(&desk.job().pinned, Placed { rect, stock: 0, turned: false }))
        }
        _ => None,
    }
}

/// The printable size of a stock as it lies on the film.
fn printable(desk: &Desk, stock: usize, turned: bool) -> Option<Size> {
    let stock = desk.job().stocks.get(stock)?;
    let m = stock.margins;
    let size = Size::new(stock.size.width - m.left - m.right, stock.size.height - m.top - m.bottom);
    (size.width > Length::ZERO && size.height > Length::ZERO).then_some(if turned {
        size.turned()
    } else {
        size
    })
}

fn around(middle: Point, size: Size) -> Rect {
    Rect::new(Point::new(middle.x - size.width / 2.0, middle.y - size.height / 2.0), size)
}

/// Whether two places are one, forgiving what rounding to pixels does.
fn same(a: &Placed, b: &Placed) -> bool {
    let near = |x: Length, y: Length| (x - y).abs() < Length::mm(0.6);
    a.stock == b.stock
        && near(a.rect.origin.x, b.rect.origin.x)
        && near(a.rect.origin.y, b.rect.origin.y)
        && near(a.rect.size.width, b.rect.size.width)
        && near(a.rect.size.height, b.rect.size.height)
}
