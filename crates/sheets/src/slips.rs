//! What the taped film looks like when sheets were laid a little off their places.

use crate::random::Random;
use crate::{InkWindow, Seams};
use bitmap::Bitmap;
use measure::{Angle, Length, Point, Rect, Size};
use progress::{Cancelled, Progress};
use serde::{Deserialize, Serialize};

/// How far off its place a sheet was laid.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Slip {
    /// How far right.
    pub right: Length,
    /// How far down.
    pub down: Length,
    /// How far it was turned about its middle.
    pub turn: Angle,
}

/// A film as it comes out.
#[derive(Clone, Debug, PartialEq)]
pub struct Composed {
    /// Its ink.
    pub ink: Bitmap,
    /// How many layers of film lie at each pixel, row by row.
    pub layers: Vec<u8>,
}

/// The most pixels of a composition each way; what lies beyond is left out.
const MOST_PX: u32 = 1 << 14;

/// A film of sheets that are cut at their seams, but for a lip, and taped.
#[derive(Clone, Copy)]
pub struct Taped<'a> {
    /// The sheets' images.
    pub sheets: &'a [Rect],
    /// Where they are cut.
    pub seams: &'a Seams,
    /// How far each sheet reaches past its cuts under or over its neighbours.
    pub lip: Length,
}

impl Taped<'_> {
    /// The part `window` of the film, one pixel for each square of `raster`, with each sheet
    /// off its place by its slip; sheets without one lie where they should.
    ///
    /// # Errors
    /// [`Cancelled`] when asked to stop.
    pub fn compose(
        &self,
        slips: &[Slip],
        window: Rect,
        raster: Length,
        ink: &InkWindow<'_>,
        progress: &Progress,
    ) -> Result<Composed, Cancelled> {
        let images = self.images(slips, window, raster, ink);
        self.lay(slips, window, raster, &images, progress)
    }

    /// Each sheet's own image as far as it may be seen in `window`, from a pixel outside it so
    /// that rounding finds its edge.
    fn images(
        &self,
        slips: &[Slip],
        window: Rect,
        raster: Length,
        ink: &InkWindow<'_>,
    ) -> Vec<Image> {
        let image = |(i, sheet): (usize, &Rect)| {
            let frame = Frame::new(*sheet, slips.get(i).copied().unwrap_or_default());
            let seen = window.grown(frame.farthest() + raster).intersect(sheet.grown(raster));
            let part = seen.unwrap_or(Rect::new(sheet.origin, Size::default()));
            Image { corner: part.origin, ink: ink(part, raster) }
        };
        self.sheets.iter().enumerate().map(image).collect()
    }

    fn lay(
        &self,
        slips: &[Slip],
        window: Rect,
        raster: Length,
        images: &[Image],
        progress: &Progress,
    ) -> Result<Composed, Cancelled> {
        let px = |l: Length| (l / raster - 1e-6).ceil().clamp(0.0, f64::from(MOST_PX)) as u32;
        let (width, height) = (px(window.size.width), px(window.size.height));
        let mut out = Bitmap::new(width, height);
        let mut layers = vec![0_u8; width as usize * height as usize];
        for (i, (sheet, image)) in self.sheets.iter().zip(images).enumerate() {
            progress.step("Laying sheets", i as u64, self.sheets.len() as u64)?;
            let frame = Frame::new(*sheet, slips.get(i).copied().unwrap_or_default());
            let Some(part) = frame.reach().intersect(window) else { continue };
            let column = |x: Length| px(x - window.left()).min(width);
            let row = |y: Length| px(y - window.top()).min(height);
            for y in row(part.top())..row(part.bottom()) {
                for x in column(part.left())..column(part.right()) {
                    let middle = Point::new(
                        window.left() + raster * (f64::from(x) + 0.5),
                        window.top() + raster * (f64::from(y) + 0.5),
                    );
                    let own = frame.sheet_from_film(middle);
                    if !self.shows(i, own) {
                        continue;
                    }
                    let layer = &mut layers[(y * width + x) as usize];
                    *layer = layer.saturating_add(1);
                    let at = own - image.corner;
                    let (u, v) = ((at.x / raster) as u32, (at.y / raster) as u32);
                    if image.ink.get(u, v) {
                        out.set(x, y, true);
                    }
                }
            }
        }
        Ok(Composed { ink: out, layers })
    }

    /// The worst of `number` random slips, each sheet off by up to `size` right and down and
    /// turned so that its corners move by no more: the one that changes most pixels near the
    /// seams. The same seed gives the same slips.
    ///
    /// # Errors
    /// [`Cancelled`] when asked to stop.
    pub fn worst(
        &self,
        number: u32,
        size: Length,
        seed: u64,
        ink: &InkWindow<'_>,
        progress: &Progress,
    ) -> Result<(Vec<Slip>, u64), Cancelled> {
        let strips = self.strips(size);
        let mut random = Random::new(seed);
        let mut worst = (vec![Slip::default(); self.sheets.len()], 0);
        let raster = Length::inches(0.02);
        let all = vec![Slip { right: size, down: size, turn: Angle::default() }; self.sheets.len()];
        let everywhere = self.sheets.iter().copied().reduce(around).unwrap_or_default();
        let images = self.images(&all, everywhere.grown(size), raster, ink);
        let mut right = Vec::new();
        for strip in &strips {
            right.push(self.lay(&[], *strip, raster, &images, &Progress::none())?.ink);
        }
        for i in 0..number {
            progress.step("Trying slips", i.into(), number.into())?;
            let slips: Vec<Slip> =
                self.sheets.iter().map(|s| random_slip(&mut random, *s, size)).collect();
            let mut changed = 0;
            for (strip, right) in strips.iter().zip(&right) {
                let film = self.lay(&slips, *strip, raster, &images, &Progress::none())?.ink;
                let pairs = film.words().iter().zip(right.words());
                changed += pairs.map(|(a, b)| u64::from((a ^ b).count_ones())).sum::<u64>();
            }
            if changed > worst.1 {
                worst = (slips, changed);
            }
        }
        Ok(worst)
    }

    /// The film beside the seams, where slips show.
    fn strips(&self, size: Length) -> Vec<Rect> {
        let beside = size * 2.0 + self.lip + Length::inches(0.04);
        let around = |points: &[Point]| {
            let first = points.first().copied().unwrap_or_default();
            let all = points.iter().fold((first, first), |(low, high), p| {
                (
                    Point::new(low.x.min(p.x), low.y.min(p.y)),
                    Point::new(high.x.max(p.x), high.y.max(p.y)),
                )
            });
            Rect::between(all.0, all.1).grown(beside)
        };
        // A bent seam gives a strip for each straight piece.
        let seams = self.seams.seams().iter();
        seams.flat_map(|seam| seam.points.windows(2).map(around)).collect()
    }

    /// Whether sheet `i` has film at a place of its own frame, once it is cut.
    fn shows(&self, i: usize, own: Point) -> bool {
        if !self.sheets[i].contains(own) {
            return false;
        }
        if self.seams.owner(own) == Some(i) {
            return true;
        }
        if self.lip <= Length::ZERO {
            return false;
        }
        let d = self.lip * std::f64::consts::FRAC_1_SQRT_2;
        let (z, l) = (Length::ZERO, self.lip);
        let round = [(l, z), (-l, z), (z, l), (z, -l), (d, d), (d, -d), (-d, d), (-d, -d)];
        round.into_iter().any(|(x, y)| self.seams.owner(own + Point::new(x, y)) == Some(i))
    }
}

fn random_slip(random: &mut Random, sheet: Rect, size: Length) -> Slip {
    let mut part = || random.below(2001) as f64 / 1000.0 - 1.0;
    let radius = sheet.size.width.to_mm().hypot(sheet.size.height.to_mm()) / 2.0;
    let turn = Angle::rad(size.to_mm() / radius.max(1.0) * part());
    Slip { right: size * part(), down: size * part(), turn }
}

/// The smallest rectangle that holds both.
fn around(a: Rect, b: Rect) -> Rect {
    Rect::between(
        Point::new(a.left().min(b.left()), a.top().min(b.top())),
        Point::new(a.right().max(b.right()), a.bottom().max(b.bottom())),
    )
}

/// A part of a sheet's image.
struct Image {
    /// Where it starts on the sheet as it should lie.
    corner: Point,
    ink: Bitmap,
}

/// A sheet off its place.
struct Frame {
    sheet: Rect,
    slip: Slip,
    sin: f64,
    cos: f64,
}

impl Frame {
    fn new(sheet: Rect, slip: Slip) -> Self {
        let (sin, cos) = slip.turn.sin_cos();
        Self { sheet, slip, sin, cos }
    }

    /// Where the place of the film that lies under `p` is on the sheet as it should lie.
    fn sheet_from_film(&self, p: Point) -> Point {
        let middle = self.sheet.center();
        let d = p - middle - Point::new(self.slip.right, self.slip.down);
        middle + Point::new(d.x * self.cos + d.y * self.sin, d.y * self.cos - d.x * self.sin)
    }

    /// A rectangle around the sheet where it lies.
    fn reach(&self) -> Rect {
        self.sheet.grown(self.farthest())
    }

    /// No place of the sheet lies further off than this, right or down.
    fn farthest(&self) -> Length {
        let size = self.sheet.size;
        let turned = (size.width + size.height) * self.sin.abs();
        self.slip.right.abs().max(self.slip.down.abs()) + turned
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::SeamSettings;

    fn mm(l: f64, t: f64, w: f64, h: f64) -> Rect {
        let at = Point::new(Length::mm(l), Length::mm(t));
        Rect::new(at, Size::new(Length::mm(w), Length::mm(h)))
    }

    /// A horizontal bar over two sheets.
    fn bar(rect: Rect, step: Length) -> Bitmap {
        let px = |l: Length| (l / step - 1e-6).ceil() as u32;
        Bitmap::from_fn(px(rect.size.width), px(rect.size.height), |x, y| {
            let x = rect.left().to_mm() + (f64::from(x) + 0.5) * step.to_mm();
            let y = rect.top().to_mm() + (f64::from(y) + 0.5) * step.to_mm();
            (10.0..90.0).contains(&x) && (20.0..30.0).contains(&y)
        })
    }

    fn two() -> (Vec<Rect>, Seams) {
        let sheets = vec![mm(0.0, 0.0, 55.0, 50.0), mm(45.0, 0.0, 55.0, 50.0)];
        let settings = SeamSettings { bends: 0, ..SeamSettings::default() };
        let overlap = Length::mm(10.0);
        let seams = Seams::find(&sheets, overlap, &settings, &[&bar], &Progress::none()).unwrap();
        (sheets, seams)
    }

    #[test]
    fn sheets_in_their_places_make_the_film() {
        let (sheets, seams) = two();
        let taped = Taped { sheets: &sheets, seams: &seams, lip: Length::ZERO };
        let (film, raster) = (mm(0.0, 0.0, 100.0, 50.0), Length::mm(0.5));
        let got = taped.compose(&[], film, raster, &bar, &Progress::none()).unwrap();
        assert_eq!(got.ink, bar(film, raster));
        assert!(got.layers.iter().all(|l| *l == 1));
        // A lip of 2 mm on both sheets: a strip of 4 mm has two layers.
        let taped = Taped { lip: Length::mm(2.0), ..taped };
        let got = taped.compose(&[], film, raster, &bar, &Progress::none()).unwrap();
        assert_eq!(got.ink, bar(film, raster));
        let double = got.layers.iter().filter(|l| **l == 2).count();
        assert!((double as i64 - 8 * 100).abs() <= 100, "{double}");
    }

    #[test]
    fn a_slip_moves_what_is_on_the_sheet() {
        let (sheets, seams) = two();
        let taped = Taped { sheets: &sheets, seams: &seams, lip: Length::ZERO };
        let (film, raster) = (mm(0.0, 0.0, 100.0, 50.0), Length::mm(0.5));
        let down = Slip { down: Length::mm(1.0), ..Slip::default() };
        let got =
            taped.compose(&[Slip::default(), down], film, raster, &bar, &Progress::none()).unwrap();
        // The right half of the bar lies two pixels lower; the left half where it was.
        assert!(got.ink.get(60, 40) && got.ink.get(140, 42) && !got.ink.get(140, 41));
        assert!(!got.ink.get(60, 60) && got.ink.get(140, 61));
        let (slips, changed) =
            taped.worst(20, Length::mm(0.5), 7, &bar, &Progress::none()).unwrap();
        assert!(changed > 0 && slips.len() == 2);
        let again = taped.worst(20, Length::mm(0.5), 7, &bar, &Progress::none()).unwrap();
        assert_eq!((slips, changed), again);
        let none = taped.worst(20, Length::ZERO, 7, &bar, &Progress::none()).unwrap();
        assert_eq!(none.1, 0);
    }

    #[test]
    fn a_turn_goes_about_the_sheets_middle() {
        let sheet = mm(0.0, 0.0, 100.0, 50.0);
        let frame = Frame::new(sheet, Slip { turn: Angle::deg(90.0), ..Slip::default() });
        // Clockwise: what lies right of the middle now came from above it.
        let p = frame.sheet_from_film(Point::new(Length::mm(60.0), Length::mm(25.0)));
        assert!((p.x.to_mm() - 50.0).abs() < 1e-9 && (p.y.to_mm() - 15.0).abs() < 1e-9);
    }
}
