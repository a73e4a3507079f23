//! Turning the artwork: a handle off its upper edge, which catches on the usual angles.

use super::drag::take;
use super::layout::Scene;
use super::model::Held;
use super::paint::tag;
use super::{keys, laid::Laid};
use crate::action::Action;
use crate::desk::Desk;
use crate::theme::Palette;
use eframe::egui::{
    Align2, CursorIcon, Painter, PointerButton, Pos2, Rect, Shape, Stroke, Ui, Vec2, vec2,
};
use job::Edit;
use measure::Angle;

/// The handle's name.
const LABEL: &str = "Turn the artwork";
/// Angles a multiple of this catch, in degrees, when they are this near.
const CATCH: (f64, f64) = (15.0, 3.0);

pub(crate) fn hands(desk: &mut Desk, scene: &Scene, ui: &Ui) {
    let Some(laid) = scene.laid.filter(|_| scene.moves_artwork) else { return };
    let (at, _) = laid.handle(scene.canvas);
    let grip = Rect::from_center_size(at, Vec2::splat(28.0));
    let response = take(desk, ui, grip, "turn", LABEL, CursorIcon::Grab);
    if response.drag_started_by(PointerButton::Primary) {
        desk.canvas.held = Some(Held::Turn { turn: desk.job().turn });
    }
    if response.double_clicked() {
        desk.ask(Action::Edit(Edit::Turn(Angle::ZERO)));
    }
    if response.has_focus() {
        let by = keys::arrows(ui, response.id);
        if by != Vec2::ZERO {
            let degrees = desk.job().turn.to_deg() + f64::from(by.x + by.y);
            desk.ask(Action::Drag(Edit::Turn(plain(degrees))));
        }
    }
}

/// The turn after the hand went from one place to another about the artwork's middle.
pub(crate) fn dragged(desk: &Desk, laid: &Laid, turn: Angle, from: Pos2, to: Pos2) -> Edit {
    let middle = laid.middle();
    let way = f64::from((to - middle).angle() - (from - middle).angle()).to_degrees();
    let degrees = turn.to_deg() + way;
    Edit::Turn(plain(if desk.canvas.snapping { caught(degrees) } else { tenths(degrees) }))
}

/// An angle from more than -180 to 180 degrees.
pub(crate) fn plain(degrees: f64) -> Angle {
    let turn = degrees.rem_euclid(360.0);
    Angle::deg(if turn > 180.0 { turn - 360.0 } else { turn })
}

fn caught(degrees: f64) -> f64 {
    let nearest = (degrees / CATCH.0).round() * CATCH.0;
    if (degrees - nearest).abs() <= CATCH.1 { nearest } else { tenths(degrees) }
}

fn tenths(degrees: f64) -> f64 {
    (degrees * 10.0).round() / 10.0
}

/// The angle as it is said.
pub(crate) fn said(turn: Angle) -> String {
    format!("{}°", (turn.to_deg() * 100.0).round() / 100.0)
}

/// The handle: an arrow that goes round, on a stalk.
pub(crate) fn paint(desk: &Desk, scene: &Scene, laid: &Laid, painter: &Painter, p: &Palette) {
    let (at, top) = laid.handle(scene.canvas);
    painter.line_segment([top, at], Stroke::new(3.5, p.paper.gamma_multiply(0.8)));
    painter.line_segment([top, at], Stroke::new(1.5, p.accent));
    painter.circle(at, 10.0, p.paper, Stroke::new(2.0, p.accent));
    let on = |degrees: f32| at + Vec2::angled(degrees.to_radians()) * 5.5;
    let arc: Vec<Pos2> = (0..=24).map(|i| on(-160.0 + 250.0 * i as f32 / 24.0)).collect();
    let line = Stroke::new(1.5, p.accent);
    painter.add(Shape::line(arc, line));
    let end = on(90.0);
    painter.line_segment([end, end + vec2(3.5, -2.5)], line);
    painter.line_segment([end, end + vec2(3.0, 3.0)], line);
    let near = painter.ctx().pointer_hover_pos().is_some_and(|hand| hand.distance(at) < 16.0);
    if near || matches!(desk.canvas.held, Some(Held::Turn { .. })) {
        let text = format!("turned {}", said(desk.job().turn));
        tag(painter, at + vec2(16.0, 0.0), Align2::LEFT_CENTER, &text, p);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_near_the_usual_ones_are_caught() {
        for (hand, got) in
            [(2.9, 0.0), (-2.9, 0.0), (12.2, 15.0), (88.0, 90.0), (-43.0, -45.0), (37.44, 37.4)]
        {
            assert!((caught(hand) - got).abs() < 1e-9, "{hand}");
        }
        for (degrees, got) in [(0.0, 0.0), (360.0, 0.0), (190.0, -170.0), (-180.0, 180.0)] {
            assert_eq!(plain(degrees), Angle::deg(got));
        }
    }
}
