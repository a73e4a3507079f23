use crate::model::{Kind, Model};

/// How many sheets plain rows and columns over the box around the region take, all of one kind:
/// ceil((W - o) / (p - o)) each way.
pub(crate) fn best(model: &Model) -> u32 {
    let hull = model.extent;
    let along = |length: i32, sheet: i32| {
        let step = sheet - model.overlap();
        ((length - model.overlap()).max(1) + step - 1) / step
    };
    let number = |k: &Kind| along(hull.width(), k.w) as u32 * along(hull.height(), k.h) as u32;
    model.kinds.iter().map(number).min().unwrap_or(0)
}
