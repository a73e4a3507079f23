//! From what was solved to verdicts.

use crate::bench::Checked;
use crate::camera::Xy;
use crate::layout::Layout;
use crate::model::{Model, SHEET, sheet_row};
use crate::{Film, FilmFound, Found, Options, Place, Report, SeamFound, SheetFound, Spot, Verdict};
use nalgebra::{DMatrix, Matrix2};

/// Photos err in ways that the equations do not know of: what a jog may be off by is told as so
/// many times what they say. That is more than most need, so that jogs are right to a tenth of a
/// millimetre wherever less than 0.12 mm is told.
const TOLD: f64 = 1.8;
/// So many times what is told, or so many mm at least, lie between a jog and the verdict "good", ...
const MARGIN: f64 = 1.1;
/// ... and between it and the verdict "fault": of a film's many seams the worst is told.
const FAULT_MARGIN: f64 = 2.0;
const LEAST_MARGIN: f64 = 0.1;
/// Where as much as this is told, mm, false locks can hide.
const MOST: f64 = 0.45;

/// Puts what was found in words.
pub(crate) fn report(
    film: &Film,
    layout: &Layout,
    options: &Options,
    checked: &Checked,
    spots: Vec<Spot>,
) -> Report {
    let seams: Vec<SeamFound> =
        film.seams.iter().map(|s| seam(film, layout, options, checked, *s)).collect();
    let sheets: Vec<SheetFound> = (0..film.sheets.len()).map(|s| sheet(film, checked, s)).collect();
    let wrong = |f: &Found| !matches!(f, Found::InPlace | Found::NotSure);
    let verdict = if checked.place == Place::Tie {
        Verdict::NotSure
    } else if sheets.iter().any(|s| wrong(&s.found))
        || seams.iter().any(|s| s.verdict == Verdict::Fault)
    {
        Verdict::Fault
    } else if sheets.iter().all(|s| s.found == Found::InPlace)
        && seams.iter().all(|s| s.verdict == Verdict::Good)
    {
        Verdict::Good
    } else {
        Verdict::NotSure
    };
    let model = &checked.model;
    let corners = corners(layout, model);
    let film = FilmFound {
        scale: scale(options, model),
        mirrored: model.camera.mirrored(),
        corners,
        place: checked.place,
    };
    Report { verdict, film, sheets, seams, spots }
}

/// Where the photo shows the film's corners.
pub(crate) fn corners(layout: &Layout, model: &Model) -> [Xy; 4] {
    layout.corners().map(|c| model.camera.project(model.uneven(c)).unwrap_or_default())
}

/// The ruler's length against what it measures on the planned film.
fn scale(options: &Options, model: &Model) -> Option<f64> {
    let ruler = options.ruler?;
    let (a, b) = (model.film_at(ruler.ends[0])?, model.film_at(ruler.ends[1])?);
    let measured = (a[0] - b[0]).hypot(a[1] - b[1]);
    Some(ruler.length.to_mm() / measured)
}

fn sheet(film: &Film, checked: &Checked, s: usize) -> SheetFound {
    let found = checked.found[s].clone();
    let motion = checked.model.sheets[s];
    let sd = match (&found, &checked.covariance) {
        (Found::InPlace | Found::NotSure, Some(c)) => {
            let at = SHEET * s;
            Some(widest(Matrix2::new(
                c[(at, at)],
                c[(at, at + 1)],
                c[(at + 1, at)],
                c[(at + 1, at + 1)],
            )))
        }
        _ => None,
    };
    let shown = |v: f64| sd.map(|_| v);
    SheetFound {
        name: film.sheets[s].name.clone(),
        found,
        dx_mm: shown(motion.slip[0]),
        dy_mm: shown(motion.slip[1]),
        turn_deg: shown(motion.turn.to_degrees()),
        scale_x: shown(1.0 + motion.stretch[0]),
        scale_y: shown(1.0 + motion.stretch[1]),
        sd_mm: sd,
    }
}

fn seam(
    film: &Film,
    layout: &Layout,
    options: &Options,
    checked: &Checked,
    [a, b]: [usize; 2],
) -> SeamFound {
    let mut out = untold(film, layout, [a, b]);
    let there = |s: usize| matches!(checked.found[s], Found::InPlace | Found::NotSure);
    let ends = layout.quads[a].seam(&layout.quads[b]);
    let (Some(ends), Some(covariance)) = (ends, &checked.covariance) else {
        return out;
    };
    if !there(a) || !there(b) {
        return out;
    }
    let (mut jog, mut sd) = (0.0_f64, 0.0_f64);
    for end in ends {
        let (p, q) = (checked.model.motion(end, a), checked.model.motion(end, b));
        jog = jog.max((p[0] - q[0]).hypot(p[1] - q[1]));
        sd = sd.max(widest(difference(checked, covariance, end, a, b)));
    }
    let margin = |times: f64| (times * sd).max(LEAST_MARGIN);
    let (good, fault) = (options.good.to_mm(), options.fault.to_mm());
    out.sd_mm = Some(sd);
    if sd < MOST {
        out.jog_mm = Some(jog);
        if jog - margin(FAULT_MARGIN) > good {
            out.verdict = Verdict::Fault;
        } else if jog + margin(MARGIN) < fault {
            out.verdict = Verdict::Good;
        }
    }
    out
}

/// A seam of which the photo does not tell.
fn untold(film: &Film, layout: &Layout, [a, b]: [usize; 2]) -> SeamFound {
    let ends = layout.quads[a].seam(&layout.quads[b]);
    let to_px = |p: Xy| [0, 1].map(|k| (p[k] + layout.size[k] / 2.0) / layout.pixel);
    SeamFound {
        between: [film.sheets[a].name.clone(), film.sheets[b].name.clone()],
        jog_mm: None,
        sd_mm: None,
        verdict: Verdict::NotSure,
        ends: ends.map_or([[0.0; 2]; 2], |e| e.map(to_px)),
    }
}

/// The report where the film is not made out in the photo.
pub(crate) fn unseen(film: &Film, layout: &Layout) -> Report {
    let sheets = film.sheets.iter().map(|sheet| SheetFound {
        name: sheet.name.clone(),
        found: Found::NotSure,
        dx_mm: None,
        dy_mm: None,
        turn_deg: None,
        scale_x: None,
        scale_y: None,
        sd_mm: None,
    });
    Report {
        verdict: Verdict::NotSure,
        film: FilmFound {
            scale: None,
            mirrored: false,
            corners: [[0.0; 2]; 4],
            place: Place::Unseen,
        },
        sheets: sheets.collect(),
        seams: film.seams.iter().map(|seam| untold(film, layout, *seam)).collect(),
        spots: Vec::new(),
    }
}

/// The covariance of the difference of two sheets' motions at a place.
fn difference(
    checked: &Checked,
    covariance: &DMatrix<f64>,
    at: Xy,
    a: usize,
    b: usize,
) -> Matrix2<f64> {
    let rows = [[1.0, 0.0], [0.0, 1.0]].map(|axis| {
        let mut row = vec![0.0; covariance.nrows()];
        for (sheet, sign) in [(a, 1.0), (b, -1.0)] {
            let middle = checked.model.middles[sheet];
            for (k, v) in sheet_row(at, middle, axis).into_iter().enumerate() {
                row[SHEET * sheet + k] = sign * v;
            }
        }
        nalgebra::DVector::from_vec(row)
    });
    Matrix2::from_fn(|i, j| rows[i].dot(&(covariance * &rows[j])))
}

/// What is told of the standard deviation along the direction where it is largest.
fn widest(c: Matrix2<f64>) -> f64 {
    let (half, gap) = ((c.m11 + c.m22) / 2.0, ((c.m11 - c.m22) / 2.0).hypot(c.m12));
    TOLD * (half + gap).max(0.0).sqrt()
}
