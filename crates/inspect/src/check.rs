//! The check from start to end: pose, then finer and finer edges, then the report.

use crate::camera::{Camera, Xy};
use crate::edges::{self, PhotoLevel};
use crate::faults::identify;
use crate::field::Mesh;
use crate::input::validate;
use crate::layout::Layout;
use crate::levels::{Levels, cover, linear};
use crate::model::{Freedom, Model, SHEET, sheet_row};
use crate::pose::{self, Pose};
use crate::rough::{Ladder, apart};
use crate::samples::{Choice, FilmLevel, Sample, choose};
use crate::solve::{Bend, Solved, Task, solve};
use crate::{
    Film, FilmFound, Found, InspectError, Options, Photo, Report, SeamFound, SheetFound, Verdict,
};
use nalgebra::{DMatrix, Matrix2};
use progress::Progress;

/// Edges are first looked for where a photo pixel is at most so many mm.
const COARSEST: f64 = 3.5;
/// The film's cells are so much smaller than the photo's pixels.
const FINER: f64 = 1.3;
/// The knots of the unevenness, mm.
const KNOT: f64 = 90.0;
/// A doubtful pose is right if so many of its coarse edges are found.
const BORNE_OUT: f64 = 0.35;
/// A usual lens's focal length in photo widths.
const FOCAL: f64 = 0.95;

/// Finds the film in the photo and says how well it is taped.
///
/// # Errors
/// When the input makes no sense, when the film is not found, or when cancelled.
pub fn check_film(
    film: &Film,
    photo: &Photo,
    options: &Options,
    progress: &Progress,
) -> Result<Report, InspectError> {
    validate(film, photo, options)?;
    let layout = Layout::new(film);
    progress.step("Reading the photo", 0, 4)?;
    let light = Levels::new(linear(photo), 40);
    progress.step("Finding the film", 1, 4)?;
    let (ladder, poses) = find_pose(film, &layout, &light, options, progress)?;
    progress.step("Measuring edges", 2, 4)?;
    let names: Vec<String> = film.sheets.iter().map(|s| s.name.clone()).collect();
    let mut bench = Bench::new(film, &layout, &light, &poses[0].camera)?;
    let (camera, tie) = bench.settle(poses)?;
    let mut checked = bench.run(camera, &ladder, &names, progress)?;
    progress.step("Weighing seams", 3, 4)?;
    if tie {
        checked.tie = true;
    }
    Ok(report(film, &layout, options, &checked))
}

fn find_pose(
    film: &Film,
    layout: &Layout,
    light: &Levels,
    options: &Options,
    progress: &Progress,
) -> Result<(Ladder, Vec<Pose>), InspectError> {
    let long = f64::from(film.raster.width().max(film.raster.height()));
    let cell = (long / 1000.0).max(1.0);
    let mut clear = cover(film.raster, cell);
    for v in &mut clear.px {
        *v = 65535 - *v;
    }
    let ladder = pose::ladder(clear, cell * layout.pixel);
    let poses = match &options.corners {
        Some(corners) => pose::from_corners(light, &ladder, layout, corners),
        None => pose::find(light, &ladder, layout, progress)?,
    };
    if poses.is_empty() {
        return Err(match options.corners {
            Some(_) => InspectError::Corners,
            None => InspectError::NotFound,
        });
    }
    Ok((ladder, poses))
}

/// What was found, before it is put in words.
struct Checked {
    model: Model,
    found: Vec<Found>,
    covariance: Option<DMatrix<f64>>,
    tie: bool,
}

/// The film and the photo at all levels.
struct Bench<'a> {
    layout: &'a Layout,
    light: &'a Levels,
    /// The film for each level of the photo.
    levels: Vec<FilmLevel>,
    /// The side of the finest level's photo pixels on the film, mm.
    pixel: f64,
}

impl<'a> Bench<'a> {
    fn new(
        film: &Film,
        layout: &'a Layout,
        light: &'a Levels,
        camera: &Camera,
    ) -> Result<Self, InspectError> {
        let places = layout.corners().into_iter().chain([[0.0; 2]]);
        let sides: Vec<f64> = places.filter_map(|p| camera.mm_per_px(p)).collect();
        let pixel = sides.iter().sum::<f64>() / sides.len().max(1) as f64;
        let cell = (pixel / FINER / layout.pixel).max(1.0);
        if !cell.is_finite() || cell > f64::from(film.raster.width()) / 16.0 {
            return Err(InspectError::NotFound);
        }
        let coarsest = COARSEST.min(layout.size[0].max(layout.size[1]) / 150.0);
        let count = ((coarsest / pixel).log2().floor().max(1.0) as usize + 1).min(light.0.len());
        let mut covers = vec![cover(film.raster, cell)];
        while covers.len() < count {
            covers.push(covers[covers.len() - 1].halved());
        }
        let levels = covers.into_iter().enumerate().map(|(k, cover)| {
            let mm = cell * layout.pixel * f64::from(1_u32 << k);
            let photo_pixel = pixel * f64::from(1_u32 << k);
            // The photo's own blur is over a pixel wide only where pixels are not means.
            let sigma = if k == 0 { 1.25 } else { 0.6 } * photo_pixel / mm;
            FilmLevel { cover: cover.blurred(sigma), mm, sigma }
        });
        Ok(Self { layout, light, levels: levels.collect(), pixel })
    }

    fn model(&self, camera: Camera) -> Model {
        let middles = self.layout.quads.iter().map(|q| q.middle).collect();
        Model::new(camera, middles, Mesh::new(self.layout.size[0], self.layout.size[1], KNOT))
    }

    fn photo(&self, level: usize) -> PhotoLevel<'_> {
        let scale = f64::from(1_u32 << level);
        PhotoLevel { light: &self.light.0[level], scale, mm: self.pixel * scale }
    }

    fn samples(&self, level: usize, sheets: &[bool]) -> Vec<Sample> {
        let pixel = self.pixel * f64::from(1_u32 << level);
        // A profile reaches four pixels; where pixels are large, less of it must do.
        let margin = if level < 2 { 4.5 } else { 2.5 } * pixel;
        let per_sheet = if level < 2 { 900 } else { 250 };
        choose(&self.levels[level], self.layout, &Choice { pixel, margin, per_sheet, sheets })
    }

    /// The pose that the coarse edges bear out best, and whether another is as good.
    fn settle(&self, poses: Vec<Pose>) -> Result<(Camera, bool), InspectError> {
        let all = vec![true; self.layout.quads.len()];
        let mut judged: Vec<(f64, Camera)> = Vec::new();
        let sure = poses[0].score > pose::SURE;
        if let ([only], true) = (poses.as_slice(), sure) {
            return Ok((only.camera.clone(), false));
        }
        for pose in poses {
            let mut model = self.model(pose.camera);
            let mut share = 0.0;
            for level in (2..self.levels.len()).rev() {
                let samples = self.samples(level, &all);
                for reach in [8, 6] {
                    let edges = edges::find(&samples, &model, &self.photo(level), reach);
                    let task = Task {
                        freedom: Freedom::Camera,
                        bend: Bend::default(),
                        sheets: &all,
                        covariance: false,
                    };
                    let used = solve(&mut model, &edges, &task).map_or(0, |s| s.used);
                    share = used as f64 / samples.len().max(1) as f64;
                }
            }
            judged.push((share, model.camera));
        }
        judged.sort_by(|a, b| b.0.total_cmp(&a.0));
        if !sure && judged[0].0 < BORNE_OUT {
            return Err(InspectError::NotFound);
        }
        let far = 0.01 * self.light.0[0].width as f64;
        let tie = judged.iter().skip(1).any(|(share, camera)| {
            *share > 0.8 * judged[0].0 && apart(camera, &judged[0].1, self.layout) > far
        });
        let best = judged.into_iter().next().ok_or(InspectError::NotFound)?;
        Ok((best.1, tie))
    }

    /// Everything from the coarsest level to the finest.
    fn run(
        &mut self,
        camera: Camera,
        ladder: &Ladder,
        names: &[String],
        progress: &Progress,
    ) -> Result<Checked, InspectError> {
        let mut model = self.model(camera);
        let mut sheets = vec![true; names.len()];
        let mut found = vec![Found::InPlace; names.len()];
        let mut bend = Bend::default();
        let mut last: Option<Solved> = None;
        for level in (0..self.levels.len()).rev() {
            progress.check()?;
            let samples = self.samples(level, &sheets);
            let passes: &[(usize, Freedom)] = match level {
                0 => &[(6, Freedom::Fields), (4, Freedom::Fields), (2, Freedom::Fields)],
                1 => &[(8, Freedom::Sheets), (6, Freedom::Fields), (4, Freedom::Fields)],
                2 => &[(8, Freedom::Sheets), (6, Freedom::Sheets), (4, Freedom::Sheets)],
                3 => &[
                    (8, Freedom::Camera),
                    (6, Freedom::Camera),
                    (8, Freedom::Sheets),
                    (6, Freedom::Sheets),
                ],
                _ => &[(8, Freedom::Camera), (6, Freedom::Camera)],
            };
            for (pass, (reach, freedom)) in passes.iter().enumerate() {
                progress.check()?;
                let edges = edges::find(&samples, &model, &self.photo(level), *reach);
                model.foot = model.camera.foot(FOCAL).0;
                let covariance = level == 0 && pass + 1 == passes.len();
                let task = Task { freedom: *freedom, bend, sheets: &sheets, covariance };
                let Some(solved) = solve(&mut model, &edges, &task) else { continue };
                bend = solved.bend;
                last = Some(solved);
            }
            if level == 3 || level == 2 {
                found = identify(&model, self.light, ladder, self.layout, names);
                for (take, found) in sheets.iter_mut().zip(&found) {
                    *take = matches!(found, Found::InPlace | Found::NotSure);
                }
            }
        }
        model.settle_frame(&sheets);
        let covariance = last.and_then(|s| s.covariance);
        Ok(Checked { model, found, covariance, tie: false })
    }
}

fn report(film: &Film, layout: &Layout, options: &Options, checked: &Checked) -> Report {
    let seams: Vec<SeamFound> =
        film.seams.iter().map(|s| seam(film, layout, options, checked, *s)).collect();
    let sheets: Vec<SheetFound> = (0..film.sheets.len()).map(|s| sheet(film, checked, s)).collect();
    let wrong = |f: &Found| !matches!(f, Found::InPlace | Found::NotSure);
    let verdict = if checked.tie {
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
    let corners =
        layout.corners().map(|c| model.camera.project(model.uneven(c)).unwrap_or_default());
    let film = FilmFound {
        scale: scale(options, model),
        mirrored: model.camera.mirrored(),
        corners,
        tie: checked.tie,
    };
    Report { verdict, film, sheets, seams }
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
    let between = [film.sheets[a].name.clone(), film.sheets[b].name.clone()];
    let ends = layout.quads[a].seam(&layout.quads[b]);
    let to_px = |p: Xy| [0, 1].map(|k| (p[k] + layout.size[k] / 2.0) / layout.pixel);
    let shown_ends = ends.map_or([[0.0; 2]; 2], |e| e.map(to_px));
    let mut out = SeamFound {
        between,
        jog_mm: None,
        sd_mm: None,
        verdict: Verdict::NotSure,
        ends: shown_ends,
    };
    let there = |s: usize| matches!(checked.found[s], Found::InPlace | Found::NotSure);
    let (Some(ends), Some(covariance)) = (ends, &checked.covariance) else { return out };
    if !there(a) || !there(b) {
        return out;
    }
    let (mut jog, mut sd) = (0.0_f64, 0.0_f64);
    for end in ends {
        let (p, q) = (checked.model.motion(end, a), checked.model.motion(end, b));
        jog = jog.max((p[0] - q[0]).hypot(p[1] - q[1]));
        sd = sd.max(widest(difference(checked, covariance, end, a, b)));
    }
    let margin = (2.0 * sd).max(0.1);
    let (good, fault) = (options.good.to_mm(), options.fault.to_mm());
    out.sd_mm = Some(sd);
    if sd < 0.25 {
        out.jog_mm = Some(jog);
        if jog - margin > good {
            out.verdict = Verdict::Fault;
        } else if jog + margin < fault {
            out.verdict = Verdict::Good;
        }
    }
    out
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

/// The standard deviation along the direction where it is largest.
fn widest(c: Matrix2<f64>) -> f64 {
    let (half, gap) = ((c.m11 + c.m22) / 2.0, ((c.m11 - c.m22) / 2.0).hypot(c.m12));
    (half + gap).max(0.0).sqrt()
}
