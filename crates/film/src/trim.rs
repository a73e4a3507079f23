use crate::{FilmJob, PxRect};
use bitmap::Bitmap;
use measure::{Length, Point, Resolution};

/// The trim line between two sheets: a row of small dots along their seam, the same on both
/// sheets, only where the film is clear.
#[derive(Clone, Debug)]
pub(crate) struct Trim {
    dots: Vec<PxRect>,
}

/// Thin enough that a screen of common mesh does not hold it.
const DOT: Length = Length::mm(0.1);
/// From dot to dot: near enough to lay a straightedge along.
const STEP: Length = Length::mm(4.0);
/// Dots stay this far from ink and from other marks.
const CLEARANCE: Length = Length::mm(0.5);
/// The most that all dots may take of the film, besides the other marks' share.
const MOST: f64 = 0.001;

/// The trim lines of a job: for each pair of sheets that share a seam, their numbers and the
/// line. `taken` holds where each sheet has other marks; `clear` says whether a part of the
/// film has no ink.
pub(crate) fn lay_trims(
    job: &FilmJob,
    taken: &[Vec<PxRect>],
    clear: impl Fn(PxRect) -> bool,
) -> Vec<(usize, usize, Trim)> {
    let budget = MOST * f64::from(job.raster.width()) * f64::from(job.raster.height());
    let length: f64 = job.seams.iter().map(|seam| length_px(&seam.points, job.resolution)).sum();
    let dot = job.resolution.whole_px(DOT).max(1);
    // On a film too small for so many dots they lie further apart. Each is listed on both
    // sheets, with a pixel around it; a seam has at most one more than its length's share.
    let each = 2.0 * ((dot + 2) * (dot + 2)) as f64;
    let room = (budget / each - job.seams.len() as f64).max(0.5);
    let step = job.resolution.px(STEP).max(length / room);
    let gap = job.resolution.whole_px(CLEARANCE).max(1);
    let mut out: Vec<(usize, usize, Trim)> = Vec::new();
    for seam in &job.seams {
        let number = |name: &String| job.sheets.iter().position(|sheet| sheet.name == *name);
        let [Some(a), Some(b)] = [&seam.between[0], &seam.between[1]].map(number) else {
            continue;
        };
        let both = job.sheets[a].image.intersect(job.sheets[b].image);
        let free = |at: &PxRect| {
            let wide = at.grown(gap);
            both.holds(at.grown(1))
                && [a, b].iter().all(|n| taken[*n].iter().all(|t| t.intersect(wide).area() == 0))
                && out.iter().all(|(.., t)| t.dots.iter().all(|d| d.intersect(wide).area() == 0))
                && clear(wide)
        };
        let places = along(&seam.points, step, job.resolution).into_iter();
        let dots = places.map(|(x, y)| PxRect::new(x - dot / 2, y - dot / 2, dot, dot));
        let dots: Vec<PxRect> = dots.filter(free).collect();
        if !dots.is_empty() {
            out.push((a, b, Trim { dots }));
        }
    }
    out
}

impl Trim {
    /// The box around all of it.
    pub(crate) fn place(&self) -> PxRect {
        let least = |side: fn(&PxRect) -> i64| self.dots.iter().map(side).min().unwrap_or(0);
        let most = |side: fn(&PxRect) -> i64| self.dots.iter().map(side).max().unwrap_or(0);
        PxRect::between(least(|d| d.x), least(|d| d.y), most(|d| d.right()), most(|d| d.bottom()))
    }

    /// A small box for each dot, with a pixel around it.
    pub(crate) fn boxes(&self) -> impl Iterator<Item = PxRect> {
        self.dots.iter().map(|dot| dot.grown(1))
    }

    /// Its pixels, within [`Trim::place`].
    pub(crate) fn drawn(&self) -> Bitmap {
        let place = self.place();
        let mut out = Bitmap::new(place.width as u32, place.height as u32);
        for dot in self.dots.iter().map(|dot| dot.moved(-place.x, -place.y)) {
            for y in dot.y..dot.bottom() {
                for x in dot.x..dot.right() {
                    out.set(x as u32, y as u32, true);
                }
            }
        }
        out
    }
}

fn length_px(points: &[Point], resolution: Resolution) -> f64 {
    legs(points, resolution).map(|(_, _, length)| length).sum()
}

/// The legs of a line in film pixels: from, to, length.
fn legs(
    points: &[Point],
    resolution: Resolution,
) -> impl Iterator<Item = ((f64, f64), (f64, f64), f64)> {
    let px = move |p: &Point| (resolution.px(p.x), resolution.px(p.y));
    points.windows(2).map(move |leg| {
        let (from, to) = (px(&leg[0]), px(&leg[1]));
        (from, to, (to.0 - from.0).hypot(to.1 - from.1))
    })
}

/// The pixels on a line, `step` pixels apart along it, the first half a step from its start.
fn along(points: &[Point], step: f64, resolution: Resolution) -> Vec<(i64, i64)> {
    let mut out = Vec::new();
    let mut next = step / 2.0;
    for (from, to, length) in legs(points, resolution) {
        while next < length {
            let part = next / length;
            let at = |from: f64, to: f64| (from + part * (to - from)).floor() as i64;
            out.push((at(from.0, to.0), at(from.1, to.1)));
            next += step;
        }
        next -= length;
    }
    out
}
