//! Cropping by hand: the edges of the film are dragged over the whole picture. What stays
//! keeps its size and its place on the garment.

use super::drag::{grip, take};
use super::layout::Scene;
use super::model::Held;
use super::{View, keys};
use crate::action::Action;
use crate::desk::Desk;
use artwork::Crop;
use eframe::egui::{CursorIcon, PointerButton, Ui, Vec2, vec2};
use job::Edit;
use measure::{Length, Point};

/// The least that a crop keeps, in picture pixels.
const LEAST_PX: f64 = 8.0;

pub(crate) fn hands(desk: &mut Desk, scene: &Scene, ui: &Ui) {
    let (Some(laid), Some(crop)) = (scene.laid, current(desk)) else { return };
    let film = laid.upright;
    let (width, offset) = (desk.job().width, desk.job().offset);
    let handles = [
        ("left", film.left_center(), [true, false, false, false], CursorIcon::ResizeHorizontal),
        ("top", film.center_top(), [false, true, false, false], CursorIcon::ResizeVertical),
        ("right", film.right_center(), [false, false, true, false], CursorIcon::ResizeHorizontal),
        ("bottom", film.center_bottom(), [false, false, false, true], CursorIcon::ResizeVertical),
        ("top left", film.left_top(), [true, true, false, false], CursorIcon::ResizeNwSe),
        ("top right", film.right_top(), [false, true, true, false], CursorIcon::ResizeNeSw),
        ("bottom left", film.left_bottom(), [true, false, false, true], CursorIcon::ResizeNeSw),
        ("bottom right", film.right_bottom(), [false, false, true, true], CursorIcon::ResizeNwSe),
    ];
    for (name, at, edges, cursor) in handles {
        let label = format!("Crop the {name} edge");
        let response =
            take(desk, ui, grip(laid.seen(at), scene.canvas), ("crop", name), &label, cursor);
        if response.drag_started_by(PointerButton::Primary) {
            desk.canvas.held = Some(Held::Crop { crop, edges, width, offset });
        }
        if response.has_focus() {
            let by = keys::arrows(ui, response.id);
            if by != Vec2::ZERO {
                let by = by * screen_px(&scene.view, crop, width) as f32;
                if let Some(edit) = trimmed(desk, scene, crop, edges, width, offset, by) {
                    desk.ask(Action::Drag(edit));
                }
            }
        }
    }
}

/// The crop in use; all of the picture where there is none.
fn current(desk: &Desk) -> Option<Crop> {
    desk.job().art.crop.or_else(|| desk.stages.picture().map(|p| p.whole()))
}

/// Screen points that a pixel of the picture takes.
fn screen_px(view: &View, crop: Crop, width: Length) -> f64 {
    width.to_mm() / f64::from(crop.width.max(1)) * view.points_per_mm
}

/// The crop after some of its edges went along with the hand.
pub(crate) fn dragged(
    desk: &Desk,
    scene: &Scene,
    crop: Crop,
    edges: [bool; 4],
    width: Length,
    offset: Point,
    by: Vec2,
) -> Option<Edit> {
    let by = scene.laid?.along(by);
    trimmed(desk, scene, crop, edges, width, offset, by)
}

/// The same for a movement along the artwork's own sides.
fn trimmed(
    desk: &Desk,
    scene: &Scene,
    crop: Crop,
    edges: [bool; 4],
    width: Length,
    offset: Point,
    by: Vec2,
) -> Option<Edit> {
    let picture = desk.stages.picture()?;
    let px = screen_px(&scene.view, crop, width);
    let by = vec2(by.x / px as f32, by.y / px as f32).round();
    let (x, w) = along(crop.x, crop.width, picture.width, edges[0], edges[2], f64::from(by.x));
    let (y, h) = along(crop.y, crop.height, picture.height, edges[1], edges[3], f64::from(by.y));
    let new = Crop { x, y, width: w, height: h };
    let one = width / f64::from(crop.width.max(1));
    let middle = |c: u32, n: u32| f64::from(c) + f64::from(n) / 2.0;
    let right = one * (middle(new.x, new.width) - middle(crop.x, crop.width));
    let below = one * (middle(new.y, new.height) - middle(crop.y, crop.height));
    let (sin, cos) = desk.job().turn.sin_cos();
    let offset =
        Point::new(offset.x + right * cos - below * sin, offset.y + right * sin + below * cos);
    let whole = new == picture.whole();
    Some(Edit::Trim((!whole).then_some(new), one * f64::from(new.width), offset))
}

/// One direction: where the crop begins and how long it is.
fn along(start: u32, length: u32, all: u32, low: bool, high: bool, by: f64) -> (u32, u32) {
    let (mut from, mut to) = (f64::from(start), f64::from(start + length));
    if low {
        from = (from + by).clamp(0.0, (to - LEAST_PX).max(0.0));
    }
    if high {
        to = (to + by).clamp((from + LEAST_PX).min(f64::from(all)), f64::from(all));
    }
    (from as u32, (to - from) as u32)
}

#[cfg(test)]
mod tests {
    use super::along;

    #[test]
    fn an_edge_stays_inside_the_picture_and_keeps_something() {
        assert_eq!(along(10, 80, 100, true, false, -50.0), (0, 90));
        assert_eq!(along(10, 80, 100, false, true, 50.0), (10, 90));
        assert_eq!(along(10, 80, 100, true, false, 500.0), (82, 8));
        assert_eq!(along(0, 5, 5, false, true, -9.0), (0, 5));
    }
}
