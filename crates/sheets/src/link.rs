//! One piece: sheets slid so that each is linked to the others.
//!
//! A sheet may be slid as far as it goes on holding the demands it owns. A link is a bound on how
//! far two sheets lie apart, each way for itself, so that along a tree of links the ranges left
//! to all sheets follow by passing bounds on until nothing changes.

use crate::cover::Cover;
use crate::model::{Cells, Lay, MOST_SHEETS, Model};
use std::collections::VecDeque;

/// Whether sheets hang together.
pub(crate) fn connected(sheets: &[Cells], overlap: i32) -> bool {
    components(sheets, overlap).iter().all(|c| *c == 0)
}

/// For each sheet the lowest number of the sheets it hangs together with.
pub(crate) fn components(sheets: &[Cells], overlap: i32) -> Vec<usize> {
    let mut of = vec![usize::MAX; sheets.len()];
    for start in 0..sheets.len() {
        if of[start] != usize::MAX {
            continue;
        }
        of[start] = start;
        let mut queue = VecDeque::from([start]);
        while let Some(i) = queue.pop_front() {
            for j in 0..sheets.len() {
                if of[j] == usize::MAX && sheets[i].linked(sheets[j], overlap) {
                    of[j] = start;
                    queue.push_back(j);
                }
            }
        }
    }
    of
}

/// The ranges of places left to a sheet: of its left edge and of its top edge.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Room {
    size: [i32; 2],
    low: [i32; 2],
    high: [i32; 2],
}

/// Slides sheets until all hang together with each other and the pinned ones. `free` says how
/// many at the end of `lays` need hold nothing.
pub(crate) fn join(model: &Model, lays: &[Lay], free: usize) -> Option<Vec<Lay>> {
    let sheets: Vec<Cells> = lays.iter().map(|l| model.cells(*l)).collect();
    let bound = lays.len() - free;
    let owned = owned(model, &sheets[..bound]);
    // Far enough for every chain of sheets that is worth its while.
    let all = sheets.iter().chain(&model.pinned).copied().reduce(Cells::hull)?;
    let mut rooms: Vec<Room> = Vec::new();
    for (i, sheet) in sheets.iter().enumerate() {
        let size = [sheet.width(), sheet.height()];
        let hull = if i < bound { owned[i] } else { None };
        rooms.push(match hull {
            Some(q) => Room { size, low: [q.x1 - size[0], q.y1 - size[1]], high: [q.x0, q.y0] },
            None => {
                Room { size, low: [all.x0 - size[0], all.y0 - size[1]], high: [all.x1, all.y1] }
            }
        });
    }
    for pin in &model.pinned {
        let at = [pin.x0, pin.y0];
        rooms.push(Room { size: [pin.width(), pin.height()], low: at, high: at });
    }
    let overlap = model.overlap();
    let placed: Vec<Cells> = sheets.iter().chain(&model.pinned).copied().collect();
    let (rooms, links) = bridge(rooms.clone(), &placed, overlap).or_else(|| {
        let (mut tries, mut links) = (200, Vec::new());
        let rooms = grow(rooms, &mut vec![0], &mut links, overlap, &mut tries)?;
        Some((rooms, links))
    })?;
    let at = settle(rooms, &links, lays, overlap)?;
    let out = lays.iter().zip(at).map(|(l, [x, y])| Lay { x, y, ..*l }).collect();
    Some(out)
}

/// Lays chains of more sheets, all of one purse, between what is apart, the shortest first.
pub(crate) fn chain(model: &Model, lays: &[Lay], purse: usize) -> Option<Vec<Lay>> {
    let overlap = model.overlap();
    let mut out = lays.to_vec();
    let mut sheets: Vec<Cells> = lays.iter().map(|l| model.cells(*l)).collect();
    sheets.extend(&model.pinned);
    loop {
        let of = components(&sheets, overlap);
        // With more than are ever planned the plan is refused.
        if of.iter().all(|c| *c == 0) || out.len() as u64 > MOST_SHEETS {
            return Some(out);
        }
        let mut best: Option<Vec<Lay>> = None;
        for i in 0..sheets.len() {
            for j in (i + 1..sheets.len()).filter(|j| of[i] != of[*j]) {
                for kind in (0..model.kinds.len()).filter(|k| model.kinds[*k].purse == purse) {
                    let links = between(model, kind, sheets[i], sheets[j]);
                    if best.as_ref().is_none_or(|b| links.len() < b.len()) {
                        best = Some(links);
                    }
                }
            }
        }
        let links = best?;
        sheets.extend(links.iter().map(|l| model.cells(*l)));
        out.extend(links);
    }
}

/// Takes away every sheet that is not needed: the others, slid, hold all and hang together.
pub(crate) fn spared(model: &Model, mut lays: Vec<Lay>) -> Vec<Lay> {
    let mut at = lays.len();
    let mut since = 0;
    // Round and round from the end, where chains lie, until none can go.
    while since < lays.len() {
        at = at.checked_sub(1).unwrap_or(lays.len() - 1).min(lays.len() - 1);
        let mut rest = lays.clone();
        rest.remove(at);
        let holds_all = Cover::with(model, &rest).open.is_empty();
        match holds_all.then(|| join(model, &rest, 0)).flatten() {
            Some(fewer) => {
                lays = fewer;
                since = 0;
            }
            None => since += 1,
        }
    }
    lays
}

/// The shortest chain of sheets of one kind that links `a` to `b`, neither of them narrower than
/// the overlap.
fn between(model: &Model, kind: usize, a: Cells, b: Cells) -> Vec<Lay> {
    let overlap = model.overlap();
    let k = model.kinds[kind];
    // From where to where along one axis the chain goes: it begins where a sheet is linked to
    // `a` and ends where one is linked to `b`.
    let ends = |size: i32, a: (i32, i32), b: (i32, i32)| {
        let linked = |s: (i32, i32)| (s.0 + overlap - size, s.1 - overlap);
        let (a, b) = (linked(a), linked(b));
        if a.1 < b.0 {
            (a.1, b.0)
        } else if b.1 < a.0 {
            (a.0, b.1)
        } else {
            let middle = i32::midpoint(a.0.max(b.0), a.1.min(b.1));
            (middle, middle)
        }
    };
    let x = ends(k.w, (a.x0, a.x1), (b.x0, b.x1));
    let y = ends(k.h, (a.y0, a.y1), (b.y0, b.y1));
    let steps = |ends: (i32, i32), size: i32| {
        (ends.1 - ends.0).unsigned_abs().div_ceil((size - overlap) as u32)
    };
    let steps = steps(x, k.w).max(steps(y, k.h)).min(MOST_SHEETS as u32) as i32;
    let at = |ends: (i32, i32), i: i32| {
        ends.0 + (i64::from(ends.1 - ends.0) * i64::from(i) / i64::from(steps.max(1))) as i32
    };
    (0..=steps).map(|i| Lay { kind, x: at(x, i), y: at(y, i) }).collect()
}

/// The box around the demands that each sheet owns: those it alone holds, and of the others
/// those that grow its box the least.
fn owned(model: &Model, sheets: &[Cells]) -> Vec<Option<Cells>> {
    let mut holders: Vec<Vec<u16>> = vec![Vec::new(); model.demands.len()];
    for (i, sheet) in sheets.iter().enumerate() {
        model.held(*sheet, |d| holders[d].push(i as u16));
    }
    let mut out: Vec<Option<Cells>> = vec![None; sheets.len()];
    let join = |out: &mut Option<Cells>, q: Cells| *out = Some(out.map_or(q, |o| o.hull(q)));
    for (q, by) in model.demands.iter().zip(&holders) {
        if let [only] = by[..] {
            join(&mut out[usize::from(only)], *q);
        }
    }
    for (q, by) in model.demands.iter().zip(&holders).filter(|(_, by)| by.len() > 1) {
        let growth = |i: &u16| {
            let Some(o) = out[usize::from(*i)] else { return i64::MAX };
            let area = |c: Cells| i64::from(c.width()) * i64::from(c.height());
            area(o.hull(*q)) - area(o)
        };
        if let Some(owner) = by.iter().copied().min_by_key(|i| (growth(i), *i)) {
            join(&mut out[usize::from(owner)], *q);
        }
    }
    out
}

/// Rooms and the links that narrowed them.
type Linked = (Vec<Room>, Vec<(usize, usize)>);

/// Keeps a tree of the links that there are, and adds one at a time between what is apart, the
/// easiest first.
fn bridge(mut rooms: Vec<Room>, placed: &[Cells], overlap: i32) -> Option<Linked> {
    let mut of: Vec<usize> = (0..rooms.len()).collect();
    let mut links = Vec::new();
    let merge = |of: &mut Vec<usize>, i: usize, j: usize| {
        let (a, b) = (of[i], of[j]);
        of.iter_mut().filter(|c| **c == b).for_each(|c| *c = a);
    };
    let pairs = |rooms: &[Room], of: &[usize]| {
        let mut out = Vec::new();
        for i in 0..rooms.len() {
            for j in (i + 1..rooms.len()).filter(|j| of[i] != of[*j]) {
                let apart = apart(&rooms[i], &rooms[j], overlap);
                if apart[0] >= 0 && apart[1] >= 0 {
                    out.push((std::cmp::Reverse(apart[0].min(apart[1])), i, j));
                }
            }
        }
        out.sort_unstable();
        out
    };
    for (_, i, j) in pairs(&rooms, &of) {
        if of[i] != of[j] && placed[i].linked(placed[j], overlap) {
            links.push((i, j));
            merge(&mut of, i, j);
        }
    }
    if !narrow(&mut rooms, &links, overlap) {
        return None;
    }
    while of.iter().any(|c| *c != of[0]) {
        let (i, j, next) = pairs(&rooms, &of).into_iter().find_map(|(_, i, j)| {
            let mut next = rooms.clone();
            links.push((i, j));
            let fits = narrow(&mut next, &links, overlap);
            links.pop();
            fits.then_some((i, j, next))
        })?;
        links.push((i, j));
        merge(&mut of, i, j);
        rooms = next;
    }
    Some((rooms, links))
}

/// Links one more sheet to those `inside` until none is left; the nearest first.
fn grow(
    rooms: Vec<Room>,
    inside: &mut Vec<usize>,
    links: &mut Vec<(usize, usize)>,
    overlap: i32,
    tries: &mut u32,
) -> Option<Vec<Room>> {
    if inside.len() == rooms.len() {
        return Some(rooms);
    }
    let mut pairs = Vec::new();
    for i in inside.iter().copied() {
        for j in (0..rooms.len()).filter(|j| !inside.contains(j)) {
            let apart = apart(&rooms[i], &rooms[j], overlap);
            if apart[0] >= 0 && apart[1] >= 0 {
                pairs.push((std::cmp::Reverse(apart[0].min(apart[1])), i, j));
            }
        }
    }
    pairs.sort_unstable();
    for (_, i, j) in pairs {
        *tries = tries.checked_sub(1)?;
        let mut next = rooms.clone();
        links.push((i, j));
        if narrow(&mut next, links, overlap) {
            inside.push(j);
            if let Some(found) = grow(next, inside, links, overlap, tries) {
                return Some(found);
            }
            inside.pop();
        }
        links.pop();
    }
    None
}

/// How much more than the overlap two sheets can share each way; negative where they cannot.
fn apart(a: &Room, b: &Room, overlap: i32) -> [i32; 2] {
    std::array::from_fn(|k| {
        let reach = |p: &Room, q: &Room| p.high[k] + p.size[k] - q.low[k] - overlap;
        reach(a, b).min(reach(b, a))
    })
}

/// Passes bounds along the links until nothing changes; `false` where no room is left.
fn narrow(rooms: &mut [Room], links: &[(usize, usize)], overlap: i32) -> bool {
    loop {
        let mut changed = false;
        for (a, b) in links {
            for (i, j) in [(*a, *b), (*b, *a)] {
                for k in 0..2 {
                    // i ends at least an overlap after j begins, and begins one before j ends.
                    let low = rooms[j].low[k] + overlap - rooms[i].size[k];
                    let high = rooms[j].high[k] + rooms[j].size[k] - overlap;
                    let room = &mut rooms[i];
                    if room.low[k] < low {
                        room.low[k] = low;
                        changed = true;
                    }
                    if room.high[k] > high {
                        room.high[k] = high;
                        changed = true;
                    }
                    if room.low[k] > room.high[k] {
                        return false;
                    }
                }
            }
        }
        if !changed {
            return true;
        }
    }
}

/// Settles each sheet as near to where it lay as the others allow.
fn settle(
    mut rooms: Vec<Room>,
    links: &[(usize, usize)],
    lays: &[Lay],
    overlap: i32,
) -> Option<Vec<[i32; 2]>> {
    for (i, lay) in lays.iter().enumerate() {
        for (k, wish) in [lay.x, lay.y].into_iter().enumerate() {
            let at = wish.clamp(rooms[i].low[k], rooms[i].high[k]);
            (rooms[i].low[k], rooms[i].high[k]) = (at, at);
            if !narrow(&mut rooms, links, overlap) {
                return None;
            }
        }
    }
    Some(rooms[..lays.len()].iter().map(|r| r.low).collect())
}
