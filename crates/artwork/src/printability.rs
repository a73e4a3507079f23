//! Whether a film can be printed: lines of ink and gaps between them that are finer than a
//! mesh can hold, and how they are mended.
//!
//! A line is too fine where no disc of the finest width fits into it. Corners narrow down to
//! nothing as well, but print well enough: what lies within the finest width of a place
//! where the disc fits is left alone, which spares corners of 60 degrees and more.

use crate::distance::squared_distances;
use bitmap::{Bitmap, Raster};
use measure::{Length, Resolution};
use progress::{Cancelled, Progress};
use rayon::prelude::*;
use runs::{Run, patches};
use std::sync::Arc;

mod runs;

/// What is too fine on a film.
#[derive(Clone, Debug, PartialEq)]
pub struct Printability {
    /// The width of the thinnest line of ink, where one is finer than asked.
    pub thinnest_ink: Option<Length>,
    /// The width of the thinnest gap, where one is finer than asked.
    pub thinnest_gap: Option<Length>,
    /// Everywhere that is too fine, from the top down.
    pub places: Vec<FinePlace>,
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

/// The widest line that can be asked for, in film pixels.
const MOST_PX: f64 = 160.0;
/// Rows of film looked at in one go.
const BAND: u32 = 256;

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
        within: resolution.length(0.5),
    };
    if finest_px.is_nan() || finest_px < 1.0 || film.width() == 0 {
        return Ok(out);
    }
    for ink in [true, false] {
        let bands = film.height().div_ceil(BAND);
        let mut fine = Vec::new();
        // A few bands at a time, so that only they are held and cancelling is heard.
        for from in (0..bands).step_by(8) {
            progress.step("Looking for fine lines", u64::from(from), u64::from(bands))?;
            let some: Vec<Vec<Run>> = (from..(from + 8).min(bands))
                .into_par_iter()
                .map(|band| fine_runs(film, band, finest_px, ink))
                .collect();
            fine.extend(some.into_iter().flatten());
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

/// Widens the ink of each place of ink, and the gap of each gap, to about `finest`.
pub fn mend(film: &mut Bitmap, resolution: Resolution, finest: Length, places: &[FinePlace]) {
    for place in places {
        let lacking = resolution.px(finest).min(MOST_PX) - resolution.px(place.width);
        let by = (lacking / 2.0).ceil().max(0.0);
        for run in &*place.runs {
            for step in -(by as i64)..=by as i64 {
                let y = i64::from(run.y) + step;
                if !(0..i64::from(film.height())).contains(&y) {
                    continue;
                }
                let aside = (by * by - (step * step) as f64).max(0.0).sqrt() as u32;
                let to = run.to.saturating_add(aside).min(film.width());
                for x in run.from.saturating_sub(aside)..to {
                    film.set(x, y as u32, place.ink);
                }
            }
        }
    }
}

/// The runs of too fine ink, or of too fine gaps, in the rows of a band.
fn fine_runs(film: &dyn Raster, band: u32, finest_px: f64, ink: bool) -> Vec<Run> {
    let width = film.width() as usize;
    let half = finest_px / 2.0;
    let near = (finest_px + 1.0).ceil();
    // Rows beyond the band that decide about its own.
    let rim = (half + near).ceil() as i64 + 1;
    let (first, last) = (band * BAND, ((band + 1) * BAND).min(film.height()));
    let (top, bottom) = (i64::from(first) - rim, i64::from(last) + rim);
    // As many columns more on either side, which are clear.
    let side = rim as usize;
    let wide = width + 2 * side;
    let mut mask = vec![u8::from(!ink); wide * (bottom - top) as usize];
    let mut changes = Vec::new();
    let mut any = false;
    for (y, row) in (top..bottom).zip(mask.chunks_exact_mut(wide)) {
        if !(0..i64::from(film.height())).contains(&y) {
            continue;
        }
        changes.clear();
        film.changes(y as u32, 0, film.width(), &mut changes);
        any |= !changes.is_empty();
        for pair in changes.chunks(2) {
            let to = pair.get(1).map_or(width, |x| *x as usize);
            row[side + pair[0] as usize..side + to].fill(u8::from(ink));
        }
    }
    if !any {
        return Vec::new();
    }
    let depth = squared_distances(&mask, wide, half.ceil() as u8 + 1);
    let room = half * half;
    let fits: Vec<u8> = depth.iter().map(|d| u8::from(f64::from(*d) < room)).collect();
    let away = squared_distances(&fits, wide, near as u8 + 1);
    let too_far = (near * near) as u16;
    let mut out = Vec::new();
    for y in first..last {
        let row = ((i64::from(y) - top) as usize) * wide + side;
        let fine = |x: usize| mask[row + x] != 0 && away[row + x] > too_far;
        let mut x = 0;
        while x < width {
            if !fine(x) {
                x += 1;
                continue;
            }
            let mut run = Run { y, from: x as u32, to: 0, at: x as u32, square: 0 };
            while x < width && fine(x) {
                if depth[row + x] > run.square {
                    (run.square, run.at) = (depth[row + x], x as u32);
                }
                x += 1;
            }
            run.to = x as u32;
            out.push(run);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

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
        let mut mended = film.clone();
        mend(&mut mended, Resolution::ppi(254.0), Length::mm(0.8), &result.places);
        assert_eq!(found(&mended, 8.0).places, []);
        assert!(mended.get(60, 200) && !mended.get(59, 200), "what was wide enough is untouched");
    }
}
