//! Draws a drawing of the shop's plan: ink on paper, by night on paper that is no brighter than
//! the safelight allows.

use crate::theme::Palette;
use eframe::egui::{
    Align2, Color32, FontId, Painter, Pos2, Rect, Shape as Drawn, Stroke, StrokeKind, vec2,
};
use measure::Point;
use shop::{Anchor, Drawing, Pen, Shape};

/// Where a drawing lies when it is as large as it can be inside a place.
pub(crate) fn fitted(drawing: &Drawing, place: Rect) -> Rect {
    let size = drawing.area.size;
    let scale = (place.width() / size.width.to_mm() as f32)
        .min(place.height() / size.height.to_mm() as f32)
        .max(0.0);
    let size = vec2(size.width.to_mm() as f32, size.height.to_mm() as f32) * scale;
    Rect::from_center_size(place.center(), size)
}

/// Paints a drawing over all of `place`; words only where they are asked for.
pub(crate) fn paint(painter: &Painter, drawing: &Drawing, place: Rect, words: Option<FontId>) {
    let area = drawing.area;
    let scale = place.width() / area.size.width.to_mm() as f32;
    let at = |p: Point| {
        let mm = p - area.origin;
        place.min + vec2(mm.x.to_mm() as f32, mm.y.to_mm() as f32) * scale
    };
    let rect =
        |r: &measure::Rect| Rect::from_two_pos(at(r.origin), at(Point::new(r.right(), r.bottom())));
    let p = Palette::of(painter.ctx());
    painter.rect_filled(place, 0, p.page);
    for shape in &drawing.shapes {
        match shape {
            Shape::Fill(r, tone) => {
                let grey = p.page.lerp_to_gamma(p.ink, *tone as f32);
                painter.rect_filled(rect(r), 0, grey);
            }
            Shape::Outline(r, pen) => match pen {
                Pen::Dashed => {
                    let r = rect(r);
                    let corners = [
                        r.left_top(),
                        r.right_top(),
                        r.right_bottom(),
                        r.left_bottom(),
                        r.left_top(),
                    ];
                    line(painter, &corners, *pen, p.ink);
                }
                _ => {
                    painter.rect_stroke(rect(r), 0, stroke(*pen, p.ink), StrokeKind::Middle);
                }
            },
            Shape::Path { points, closed, pen } => {
                let mut points: Vec<Pos2> = points.iter().copied().map(at).collect();
                if let (true, Some(first)) = (*closed, points.first().copied()) {
                    points.push(first);
                }
                line(painter, &points, *pen, p.ink);
            }
            Shape::Measure { from, to, .. } => {
                let (a, b) = (at(*from), at(*to));
                painter.line_segment([a, b], stroke(Pen::Thin, p.ink));
                arrow(painter, a, b, p.ink);
                arrow(painter, b, a, p.ink);
            }
            Shape::Label { .. } => {}
        }
    }
    let Some(font) = words else { return };
    // Words go on top of everything, each on a ground of its own, smaller on a small drawing.
    // Where there is no room for all, the first ones stay; the figures beside say the rest.
    let font = FontId { size: font.size * (place.width() / 420.0).clamp(0.6, 1.0), ..font };
    let mut taken: Vec<Rect> = Vec::new();
    let mut say = |at: Pos2, align: Align2, text: &str| {
        let words = painter.layout_no_wrap(text.to_owned(), font.clone(), p.ink);
        let rect = inside(align.anchor_size(at, words.size()), place.expand(8.0));
        if taken.iter().any(|other| other.intersects(rect)) {
            return;
        }
        painter.rect_filled(rect.expand(1.0), 2, p.page);
        painter.galley(rect.min, words, p.ink);
        taken.push(rect);
    };
    for shape in &drawing.shapes {
        match shape {
            Shape::Label { at: place, text, anchor } => {
                let align = match anchor {
                    Anchor::Left => Align2::LEFT_CENTER,
                    Anchor::Middle => Align2::CENTER_CENTER,
                    Anchor::Right => Align2::RIGHT_CENTER,
                };
                say(at(*place), align, text);
            }
            Shape::Measure { from, to, text } => {
                say(at(*from) + (at(*to) - at(*from)) / 2.0, Align2::CENTER_CENTER, text);
            }
            _ => {}
        }
    }
}

/// A rectangle moved as little as it takes to lie in a place.
fn inside(rect: Rect, place: Rect) -> Rect {
    let low = (place.min - rect.min).max(vec2(0.0, 0.0));
    let high = (place.max - rect.max).min(vec2(0.0, 0.0));
    rect.translate(low + high)
}

fn stroke(pen: Pen, ink: Color32) -> Stroke {
    let width = if pen == Pen::Bold { 2.5 } else { 1.0 };
    Stroke::new(width, ink)
}

fn line(painter: &Painter, points: &[Pos2], pen: Pen, ink: Color32) {
    match pen {
        Pen::Dashed => painter.extend(Drawn::dashed_line(points, stroke(pen, ink), 5.0, 4.0)),
        _ => {
            painter.add(Drawn::line(points.to_vec(), stroke(pen, ink)));
        }
    }
}

/// A head at `to` of an arrow that comes from `from`.
fn arrow(painter: &Painter, from: Pos2, to: Pos2, ink: Color32) {
    let along = to - from;
    if along.length() < 1.0 {
        return;
    }
    let back = to - along.normalized() * 8.0_f32.min(along.length() / 2.0);
    let aside = along.normalized().rot90() * 2.5;
    let points = vec![to, back + aside, back - aside];
    painter.add(Drawn::convex_polygon(points, ink, Stroke::NONE));
}
