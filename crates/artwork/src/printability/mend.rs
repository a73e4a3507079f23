//! Fine lines widened: a disc of the finest width about every point of a line's middle.

use super::band::{Band, MOST_PX, at_once, near};
use super::runs::Run;
use super::{BAND, FinePlace};
use crate::distance::squared_distances;
use bitmap::{Bitmap, Raster};
use measure::{Length, Resolution};
use progress::{Cancelled, Progress};
use rayon::prelude::*;
use std::ops::Range;

/// The film with fine lines of ink spread, and fine gaps choked open, to `finest`: every one,
/// or only those of the places given. The result is as wide as asked or up to two pixels
/// wider. Where a line and a gap claim the same pixel, it stays as it was. The film is read
/// in bands and never changed meanwhile, so that the bits do not depend on the bands.
///
/// # Errors
/// When cancelled.
pub fn mend(
    film: &dyn Raster,
    resolution: Resolution,
    finest: Length,
    places: Option<&[FinePlace]>,
    progress: &Progress,
) -> Result<Bitmap, Cancelled> {
    mend_in_bands(film, resolution.px(finest), places, BAND, progress)
}

pub(super) fn mend_in_bands(
    film: &dyn Raster,
    finest_px: f64,
    places: Option<&[FinePlace]>,
    band: u32,
    progress: &Progress,
) -> Result<Bitmap, Cancelled> {
    let mut out = bitmap::collect(film);
    let finest_px = finest_px.clamp(0.0, MOST_PX);
    if finest_px.is_nan() || finest_px < 1.0 || out.stride() == 0 {
        return Ok(out);
    }
    let chosen = places.map(|places| [true, false].map(|ink| runs_of(places, ink)));
    let bands = film.height().div_ceil(band);
    let together = at_once(film, band, finest_px, around(finest_px));
    let stride = out.stride();
    let step = stride * (band * together) as usize;
    for (n, words) in (0_u32..).zip(out.words_mut().chunks_mut(step)) {
        progress.step("Mending fine lines", u64::from(n * together), u64::from(bands))?;
        words.par_chunks_mut(stride * band as usize).enumerate().for_each(|(i, words)| {
            let first = (n * together + i as u32) * band;
            let rows = first..first + (words.len() / stride) as u32;
            let spread = |ink: bool| {
                let runs = chosen.as_ref().map(|runs| &runs[usize::from(!ink)][..]);
                spread(film, rows.clone(), finest_px, ink, runs)
            };
            let (ink, clear) = (spread(true), spread(false));
            let nothing = vec![0; stride];
            for (y, row) in words.chunks_exact_mut(stride).enumerate() {
                let of = |all: &Option<Bitmap>| {
                    all.as_ref().map_or_else(|| nothing.clone(), |b| b.row(y as u32).to_vec())
                };
                for ((word, ink), clear) in row.iter_mut().zip(of(&ink)).zip(of(&clear)) {
                    *word = (*word | (ink & !clear)) & !(clear & !ink);
                }
            }
        });
    }
    Ok(out)
}

/// The runs of all places of a colour, from the top down.
fn runs_of(places: &[FinePlace], ink: bool) -> Vec<Run> {
    let of_colour = places.iter().filter(|place| place.ink == ink);
    let mut runs: Vec<Run> = of_colour.flat_map(|place| place.runs.iter().copied()).collect();
    runs.sort_by_key(|run| (run.y, run.from));
    runs
}

/// How wide a mended line is, in pixels.
fn disc_px(finest_px: f64) -> i64 {
    finest_px.ceil() as i64
}

/// How many rows away a fine pixel can lie on whose account one is mended.
fn around(finest_px: f64) -> usize {
    disc_px(finest_px) as usize / 2 + near(finest_px) + 2
}

/// Which pixels of some rows become of the colour looked at; none where nothing is fine.
fn spread(
    film: &dyn Raster,
    rows: Range<u32>,
    finest_px: f64,
    ink: bool,
    chosen: Option<&[Run]>,
) -> Option<Bitmap> {
    let around = around(finest_px);
    let band = Band::of(film, rows.clone(), finest_px, ink, around)?;
    let (width, wide) = (band.width, band.wide);
    let height = rows.len();
    // Nought where fine, so that distances count from there.
    let mut fine = vec![1_u8; band.mask.len()];
    let mut any = false;
    let mut mark = |at: usize| {
        if band.is_fine(at) {
            fine[at] = 0;
            any = true;
        }
    };
    let held = |y: i64| y + band.rim as i64 - i64::from(rows.start);
    match chosen {
        None => {
            for y in band.rim - around..band.rim + height + around {
                let from = y * wide + band.rim - around;
                (from..from + width + 2 * around).for_each(&mut mark);
            }
        }
        Some(runs) => {
            let (top, bottom) =
                (rows.start.saturating_sub(around as u32), rows.end.saturating_add(around as u32));
            let from = runs.partition_point(|run| run.y < top);
            for run in runs[from..].iter().take_while(|run| run.y < bottom) {
                let row = held(i64::from(run.y)) as usize * wide + band.rim;
                (row + run.from as usize..row + run.to as usize).for_each(&mut mark);
            }
        }
    }
    if !any {
        return None;
    }
    let near = near(finest_px);
    let to_fine = squared_distances(&fine, wide, near as u8 + 1);
    drop(fine);
    let disc = Disc::new(disc_px(finest_px));
    let reach = disc.reach();
    let mut out = Bitmap::new(width as u32, height as u32);
    for y in -reach..height as i64 + reach {
        for x in -reach..width as i64 + reach {
            let at = (y + band.rim as i64) as usize * wide + (x + band.rim as i64) as usize;
            // The line is followed on to where it is wide enough, so that it has no neck there.
            let follows = usize::from(to_fine[at]) <= near * near
                && band.mask[at] != 0
                && f64::from(band.depth[at]) < band.room;
            if follows && is_middle(&band.depth, at, wide) {
                let lean = |step: usize| band.depth[at + step] >= band.depth[at - step];
                disc.draw(&mut out, x, y, lean(1), lean(wide));
            }
        }
    }
    Some(out)
}

/// Whether a pixel is on the middle of what it lies in: no neighbour's disc holds its disc,
/// but for half a pixel, which leaves out the branches that run into corners of 60 degrees
/// and more.
fn is_middle(depth: &[u16], at: usize, wide: usize) -> bool {
    let here = f64::from(depth[at]).sqrt();
    let holds = |at: usize, away: f64| f64::from(depth[at]).sqrt() >= here + away - 0.5;
    let diagonal = std::f64::consts::SQRT_2;
    ![at - 1, at + 1, at - wide, at + wide].iter().any(|q| holds(*q, 1.0))
        && ![at - wide - 1, at - wide + 1, at + wide - 1, at + wide + 1]
            .iter()
            .any(|q| holds(*q, diagonal))
}

/// A disc of a whole number of pixels across. About a pixel, one that is even across lies half
/// a pixel to one side; that side is chosen where the line's own middle lies.
struct Disc {
    across: i64,
    /// How far each row of it goes from its middle, in half pixels.
    halves: Vec<i64>,
}

impl Disc {
    fn new(across: i64) -> Self {
        let row = |step: i64| {
            // Twice the distance of the row's middle from the disc's.
            let off = 2 * step - (across - 1);
            let square = across * across - off * off;
            (square as f64).sqrt() as i64
        };
        Self { across, halves: (0..across).map(row).collect() }
    }

    fn reach(&self) -> i64 {
        self.across / 2 + 1
    }

    /// Draws it about the pixel `x, y`, leaning right and down or left and up.
    fn draw(&self, out: &mut Bitmap, x: i64, y: i64, right: bool, down: bool) {
        // Twice the disc's middle, whole pixels being even.
        let even = self.across % 2 == 0;
        let lean = |at: i64, up: bool| {
            2 * at
                + if !even {
                    0
                } else if up {
                    1
                } else {
                    -1
                }
        };
        let (cx, cy) = (lean(x, right), lean(y, down));
        let top = (cy - (self.across - 1)) / 2;
        for (row, half) in (top..).zip(&self.halves) {
            if !(0..i64::from(out.height())).contains(&row) {
                continue;
            }
            // The pixels whose middles lie within.
            let from = (cx - half + 1).div_euclid(2);
            let to = (cx + half).div_euclid(2) + 1;
            let inside = |x: i64| x.clamp(0, i64::from(out.width())) as u32;
            let (from, to) = (inside(from), inside(to));
            if from < to {
                out.fill(from, to, row as u32);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::printability;
    use super::*;

    /// At 254 ppi a pixel is 0.1 mm.
    const PPI: f64 = 254.0;

    fn places(film: &Bitmap, finest_px: f64) -> Vec<FinePlace> {
        let resolution = Resolution::ppi(PPI);
        let finest = resolution.length(finest_px);
        printability(film, resolution, finest, &Progress::none()).unwrap().places
    }

    fn mended(film: &Bitmap, finest_px: f64, places: Option<&[FinePlace]>) -> Bitmap {
        mend_in_bands(film, finest_px, places, BAND, &Progress::none()).unwrap()
    }

    #[test]
    fn a_disc_is_as_wide_as_it_should_be() {
        for across in 1..30_i64 {
            for right in [true, false] {
                let mut out = Bitmap::new(64, 64);
                Disc::new(across).draw(&mut out, 32, 32, right, true);
                let row = |y| (0..64).filter(|x| out.get(*x, y)).count() as i64;
                assert_eq!((0..64).map(row).max(), Some(across));
                assert_eq!((0..64).filter(|y| row(*y) > 0).count() as i64, across);
                let area = (across * across) as f64 * std::f64::consts::FRAC_PI_4;
                let off = (out.count() as f64 - area).abs();
                assert!(off < 0.7 * across as f64, "{across}: {off}");
            }
        }
    }

    /// Lines of every slope and many widths, their true width known: what is mended is as wide
    /// as asked, measured across by how much ink it has to its length.
    #[test]
    fn mended_lines_are_as_wide_as_asked_at_every_slope() {
        for degrees in [0, 10, 23, 45, 61, 90, 118, 135, 170] {
            for (across, finest) in [(1.2, 4.0), (2.0, 7.0), (3.0, 9.0), (5.0, 9.0), (2.6, 12.0)] {
                for ink in [true, false] {
                    let (s, c) = f64::from(degrees).to_radians().sin_cos();
                    let film = Bitmap::from_fn(240, 240, |x, y| {
                        let (x, y) = (f64::from(x) - 120.0, f64::from(y) - 120.0);
                        let line = (x * s - y * c).abs() <= across / 2.0 && x.hypot(y) < 100.0;
                        line == ink && x.abs().max(y.abs()) < 112.0
                    });
                    let about = |b: &Bitmap| {
                        let near = |i: u32| {
                            let (x, y) = (f64::from(i % 240) - 120.0, f64::from(i / 240) - 120.0);
                            (x * c + y * s).abs() <= 50.0 && (x * s - y * c).abs() < 30.0
                        };
                        (0..240 * 240)
                            .filter(|i| near(*i) && b.get(i % 240, i / 240) == ink)
                            .count() as f64
                            / 100.0
                    };
                    assert!(!places(&film, finest).is_empty());
                    let out = mended(&film, finest, None);
                    let width = about(&out);
                    assert!(
                        width > finest - 0.6 && width < finest + 2.1,
                        "{degrees} deg, {across} to {finest} px, ink {ink}: {width}"
                    );
                    assert_eq!(places(&out, finest), [], "{degrees} deg, {across} to {finest}");
                }
            }
        }
    }

    /// The same bits however the film is cut into bands, and whole.
    #[test]
    fn bands_do_not_change_a_bit() {
        arbtest::arbtest(|u| {
            let (width, height) = (u.int_in_range(1..=150)?, u.int_in_range(1..=150)?);
            let strokes: Vec<[f64; 4]> = (0..u.int_in_range(0..=14)?)
                .map(|_| {
                    let n = |u: &mut arbtest::arbitrary::Unstructured<'_>| {
                        Ok::<_, arbtest::arbitrary::Error>(f64::from(u.int_in_range(0..=150)?))
                    };
                    Ok([n(u)?, n(u)?, f64::from(u.int_in_range(0..=31)?) / 10.0, n(u)? / 12.0])
                })
                .collect::<Result<_, arbtest::arbitrary::Error>>()?;
            let film = Bitmap::from_fn(width, height, |x, y| {
                let inside = |s: &&[f64; 4]| {
                    let (x, y) = (f64::from(x) - s[0], f64::from(y) - s[1]);
                    (x * s[2].sin() - y * s[2].cos()).abs() <= s[3] / 2.0
                };
                strokes.iter().filter(inside).count() % 2 == 1
            });
            let finest = f64::from(u.int_in_range(2..=24)?) / 2.0;
            let found = places(&film, finest);
            let some: Vec<FinePlace> = found.into_iter().step_by(2).collect();
            for chosen in [None, Some(&some[..])] {
                let whole = mend_in_bands(&film, finest, chosen, 1000, &Progress::none());
                for band in [1, 7, 64] {
                    let banded = mend_in_bands(&film, finest, chosen, band, &Progress::none());
                    assert!(whole == banded, "bands of {band}");
                }
            }
            Ok(())
        });
    }

    #[test]
    fn only_what_is_chosen_is_mended() {
        let film = Bitmap::from_fn(200, 300, |x, y| {
            let line = (40..42).contains(&x);
            let wedge = x >= 120 && x < 121 + y / 60;
            (line || wedge) && (10..290).contains(&y)
        });
        let found = places(&film, 8.0);
        assert_eq!(found.len(), 2, "{found:?}");
        let one = mended(&film, 8.0, Some(&found[..1]));
        let (left, other) = (places(&one, 8.0), usize::from(found[0].x > Length::mm(8.0)));
        assert_eq!(left.len(), 1);
        assert_eq!(left[0].x > Length::mm(8.0), other == 0);
        assert_eq!(mended(&film, 8.0, Some(&[])), film);
    }

    #[test]
    fn a_cancelled_mend_ends() {
        let progress = Progress::none();
        progress.handle().cancel();
        let film = Bitmap::from_fn(40, 40, |x, _| x == 20);
        assert!(mend_in_bands(&film, 6.0, None, 8, &progress).is_err());
    }
}
