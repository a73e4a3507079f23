//! Sheets in rows or columns of one height, each as wide a run as it needs: a dynamic programme
//! over the rows, greedy inside each, which is the best that rows can do.

use crate::model::{Cells, Lay, Model};

/// The fewest sheets of one purse in rows or columns.
pub(crate) fn best(model: &Model, purse: usize) -> Vec<Lay> {
    let flip = |c: &Cells| Cells { x0: c.y0, y0: c.x0, x1: c.y1, y1: c.x1 };
    let kinds = model.kinds.iter().enumerate().filter(|(_, k)| k.purse == purse);
    let (upright, sideways): (Vec<_>, Vec<_>) =
        kinds.map(|(i, k)| ((i, k.w, k.h), (i, k.h, k.w))).unzip();
    let rows = rows(&model.demands, &upright);
    let flipped: Vec<Cells> = model.demands.iter().map(flip).collect();
    let columns = self::rows(&flipped, &sideways);
    if columns.len() < rows.len() {
        columns.into_iter().map(|l| Lay { x: l.y, y: l.x, ..l }).collect()
    } else {
        rows
    }
}

/// The fewest sheets in rows. Between rows only one thing matters: the line above which all is
/// held. The next row then begins at the highest open demand.
fn rows(demands: &[Cells], sizes: &[(usize, i32, i32)]) -> Vec<Lay> {
    let mut by_left: Vec<Cells> = demands.to_vec();
    by_left.sort_by_key(|d| (d.x0, d.y0));
    let end = demands.iter().map(|d| d.y1).max().unwrap_or(0);
    // Lines reached, from the top down, with the fewest sheets to each and the last row there.
    let mut reached: std::collections::BTreeMap<i32, (usize, i32, Vec<Lay>)> =
        std::collections::BTreeMap::new();
    reached.insert(i32::MIN, (0, i32::MIN, Vec::new()));
    let mut from = i32::MIN;
    while from < end {
        let sheets = reached[&from].0;
        let open = |d: &&Cells| d.y1 > from;
        let Some(top) = by_left.iter().filter(open).map(|d| d.y0).min() else { break };
        for (kind, w, h) in sizes {
            let line = top + h;
            let mut row: Vec<Lay> = Vec::new();
            let mut covered = i32::MIN;
            for d in by_left.iter().filter(|d| d.y1 > from && d.y1 <= line) {
                if d.x1 > covered {
                    row.push(Lay { kind: *kind, x: d.x0, y: top });
                    covered = d.x0 + w;
                }
            }
            if row.is_empty() {
                continue;
            }
            let number = sheets + row.len();
            if reached.get(&line).is_none_or(|(n, ..)| number < *n) {
                reached.insert(line, (number, from, row));
            }
        }
        let Some((next, _)) = reached.range(from + 1..).next() else { break };
        from = *next;
    }
    // The cheapest line at or past the end, and back from it.
    let mut line = reached.range(end..).min_by_key(|(_, (n, ..))| *n).map(|(line, _)| *line);
    let mut out = Vec::new();
    while let Some(at) = line {
        let Some((_, before, row)) = reached.get(&at) else { break };
        out.extend(row.iter().copied());
        line = (*before != i32::MIN).then_some(*before);
    }
    out
}
