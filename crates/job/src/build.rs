//! A job made into films, stage by stage. Each stage is a function of the job and the stage
//! before it, so that the window can keep what has not changed; [`export`] runs them all.

use crate::blocks::Blocks;
use crate::pages::pages;
use crate::screens::{self, ScreenFilm, Union};
use crate::{InkMap, Job, JobError, Mendings, Tone, calibrate};
use crate::{mend, region, seams as seaming, tone};
use artwork::{Picture, Surface};
use bitmap::{Kept, Raster, Turned};
use film::{FilmJob, FilmSheet, PlanFile, Plans, PxRect, Seam, Together};
use measure::{Length, Point, Rect, Resolution, Size};
use progress::Progress;
use sheets::{Assembly, Plan, Region, Request, Seams};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use ticket::Paper;

/// How many changes of colour a film keeps, once they are worked out: 16 MB.
const MOST_KEPT: usize = 1 << 22;

/// A job's one-bit film.
#[derive(Clone)]
pub struct Film {
    /// The film itself, given out row by row.
    pub raster: Arc<dyn Raster + Send + Sync>,
    /// Its resolution.
    pub resolution: Resolution,
    /// What came of mending its fine lines, where the job asks for that.
    pub mended: Option<Mendings>,
    /// The films of which this is all the ink, where there are several screens.
    pub parts: Vec<Arc<dyn Raster + Send + Sync>>,
}

impl Film {
    /// A film that is already made.
    pub fn new(raster: Arc<dyn Raster + Send + Sync>, resolution: Resolution) -> Self {
        Self { raster, resolution, mended: None, parts: Vec::new() }
    }

    /// The film with what the job's printer spreads drawn in.
    fn for_printer(self, job: &Job) -> Self {
        Self { raster: calibrate::drawn_in(job, self.raster, self.resolution), ..self }
    }

    /// The film as the job's printer prints it, its ink spread.
    pub fn as_printed(&self, job: &Job) -> Self {
        let raster = calibrate::as_printed(job, self.raster.clone(), self.resolution);
        Self { raster, ..self.clone() }
    }

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
    /// The sheets as pages, in pixels from the print's top-left corner.
    pub pages: Vec<FilmSheet>,
}

/// What an export wrote.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exported {
    /// The films, one page a sheet; one file a screen.
    pub films: Vec<PathBuf>,
    /// The plan.
    pub plan_json: PathBuf,
    /// How to tape the sheets into one film; one for each film where they differ in their sheets.
    pub guides: Vec<PathBuf>,
    /// How many sheets in all films.
    pub sheets: usize,
    /// What came of mending fine lines, where the job asks for that.
    pub mended: Option<Mendings>,
    /// Whether several screens' films carry nothing to lay them over each other by: no place
    /// suited a register target on all of them, and the job asks for no pin or tape marks.
    pub unregistered: bool,
}

impl Exported {
    /// What is said where the films are `unregistered`.
    pub const UNREGISTERED: &str = "No place suits register targets on every screen's film: ask for pin or tape marks, or let all screens share one sheet plan.";
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
    let surface = artwork::surface(picture, &job.art, progress)?;
    let how = match surface.report.edges {
        artwork::Edges::Learned => "learned",
        artwork::Edges::Fitted => "fitted",
        artwork::Edges::Plain | artwork::Edges::Auto => "plain",
    };
    progress.note(&format!("edges: {how}; {}", surface.report.why));
    Ok(surface)
}

/// The film at the job's width, resolution and tone, as large as [`laid`] says. Where the job
/// mends fine lines, the bits are
/// held; otherwise rows are worked out as they are asked for.
///
/// # Errors
/// Where the film would be larger than this build makes, or its dots finer than its pixels;
/// when cancelled.
pub fn film(
    job: &Job,
    picture: &Picture,
    surface: &Surface,
    progress: &Progress,
) -> Result<Film, JobError> {
    let laid = laid(job, picture)?;
    let lines: Arc<dyn Raster + Send + Sync> = if laid.is_upright() {
        let (width, height) = laid.film();
        Arc::new(Kept::new(surface.raster(width, height), MOST_KEPT))
    } else {
        Arc::new(Kept::new(surface.turned(laid), MOST_KEPT))
    };
    let raster = match job.tone {
        Tone::Cut => lines,
        _ => tone::raster(job, picture, Some(lines), laid, progress)?,
    };
    let film = Film::new(raster, job.resolution);
    Ok(mend::mended(film, job, picture, progress)?.for_printer(job))
}

/// The film straight from the picture; edges are found only where the tone needs them. Of a
/// job with several screens it is all that any of them prints, and each screen's film follows.
fn films_of(
    job: &Job,
    picture: &Picture,
    progress: &Progress,
) -> Result<(Film, Vec<ScreenFilm>), JobError> {
    if job.inks.is_some() {
        let screens = screens::of_picture(job, picture, progress)?;
        let union = Film::new(Arc::new(Union::of(&screens)), job.resolution);
        let mended = screens::mended(&screens);
        let parts = screens.iter().map(|screen| screen.raster.clone()).collect();
        return Ok((Film { mended, parts, ..union }, screens));
    }
    let film = if job.tone.is_cut() || job.printing.mixed {
        film(job, picture, &surface(job, picture, progress)?, progress)?
    } else {
        let raster = tone::raster(job, picture, None, laid(job, picture)?, progress)?;
        Film::new(raster, job.resolution).for_printer(job)
    };
    Ok((film, Vec::new()))
}

/// The artwork's size in film pixels, how it is turned, and the film that just holds it. Upright
/// the film is `round(width x ppi)` pixels wide, and as high as the cropped picture's proportion
/// makes it.
///
/// # Errors
/// Where a number of the job cannot be used, or the film would be too large.
pub fn laid(job: &Job, picture: &Picture) -> Result<Turned, JobError> {
    job.check()?;
    let part = job.art.crop.unwrap_or_else(|| picture.whole());
    let laid = laid_px(job, (part.width, part.height));
    let (width, height) = laid.film();
    let most = crate::LIMITS.film_px;
    let range = format!("a width and resolution of at most {most} pixels");
    for (px, way) in [(height, "high"), (width, "wide")] {
        if i64::from(px) > most {
            let given = format!("{px} pixels {way}");
            return Err(JobError::BadNumber { what: "the film", given, range });
        }
    }
    Ok(laid)
}

/// As [`laid`], for artwork of so many picture pixels, without a check.
pub fn laid_px(job: &Job, (across, down): (u32, u32)) -> Turned {
    let width = job.resolution.whole_px(job.width).max(1);
    let height = (width as f64 * f64::from(down) / f64::from(across.max(1))).round().max(1.0);
    let px = |v: f64| v.min(f64::from(u32::MAX)) as u32;
    Turned::by(px(width as f64), px(height), job.turn)
}

/// The garment's outline as it lies on a film of this size, from the film's top-left corner.
pub fn outline(job: &Job, film: Size) -> Option<Vec<Point>> {
    region::outline(job, film)
}

/// The outlines of the garment and of all other sizes that the same screen prints, as they lie
/// on a film of this size, from the film's top-left corner.
pub fn outlines(job: &Job, film: Size) -> Vec<Vec<Point>> {
    let laid = region::sizes(job, film);
    laid.iter().map(|(g, at)| g.outline().into_iter().map(|p| p - *at).collect()).collect()
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
    let region = region::region(job, ink);
    if region.cells.count() == 0 && job.pinned.is_empty() {
        return Err(JobError::NothingToPrint { garment: job.garment.is_some() });
    }
    let stocks = calibrate::stocks(job);
    let request = Request {
        region: region.clone(),
        stocks: stocks.to_vec(),
        overlap: job.overlap,
        pieces: job.pieces,
        pinned: job.pinned.clone(),
        effort,
    };
    let plan = sheets::plan(&request, progress)?;
    let print_px = (ink.film_width_px, ink.film_height_px);
    let film = job.frame_marks.bounds(ink.resolution, print_px);
    let pages = pages(&plan, &stocks, ink.resolution, film)?;
    Ok(Layout { region, plan, pages })
}

/// Plans the sheets of one of several screens by itself; `ink` is where that screen prints.
/// Sheets placed by hand are those of the shared plan, so that none is kept here.
///
/// # Errors
/// As [`layout`].
pub fn own_layout(
    job: &Job,
    ink: &InkMap,
    effort: u64,
    progress: &Progress,
) -> Result<Layout, JobError> {
    layout(&by_itself(job), ink, effort, progress)
}

/// Finds where the sheets of one of several screens, planned by itself, are cut and joined.
///
/// # Errors
/// Only when cancelled.
pub fn own_seams(
    job: &Job,
    film: &Film,
    layout: &Layout,
    progress: &Progress,
) -> Result<Seams, JobError> {
    seams(&by_itself(job), film, layout, progress)
}

/// The job without what the hand did to the plan that its screens share.
fn by_itself(job: &Job) -> Job {
    Job { picture: None, pinned: Vec::new(), hand_seams: Vec::new(), ..job.clone() }
}

/// Finds where overlapping sheets are cut and joined.
///
/// # Errors
/// Only when cancelled.
pub fn seams(
    job: &Job,
    film: &Film,
    layout: &Layout,
    progress: &Progress,
) -> Result<Seams, JobError> {
    let found =
        seaming::find(film, &layout.pages, job.overlap, &job.seams, &job.hand_seams, progress)?;
    Ok(found)
}

/// The seams by their sheets' names, as `plan.json` lists them.
pub fn named_seams(seams: &Seams, layout: &Layout) -> Vec<Seam> {
    let named = |seam: &sheets::Seam| Seam {
        between: seaming::names(seam, &layout.pages),
        points: seam.points.clone(),
    };
    seams.seams().iter().map(named).collect()
}

/// Everything an export needs, computed.
pub(crate) struct Built {
    /// The film, or all that any screen prints.
    pub(crate) film: Film,
    /// Each screen's film; none where there is one film only.
    pub(crate) screens: Vec<ScreenFilm>,
    /// What is written for each screen, or for the one film: the print, and the frame marks
    /// about it.
    written: Vec<Arc<dyn Raster + Send + Sync>>,
    /// Whether each screen has a plan of its own.
    pub(crate) own_plans: bool,
    /// The sheets that all films share, or those of each screen.
    pub(crate) laid: Vec<Laid>,
}

/// A film's sheets, and where they are joined.
pub(crate) struct Laid {
    pub(crate) layout: Layout,
    pub(crate) seams: Seams,
}

impl Built {
    /// The sheets of the screen numbered `n` from 0, or of all.
    pub(crate) fn laid(&self, n: usize) -> &Laid {
        self.laid.get(n).unwrap_or(&self.laid[0])
    }
}

pub(crate) fn build(job: &Job, progress: &Progress) -> Result<Built, JobError> {
    job.check()?;
    let picture = picture(job)?;
    let (film, screens) = films_of(job, &picture, progress)?;
    drop(picture);
    lay(job, film, screens, progress)
}

/// Whether the picture is a region to cover rather than artwork: black and white only, its ink
/// to be covered exactly, wherever it lies.
fn is_region(job: &Job, picture: &Picture) -> bool {
    let exact = job.garment.is_none() && job.bleed == Length::ZERO && job.surround == Length::ZERO;
    let grey = |g: &u8| *g == 0 || *g == 255;
    exact
        && match &picture.pixels {
            artwork::Pixels::Grey(bytes) | artwork::Pixels::Rgb(bytes) => bytes.iter().all(grey),
        }
}

fn lay(
    job: &Job,
    film: Film,
    screens: Vec<ScreenFilm>,
    progress: &Progress,
) -> Result<Built, JobError> {
    let own_plans = own_plans(job) && !screens.is_empty();
    let laid = if own_plans {
        let each = screens.iter().map(|screen| {
            let film = Film::new(screen.raster.clone(), film.resolution);
            let ink = InkMap::of(&*film.raster, film.resolution, progress)?;
            let layout = own_layout(job, &ink, Request::THOROUGH, progress)?;
            Ok(Laid { seams: own_seams(job, &film, &layout, progress)?, layout })
        });
        each.collect::<Result<_, JobError>>()?
    } else {
        let ink = InkMap::of(&*film.raster, film.resolution, progress)?;
        let layout = layout(job, &ink, Request::THOROUGH, progress)?;
        vec![Laid { seams: seams(job, &film, &layout, progress)?, layout }]
    };
    let prints = screens.iter().map(|screen| &screen.raster);
    let prints: Vec<_> = if screens.is_empty() { vec![&film.raster] } else { prints.collect() };
    let written =
        prints.into_iter().map(|p| job.frame_marks.about(p.clone(), film.resolution)).collect();
    Ok(Built { film, screens, written, own_plans, laid })
}

/// Whether each screen of a job has a sheet plan of its own.
fn own_plans(job: &Job) -> bool {
    job.inks.as_ref().is_some_and(|inks| !inks.plans.are_shared())
}

/// The film of the screen numbered `n` from 0, or the only one. Its places count from the film's
/// corner, which lies outside the print's where there are frame marks.
fn film_job<'a>(job: &'a Job, built: &'a Built, n: usize) -> FilmJob<'a> {
    let (resolution, laid) = (built.film.resolution, built.laid(n));
    let print = (built.film.raster.width(), built.film.raster.height());
    let film = job.frame_marks.bounds(resolution, print);
    let mut sheets = laid.layout.pages.clone();
    sheets.iter_mut().for_each(|sheet| sheet.image = sheet.image.moved(-film.x, -film.y));
    let mut seams = named_seams(&laid.seams, &laid.layout);
    let corner = Point::new(resolution.length(film.x as f64), resolution.length(film.y as f64));
    seams.iter_mut().flat_map(|seam| &mut seam.points).for_each(|p| *p = *p - corner);
    let inside = PxRect::new(-film.x, -film.y, print.0.into(), print.1.into());
    FilmJob {
        raster: &*built.written[n.min(built.written.len() - 1)],
        resolution,
        title: &job.title,
        sheets,
        seams,
        print: (!job.frame_marks.is_none()).then_some(inside),
        overlap: job.overlap,
        lower_bound: laid.layout.plan.lower_bound,
        trim_lines: job.trim_lines,
        screen: None,
        printer: job.printer.clone(),
    }
}

/// A film for each screen, and the name of its file.
fn film_jobs<'a>(job: &'a Job, built: &'a Built) -> Vec<(String, FilmJob<'a>)> {
    if built.screens.is_empty() {
        return vec![("film.pdf".into(), film_job(job, built, 0))];
    }
    let named = |(n, screen): (usize, &'a ScreenFilm)| {
        let screen_job = FilmJob { screen: Some(screen.screen.clone()), ..film_job(job, built, n) };
        (screen_file("film", built, n), screen_job)
    };
    built.screens.iter().enumerate().map(named).collect()
}

/// What a file of one screen is called: its order and ink.
fn screen_file(what: &str, built: &Built, n: usize) -> String {
    let digits = built.screens.len().to_string().len();
    let film::Screen { order, name, .. } = &built.screens[n].screen;
    format!("{what}-{order:0digits$}-{}.pdf", crate::plates::file_name(name))
}

/// Writes `film.pdf` (or, of a job with several screens, `film-1-yellow.pdf` and so on, by order
/// and ink), `guide.pdf` (or, where screens do not share their sheets, `guide-1-yellow.pdf` and
/// so on) and `plan.json` into a folder, which is made where it does not exist.
/// All are whole on the disk before the first takes its name, so that a stop leaves the old
/// export or the new one.
///
/// # Errors
/// Any stage's; then the folder is as it was.
pub fn export(job: &Job, dir: &Path, progress: &Progress) -> Result<Exported, JobError> {
    // The folder first: the wait for the films would be for nothing.
    let all = ["film.pdf", "guide.pdf", "plan.json"];
    // How many screens there are, and what their inks are called, is not known yet.
    let known = match (&job.inks, own_plans(job)) {
        (None, _) => &all[..],
        (Some(_), false) => &all[1..],
        (Some(_), true) => &all[2..],
    };
    let mut files = Together::begin(dir, known)?;
    let built = build(job, progress)?;
    let (names, jobs): (Vec<String>, Vec<FilmJob>) = film_jobs(job, &built).into_iter().unzip();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let guides = guide_names(&built);
    let more = guides.iter().map(|name| &name[..]).chain(names.iter().rev().copied());
    for name in more.filter(|name| !known.contains(name)) {
        files.add(name)?;
    }
    let (exported, written) = rayon::join(
        || film::export(&mut files, &names, &jobs, progress),
        || guide_pdfs(job, &built, Paper::usual(job.unit).size()),
    );
    let plans = exported?;
    for (name, guide) in guides.iter().zip(written?) {
        files.fill(name, |out| Ok(out.write_all(&guide)?))?;
    }
    progress.check()?;
    files.appear()?;
    Ok(Exported {
        films: names.iter().map(|name| dir.join(name)).collect(),
        guides: guides.iter().map(|name| dir.join(name)).collect(),
        plan_json: dir.join("plan.json"),
        sheets: jobs.iter().map(|job| job.sheets.len()).sum(),
        mended: built.film.mended,
        unregistered: names.len() > 1
            && job.frame_marks.is_none()
            && plans.all().iter().all(|plan| plan.targets.is_empty()),
    })
}

/// Writes `guide.pdf`, by which the printed sheets are taped into one film, or the guide of each
/// screen's film, into a folder, which is made where it does not exist.
///
/// # Errors
/// Any stage's; then the folder is as it was.
pub fn guide(
    job: &Job,
    paper: Size,
    dir: &Path,
    progress: &Progress,
) -> Result<Vec<PathBuf>, JobError> {
    let known: &[&str] = if own_plans(job) { &[] } else { &["guide.pdf"] };
    let mut files = Together::begin(dir, known)?;
    let built = build(job, progress)?;
    let names = guide_names(&built);
    for (name, guide) in names.iter().zip(guide_pdfs(job, &built, paper)?) {
        if !known.contains(&&name[..]) {
            files.add(name)?;
        }
        files.fill(name, |out| Ok(out.write_all(&guide)?))?;
    }
    files.appear()?;
    Ok(names.iter().map(|name| dir.join(name)).collect())
}

/// The name of each guide: one, or one for each screen's own sheets.
fn guide_names(built: &Built) -> Vec<String> {
    if !built.own_plans {
        return vec!["guide.pdf".into()];
    }
    (0..built.laid.len()).map(|n| screen_file("guide", built, n)).collect()
}

fn guide_pdfs(job: &Job, built: &Built, paper: Size) -> Result<Vec<Vec<u8>>, JobError> {
    let one = |(n, laid): (usize, &Laid)| {
        let rects: Vec<Rect> =
            laid.layout.pages.iter().map(|p| seaming::rect(p, built.film.resolution)).collect();
        let seams = laid.seams.seams();
        let film = film_job(job, built, n);
        let cuts: Vec<Vec<Point>> = film.seams.iter().map(|seam| seam.points.clone()).collect();
        let assembly = Assembly::of(&rects, seams);
        let mut out = Vec::new();
        let whose = built.screens.get(n).filter(|_| built.own_plans).map(|s| &s.screen);
        let title = whose.map_or_else(
            || job.title.clone(),
            |screen| format!("{}: {} {}", job.title, screen.order, screen.name),
        );
        let film = FilmJob { title: &title, ..film };
        film::write_guide(&film, &cuts, &assembly, paper, &mut out)?;
        Ok(out)
    };
    built.laid.iter().enumerate().map(one).collect()
}

/// The text of `plan.json`, less the marks and identities that only written pages have.
///
/// # Errors
/// Any stage's.
pub fn plan_json(job: &Job, progress: &Progress) -> Result<String, JobError> {
    job.check()?;
    let picture = picture(job)?;
    let built = if is_region(job, &picture) {
        // Its pixels are the region: no edge is smoothed.
        let crop = job.art.crop.unwrap_or_else(|| picture.whole());
        let laid = laid(job, &picture)?;
        let raster = Arc::new(Blocks::new(&picture, crop, job.art.invert, laid));
        lay(job, Film::new(raster, job.resolution), Vec::new(), progress)?
    } else {
        build(job, progress)?
    };
    let mut text = Vec::new();
    let plan = |n| PlanFile::new(&film_job(job, &built, n), Vec::new(), Vec::new(), Vec::new());
    Plans::new((0..built.laid.len()).map(plan).collect()).write(&mut text)?;
    Ok(String::from_utf8_lossy(&text).into_owned())
}

/// Writes the whole film as one one-bit picture, PNG or TIFF by the file's name, and says what
/// came of mending fine lines, where the job asks for that.
///
/// # Errors
/// Any stage's.
pub fn onebit(job: &Job, output: &Path, progress: &Progress) -> Result<Option<Mendings>, JobError> {
    let kind = OneBit::by_name(output)?;
    job.check()?;
    let picture = picture(job)?;
    let (film, _) = films_of(job, &picture, progress)?;
    drop(picture);
    let (raster, resolution) = (&*film.raster, film.resolution);
    film::write_beside(output, |out| match kind {
        OneBit::Png => film::write_png(raster, resolution, out, progress),
        OneBit::Tiff => film::write_tif(raster, resolution, out, progress),
    })?;
    Ok(film.mended)
}

/// How a one-bit picture is written.
#[derive(Clone, Copy)]
enum OneBit {
    Png,
    Tiff,
}

impl OneBit {
    fn by_name(path: &Path) -> Result<Self, JobError> {
        let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
        match ending.as_deref() {
            Some("png") => Ok(Self::Png),
            Some("tif" | "tiff") => Ok(Self::Tiff),
            _ => Err(JobError::NotAOneBitName { path: path.into() }),
        }
    }
}
