//! A first guess where the film lies in the photograph: the film's drawing at many turns and
//! sizes, compared with the photograph everywhere at once.

use crate::camera::{Camera, Xy};
use crate::correlation::Sums;
use crate::fft::{C, Fft2};
use crate::grey::Grey;
use crate::layout::Layout;
use crate::parts::{self, Parts};
use rayon::prelude::*;

/// The photograph's longer side while guessing, in pixels.
const LONG: f64 = 128.0;
/// The film's largest size is as large as the photo, and each next one so much smaller.
const SHRINK: f64 = 0.94;
const SIZES: i32 = 14;
/// So many guesses are worth refining.
const MOST: usize = 10;

/// A guess.
#[derive(Clone, Debug)]
pub(crate) struct Guess {
    pub(crate) camera: Camera,
    /// How plainly the film correlates with the photo.
    pub(crate) score: f64,
    /// The parts of the film that do.
    pub(crate) taken: [bool; parts::MOST],
}

/// The film's clearness in a few resolutions, each with its cell's side in mm.
pub(crate) type Ladder = Vec<(Grey, f64)>;

/// The best distinct guesses at the given turns (degrees), best first.
pub(crate) fn guesses(
    photo: &Grey,
    film: &Ladder,
    layout: &Layout,
    parts: &Parts,
    turns: &[f64],
) -> Vec<Guess> {
    let factor = photo.width.max(photo.height) as f64 / LONG;
    let small = photo.shrunk(factor.max(1.0)).blurred(0.8);
    let search = Search::new(&small);
    let cases: Vec<(f64, bool)> = turns.iter().flat_map(|t| [(*t, false), (*t, true)]).collect();
    let scale = photo.width as f64 / small.width as f64;
    let mut found: Vec<Guess> = cases
        .par_iter()
        .flat_map_iter(|(turn, mirrored)| {
            let fit = fitting(&small, layout, *turn);
            (0..SIZES)
                .filter_map(|k| {
                    let place = search.middle(*turn, *mirrored, fit * SHRINK.powi(k));
                    search.best(film, layout, parts, place)
                })
                .collect::<Vec<_>>()
        })
        .filter_map(|(score, taken, place)| {
            let corners = layout.corners();
            let seen = corners.map(|c| place.apply(c).map(|v| v * scale));
            let camera = Camera::through(&corners, &seen, photo.width as f64, photo.height as f64)?;
            Some(Guess { camera, score, taken })
        })
        .collect();
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut kept: Vec<Guess> = Vec::new();
    for guess in found {
        if kept.len() == MOST {
            break;
        }
        if !kept.iter().any(|k| apart(&k.camera, &guess.camera, layout) < 0.06 * LONG * scale) {
            kept.push(guess);
        }
    }
    kept
}

/// The mean distance between the film's corners as two cameras see them, in photo pixels.
pub(crate) fn apart(a: &Camera, b: &Camera, layout: &Layout) -> f64 {
    let total: f64 = layout
        .corners()
        .iter()
        .map(|c| match (a.project(*c), b.project(*c)) {
            (Some(p), Some(q)) => (p[0] - q[0]).hypot(p[1] - q[1]),
            _ => f64::INFINITY,
        })
        .sum();
    total / 4.0
}

/// The largest scale (small pixels a mm) at which the turned film fits the photo.
fn fitting(small: &Grey, layout: &Layout, turn: f64) -> f64 {
    let (s, c) = turn.to_radians().sin_cos();
    let [w, h] = layout.size;
    let (across, down) = (w * c.abs() + h * s.abs(), w * s.abs() + h * c.abs());
    // Turned films need not fit to the corner.
    (small.width as f64 / across).min(small.height as f64 / down) * 1.04
}

/// A similarity from film mm to small pixels.
struct Similarity {
    turn: (f64, f64),
    scale: f64,
    mirror: f64,
    middle: Xy,
}

impl Similarity {
    fn apply(&self, film: Xy) -> Xy {
        let (s, c) = self.turn;
        let (x, y) = (film[0] * self.mirror * self.scale, film[1] * self.scale);
        [self.middle[0] + c * x - s * y, self.middle[1] + s * x + c * y]
    }
    fn back(&self, at: Xy) -> Xy {
        let (s, c) = self.turn;
        let (x, y) = (at[0] - self.middle[0], at[1] - self.middle[1]);
        [(c * x + s * y) / self.scale * self.mirror, (c * y - s * x) / self.scale]
    }
}

/// The photograph, transformed once.
struct Search {
    width: usize,
    height: usize,
    fft: Fft2,
    light: Vec<C>,
    square: Vec<C>,
}

impl Search {
    fn new(small: &Grey) -> Self {
        let (width, height) = (small.width, small.height);
        let fft = Fft2::new(width, height);
        let transform = |f: &dyn Fn(f32) -> f32| {
            let mut data: Vec<C> =
                small.px.iter().map(|v| C::new(f(f32::from(*v) / 65535.0), 0.0)).collect();
            fft.forward(&mut data);
            data
        };
        let (light, square) = (transform(&|v| v), transform(&|v| v * v));
        Self { width, height, fft, light, square }
    }

    /// The film in the middle of the photo.
    fn middle(&self, turn: f64, mirrored: bool, scale: f64) -> Similarity {
        Similarity {
            turn: turn.to_radians().sin_cos(),
            scale,
            mirror: if mirrored { -1.0 } else { 1.0 },
            middle: [self.width as f64 / 2.0, self.height as f64 / 2.0],
        }
    }

    /// The best place for the film at one turn and scale, with how plainly which of its parts
    /// correlate there.
    fn best(
        &self,
        film: &Ladder,
        layout: &Layout,
        parts: &Parts,
        place: Similarity,
    ) -> Option<(f64, [bool; parts::MOST], Similarity)> {
        let (width, height) = (self.width, self.height);
        let templates = self.templates(film, layout, parts, &place);
        let mut whole = Sums::default();
        templates.iter().for_each(|(_, own)| whole.add(own));
        if whole.count < 50.0 || whole.own_spread() < 1e-3 {
            return None;
        }
        let fields: Vec<(Sums, [Vec<C>; 2])> =
            templates.into_iter().map(|(template, own)| (own, self.compared(template))).collect();
        let n = (width * height) as f32;
        // The film's middle may lie wherever nearly all of its frame stays inside.
        let (s, c) = place.turn;
        let [w, h] = layout.size.map(|v| v * place.scale * 0.46);
        let room = [w * c.abs() + h * s.abs(), w * s.abs() + h * c.abs()];
        let mut best: Option<(f64, [bool; parts::MOST], Xy)> = None;
        let mut there = vec![Sums::default(); fields.len()];
        let mut see = |i: usize| {
            for (there, (own, [cross, squares])) in there.iter_mut().zip(&fields) {
                let photo = [cross[i].im / n, squares[i].re / n].map(f64::from);
                *there = Sums { photo, both: f64::from(cross[i].re / n), ..*own };
            }
            Parts::plainest(&there)
        };
        for y in 0..height {
            for x in 0..width {
                let signed = |v: usize, len: usize| {
                    if v > len / 2 { v as f64 - len as f64 } else { v as f64 }
                };
                let middle =
                    [place.middle[0] + signed(x, width), place.middle[1] + signed(y, height)];
                if middle[0] < room[0]
                    || middle[1] < room[1]
                    || middle[0] > width as f64 - room[0]
                    || middle[1] > height as f64 - room[1]
                {
                    continue;
                }
                let Some((score, taken)) = see(y * width + x) else { continue };
                if score > best.map_or(f64::NEG_INFINITY, |b| b.0) {
                    best = Some((score, taken, middle));
                }
            }
        }
        best.map(|(score, taken, middle)| (score, taken, Similarity { middle, ..place }))
    }

    /// A template laid over the photo at every place: the products with the light, and the light,
    /// as real and imaginary part, and the light's squares.
    fn compared(&self, mut template: Vec<C>) -> [Vec<C>; 2] {
        let (width, height) = (self.width, self.height);
        self.fft.forward(&mut template);
        // The template's transform and its mask's, unpacked from one.
        let mut cross = vec![C::default(); template.len()];
        let mut squares = vec![C::default(); template.len()];
        for y in 0..height {
            for x in 0..width {
                let (i, j) = (y * width + x, (height - y) % height * width + (width - x) % width);
                let (z, w) = (template[i], template[j].conj());
                let (ft, fm) = ((z + w) * 0.5, (z - w) * C::new(0.0, -0.5));
                cross[i] =
                    ft.conj() * self.light[i] + C::new(0.0, 1.0) * (fm.conj() * self.light[i]);
                squares[i] = fm.conj() * self.square[i];
            }
        }
        self.fft.inverse(&mut cross);
        self.fft.inverse(&mut squares);
        [cross, squares]
    }

    /// The turned film's parts (real part) and where they are (imaginary part), with their own
    /// sums.
    fn templates(
        &self,
        film: &Ladder,
        layout: &Layout,
        parts: &Parts,
        place: &Similarity,
    ) -> Vec<(Vec<C>, Sums)> {
        let cell = 1.0 / place.scale;
        let (cover, mm) = film.iter().rev().find(|l| l.1 <= cell).unwrap_or(&film[0]);
        let blank = vec![C::default(); self.width * self.height];
        let mut out = vec![(blank, Sums::default()); parts.count()];
        for y in 0..self.height {
            for x in 0..self.width {
                let f = place.back([x as f64 + 0.5, y as f64 + 0.5]);
                let [u, v] = [f[0] + layout.size[0] / 2.0, f[1] + layout.size[1] / 2.0];
                if u < 0.0 || v < 0.0 || u >= layout.size[0] || v >= layout.size[1] {
                    continue;
                }
                let value = cover.bilinear(u / mm, v / mm) / 65535.0;
                let (template, own) = &mut out[parts.at(f)];
                template[y * self.width + x] = C::new(value, 1.0);
                own.add(&Sums::of(f64::from(value), 0.0));
            }
        }
        out
    }
}
