//! Rulers along the canvas, in the job's unit, from the film's top-left corner.

use crate::desk::Desk;
use crate::theme::Palette;
use eframe::egui::epaint::TextShape;
use eframe::egui::{Align2, FontId, Rect, Stroke, Ui, pos2};
use measure::{Length, Unit};

/// Screen points between numbers, at least.
const ROOM: f64 = 60.0;

pub(crate) fn show(desk: &Desk, ui: &Ui, all: Rect, canvas: Rect) {
    let p = Palette::of(ui.ctx());
    let painter = ui.painter_at(all);
    let view = desk.canvas.eye();
    let unit = desk.job().unit;
    let from = desk.film_rect().map(|f| f.origin).unwrap_or_default();
    let top = Rect::from_min_max(all.min, pos2(all.right(), canvas.top()));
    let left = Rect::from_min_max(all.min, pos2(canvas.left(), all.bottom()));
    painter.rect_filled(top, 0, p.board);
    painter.rect_filled(left, 0, p.board);
    let line = Stroke::new(1.0, p.quiet);
    let font = FontId::proportional(11.0);
    let (step, parts) = steps(unit, view.points_per_mm);
    let zero = view.screen_from_table(from, canvas);
    let points = f64::from(step) * unit.mm() * view.points_per_mm;
    let ticks = |start: f32, end: f32, zero: f32| {
        let first = (f64::from(start - zero) / points * f64::from(parts)).floor() as i64;
        let last = (f64::from(end - zero) / points * f64::from(parts)).ceil() as i64;
        (first..=last.min(first + 4000)).map(move |i| {
            let at = zero + (i as f64 * points / f64::from(parts)) as f32;
            (at, i.rem_euclid(i64::from(parts)) == 0, i as f64 / f64::from(parts) * f64::from(step))
        })
    };
    for (x, whole, value) in ticks(canvas.left(), canvas.right(), zero.x) {
        if x < canvas.left() {
            continue;
        }
        let length = if whole { 12.0 } else { 5.0 };
        painter.line_segment([pos2(x, top.bottom() - length), pos2(x, top.bottom())], line);
        if whole {
            painter.text(
                pos2(x + 3.0, top.top() + 1.0),
                Align2::LEFT_TOP,
                number(value),
                font.clone(),
                p.quiet,
            );
        }
    }
    for (y, whole, value) in ticks(canvas.top(), canvas.bottom(), zero.y) {
        if y < canvas.top() {
            continue;
        }
        let length = if whole { 12.0 } else { 5.0 };
        painter.line_segment([pos2(left.right() - length, y), pos2(left.right(), y)], line);
        if whole {
            // Written upwards, so that long numbers have room.
            let galley = painter.layout_no_wrap(number(value), font.clone(), p.quiet);
            let at = pos2(left.left() + 1.0, y - 3.0);
            painter
                .add(TextShape::new(at, galley, p.quiet).with_angle(-std::f32::consts::FRAC_PI_2));
        }
    }
    let corner = Rect::from_min_max(all.min, canvas.min);
    painter.rect_filled(corner, 0, p.board);
    painter.text(corner.center(), Align2::CENTER_CENTER, unit.name(), font, p.text);
    painter.line_segment([corner.right_bottom(), top.right_bottom()], Stroke::new(1.0, p.hairline));
    painter
        .line_segment([corner.right_bottom(), left.right_bottom()], Stroke::new(1.0, p.hairline));
    if let Some(at) = ui.ctx().pointer_hover_pos().filter(|at| canvas.contains(*at)) {
        let mark = Stroke::new(1.5, p.accent);
        painter.line_segment([pos2(at.x, top.top()), pos2(at.x, top.bottom())], mark);
        painter.line_segment([pos2(left.left(), at.y), pos2(left.right(), at.y)], mark);
    }
}

/// Units between two numbers, and parts between them.
fn steps(unit: Unit, points_per_mm: f64) -> (f32, u32) {
    let one = Length::of(1.0, unit).to_mm() * points_per_mm;
    let choices: &[(f32, u32)] = match unit {
        Unit::In => &[
            (0.125, 4),
            (0.25, 4),
            (0.5, 8),
            (1.0, 8),
            (2.0, 4),
            (4.0, 4),
            (6.0, 6),
            (12.0, 12),
            (24.0, 12),
            (48.0, 4),
        ],
        _ => &[
            (0.1, 5),
            (0.5, 5),
            (1.0, 10),
            (2.0, 4),
            (5.0, 5),
            (10.0, 10),
            (20.0, 4),
            (50.0, 5),
            (100.0, 10),
            (200.0, 4),
            (500.0, 5),
            (1000.0, 10),
        ],
    };
    let last = (1000.0, 10);
    choices.iter().copied().find(|(step, _)| f64::from(*step) * one >= ROOM).unwrap_or(last)
}

fn number(v: f64) -> String {
    let text = format!("{v:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}
