//! A first guess where the film lies in the photograph: the film's drawing at many turns and
//! sizes, compared with the photograph everywhere at once.

use crate::camera::{Camera, Xy};
use crate::fft::{C, Fft2};
use crate::grey::Grey;
use crate::layout::Layout;
use rayon::prelude::*;

/// The photograph's longer side while guessing, in pixels.
const LONG: f64 = 128.0;
/// The film's largest size is as large as the photo, and each next one so much smaller.
const SHRINK: f64 = 0.94;
const SIZES: i32 = 14;

/// A guess.
#[derive(Clone, Debug)]
pub(crate) struct Guess {
    pub(crate) camera: Camera,
    /// The correlation of the film with the photo.
    pub(crate) score: f64,
}

/// The film's clearness in a few resolutions, each with its cell's side in mm.
pub(crate) type Ladder = Vec<(Grey, f64)>;

/// The best distinct guesses at the given turns (degrees), best first.
pub(crate) fn guesses(
    photo: &Grey,
    film: &Ladder,
    layout: &Layout,
    turns: &[f64],
    most: usize,
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
                .filter_map(|k| search.best(film, layout, *turn, *mirrored, fit * SHRINK.powi(k)))
                .collect::<Vec<_>>()
        })
        .filter_map(|(score, place)| {
            let corners = layout.corners();
            let seen = corners.map(|c| place.apply(c).map(|v| v * scale));
            let camera = Camera::through(&corners, &seen, photo.width as f64, photo.height as f64)?;
            Some(Guess { camera, score })
        })
        .collect();
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut kept: Vec<Guess> = Vec::new();
    for guess in found {
        if kept.len() == most {
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

    /// The best place for the film at one turn and scale, with its correlation.
    fn best(
        &self,
        film: &Ladder,
        layout: &Layout,
        turn: f64,
        mirrored: bool,
        scale: f64,
    ) -> Option<(f64, Similarity)> {
        let (width, height) = (self.width, self.height);
        let place = Similarity {
            turn: turn.to_radians().sin_cos(),
            scale,
            mirror: if mirrored { -1.0 } else { 1.0 },
            middle: [width as f64 / 2.0, height as f64 / 2.0],
        };
        let (mut template, count, mean, square) = self.template(film, layout, &place);
        let spread = square - mean * mean * count;
        if count < 50.0 || spread < 1e-3 {
            return None;
        }
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
        let n = (width * height) as f32;
        // The film's middle may lie wherever nearly all of its frame stays inside.
        let (s, c) = place.turn;
        let [w, h] = layout.size.map(|v| v * scale * 0.46);
        let room = [w * c.abs() + h * s.abs(), w * s.abs() + h * c.abs()];
        let mut best: Option<(f64, Xy)> = None;
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
                let i = y * width + x;
                let (tp, p, pp) = (cross[i].re / n, cross[i].im / n, squares[i].re / n);
                let variance = f64::from(pp) - f64::from(p).powi(2) / count;
                if variance < 1e-4 * count {
                    continue;
                }
                let score = (f64::from(tp) - mean * f64::from(p)) / (variance * spread).sqrt();
                if best.as_ref().is_none_or(|b| score > b.0) {
                    best = Some((score, middle));
                }
            }
        }
        best.map(|(score, middle)| (score, Similarity { middle, ..place }))
    }

    /// The turned film (real part) and where it is (imaginary part), with the number of its
    /// pixels, their mean and the sum of their squares.
    fn template(
        &self,
        film: &Ladder,
        layout: &Layout,
        place: &Similarity,
    ) -> (Vec<C>, f64, f64, f64) {
        let cell = 1.0 / place.scale;
        let (cover, mm) = film.iter().rev().find(|l| l.1 <= cell).unwrap_or(&film[0]);
        let (mut count, mut sum, mut square) = (0.0, 0.0, 0.0);
        let mut out = Vec::with_capacity(self.width * self.height);
        for y in 0..self.height {
            for x in 0..self.width {
                let f = place.back([x as f64 + 0.5, y as f64 + 0.5]);
                let [u, v] = [f[0] + layout.size[0] / 2.0, f[1] + layout.size[1] / 2.0];
                if u < 0.0 || v < 0.0 || u >= layout.size[0] || v >= layout.size[1] {
                    out.push(C::default());
                    continue;
                }
                let value = cover.bilinear(u / mm, v / mm) / 65535.0;
                out.push(C::new(value, 1.0));
                count += 1.0;
                sum += f64::from(value);
                square += f64::from(value).powi(2);
            }
        }
        (out, count, if count > 0.0 { sum / count } else { 0.0 }, square)
    }
}
