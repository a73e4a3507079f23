//! Whether a film can be printed: lines of ink and gaps between them that are finer than a
//! mesh can hold.
//!
//! A line is too fine where no disc of the finest width fits into it. Corners narrow down to
//! nothing as well, but print well enough: what lies within the finest width of a place
//! where the disc fits is left alone, which spares corners of 60 degrees and more.

use band::{Band, MOST_PX, at_once};
use bitmap::Raster;
use measure::{Length, Point, Resolution};
use progress::{Cancelled, Progress};
use rayon::prelude::*;
use runs::{Run, patches};
use std::ops::Range;
use std::sync::Arc;

mod band;
mod mend;
mod runs;

pub use mend::mend;

/// What is too fine on a film.
#[derive(Clone, Debug, PartialEq)]
pub struct Printability {
    /// The width of the thinnest line of ink, where one is finer than asked.
    pub thinnest_ink: Option<Length>,
    /// The width of the thinnest gap, where one is finer than asked.
    pub thinnest_gap: Option<Length>,
    /// Everywhere that is too fine, from the top down.
    pub places: Vec<FinePlace>,
    /// Whether there are more places further down, not looked at: a film of dust or of dots
    /// has too many to list.
    pub more: bool,
    /// Widths are told to within this much: half a film pixel.
    pub within: Length,
}

/// A line of ink or a gap that is too fine.
#[derive(Clone, Debug, PartialEq)]
pub struct FinePlace {
    /// The middle of its widest part, from the film's left edge.
    pub x: Length,
    /// The middle of its widest part, from the film's top edge.
    pub y: Length,
    /// How wide it is there.
    pub width: Length,
    /// How long it is, at least: the longer side of the box about it.
    pub length: Length,
    /// Whether it is ink rather than a gap.
    pub ink: bool,
    runs: Arc<[Run]>,
}

/// Rows of film looked at in one go.
const BAND: u32 = 256;
/// Runs of fine pixels kept for each colour; they take 20 bytes each.
const MOST_RUNS: usize = 1 << 20;

/// Finds every line of ink and every gap of a film that is finer than `finest`. Works band by
/// band at the film's own resolution; what lies past its edges is clear. Finer lines than
/// 160 film pixels can be asked for; wider ones are taken for that.
///
/// # Errors
/// When cancelled.
pub fn printability(
    film: &dyn Raster,
    resolution: Resolution,
    finest: Length,
    progress: &Progress,
) -> Result<Printability, Cancelled> {
    let finest_px = resolution.px(finest).clamp(0.0, MOST_PX);
    let mut out = Printability {
        thinnest_ink: None,
        thinnest_gap: None,
        places: Vec::new(),
        more: false,
        within: resolution.length(0.5),
    };
    if finest_px.is_nan() || finest_px < 1.0 || film.width() == 0 {
        return Ok(out);
    }
    let bands = film.height().div_ceil(BAND);
    let together = at_once(film, BAND, finest_px, 0);
    for ink in [true, false] {
        let mut fine = Vec::new();
        let gaps = u64::from(if ink { 0 } else { bands });
        // A few bands at a time, so that only they are held and cancelling is heard.
        for from in (0..bands).step_by(together as usize) {
            let done = gaps + u64::from(from);
            progress.step("Looking for fine lines", done, 2 * u64::from(bands))?;
            let some: Vec<Vec<Run>> = (from..(from + together).min(bands))
                .into_par_iter()
                .map(|band| {
                    let rows = band * BAND..((band + 1) * BAND).min(film.height());
                    fine_runs(film, rows, finest_px, ink)
                })
                .collect();
            fine.extend(some.into_iter().flatten());
            if fine.len() > MOST_RUNS {
                fine.truncate(MOST_RUNS);
                out.more = true;
                break;
            }
        }
        let mut thinnest: Option<Length> = None;
        for patch in patches(fine) {
            let widest =
                patch.iter().fold(patch[0], |a, b| if b.square > a.square { *b } else { a });
            let span = |min: u32, max: u32| f64::from(max - min);
            let (left, right) =
                (patch.iter().map(|r| r.from).min(), patch.iter().map(|r| r.to).max());
            let (top, bottom) = (patch.first().map(|r| r.y), patch.last().map(|r| r.y + 1));
            let across = span(left.unwrap_or(0), right.unwrap_or(0));
            let down = span(top.unwrap_or(0), bottom.unwrap_or(0));
            // A line's middle is half its width and half a pixel from the nearest other pixel
            // where its width is odd, and half its width where it is even.
            let width = resolution.length(2.0 * f64::from(widest.square).sqrt() - 0.5);
            thinnest = Some(thinnest.map_or(width, |t| t.min(width)));
            out.places.push(FinePlace {
                x: resolution.length(f64::from(widest.at) + 0.5),
                y: resolution.length(f64::from(widest.y) + 0.5),
                width,
                length: resolution.length(across.max(down)),
                ink,
                runs: patch.into(),
            });
        }
        if ink { out.thinnest_ink = thinnest } else { out.thinnest_gap = thinnest }
    }
    out.places.sort_by(|a, b| {
        let key = |p: &FinePlace| (p.y.to_mm(), p.x.to_mm());
        key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal)
    });
    Ok(out)
}

/// The runs of too fine ink, or of too fine gaps, in the rows of a band.
fn fine_runs(film: &dyn Raster, rows: Range<u32>, finest_px: f64, ink: bool) -> Vec<Run> {
    let Some(band) = Band::of(film, rows.clone(), finest_px, ink, 0) else { return Vec::new() };
    let mut out = Vec::new();
    for (y, row) in rows.zip((0..).map(|y| band.row(y))) {
        let mut x = 0;
        while x < band.width {
            if !band.is_fine(row + x) {
                x += 1;
                continue;
            }
            let mut run = Run { y, from: x as u32, to: 0, at: x as u32, square: 0 };
            while x < band.width && band.is_fine(row + x) {
                if band.depth[row + x] > run.square {
                    (run.square, run.at) = (band.depth[row + x], x as u32);
                }
                x += 1;
            }
            run.to = x as u32;
            out.push(run);
        }
    }
    out
}

impl FinePlace {
    /// Whether any of it lies within `reach` of a point, counted from the film's top-left
    /// corner.
    pub fn touches(&self, point: Point, reach: Length, resolution: Resolution) -> bool {
        let (x, y, reach) = (resolution.px(point.x), resolution.px(point.y), resolution.px(reach));
        self.runs.iter().any(|run| {
            let aside = x - x.clamp(f64::from(run.from), f64::from(run.to));
            aside.hypot(y - f64::from(run.y) - 0.5) <= reach
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bitmap::Bitmap;

    fn found(film: &Bitmap, finest_px: f64) -> Printability {
        let resolution = Resolution::ppi(254.0);
        let finest = resolution.length(finest_px);
        printability(film, resolution, finest, &Progress::none()).expect("not cancelled")
    }

    /// Bars of 3 and 12 pixels, a gap of 4 in a block, a block's corners: at 254 ppi a pixel
    /// is 0.1 mm. The lines cross a boundary of bands.
    #[test]
    fn fine_lines_and_gaps_are_found_measured_and_mended() {
        let film = Bitmap::from_fn(300, 400, |x, y| {
            let bar = (20..23).contains(&x) && (100..380).contains(&y);
            let wide = (60..72).contains(&x) && (100..380).contains(&y);
            let block =
                (120..280).contains(&x) && (100..380).contains(&y) && !(198..202).contains(&x);
            bar || wide || block
        });
        let result = found(&film, 8.0);
        assert_eq!(result.places.len(), 2, "{:?}", result.places);
        let bar = result.places.iter().find(|p| p.ink).expect("the bar");
        assert!((bar.width.to_mm() - 0.3).abs() <= 0.051, "{:?}", bar.width);
        assert!((bar.x.to_mm() - 2.15).abs() < 0.06 && (bar.length.to_mm() - 28.0).abs() < 0.01);
        let gap = result.places.iter().find(|p| !p.ink).expect("the gap");
        assert!((gap.width.to_mm() - 0.4).abs() <= 0.051, "{:?}", gap.width);
        assert_eq!((result.thinnest_ink, result.thinnest_gap), (Some(bar.width), Some(gap.width)));
        assert_eq!(found(&film, 3.0).places, [], "three pixels are fine enough for three");
        let (resolution, finest) = (Resolution::ppi(254.0), Length::mm(0.8));
        let mended = mend(&film, resolution, finest, None, &Progress::none()).expect("finished");
        assert_eq!(found(&mended, 8.0).places, []);
        assert!(mended.get(60, 200) && !mended.get(59, 200), "what was wide enough is untouched");
    }
}
