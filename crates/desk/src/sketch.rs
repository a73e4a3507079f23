//! Draws a drawing of the shop's plan: black on white paper, by day and by night, since it is
//! a picture of what comes out of a printer.

use eframe::egui::{
    Align2, Color32, FontId, Painter, Pos2, Rect, Shape as Drawn, Stroke, StrokeKind, pos2, vec2,
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
    painter.rect_filled(place, 0, Color32::WHITE);
    for shape in &drawing.shapes {
        match shape {
            Shape::Fill(r, tone) => {
                let grey = Color32::from_gray(((1.0 - tone) * 255.0).round() as u8);
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
                    line(painter, &corners, *pen);
                }
                _ => {
                    painter.rect_stroke(rect(r), 0, stroke(*pen), StrokeKind::Middle);
                }
            },
            Shape::Path { points, closed, pen } => {
                let mut points: Vec<Pos2> = points.iter().copied().map(at).collect();
                if let (true, Some(first)) = (*closed, points.first().copied()) {
                    points.push(first);
                }
                line(painter, &points, *pen);
            }
            Shape::Measure { from, to, .. } => {
                let (a, b) = (at(*from), at(*to));
                painter.line_segment([a, b], stroke(Pen::Thin));
                arrow(painter, a, b);
                arrow(painter, b, a);
            }
            Shape::Label { .. } => {}
        }
    }
    let Some(font) = words else { return };
    // Words go on top of everything, each on a white ground.
    for shape in &drawing.shapes {
        match shape {
            Shape::Label { at: place, text, anchor } => {
                let align = match anchor {
                    Anchor::Left => Align2::LEFT_CENTER,
                    Anchor::Middle => Align2::CENTER_CENTER,
                    Anchor::Right => Align2::RIGHT_CENTER,
                };
                say(painter, at(*place), align, text, &font);
            }
            Shape::Measure { from, to, text } => {
                let (a, b) = (at(*from), at(*to));
                let middle = pos2((a.x + b.x) / 2.0, (a.y + b.y) / 2.0);
                say(painter, middle, Align2::CENTER_CENTER, text, &font);
            }
            _ => {}
        }
    }
}

fn say(painter: &Painter, at: Pos2, align: Align2, text: &str, font: &FontId) {
    let words = painter.layout_no_wrap(text.to_owned(), font.clone(), Color32::BLACK);
    let rect = align.anchor_size(at, words.size());
    painter.rect_filled(rect.expand(1.0), 2, Color32::WHITE);
    painter.galley(rect.min, words, Color32::BLACK);
}

fn stroke(pen: Pen) -> Stroke {
    let width = if pen == Pen::Bold { 2.5 } else { 1.0 };
    Stroke::new(width, Color32::BLACK)
}

fn line(painter: &Painter, points: &[Pos2], pen: Pen) {
    match pen {
        Pen::Dashed => painter.extend(Drawn::dashed_line(points, stroke(pen), 5.0, 4.0)),
        _ => {
            painter.add(Drawn::line(points.to_vec(), stroke(pen)));
        }
    }
}

/// A head at `to` of an arrow that comes from `from`.
fn arrow(painter: &Painter, from: Pos2, to: Pos2) {
    let along = to - from;
    if along.length() < 1.0 {
        return;
    }
    let back = to - along.normalized() * 8.0_f32.min(along.length() / 2.0);
    let aside = along.normalized().rot90() * 2.5;
    let points = vec![to, back + aside, back - aside];
    painter.add(Drawn::convex_polygon(points, Color32::BLACK, Stroke::NONE));
}
