use crate::tones::{Reader, Shares};
use crate::{ToneError, Tones};
use bitmap::{Bitmap, Turned};
use progress::Progress;
use rayon::prelude::*;

/// The level of solid ink.
const FULL: i32 = 0xFFFF;
/// Rows read at a time: one batch is read while the one before is diffused.
const BATCH: u32 = 64;

/// A film of a picture that lies upright or turned by error diffusion (Floyd, Steinberg 1976),
/// in grains of `grain` x `grain` film pixels; rows run there and back, which hides the drift
/// of the errors. Each row needs the one before it, so the whole film is held, one bit a pixel.
///
/// # Errors
/// When cancelled.
pub fn diffuse(
    tones: &Tones,
    turned: Turned,
    grain: u32,
    progress: &Progress,
) -> Result<Bitmap, ToneError> {
    let grain = grain.max(1);
    let (width, height) = turned.film();
    let grains = if turned.is_upright() {
        Turned::upright(width.div_ceil(grain), height.div_ceil(grain))
    } else {
        turned.in_grains(grain)
    };
    let (columns, rows) = grains.film();
    let mut film = Bitmap::new(width, height);
    if width == 0 || height == 0 {
        return Ok(film);
    }
    let reader = Reader::new(tones, grains);
    let mut errors = Errors::new(columns as usize);
    let mut batch = read(&reader, columns, 0, rows.min(BATCH));
    let mut first = 0;
    while first < rows {
        progress.step("Diffusing tone", u64::from(first), u64::from(rows))?;
        let next = (first + BATCH).min(rows);
        let (_, following) = rayon::join(
            || {
                for (i, levels) in batch.iter().enumerate() {
                    let y = first + i as u32;
                    let top = y * grain;
                    errors.row(levels, y % 2 == 1, grain, film.row_mut(top));
                    for copy in top + 1..(top + grain).min(height) {
                        let line = film.row(top).to_vec();
                        film.row_mut(copy).copy_from_slice(&line);
                    }
                }
            },
            || read(&reader, columns, next, (next + BATCH).min(rows)),
        );
        batch = following;
        first = next;
    }
    clear_past(&mut film);
    Ok(film)
}

/// A last grain may reach past the right edge, where bits must stay clear.
fn clear_past(film: &mut Bitmap) {
    let over = film.width() % 64;
    if over == 0 {
        return;
    }
    for y in 0..film.height() {
        if let Some(last) = film.row_mut(y).last_mut() {
            *last &= u64::MAX << (64 - over);
        }
    }
}

/// The levels of rows `from..to`.
fn read(reader: &Reader, width: u32, from: u32, to: u32) -> Vec<Vec<u16>> {
    let across = reader.across();
    (from..to)
        .into_par_iter()
        .map(|y| {
            let mut levels = Vec::with_capacity(width as usize);
            // A float is brought inside 0..=65535 as it is made a u16.
            let level = |share: f32| (share * FULL as f32 + 0.5) as u16;
            reader.row(y, 0, width, |stretch| match stretch.shares {
                Shares::Flat(share) => levels.extend(stretch.columns.map(|_| level(share))),
                Shares::Each(each) => levels.extend(each.iter().map(|share| level(*share))),
                Shares::Cubic([a, b, c, d]) => levels.extend(stretch.columns.map(|x| {
                    let t = across[x as usize];
                    level(a + t * (b + t * (c + t * d)))
                })),
            });
            levels
        })
        .collect()
}

/// Grains that are looked at together.
const PART: usize = 64;

/// Errors handed down to the next row, with one place to spare at either end.
struct Errors {
    here: Vec<i32>,
    below: Vec<i32>,
}

impl Errors {
    fn new(width: usize) -> Self {
        Self { here: vec![0; width + 2], below: vec![0; width + 2] }
    }

    fn row(&mut self, levels: &[u16], backwards: bool, grain: u32, words: &mut [u64]) {
        self.below.fill(0);
        let mut carried = 0;
        let parts = levels.len().div_ceil(PART);
        for n in 0..parts {
            let start = PART * if backwards { parts - 1 - n } else { n };
            let part = start..(start + PART).min(levels.len());
            // Solid ink and open film without an error leave none.
            if carried == 0 && self.here[part.start + 1..=part.end].iter().all(|e| *e == 0) {
                let first = levels[part.start];
                let even = levels[part.clone()].iter().all(|level| *level == first);
                if even && (first == 0 || i32::from(first) == FULL) {
                    if first > 0 {
                        part.for_each(|x| ink(words, x, grain));
                    }
                    continue;
                }
            }
            if backwards {
                part.rev().for_each(|x| carried = self.step(x, -1, carried, levels, grain, words));
            } else {
                part.for_each(|x| carried = self.step(x, 1, carried, levels, grain, words));
            }
        }
        // What fell off the ends goes back to the row's last places.
        let last = levels.len();
        self.below[1] += self.below[0];
        self.below[last] += self.below[last + 1];
        (self.below[0], self.below[last + 1]) = (0, 0);
        std::mem::swap(&mut self.here, &mut self.below);
    }

    /// Settles one grain; gives the error that the next one `ahead` takes over.
    fn step(
        &mut self,
        x: usize,
        ahead: isize,
        carried: i32,
        levels: &[u16],
        grain: u32,
        words: &mut [u64],
    ) -> i32 {
        let at = x + 1;
        let value = i32::from(levels[x]) + self.here[at] + carried;
        let inked = value > FULL / 2;
        let error = value - if inked { FULL } else { 0 };
        // Sixteenths 7, 3, 5 and 1; what rounding leaves goes with the last, so that no tone is
        // lost.
        let (right, left, under) = ((error * 7) >> 4, (error * 3) >> 4, (error * 5) >> 4);
        self.below[at.wrapping_add_signed(-ahead)] += left;
        self.below[at] += under;
        self.below[at.wrapping_add_signed(ahead)] += error - right - left - under;
        if inked {
            ink(words, x, grain);
        }
        right
    }
}

/// Makes a grain ink.
fn ink(words: &mut [u64], x: usize, grain: u32) {
    for bit in x as u32 * grain..(x as u32 + 1) * grain {
        if let Some(word) = words.get_mut(bit as usize / 64) {
            *word |= 1 << (63 - bit % 64);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_row_alternates_as_worked_by_hand() {
        // Floyd, Steinberg 1976, 7/16 to the right: a row of grey 127 cut at 128 goes black,
        // white, black... (values 127, 182.6, 95.3, 169.0). Here shares of ink run the other
        // way, so that 128/255 of ink begins with ink.
        let mut errors = Errors::new(6);
        let mut words = [0];
        errors.row(&[(128.0 / 255.0 * 65535.0) as u16; 6], false, 1, &mut words);
        assert_eq!(words[0] >> 58, 0b10_1010);
    }

    #[test]
    fn a_wedge_inks_what_it_is_asked() {
        for grain in [1, 3] {
            for step in 0..=20 {
                let share = step as f32 / 20.0;
                let tones = Tones::new(1, 1, &[share]).unwrap();
                let film =
                    diffuse(&tones, Turned::upright(300, 300), grain, &Progress::none()).unwrap();
                let inked = film.count() as f64 / 90_000.0;
                assert!((inked - f64::from(share)).abs() < 0.01, "{grain} {share} {inked}");
            }
        }
    }

    #[test]
    fn a_cancelled_diffusion_stops() {
        let tones = Tones::new(1, 1, &[0.5]).unwrap();
        let progress = Progress::none();
        progress.handle().cancel();
        assert!(diffuse(&tones, Turned::upright(100, 100), 1, &progress).is_err());
    }
}
