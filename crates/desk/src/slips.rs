//! What slipped sheets would look like: the part of the film that is seen, composed anew. Of
//! line art what changed is marked; of a film with tone the dots themselves are shown, each where
//! its sheet puts it, so that their moire is.

use crate::films::FilmView;
use crate::recut::Looked;
use bitmap::Bitmap;
use eframe::egui::{Color32, ColorImage};
use measure::{Length, Point, Rect, Resolution, Size};
use progress::{Cancelled, Progress};
use sheets::{Seams, Slip, Taped};
use std::sync::Arc;

/// The most samples along a side of a pixel of the screen; each is at least a film pixel.
const FINEST: f64 = 4.0;
/// How many random slips are tried for the worst.
const TRIED: u32 = 200;

/// What is looked at of the film with its sheets slipped.
pub(crate) struct Slipped {
    pub(crate) image: Arc<ColorImage>,
    pub(crate) looked: Looked,
}

/// What the film with its sheets slipped is painted in.
#[derive(Clone, Copy)]
pub(crate) struct Colors {
    pub(crate) ink: Color32,
    /// What changed, where that is marked.
    pub(crate) changed: Option<Color32>,
    /// A further layer of film.
    pub(crate) layer: Color32,
}

/// The film with its sheets slipped, as far as it is looked at.
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
    colors: Colors,
    looked: &Looked,
    progress: &Progress,
) -> Result<Slipped, Cancelled> {
    let size = Size::new(
        resolution.length(f64::from(film.levels.width())),
        resolution.length(f64::from(film.levels.height())),
    );
    let at = |share: f64, side: Length| side * share;
    let window = Rect::between(
        Point::new(at(looked.across.start, size.width), at(looked.down.start, size.height)),
        Point::new(at(looked.across.end, size.width), at(looked.down.end, size.height)),
    );
    let seen = window.size.width / looked.pixels[0].max(1) as f64;
    let samples = (seen / resolution.pixel()).ceil().clamp(1.0, FINEST);
    let raster = (seen / samples).max(resolution.pixel());
    let samples = samples as u32;
    let taped = Taped { sheets, seams, lip };
    let bits = film.levels.bits();
    let of = |rect, side| window_of(bits, resolution, rect, side);
    let right = taped.compose(&[], window, raster, &of, progress)?;
    let slipped = taped.compose(slips, window, raster, &of, progress)?;
    let (width, height) = (slipped.ink.width() / samples, slipped.ink.height() / samples);
    let mut pixels = Vec::with_capacity(width as usize * height as usize);
    for y in 0..height {
        for x in 0..width {
            let (mut inked, mut other) = (0, false);
            for (u, v) in (0..samples * samples).map(|i| (i % samples, i / samples)) {
                let (u, v) = (x * samples + u, y * samples + v);
                let (was, is) = (right.ink.get(u, v), slipped.ink.get(u, v));
                inked += u32::from(is);
                other |= was != is;
            }
            let layers = slipped.layers[(y * samples * slipped.ink.width() + x * samples) as usize];
            let under = if layers > 1 { colors.layer } else { Color32::TRANSPARENT };
            let share = inked as f32 / (samples * samples) as f32;
            pixels.push(match colors.changed.filter(|_| other) {
                Some(changed) => changed,
                None => under.lerp_to_gamma(colors.ink, share),
            });
        }
    }
    let image = Arc::new(ColorImage::new([width as usize, height as usize], pixels));
    // A rim less than a pixel of the screen was left off.
    let share = |n: u32, side: Length| raster * f64::from(n * samples) / side;
    let (across, down) = (looked.across.start, looked.down.start);
    let looked = Looked {
        across: across..across + share(width, size.width),
        down: down..down + share(height, size.height),
        ..looked.clone()
    };
    Ok(Slipped { image, looked })
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

#[cfg(test)]
mod tests {
    use super::*;
    use sheets::SeamSettings;

    /// Lines of ink 4 film pixels wide and 4 apart on two sheets that overlap by an inch. One
    /// slips by half a step: across the seam its lines stand in the other's gaps, and where film
    /// lies over film there is ink all along. Zoomed out, whole steps blend to half a tone.
    #[test]
    fn the_dots_of_both_sheets_are_seen_where_they_slipped_to() {
        let resolution = Resolution::ppi(50.0);
        let lay = (bitmap::Turned::upright(400, 100), measure::Angle::ZERO);
        let film = FilmView::plain(Bitmap::from_fn(400, 100, |x, _| x % 8 < 4), None, 1, lay);
        let px = |v: f64| resolution.length(v);
        let rect =
            |x: f64, w: f64| Rect::new(Point::new(px(x), px(0.0)), Size::new(px(w), px(100.0)));
        let sheets = [rect(0.0, 225.0), rect(175.0, 225.0)];
        let settings = SeamSettings { bends: 0, ..SeamSettings::default() };
        let none = Progress::none();
        let open = |_: Rect, _: Length| Bitmap::new(0, 0);
        let seams = Seams::find(&sheets, px(50.0), &settings, &[&open], &none).unwrap();
        let cut = seams.seams()[0].points[0].x / px(1.0);
        let lip = px(10.0);
        let slips = [Slip::default(), Slip { right: px(4.0), ..Slip::default() }];
        let colors = Colors { ink: Color32::BLACK, changed: None, layer: Color32::TRANSPARENT };
        let look = |pixels: [usize; 2]| {
            let turn = measure::Angle::ZERO;
            let looked = Looked { across: 0.0..1.0, down: 0.0..1.0, pixels, turn };
            image(&sheets, &seams, lip, &slips, &film, resolution, colors, &looked, &none).unwrap()
        };
        let near = look([400, 100]);
        assert_eq!(near.image.size, [400, 100]);
        let ink = |x: usize| near.image.pixels[50 * 400 + x].a() == 255;
        assert!((0..150).all(|x| ink(x) == (x % 8 < 4)), "the first sheet lies where it should");
        assert!((250..400).all(|x| ink(x) == (x % 8 >= 4)), "the second is half a step off");
        let lips = (cut as usize - 5)..(cut as usize + 5);
        assert!(lips.clone().all(ink), "film over film at {lips:?} has the ink of both");
        let far = look([50, 12]);
        let alpha = far.image.pixels[6 * far.image.size[0] + 8].a();
        assert!((100..156).contains(&alpha), "{alpha}");
    }
}
