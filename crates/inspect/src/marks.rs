//! Registration marks: what two sheets carry at one place tells how they lie to each other,
//! however little else is drawn there.
//!
//! Both sheets' own patterns are known, and light passes where both are clear. So the two
//! patterns, each at some shift, multiplied and blurred, are fitted to the photograph.

use crate::camera::Xy;
use crate::edges::PhotoLevel;
use crate::grey::gaussian;
use crate::layout::Layout;
use crate::model::Model;
use crate::solve::median;
use crate::{Film, Mark};
use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

/// How two sheets lie to each other at a place.
#[derive(Clone, Debug)]
pub(crate) struct Tie {
    pub(crate) sheets: [usize; 2],
    pub(crate) at: Xy,
    /// How much farther the first sheet was moved than the second, mm.
    pub(crate) apart: Xy,
    /// What that may be off by along either axis, mm.
    pub(crate) sd: f64,
}

/// Marks are looked for everywhere up to so far from where the model has them, mm.
const REACH: f64 = 1.2;
/// Farther from there no mark is believed to lie, mm.
const FARTHEST: f64 = 5.0;
/// A mark of which so large a share is not explained, and so many times that of the middle
/// mark, is taken for something else.
const UNLIKE: [f64; 2] = [0.12, 3.0];
/// No mark is truer than this, mm.
const LEAST_SD: f64 = 0.06;
/// Neighbouring pixels of a photo err alike: deviations are taken to be so much larger.
const ALIKE: f64 = 4.0;
/// The likeliest shifts of one pattern by itself that are tried with the other's.
const TRIED: usize = 4;
/// Pairs of shifts from which the best are sought.
const SETTLED: usize = 3;

impl Tie {
    /// Believes it less the farther the sheets lie in the model from where the mark shows them
    /// (Huber 1964), and not at all beyond 4 standard deviations.
    pub(crate) fn weighed(self, model: &Model) -> Option<Self> {
        let [p, q] = self.sheets.map(|s| model.motion(self.at, s));
        let miss = [0, 1].map(|k| self.apart[k] - p[k] + q[k]);
        let r = miss[0].hypot(miss[1]) / self.sd;
        (r < 4.0).then_some(Self { sd: self.sd * (r / 1.5).max(1.0), ..self })
    }
}

/// How the photo shows fine lines.
#[derive(Clone, Copy)]
struct Look {
    /// The blur in photo pixels.
    blur: f64,
    /// The share of light that comes through ink.
    through: f32,
}

/// What is taken for right until the marks have told, and what else it may be.
const USUAL: Look = Look { blur: 1.05, through: 0.04 };
const BLURS: [f64; 6] = [0.75, 0.9, 1.05, 1.25, 1.5, 1.9];
const THROUGHS: [f32; 7] = [0.0, 0.02, 0.04, 0.08, 0.12, 0.2, 0.3];

/// Looks for every mark of sheets that take part.
pub(crate) fn find(
    film: &Film,
    layout: &Layout,
    model: &Model,
    photo: &PhotoLevel,
    taking: &[bool],
) -> Vec<Tie> {
    let marks: Vec<(&Mark, Patterns, View)> = film
        .marks
        .par_iter()
        .filter(|m| m.sheets.iter().all(|s| taking[*s]) && m.drawn[0] != m.drawn[1])
        .filter_map(|mark| {
            let patterns = Patterns::new(mark, layout, photo).grown(model.growth);
            let view = patterns.view(model, mark.sheets, photo)?;
            Some((mark, patterns, view))
        })
        .collect();
    let first: Vec<Option<Fit>> =
        marks.par_iter().map(|(_, patterns, view)| patterns.find(view)).collect();
    let looks: Vec<Look> = BLURS
        .iter()
        .flat_map(|blur| THROUGHS.map(|through| Look { blur: *blur, through }))
        .collect();
    // All marks are seen through one lens, and printed with one ink.
    let left = |look: &Look| -> f64 {
        let miss = |((_, patterns, view), fit): (&(&Mark, Patterns, View), &Option<Fit>)| {
            Some(patterns.miss(view, &fit.as_ref()?.shifts, *look)?.noise)
        };
        marks.iter().zip(&first).filter_map(miss).sum()
    };
    let lefts: Vec<f64> = looks.par_iter().map(left).collect();
    let best = (0..looks.len()).min_by(|a, b| lefts[*a].total_cmp(&lefts[*b]));
    let look = best.map_or(USUAL, |best| looks[best]);
    let tie = |((mark, patterns, view), first): (&(&Mark, Patterns, View), &Option<Fit>)| {
        let first = first.as_ref()?.shifts;
        let together = [[0, 1].map(|k| (first[0][k] + first[1][k]) / 2.0); 2];
        let fit = patterns.best(view, [first, view.from(patterns.mm), together], look)?;
        let [a, b] = fit.shifts.map(|d| d.map(|cells| cells * patterns.mm));
        let apart = [a[0] - b[0], a[1] - b[1]];
        let sd = (fit.sd * patterns.mm * ALIKE).max(LEAST_SD);
        Some((fit.share, Tie { sheets: mark.sheets, at: patterns.middle, apart, sd }))
    };
    let ties: Vec<(f64, Tie)> = marks.par_iter().zip(&first).filter_map(tie).collect();
    let middle = median(ties.iter().map(|(share, _)| *share).collect());
    let most = UNLIKE[0].max(UNLIKE[1] * middle);
    ties.into_iter().filter(|(share, _)| *share < most).map(|(_, tie)| tie).collect()
}

/// So many marks, spread over the film, tell which way round it lies.
const ASKED: usize = 10;

/// How badly the photo shows marks where a model has them, on average, from 0 to 1: worse where
/// that has the film the wrong way round.
pub(crate) fn strangeness(film: &Film, layout: &Layout, model: &Model, photo: &PhotoLevel) -> f64 {
    let marks: Vec<&Mark> = film.marks.iter().filter(|m| m.drawn[0] != m.drawn[1]).collect();
    let asked: Vec<&Mark> =
        marks.iter().step_by(marks.len().div_ceil(ASKED).max(1)).copied().collect();
    let strange = |mark: &&Mark| {
        let patterns = Patterns::new(mark, layout, photo);
        let fit = patterns.view(model, mark.sheets, photo).and_then(|view| patterns.find(&view));
        fit.map_or(1.0, |fit| fit.share.min(1.0))
    };
    asked.par_iter().map(strange).collect::<Vec<f64>>().iter().sum::<f64>()
        / asked.len().max(1) as f64
}

/// The shifts of both patterns in cells, from the middle of where the model has its two
/// sheets, what their difference may be off by, and what is left unexplained: as a share of what
/// varies, and its variance.
struct Fit {
    shifts: [Xy; 2],
    sd: f64,
    share: f64,
    noise: f64,
}

/// What a fit leaves unexplained.
struct Miss {
    /// As a share of what varies.
    share: f64,
    /// Its variance, the light being 1.
    noise: f64,
}

/// A mark's two patterns in cells of about a third of a photo pixel.
struct Patterns {
    width: usize,
    height: usize,
    /// How clear either sheet is.
    clear: [Vec<f32>; 2],
    /// The side of a cell.
    mm: f64,
    /// The middle on the film.
    middle: Xy,
    /// Cells a photo pixel.
    per_pixel: f64,
}

/// What the photo shows about the mark.
struct View {
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
    fn from(&self, mm: f64) -> [Xy; 2] {
        let half = self.apart.map(|v| v / 2.0 / mm);
        [half, half.map(|v| -v)]
    }
}

impl Patterns {
    fn new(mark: &Mark, layout: &Layout, photo: &PhotoLevel) -> Self {
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
        let per_pixel = photo.mm / mm;
        Self { width, height, clear, mm, middle, per_pixel }
    }

    /// With ink that spreads by so many mm past its edges; less than nought is shrinking.
    fn grown(mut self, by: f64) -> Self {
        let by = (by / self.mm).clamp(-1.0, 1.0);
        let places = [-by.abs(), 0.0, by.abs()];
        let around: Vec<Xy> = places.iter().flat_map(|x| places.map(|y| [*x, y])).collect();
        for which in 0..2 {
            let mut out = self.clear[which].clone();
            for at in &around {
                let [moved, ..] = self.shifted(&self.clear[which], *at);
                for (out, v) in out.iter_mut().zip(moved) {
                    *out = if by > 0.0 { out.min(v) } else { out.max(v) };
                }
            }
            self.clear[which] = out;
        }
        self
    }

    /// What the photo shows there; nothing where that is not all in the photo.
    fn view(&self, model: &Model, sheets: [usize; 2], photo: &PhotoLevel) -> Option<View> {
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

    /// The best fit anywhere near.
    fn find(&self, view: &View) -> Option<Fit> {
        let from = view.from(self.mm);
        let tried = [0, 1].map(|which| self.likely(which, view, from[which]));
        let pairs = tried[0].iter().flat_map(|a| tried[1].iter().map(|b| [*a, *b]));
        // Sheets are taped mark on mark, and either may be the one whose place is known.
        self.best(view, pairs.chain([from, [from[0]; 2], [from[1]; 2]]), USUAL)
    }

    /// The best of the fits that steps from the best of these shifts come to.
    fn best(
        &self,
        view: &View,
        starts: impl IntoIterator<Item = [Xy; 2]>,
        look: Look,
    ) -> Option<Fit> {
        let judged = |pair: [Xy; 2]| Some((self.miss(view, &pair, look)?.noise, pair));
        let mut starts: Vec<(f64, [Xy; 2])> = starts.into_iter().filter_map(judged).collect();
        starts.sort_by(|a, b| a.0.total_cmp(&b.0));
        starts.truncate(SETTLED);
        let fits = starts.into_iter().filter_map(|(_, pair)| self.fit(view, pair, look));
        fits.min_by(|a, b| a.noise.total_cmp(&b.noise))
    }

    /// The best fit that Gauss-Newton steps come to.
    fn fit(&self, view: &View, start: [Xy; 2], look: Look) -> Option<Fit> {
        let shifts = self.settled(view, start, look)?;
        let miss = self.miss(view, &shifts, look)?;
        let from = view.from(self.mm);
        let far = |w: usize| (shifts[w][0] - from[w][0]).hypot(shifts[w][1] - from[w][1]);
        if far(0).max(far(1)) * self.mm > FARTHEST {
            return None;
        }
        let covariance = self.normal(view, &shifts, look)?.0.try_inverse()?;
        let difference = [0, 1].map(|k| {
            let c = |p: usize, q: usize| covariance[(3 + p, 3 + q)];
            c(k, k) - 2.0 * c(k, 2 + k) + c(2 + k, 2 + k)
        });
        // The places are closer than the photo's pixels, which is all there is to learn from.
        let variance = miss.noise * difference[0].max(difference[1]);
        let sd = variance.max(0.0).sqrt() * self.per_pixel / 2.0;
        Some(Fit { shifts, sd, noise: miss.noise, share: miss.share })
    }

    /// Gauss-Newton from some shifts to the nearest that fit best.
    fn settled(&self, view: &View, mut shifts: [Xy; 2], look: Look) -> Option<[Xy; 2]> {
        for _ in 0..12 {
            let (matrix, right) = self.normal(view, &shifts, look)?;
            let step = matrix.cholesky()?.solve(&right);
            let step = step.fixed_rows::<4>(3);
            for (k, by) in step.iter().enumerate() {
                shifts[k / 2][k % 2] += by.clamp(-1.0, 1.0);
            }
            if step.amax() < 0.02 {
                break;
            }
        }
        Some(shifts)
    }

    /// The likeliest shifts of one pattern alone about `from`, likeliest first.
    fn likely(&self, which: usize, view: &View, from: Xy) -> Vec<Xy> {
        let blurred = self.blurred(self.clear[which].clone(), USUAL);
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
        let left = self.left(&view.light, &self.seen(shifts, look, false).light)?;
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
        let seen = self.seen(shifts, look, true);
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

    fn seen(&self, shifts: &[Xy; 2], look: Look, with_slopes: bool) -> Seen {
        let [a, b] = [0, 1].map(|w| self.shifted(&self.clear[w], shifts[w]));
        let ink = 1.0 - look.through;
        let times = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(a, b)| a * b * ink).collect();
        let by_shift = if with_slopes {
            [(&a[1], &b[0]), (&a[2], &b[0]), (&b[1], &a[0]), (&b[2], &a[0])]
                .map(|(slope, clear)| self.blurred(times(slope, clear), look))
        } else {
            Default::default()
        };
        let mut light = self.blurred(times(&a[0], &b[0]), look);
        light.iter_mut().for_each(|v| *v += look.through);
        Seen { light, by_shift }
    }

    /// A pattern that far shifted, and how every cell changes when it is shifted on, to the
    /// right and down. Between cells it is bilinear; past its border the border goes on.
    fn shifted(&self, clear: &[f32], by: Xy) -> [Vec<f32>; 3] {
        let whole = by.map(f64::floor);
        let part = [0, 1].map(|k| (by[k] - whole[k]) as f32);
        let [right, down] = whole.map(|v| v as i64);
        let get = |x: i64, y: i64| {
            let x = x.clamp(0, self.width as i64 - 1) as usize;
            let y = y.clamp(0, self.height as i64 - 1) as usize;
            clear[y * self.width + x]
        };
        let mut out = [(); 3].map(|()| Vec::with_capacity(clear.len()));
        for y in 0..self.height as i64 {
            for x in 0..self.width as i64 {
                let (u, v) = (x - right, y - down);
                let [p, q, r, s] = [get(u, v), get(u - 1, v), get(u, v - 1), get(u - 1, v - 1)];
                let (top, low) = (p + (q - p) * part[0], r + (s - r) * part[0]);
                out[0].push(top + (low - top) * part[1]);
                out[1].push((q - p) * (1.0 - part[1]) + (s - r) * part[1]);
                out[2].push(low - top);
            }
        }
        out
    }

    /// Blurred, at the patterns' places.
    fn blurred(&self, mut values: Vec<f32>, look: Look) -> Vec<f32> {
        let blur = gaussian(look.blur * self.per_pixel);
        let (width, half) = (self.width, blur.len() / 2);
        let mut padded = vec![0.0; width + 2 * half];
        for row in values.chunks_mut(width) {
            padded[..half].fill(row[0]);
            padded[half..half + width].copy_from_slice(row);
            padded[half + width..].fill(row[width - 1]);
            row.fill(0.0);
            for (k, w) in blur.iter().enumerate() {
                add(row, &padded[k..k + width], *w);
            }
        }
        let mut out = Vec::with_capacity(values.len() / 4 + self.width + self.height);
        let mut sums = vec![0.0; width];
        for y in (0..self.height).step_by(2) {
            sums.fill(0.0);
            for (k, w) in blur.iter().enumerate() {
                let from = (y + k).saturating_sub(half).min(self.height - 1);
                add(&mut sums, &values[from * width..][..width], *w);
            }
            out.extend(sums.iter().step_by(2));
        }
        out
    }
}

/// Adds `weight` times `row`.
fn add(out: &mut [f32], row: &[f32], weight: f32) {
    for (out, v) in out.iter_mut().zip(row) {
        *out += v * weight;
    }
}
