//! Registration marks: what two sheets carry at one place tells how they lie to each other,
//! however little else is drawn there.
//!
//! Both sheets' own patterns are known, and light passes where both are clear. So the two
//! patterns, each at some shift, multiplied and blurred, are fitted to the photograph. Where the
//! lines of both nearly coincide several shifts explain it about as well; all of them are kept.

use crate::camera::Xy;
use crate::edges::PhotoLevel;
use crate::layout::Layout;
use crate::model::Model;
use crate::pattern::{COMB, Fit, Look, Patterns, USUAL, View};
use crate::solve::median;
use crate::{Film, Mark};
use nalgebra::{Matrix2, Vector2};
use rayon::prelude::*;

/// How two sheets lie to each other at a place.
#[derive(Clone, Debug)]
pub(crate) struct Tie {
    pub(crate) sheets: [usize; 2],
    pub(crate) at: Xy,
    /// How much farther the first sheet was moved than the second, mm.
    pub(crate) apart: Xy,
    /// How that may be off, mm squared.
    pub(crate) covariance: Matrix2<f64>,
}

/// A mark of which so large a share is not explained, and so many times that of the middle
/// mark, is taken for something else.
const UNLIKE: [f64; 2] = [0.12, 3.0];
/// Lines without which so many times what they leave is left are not there. (Of lines that are,
/// 1.7 times and more; where nothing is seen, as much.)
const ABSENT: f64 = 0.8;
/// No mark is truer than this, mm.
const LEAST_SD: f64 = 0.04;
/// Neighbouring pixels of a photo err alike: deviations are taken to be so much larger.
const ALIKE: f64 = 4.0;
/// So many pixels tell as much as one by itself of which way a mark lies. That makes the ways that
/// were nearer the truth likeliest, in 535 pairs of made-up photographs.
const TOGETHER: f64 = 35.0;
/// What else the blur and what comes through ink may be.
const BLURS: [f64; 9] = [0.55, 0.65, 0.75, 0.85, 0.95, 1.05, 1.25, 1.5, 1.9];
const THROUGHS: [f32; 7] = [0.0, 0.02, 0.04, 0.08, 0.12, 0.2, 0.3];
/// Fits this near to each other are one, mm.
const SAME: f64 = 0.015;

/// The marks as the photo shows them.
pub(crate) struct Marks<'a> {
    seen: Vec<Seen<'a>>,
    look: Look,
}

/// A mark, and the ways in which it may lie.
struct Seen<'a> {
    mark: &'a Mark,
    patterns: Patterns,
    view: View,
    /// About where the patterns lie.
    first: [Xy; 2],
    fits: Vec<Fit>,
    /// The sheet whose lines are not there.
    absent: Option<usize>,
}

impl<'a> Marks<'a> {
    pub(crate) const NONE: Self = Self { seen: Vec::new(), look: USUAL };

    /// Looks for every mark of sheets that take part.
    pub(crate) fn find(
        film: &'a Film,
        layout: &Layout,
        model: &Model,
        photo: &PhotoLevel,
        taking: &[bool],
        blur: Option<f64>,
    ) -> Self {
        let blurs = blur.map_or(BLURS.to_vec(), |blur| vec![blur]);
        let told = |m: &&Mark| m.sheets.iter().all(|s| taking[*s]) && m.drawn[0] != m.drawn[1];
        let mut seen: Vec<Seen> = film
            .marks
            .par_iter()
            .filter(told)
            .filter_map(|mark| {
                let patterns = Patterns::new(mark, layout, model, photo).grown(model.growth);
                let view = patterns.view(model, mark.sheets, photo)?;
                let (first, _) = patterns.find(&view)?;
                Some(Seen { mark, patterns, view, first, fits: Vec::new(), absent: None })
            })
            .collect();
        let look = look_of(&seen, &blurs, |s| s.first);
        seen.par_iter_mut().for_each(|s| s.fit(look));
        // Lines of two sheets side by side are as wide as blurred ones: now that it is known better
        // how they lie, it is looked again which they are.
        let better = look_of(&seen, &blurs, |s| s.best().map_or(s.first, |fit| fit.shifts));
        if better != look {
            seen.par_iter_mut().for_each(|s| s.fit(better));
        }
        seen.par_iter_mut().for_each(|s| s.absent = s.absent(better));
        Self { seen, look: better }
    }

    /// At how many marks a sheet's lines are not there, though the other sheet's are.
    pub(crate) fn without(&self, sheet: usize) -> usize {
        self.seen.iter().filter(|s| s.absent == Some(sheet)).count()
    }

    /// What the marks tell where the model's sheets may be off by so many mm.
    pub(crate) fn ties(&mut self, model: &Model, off: f64) -> Vec<Tie> {
        let look = self.look;
        self.seen.par_iter_mut().for_each(|s| s.fit_near(model, look));
        let best: Vec<(&Seen, &Fit)> = self
            .seen
            .iter()
            .filter(|s| s.absent.is_none())
            .filter_map(|s| Some((s, s.best()?)))
            .collect();
        let middle = |value: fn(&Fit) -> f64| median(best.iter().map(|(_, f)| value(f)).collect());
        let (share, noise) = (middle(|f| f.share), middle(|f| f.noise));
        let most = UNLIKE[0].max(UNLIKE[1] * share);
        let like = best.iter().filter(|(_, fit)| fit.share < most);
        // What is seen worse than others has something in it that is not known.
        like.filter_map(|(s, fit)| s.tie(model, off, (fit.noise / noise).max(1.0))).collect()
    }
}

/// The look that explains all marks best, each lying about so: all are seen through one lens, and
/// printed with one ink.
fn look_of(seen: &[Seen], blurs: &[f64], shifts: impl Fn(&Seen) -> [Xy; 2] + Sync) -> Look {
    let looks: Vec<Look> = blurs
        .iter()
        .flat_map(|blur| THROUGHS.map(|through| Look { blur: *blur, through }))
        .collect();
    let lefts: Vec<Vec<f64>> = seen.par_iter().map(|s| s.lefts(shifts(s), &looks)).collect();
    let left = |look: usize| lefts.iter().map(|l| l[look]).sum::<f64>();
    let best = (0..looks.len()).min_by(|a, b| left(*a).total_cmp(&left(*b)));
    best.map_or(USUAL, |best| looks[best])
}

impl Seen<'_> {
    /// What is left unexplained in each of the looks, the patterns lying so or nearer to each
    /// other: a blur taken for too little makes two lines of one.
    fn lefts(&self, shifts: [Xy; 2], looks: &[Look]) -> Vec<f64> {
        let mut least = vec![f64::INFINITY; looks.len()];
        for part in [1.0, 0.6, 0.2] {
            let nearer = about(shifts, |k| (shifts[0][k] - shifts[1][k]) * part);
            let now = self.patterns.misses(&self.view, &nearer, looks);
            least.iter_mut().zip(now).for_each(|(least, now)| *least = least.min(now));
        }
        least
    }

    /// Fits it anew as it is seen, from where it was found, and from there with either sheet's
    /// lines on the other side of the other's, along either axis or both.
    fn fit(&mut self, look: Look) {
        let first = self.patterns.combed(&self.view, self.first, look, COMB);
        let turned = [[1.0, 1.0], [-1.0, 1.0], [1.0, -1.0], [-1.0, -1.0], [0.0, 0.0]];
        let starts = turned.map(|by| about(first, |k| (first[0][k] - first[1][k]) * by[k]));
        let mut tried: Vec<[Xy; 2]> = Vec::new();
        self.fits.clear();
        for start in starts.into_iter().chain([self.view.from(self.patterns.mm)]) {
            let far = |t: &[Xy; 2]| {
                t.iter().flatten().zip(start.iter().flatten()).any(|(a, b)| (a - b).abs() > 0.5)
            };
            if tried.iter().all(far) {
                tried.push(start);
                self.take(start, look);
            }
        }
    }

    /// Fits it from where the model has it.
    fn fit_near(&mut self, model: &Model, look: Look) {
        let Some(first) = self.best().map(|fit| fit.shifts) else { return };
        let apart = self.expected(model);
        self.take(about(first, |k| apart[k] / self.patterns.mm), look);
    }

    fn best(&self) -> Option<&Fit> {
        self.fits.iter().min_by(|a, b| a.noise.total_cmp(&b.noise))
    }

    /// Which sheet's lines are not there: those without which the photo is explained better.
    fn absent(&self, look: Look) -> Option<usize> {
        let fit = self.best()?;
        let without = [0, 1].map(|which| self.patterns.without(&self.view, fit, look, which));
        let [first, second] = without.map(|w| w.unwrap_or(f64::INFINITY));
        let which = usize::from(second < first);
        (first.min(second) < ABSENT).then_some(self.mark.sheets[which])
    }

    fn take(&mut self, start: [Xy; 2], look: Look) {
        let Some(fit) = self.patterns.fit(&self.view, start, look) else { return };
        let near = |f: &Fit| (f.apart[0] - fit.apart[0]).hypot(f.apart[1] - fit.apart[1]) < SAME;
        if !self.fits.iter().any(near) {
            self.fits.push(fit);
        }
    }

    /// How far apart the model has its sheets there, mm.
    fn expected(&self, model: &Model) -> Xy {
        let [a, b] = self.mark.sheets.map(|s| model.motion(self.patterns.middle, s));
        [a[0] - b[0], a[1] - b[1]]
    }

    /// What it tells: the mean of the ways it may lie, each as likely as the photo and the model,
    /// which may be off by so many mm, have it. It is `worse` times as noisy as others.
    fn tie(&self, model: &Model, off: f64, worse: f64) -> Option<Tie> {
        let least = self.best()?.noise.max(1e-9);
        let expected = Vector2::from(self.expected(model));
        let pixels = self.patterns.pixels() / TOGETHER;
        let weight = |f: &Fit| {
            let away = (Vector2::from(f.apart) - expected).norm() / off;
            (-0.5 * (pixels * (f.noise / least - 1.0) + away * away)).exp()
        };
        let weights: Vec<f64> = self.fits.iter().map(weight).collect();
        let all: f64 = weights.iter().sum();
        let ways = || self.fits.iter().zip(weights.iter().map(|w| w / all));
        let mean: Vector2<f64> = ways().map(|(f, w)| Vector2::from(f.apart) * w).sum();
        let covariance: Matrix2<f64> = ways()
            .map(|(f, w)| {
                let away = Vector2::from(f.apart) - mean;
                (f.difference * ALIKE.powi(2) + away * away.transpose()) * w
            })
            .sum();
        if !(all > 0.0 && covariance.iter().all(|v| v.is_finite())) {
            return None;
        }
        Some(Tie {
            sheets: self.mark.sheets,
            at: self.patterns.middle,
            apart: mean.into(),
            covariance: (covariance + Matrix2::identity() * LEAST_SD.powi(2)) * worse,
        })
    }
}

/// Two shifts so far apart about the same middle as these.
fn about(shifts: [Xy; 2], apart: impl Fn(usize) -> f64) -> [Xy; 2] {
    [1.0, -1.0].map(|side| {
        std::array::from_fn(|k| (shifts[0][k] + shifts[1][k]) / 2.0 + side * apart(k) / 2.0)
    })
}

impl Tie {
    /// Believes it less the farther the sheets lie in the model from where the mark shows them
    /// (Huber 1964), and not at all beyond 4 standard deviations.
    pub(crate) fn weighed(self, model: &Model) -> Option<Self> {
        let [p, q] = self.sheets.map(|s| model.motion(self.at, s));
        let miss = Vector2::from_fn(|k, _| self.apart[k] - p[k] + q[k]);
        let r = miss.dot(&(self.covariance.try_inverse()? * miss)).max(0.0).sqrt();
        let covariance = self.covariance * (r / 1.5).max(1.0).powi(2);
        (r < 4.0).then_some(Self { covariance, ..self })
    }
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
        let patterns = Patterns::new(mark, layout, model, photo);
        let fit = patterns.view(model, mark.sheets, photo).and_then(|view| patterns.find(&view));
        fit.map_or(1.0, |(_, share)| share.min(1.0))
    };
    asked.par_iter().map(strange).collect::<Vec<f64>>().iter().sum::<f64>()
        / asked.len().max(1) as f64
}
