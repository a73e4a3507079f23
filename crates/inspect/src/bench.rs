//! Finer and finer edges: from a coarse pose to every sheet's place.

use crate::camera::Camera;
use crate::edges::{self, Edge, PhotoLevel};
use crate::faults::identify;
use crate::field::Mesh;
use crate::layout::Layout;
use crate::levels::{Levels, cover};
use crate::marks::{Marks, Tie};
use crate::model::{Freedom, Model, Motion};
use crate::pose::Pose;
use crate::rough::{Ladder, apart};
use crate::samples::{Choice, FilmLevel, Sample, choose};
use crate::sharpness::{self, Spread};
use crate::solve::{Bend, Solved, Task, solve};
use crate::{Film, Found, InspectError, Place, marks};
use nalgebra::DMatrix;
use progress::Progress;

/// Edges are first looked for where a photo pixel is at most so many mm.
const COARSEST: f64 = 7.0;
/// The film's cells are so much smaller than the photo's pixels.
const FINER: f64 = 1.3;
/// The unevenness has a knot every so many mm (a film's waves are not seen to be shorter than two of
/// them), or so many photo pixels where those are large, or, on larger films, so many spans in all.
const KNOT: f64 = 40.0;
const KNOT_PIXELS: f64 = 130.0;
const SPANS: f64 = 650.0;
/// A doubtful pose is right if so many of its coarse edges are found.
const BORNE_OUT: f64 = 0.35;
/// How often the camera is taken from the sheets that are found to others, ...
const GROWTHS: usize = 3;
/// ... unless so large a share of what they show is found as it is.
const MOSTLY: f64 = 0.9;
/// So many edges of a sheet tell little.
const FEW: f64 = 10.0;
/// Marks that are seen as badly as this may be anything, ...
const STRANGE: f64 = 0.5;
/// ... and a pose at which they are seen so many times better than at any other is right.
const SURER: f64 = 1.5;
/// How far off sheets may be before marks have told of them, mm, ...
const UNSETTLED: f64 = 0.5;
/// ... and how far after.
const SETTLED: f64 = 0.3;
/// The film is blurred by so many pixels to be compared with the photo's finest level.
pub(crate) const BLUR: f64 = 1.25;
/// A usual lens's focal length in photo widths.
const FOCAL: f64 = 0.95;

/// What was found, before it is put in words.
pub(crate) struct Checked {
    pub(crate) model: Model,
    pub(crate) found: Vec<Found>,
    /// The covariance of the sheets' numbers.
    pub(crate) covariance: Option<DMatrix<f64>>,
    /// Whether another pose is as good.
    pub(crate) place: Place,
    /// How the photo spreads light, where its edges tell.
    pub(crate) spread: Option<Spread>,
}

impl Checked {
    /// Which sheets lie in their places.
    pub(crate) fn sheets(&self) -> Vec<bool> {
        self.found.iter().map(|f| matches!(f, Found::InPlace | Found::NotSure)).collect()
    }
}

/// How many of the edges asked for were found.
struct Followed {
    share: f64,
    /// On each sheet.
    seen: Vec<f64>,
}

/// The share of its edges that were found on each sheet, of at least so many that they tell.
fn seen(samples: &[Sample], edges: &[Edge], sheets: usize) -> Vec<f64> {
    let mut counts = vec![[0.0, FEW]; sheets];
    samples.iter().for_each(|sample| counts[sample.sheet][1] += 1.0);
    edges.iter().for_each(|edge| counts[edge.sheet][0] += 1.0);
    counts.into_iter().map(|[found, all]| found / all).collect()
}

/// The film and the photo at all levels.
pub(crate) struct Bench<'a> {
    film: &'a Film<'a>,
    layout: &'a Layout,
    light: &'a Levels,
    /// The film for each level of the photo.
    pub(crate) levels: Vec<FilmLevel>,
    /// The side of the finest level's photo pixels on the film, mm.
    pixel: f64,
}

impl<'a> Bench<'a> {
    pub(crate) fn new(
        film: &'a Film<'a>,
        layout: &'a Layout,
        light: &'a Levels,
        camera: &Camera,
    ) -> Option<Self> {
        let places = layout.corners().into_iter().chain([[0.0; 2]]);
        let sides: Vec<f64> = places.filter_map(|p| camera.mm_per_px(p)).collect();
        let pixel = sides.iter().sum::<f64>() / sides.len().max(1) as f64;
        let cell = (pixel / FINER / layout.pixel).max(1.0);
        if !cell.is_finite() || cell > f64::from(film.raster.width()) / 16.0 {
            return None;
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
            let sigma = if k == 0 { BLUR } else { 0.6 } * photo_pixel / mm;
            FilmLevel { cover: cover.blurred(sigma), mm, sigma }
        });
        Some(Self { film, layout, light, levels: levels.collect(), pixel })
    }

    fn model(&self, camera: Camera) -> Model {
        let middles = self.layout.quads.iter().map(|q| q.middle).collect();
        let [width, height] = self.layout.size;
        let knot = KNOT.max(KNOT_PIXELS * self.pixel).max((width * height / SPANS).sqrt());
        Model::new(camera, middles, Mesh::new(width, height, knot))
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

    /// The pose that the coarse edges bear out best, if they do, and whether another is as good.
    pub(crate) fn settle(&self, poses: Vec<Pose>) -> Option<(Camera, Place)> {
        let all = vec![true; self.layout.quads.len()];
        let mut judged: Vec<(f64, Camera)> = Vec::new();
        let sure = poses.first()?.is_sure();
        if let ([only], true) = (poses.as_slice(), sure) {
            return Some((only.camera.clone(), Place::Known));
        }
        for pose in poses {
            let mut model = self.model(pose.camera);
            if pose.taken != all {
                self.follow(&mut model, &pose.taken);
            }
            let mut followed = self.follow(&mut model, &all);
            // Where some sheets are seen and others are not, those that are show where the others
            // should be.
            for _ in 0..GROWTHS {
                let most = followed.seen.iter().copied().fold(0.0, f64::max);
                if most < BORNE_OUT || followed.share > MOSTLY * most {
                    break;
                }
                let taking: Vec<bool> = followed.seen.iter().map(|s| *s > 0.5 * most).collect();
                let mut grown = model.clone();
                self.follow(&mut grown, &taking);
                let further = self.follow(&mut grown, &all);
                if further.share <= followed.share {
                    break;
                }
                (model, followed) = (grown, further);
            }
            judged.push((followed.share, model.camera));
        }
        judged.sort_by(|a, b| b.0.total_cmp(&a.0));
        // A small photo has no coarse edges.
        if judged[0].0 < BORNE_OUT && (!sure || self.levels.len() > 2) {
            return None;
        }
        let far = 0.01 * self.light.0[0].width as f64;
        let enough = 0.8 * judged[0].0;
        let mut cameras: Vec<Camera> = Vec::new();
        for (share, camera) in judged {
            let another = cameras.iter().all(|c| apart(&camera, c, self.layout) > far);
            if cameras.is_empty() || share > enough && another {
                cameras.push(camera);
            }
        }
        if let Some(marked) = self.by_marks(&cameras) {
            return Some((marked, Place::Known));
        }
        let place = if cameras.len() > 1 { Place::Tie } else { Place::Known };
        Some((cameras.swap_remove(0), place))
    }

    /// Takes the camera to where it explains the coarse edges of some sheets.
    fn follow(&self, model: &mut Model, sheets: &[bool]) -> Followed {
        let mut followed = Followed { share: 0.0, seen: vec![0.0; sheets.len()] };
        for level in (2..self.levels.len()).rev() {
            let samples = self.samples(level, sheets);
            for reach in [8, 6] {
                let edges = edges::find(&samples, model, &self.photo(level), reach);
                let task = Task {
                    freedom: Freedom::Camera,
                    bend: Bend::default(),
                    ties: &[],
                    covariance: false,
                };
                let used = solve(model, &edges, &task).map_or(0, |s| s.used);
                let share = used as f64 / samples.len().max(1) as f64;
                followed = Followed { share, seen: seen(&samples, &edges, sheets.len()) };
            }
        }
        followed
    }

    /// The one of several poses at which the marks are seen that are printed on the film.
    fn by_marks(&self, cameras: &[Camera]) -> Option<Camera> {
        if cameras.len() < 2 || self.film.marks.is_empty() {
            return None;
        }
        let strange = |camera: &Camera| {
            let model = self.model(camera.clone());
            marks::strangeness(self.film, self.layout, &model, &self.photo(0))
        };
        let mut judged: Vec<(f64, &Camera)> = cameras.iter().map(|c| (strange(c), c)).collect();
        judged.sort_by(|a, b| a.0.total_cmp(&b.0));
        let ((least, camera), (next, _)) = (judged[0], judged[1]);
        (least < STRANGE && least * SURER < next).then(|| camera.clone())
    }

    /// Puts sheets back that wandered off to where their edges are not seen, if they are seen where
    /// they should be.
    fn put_back(&self, model: &mut Model, samples: &[Sample], level: usize) {
        let mut home = model.clone();
        home.sheets.fill(Motion::default());
        let [here, there] = [&*model, &home].map(|model| {
            let edges = edges::find(samples, model, &self.photo(level), 4);
            seen(samples, &edges, model.sheets.len())
        });
        for (sheet, (here, there)) in model.sheets.iter_mut().zip(here.iter().zip(&there)) {
            if *there > BORNE_OUT.max(2.0 * here) {
                *sheet = Motion::default();
            }
        }
    }

    /// Everything from the coarsest level to the finest.
    pub(crate) fn run(
        &self,
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
        let (mut marks, mut ties, mut spread) = (Marks::NONE, Vec::<Tie>::new(), None);
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
                let photo = self.photo(level);
                let edges = edges::find(&samples, &model, &photo, *reach);
                if level == 0 && pass == 1 {
                    spread = sharpness::spread(&samples, BLUR, &model, &photo);
                    marks = Marks::find(self.film, self.layout, &model, &photo, &sheets, spread);
                    ties = marks.ties(&model, UNSETTLED);
                }
                // A mark that the rest speaks against was mistaken for something else.
                if level == 0 && pass > 1 {
                    let found = marks.ties(&model, SETTLED).into_iter();
                    ties = found.filter_map(|tie| tie.weighed(&model)).collect();
                }
                model.foot = model.camera.foot(FOCAL).0;
                let covariance = level == 0 && pass + 1 == passes.len();
                let task = Task { freedom: *freedom, bend, ties: &ties, covariance };
                let Some(solved) = solve(&mut model, &edges, &task) else {
                    continue;
                };
                bend = solved.bend;
                last = Some(solved);
            }
            if level == 3 || level == 2 {
                self.put_back(&mut model, &samples, level);
                found = identify(&model, self.light, ladder, self.layout, names);
                for (take, found) in sheets.iter_mut().zip(&found) {
                    *take = matches!(found, Found::InPlace | Found::NotSure);
                }
            }
        }
        let covariance = last.and_then(|s| s.covariance);
        // Two of its marks where they belong are as good as a drawing, and two that are not there
        // make one doubtful.
        for (s, found) in found.iter_mut().enumerate() {
            let marked = ties.iter().filter(|tie| tie.sheets.contains(&s)).count() > 1;
            match (&found, marked, marks.without(s) > 1) {
                (Found::InPlace, _, true) => *found = Found::NotSure,
                (Found::NotSure, true, false) => *found = Found::InPlace,
                _ => {}
            }
        }
        Ok(Checked { model, found, covariance, place: Place::Known, spread })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Sheet;
    use crate::grey::Grey;
    use bitmap::Bitmap;
    use measure::Resolution;

    /// Discs of ink, evenly strewn.
    fn drawing(width: u32, height: u32) -> Bitmap {
        let strewn = |i: u32, by: u32, most: u32| i.wrapping_mul(by).wrapping_mul(i + 7) % most;
        let discs: Vec<[u32; 3]> = (1..160)
            .map(|i| [strewn(i, 7919, width), strewn(i, 6271, height), 12 + strewn(i, 31, 40)])
            .collect();
        Bitmap::from_fn(width, height, |x, y| {
            discs.iter().any(|[u, v, r]| x.abs_diff(*u).pow(2) + y.abs_diff(*v).pow(2) < r * r)
        })
    }

    #[test]
    fn sheets_that_are_seen_show_where_the_others_are() {
        let (width, height) = (1417, 1134);
        let raster = drawing(width, height);
        let sheets: Vec<Sheet> = (0..4)
            .map(|k| {
                let left = f64::from(k) * 344.0;
                Sheet::upright(format!("A{k}"), left, 0.0, 384.0, f64::from(height))
            })
            .collect();
        let film = Film {
            raster: &raster,
            resolution: Resolution::ppi(120.0),
            sheets,
            seams: Vec::new(),
            marks: Vec::new(),
        };
        let layout = Layout::new(&film);
        let corners = [[150.0, 60.0], [1050.0, 60.0], [1050.0, 780.0], [150.0, 780.0]];
        let size = [1200.0, 840.0];
        let camera = |seen: &[[f64; 2]; 4]| {
            Camera::through(&layout.corners(), seen, size[0], size[1]).unwrap()
        };
        let (truth, mut off) = (camera(&corners), corners);
        // The right end is three centimetres from where it should be.
        off[1] = [1110.0, 120.0];
        off[2] = [1110.0, 840.0];
        let (wide, high) = (size[0] as usize, size[1] as usize);
        let px = (0..wide * high).map(|i| {
            let place = [(i % wide) as f64 + 0.5, (i / wide) as f64 + 0.5];
            let at = truth.unproject(place, [0.0; 2]).unwrap();
            let [x, y] = [0, 1].map(|k| (at[k] + layout.size[k] / 2.0) / layout.pixel);
            let inside = x >= 0.0 && y >= 0.0;
            if inside && raster.get(x as u32, y as u32) { 4000 } else { 50_000 }
        });
        let light = Levels::new(Grey { width: wide, height: high, px: px.collect() }, 40);
        let bench = Bench::new(&film, &layout, &light, &truth).unwrap();
        let pose = Pose { camera: camera(&off), taken: vec![true; 4], score: 0.5 };
        assert!(apart(&truth, &pose.camera, &layout) > 15.0);
        let (found, place) = bench.settle(vec![pose]).unwrap();
        assert_eq!(place, Place::Known);
        let far = apart(&truth, &found, &layout);
        assert!(far < 1.0, "{far} photo pixels off");
        // A sheet that is thought nine millimetres off is put back.
        let mut model = bench.model(truth);
        model.sheets[2].slip = [-9.0, 1.0];
        let samples = bench.samples(1, &[true; 4]);
        bench.put_back(&mut model, &samples, 1);
        assert_eq!(model.sheets[2].slip, [0.0; 2]);
        model.sheets[1].slip = [0.3, -0.2];
        bench.put_back(&mut model, &samples, 1);
        assert_eq!(model.sheets[1].slip, [0.3, -0.2], "a little off is no reason");
    }
}
