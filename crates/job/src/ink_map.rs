use bitmap::{Bitmap, Raster};
use measure::{Length, Resolution, Size};
use progress::{Cancelled, Progress};
use rayon::prelude::*;

/// Where a film has any ink at all, on squares much smaller than a planner's cell.
/// It is made once for a film, and answers at once while the artwork is dragged about.
#[derive(Clone, Debug, PartialEq)]
pub struct InkMap {
    /// The side of a square in film pixels; the last column and row may be narrower.
    pub step_px: u32,
    /// The film's width in pixels.
    pub film_width_px: u32,
    /// The film's height in pixels.
    pub film_height_px: u32,
    /// The film's resolution.
    pub resolution: Resolution,
    /// The squares; set = has ink.
    pub squares: Bitmap,
}

impl InkMap {
    /// The film's size.
    pub fn film_size(&self) -> Size {
        let length = |px: u32| self.resolution.length(f64::from(px));
        Size::new(length(self.film_width_px), length(self.film_height_px))
    }

    /// Looks at every row of the film, over all threads.
    ///
    /// # Errors
    /// [`Cancelled`] when asked to stop.
    pub fn of(
        film: &dyn Raster,
        resolution: Resolution,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let step = step_px(resolution);
        let (width, height) = (film.width(), film.height());
        let mut squares = Bitmap::new(width.div_ceil(step), height.div_ceil(step));
        let (across, stride) = (squares.width(), squares.stride());
        if stride > 0 {
            squares.words_mut().par_chunks_mut(stride).enumerate().try_for_each(|(j, words)| {
                progress.check()?;
                let mut row = Bitmap::new(across, 1);
                let mut changes = Vec::new();
                let top = j as u32 * step;
                for y in top..(top + step).min(height) {
                    changes.clear();
                    film.changes(y, 0, width, &mut changes);
                    for run in bitmap::runs(&changes, width) {
                        for i in run.start / step..=(run.end - 1) / step {
                            row.set(i, 0, true);
                        }
                    }
                }
                words.copy_from_slice(row.words());
                Ok(())
            })?;
        }
        Ok(Self {
            step_px: step,
            film_width_px: width,
            film_height_px: height,
            resolution,
            squares,
        })
    }
}

/// The planner's cell is 0.25 in for the usual overlaps. Squares that divide it exactly
/// lose nothing; otherwise a sixteenth of an inch is fine enough.
fn step_px(resolution: Resolution) -> u32 {
    let cell = resolution.px(Length::inches(0.25));
    let sixteenth = (cell / 4.0).round().max(1.0) as u32;
    let whole = cell.round() as u32;
    if (cell - f64::from(whole)).abs() > 1e-9 {
        return sixteenth;
    }
    let fine = sixteenth / 3;
    (fine.max(1)..=sixteenth).rev().find(|step| whole.is_multiple_of(*step)).unwrap_or(sixteenth)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_inked_pixel_is_on_the_map_and_no_clear_square_is() {
        arbtest::arbtest(|u| {
            let (w, h) = (u.int_in_range(1..=90)?, u.int_in_range(1..=90)?);
            let seed: u32 = u.arbitrary()?;
            let film = Bitmap::from_fn(w, h, |x, y| {
                (x ^ seed).wrapping_mul(2_654_435_761).wrapping_add(y.wrapping_mul(40_503)) % 61
                    == 0
            });
            let map = InkMap::of(&film, Resolution::ppi(96.0), &Progress::none()).unwrap();
            let step = map.step_px;
            let want = Bitmap::from_fn(w.div_ceil(step), h.div_ceil(step), |i, j| {
                (0..step).any(|v| (0..step).any(|t| film.get(i * step + t, j * step + v)))
            });
            assert_eq!(map.squares, want);
            Ok(())
        });
    }

    #[test]
    fn squares_divide_the_cell_at_common_resolutions() {
        for (ppi, step) in [(300.0, 15), (600.0, 30), (720.0, 45), (360.0, 18), (301.0, 19)] {
            assert_eq!(step_px(Resolution::ppi(ppi)), step, "{ppi}");
        }
    }
}
