use crate::dot::{Cell, FULL};
use crate::noise::{self, blue_noise};
use crate::tones::{Reader, Shares};
use crate::{Dot, Hold, ToneError, Tones};
use bitmap::{Bitmap, Raster, Turned};
use measure::{Angle, Length, Resolution, Ruling};
use serde::{Deserialize, Serialize};

/// How tone becomes ink or none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Screen {
    /// Dots on a lattice, their size following tone.
    Dots {
        /// The dots' shape.
        dot: Dot,
        /// Lines of dots per inch.
        ruling: Ruling,
        /// How far the lines are turned.
        angle: Angle,
    },
    /// Grains of one size, scattered evenly, their number following tone.
    Noise {
        /// How large a grain is; rounded to whole film pixels, at least one.
        grain: Length,
    },
}

/// A film of dots or noise, given out row by row.
pub struct Screened {
    reader: Reader,
    turned: Turned,
    pattern: Pattern,
    hold: Hold,
}

enum Pattern {
    Dots {
        cell: Cell,
        /// The steps along the cell's sides for a film pixel across and down, in 2^-32 cells.
        /// Whole numbers, so that a pixel's place is the same however it is come by.
        across: (u32, u32),
        down: (u32, u32),
    },
    Noise {
        grain: u32,
    },
}

impl Screened {
    /// A film of a picture that lies upright or turned, at `resolution`. The dots keep their
    /// angle on the film.
    ///
    /// # Errors
    /// Where the ruling is too fine for the resolution, or no ruling, or an own dot's values
    /// are no square.
    pub fn new(
        tones: &Tones,
        turned: Turned,
        resolution: Resolution,
        screen: &Screen,
        hold: Hold,
    ) -> Result<Self, ToneError> {
        let pattern = match screen {
            Screen::Dots { dot, ruling, angle } => dots(dot, *ruling, *angle, resolution)?,
            Screen::Noise { grain } => {
                Pattern::Noise { grain: resolution.whole_px(*grain).clamp(1, 1000) as u32 }
            }
        };
        Ok(Self { reader: Reader::new(tones, turned), turned, pattern, hold })
    }
}

fn dots(
    dot: &Dot,
    ruling: Ruling,
    angle: Angle,
    resolution: Resolution,
) -> Result<Pattern, ToneError> {
    let (lpi, ppi) = (ruling.to_lpi(), resolution.to_ppi());
    let period = ppi / lpi;
    if !(lpi >= 1.0 && period.is_finite() && angle.to_deg().is_finite()) {
        return Err(ToneError::TooCoarse(lpi));
    }
    if period < 3.0 {
        return Err(ToneError::TooFine { lpi, ppi, pixels: period });
    }
    let (sin, cos) = angle.sin_cos();
    let turn = |v: f64| (v / period * 2_f64.powi(32)).round() as i64 as u32;
    let (across, down) = ((turn(cos), turn(-sin)), (turn(sin), turn(cos)));
    let patch = (0..PATCH * PATCH).map(|i| phase(across, down, i % PATCH, i / PATCH));
    Ok(Pattern::Dots { cell: dot.cell(period, patch)?, across, down })
}

/// The side of the patch of film that dots' tone is made exact over.
const PATCH: u32 = 512;

/// A film pixel's place in its cell, in 2^-32 cells.
fn phase(across: (u32, u32), down: (u32, u32), x: u32, y: u32) -> (u32, u32) {
    // The film's corner is a dot's middle; pixels are judged at their own middles.
    let half = |a: u32, b: u32| ((i64::from(a as i32) + i64::from(b as i32)) / 2) as u32;
    let place =
        |a: u32, d: u32| half(a, d).wrapping_add(a.wrapping_mul(x)).wrapping_add(d.wrapping_mul(y));
    (place(across.0, down.0), place(across.1, down.1))
}

impl Raster for Screened {
    fn width(&self) -> u32 {
        self.turned.film().0
    }
    fn height(&self) -> u32 {
        self.turned.film().1
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        match &self.pattern {
            Pattern::Dots { cell, across, down } if cell.widths.is_empty() => {
                let (u, v) = phase(*across, *down, 0, y);
                let threshold = |x: u32| {
                    let place = (
                        u.wrapping_add(across.0.wrapping_mul(x)),
                        v.wrapping_add(across.1.wrapping_mul(x)),
                    );
                    i32::from(cell.thresholds[cell.index(place)])
                };
                self.row(y, x0, x1, threshold, out);
            }
            Pattern::Dots { cell, across, down } => {
                let noise = noise_row(y);
                let threshold = |x: u32| {
                    let rank = i32::from(noise[x as usize % noise::SIDE]);
                    let span = (noise::SIDE * noise::SIDE) as i32;
                    let at = cell.index(phase(*across, *down, x, y));
                    // Noise spreads a threshold over all that it stands for.
                    let stir = (2 * rank + 1 - span) * i32::from(cell.widths[at] >> 1) / span;
                    (i32::from(cell.thresholds[at]) + stir).clamp(0, i32::from(FULL) - 1)
                };
                self.row(y, x0, x1, threshold, out);
            }
            Pattern::Noise { grain } => {
                let noise = noise_row(y / grain);
                let grain = *grain;
                let threshold =
                    |x: u32| i32::from(noise[(x / grain) as usize % noise::SIDE]) * 4 + 2;
                self.row(y, x0, x1, threshold, out);
            }
        }
    }
}

fn noise_row(y: u32) -> &'static [u16] {
    &blue_noise()[y as usize % noise::SIDE * noise::SIDE..][..noise::SIDE]
}

impl Screened {
    /// One row's changes, each pixel's level against its threshold.
    fn row(&self, y: u32, x0: u32, x1: u32, threshold: impl Fn(u32) -> i32, out: &mut Vec<u32>) {
        if x0 >= x1 {
            return;
        }
        let mut bits = Bitmap::new(x1 - x0, 1);
        let across = self.reader.across();
        let full = f32::from(FULL);
        self.reader.row(y, x0, x1, |stretch| {
            let columns = stretch.columns;
            match stretch.shares {
                Shares::Flat(share) => {
                    let level = (self.hold.of(share) * full + 0.5) as i32;
                    if level >= i32::from(FULL) {
                        // Above every threshold.
                        bits.fill(columns.start - x0, columns.end - x0, 0);
                    } else if level > 0 {
                        pack(bits.row_mut(0), x0, columns, |x| level > threshold(x));
                    }
                }
                // Beside hard edges the cubic runs past bare and solid all along.
                Shares::Cubic(cubic) if least_and_most(cubic).1 <= 0.0 => {}
                Shares::Cubic(cubic) if least_and_most(cubic).0 >= 1.0 => {
                    bits.fill(columns.start - x0, columns.end - x0, 0);
                }
                Shares::Cubic([a, b, c, d]) if self.hold == Hold::ALL => {
                    pack(bits.row_mut(0), x0, columns, |x| {
                        let t = across[x as usize];
                        let share = a + t * (b + t * (c + t * d));
                        (share * full + 0.5) as i32 > threshold(x)
                    });
                }
                Shares::Cubic([a, b, c, d]) => pack(bits.row_mut(0), x0, columns, |x| {
                    let t = across[x as usize];
                    let share = a + t * (b + t * (c + t * d));
                    (self.hold.of(share) * full + 0.5) as i32 > threshold(x)
                }),
                Shares::Each(each) => {
                    let from = columns.start;
                    pack(bits.row_mut(0), x0, columns, |x| {
                        let share = self.hold.of(each[(x - from) as usize]);
                        (share * full + 0.5) as i32 > threshold(x)
                    });
                }
            }
        });
        bits.changes_of_row(0, 0, x1 - x0, out);
    }
}

/// Bounds of a cubic between 0 and 1: those of its Bernstein coefficients.
fn least_and_most([a, b, c, d]: [f32; 4]) -> (f32, f32) {
    let all = [a, a + b / 3.0, a + (2.0 * b + c) / 3.0, a + b + c + d];
    (all.into_iter().fold(f32::MAX, f32::min), all.into_iter().fold(f32::MIN, f32::max))
}

/// Sets the bits of `columns`, counted from `x0`, where `ink`.
fn pack(words: &mut [u64], x0: u32, columns: std::ops::Range<u32>, ink: impl Fn(u32) -> bool) {
    let mut x = columns.start;
    while x < columns.end {
        let at = x - x0;
        let end = columns.end.min(x + 64 - at % 64);
        let mut word = 0_u64;
        for x in x..end {
            word = word << 1 | u64::from(ink(x));
        }
        let used = end - x;
        words[at as usize / 64] |= word << (64 - used - at % 64);
        x = end;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bitmap::collect;

    fn flat(share: f32, size: u32, screen: &Screen) -> Bitmap {
        let tones = Tones::new(1, 1, &[share]).unwrap();
        collect(
            &Screened::new(
                &tones,
                Turned::upright(size, size),
                Resolution::ppi(300.0),
                screen,
                Hold::ALL,
            )
            .unwrap(),
        )
    }

    fn dots(dot: Dot, lpi: f64, degrees: f64) -> Screen {
        Screen::Dots { dot, ruling: Ruling::lpi(lpi), angle: Angle::deg(degrees) }
    }

    #[test]
    fn a_wedge_inks_what_it_is_asked_within_one_percent() {
        let mut screens = vec![
            Screen::Noise { grain: Length::ZERO },
            Screen::Noise { grain: Length::inches(0.01) },
        ];
        for (lpi, degrees) in
            [(25.0, 22.5), (25.0, 0.0), (45.0, 45.0), (60.0, 22.5), (75.0, 0.0), (12.3, 7.5)]
        {
            screens.push(dots(Dot::Round, lpi, degrees));
            screens.push(dots(Dot::Elliptical, lpi, degrees));
            screens.push(dots(Dot::Line, lpi, degrees));
        }
        for screen in &screens {
            for step in 0..=20 {
                let share = step as f32 / 20.0;
                // A whole number of noise tiles, and many dots.
                let film = flat(share, 768, screen);
                let inked = film.count() as f64 / (768.0 * 768.0);
                assert!(
                    (inked - f64::from(share)).abs() < 0.01,
                    "{screen:?} asked {share}, got {inked}"
                );
            }
        }
    }

    #[test]
    fn a_ruling_has_its_dots_per_inch_along_its_angle() {
        // Frequencies from geometry: 25 lines an inch, 300 pixels an inch, turned 22.5 degrees.
        let size = 600;
        let film = flat(0.3, size, &dots(Dot::Round, 25.0, 22.5));
        let power = |fx: f64, fy: f64| {
            let (mut re, mut im) = (0.0, 0.0);
            for y in 0..size {
                for x in 0..size {
                    if film.get(x, y) {
                        let turn = std::f64::consts::TAU * (fx * f64::from(x) + fy * f64::from(y));
                        re += turn.cos();
                        im += turn.sin();
                    }
                }
            }
            re.hypot(im)
        };
        let f = 25.0 / 300.0;
        let (sin, cos) = Angle::deg(22.5).sin_cos();
        let on = power(f * cos, f * sin);
        for off in [power(f, 0.0), power(f * 1.05 * cos, f * 1.05 * sin), power(f * cos, -f * sin)]
        {
            assert!(on > 20.0 * off, "{on} {off}");
        }
    }

    #[test]
    fn a_cubic_stays_within_its_bounds() {
        for cubic in [[0.2, 1.0, -3.0, 2.5], [0.0, -0.4, 0.1, 0.0], [1.0, 0.3, -0.6, 0.3]] {
            let [a, b, c, d] = cubic;
            let (least, most) = least_and_most(cubic);
            for i in 0..=100 {
                let t = i as f32 / 100.0;
                let v = a + t * (b + t * (c + t * d));
                assert!((least - 1e-6..=most + 1e-6).contains(&v), "{cubic:?} at {t}: {v}");
            }
        }
    }

    #[test]
    fn any_part_of_a_film_is_the_same() {
        let shares: Vec<f32> = (0..30 * 20).map(|i| (i * 37 % 101) as f32 / 100.0).collect();
        let tones = Tones::new(30, 20, &shares).unwrap();
        for screen in [
            dots(Dot::Round, 25.0, 22.5),
            dots(Dot::Line, 75.0, 0.0),
            Screen::Noise { grain: Length::inches(0.01) },
        ] {
            for degrees in [0.0, 12.0] {
                let turned = Turned::by(700, 400, Angle::deg(degrees));
                let film =
                    Screened::new(&tones, turned, Resolution::ppi(300.0), &screen, Hold::ALL)
                        .unwrap();
                parts_agree(&film);
            }
        }
    }

    fn parts_agree(film: &Screened) {
        let whole = collect(film);
        for (x, y) in [(0, 0), (1, 7), (333, 222), (63, 65)] {
            let part = collect(&bitmap::Window::new(film, x, y, 150, 100));
            for v in 0..100 {
                for u in 0..150 {
                    assert_eq!(
                        part.get(u, v),
                        whole.get(u + x as u32, v + y as u32),
                        "{x} {y} {u} {v}"
                    );
                }
            }
        }
    }

    #[test]
    fn impossible_rulings_are_refused() {
        let tones = Tones::new(1, 1, &[0.5]).unwrap();
        for lpi in [120.0, 0.0, -25.0, f64::NAN, f64::INFINITY, 0.01] {
            let screen = dots(Dot::Round, lpi, 0.0);
            assert!(
                Screened::new(
                    &tones,
                    Turned::upright(9, 9),
                    Resolution::ppi(300.0),
                    &screen,
                    Hold::ALL
                )
                .is_err(),
                "{lpi}"
            );
        }
    }
}
