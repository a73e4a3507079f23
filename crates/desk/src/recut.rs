//! What is seen of the film, cut at the level the hand has just reached. The edges themselves
//! are found anew when the hand rests.

use artwork::Surface;
use bitmap::Bitmap;
use eframe::egui::{Color32, ColorImage, Rect};
use std::ops::Range;
use std::sync::Arc;

/// What of a film is on the screen, as shares of its width and height, and how many pixels
/// of the screen it takes.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Looked {
    pub(crate) across: Range<f64>,
    pub(crate) down: Range<f64>,
    pub(crate) pixels: [usize; 2],
}

impl Looked {
    /// The part of a film that lies in the canvas; none where it is off the screen.
    pub(crate) fn at(film: Rect, canvas: Rect, pixels_per_point: f32) -> Option<Self> {
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

/// Cuts what is seen at a level. Each pixel of the screen is the mean of four.
pub(crate) fn recut(surface: &Surface, level: f64, looked: &Looked) -> Recut {
    let [width, height] = looked.pixels;
    let part = surface.recut(level, looked.across.clone(), looked.down.clone());
    let bits = bitmap::collect(&part.raster(2 * width as u32, 2 * height as u32));
    Recut { image: Arc::new(image(&bits, width, height)), looked: looked.clone() }
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
        let looked = Looked::at(film, canvas, 2.0).unwrap();
        assert_eq!(looked.pixels, [960, 1120]);
        let place = looked.place(film);
        assert!((place.min - pos2(20.0, 40.0)).length() < 1e-3, "{place:?}");
        assert!((place.max - pos2(500.0, 600.0)).length() < 1e-3, "{place:?}");
        assert!(Looked::at(film, canvas.translate(eframe::egui::vec2(2000.0, 0.0)), 1.0).is_none());
    }

    #[test]
    fn four_pixels_make_one() {
        let bits = Bitmap::from_fn(140, 4, |x, y| x >= 67 && y >= 1);
        let image = image(&bits, 70, 2);
        let alpha = |x: usize, y: usize| image.pixels[y * 70 + x].a();
        assert_eq!([alpha(32, 0), alpha(33, 0), alpha(34, 0)], [0, 63, 127]);
        assert_eq!([alpha(32, 1), alpha(33, 1), alpha(69, 1)], [0, 127, 255]);
    }
}
