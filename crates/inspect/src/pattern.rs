//! Two sheets' patterns at one place, seen through each other: where each of them lies.

use crate::Mark;
use crate::camera::Xy;
use crate::edges::PhotoLevel;
use crate::grey::gaussian;
use crate::layout::Layout;
use crate::model::Model;
use nalgebra::{Matrix2, SMatrix, SVector};

/// Patterns are looked for everywhere up to so far from where the model has them, mm.
const REACH: f64 = 1.2;
/// Farther from there none is believed to lie, mm.
const FARTHEST: f64 = 5.0;
/// The likeliest shifts of one pattern by itself that are tried with the other's.
const TRIED: usize = 4;
/// The best of them are sought better ones about.
const COMBED: usize = 5;

/// ... at steps of so many cells.
pub(crate) const COMB: f64 = 2.0;

/// Lines that leave a larger share of what varies than this are not seen.
const EXPLAINED: f64 = 0.5;

/// How the photo shows fine lines.
#[derive(Clone, Copy, PartialEq)]
pub(crate) struct Look {
    /// The blur in photo pixels.
    pub(crate) blur: f64,
    /// The share of light that comes through ink.
    pub(crate) through: f32,
}

impl Look {
    /// The light of so much clear film.
    fn lit(self, clear: f32) -> f32 {
        self.through + (1.0 - self.through) * clear
    }
}

/// What is taken for right until the marks have told.
pub(crate) const USUAL: Look = Look { blur: 1.05, through: 0.04 };

/// A mark's two patterns laid over each other.
pub(crate) struct Fit {
    /// The shifts of both in cells, from the middle of where the model has its two sheets.
    pub(crate) shifts: [Xy; 2],
    /// How much farther the first is than the second, mm, ...
    pub(crate) apart: Xy,
    /// ... and what that may be off by if every pixel erred by itself, mm squared.
    pub(crate) difference: Matrix2<f64>,
    /// What is left unexplained, as a share of what varies.
    pub(crate) share: f64,
    /// The variance of what is left, the light being 1.
    pub(crate) noise: f64,
}

/// What a fit leaves unexplained.
struct Miss {
    /// As a share of what varies.
    share: f64,
    /// Its variance, the light being 1.
    noise: f64,
}

#[derive(Clone)]
/// A mark's two patterns in cells of about a third of a photo pixel.
pub(crate) struct Patterns {
    width: usize,
    height: usize,
    /// How clear either sheet is.
    clear: [Vec<f32>; 2],
    /// The side of a cell.
    pub(crate) mm: f64,
    /// The middle on the film.
    pub(crate) middle: Xy,
    /// Cells a photo pixel.
    per_pixel: f64,
}

/// What the photo shows about the mark.
pub(crate) struct View {
    /// At the patterns' places, 1 on average.
    light: Vec<f32>,
    /// How much it varies about a plane of light: what there is to explain.
    varies: f64,
    /// How much farther the model has the first sheet than the second; the view is taken with
    /// both moved by half of it towards each other.
    apart: Xy,
}

/// Both patterns seen through each other at some shifts, and how that changes with them, at
/// the patterns' places.
struct Seen {
    light: Vec<f32>,
    by_shift: [Vec<f32>; 4],
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
        let clear = [first, second].map(|drawn| {
            let share = |i: usize| {
                let (x, y) = ((i % width) as u32 * cell, (i / width) as u32 * cell);
                let inked = (y..y + cell)
                    .map(|y| (x..x + cell).filter(|x| drawn.get(*x, y)).count())
                    .sum::<usize>();
                1.0 - inked as f32 / (cell * cell) as f32
            };
            (0..width * height).map(share).collect()
        });
        let mm = f64::from(cell) * layout.pixel;
        let middle = std::array::from_fn(|k| {
            mark.corner[k] as f64 * layout.pixel - layout.size[k] / 2.0
                + [width, height][k] as f64 * mm / 2.0
        });
        let pixel = model.camera.mm_per_px(middle).unwrap_or(photo.mm) * photo.scale;
        let per_pixel = pixel / mm;
        Self { width, height, clear, mm, middle, per_pixel }
    }

    /// With ink that spreads by so many mm past its edges; less than nought is shrinking.
    pub(crate) fn grown(mut self, by: f64) -> Self {
        let by = (by / self.mm).clamp(-1.0, 1.0) as f32;
        for clear in &mut self.clear {
            for row in clear.chunks_mut(self.width) {
                spread(row, by);
            }
            for x in 0..self.width {
                let mut column: Vec<f32> =
                    clear.iter().skip(x).step_by(self.width).copied().collect();
                spread(&mut column, by);
                clear
                    .iter_mut()
                    .skip(x)
                    .step_by(self.width)
                    .zip(column)
                    .for_each(|(to, v)| *to = v);
            }
        }
        self
    }

    /// What the photo shows there; nothing where that is not all in the photo.
    pub(crate) fn view(
        &self,
        model: &Model,
        sheets: [usize; 2],
        photo: &PhotoLevel,
    ) -> Option<View> {
        let [a, b] = sheets.map(|s| model.motion(self.middle, s));
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
        let varies = self.left(&light, &vec![1.0; light.len()])?;
        Some(View { light, varies, apart: [a[0] - b[0], a[1] - b[1]] })
    }

    /// The middles of every second cell of every second row from the middle of all, in cells:
    /// where the view and the patterns' light are compared.
    fn places(&self) -> impl Iterator<Item = Xy> + '_ {
        let half = [self.width, self.height].map(|n| (n as f64 - 1.0) / 2.0);
        let rows = (0..self.height).step_by(2);
        rows.flat_map(move |y| {
            let row = (0..self.width).step_by(2);
            row.map(move |x| [x as f64 - half[0], y as f64 - half[1]])
        })
    }

    /// About where the patterns lie, anywhere near, and the share that leaves unexplained.
    pub(crate) fn find(&self, view: &View) -> Option<([Xy; 2], f64)> {
        let from = view.from(self.mm);
        let tried = [0, 1].map(|which| self.likely(which, view, from[which]));
        let pairs = tried[0].iter().flat_map(|a| tried[1].iter().map(|b| [*a, *b]));
        // Sheets are taped mark on mark, and either may be the one whose place is known.
        let starts = pairs.chain([from, [from[0]; 2], [from[1]; 2]]);
        let judged = |pair: [Xy; 2]| Some((self.miss(view, &pair, USUAL)?.noise, pair));
        let mut starts: Vec<(f64, [Xy; 2])> = starts.filter_map(judged).collect();
        starts.sort_by(|a, b| a.0.total_cmp(&b.0));
        starts.truncate(COMBED);
        let combed = starts.into_iter().filter_map(|(_, pair)| {
            let shifts = self.combed(view, pair, USUAL, COMB);
            Some((shifts, self.miss(view, &shifts, USUAL)?))
        });
        let best = combed.min_by(|a, b| a.1.noise.total_cmp(&b.1.noise))?;
        Some((best.0, best.1.share))
    }

    /// The fit that Gauss-Newton steps come to.
    pub(crate) fn fit(&self, view: &View, start: [Xy; 2], look: Look) -> Option<Fit> {
        let (shifts, miss, matrix) = self.settled(view, start, look)?;
        let from = view.from(self.mm);
        let far = |w: usize| (shifts[w][0] - from[w][0]).hypot(shifts[w][1] - from[w][1]);
        if far(0).max(far(1)) * self.mm > FARTHEST {
            return None;
        }
        let covariance = matrix.try_inverse()?;
        // Of the difference of the two shifts, in mm. The places are closer than the photo's
        // pixels, which is all there is to learn from.
        let scale = miss.noise * (self.mm * self.per_pixel / 2.0).powi(2);
        let difference = Matrix2::from_fn(|i, j| {
            let c = |p: usize, q: usize| covariance[(3 + p, 3 + q)];
            scale * (c(i, j) - c(i, 2 + j) - c(2 + i, j) + c(2 + i, 2 + j))
        });
        let apart = [0, 1].map(|k| (shifts[0][k] - shifts[1][k]) * self.mm);
        Some(Fit { shifts, apart, difference, noise: miss.noise, share: miss.share })
    }

    /// How many times as much as a fit leaves is left unexplained if one of the two patterns is not
    /// there and the other lies about so; nothing if that explains little.
    pub(crate) fn without(&self, view: &View, fit: &Fit, look: Look, which: usize) -> Option<f64> {
        let mut lone = self.clone();
        lone.clear[which].fill(1.0);
        let mut shifts = [fit.shifts[1 - which]; 2];
        for step in [2.0, 1.0, 0.5] {
            shifts = lone.combed(view, shifts, look, step);
        }
        let miss = lone.miss(view, &shifts, look)?;
        (miss.share < EXPLAINED).then_some(miss.noise / fit.noise)
    }

    /// As many photo pixels as the pattern covers.
    pub(crate) fn pixels(&self) -> f64 {
        (self.width * self.height) as f64 / self.per_pixel.powi(2)
    }

    /// The best of shifts a few steps of so many cells about, one coordinate after another.
    pub(crate) fn combed(
        &self,
        view: &View,
        mut shifts: [Xy; 2],
        look: Look,
        step: f64,
    ) -> [Xy; 2] {
        let noise =
            |shifts: &[Xy; 2]| self.miss(view, shifts, look).map_or(f64::INFINITY, |m| m.noise);
        let mut least = noise(&shifts);
        for k in (0..4).cycle().take(8) {
            let from = shifts;
            for by in [-step, step] {
                let mut moved = from;
                moved[k / 2][k % 2] += by;
                let now = noise(&moved);
                if now < least {
                    (shifts, least) = (moved, now);
                }
            }
        }
        shifts
    }

    /// Gauss-Newton from some shifts to the nearest that fit best (damped, Levenberg 1944); with
    /// what they leave unexplained and their normal matrix.
    fn settled(
        &self,
        view: &View,
        mut shifts: [Xy; 2],
        look: Look,
    ) -> Option<([Xy; 2], Miss, SMatrix<f64, 7, 7>)> {
        let (mut damping, mut miss) = (1e-3, self.miss(view, &shifts, look)?);
        let (mut matrix, mut right) = self.normal(view, &shifts, look)?;
        for _ in 0..12 {
            let mut damped = matrix;
            for k in 3..7 {
                damped[(k, k)] *= 1.0 + damping;
            }
            let step = damped.cholesky()?.solve(&right);
            let step = step.fixed_rows::<4>(3);
            let mut moved = shifts;
            for (k, by) in step.iter().enumerate() {
                moved[k / 2][k % 2] += by.clamp(-1.0, 1.0);
            }
            let now = self.miss(view, &moved, look)?;
            if now.noise < miss.noise {
                (shifts, miss, damping) = (moved, now, damping * 0.2);
                (matrix, right) = self.normal(view, &shifts, look)?;
            } else {
                damping *= 10.0;
            }
            if step.amax() < 0.04 {
                break;
            }
        }
        Some((shifts, miss, matrix))
    }

    /// The likeliest shifts of one pattern alone about `from`, likeliest first.
    fn likely(&self, which: usize, view: &View, from: Xy) -> Vec<Xy> {
        let blurred = self.blurred(&self.clear[which], USUAL.blur);
        let step = (0.3 * self.per_pixel).round().max(1.0) * 2.0;
        let count = (REACH / self.mm / step).ceil() as i64;
        let side = (2 * count + 1) as usize;
        let shift = |i: usize| {
            [
                from[0] + ((i % side) as i64 - count) as f64 * step,
                from[1] + ((i / side) as i64 - count) as f64 * step,
            ]
        };
        let scores: Vec<f32> =
            (0..side * side).map(|i| self.alike(&blurred, view, shift(i))).collect();
        let peak = |i: usize| {
            let (x, y) = ((i % side) as i64, (i / side) as i64);
            let beside = (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (x + dx, y + dy)));
            beside
                .filter(|(x, y)| (0..side as i64).contains(x) && (0..side as i64).contains(y))
                .all(|(x, y)| scores[y as usize * side + x as usize] <= scores[i])
        };
        let mut peaks: Vec<usize> = (0..scores.len()).filter(|i| peak(*i)).collect();
        peaks.sort_by(|a, b| scores[*b].total_cmp(&scores[*a]));
        peaks.into_iter().take(TRIED).map(shift).collect()
    }

    /// The correlation of the view with a blurred pattern that many cells shifted.
    fn alike(&self, blurred: &[f32], view: &View, by: Xy) -> f32 {
        let whole = by.map(|v| (v / 2.0).round() as i64);
        let [width, height] = [self.width, self.height].map(|n| n.div_ceil(2));
        let inside = |len: usize, by: i64| by.max(0)..(len as i64 + by).min(len as i64);
        let (mut n, mut a, mut b, mut ab, mut aa, mut bb) = (0.0_f32, 0.0, 0.0, 0.0, 0.0, 0.0);
        for y in inside(height, whole[1]) {
            let row = y as usize * width;
            let from = (y - whole[1]) as usize * width;
            for x in inside(width, whole[0]) {
                let p = view.light[row + x as usize];
                let q = blurred[from + (x - whole[0]) as usize];
                n += 1.0;
                a += p;
                b += q;
                ab += p * q;
                aa += p * p;
                bb += q * q;
            }
        }
        let (va, vb) = (aa - a * a / n, bb - b * b / n);
        if n > 0.0 && va > 1e-9 && vb > 1e-9 { (ab - a * b / n) / (va * vb).sqrt() } else { -1.0 }
    }

    /// What is left unexplained at these shifts.
    fn miss(&self, view: &View, shifts: &[Xy; 2], look: Look) -> Option<Miss> {
        self.missed(view, &self.blurred(&self.both(shifts), look.blur), look)
    }

    /// What is left unexplained where the two are so clear together, blurred.
    fn missed(&self, view: &View, blurred: &[f32], look: Look) -> Option<Miss> {
        let light: Vec<f32> = blurred.iter().map(|v| look.lit(*v)).collect();
        let left = self.left(&view.light, &light)?;
        let noise = left / view.light.len() as f64;
        Some(Miss { share: left / view.varies.max(1e-12), noise })
    }

    /// The sum of squares of what is seen less the best plane of light through a pattern.
    fn left(&self, seen: &[f32], light: &[f32]) -> Option<f64> {
        let (matrix, right, all) = self.light_terms(seen, light);
        Some((all - (matrix.try_inverse()? * right).dot(&right)).max(0.0))
    }

    /// The normal equations of a plane of light through a pattern, and the sum of squares of what
    /// is seen.
    fn light_terms(
        &self,
        seen: &[f32],
        light: &[f32],
    ) -> (SMatrix<f64, 3, 3>, SVector<f64, 3>, f64) {
        let (mut matrix, mut right, mut all) = (SMatrix::zeros(), SVector::zeros(), 0.0);
        for ((at, seen), light) in self.places().zip(seen).zip(light) {
            let row = SVector::from([1.0, at[0] / 50.0, at[1] / 50.0]) * f64::from(*light);
            matrix += row * row.transpose();
            right += row * f64::from(*seen);
            all += f64::from(*seen).powi(2);
        }
        (matrix, right, all)
    }

    /// The normal equations of light and shifts about the best light.
    fn normal(
        &self,
        view: &View,
        shifts: &[Xy; 2],
        look: Look,
    ) -> Option<(SMatrix<f64, 7, 7>, SVector<f64, 7>)> {
        let seen = self.seen(shifts, look);
        let (matrix, right, _) = self.light_terms(&view.light, &seen.light);
        let found = matrix.try_inverse()? * right;
        let (mut matrix, mut right) = (SMatrix::zeros(), SVector::zeros());
        for (i, at) in self.places().enumerate() {
            let level = found[0] + found[1] * at[0] / 50.0 + found[2] * at[1] / 50.0;
            let d = seen.by_shift.each_ref().map(|d| level * f64::from(d[i]));
            let light = f64::from(seen.light[i]);
            let flat = [light, light * at[0] / 50.0, light * at[1] / 50.0];
            let row = SVector::from([flat[0], flat[1], flat[2], d[0], d[1], d[2], d[3]]);
            let expected: f64 = flat.iter().zip(found.iter()).map(|(a, b)| a * b).sum();
            matrix += row * row.transpose();
            right += row * (f64::from(view.light[i]) - expected);
        }
        Some((matrix, right))
    }

    /// What is left unexplained at these shifts, in each of the looks.
    pub(crate) fn misses(&self, view: &View, shifts: &[Xy; 2], looks: &[Look]) -> Vec<f64> {
        let both = self.both(shifts);
        let alike = looks.chunk_by(|a, b| a.blur == b.blur);
        let misses = alike.flat_map(|looks| {
            let blurred = self.blurred(&both, looks[0].blur);
            looks.iter().map(move |look| self.missed(view, &blurred, *look))
        });
        misses.map(|miss| miss.map_or(f64::INFINITY, |miss| miss.noise)).collect()
    }

    /// How clear both are together at these shifts.
    fn both(&self, shifts: &[Xy; 2]) -> Vec<f32> {
        let [a, b] = [0, 1].map(|w| self.moved(&self.clear[w], shifts[w]));
        a.iter().zip(&b).map(|(a, b)| a * b).collect()
    }

    fn seen(&self, shifts: &[Xy; 2], look: Look) -> Seen {
        let [a, b] = [0, 1].map(|w| self.sloping(&self.clear[w], shifts[w]));
        let ink = 1.0 - look.through;
        let times = |a: &[f32], b: &[f32]| {
            let product: Vec<f32> = a.iter().zip(b).map(|(a, b)| a * b).collect();
            self.blurred(&product, look.blur)
        };
        let by_shift = [(&a[1], &b[0]), (&a[2], &b[0]), (&b[1], &a[0]), (&b[2], &a[0])].map(
            |(slope, clear)| {
                let mut by = times(slope, clear);
                by.iter_mut().for_each(|v| *v *= ink);
                by
            },
        );
        let light = times(&a[0], &b[0]).into_iter().map(|v| look.lit(v)).collect();
        Seen { light, by_shift }
    }

    /// A pattern that far shifted. Between cells it is bilinear; past its border the border
    /// goes on.
    fn moved(&self, clear: &[f32], by: Xy) -> Vec<f32> {
        let mut out = Vec::with_capacity(clear.len());
        self.slide(clear, by, |low, top, part| {
            out.extend((0..self.width).map(|x| between(low, top, x, part)));
        });
        out
    }

    /// The same, and how every cell changes when it is shifted on, to the right and down.
    fn sloping(&self, clear: &[f32], by: Xy) -> [Vec<f32>; 3] {
        let mut out = [(); 3].map(|()| Vec::with_capacity(clear.len()));
        let [value, right, down] = &mut out;
        self.slide(clear, by, |low, top, part| {
            let slope = |row: &[f32], x: usize| row[x] - row[x + 1];
            value.extend((0..self.width).map(|x| between(low, top, x, part)));
            right.extend((0..self.width).map(|x| {
                let (low, top) = (slope(low, x), slope(top, x));
                low + (top - low) * part[1]
            }));
            down.extend((0..self.width).map(|x| across(top, x, part[0]) - across(low, x, part[0])));
        });
        out
    }

    /// Hands over, for every row of a shifted pattern, the two rows it lies between, each from
    /// one cell before the first, and how far on it lies along both axes.
    fn slide(&self, clear: &[f32], by: Xy, mut row: impl FnMut(&[f32], &[f32], [f32; 2])) {
        let whole = by.map(f64::floor);
        let part = [0, 1].map(|k| (by[k] - whole[k]) as f32);
        let [right, down] = whole.map(|v| v as i64);
        let (width, last) = (self.width as i64, self.height as i64 - 1);
        // As many cells before the pattern's first, and after them so many of its own.
        let before = (right + 1).clamp(0, width + 1) as usize;
        let first = (-right - 1).clamp(0, width - 1) as usize;
        let own = (self.width - first).min(self.width + 1 - before);
        let fill = |to: &mut [f32], y: i64| {
            let from = &clear[y.clamp(0, last) as usize * self.width..][..self.width];
            to[..before].fill(from[0]);
            to[before..before + own].copy_from_slice(&from[first..first + own]);
            to[before + own..].fill(from[self.width - 1]);
        };
        let (mut low, mut top) = (vec![0.0; self.width + 1], vec![0.0; self.width + 1]);
        fill(&mut top, -down - 1);
        for y in 0..self.height as i64 {
            fill(&mut low, y - down);
            row(&low, &top, part);
            std::mem::swap(&mut low, &mut top);
        }
    }

    /// Blurred by so many photo pixels, at the patterns' places.
    fn blurred(&self, values: &[f32], blur: f64) -> Vec<f32> {
        let blur = gaussian(blur * self.per_pixel);
        let (width, half) = (self.width, blur.len() / 2);
        let across = width.div_ceil(2);
        // Of every row those cells that fall on even places of the sum, then those on odd ones.
        let padded = across + half + 1;
        let mut sides = [vec![0.0; padded], vec![0.0; padded]];
        let mut sums = vec![0.0; width];
        let mut out = Vec::with_capacity(across * self.height.div_ceil(2));
        for y in (0..self.height).step_by(2) {
            let from = |k: usize| (y + k).saturating_sub(half).min(self.height - 1) * width;
            weigh(&mut sums, &blur, |k| &values[from(k)..][..width]);
            for (odd, side) in sides.iter_mut().enumerate() {
                for (i, v) in side.iter_mut().enumerate() {
                    *v = sums[(2 * i + odd).saturating_sub(half).min(width - 1)];
                }
            }
            let start = out.len();
            out.resize(start + across, 0.0);
            weigh(&mut out[start..], &blur, |k| &sides[k % 2][k / 2..][..across]);
        }
        out
    }
}

/// The value so far on from a row's cell to the one before it.
fn across(row: &[f32], x: usize, part: f32) -> f32 {
    row[x + 1] + (row[x] - row[x + 1]) * part
}

/// The value so far on from a cell towards the one before it and the row above.
fn between(low: &[f32], top: &[f32], x: usize, part: [f32; 2]) -> f32 {
    let (low, top) = (across(low, x, part[0]), across(top, x, part[0]));
    low + (top - low) * part[1]
}

/// The sum of rows by their weights.
fn weigh<'a>(out: &mut [f32], weights: &[f32], row: impl Fn(usize) -> &'a [f32]) {
    // So many sums are held at once.
    const HELD: usize = 16;
    let (held, rest) = out.as_chunks_mut::<HELD>();
    for (i, out) in held.iter_mut().enumerate() {
        let mut sums = [0.0; HELD];
        for (k, weight) in weights.iter().enumerate() {
            for (sum, v) in sums.iter_mut().zip(&row(k)[i * HELD..][..HELD]) {
                *sum += v * weight;
            }
        }
        *out = sums;
    }
    let done = held.len() * HELD;
    rest.fill(0.0);
    for (k, weight) in weights.iter().enumerate() {
        for (sum, v) in rest.iter_mut().zip(&row(k)[done..]) {
            *sum += v * weight;
        }
    }
}

/// Lets what is less clear spread by a part of a cell, or shrink where `by` is less than nought.
fn spread(row: &mut [f32], by: f32) {
    let mut before = row.first().copied().unwrap_or_default();
    for i in 0..row.len() {
        let (v, after) = (row[i], *row.get(i + 1).unwrap_or(&row[i]));
        let gain = if by > 0.0 {
            by * ((before - v).min(0.0) + (after - v).min(0.0))
        } else {
            -by * ((before - v).max(0.0) + (after - v).max(0.0))
        };
        row[i] = (v + gain).clamp(0.0, 1.0);
        before = v;
    }
}
