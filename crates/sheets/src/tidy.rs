//! The same sheets, easier to tape: slid so that they share few lines and lie little on each
//! other, and clipped to the film.

use crate::cover::Cover;
use crate::link;
use crate::model::{Cells, Lay, Model};

/// What a line that sheets' edges lie on weighs, in cells of seam.
const LINE: i64 = 12;

/// Slides sheets, each as far as what it alone holds and the links allow, until nothing gets
/// tidier.
pub(crate) fn tidy(model: &Model, lays: &[Lay]) -> Vec<Lay> {
    let mut cover = Cover::with(model, lays);
    let mut lays = lays.to_vec();
    for i in 0..lays.len() {
        let inside = inside(model, lays[i], needed(&cover, i));
        shift(&mut cover, &mut lays, i, inside);
    }
    for _round in 0..6 {
        let mut moved = false;
        for i in 0..lays.len() {
            let Some(need) = needed(&cover, i) else { continue };
            let now = cost(model, &lays, i, lays[i]);
            let better = candidates(model, &lays, i, need)
                .into_iter()
                .map(|lay| (cost(model, &lays, i, lay), lay))
                .filter(|(cost, _)| *cost < now)
                .min();
            if let Some((_, lay)) = better {
                moved |= shift(&mut cover, &mut lays, i, lay);
            }
        }
        if !moved {
            break;
        }
    }
    lays
}

/// The box around what sheet `i` alone holds.
fn needed(cover: &Cover<'_>, i: usize) -> Option<Cells> {
    let mut hull: Option<Cells> = None;
    let sheet = cover.lays[i].map(|lay| cover.model.cells(lay))?;
    cover.model.held(sheet, |d| {
        if cover.holders(d) == 1 {
            let q = cover.model.demands[d];
            hull = Some(hull.map_or(q, |h| h.hull(q)));
        }
    });
    hull
}

/// The sheet slid onto the film as far as what it must hold allows.
fn inside(model: &Model, lay: Lay, need: Option<Cells>) -> Lay {
    let cells = model.cells(lay);
    let slide = |at: i32, size: i32, film: i32, need: Option<(i32, i32)>| {
        let wish = at.min(film - size).max(0);
        need.map_or(wish, |(from, to)| wish.clamp(to - size, from))
    };
    Lay {
        x: slide(lay.x, cells.width(), model.nx, need.map(|n| (n.x0, n.x1))),
        y: slide(lay.y, cells.height(), model.ny, need.map(|n| (n.y0, n.y1))),
        ..lay
    }
}

/// Moves sheet `i` unless that would take the film apart.
fn shift(cover: &mut Cover<'_>, lays: &mut [Lay], i: usize, to: Lay) -> bool {
    let model = cover.model;
    let before = lays[i];
    if to == before {
        return false;
    }
    let joined = |lays: &[Lay]| {
        let all: Vec<Cells> =
            lays.iter().map(|l| model.cells(*l)).chain(model.pinned.iter().copied()).collect();
        link::connected(&all, model.overlap())
    };
    let was_joined = joined(lays);
    lays[i] = to;
    if model.one_piece && was_joined && !joined(lays) {
        lays[i] = before;
        return false;
    }
    cover.remove(i);
    cover.add(to);
    true
}

/// Places for sheet `i` from which it holds `need`: flush with others, or overlapping them
/// exactly.
fn candidates(model: &Model, lays: &[Lay], i: usize, need: Cells) -> Vec<Lay> {
    let lay = lays[i];
    let size = model.cells(lay);
    let others = || (0..lays.len()).filter(|j| *j != i).map(|j| model.cells(lays[j]));
    let others = || others().chain(model.pinned.iter().copied());
    let overlap = model.overlap();
    let along = |low: i32, high: i32, size: i32, edges: &mut dyn Iterator<Item = (i32, i32)>| {
        let mut at = vec![low, high];
        for (start, end) in edges {
            at.extend([start, end - size, end - overlap, start + overlap - size]);
        }
        at.retain(|at| (low..=high).contains(at));
        at.sort_unstable();
        at.dedup();
        at
    };
    // Off the film there is nothing to hold.
    let low = |need: i32, size: i32| (need - size).max(0);
    let high = |need: i32, size: i32, film: i32| need.min((film - size).max(0));
    let (w, h) = (size.width(), size.height());
    let x = (low(need.x1, w), high(need.x0, w, model.nx));
    let y = (low(need.y1, h), high(need.y0, h, model.ny));
    let xs = along(x.0, x.1, w, &mut others().map(|c| (c.x0, c.x1)));
    let ys = along(y.0, y.1, h, &mut others().map(|c| (c.y0, c.y1)));
    let mut out: Vec<Lay> = xs.iter().map(|x| Lay { x: *x, ..lay }).collect();
    out.extend(ys.iter().map(|y| Lay { y: *y, ..lay }));
    if xs.len() * ys.len() <= 400 {
        out.extend(xs.iter().flat_map(|x| ys.iter().map(|y| Lay { x: *x, y: *y, ..lay })));
    }
    out
}

/// How untidy sheet `i` makes the film when it lies at `lay`.
fn cost(model: &Model, lays: &[Lay], i: usize, lay: Lay) -> i64 {
    let sheet = model.cells(lay);
    let mut own = [true; 4];
    let mut shared = 0;
    let others = (0..lays.len()).filter(|j| *j != i).map(|j| model.cells(lays[j]));
    for other in others.chain(model.pinned.iter().copied()) {
        let same = [
            sheet.x0 == other.x0,
            sheet.x1 == other.x1,
            sheet.y0 == other.y0,
            sheet.y1 == other.y1,
        ];
        for (own, same) in own.iter_mut().zip(same) {
            *own &= !same;
        }
        let across = sheet.x1.min(other.x1) - sheet.x0.max(other.x0);
        let down = sheet.y1.min(other.y1) - sheet.y0.max(other.y0);
        shared += i64::from(across.max(0)) * i64::from(down.max(0));
    }
    let lines = own.iter().filter(|own| **own).count() as i64;
    lines * LINE + shared / i64::from(model.overlap().max(1))
}

/// The cells of a sheet that lie on the film, where that leaves its links.
pub(crate) fn clip(model: &Model, lays: &[Lay]) -> Vec<Cells> {
    let whole: Vec<Cells> = lays.iter().map(|l| model.cells(*l)).collect();
    let on_film = |c: &Cells| Cells {
        x0: c.x0.max(0),
        y0: c.y0.max(0),
        x1: c.x1.min(model.nx),
        y1: c.y1.min(model.ny),
    };
    let clipped: Vec<Cells> = whole.iter().map(on_film).collect();
    let with_pins = |c: &[Cells]| c.iter().chain(&model.pinned).copied().collect::<Vec<_>>();
    let joined = |c: &[Cells]| link::connected(&with_pins(c), model.overlap());
    if model.one_piece && joined(&whole) && !joined(&clipped) { whole } else { clipped }
}
