//! Two sheets' lines at one place: what either sheet has there, and what the photo shows.

use crate::camera::Xy;
use crate::edges::PhotoLevel;
use crate::layout::Layout;
use crate::model::Model;
use crate::taps::{Cells, Taps};
use crate::{Film, Mark};
use bitmap::Window;

/// Between a photo's pixels its noise has about this share of its variance.
const BETWEEN: f64 = 0.7;

/// A drawing's ink blurs into places so many photo pixels away.
const NEAR: f64 = 3.3;

/// A mark's two patterns in cells of about a third of a photo pixel.
pub(crate) struct Patterns {
    pub(crate) cells: Cells,
    /// How much ink either sheet has.
    pub(crate) ink: [Vec<f32>; 2],
    /// The side of a cell.
    pub(crate) mm: f64,
    /// The middle on the film.
    pub(crate) middle: Xy,
    /// Cells a photo pixel.
    pub(crate) per_pixel: f64,
}

/// What the photo shows about the mark.
pub(crate) struct View {
    /// At the patterns' places, 1 on average.
    pub(crate) light: Vec<f32>,
    /// How much farther the model has the first sheet than the second; the view is taken with
    /// both moved by half of it towards each other.
    pub(crate) apart: Xy,
    /// The variance of the photo's own noise, each pixel's by itself.
    pub(crate) noise: f64,
    /// Which places are clear of the drawing: of a drawing's black and how that blurs less is known
    /// than of where it lies.
    pub(crate) clear: Vec<bool>,
}

impl View {
    /// Where the model has both patterns, in cells of `mm`.
    pub(crate) fn from(&self, mm: f64) -> [Xy; 2] {
        let half = self.apart.map(|v| v / 2.0 / mm);
        [half, half.map(|v| -v)]
    }
}

impl Patterns {
    pub(crate) fn new(mark: &Mark, layout: &Layout, model: &Model, photo: &PhotoLevel) -> Self {
        let [first, second] = &mark.drawn;
        let (wide, high) = (first.width().min(second.width()), first.height().min(second.height()));
        let cell = ((photo.mm / 3.0 / layout.pixel).round() as u32).max(1);
        let (width, height) = ((wide / cell).max(1) as usize, (high / cell).max(1) as usize);
        let ink = [first, second].map(|drawn| {
            let share = |i: usize| {
                let (x, y) = ((i % width) as u32 * cell, (i / width) as u32 * cell);
                let inked = (y..y + cell)
                    .map(|y| (x..x + cell).filter(|x| drawn.get(*x, y)).count())
                    .sum::<usize>();
                inked as f32 / (cell * cell) as f32
            };
            (0..width * height).map(share).collect()
        });
        let mm = f64::from(cell) * layout.pixel;
        let middle = std::array::from_fn(|k| {
            mark.corner[k] as f64 * layout.pixel - layout.size[k] / 2.0
                + [width, height][k] as f64 * mm / 2.0
        });
        let pixel = model.camera.mm_per_px(middle).unwrap_or(photo.mm) * photo.scale;
        Self { cells: Cells { width, height }, ink, mm, middle, per_pixel: pixel / mm }
    }

    /// With ink that spreads by so many mm past its edges; less than nought is shrinking.
    pub(crate) fn grown(mut self, by: f64) -> Self {
        let by = (by / self.mm).clamp(-1.0, 1.0) as f32;
        let width = self.cells.width;
        for ink in &mut self.ink {
            for row in ink.chunks_mut(width) {
                spread(row, by);
            }
            for x in 0..width {
                let mut column: Vec<f32> = ink.iter().skip(x).step_by(width).copied().collect();
                spread(&mut column, by);
                ink.iter_mut().skip(x).step_by(width).zip(column).for_each(|(to, v)| *to = v);
            }
        }
        self
    }

    /// What the photo shows there; nothing where that is not all in the photo, or half of it
    /// is near the drawing.
    pub(crate) fn view(
        &self,
        mark: &Mark,
        film: &Film,
        model: &Model,
        photo: &PhotoLevel,
    ) -> Option<View> {
        let [a, b] = mark.sheets.map(|s| model.motion(self.middle, s));
        let apart = [a[0] - b[0], a[1] - b[1]];
        let clear = self.clear(mark, film, apart[0].hypot(apart[1]) / 2.0);
        if clear.iter().filter(|c| **c).count() < clear.len() / 2 {
            return None;
        }
        let flat = model.uneven(self.middle);
        let p = model.camera.projected([0, 1].map(|k| flat[k] + (a[k] + b[k]) / 2.0))?;
        let light = self.places().map(|[x, y]| {
            let at: Xy = std::array::from_fn(|k| {
                let off = p.by_film[0][k] * x + p.by_film[1][k] * y;
                (p.at[k] + off * self.mm) / photo.scale
            });
            photo.light.cubic(at[0], at[1])
        });
        let mut light: Vec<f32> = light.collect::<Option<_>>()?;
        let mean = light.iter().sum::<f32>() / light.len() as f32;
        light.iter_mut().for_each(|v| *v /= mean.max(1.0));
        let half = (self.cells.width.max(self.cells.height) as f64 / self.per_pixel / 2.0) as usize;
        let middle = p.at.map(|v| (v / photo.scale) as usize);
        let noise = BETWEEN * photo.light.noise(middle, half) / f64::from(mean.max(1.0)).powi(2);
        Some(View { light, apart, noise, clear })
    }

    /// Which places no drawing is near, though it may have slipped by so many mm.
    fn clear(&self, mark: &Mark, film: &Film, slip: f64) -> Vec<bool> {
        let cell = (self.mm / film.resolution.pixel().to_mm()).round().max(1.0) as usize;
        let near = (NEAR * self.per_pixel + slip / self.mm).ceil() as usize;
        let [wide, high] = [self.cells.width, self.cells.height].map(|n| n + 2 * near);
        let [x, y] = mark.corner.map(|v| v - (near * cell) as i64);
        let size = [wide, high].map(|n| (n * cell) as u32);
        let drawing = bitmap::collect(&Window::new(film.raster, x, y, size[0], size[1]));
        // Ink up to each column of each row, and from those up to each row.
        let mut ink = vec![0_u32; (wide + 1) * (high + 1)];
        for v in 0..high * cell {
            let (mut sum, row) = (0, (v / cell + 1) * (wide + 1));
            for u in 0..wide * cell {
                sum += u32::from(drawing.get(u as u32, v as u32));
                ink[row + u / cell + 1] += if (u + 1) % cell == 0 { sum } else { 0 };
            }
        }
        for i in wide + 1..ink.len() {
            ink[i] += ink[i - wide - 1];
        }
        let within = |x: usize, y: usize| {
            let [left, right] = [x, x + 2 * near + 1];
            let [top, bottom] = [y, y + 2 * near + 1].map(|y| y * (wide + 1));
            ink[bottom + right] + ink[top + left] - ink[top + right] - ink[bottom + left]
        };
        let rows = (0..self.cells.height).step_by(2);
        rows.flat_map(|y| (0..self.cells.width).step_by(2).map(move |x| (x, y)))
            .map(|(x, y)| within(x, y) == 0)
            .collect()
    }

    /// The middles of every second cell of every second row from the middle of all, in cells:
    /// where the view and the patterns' light are compared.
    pub(crate) fn places(&self) -> impl Iterator<Item = Xy> + '_ {
        let Cells { width, height } = self.cells;
        let half = [width, height].map(|n| (n as f64 - 1.0) / 2.0);
        let rows = (0..height).step_by(2);
        rows.flat_map(move |y| {
            let row = (0..width).step_by(2);
            row.map(move |x| [x as f64 - half[0], y as f64 - half[1]])
        })
    }

    /// As many photo pixels as the pattern covers.
    pub(crate) fn pixels(&self) -> f64 {
        (self.cells.width * self.cells.height) as f64 / self.per_pixel.powi(2)
    }

    /// What a cell has of both patterns' ink, the second that many cells farther than the first.
    pub(crate) fn both(&self, by: Xy) -> Vec<f32> {
        let moved = self.cells.weighed(&self.ink[1], 1, by.map(Taps::linear));
        self.ink[0].iter().zip(moved).map(|(a, b)| a * b).collect()
    }
}

/// Lets ink spread by a part of a cell, or shrink where `by` is less than nought.
fn spread(row: &mut [f32], by: f32) {
    let mut before = row.first().copied().unwrap_or_default();
    for i in 0..row.len() {
        let (v, after) = (row[i], *row.get(i + 1).unwrap_or(&row[i]));
        let gain = if by > 0.0 {
            by * ((before - v).max(0.0) + (after - v).max(0.0))
        } else {
            -by * ((before - v).min(0.0) + (after - v).min(0.0))
        };
        row[i] = (v + gain).clamp(0.0, 1.0);
        before = v;
    }
}
