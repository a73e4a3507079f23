use film::{Align, BOLD, Canvas, Face, Page, Pdf, REGULAR};
use measure::{Length, Size};
use std::io::{self, Write};

/// One thing on a page. Numbers are millimetres from the page's top-left corner; greys run
/// from 0, black, to 1, white.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Mark {
    /// A filled rectangle.
    Fill { x: f64, y: f64, width: f64, height: f64, grey: f64 },
    /// The outline of a rectangle.
    Outline { x: f64, y: f64, width: f64, height: f64, thick: f64 },
    /// Straight lines from point to point, dashed where `dash` is not nought.
    Line { points: Vec<(f64, f64)>, thick: f64, dash: f64 },
    /// A filled outline.
    Polygon(Vec<(f64, f64)>),
    /// Words on a baseline.
    Text(Text),
}

/// Words on a baseline.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Text {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) size: f64,
    pub(crate) bold: bool,
    pub(crate) align: Side,
    pub(crate) grey: f64,
    pub(crate) words: String,
}

/// Which end of the words stands at their place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    Left,
    Middle,
    Right,
}

impl Text {
    /// The left and right end of the words.
    pub(crate) fn span(&self) -> (f64, f64) {
        let width = width(&self.words, self.size, self.bold);
        match self.align {
            Side::Left => (self.x, self.x + width),
            Side::Middle => (self.x - width / 2.0, self.x + width / 2.0),
            Side::Right => (self.x - width, self.x),
        }
    }
}

fn face(bold: bool) -> &'static Face {
    if bold { &BOLD } else { &REGULAR }
}

/// How wide words are, in mm.
pub(crate) fn width(words: &str, size: f64, bold: bool) -> f64 {
    face(bold).width(words, size)
}

/// The words in lines no wider than `room`, broken between words, or inside one that alone
/// is wider.
pub(crate) fn wrap(words: &str, size: f64, bold: bool, room: f64) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in words.split_whitespace() {
        let line = lines.last().cloned().unwrap_or_default();
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if width(&longer, size, bold) <= room {
            lines.pop();
            lines.push(longer);
            continue;
        }
        if line.is_empty() {
            lines.pop();
        }
        let mut piece = String::new();
        for c in word.chars() {
            piece.push(c);
            if width(&piece, size, bold) > room && piece.chars().count() > 1 {
                piece.pop();
                lines.push(std::mem::take(&mut piece));
                piece.push(c);
            }
        }
        lines.push(piece);
    }
    lines
}

/// Writes pages of marks as a PDF file.
pub(crate) fn write(
    title: &str,
    size: Size,
    pages: &[Vec<Mark>],
    out: &mut impl Write,
) -> io::Result<()> {
    let mut pdf = Pdf::new(title);
    for (n, marks) in pages.iter().enumerate() {
        let mut canvas = Canvas::default();
        // From millimetres that run down to PDF's points that run up.
        let scale = Length::mm(1.0).to_pt();
        canvas.within([scale, 0.0, 0.0, -scale, 0.0, size.height.to_pt()], |c| {
            for mark in marks {
                paint(c, mark);
            }
        });
        let label = (n + 1).to_string();
        pdf.add(Page { size, label, content: canvas.finish(), images: vec![] });
    }
    pdf.finish(out)?;
    Ok(())
}

fn paint(c: &mut Canvas, mark: &Mark) {
    match mark {
        Mark::Fill { x, y, width, height, grey } => {
            c.grey(*grey);
            c.rect(*x, *y, *width, *height);
        }
        Mark::Outline { x, y, width, height, thick } => {
            c.grey(0.0);
            c.outline(*x, *y, *width, *height, *thick);
        }
        Mark::Line { points, thick, dash } => {
            c.grey(0.0);
            if *dash > 0.0 {
                c.dashed(points, *thick, *dash);
            } else {
                c.line(points, *thick);
            }
        }
        Mark::Polygon(points) => {
            c.grey(0.0);
            c.polygon(points);
        }
        Mark::Text(t) => {
            c.grey(t.grey);
            let align = match t.align {
                Side::Left => Align::Left,
                Side::Middle => Align::Center,
                Side::Right => Align::Right,
            };
            c.text(face(t.bold), t.size, (t.x, t.y), align, &t.words);
        }
    }
}
