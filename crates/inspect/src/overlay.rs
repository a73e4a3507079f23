//! Two sheets' lines laid over each other, as a photograph shows them: where each of them lies.
//!
//! Either sheet's ink takes light away, and where the ink of both lies on each other less than
//! twice as much. How much either is, is found with the shifts, since thin lines print wider or
//! thinner than drawn and not quite black: what is left to tell the shifts is where lines are,
//! not how dark they are together.

use crate::camera::Xy;
use crate::pattern::{Patterns, View};
use crate::sharpness::Spread;
use crate::taps::Taps;
use nalgebra::{ArrayStorage, Matrix2, SMatrix, SVector};

/// Patterns are looked for everywhere up to so far from where the model has them, mm.
const REACH: f64 = 1.2;
/// Farther from there none is believed to lie, mm.
const FARTHEST: f64 = 5.0;
/// The likeliest shifts of one pattern by itself that are tried with the other's.
const TRIED: usize = 4;
/// The best of them are sought better ones about, ...
const COMBED: usize = 5;
/// ... at steps of so many cells.
pub(crate) const COMB: f64 = 2.0;
/// Lines that leave a larger share of what varies than this are not seen.
const EXPLAINED: f64 = 0.5;
/// So far the light may be off, of which it is known what ink does to it.
const OFF: f64 = 0.01;
/// By so many cells shifts differ to see what that does.
const SLIGHT: f64 = 0.25;

/// What ink does to the light: what it takes away, and what it gives back where it lies twice; and
/// how sure that is.
#[derive(Clone, Copy)]
pub(crate) struct Dark {
    is: [f64; 2],
    sd: [f64; 2],
}

impl Dark {
    /// Until it is known.
    const USUAL: Self = Self { is: [1.0, 0.8], sd: [0.5, 0.2] };

    /// Once it is known what ink takes away by itself.
    pub(crate) fn known(once: f64) -> Self {
        let once = once.clamp(0.2, 5.0);
        Self { is: [1.0, 0.8].map(|v| v * once), sd: [0.02, 0.05].map(|v| v * once) }
    }

    fn terms(self) -> impl Iterator<Item = (usize, f64, f64)> {
        (0..2).map(move |k| (LIGHT - 2 + k, self.is[k], (OFF / self.sd[k]).powi(2)))
    }
}

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

/// Both patterns as a photo so blurred would show them, and what it does show.
pub(crate) struct Overlay {
    pub(crate) patterns: Patterns,
    pub(crate) view: View,
    pub(crate) spread: Spread,
    pub(crate) dark: Dark,
    /// Either pattern by itself, blurred.
    lone: [Vec<f32>; 2],
    /// How many places are compared.
    count: f64,
    /// How much the view varies about a plane of light: what there is to explain.
    varies: f64,
}

/// Ink at the patterns' places: of both patterns added up, and where they lie on each other.
struct Ink {
    lone: Vec<f32>,
    both: Vec<f32>,
}

/// The numbers of a plane of light and what ink does to it.
const LIGHT: usize = 5;
/// Those and the shifts.
const ALL: usize = LIGHT + 4;

/// Normal equations; of the matrix, the lower triangle.
#[derive(Clone, Copy)]
struct Normal<const N: usize> {
    matrix: SMatrix<f64, N, N>,
    right: SVector<f64, N>,
}

impl<const N: usize> Normal<N> {
    const NOUGHT: Self = Self {
        matrix: SMatrix::from_array_storage(ArrayStorage([[0.0; N]; N])),
        right: SVector::from_array_storage(ArrayStorage([[0.0; N]; 1])),
    };

    fn add(&mut self, row: &[f64; N], to: f64) {
        for (j, v) in row.iter().enumerate() {
            for (i, u) in row.iter().enumerate().skip(j) {
                self.matrix[(i, j)] += u * v;
            }
            self.right[j] += v * to;
        }
    }

    fn solved(&self) -> Option<SVector<f64, N>> {
        Some(self.matrix.cholesky()?.solve(&self.right))
    }
}

impl Overlay {
    pub(crate) fn new(patterns: Patterns, view: View, spread: Spread) -> Option<Self> {
        let none = vec![0.0; view.light.len()];
        let dark = Dark::USUAL;
        let count = view.clear.iter().filter(|c| **c).count().max(1) as f64;
        let lone = Default::default();
        let mut out = Self { patterns, view, spread, dark, lone, count, varies: 0.0 };
        out.varies = out.left(&Ink { lone: none.clone(), both: none })?.max(1e-12);
        Some(out.spread(spread))
    }

    /// The same if the photo spreads light so.
    pub(crate) fn spread(mut self, spread: Spread) -> Self {
        self.spread = spread;
        let lone = |ink: &Vec<f32>| self.patterns.cells.weighed(ink, 1, self.taps([0.0; 2]));
        self.lone = self.patterns.ink.each_ref().map(lone);
        self
    }

    fn taps(&self, shift: Xy) -> [Taps; 2] {
        shift.map(|by| Taps::spread(self.spread, self.patterns.per_pixel, by))
    }

    /// About where the patterns lie, anywhere near, and the share that leaves unexplained.
    pub(crate) fn find(&self) -> Option<([Xy; 2], f64)> {
        let from = self.expected();
        let tried = [0, 1].map(|which| self.likely(which, from[which]));
        let pairs = tried[0].iter().flat_map(|a| tried[1].iter().map(|b| [*a, *b]));
        // Sheets are taped mark on mark, and either may be the one whose place is known.
        let starts = pairs.chain([from, [from[0]; 2], [from[1]; 2]]);
        let judged = |pair: [Xy; 2]| Some((self.miss(&pair)?.noise, pair));
        let mut starts: Vec<(f64, [Xy; 2])> = starts.filter_map(judged).collect();
        starts.sort_by(|a, b| a.0.total_cmp(&b.0));
        starts.truncate(COMBED);
        let combed = starts.into_iter().filter_map(|(_, pair)| {
            let shifts = self.combed(pair, COMB);
            Some((shifts, self.miss(&shifts)?))
        });
        let best = combed.min_by(|a, b| a.1.noise.total_cmp(&b.1.noise))?;
        Some((best.0, best.1.share))
    }

    /// Where the model has both patterns.
    pub(crate) fn expected(&self) -> [Xy; 2] {
        self.view.from(self.patterns.mm)
    }

    /// What is left unexplained at these shifts, the light being 1.
    pub(crate) fn noise(&self, shifts: &[Xy; 2]) -> f64 {
        self.miss(shifts).map_or(f64::INFINITY, |miss| miss.noise)
    }

    /// The fit that Gauss-Newton steps come to.
    pub(crate) fn fit(&self, start: [Xy; 2]) -> Option<Fit> {
        let (shifts, miss, normal) = self.settled(start)?;
        let from = self.expected();
        let mm = self.patterns.mm;
        let far = |w: usize| (shifts[w][0] - from[w][0]).hypot(shifts[w][1] - from[w][1]);
        if far(0).max(far(1)) * mm > FARTHEST {
            return None;
        }
        let covariance = normal.matrix.cholesky()?.inverse();
        // Of the difference of the two shifts, in mm. The places are closer than the photo's
        // pixels, which is all there is to learn from.
        let scale = miss.noise * (mm * self.patterns.per_pixel / 2.0).powi(2);
        let difference = Matrix2::from_fn(|i, j| {
            let c = |p: usize, q: usize| covariance[(LIGHT + p, LIGHT + q)];
            scale * (c(i, j) - c(i, 2 + j) - c(2 + i, j) + c(2 + i, 2 + j))
        });
        let apart = [0, 1].map(|k| (shifts[0][k] - shifts[1][k]) * mm);
        Some(Fit { shifts, apart, difference, noise: miss.noise, share: miss.share })
    }

    /// How many times as much as a fit leaves is left unexplained if one of the two patterns is not
    /// there and the other lies about so; nothing if that explains little.
    pub(crate) fn without(&self, fit: &Fit, which: usize) -> Option<f64> {
        let lone = |shifts: [Xy; 2]| {
            let lone = self.lone_at(1 - which, shifts[1 - which]);
            self.missed(&Ink { both: vec![0.0; lone.len()], lone })
        };
        let noise = |shifts: &[Xy; 2]| lone(*shifts).map_or(f64::INFINITY, |m| m.noise);
        let steps = [2.0, 1.0, 0.5].into_iter();
        let shifts = steps.fold(fit.shifts, |shifts, step| combed(shifts, step, noise));
        let miss = lone(shifts)?;
        (miss.share < EXPLAINED).then_some(miss.noise / fit.noise)
    }

    /// The best of shifts a few steps of so many cells about, one coordinate after another.
    pub(crate) fn combed(&self, shifts: [Xy; 2], step: f64) -> [Xy; 2] {
        combed(shifts, step, |shifts| self.noise(shifts))
    }

    /// Gauss-Newton from some shifts to the nearest that fit best (damped, Levenberg 1944); with
    /// what they leave unexplained and their normal matrix.
    fn settled(&self, mut shifts: [Xy; 2]) -> Option<([Xy; 2], Miss, Normal<ALL>)> {
        let ink = self.ink(&shifts);
        let (mut damping, mut miss) = (1e-3, self.missed(&ink)?);
        let mut normal = self.normal(&shifts, &ink)?;
        for _ in 0..12 {
            let mut damped = normal;
            for k in LIGHT..LIGHT + 4 {
                damped.matrix[(k, k)] *= 1.0 + damping;
            }
            let step = damped.solved()?;
            let step = step.fixed_rows::<4>(LIGHT);
            let mut moved = shifts;
            for (k, by) in step.iter().enumerate() {
                moved[k / 2][k % 2] += by.clamp(-1.0, 1.0);
            }
            let ink = self.ink(&moved);
            let now = self.missed(&ink)?;
            if now.noise < miss.noise {
                (shifts, miss, damping) = (moved, now, damping * 0.2);
                normal = self.normal(&shifts, &ink)?;
            } else {
                damping *= 10.0;
            }
            if step.amax() < 0.04 {
                break;
            }
        }
        Some((shifts, miss, normal))
    }

    /// The likeliest shifts of one pattern alone about `from`, likeliest first.
    fn likely(&self, which: usize, from: Xy) -> Vec<Xy> {
        let blurred = self.lone_at(which, [0.0; 2]);
        let step = (0.3 * self.patterns.per_pixel).round().max(1.0) * 2.0;
        let count = (REACH / self.patterns.mm / step).ceil() as i64;
        let side = (2 * count + 1) as usize;
        let shift = |i: usize| {
            [
                from[0] + ((i % side) as i64 - count) as f64 * step,
                from[1] + ((i / side) as i64 - count) as f64 * step,
            ]
        };
        let scores: Vec<f32> = (0..side * side).map(|i| self.alike(&blurred, shift(i))).collect();
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

    /// How like the view's darkness is to a blurred pattern's that many cells shifted.
    fn alike(&self, blurred: &[f32], by: Xy) -> f32 {
        let whole = by.map(|v| (v / 2.0).round() as i64);
        let cells = self.patterns.cells;
        let [width, height] = [cells.width, cells.height].map(|n| n.div_ceil(2));
        let inside = |len: usize, by: i64| by.max(0)..(len as i64 + by).min(len as i64);
        let (mut n, mut a, mut b, mut ab, mut aa, mut bb) = (0.0_f32, 0.0, 0.0, 0.0, 0.0, 0.0);
        for y in inside(height, whole[1]) {
            let row = y as usize * width;
            let from = (y - whole[1]) as usize * width;
            for x in inside(width, whole[0]) {
                let p = -self.view.light[row + x as usize];
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
    fn miss(&self, shifts: &[Xy; 2]) -> Option<Miss> {
        self.missed(&self.ink(shifts))
    }

    fn missed(&self, ink: &Ink) -> Option<Miss> {
        let left = self.left(ink)?;
        Some(Miss { share: left / self.varies, noise: left / self.count })
    }

    /// The sum of squares of what is seen less the best light through so much ink.
    fn left(&self, ink: &Ink) -> Option<f64> {
        let (normal, all) = self.light(ink);
        Some((all - normal.solved()?.dot(&normal.right)).max(0.0))
    }

    /// The normal equations of a plane of light and what ink does to it, and the sum of squares
    /// of what they are to explain.
    fn light(&self, ink: &Ink) -> (Normal<LIGHT>, f64) {
        let (mut normal, mut all) = (Normal::NOUGHT, 0.0);
        for (_, row, seen) in self.rows(ink) {
            normal.add(&row, seen);
            all += seen * seen;
        }
        for (k, is, weight) in self.dark.terms() {
            normal.matrix[(k, k)] += weight;
            normal.right[k] += weight * is;
            all += weight * is * is;
        }
        (normal, all)
    }

    /// What the light of each place that is clear of the drawing depends on, and what is seen there.
    fn rows<'a>(&'a self, ink: &'a Ink) -> impl Iterator<Item = (usize, [f64; LIGHT], f64)> + 'a {
        let places = self.patterns.places().enumerate().zip(&self.view.clear);
        places.filter(|(_, clear)| **clear).map(|((i, at), _)| {
            let [lone, both] = [-ink.lone[i], ink.both[i]].map(f64::from);
            (i, [1.0, at[0] / 50.0, at[1] / 50.0, lone, both], f64::from(self.view.light[i]))
        })
    }

    /// The normal equations of light and shifts about the best light, at shifts that have this ink.
    fn normal(&self, shifts: &[Xy; 2], ink: &Ink) -> Option<Normal<ALL>> {
        let found = self.light(ink).0.solved()?;
        let (once, twice) = (-found[3], found[4]);
        let moved: [Vec<f64>; 4] = std::array::from_fn(|k| {
            let mut by = *shifts;
            by[k / 2][k % 2] += SLIGHT;
            let then = self.ink(&by);
            let lone = then.lone.iter().zip(&ink.lone).map(|(b, a)| f64::from(b - a) * once);
            let both = then.both.iter().zip(&ink.both).map(|(b, a)| f64::from(b - a) * twice);
            lone.zip(both).map(|(lone, both)| (lone + both) / SLIGHT).collect()
        });
        let mut normal = Normal::NOUGHT;
        for (i, row, seen) in self.rows(ink) {
            let [a, b, c, d, e] = row;
            let [p, q, r, s] = moved.each_ref().map(|m| m[i]);
            let expected: f64 = row.iter().zip(found.iter()).map(|(r, f)| r * f).sum();
            normal.add(&[a, b, c, d, e, p, q, r, s], seen - expected);
        }
        for (k, is, weight) in self.dark.terms() {
            normal.matrix[(k, k)] += weight;
            normal.right[k] += weight * (is - found[k]);
        }
        Some(normal)
    }

    /// What ink takes away by itself at these shifts.
    pub(crate) fn taken(&self, shifts: &[Xy; 2]) -> Option<f64> {
        Some(self.light(&self.ink(shifts)).0.solved()?[LIGHT - 2])
    }

    /// The ink of both patterns at these shifts.
    fn ink(&self, shifts: &[Xy; 2]) -> Ink {
        let [mut lone, other] = [0, 1].map(|which| self.lone_at(which, shifts[which]));
        lone.iter_mut().zip(other).for_each(|(a, b)| *a += b);
        let both = self.patterns.both([0, 1].map(|k| shifts[1][k] - shifts[0][k]));
        let both = self.patterns.cells.weighed(&both, 2, self.taps(shifts[0]));
        Ink { lone, both }
    }

    /// A pattern's ink by itself at the places.
    fn lone_at(&self, which: usize, shift: Xy) -> Vec<f32> {
        self.patterns.cells.weighed(&self.lone[which], 2, shift.map(Taps::cubic))
    }
}

/// The best of shifts a few steps about, by what they leave.
fn combed(mut shifts: [Xy; 2], step: f64, noise: impl Fn(&[Xy; 2]) -> f64) -> [Xy; 2] {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::taps::Cells;

    const MM: f64 = 0.085;
    const PER_PIXEL: f64 = 3.4;

    const CELLS: Cells = Cells { width: 121, height: 121 };

    /// Whether a cell has ink: of a crossed hairline, a cell wide, with lines so many cells apart
    /// on one side of both, and of the drawing.
    fn ink(pitch: f64, above: bool, x: i64, y: i64) -> bool {
        let beside = if above { 51..60 } else { 61..70 };
        let tick = |at: i64| (-4..=4).any(|k| at == 60 + (f64::from(k) * pitch).round() as i64);
        let along = x == 60 && (10..111).contains(&y) || tick(y) && beside.contains(&x);
        let across = y == 60 && (10..111).contains(&x) || tick(x) && beside.contains(&y);
        along || across || drawn(x, y)
    }

    /// A drawing at a corner, that goes on past the border.
    fn drawn(x: i64, y: i64) -> bool {
        x + 3 * y < 36
    }

    /// The two sheets' pitches and sides.
    const SHEETS: [(f64, bool); 2] = [(1.0 / MM, true), (0.9 / MM, false)];

    fn lines((pitch, above): (f64, bool)) -> Vec<f32> {
        let cell = |i: i64| ink(pitch, above, i % 121, i / 121);
        (0..121 * 121).map(|i| f32::from(u8::from(cell(i)))).collect()
    }

    /// What a photo shows of two sheets whose ink lets that much light through: drawn five times as
    /// fine, with sharp edges, and blurred; shifts are in fifths of a cell.
    fn seen(shifts: [[i64; 2]; 2], through: f32, spread: Spread) -> Vec<f32> {
        // So much more is drawn around it.
        const AROUND: i64 = 150;
        let side = (605 + 2 * AROUND) as usize;
        let fine = Cells { width: side, height: side };
        let clear = |i: usize| {
            let at = [i % side, i / side].map(|v| v as i64 - AROUND);
            let sheet = |which: usize| {
                let [x, y] = [0, 1].map(|k| (at[k] - shifts[which][k]).div_euclid(5));
                let (pitch, above) = SHEETS[which];
                if ink(pitch, above, x, y) { through } else { 1.0 }
            };
            sheet(0) * sheet(1)
        };
        let light: Vec<f32> = (0..side * side).map(clear).collect();
        let taps = [0.0; 2].map(|by| Taps::spread(spread, PER_PIXEL * 5.0, by));
        let blurred = fine.weighed(&light, 1, taps);
        // The middle of every second cell.
        let place = |i: usize| AROUND as usize + i * 10 + 2;
        (0..61 * 61).map(|i| blurred[place(i / 61) * side + place(i % 61)]).collect()
    }

    /// Lines that lie on each other, side by side, and apart, seen through lenses that blur and
    /// cameras that sharpen, with black and with grey ink.
    #[test]
    fn both_patterns_are_found_where_they_lie() {
        let spreads = [Spread::blur(1.1), Spread { blur: 1.0, halo: 0.6 }];
        for (shifts, through) in [
            ([[0, 0], [0, 0]], 0.05),
            ([[3, -2], [-4, 6]], 0.05),
            ([[-7, 4], [6, 1]], 0.3),
            ([[11, -9], [-12, -14]], 0.0),
        ] {
            for spread in spreads {
                let patterns = Patterns {
                    cells: CELLS,
                    ink: SHEETS.map(lines),
                    mm: MM,
                    middle: [0.0; 2],
                    per_pixel: PER_PIXEL,
                };
                let light = seen(shifts, through, spread);
                let clear = |i: i64| !drawn(i % 61 * 2 - 12, i / 61 * 2 - 12);
                let clear = (0..61 * 61).map(clear).collect();
                let view = View { light, apart: [0.0; 2], noise: 0.0, clear };
                let mut overlay = Overlay::new(patterns, view, spread).unwrap();
                let (first, _) = overlay.find().unwrap();
                let once = overlay.taken(&overlay.fit(first).unwrap().shifts).unwrap();
                assert!((once - 1.0 + f64::from(through)).abs() < 0.1, "{once} of {through}");
                overlay.dark = Dark::known(once);
                let fit = overlay.fit(overlay.combed(first, COMB)).unwrap();
                let truth = [0, 1].map(|k| (shifts[0][k] - shifts[1][k]) as f64 / 5.0 * MM);
                let off = (fit.apart[0] - truth[0]).hypot(fit.apart[1] - truth[1]);
                assert!(off < 0.02, "{:?} is {truth:?}, {spread:?}, {through}", fit.apart);
                let lone = overlay.without(&fit, 0).unwrap_or(f64::INFINITY);
                assert!(lone > 1.5, "either sheet's lines are there: {lone}");
            }
        }
    }
}
