//! A job made into films, stage by stage. Each stage is a function of the job and the stage
//! before it, so that the window can keep what has not changed; [`export`] runs them all.

use crate::region::{outline_for, region};
use crate::{InkMap, Job, JobError};
use artwork::{Picture, Surface};
use bitmap::Raster;
use film::{FilmJob, FilmSheet};
use measure::{Point, Resolution, Size};
use progress::Progress;
use sheets::{Plan, Region, Request};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Search effort for a plan that is kept.
pub const FULL_EFFORT: u64 = 20_000_000;
/// Search effort for a plan that follows a drag.
pub const QUICK_EFFORT: u64 = 100_000;

/// A job's one-bit film.
#[derive(Clone)]
pub struct Film {
    /// The film itself, given out row by row.
    pub raster: Arc<dyn Raster + Send + Sync>,
    /// Its resolution.
    pub resolution: Resolution,
}

impl Film {
    /// The film's size.
    pub fn size(&self) -> Size {
        Size::new(
            self.resolution.length(f64::from(self.raster.width())),
            self.resolution.length(f64::from(self.raster.height())),
        )
    }
}

/// Where the sheets of a film lie.
#[derive(Clone, Debug)]
pub struct Layout {
    /// Where film is needed.
    pub region: Region,
    /// The planned sheets.
    pub plan: Plan,
    /// The sheets as pages, in film pixels.
    pub pages: Vec<FilmSheet>,
}

/// What an export wrote.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exported {
    /// The films, one page a sheet.
    pub film_pdf: PathBuf,
    /// The plan.
    pub plan_json: PathBuf,
    /// How many sheets.
    pub sheets: usize,
}

/// The job's picture, decoded.
///
/// # Errors
/// Where there is none, or it cannot be read.
pub fn picture(job: &Job) -> Result<Picture, JobError> {
    let file = job.picture.as_ref().ok_or(JobError::NoPicture)?;
    Ok(artwork::load(&file.bytes)?)
}

/// The picture's edges.
///
/// # Errors
/// As [`artwork::surface`].
pub fn surface(job: &Job, picture: &Picture, progress: &Progress) -> Result<Surface, JobError> {
    Ok(artwork::surface(picture, &job.art, progress)?)
}

/// The film at the job's width and resolution: `round(width x ppi)` pixels wide, and as high
/// as the cropped picture's proportion makes it.
///
/// # Errors
/// Where the film would be larger than this build makes.
pub fn film(job: &Job, picture: &Picture, surface: &Surface) -> Result<Film, JobError> {
    job.check()?;
    let (across, down) = match job.art.crop {
        Some(crop) => (crop.width, crop.height),
        None => (picture.width, picture.height),
    };
    let width = job.resolution.whole_px(job.width).max(1);
    let height = (width as f64 * f64::from(down) / f64::from(across.max(1))).round().max(1.0);
    if height > crate::LIMITS.film_px as f64 {
        return Err(JobError::BadNumber {
            what: "the film",
            given: format!("{height} pixels high"),
            range: format!("a width and resolution of at most {} pixels", crate::LIMITS.film_px),
        });
    }
    let raster = surface.raster(width as u32, height as u32);
    Ok(Film { raster: Arc::new(raster), resolution: job.resolution })
}

/// The garment's outline as it lies on a film of this size, from the film's top-left corner.
pub fn outline(job: &Job, film: Size) -> Option<Vec<Point>> {
    outline_for(job, film)
}

/// Plans the sheets.
///
/// # Errors
/// Where nothing would be printed, or no plan exists.
pub fn layout(
    job: &Job,
    ink: &InkMap,
    effort: u64,
    progress: &Progress,
) -> Result<Layout, JobError> {
    layout_of(job, region(job, ink), ink, effort, progress)
}

fn layout_of(
    job: &Job,
    region: Region,
    ink: &InkMap,
    effort: u64,
    progress: &Progress,
) -> Result<Layout, JobError> {
    if region.cells.count() == 0 && job.pinned.is_empty() {
        return Err(JobError::NothingToPrint);
    }
    let request = Request {
        region: region.clone(),
        stocks: job.stocks.clone(),
        overlap: job.overlap,
        pieces: job.pieces,
        pinned: job.pinned.clone(),
        effort,
    };
    let plan = sheets::plan(&request, progress)?;
    let film_px = (ink.film_width_px, ink.film_height_px);
    let pages = film::lay_out(&plan, &job.stocks, ink.resolution, film_px)?;
    Ok(Layout { region, plan, pages })
}

/// Everything an export needs, computed.
struct Built {
    film: Film,
    layout: Layout,
}

fn build(job: &Job, progress: &Progress) -> Result<Built, JobError> {
    job.check()?;
    let picture = picture(job)?;
    let surface = surface(job, &picture, progress)?;
    let film = film(job, &picture, &surface)?;
    drop(picture);
    let ink = InkMap::of(&*film.raster, film.resolution, progress)?;
    let layout = layout(job, &ink, FULL_EFFORT, progress)?;
    Ok(Built { film, layout })
}

fn film_job<'a>(job: &'a Job, built: &'a Built) -> FilmJob<'a> {
    FilmJob {
        raster: &*built.film.raster,
        resolution: built.film.resolution,
        title: &job.title,
        sheets: &built.layout.pages,
        plan: &built.layout.plan,
        overlap: job.overlap,
    }
}

/// Writes `film.pdf` and `plan.json` into a folder, which is made where it does not exist.
/// Both are written beside and renamed, so that a stop leaves the old pair or the new one.
///
/// # Errors
/// Any stage's; nothing is left half-written.
pub fn export(job: &Job, dir: &Path, progress: &Progress) -> Result<Exported, JobError> {
    let built = build(job, progress)?;
    let (film_pdf, plan_json) = (dir.join("film.pdf"), dir.join("plan.json"));
    film::export(&film_job(job, &built), dir, progress)?;
    Ok(Exported { film_pdf, plan_json, sheets: built.layout.pages.len() })
}

/// The text of `plan.json`.
///
/// # Errors
/// Any stage's.
pub fn plan_json(job: &Job, progress: &Progress) -> Result<String, JobError> {
    let built = build(job, progress)?;
    Ok(film::plan_json(&film_job(job, &built), progress)?)
}

/// Writes the whole film as one one-bit picture, PNG or TIFF by the file's name.
///
/// # Errors
/// Any stage's.
pub fn onebit(job: &Job, output: &Path, progress: &Progress) -> Result<(), JobError> {
    job.check()?;
    let picture = picture(job)?;
    let surface = surface(job, &picture, progress)?;
    let film = film(job, &picture, &surface)?;
    drop(picture);
    Ok(film::write_onebit(&*film.raster, film.resolution, output, progress)?)
}
