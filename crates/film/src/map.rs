use crate::canvas::{Align, Canvas};
use crate::font::BOLD;
use crate::{FilmJob, PxRect};
use measure::{Point, Size};

/// A drawing of how the sheets lie, in a frame of millimetres.
pub(crate) struct Map<'a> {
    job: &'a FilmJob<'a>,
    seams: &'a [Vec<Point>],
    /// Whether it is seen from the taping side, so that left and right change places.
    mirrored: bool,
    /// Drawn millimetres for a millimetre of film, and where the film's corner is drawn.
    scale: f64,
    at: (f64, f64),
    film: Size,
}

/// How a sheet is drawn.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    /// Its outline and name.
    Plain,
    /// Stays on the table: tinted.
    Below,
    /// Is laid on it: hatched.
    Above,
    /// Not yet of concern: a thin outline.
    Aside,
}

impl<'a> Map<'a> {
    /// A map as large as `room` allows, in the middle of it; `left, top` is its corner.
    pub(crate) fn new(
        job: &'a FilmJob<'a>,
        seams: &'a [Vec<Point>],
        mirrored: bool,
        (left, top): (f64, f64),
        room: (f64, f64),
    ) -> Self {
        let px = |n: u32| job.resolution.length(f64::from(n));
        let film = Size::new(px(job.raster.width()), px(job.raster.height()));
        let (width, height) = (film.width.to_mm(), film.height.to_mm());
        let scale = (room.0 / width).min(room.1 / height);
        let at = (left + (room.0 - width * scale) / 2.0, top + (room.1 - height * scale) / 2.0);
        Self { job, seams, mirrored, scale, at, film }
    }

    /// Where a place of the film is drawn.
    pub(crate) fn place(&self, p: Point) -> (f64, f64) {
        let (x, y) = (p.x.to_mm(), p.y.to_mm());
        let x = if self.mirrored { self.film.width.to_mm() - x } else { x };
        (self.at.0 + x * self.scale, self.at.1 + y * self.scale)
    }

    /// Where a part of the film is drawn: left, top, width and height.
    pub(crate) fn rect(&self, part: PxRect) -> [f64; 4] {
        let point = |x: i64, y: i64| {
            let length = |px: i64| self.job.resolution.length(px as f64);
            self.place(Point::new(length(x), length(y)))
        };
        let (a, b) = (point(part.x, part.y), point(part.right(), part.bottom()));
        [a.0.min(b.0), a.1.min(b.1), (a.0 - b.0).abs(), (a.1 - b.1).abs()]
    }

    /// Draws the sheets as `look` says, then the seams numbered in `strong` with a strong
    /// line and the others with a fine one.
    pub(crate) fn draw(&self, canvas: &mut Canvas, look: impl Fn(usize) -> Look, strong: &[usize]) {
        let sheets = &self.job.sheets;
        for (n, sheet) in sheets.iter().enumerate() {
            let [x, y, width, height] = self.rect(sheet.image);
            match look(n) {
                Look::Below => {
                    canvas.grey(0.86);
                    canvas.rect(x, y, width, height);
                    canvas.grey(0.0);
                }
                Look::Above => hatch(canvas, [x, y, width, height]),
                Look::Plain | Look::Aside => {}
            }
        }
        for (n, sheet) in sheets.iter().enumerate() {
            let [x, y, width, height] = self.rect(sheet.image);
            let aside = look(n) == Look::Aside;
            canvas.grey(if aside { 0.6 } else { 0.0 });
            canvas.outline(x, y, width, height, if aside { 0.1 } else { 0.25 });
        }
        canvas.grey(0.0);
        for (n, seam) in self.seams.iter().enumerate() {
            let points: Vec<_> = seam.iter().map(|p| self.place(*p)).collect();
            if strong.contains(&n) {
                canvas.line(&points, 0.9);
            } else {
                canvas.dashed(&points, 0.2, 1.2);
            }
        }
        for (n, sheet) in sheets.iter().enumerate() {
            let [x, y, width, height] = self.rect(sheet.image);
            let size = (width.min(height) * 0.3).clamp(2.6, 11.0);
            let wide = BOLD.width(&sheet.name, size);
            let base = (x + width / 2.0, y + height / 2.0 + BOLD.capital(size) / 2.0);
            // A clear patch, so that the name is read over hatching too.
            if look(n) == Look::Above {
                canvas.grey(1.0);
                let high = BOLD.capital(size);
                canvas.rect(base.0 - wide / 2.0 - 1.0, base.1 - high - 1.0, wide + 2.0, high + 2.0);
            }
            canvas.grey(if look(n) == Look::Aside { 0.6 } else { 0.0 });
            canvas.text(&BOLD, size, base, Align::Center, &sheet.name);
        }
        canvas.grey(0.0);
    }

    /// An arrow beside the map to where the film's top lies.
    pub(crate) fn draw_up(&self, canvas: &mut Canvas, (x, y): (f64, f64)) {
        canvas.polygon(&[
            (x, y),
            (x + 2.0, y + 2.6),
            (x + 0.6, y + 2.6),
            (x + 0.6, y + 5.0),
            (x - 0.6, y + 5.0),
            (x - 0.6, y + 2.6),
            (x - 2.0, y + 2.6),
        ]);
        canvas.text(&BOLD, 2.6, (x, y + 7.6), Align::Center, "UP");
    }
}

/// Slanted lines through a rectangle.
fn hatch(canvas: &mut Canvas, [x, y, width, height]: [f64; 4]) {
    canvas.grey(0.45);
    let mut at = 1.8;
    while at < width + height {
        // From the top or right edge down to the left or bottom one.
        let from = if at < width { (x + at, y) } else { (x + width, y + at - width) };
        let to = if at < height { (x, y + at) } else { (x + at - height, y + height) };
        canvas.line(&[from, to], 0.12);
        at += 1.8;
    }
    canvas.grey(0.0);
}
