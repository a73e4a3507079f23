use crate::marks::{Mark, Side, Text, wrap};
use measure::{Length, Size, Unit};

/// The paper of a home printer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4, 210 × 297 mm.
    A4,
    /// ANSI A, 8.5 × 11 in.
    #[default]
    Letter,
}

impl Paper {
    /// The paper at hand where a unit is used.
    pub const fn usual(unit: Unit) -> Self {
        match unit {
            Unit::Mm | Unit::Cm => Self::A4,
            Unit::In | Unit::Pt => Self::Letter,
        }
    }

    /// Width and height, upright.
    pub const fn size(self) -> Size {
        match self {
            Self::A4 => Size::new(Length::mm(210.0), Length::mm(297.0)),
            Self::Letter => Size::new(Length::inches(8.5), Length::inches(11.0)),
        }
    }
}

/// What no home printer prints on, with room for a punch.
pub(crate) const MARGIN: f64 = 15.0;

/// Sizes of text in mm: 8.5, 7 and 13 pt.
pub(crate) const BODY: f64 = 3.0;
pub(crate) const SMALL: f64 = 2.47;
pub(crate) const HEADING: f64 = 4.6;

/// Fills pages from the top to the bottom.
pub(crate) struct Pager {
    pages: Vec<Vec<Mark>>,
    width: f64,
    height: f64,
    /// Where the next thing goes.
    pub(crate) y: f64,
}

impl Pager {
    pub(crate) fn new(paper: Paper) -> Self {
        let size = paper.size();
        let (width, height) = (size.width.to_mm(), size.height.to_mm());
        Self { pages: vec![vec![]], width, height, y: MARGIN }
    }

    pub(crate) fn left(&self) -> f64 {
        MARGIN
    }
    pub(crate) fn right(&self) -> f64 {
        self.width - MARGIN
    }
    /// The width between the margins.
    pub(crate) fn room(&self) -> f64 {
        self.width - 2.0 * MARGIN
    }
    /// The last place for anything but the footer.
    pub(crate) fn bottom(&self) -> f64 {
        self.height - MARGIN - 5.0
    }

    /// Begins a new page, unless this one is still empty.
    pub(crate) fn page(&mut self) {
        if self.pages.last().is_some_and(|p| !p.is_empty()) {
            self.pages.push(vec![]);
        }
        self.y = MARGIN;
    }

    /// Makes sure that so much height is left.
    pub(crate) fn need(&mut self, height: f64) {
        if self.y + height > self.bottom() {
            self.page();
        }
    }

    /// Begins a new page for what does not fit into the rest of this one but does into a whole.
    pub(crate) fn keep_together(&mut self, add: impl Fn(&mut Self)) {
        let (width, height) = (self.width, self.height);
        let mut alone = Self { pages: vec![vec![]], width, height, y: MARGIN };
        add(&mut alone);
        if alone.pages.len() == 1 {
            self.need(alone.y - MARGIN);
        }
        add(self);
    }

    pub(crate) fn mark(&mut self, mark: Mark) {
        if let Some(page) = self.pages.last_mut() {
            page.push(mark);
        }
    }

    pub(crate) fn text(&mut self, x: f64, y: f64, size: f64, bold: bool, words: &str) {
        self.text_at(x, y, size, bold, Side::Left, words);
    }

    pub(crate) fn text_at(
        &mut self,
        x: f64,
        y: f64,
        size: f64,
        bold: bool,
        align: Side,
        words: &str,
    ) {
        let words = words.to_owned();
        self.mark(Mark::Text(Text { x, y, size, bold, align, grey: 0.0, words }));
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), thick: f64) {
        self.mark(Mark::Line { points: vec![from, to], thick, dash: 0.0 });
    }

    pub(crate) fn outline(&mut self, x: f64, y: f64, width: f64, height: f64, thick: f64) {
        self.mark(Mark::Outline { x, y, width, height, thick });
    }

    /// A heading with a rule under it, and room for a few lines below.
    pub(crate) fn heading(&mut self, words: &str) {
        self.need(28.0);
        self.y += HEADING;
        self.text(self.left(), self.y, HEADING, true, words);
        self.y += 1.8;
        let (left, right) = (self.left(), self.right());
        self.line((left, self.y), (right, self.y), 0.35);
        self.y += 2.2;
    }

    /// Wrapped words over the full width, after a sign that hangs before them.
    pub(crate) fn paragraph(&mut self, sign: &str, words: &str, bold: bool) {
        let indent = 4.5;
        let lines = wrap(words, BODY, bold, self.room() - indent);
        self.need(lines.len() as f64 * BODY * 1.35 + 1.0);
        for (i, line) in lines.iter().enumerate() {
            self.y += BODY * 1.35;
            if i == 0 {
                self.text(self.left(), self.y - 1.0, BODY, true, sign);
            }
            self.text(self.left() + indent, self.y - 1.0, BODY, bold, line);
        }
        self.y += 1.0;
    }

    /// The pages with their footers.
    pub(crate) fn finish(mut self, title: &str) -> Vec<Vec<Mark>> {
        if self.pages.last().is_some_and(Vec::is_empty) {
            self.pages.pop();
        }
        let count = self.pages.len();
        let (left, right, y) = (self.left(), self.right(), self.height - MARGIN);
        let room = right - left - 30.0;
        let title = wrap(title, SMALL, false, room).into_iter().next().unwrap_or_default();
        for (i, page) in self.pages.iter_mut().enumerate() {
            let mut text = |x, align, words: String| {
                let text = Text { x, y, size: SMALL, bold: false, align, grey: 0.0, words };
                page.push(Mark::Text(text));
            };
            text(left, Side::Left, title.clone());
            text(right, Side::Right, format!("page {} of {count}", i + 1));
        }
        self.pages
    }
}
