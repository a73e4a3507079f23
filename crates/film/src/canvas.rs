use crate::font::Face;
use std::io::Write;

/// Writes a PDF content stream in a frame whose `y` runs down, by PDF's drawing operators
/// (ISO 32000-1, Annex A). One number is one unit of the frame set by [`Canvas::within`].
#[derive(Default)]
pub struct Canvas {
    out: Vec<u8>,
}

/// From a frame to another: `x' = a x + c y + e`, `y' = b x + d y + f`.
pub type Matrix = [f64; 6];

/// Where a text stands against the place it is given.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Its left end stands there.
    Left,
    /// Its middle stands there.
    Center,
    /// Its right end stands there.
    Right,
}

impl Canvas {
    /// Draws in another frame, then comes back to this one with all its settings.
    pub fn within(&mut self, matrix: Matrix, draw: impl FnOnce(&mut Self)) {
        self.out.extend(b"q\n");
        self.op(&matrix, "cm");
        draw(self);
        self.out.extend(b"Q\n");
    }

    /// The same, with the matrix written to nine decimals: one that differs from a plain scale
    /// by a small share only would lose that share's last places.
    pub(crate) fn finely_within(&mut self, matrix: Matrix, draw: impl FnOnce(&mut Self)) {
        self.out.extend(b"q\n");
        for n in matrix {
            let _ = write!(self.out, "{n:.9} ");
        }
        self.out.extend(b"cm\n");
        draw(self);
        self.out.extend(b"Q\n");
    }

    /// The grey of fills and lines: 0 is ink, 1 clear.
    pub fn grey(&mut self, grey: f64) {
        self.op(&[grey], "g");
        self.op(&[grey], "G");
    }

    /// Draws what another canvas has drawn.
    pub(crate) fn extend(&mut self, other: Self) {
        self.out.extend(other.out);
    }

    /// A filled rectangle.
    pub fn rect(&mut self, x: f64, y: f64, width: f64, height: f64) {
        self.op(&[x, y, width, height], "re");
        self.op(&[], "f");
    }

    /// The outline of a rectangle.
    pub fn outline(&mut self, x: f64, y: f64, width: f64, height: f64, thick: f64) {
        self.op(&[thick], "w");
        self.op(&[x, y, width, height], "re");
        self.op(&[], "S");
    }

    /// Straight lines from point to point.
    pub fn line(&mut self, points: &[(f64, f64)], thick: f64) {
        self.op(&[thick], "w");
        self.path(points);
        self.op(&[], "S");
    }

    /// A line of dashes, each as long as the gap after it.
    pub fn dashed(&mut self, points: &[(f64, f64)], thick: f64, dash: f64) {
        self.out.push(b'[');
        self.number(dash);
        self.out.extend(b"] 0 d\n");
        self.line(points, thick);
        self.out.extend(b"[] 0 d\n");
    }

    /// A filled outline.
    pub fn polygon(&mut self, points: &[(f64, f64)]) {
        self.path(points);
        self.op(&[], "f");
    }

    /// A text whose baseline begins (or is centred, or ends) at `x, y`.
    pub fn text(&mut self, face: &Face, size: f64, at: (f64, f64), align: Align, text: &str) {
        let shift = match align {
            Align::Left => 0.0,
            Align::Center => face.width(text, size) / 2.0,
            Align::Right => face.width(text, size),
        };
        self.out.extend(b"BT\n/");
        self.out.extend(face.name.as_bytes());
        self.out.push(b' ');
        self.op(&[size], "Tf");
        self.op(&[1.0, 0.0, 0.0, -1.0, at.0 - shift, at.1], "Tm");
        let _ = writeln!(self.out, "<{}> Tj\nET", face.glyphs(text));
    }

    /// Paints an image of the page's resources over the unit square of the current frame,
    /// whose `y` must run up.
    pub fn image(&mut self, name: &str) {
        let _ = writeln!(self.out, "/{name} Do");
    }

    /// The operators written so far.
    pub fn finish(self) -> Vec<u8> {
        self.out
    }

    fn path(&mut self, points: &[(f64, f64)]) {
        for (n, (x, y)) in points.iter().enumerate() {
            self.op(&[*x, *y], if n == 0 { "m" } else { "l" });
        }
    }

    fn op(&mut self, numbers: &[f64], name: &str) {
        for n in numbers {
            self.number(*n);
            self.out.push(b' ');
        }
        self.out.extend(name.as_bytes());
        self.out.push(b'\n');
    }

    /// Six decimals: a page of 14,400 pt then stands to a millionth of a point.
    fn number(&mut self, n: f64) {
        let text = format!("{n:.6}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        self.out.extend(if text == "-0" { "0" } else { text }.as_bytes());
    }
}
