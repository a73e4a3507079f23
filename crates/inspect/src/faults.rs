//! Which sheet lies where: the photo of each sheet's place against every drawing.

use crate::Found;
use crate::camera::Xy;
use crate::layout::Layout;
use crate::levels::Levels;
use crate::light::{Light, Look};
use crate::model::Model;
use crate::rough::Ladder;
use rayon::prelude::*;

/// The side of a cell in mm, and how many cells a sheet may have slipped.
const CELL: f64 = 2.0;
const SLIP: usize = 6;
/// Below this correlation a sheet is compared with itself turned and mirrored (one that looks much
/// like its mirror image correlates with that too), ...
const ALIKE: f64 = 0.97;
/// ... below this with all others as well, ...
const DOUBT: f64 = 0.9;
/// ... and is another if that correlates better by this, or lacks but half as much.
const BETTER: f64 = 0.05;
/// Less ink than this share of the expected: the sheet is missing.
const MISSING: f64 = 0.15;
/// Below this share of ink a sheet's drawing tells nothing.
const BLANK: f64 = 0.004;

/// Says what lies in each sheet's place.
pub(crate) fn identify(
    model: &Model,
    photo: &Levels,
    film: &Ladder,
    layout: &Layout,
    names: &[String],
) -> Vec<Found> {
    let level = film.iter().rev().find(|l| l.1 <= CELL).unwrap_or(&film[0]);
    let look = Look { model, photo, film: level, layout };
    let Some(light) = look.light() else {
        return vec![Found::NotSure; names.len()];
    };
    let drawings: Vec<Patch> = (0..names.len()).into_par_iter().map(|s| look.drawing(s)).collect();
    (0..names.len())
        .into_par_iter()
        .map(|s| {
            let own = &drawings[s];
            let seen = look.seen(s, &light);
            let (mut expected, mut ink, mut count) = (0.0, 0.0, 0.0_f64);
            for y in 0..own.height {
                for x in 0..own.width {
                    if own.mask[y * own.width + x] {
                        expected += 1.0 - own.at(x, y);
                        ink += (1.0 - seen.at(x + SLIP, y + SLIP)).max(0.0);
                        count += 1.0;
                    }
                }
            }
            if expected < BLANK * count.max(1.0) {
                return Found::NotSure;
            }
            if ink < MISSING * expected {
                return Found::Missing;
            }
            // A sheet in its place is nearly always found without looking further.
            if own.match_at(&seen, SLIP, SLIP) >= ALIKE {
                return Found::InPlace;
            }
            let matched = own.match_in(&seen, 1);
            if matched >= ALIKE {
                return Found::InPlace;
            }
            let better = (matched + BETTER).min((1.0 + matched) / 2.0);
            let mut best = (better, Found::InPlace);
            let compared = drawings.iter().enumerate();
            for (t, other) in compared.filter(|(t, _)| *t == s || matched < DOUBT) {
                if (other.width.abs_diff(own.width)).max(other.height.abs_diff(own.height)) > 2 {
                    continue;
                }
                // A blank drawing is like anything.
                if other.ink() < BLANK {
                    continue;
                }
                for (mirror, turn) in [(false, false), (false, true), (true, false), (true, true)] {
                    if t == s && !mirror && !turn {
                        continue;
                    }
                    let r = other.turned(mirror, turn, own).match_in(&seen, 2);
                    if r > best.0 {
                        let what = match (t == s, mirror) {
                            (false, _) => Found::Is(names[t].clone()),
                            (true, true) => Found::Mirrored,
                            (true, false) => Found::UpsideDown,
                        };
                        best = (r, what);
                    }
                }
            }
            best.1
        })
        .collect()
}

/// A part of the film in cells: how clear it is.
struct Patch {
    width: usize,
    height: usize,
    clear: Vec<f32>,
    /// Where only this sheet lies.
    mask: Vec<bool>,
}

impl Patch {
    fn at(&self, x: usize, y: usize) -> f64 {
        f64::from(self.clear[y * self.width + x])
    }

    /// Its share of ink.
    fn ink(&self) -> f64 {
        1.0 - self.clear.iter().map(|v| f64::from(*v)).sum::<f64>() / self.clear.len() as f64
    }

    /// The same drawing mirrored and turned, in the frame and mask of `place`.
    fn turned(&self, mirror: bool, turn: bool, place: &Self) -> Self {
        let mut clear = Vec::with_capacity(place.clear.len());
        for y in 0..place.height {
            for x in 0..place.width {
                let (x, y) = (x.min(self.width - 1), y.min(self.height - 1));
                let x = if mirror != turn { self.width - 1 - x } else { x };
                let y = if turn { self.height - 1 - y } else { y };
                clear.push(self.clear[y * self.width + x]);
            }
        }
        Self { width: place.width, height: place.height, clear, mask: place.mask.clone() }
    }

    /// The best correlation with what is seen, over all slips in steps of `step` cells.
    fn match_in(&self, seen: &Self, step: usize) -> f64 {
        let slips = || (0..=2 * SLIP).step_by(step);
        slips()
            .flat_map(|dy| slips().map(move |dx| (dx, dy)))
            .fold(f64::NEG_INFINITY, |best, (dx, dy)| best.max(self.match_at(seen, dx, dy)))
    }

    /// The correlation with what is seen `dx` and `dy` cells further.
    fn match_at(&self, seen: &Self, dx: usize, dy: usize) -> f64 {
        let [mut n, mut a, mut b, mut aa, mut bb, mut ab] = [0.0_f32; 6];
        for y in 0..self.height {
            let drawn = &self.clear[y * self.width..][..self.width];
            let mask = &self.mask[y * self.width..][..self.width];
            let there = &seen.clear[(y + dy) * seen.width + dx..][..self.width];
            for ((p, q), m) in drawn.iter().zip(there).zip(mask) {
                let w = if *m { 1.0 } else { 0.0 };
                let (p, q) = ((p - 0.5) * w, (q - 0.5) * w);
                n += w;
                a += p;
                b += q;
                aa += p * p;
                bb += q * q;
                ab += p * q;
            }
        }
        let n = f64::from(n.max(1.0));
        let [a, b, aa, bb, ab] = [a, b, aa, bb, ab].map(f64::from);
        let spread = (aa - a * a / n) * (bb - b * b / n);
        (ab - a * b / n) / spread.sqrt().max(1e-9)
    }
}

impl Look<'_> {
    fn grid(&self, sheet: usize, border: usize) -> (usize, usize, Xy) {
        let [l, t, r, b] = self.layout.quads[sheet].frame();
        let cells = |length: f64| (length / CELL).round().max(1.0) as usize + 2 * border;
        let start = [l - border as f64 * CELL, t - border as f64 * CELL];
        (cells(r - l), cells(b - t), start)
    }

    fn drawing(&self, sheet: usize) -> Patch {
        self.patch(sheet, 0, |at| self.clear(at))
    }

    /// What the photo shows there as clearness, with room to slip.
    fn seen(&self, sheet: usize, light: &Light) -> Patch {
        self.patch(sheet, SLIP, |at| {
            self.photo(at, CELL).map_or(1.0, |v| light.clearness(at, v).clamp(-0.5, 1.5))
        })
    }

    fn patch(&self, sheet: usize, border: usize, value: impl Fn(Xy) -> f64) -> Patch {
        let (width, height, start) = self.grid(sheet, border);
        let (mut clear, mut mask) = (Vec::new(), Vec::new());
        for y in 0..height {
            for x in 0..width {
                let at = [start[0] + (x as f64 + 0.5) * CELL, start[1] + (y as f64 + 0.5) * CELL];
                clear.push(value(at) as f32);
                mask.push(self.layout.only_sheet(at, 1.5) == Some(sheet));
            }
        }
        Patch { width, height, clear, mask }
    }
}
