//! The job's stages in the background, each kept until what it depends on changes:
//! picture, edges, a draft for the eye, the film itself, and the plan of its sheets.

use crate::lane::{Lane, Overtaken};
use crate::levels::Levels;
use artwork::{Picture, Surface};
use eframe::egui::{ColorImage, Context};
use job::build::{self, Layout};
use job::{InkMap, Job, JobError, PictureFile};
use measure::Resolution;
use sheets::Request;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Pixels in the draft that follows the cut level while it is dragged.
const DRAFT_PX: f64 = 2.5e6;
/// How long the job must rest before the whole film is made again.
const REST: Duration = Duration::from_millis(180);

/// A film to look at and to plan on.
#[derive(Clone)]
pub(crate) struct FilmView {
    pub(crate) levels: Arc<Levels>,
    /// Where it has ink; a draft has none.
    pub(crate) ink: Option<Arc<InkMap>>,
    /// Grows by one with each film, so that tiles know which one they show.
    pub(crate) number: u64,
}

#[derive(Clone, PartialEq)]
struct SurfaceKey {
    picture: PictureFile,
    art: artwork::Settings,
}

#[derive(Clone, PartialEq)]
struct FilmKey {
    surface: SurfaceKey,
    width: measure::Length,
    resolution: Resolution,
}

#[derive(Clone, PartialEq)]
struct LayoutKey {
    film: u64,
    job: Job,
    effort: u64,
}

/// All background stages.
pub(crate) struct Stages {
    picture: Lane<PictureFile, Arc<Picture>>,
    image: Lane<PictureFile, Arc<ColorImage>>,
    surface: Lane<SurfaceKey, Surface>,
    draft: Lane<SurfaceKey, FilmView>,
    film: Lane<FilmKey, FilmView>,
    layout: Lane<LayoutKey, Arc<Layout>>,
    films_made: u64,
    /// The film key wanted last, and since when.
    wanted: Option<(FilmKey, Instant)>,
    wanted_layout: Option<LayoutKey>,
}

impl Stages {
    pub(crate) fn new() -> Self {
        Self {
            picture: Lane::new("picture", Overtaken::Stop),
            image: Lane::new("image", Overtaken::Stop),
            surface: Lane::new("edges", Overtaken::Stop),
            draft: Lane::new("draft", Overtaken::Stop),
            film: Lane::new("film", Overtaken::Stop),
            layout: Lane::new("sheets", Overtaken::Finish),
            films_made: 0,
            wanted: None,
            wanted_layout: None,
        }
    }

    /// Takes in what came, and starts what the job needs now. `dragging` asks for quick plans.
    pub(crate) fn follow(&mut self, job: &Job, dragging: bool, ctx: &Context) {
        self.picture.poll();
        self.image.poll();
        self.surface.poll();
        self.draft.poll();
        self.film.poll();
        self.layout.poll();
        let Some(file) = &job.picture else {
            self.forget();
            return;
        };
        self.picture.want(file, ctx, || {
            let job = job.clone();
            move |_| Ok(Arc::new(build::picture(&job)?))
        });
        if !self.picture.is_fresh(file) {
            return;
        }
        let Some(picture) = self.picture.good().cloned() else { return };
        self.image.want(file, ctx, || {
            let picture = picture.clone();
            move |_| Ok(Arc::new(crate::source::image(&picture)))
        });
        let surface_key = SurfaceKey { picture: file.clone(), art: job.art };
        self.surface.want(&surface_key, ctx, || {
            let (job, picture) = (job.clone(), picture.clone());
            move |p| build::surface(&job, &picture, p)
        });
        if !self.surface.is_fresh(&surface_key) {
            return;
        }
        let Some(surface) = self.surface.good().cloned() else { return };
        self.want_draft(&surface_key, job, &picture, &surface, ctx);
        self.want_film(surface_key, job, picture, surface, ctx);
        self.want_layout(job, dragging, ctx);
    }

    fn want_draft(&mut self, key: &SurfaceKey, job: &Job, picture: &Arc<Picture>, surface: &Surface, ctx: &Context) {
        if self.film.answered().is_some_and(|k| k.surface == *key) {
            return;
        }
        let number = self.films_made + 1;
        let mut started = false;
        self.draft.want(key, ctx, || {
            started = true;
            let (mut job, picture, surface) = (job.clone(), picture.clone(), surface.clone());
            job.resolution = draft_resolution(&job, &picture);
            move |p| {
                let film = build::film(&job, &picture, &surface)?;
                let bits = bitmap::collect(&*film.raster);
                p.check()?;
                Ok(FilmView { levels: Arc::new(Levels::new(bits)), ink: None, number })
            }
        });
        self.films_made += u64::from(started);
    }

    fn want_film(&mut self, surface_key: SurfaceKey, job: &Job, picture: Arc<Picture>, surface: Surface, ctx: &Context) {
        let key = FilmKey { surface: surface_key, width: job.width, resolution: job.resolution };
        let since = match &self.wanted {
            Some((k, since)) if *k == key => *since,
            _ => {
                self.wanted = Some((key.clone(), Instant::now()));
                Instant::now()
            }
        };
        // The first film starts at once; later ones when the printer's hand rests.
        if self.film.good().is_some() && since.elapsed() < REST {
            ctx.request_repaint_after(REST);
            if !self.film.is_fresh(&key) {
                self.film.stop();
            }
            return;
        }
        let number = self.films_made + 1;
        let mut started = false;
        self.film.want(&key, ctx, || {
            started = true;
            let job = job.clone();
            move |p| {
                let film = build::film(&job, &picture, &surface)?;
                p.step("Making the film", 0, 0)?;
                let bits = bitmap::collect(&*film.raster);
                p.check()?;
                let ink = InkMap::of(&bits, film.resolution, p)?;
                let levels = Arc::new(Levels::new(bits));
                Ok(FilmView { levels, ink: Some(Arc::new(ink)), number })
            }
        });
        self.films_made += u64::from(started);
    }

    fn want_layout(&mut self, job: &Job, dragging: bool, ctx: &Context) {
        let Some(film) = self.film.good().filter(|_| self.film_is_fresh()) else { return };
        let Some(ink) = film.ink.clone() else { return };
        // Only what the plan depends on makes it stale.
        let plain = Job {
            title: String::new(),
            picture: None,
            art: artwork::Settings::default(),
            unit: measure::Unit::Mm,
            ..job.clone()
        };
        let effort = if dragging { Request::QUICK } else { Request::THOROUGH };
        let full = LayoutKey { film: film.number, job: plain, effort: Request::THOROUGH };
        self.wanted_layout = Some(full.clone());
        if self.layout.is_fresh(&full) {
            return;
        }
        // Only work for a drag is let finish; a full search for an older job is not.
        if self.layout.under_way().is_some_and(|(_, t)| t > Duration::from_millis(400)) && dragging {
            self.layout.stop();
        }
        let key = LayoutKey { effort, ..full };
        self.layout.want(&key, ctx, || {
            let job = key.job.clone();
            move |p| Ok(Arc::new(build::layout(&job, &ink, effort, p)?))
        });
    }

    fn forget(&mut self) {
        self.picture.clear();
        self.image.clear();
        self.surface.clear();
        self.draft.clear();
        self.film.clear();
        self.layout.clear();
        self.wanted = None;
        self.wanted_layout = None;
    }

    pub(crate) fn picture(&self) -> Option<&Arc<Picture>> {
        self.picture.good()
    }
    /// The picture as it is shown.
    pub(crate) fn image(&self) -> Option<&Arc<ColorImage>> {
        self.image.good()
    }
    pub(crate) fn surface(&self) -> Option<&Surface> {
        self.surface.good()
    }
    /// The film to show: the whole one, or the draft where that is newer.
    pub(crate) fn shown(&self) -> Option<&FilmView> {
        match (self.film.good(), self.draft.good()) {
            (Some(film), Some(draft)) if draft.number > film.number => Some(draft),
            (Some(film), _) => Some(film),
            (None, draft) => draft,
        }
    }
    pub(crate) fn layout(&self) -> Option<&Arc<Layout>> {
        self.layout.good()
    }
    pub(crate) fn picture_error(&self) -> Option<&JobError> {
        self.picture.error()
    }
    pub(crate) fn surface_error(&self) -> Option<&JobError> {
        self.surface.error()
    }
    pub(crate) fn film_error(&self) -> Option<&JobError> {
        self.film.error()
    }
    pub(crate) fn layout_error(&self) -> Option<&JobError> {
        self.layout.error()
    }
    /// Whether the whole film at hand is the job's.
    pub(crate) fn film_is_fresh(&self) -> bool {
        self.wanted.as_ref().is_some_and(|(k, _)| self.film.is_fresh(k))
    }
    /// Whether the plan at hand is the job's, searched in full.
    pub(crate) fn layout_is_fresh(&self) -> bool {
        self.film_is_fresh() && self.wanted_layout.as_ref().is_some_and(|k| self.layout.is_fresh(k))
    }
    /// Whether every stage has its answer to the newest question, or an error stands in the way.
    pub(crate) fn is_settled(&self) -> bool {
        self.picture.error().is_some()
            || self.surface.error().is_some()
            || self.film.error().is_some()
            || self.layout_is_fresh()
    }
    /// What is being worked out now, in a few words, with its share done where known.
    pub(crate) fn under_way(&self) -> Option<(&'static str, Option<f32>)> {
        let lanes = [
            ("Opening the picture", self.picture.under_way()),
            ("Finding edges", self.surface.under_way()),
            ("Making the film", self.film.under_way()),
            ("Planning the sheets", self.layout.under_way()),
        ];
        lanes.into_iter().find_map(|(what, w)| {
            let (report, _) = w?;
            let share = report.filter(|r| r.total > 0).map(|r| r.done as f32 / r.total as f32);
            Some((what, share))
        })
    }
}

/// A resolution at which the film has about as many pixels as a screen can show.
fn draft_resolution(job: &Job, picture: &Picture) -> Resolution {
    let (w, h) = job.art.crop.map_or((picture.width, picture.height), |c| (c.width, c.height));
    let across = (DRAFT_PX * f64::from(w) / f64::from(h.max(1))).sqrt();
    let low = job.resolution.to_ppi().min(across / job.width.to_inches());
    Resolution::ppi(low.max(job::LIMITS.ppi.0))
}
