//! Places too fine for the mesh: rings about lines, squares about gaps, and a label at the one
//! looked at.

use super::layout::Scene;
use super::paint::tag;
use crate::desk::Desk;
use crate::panels::described;
use crate::step::Step;
use crate::theme::Palette;
use artwork::FinePlace;
use eframe::egui::{Align2, Painter, Pos2, Rect, Stroke, StrokeKind, Vec2, vec2};

/// How large the mark of the place looked at is at least, and that of any other, in points.
const LEAST: (f32, f32) = (22.0, 7.0);
/// Marks drawn at most; more would only hide the film.
const MOST: usize = 1500;

pub(crate) fn paint(desk: &Desk, scene: &Scene, painter: &Painter, p: &Palette) {
    if desk.step != Step::Film || desk.canvas.cropping {
        return;
    }
    let Some(found) = desk.fine_places() else { return };
    let on_screen = |place: &FinePlace| {
        let at = scene.view.screen_from_table(desk.fine_on_table(place)?, scene.canvas);
        scene.canvas.contains(at).then_some(at)
    };
    let radius = |place: &FinePlace, least: f32| {
        least.max((place.width.to_mm() * scene.view.points_per_mm) as f32 * 1.5)
    };
    let others = found.places.iter().filter_map(|place| Some((place, on_screen(place)?)));
    for (place, at) in others.take(MOST) {
        mark(painter, at, radius(place, LEAST.1), place.ink, 1.0, p);
    }
    let Some(place) = desk.fine_place() else { return };
    let Some(at) = on_screen(&place) else { return };
    let radius = radius(&place, LEAST.0);
    mark(painter, at, radius, place.ink, 2.5, p);
    tag(painter, at + vec2(radius + 8.0, 0.0), Align2::LEFT_CENTER, &described(&place), p);
}

/// Two lines in one, to be seen on ink and on clear; a ring for ink and a square for a gap.
pub(super) fn mark(painter: &Painter, at: Pos2, radius: f32, ink: bool, width: f32, p: &Palette) {
    for stroke in [Stroke::new(width + 2.5, p.paper), Stroke::new(width, p.wrong)] {
        if ink {
            painter.circle_stroke(at, radius, stroke);
        } else {
            let square = Rect::from_center_size(at, Vec2::splat(2.0 * radius));
            painter.rect_stroke(square, 0, stroke, StrokeKind::Middle);
        }
    }
}
