//! What is seen of the film, cut at the level the hand has just reached. The edges themselves
//! are found anew when the hand rests.

use artwork::Surface;
use bitmap::{Bitmap, Turned, Window};
use eframe::egui::{Color32, ColorImage, Rect};
use measure::Angle;
use std::ops::Range;
use std::sync::Arc;

/// What of a film is on the screen, as shares of its width and height, and how many pixels
/// of the screen it takes.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Looked {
    pub(crate) across: Range<f64>,
    pub(crate) down: Range<f64>,
    pub(crate) pixels: [usize; 2],
    /// How the artwork lies on the film.
    pub(crate) turn: Angle,
}

impl Looked {
    /// The part of a film that lies in the canvas; none where it is off the screen.
    pub(crate) fn at(film: Rect, canvas: Rect, pixels_per_point: f32, turn: Angle) -> Option<Self> {
        let seen = film.intersect(canvas);
        if !(seen.width() >= 1.0 && seen.height() >= 1.0) {
            return None;
        }
        let share = |v: f32, from: f32, length: f32| f64::from((v - from) / length);
        let across = |x| share(x, film.left(), film.width());
        let down = |y| share(y, film.top(), film.height());
        let px = |points: f32| (points * pixels_per_point).round().clamp(1.0, 4096.0) as usize;
        Some(Self {
            across: across(seen.left())..across(seen.right()),
            down: down(seen.top())..down(seen.bottom()),
            pixels: [px(seen.width()), px(seen.height())],
            turn,
        })
    }

    /// Where it lies on the screen.
    pub(crate) fn place(&self, film: Rect) -> Rect {
        let at = |range: &Range<f64>, from: f32, length: f32| {
            (from + range.start as f32 * length)..=(from + range.end as f32 * length)
        };
        Rect::from_x_y_ranges(
            at(&self.across, film.left(), film.width()),
            at(&self.down, film.top(), film.height()),
        )
    }
}

/// A part of the film on its way to the screen.
#[derive(Clone)]
pub(crate) struct Recut {
    pub(crate) image: Arc<ColorImage>,
    pub(crate) looked: Looked,
}

/// Cuts what is seen of a film at a level. Each pixel of the screen is the mean of four.
pub(crate) fn recut(surface: &Surface, level: f64, looked: &Looked, laid: Turned) -> Recut {
    let [width, height] = looked.pixels;
    let bits = if laid.is_upright() {
        let part = surface.recut(level, looked.across.clone(), looked.down.clone());
        bitmap::collect(&part.raster(2 * width as u32, 2 * height as u32))
    } else {
        turned(surface, level, looked, laid)
    };
    Recut { image: Arc::new(image(&bits, width, height)), looked: looked.clone() }
}

/// As far as the artwork reaches into what is seen, it is cut and turned about the middle of that
/// part; what is seen is then a window on it.
fn turned(surface: &Surface, level: f64, looked: &Looked, laid: Turned) -> Bitmap {
    let (wide, high) = laid.picture();
    let film = (f64::from(laid.film().0), f64::from(laid.film().1));
    let [width, height] = looked.pixels.map(|px| 2 * px as u32);
    // Pixels of what is seen to a film pixel.
    let scale = f64::from(width) / ((looked.across.end - looked.across.start) * film.0);
    let corners = [looked.across.start, looked.across.end].into_iter().flat_map(|x| {
        let places = [looked.down.start, looked.down.end];
        places.map(|y| laid.picture_from_film(x * film.0, y * film.1))
    });
    let (mut from, mut to) = ((wide, high), (0.0_f64, 0.0_f64));
    for (u, v) in corners {
        from = (from.0.min(u), from.1.min(v));
        to = (to.0.max(u), to.1.max(v));
    }
    let (from, to) = ((from.0.max(0.0), from.1.max(0.0)), (to.0.min(wide), to.1.min(high)));
    if from.0 >= to.0 || from.1 >= to.1 {
        return Bitmap::new(width, height);
    }
    let part = surface.recut(level, from.0 / wide..to.0 / wide, from.1 / high..to.1 / high);
    let px = |length: f64| (length * scale).round().clamp(1.0, 16384.0) as u32;
    let part_laid = Turned::by(px(to.0 - from.0), px(to.1 - from.1), looked.turn);
    // The middle of the part, as what is seen has it and as the part's own film does.
    let (x, y) = laid.film_from_picture((from.0 + to.0) / 2.0, (from.1 + to.1) / 2.0);
    let middle =
        ((x - looked.across.start * film.0) * scale, (y - looked.down.start * film.1) * scale);
    let (w, h) = part_laid.film();
    let corner = |film: u32, middle: f64| (f64::from(film) / 2.0 - middle).round() as i64;
    let raster = part.turned(part_laid);
    bitmap::collect(&Window::new(&raster, corner(w, middle.0), corner(h, middle.1), width, height))
}

/// How much of each two by two pixels is ink, as whites that are tinted when they are drawn.
fn image(bits: &Bitmap, width: usize, height: usize) -> ColorImage {
    let mut pixels = Vec::with_capacity(width * height);
    for y in 0..height as u32 {
        let (a, b) = (bits.row(2 * y), bits.row(2 * y + 1));
        for x in 0..width {
            let (word, shift) = (x / 32, 62 - 2 * (x % 32));
            let two = |row: &[u64]| (row[word] >> shift & 3).count_ones();
            pixels.push(Color32::from_white_alpha(((two(a) + two(b)) * 255 / 4) as u8));
        }
    }
    ColorImage::new([width, height], pixels)
}

#[cfg(test)]
mod tests {
    use super::*;
    use eframe::egui::pos2;

    #[test]
    fn what_is_seen_is_laid_back_where_it_lies() {
        let film = Rect::from_min_max(pos2(-100.0, 40.0), pos2(900.0, 2040.0));
        let canvas = Rect::from_min_max(pos2(20.0, 30.0), pos2(500.0, 600.0));
        let looked = Looked::at(film, canvas, 2.0, Angle::ZERO).unwrap();
        assert_eq!(looked.pixels, [960, 1120]);
        let place = looked.place(film);
        assert!((place.min - pos2(20.0, 40.0)).length() < 1e-3, "{place:?}");
        assert!((place.max - pos2(500.0, 600.0)).length() < 1e-3, "{place:?}");
        assert!(
            Looked::at(film, canvas.translate(eframe::egui::vec2(2000.0, 0.0)), 1.0, Angle::ZERO)
                .is_none()
        );
    }

    #[test]
    fn four_pixels_make_one() {
        let bits = Bitmap::from_fn(140, 4, |x, y| x >= 67 && y >= 1);
        let image = image(&bits, 70, 2);
        let alpha = |x: usize, y: usize| image.pixels[y * 70 + x].a();
        assert_eq!([alpha(32, 0), alpha(33, 0), alpha(34, 0)], [0, 63, 127]);
        assert_eq!([alpha(32, 1), alpha(33, 1), alpha(69, 1)], [0, 127, 255]);
    }

    /// What is seen of a turned film, cut at the level it has, is that film but for pixels that
    /// an edge runs through.
    #[test]
    fn a_turned_film_is_recut_where_it_lies() {
        let ink = |i: u32| (f64::from(i % 90) - 30.0).hypot(f64::from(i / 90) - 40.0) < 25.0;
        let greys = (0..90 * 70).map(|i| if ink(i) { 0 } else { 255 }).collect::<Vec<_>>();
        let picture = artwork::Picture::grey(90, 70, greys);
        let settings = artwork::Settings {
            cut: artwork::Cut::At(0.5),
            edges: artwork::Edges::Plain,
            ..artwork::Settings::default()
        };
        let none = progress::Progress::none();
        let surface = artwork::surface(&picture, &settings, &none).unwrap();
        let turn = Angle::deg(28.0);
        let laid = Turned::by(900, 700, turn);
        let (w, h) = laid.film();
        let shares = |from: u32, to: u32, all: u32| {
            f64::from(from) / f64::from(all)..f64::from(to) / f64::from(all)
        };
        let film = bitmap::collect(&surface.turned(laid));
        for (x, y) in [(100, 150), (300, 20), (0, 0), (700, 600)] {
            let looked = Looked {
                across: shares(x, x + 400, w),
                down: shares(y, y + 300, h),
                pixels: [200, 150],
                turn,
            };
            let got = turned(&surface, 0.5, &looked, laid);
            let want = bitmap::collect(&Window::new(&film, i64::from(x), i64::from(y), 400, 300));
            let off: u32 =
                got.words().iter().zip(want.words()).map(|(a, b)| (a ^ b).count_ones()).sum();
            assert!(off < 1500, "{off} of 120000 at {x}, {y}");
        }
    }
}
