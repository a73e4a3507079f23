use crate::distance::squared;
use crate::plates::Plates;
use crate::{InksError, Rgb};
use bitmap::{Bitmap, Raster, Turned};
use measure::{Length, Resolution};
use progress::Progress;

/// Rows of film worked on at a time, besides those about them that can reach in.
const BAND: u32 = 256;

impl Plates {
    /// The plate of ink `ink` with traps: it spreads by `trap` under each darker ink beside
    /// it, which itself stays as it is, so that a screen a little out of place shows no gap.
    /// Under a strip of a darker ink it spreads no further than a third of the strip's
    /// width, and never into the open garment.
    ///
    /// # Errors
    /// Where there is no such ink, or when cancelled.
    pub fn trapped(
        &self,
        ink: usize,
        turned: Turned,
        resolution: Resolution,
        trap: Length,
        progress: &Progress,
    ) -> Result<Bitmap, InksError> {
        let (width, height) = turned.film();
        let reach = resolution.px(trap).clamp(0.0, 1000.0) as f32;
        let plate = self.raster(ink, turned)?;
        if reach < 0.5 {
            return Ok(bitmap::collect(&plate));
        }
        let light = self.inks()[ink].colour.lab().l;
        let darker = (0..self.inks().len()).filter(|k| self.inks()[*k].colour.lab().l < light);
        let darker: Vec<_> = darker.map(|k| self.raster(k, turned)).collect::<Result<_, _>>()?;
        // A strip three traps wide is opened by a disc of half that; twice that reaches in.
        let margin = (reach * 4.0).ceil() as u32 + 2;
        banded(width, height, margin, progress, |y0, y1, out| {
            let own = pixels(&plate, y0, y1);
            let rows = (y1 - y0) as usize;
            let to_own = squared(&own, width as usize, rows);
            out.copy_from_slice(&own);
            for dark in &darker {
                let dark = pixels(dark, y0, y1);
                if !dark.iter().any(|d| *d) {
                    continue;
                }
                for step in [0.25, 0.5, 0.75, 1.0] {
                    let part = reach * step;
                    let open = opened(&dark, width as usize, rows, 1.5 * part);
                    for (i, out) in out.iter_mut().enumerate() {
                        *out |= open[i] && to_own[i] <= part * part;
                    }
                }
            }
        })
    }

    /// The underbase: all that prints, drawn in by `choke` from the open garment so that
    /// none of it shows past the inks laid over it.
    ///
    /// # Errors
    /// When cancelled.
    pub fn underbase(
        &self,
        turned: Turned,
        resolution: Resolution,
        choke: Length,
        progress: &Progress,
    ) -> Result<Bitmap, InksError> {
        let (width, height) = turned.film();
        let reach = resolution.px(choke).clamp(0.0, 1000.0) as f32;
        let printed = self.printed(turned);
        if reach < 0.5 {
            return Ok(bitmap::collect(&printed));
        }
        banded(width, height, reach.ceil() as u32 + 1, progress, |y0, y1, out| {
            let open: Vec<bool> = pixels(&printed, y0, y1).into_iter().map(|p| !p).collect();
            for (out, d2) in out.iter_mut().zip(squared(&open, width as usize, (y1 - y0) as usize))
            {
                *out = d2 > reach * reach;
            }
        })
    }
}

/// The pixels that a disc of this radius covers somewhere inside the set ones.
fn opened(set: &[bool], width: usize, height: usize, radius: f32) -> Vec<bool> {
    let clear: Vec<bool> = set.iter().map(|s| !s).collect();
    let r2 = radius * radius;
    let core: Vec<bool> = squared(&clear, width, height).into_iter().map(|d2| d2 > r2).collect();
    squared(&core, width, height).into_iter().map(|d2| d2 <= r2).collect()
}

/// A film made in bands. `make` is given the rows of a band with a margin, and fills in all
/// of them; the margin is thrown away.
fn banded(
    width: u32,
    height: u32,
    margin: u32,
    progress: &Progress,
    make: impl Fn(u32, u32, &mut [bool]),
) -> Result<Bitmap, InksError> {
    let mut film = Bitmap::new(width, height);
    for from in (0..height).step_by(BAND as usize) {
        progress.step("Trapping", u64::from(from), u64::from(height))?;
        let to = (from + BAND).min(height);
        let (y0, y1) = (from.saturating_sub(margin), (to + margin).min(height));
        let mut rows = vec![false; width as usize * (y1 - y0) as usize];
        make(y0, y1, &mut rows);
        for y in from..to {
            let row = &rows[(y - y0) as usize * width as usize..][..width as usize];
            for (word, pixels) in film.row_mut(y).iter_mut().zip(row.chunks(64)) {
                *word = pixels.iter().fold(0, |word, p| word << 1 | u64::from(*p))
                    << (64 - pixels.len());
            }
        }
    }
    Ok(film)
}

/// Rows `y0..y1` of a raster, a pixel each.
fn pixels(raster: &dyn Raster, y0: u32, y1: u32) -> Vec<bool> {
    let width = raster.width();
    let mut out = vec![false; width as usize * (y1 - y0) as usize];
    let mut changes = Vec::new();
    for (y, row) in (y0..y1).zip(out.chunks_exact_mut(width.max(1) as usize)) {
        changes.clear();
        raster.changes(y, 0, width, &mut changes);
        for run in bitmap::runs(&changes, width) {
            row[run.start as usize..run.end as usize].fill(true);
        }
    }
    out
}

/// How a print is imagined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// How much of what lies under it an ink hides, 0 to 1.
    pub opacity: f64,
    /// A white underbase's opacity; none where there is no underbase.
    pub underbase: Option<f64>,
}

impl Plates {
    /// The print on the garment as it will about look, `width` pixels wide: each ink laid
    /// over those before it in linear light. Red, green and blue bytes, row by row.
    pub fn simulated(&self, width: u32, look: Look) -> (u32, u32, Vec<u8>) {
        let height = self.height_for(width);
        let turned = Turned::upright(width, height);
        let linear = |c: Rgb| c.0.map(|v| crate::colour::linear(f64::from(v)));
        let mut ground = vec![linear(self.garment); width as usize * height as usize];
        let mut lay = |raster: &dyn Raster, colour: [f64; 3], opacity: f64| {
            for (under, _) in ground.iter_mut().zip(pixels(raster, 0, height)).filter(|(_, p)| *p) {
                for c in 0..3 {
                    under[c] += opacity.clamp(0.0, 1.0) * (colour[c] - under[c]);
                }
            }
        };
        if let Some(opacity) = look.underbase {
            lay(&self.printed(turned), [1.0; 3], opacity);
        }
        for (k, ink) in self.inks().iter().enumerate() {
            if let Ok(plate) = self.raster(k, turned) {
                lay(&plate, linear(ink.colour), look.opacity);
            }
        }
        let bytes =
            ground.iter().flatten().map(|v| crate::colour::encoded(*v).round() as u8).collect();
        (width, height, bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Settings, separate};
    use artwork::Picture;

    /// Yellow at the left, a black strip, yellow again, on white: 40 x 20 pixels.
    fn plates() -> Plates {
        let colour = |x: usize, y: usize| match (x, y) {
            (_, 0..3 | 17..) | (0..3 | 37.., _) => [255, 255, 255],
            (15..24, _) => [0, 0, 0],
            _ => [255, 220, 0],
        };
        let bytes: Vec<u8> =
            (0..20).flat_map(|y| (0..40).flat_map(move |x| colour(x, y))).collect();
        separate(&Picture::rgb(40, 20, bytes), &Settings::default(), &Progress::none()).unwrap()
    }

    #[test]
    fn a_light_ink_spreads_under_a_dark_one_and_no_further() {
        let plates = plates();
        let yellow = plates.inks().iter().position(|i| i.colour.0[0] > 200).unwrap();
        let black = 1 - yellow;
        // Ten film pixels a picture pixel; the strip is 90 film pixels wide.
        let ppi = Resolution::ppi(254.0);
        let film = Turned::upright(400, 200);
        for (mm, spread) in [(1.0, 10), (2.0, 20), (5.0, 30)] {
            let spreads =
                plates.trapped(yellow, film, ppi, Length::mm(mm), &Progress::none()).unwrap();
            let plain = bitmap::collect(&plates.raster(yellow, film).unwrap());
            let count = |film: &Bitmap| (100..200).filter(|x| film.get(*x, 100)).count();
            let got = count(&spreads) - count(&plain);
            // A third of the strip at most; found in steps of a quarter of the trap.
            let least = if spread == 30 { 24 } else { spread - 1 };
            assert!((least..=spread + 1).contains(&got), "{mm} mm spread {got} of {spread}");
            // Never into the garment, and the dark ink is as it was.
            assert!((0..400).all(|x| !spreads.get(x, 25) || plain.get(x, 25)));
            let dark = plates.trapped(black, film, ppi, Length::mm(mm), &Progress::none()).unwrap();
            assert_eq!(dark, bitmap::collect(&plates.raster(black, film).unwrap()));
        }
    }

    #[test]
    fn an_underbase_keeps_clear_of_the_garment() {
        let plates = plates();
        let ppi = Resolution::ppi(254.0);
        let film = Turned::upright(400, 200);
        let base = plates.underbase(film, ppi, Length::mm(1.0), &Progress::none()).unwrap();
        let row: Vec<u32> = (0..400).filter(|x| base.get(*x, 100)).collect();
        // Ink runs from 30 to 370: the base from 40 to 360, the black strip included.
        assert!(
            (39..=41).contains(&row[0]) && (358..=360).contains(row.last().unwrap()),
            "{:?}",
            (row[0], row.last())
        );
        assert_eq!(row.len(), (row.last().unwrap() - row[0] + 1) as usize);
    }

    #[test]
    fn a_simulated_print_lays_ink_on_the_garment() {
        let mut plates = plates();
        plates.garment = "#000000".parse().unwrap();
        let at = |bytes: &[u8], x: usize, y: usize| {
            [bytes[3 * (y * 40 + x)], bytes[3 * (y * 40 + x) + 1], bytes[3 * (y * 40 + x) + 2]]
        };
        let (_, _, full) = plates.simulated(40, Look { opacity: 1.0, underbase: None });
        assert_eq!(at(&full, 1, 1), [0, 0, 0]);
        assert_eq!(at(&full, 8, 10), [255, 220, 0]);
        // Half the light of yellow on black: sRGB 188 for linear .5 (IEC 61966-2-1).
        let (_, _, half) = plates.simulated(40, Look { opacity: 0.5, underbase: None });
        assert_eq!(at(&half, 8, 10)[0], 188);
        let (_, _, based) = plates.simulated(40, Look { opacity: 0.5, underbase: Some(1.0) });
        assert_eq!(at(&based, 8, 10)[0], 255);
    }
}
