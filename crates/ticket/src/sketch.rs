use crate::marks::{Mark, Side, Text, width};
use crate::pager::{Pager, SMALL};
use measure::{Point, Rect};
use shop::{Anchor, Drawing, Pen, Shape};

/// How high a drawing becomes in a box of this width and at most this height.
pub(crate) fn height(drawing: &Drawing, width: f64, most: f64) -> f64 {
    let size = drawing.area.size;
    (width * (size.height / size.width)).min(most)
}

/// Draws a drawing as large as it fits into a box, in the middle of its width.
pub(crate) fn sketch(pager: &mut Pager, drawing: &Drawing, x: f64, y: f64, room: f64, tall: f64) {
    let area = drawing.area;
    let scale = (room / area.size.width.to_mm()).min(tall / area.size.height.to_mm());
    let x = x + (room - area.size.width.to_mm() * scale) / 2.0;
    let at = |p: Point| {
        ((p.x - area.left()).to_mm() * scale + x, (p.y - area.top()).to_mm() * scale + y)
    };
    let corner =
        |r: Rect| (at(r.origin), r.size.width.to_mm() * scale, r.size.height.to_mm() * scale);
    // Words go on top of everything, each on a white ground.
    let mut words: Vec<Text> = Vec::new();
    let mut label = |(x, y): (f64, f64), align, text: &str| {
        let y = y + SMALL * 0.35;
        let words_of = text.to_owned();
        words.push(Text { x, y, size: SMALL, bold: false, align, grey: 0.0, words: words_of });
    };
    for shape in &drawing.shapes {
        match shape {
            Shape::Fill(r, tone) => {
                let ((x, y), width, height) = corner(*r);
                pager.mark(Mark::Fill { x, y, width, height, grey: 1.0 - tone });
            }
            Shape::Outline(r, pen) => {
                let end = Point::new(r.right(), r.bottom());
                let across = Point::new(r.right(), r.top());
                let down = Point::new(r.left(), r.bottom());
                let points = [r.origin, across, end, down, r.origin].map(at).to_vec();
                pager.mark(stroke(points, *pen));
            }
            Shape::Path { points, closed, pen } => {
                let mut points: Vec<(f64, f64)> = points.iter().copied().map(at).collect();
                if let (true, Some(&first)) = (*closed, points.first()) {
                    points.push(first);
                }
                pager.mark(stroke(points, *pen));
            }
            Shape::Label { at: place, text, anchor } => {
                let align = match anchor {
                    Anchor::Left => Side::Left,
                    Anchor::Middle => Side::Middle,
                    Anchor::Right => Side::Right,
                };
                label(at(*place), align, text);
            }
            Shape::Measure { from, to, text } => {
                let (a, b) = (at(*from), at(*to));
                pager.mark(Mark::Line { points: vec![a, b], thick: 0.15, dash: 0.0 });
                arrow(pager, b, a);
                arrow(pager, a, b);
                label(((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0), Side::Middle, text);
            }
        }
    }
    for text in words {
        let (left, right) = text.span();
        pager.mark(Mark::Fill {
            x: left - 0.4,
            y: text.y - SMALL * 0.85,
            width: right - left + 0.8,
            height: SMALL * 1.15,
            grey: 1.0,
        });
        pager.mark(Mark::Text(text));
    }
}

fn stroke(points: Vec<(f64, f64)>, pen: Pen) -> Mark {
    let (thick, dash) = match pen {
        Pen::Thin => (0.2, 0.0),
        Pen::Bold => (0.6, 0.0),
        Pen::Dashed => (0.2, 1.4),
    };
    Mark::Line { points, thick, dash }
}

/// A head at `to` of an arrow that comes from `from`.
fn arrow(pager: &mut Pager, from: (f64, f64), to: (f64, f64)) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    if length < 1e-6 {
        return;
    }
    let (dx, dy) = (dx / length, dy / length);
    let (back, half) = (2.2_f64.min(length / 2.0), 0.6);
    let base = (to.0 - dx * back, to.1 - dy * back);
    pager.mark(Mark::Polygon(vec![
        to,
        (base.0 - dy * half, base.1 + dx * half),
        (base.0 + dy * half, base.1 - dx * half),
    ]));
}

/// The size of text, at most `size`, at which words are no wider than `room`.
pub(crate) fn fitting(words: &str, size: f64, bold: bool, room: f64) -> f64 {
    let wide = width(words, size, bold);
    if wide > room { size * room / wide } else { size }
}
