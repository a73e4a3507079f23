use measure::{Length, Point, Rect, Size};
use serde::{Deserialize, Serialize};

/// A drawing at its true size; whoever shows it scales it to fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// What it shows.
    pub title: String,
    /// The part of the plane that it fills.
    pub area: Rect,
    /// What is drawn, the first at the bottom.
    pub shapes: Vec<Shape>,
}

/// One thing drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A rectangle filled with grey: 0 is white, 1 is black.
    Fill(Rect, f64),
    /// A rectangle's outline.
    Outline(Rect, Pen),
    /// Straight lines from point to point; the last joins the first where `closed`.
    Path {
        /// The corners.
        points: Vec<Point>,
        /// Whether the last corner joins the first.
        closed: bool,
        /// How the line looks.
        pen: Pen,
    },
    /// Words at a point, in whatever size reads well beside the drawing.
    Label {
        /// Where.
        at: Point,
        /// The words.
        text: String,
        /// Which part of the words stands at the point.
        anchor: Anchor,
    },
    /// A line with an arrow at each end and its length beside it.
    Measure {
        /// One end.
        from: Point,
        /// The other end.
        to: Point,
        /// The length in words.
        text: String,
    },
}

/// How a line looks; told apart by weight and dashes, never by colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pen {
    /// A thin line.
    Thin,
    /// A strong line.
    Bold,
    /// A thin dashed line.
    Dashed,
}

/// Which part of a label stands at its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The left end, at half height.
    Left,
    /// The middle.
    Middle,
    /// The right end, at half height.
    Right,
}

/// How much of each cell of a picture is inked, row by row.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Tones {
    /// Cells in a row; whatever is left of a last row is not shown.
    pub columns: usize,
    /// 0 is bare, 1 is all inked.
    pub inked: Vec<f64>,
}

impl Drawing {
    pub(crate) fn new(title: impl Into<String>, size: Size) -> Self {
        let area = Rect::new(Point::default(), size);
        Self { title: title.into(), area, shapes: Vec::new() }
    }

    pub(crate) fn fill(&mut self, rect: Rect, tone: f64) {
        self.shapes.push(Shape::Fill(rect, tone));
    }

    /// Fills the whole area with a picture, its ink as dark as `darkest`, in eight tones;
    /// equal neighbours in a row become one rectangle.
    pub(crate) fn tones(&mut self, tones: &Tones, darkest: f64) {
        let columns = tones.columns.max(1);
        let rows = tones.inked.len() / columns;
        let (w, h) = (self.area.size.width / columns as f64, self.area.size.height / rows as f64);
        let tone = |inked: f64| (inked.clamp(0.0, 1.0) * 7.0).round() / 7.0;
        for (j, row) in tones.inked.chunks_exact(columns).enumerate() {
            let mut i = 0;
            for run in row.chunk_by(|a, b| tone(*a) == tone(*b)) {
                let at = self.area.origin + Point::new(w * i as f64, h * j as f64);
                if tone(run[0]) > 0.0 {
                    let size = Size::new(w * run.len() as f64, h);
                    self.fill(Rect::new(at, size), tone(run[0]) * darkest);
                }
                i += run.len();
            }
        }
    }

    pub(crate) fn outline(&mut self, rect: Rect, pen: Pen) {
        self.shapes.push(Shape::Outline(rect, pen));
    }

    pub(crate) fn line(&mut self, from: Point, to: Point, pen: Pen) {
        self.shapes.push(Shape::Path { points: vec![from, to], closed: false, pen });
    }

    pub(crate) fn label(&mut self, at: Point, text: impl Into<String>, anchor: Anchor) {
        self.shapes.push(Shape::Label { at, text: text.into(), anchor });
    }

    pub(crate) fn measure(&mut self, from: Point, to: Point, text: impl Into<String>) {
        self.shapes.push(Shape::Measure { from, to, text: text.into() });
    }
}

/// A rectangle from plain millimetres, for the drawings' own layout.
pub(crate) fn rect_mm(x: f64, y: f64, width: f64, height: f64) -> Rect {
    let origin = Point::new(Length::mm(x), Length::mm(y));
    Rect::new(origin, Size::new(Length::mm(width), Length::mm(height)))
}

/// A point from plain millimetres, for the drawings' own layout.
pub(crate) fn at_mm(x: f64, y: f64) -> Point {
    Point::new(Length::mm(x), Length::mm(y))
}
