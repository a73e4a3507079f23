use crate::model::{Cells, Kind, Model};

/// Sheets in plain rows and columns over the box around the region, one kind, same orientation:
/// ceil((W - o) / (p - o)) each way. The kind that takes the fewest, and where its sheets lie.
pub(crate) fn best(model: &Model) -> (Kind, Vec<Cells>) {
    let hull = model.hull();
    let overlap = 2 * model.half;
    let along = |length: i32, sheet: i32| {
        let step = sheet - overlap;
        i64::from((length - overlap).max(1) + step - 1) / i64::from(step)
    };
    let number = |kind: &Kind| along(hull.width(), kind.w) * along(hull.height(), kind.h);
    let Some(kind) = model.kinds.iter().copied().min_by_key(number) else {
        unreachable!("a model has kinds")
    };
    let (columns, rows) = (along(hull.width(), kind.w) as i32, along(hull.height(), kind.h) as i32);
    let mut out = Vec::new();
    for row in 0..rows {
        for column in 0..columns {
            let (x0, y0) = (hull.x0 + column * (kind.w - overlap), hull.y0 + row * (kind.h - overlap));
            out.push(Cells { x0, y0, x1: x0 + kind.w, y1: y0 + kind.h });
        }
    }
    (kind, out)
}
