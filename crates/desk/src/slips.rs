//! What slipped sheets would look like: the film composed anew, with what changed marked.

use crate::films::FilmView;
use bitmap::Bitmap;
use eframe::egui::{Color32, ColorImage};
use measure::{Length, Point, Rect, Resolution, Size};
use progress::{Cancelled, Progress};
use sheets::{Seams, Slip, Taped};

/// Pixels across of the composed picture.
const ACROSS: f64 = 1500.0;
/// How many random slips are tried for the worst.
const TRIED: u32 = 200;

/// The film with its sheets slipped. Colours: ink, what changed, and a further layer of film.
///
/// # Errors
/// [`Cancelled`] when asked to stop.
#[expect(clippy::too_many_arguments, reason = "all are parts of one question, asked in one place")]
pub(crate) fn image(
    sheets: &[Rect],
    seams: &Seams,
    lip: Length,
    slips: &[Slip],
    film: &FilmView,
    resolution: Resolution,
    [ink, changed, layer]: [Color32; 3],
    progress: &Progress,
) -> Result<ColorImage, Cancelled> {
    let size = Size::new(
        resolution.length(f64::from(film.levels.width())),
        resolution.length(f64::from(film.levels.height())),
    );
    let window = Rect::new(Point::default(), size);
    let raster = size.width / ACROSS;
    let taped = Taped { sheets, seams, lip };
    let bits = film.levels.bits();
    let of = |rect, side| window_of(bits, resolution, rect, side);
    let right = taped.compose(&[], window, raster, &of, progress)?;
    let slipped = taped.compose(slips, window, raster, &of, progress)?;
    let (width, height) = (slipped.ink.width(), slipped.ink.height());
    let mut pixels = Vec::with_capacity(width as usize * height as usize);
    for y in 0..height {
        for x in 0..width {
            let (was, is) = (right.ink.get(x, y), slipped.ink.get(x, y));
            let layers = slipped.layers[(y * width + x) as usize];
            pixels.push(match (was == is, is) {
                (false, _) => changed,
                (true, true) => ink,
                (true, false) if layers > 1 => layer,
                (true, false) => Color32::TRANSPARENT,
            });
        }
    }
    Ok(ColorImage::new([width as usize, height as usize], pixels))
}

/// The worst of many random slips.
///
/// # Errors
/// [`Cancelled`] when asked to stop.
pub(crate) fn worst(
    sheets: &[Rect],
    seams: &Seams,
    lip: Length,
    size: Length,
    film: &FilmView,
    resolution: Resolution,
    progress: &Progress,
) -> Result<Vec<Slip>, Cancelled> {
    let bits = film.levels.bits();
    let of = |rect, side| window_of(bits, resolution, rect, side);
    Ok(Taped { sheets, seams, lip }.worst(TRIED, size, 1, &of, progress)?.0)
}

/// A part of the film, one pixel for each square of the given side: the film at its middle.
fn window_of(bits: &Bitmap, resolution: Resolution, rect: Rect, side: Length) -> Bitmap {
    let count = |l: Length| (l / side).round().clamp(0.0, 20_000.0) as u32;
    let (x0, y0, step) =
        (resolution.px(rect.left()), resolution.px(rect.top()), resolution.px(side));
    let at = |start: f64, i: u32| (start + (f64::from(i) + 0.5) * step).floor();
    Bitmap::from_fn(count(rect.size.width), count(rect.size.height), |i, j| {
        let (x, y) = (at(x0, i), at(y0, j));
        x >= 0.0 && y >= 0.0 && bits.get(x as u32, y as u32)
    })
}
