//! Registration marks: what two sheets carry at one place tells how they lie to each other,
//! however little else is drawn there.
//!
//! Both sheets' own patterns are known. So the two, laid over each other at some shifts and blurred,
//! are fitted to the photograph. Where the lines of both nearly coincide several shifts explain it
//! about as well; all of them are kept.

use crate::camera::Xy;
use crate::edges::PhotoLevel;
use crate::layout::Layout;
use crate::model::Model;
use crate::overlay::{COMB, Dark, Fit, Overlay};
use crate::pattern::Patterns;
use crate::sharpness::Spread;
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
/// Lines without which so many times what they leave is left are not there. (Of lines that are
/// more, though little more where noise hides them.)
const ABSENT: f64 = 0.98;
/// No mark is truer than this, mm.
const LEAST_SD: f64 = 0.04;
/// Cameras that sharpen change tones too: a mark's variance is so many times larger then.
const CHANGED: f64 = 4.0;
/// But for noise, neighbouring pixels of a photo err alike: deviations are taken to be so much
/// larger.
const ALIKE: f64 = 4.0;
/// Of what is not noise, so many pixels tell as much as one by itself of which way a mark lies. That
/// made the ways that were nearer the truth likeliest, in 535 pairs of made-up photographs.
const TOGETHER: f64 = 35.0;
/// The blur in photo pixels until it is known, and what it may be.
const USUAL: Spread = Spread::blur(1.05);
const BLURS: [f64; 9] = [0.55, 0.65, 0.75, 0.85, 0.95, 1.05, 1.25, 1.5, 1.9];
/// Fits this near to each other are one, mm.
const SAME: f64 = 0.015;

/// The marks as the photo shows them.
pub(crate) struct Marks<'a> {
    seen: Vec<Seen<'a>>,
}

/// A mark, and the ways in which it may lie.
struct Seen<'a> {
    mark: &'a Mark,
    overlay: Overlay,
    /// About where the patterns lie.
    first: [Xy; 2],
    fits: Vec<Fit>,
    /// The sheet whose lines are not there.
    absent: Option<usize>,
}

impl<'a> Marks<'a> {
    pub(crate) const NONE: Self = Self { seen: Vec::new() };

    /// Looks for every mark of sheets that take part.
    pub(crate) fn find(
        film: &'a Film,
        layout: &Layout,
        model: &Model,
        photo: &PhotoLevel,
        taking: &[bool],
        spread: Option<Spread>,
    ) -> Self {
        let told = |m: &&Mark| m.sheets.iter().all(|s| taking[*s]) && m.drawn[0] != m.drawn[1];
        let seen: Vec<Seen> = film
            .marks
            .par_iter()
            .filter(told)
            .filter_map(|mark| {
                let patterns = Patterns::new(mark, layout, model, photo).grown(model.growth);
                let view = patterns.view(mark, film, model, photo)?;
                let overlay = Overlay::new(patterns, view, spread.unwrap_or(USUAL))?;
                let (first, _) = overlay.find()?;
                Some(Seen { mark, overlay, first, fits: Vec::new(), absent: None })
            })
            .collect();
        let mut out = Self { seen };
        // Lines of two sheets side by side are as wide as blurred ones: once it is known better how
        // they lie, it is looked again which they are.
        if spread.is_none() {
            out = out.blurred();
            out.seen.par_iter_mut().for_each(Seen::fit_first);
            out = out.blurred();
        }
        out.seen.par_iter_mut().for_each(Seen::fit_first);
        out.darken();
        out.seen.par_iter_mut().for_each(Seen::fit);
        out.seen.par_iter_mut().for_each(|s| s.absent = s.absent());
        out
    }

    /// What ink does to the light is the same at all marks.
    fn darken(&mut self) {
        let taken = |s: &Seen| s.overlay.taken(&s.best()?.shifts);
        let all: Vec<f64> = self.seen.iter().filter_map(taken).collect();
        if !all.is_empty() {
            let dark = Dark::known(median(all));
            self.seen.iter_mut().for_each(|s| s.overlay.dark = dark);
        }
    }

    /// With the blur that explains all of them best: all are seen through one lens.
    fn blurred(self) -> Self {
        let lefts = |s: Seen<'a>| {
            let mut s = s;
            let mut lefts = [0.0; BLURS.len()];
            for (left, blur) in lefts.iter_mut().zip(BLURS) {
                s.overlay = s.overlay.spread(Spread::blur(blur));
                *left = s.left();
            }
            (s, lefts)
        };
        let judged: Vec<(Seen, [f64; BLURS.len()])> =
            self.seen.into_par_iter().map(lefts).collect();
        let left = |blur: usize| judged.iter().map(|(_, l)| l[blur]).sum::<f64>();
        let best = (0..BLURS.len()).min_by(|a, b| left(*a).total_cmp(&left(*b)));
        let spread = best.map_or(USUAL, |best| Spread::blur(BLURS[best]));
        let seen = judged.into_iter().map(|(s, _)| Seen { overlay: s.overlay.spread(spread), ..s });
        Self { seen: seen.collect() }
    }

    /// At how many marks a sheet's lines are not there, though the other sheet's are.
    pub(crate) fn without(&self, sheet: usize) -> usize {
        self.seen.iter().filter(|s| s.absent == Some(sheet)).count()
    }

    /// What the marks tell where the model's sheets may be off by so many mm.
    pub(crate) fn ties(&mut self, model: &Model, off: f64) -> Vec<Tie> {
        self.seen.par_iter_mut().for_each(|s| s.fit_near(model));
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
        let worse = |s: &Seen, fit: &Fit| (fit.noise / noise).max(1.0) * s.changed();
        like.filter_map(|(s, fit)| s.tie(model, off, worse(s, fit))).collect()
    }
}

impl Seen<'_> {
    /// What is left unexplained, the patterns lying as far apart as they seem to or nearer to each
    /// other: a blur taken for too little makes two lines of one.
    fn left(&self) -> f64 {
        let shifts = self.best().map_or(self.first, |fit| fit.shifts);
        let nearer = |part| about(shifts, |k| (shifts[0][k] - shifts[1][k]) * part);
        let lefts = [1.0, 0.6, 0.2].map(|part| self.overlay.noise(&nearer(part)));
        lefts.into_iter().fold(f64::INFINITY, f64::min)
    }

    /// Fits it anew as it is seen, from where it was found, and from there with either sheet's
    /// lines on the other side of the other's, along either axis or both.
    fn fit(&mut self) {
        let first = self.overlay.combed(self.first, COMB);
        let turned = [[1.0, 1.0], [-1.0, 1.0], [1.0, -1.0], [-1.0, -1.0], [0.0, 0.0]];
        let starts = turned.map(|by| about(first, |k| (first[0][k] - first[1][k]) * by[k]));
        let mut tried: Vec<[Xy; 2]> = Vec::new();
        self.fits.clear();
        for start in starts.into_iter().chain([self.overlay.expected()]) {
            let far = |t: &[Xy; 2]| {
                t.iter().flatten().zip(start.iter().flatten()).any(|(a, b)| (a - b).abs() > 0.5)
            };
            if tried.iter().all(far) {
                tried.push(start);
                self.take(start);
            }
        }
    }

    /// Fits it from where it was found.
    fn fit_first(&mut self) {
        self.fits.clear();
        self.take(self.overlay.combed(self.first, COMB));
    }

    /// Fits it from where the model has it.
    fn fit_near(&mut self, model: &Model) {
        let Some(first) = self.best().map(|fit| fit.shifts) else { return };
        let apart = self.expected(model);
        let mm = self.overlay.patterns.mm;
        self.take(about(first, |k| apart[k] / mm));
    }

    fn best(&self) -> Option<&Fit> {
        self.fits.iter().min_by(|a, b| a.noise.total_cmp(&b.noise))
    }

    /// How many times larger the variance of what it tells is than if the camera had left the
    /// picture as it was.
    fn changed(&self) -> f64 {
        if self.overlay.spread.halo > 0.0 { CHANGED } else { 1.0 }
    }

    /// Which sheet's lines are not there: those without which the photo is explained better.
    fn absent(&self) -> Option<usize> {
        let fit = self.best()?;
        let without = [0, 1].map(|which| self.overlay.without(fit, which));
        let [first, second] = without.map(|w| w.unwrap_or(f64::INFINITY));
        let which = usize::from(second < first);
        (first.min(second) < ABSENT).then_some(self.mark.sheets[which])
    }

    fn take(&mut self, start: [Xy; 2]) {
        let Some(fit) = self.overlay.fit(start) else { return };
        let near = |f: &Fit| (f.apart[0] - fit.apart[0]).hypot(f.apart[1] - fit.apart[1]) < SAME;
        if !self.fits.iter().any(near) {
            self.fits.push(fit);
        }
    }

    /// How far apart the model has its sheets there, mm.
    fn expected(&self, model: &Model) -> Xy {
        let [a, b] = self.mark.sheets.map(|s| model.motion(self.overlay.patterns.middle, s));
        [a[0] - b[0], a[1] - b[1]]
    }

    /// What is left, as much of it as is not the photo's noise counting so many times.
    fn alike(&self, left: f64, times: f64) -> f64 {
        let own = self.overlay.view.noise.min(left);
        own + times * (left - own)
    }

    /// What it tells: the mean of the ways it may lie, each as likely as the photo and the model,
    /// which may be off by so many mm, have it. It is `worse` times as noisy as others.
    fn tie(&self, model: &Model, off: f64, worse: f64) -> Option<Tie> {
        let least = self.best()?.noise.max(1e-9);
        let expected = Vector2::from(self.expected(model));
        let pixels = self.overlay.patterns.pixels();
        let weight = |f: &Fit| {
            let away = (Vector2::from(f.apart) - expected).norm() / off;
            let worse = pixels * (f.noise - least) / self.alike(least, TOGETHER);
            (-0.5 * (worse + away * away)).exp()
        };
        let weights: Vec<f64> = self.fits.iter().map(weight).collect();
        let all: f64 = weights.iter().sum();
        let ways = || self.fits.iter().zip(weights.iter().map(|w| w / all));
        let mean: Vector2<f64> = ways().map(|(f, w)| Vector2::from(f.apart) * w).sum();
        let covariance: Matrix2<f64> = ways()
            .map(|(f, w)| {
                let away = Vector2::from(f.apart) - mean;
                let alike = self.alike(f.noise, ALIKE.powi(2)) / f.noise.max(1e-9);
                (f.difference * alike + away * away.transpose()) * w
            })
            .sum();
        if !(all > 0.0 && covariance.iter().all(|v| v.is_finite())) {
            return None;
        }
        Some(Tie {
            sheets: self.mark.sheets,
            at: self.overlay.patterns.middle,
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
        let view = patterns.view(mark, film, model, photo);
        let overlay = view.and_then(|view| Overlay::new(patterns, view, USUAL));
        overlay.and_then(|o| o.find()).map_or(1.0, |(_, share)| share.min(1.0))
    };
    asked.par_iter().map(strange).collect::<Vec<f64>>().iter().sum::<f64>()
        / asked.len().max(1) as f64
}
