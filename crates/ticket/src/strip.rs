use crate::marks::{self, Mark, Side, Text};
use shop::{Anchor, Shape, Strip};
use std::io::{self, Write};

/// Writes the exposure test strip as one film page at true size: black where light is
/// stopped. Print it as a film, unscaled.
///
/// # Errors
/// What the writer reports.
pub fn write_strip(strip: &Strip, out: &mut impl Write) -> io::Result<()> {
    let size = strip.page.area.size;
    marks::write(&strip.page.title, size, &[page(strip)], out)
}

pub(crate) fn page(strip: &Strip) -> Vec<Mark> {
    let mut marks = Vec::new();
    for shape in &strip.page.shapes {
        match shape {
            Shape::Fill(r, tone) => marks.push(Mark::Fill {
                x: r.left().to_mm(),
                y: r.top().to_mm(),
                width: r.size.width.to_mm(),
                height: r.size.height.to_mm(),
                grey: 1.0 - tone,
            }),
            Shape::Label { at, text, anchor } => marks.push(Mark::Text(Text {
                x: at.x.to_mm(),
                y: at.y.to_mm() + 0.9,
                size: 2.6,
                bold: false,
                align: match anchor {
                    Anchor::Left => Side::Left,
                    Anchor::Middle => Side::Middle,
                    Anchor::Right => Side::Right,
                },
                grey: 0.0,
                words: text.clone(),
            })),
            // A film page holds nothing else.
            Shape::Outline(..) | Shape::Path { .. } | Shape::Measure { .. } => {}
        }
    }
    marks
}
