//! The job's stages in the background, each kept until what it depends on changes:
//! picture, edges, a draft for the eye, the film itself, and the plan of its sheets.

use crate::films::{self, FilmView};
use crate::lane::{Lane, Overtaken};
use crate::recut::{self, Looked, Recut};
use crate::slips::{self, Colors, Slipped};
use artwork::{Picture, Surface};
use eframe::egui::{Color32, ColorImage, Context};
use inks::{Inks, Plates, Rgb};
use job::build::{self, Layout};
use job::{
    HandSeam, InkChange, Job, JobError, Mend, PictureFile, Printing, ScreenFacts, ScreenPlans,
    Separation,
};
use measure::{Angle, Length, Resolution};
use progress::Progress;
use sheets::{Request, SeamSettings, Seams, Slip};
use shop::{Shop, ShopSettings};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Pixels in the draft that follows the cut level while it is dragged.
const DRAFT_PX: f64 = 2.5e6;
/// How long the job must rest before the whole film is made again.
const REST: Duration = Duration::from_millis(180);

#[derive(Clone, PartialEq)]
struct SurfaceKey {
    picture: PictureFile,
    art: artwork::Settings,
}

#[derive(Clone, PartialEq)]
struct FilmKey {
    surface: SurfaceKey,
    tone: job::Tone,
    printing: Printing,
    inks: Option<Separation>,
    mend: Option<Mend>,
    width: measure::Length,
    turn: Angle,
    resolution: Resolution,
    spread: Option<Length>,
}

/// What the inks found depend on.
#[derive(Clone, PartialEq)]
struct FoundKey {
    picture: PictureFile,
    crop: Option<artwork::Crop>,
    source: artwork::Source,
    inks: Inks,
    garment: Option<Rgb>,
}

#[derive(Clone, PartialEq)]
struct PlatesKey {
    found: FoundKey,
    changes: Vec<InkChange>,
}

#[derive(Clone, PartialEq)]
struct RecutKey {
    surface: SurfaceKey,
    level: f64,
    looked: Looked,
}

#[derive(Clone, PartialEq)]
struct LayoutKey {
    film: u64,
    /// Which screen's own sheets; none where there is one film or all share their sheets.
    screen: Option<usize>,
    job: Job,
    effort: u64,
}

#[derive(Clone, PartialEq)]
struct SeamsKey {
    layout: LayoutKey,
    seams: SeamSettings,
    hand_seams: Vec<HandSeam>,
}

#[derive(Clone, PartialEq)]
struct SlipsKey {
    seams: SeamsKey,
    slips: Vec<Slip>,
    size: Length,
}

#[derive(Clone, PartialEq)]
struct SlippedKey {
    slips: SlipsKey,
    looked: Looked,
}

/// What the film and the garments say to the shop depends on this.
#[derive(Clone, PartialEq)]
struct FactsKey {
    layout: LayoutKey,
    finest: Length,
}

#[derive(Clone, PartialEq)]
struct ShopKey {
    facts: FactsKey,
    title: String,
    unit: measure::Unit,
    shop: Shop,
}

/// All background stages.
pub(crate) struct Stages {
    picture: Lane<PictureFile, Arc<Picture>>,
    /// How large the picture will be, known before it is decoded.
    size: Option<(PictureFile, Option<(u32, u32)>)>,
    /// A first look at a large picture; none where there is none.
    preview: Lane<PictureFile, Option<Arc<ColorImage>>>,
    image: Lane<PictureFile, Arc<ColorImage>>,
    surface: Lane<SurfaceKey, Surface>,
    recut: Lane<RecutKey, Recut>,
    draft: Lane<SurfaceKey, FilmView>,
    found: Lane<FoundKey, Arc<Plates>>,
    plates: Lane<PlatesKey, Arc<Plates>>,
    film: Lane<FilmKey, FilmView>,
    layout: Lane<LayoutKey, Arc<Layout>>,
    seams: Lane<SeamsKey, Arc<Seams>>,
    slipped: Lane<SlippedKey, Arc<Slipped>>,
    worst: Lane<SlipsKey, Vec<Slip>>,
    facts: Lane<FactsKey, Arc<Vec<ScreenFacts>>>,
    shop: Lane<ShopKey, Arc<ScreenPlans>>,
    films_made: u64,
    /// The film key wanted last, and since when.
    wanted: Option<(FilmKey, Instant)>,
    wanted_plates: Option<PlatesKey>,
    wanted_layout: Option<LayoutKey>,
    /// The screen whose own sheets are planned.
    planned: Option<usize>,
    wanted_shop: Option<ShopKey>,
}

impl Stages {
    pub(crate) fn new() -> Self {
        Self {
            picture: Lane::new("picture", Overtaken::Stop),
            size: None,
            preview: Lane::new("first look", Overtaken::Stop),
            image: Lane::new("image", Overtaken::Stop),
            surface: Lane::new("edges", Overtaken::FinishWithin(Duration::from_millis(800))),
            recut: Lane::new("recut", Overtaken::Finish),
            draft: Lane::new("draft", Overtaken::Stop),
            found: Lane::new("inks", Overtaken::Stop),
            plates: Lane::new("plates", Overtaken::Stop),
            film: Lane::new("film", Overtaken::Stop),
            layout: Lane::new("sheets", Overtaken::Finish),
            seams: Lane::new("seams", Overtaken::Finish),
            slipped: Lane::new("slips", Overtaken::Finish),
            worst: Lane::new("worst slip", Overtaken::Stop),
            facts: Lane::new("ink", Overtaken::Stop),
            shop: Lane::new("shop", Overtaken::Finish),
            films_made: 0,
            wanted: None,
            wanted_plates: None,
            wanted_layout: None,
            planned: None,
            wanted_shop: None,
        }
    }

    /// Takes in what came, and starts what the job needs now. `dragging` asks for quick plans;
    /// `looked` is what of the film is on the screen, `shown` the screen chosen of several.
    pub(crate) fn follow(
        &mut self,
        job: &Job,
        dragging: bool,
        looked: Option<Looked>,
        shown: Option<usize>,
        ctx: &Context,
    ) {
        let own = job.inks.as_ref().is_some_and(|inks| !inks.plans.are_shared());
        // With the whole print shown, the first screen's sheets are.
        self.planned = own.then(|| shown.unwrap_or(0));
        self.picture.poll();
        self.preview.poll();
        self.image.poll();
        self.surface.poll();
        self.recut.poll();
        self.draft.poll();
        self.found.poll();
        self.plates.poll();
        self.film.poll();
        self.layout.poll();
        self.seams.poll();
        self.slipped.poll();
        self.worst.poll();
        self.facts.poll();
        self.shop.poll();
        let Some(file) = &job.picture else {
            self.forget();
            return;
        };
        if self.picture.answered().is_some_and(|k| k != file) && self.picture.under_way().is_none()
        {
            // Nothing of another picture is shown under this one's name.
            self.forget();
        }
        if self.size.as_ref().is_none_or(|(known, _)| known != file) {
            self.size = Some((file.clone(), artwork::size_of(&file.bytes)));
        }
        if self.picture.answered().is_none() && self.picture_px().is_some_and(is_large) {
            self.preview.want(file, ctx, || {
                let bytes = file.bytes.clone();
                move |_| Ok(crate::source::preview(&bytes))
            });
        }
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
        let moved = self.want_recut(&surface_key, job, looked, ctx);
        // While the level is pulled, what is seen is only cut anew; the edges wait for a rest.
        if !(moved && dragging) {
            self.surface.want(&surface_key, ctx, || {
                let (job, picture) = (job.clone(), picture.clone());
                move |p| build::surface(&job, &picture, p)
            });
        }
        let Some(surface) = self.surface.good().cloned() else { return };
        // While the cut level is dragged, edges for a level just passed are shown too.
        if let Some(answered) = self.surface.answered().filter(|k| k.picture == *file).cloned() {
            let passed = Job { art: answered.art, ..job.clone() };
            self.want_draft(&answered, &passed, &picture, &surface, ctx);
        }
        if !self.surface.is_fresh(&surface_key) {
            return;
        }
        let plates = match self.want_plates(job, &picture, ctx) {
            Some(None) => return,
            Some(plates) => plates,
            None => None,
        };
        self.want_film(surface_key, job, picture, surface, plates, ctx);
        self.want_layout(job, dragging, ctx);
        self.want_seams(job, ctx);
    }

    /// Cuts what is seen at the job's level, where the edges at hand are this picture's but for
    /// the level. Whether they are.
    fn want_recut(
        &mut self,
        key: &SurfaceKey,
        job: &Job,
        looked: Option<Looked>,
        ctx: &Context,
    ) -> bool {
        let (Some(found), Some(surface)) = (self.surface.answered(), self.surface.good()) else {
            return false;
        };
        let artwork::Cut::At(level) = job.art.cut else { return false };
        let at_this_level = artwork::Settings { cut: job.art.cut, ..found.art };
        if found == key
            || found.picture != key.picture
            || at_this_level != job.art
            || found.art.cut == artwork::Cut::Local
            || !job.tone.is_cut()
            || job.inks.is_some()
        {
            return false;
        }
        if let Some(looked) = looked {
            let key = RecutKey { surface: found.clone(), level, looked };
            let (surface, wanted) = (surface.clone(), key.clone());
            let part = job.art.crop.map(|c| (c.width, c.height)).or(self.picture_px());
            let laid = build::laid_px(job, part.unwrap_or((1, 1)));
            self.recut.want(&key, ctx, || {
                move |_: &Progress| Ok(recut::recut(&surface, wanted.level, &wanted.looked, laid))
            });
        }
        true
    }

    /// What is seen, cut at a level newer than any film is.
    pub(crate) fn recut(&self, job: &Job) -> Option<&Recut> {
        let level = |art: &artwork::Settings| artwork::Settings { cut: job.art.cut, ..*art };
        let newest = self.recut.answered()?;
        if level(&newest.surface.art) != job.art
            || Some(&newest.surface.picture) != job.picture.as_ref()
        {
            return None;
        }
        let film = self.film.answered().is_some_and(|k| k.surface.art == job.art);
        let draft = self.draft.answered().is_some_and(|k| k.art == job.art);
        let plain = job.tone.is_cut() && job.inks.is_none();
        self.recut.good().filter(|_| !film && !draft && plain)
    }

    fn want_draft(
        &mut self,
        key: &SurfaceKey,
        job: &Job,
        picture: &Arc<Picture>,
        surface: &Surface,
        ctx: &Context,
    ) {
        // A draft in grey says nothing of inks.
        if job.inks.is_some() || self.film.answered().is_some_and(|k| k.surface == *key) {
            return;
        }
        let number = self.films_made + 1;
        let mut started = false;
        self.draft.want(key, ctx, || {
            started = true;
            let (mut job, picture, surface) = (job.clone(), picture.clone(), surface.clone());
            job.resolution = draft_resolution(&job, &picture);
            // A draft's pixels are too coarse for dots, and to tell what is fine.
            job.tone = job::Tone::Cut;
            job.mend = None;
            move |p| {
                let film = build::film(&job, &picture, &surface, p)?;
                let bits = bitmap::collect(&*film.raster);
                p.check()?;
                let lay = (build::laid(&job, &picture)?, job.turn);
                Ok(FilmView::plain(bits, None, number, lay))
            }
        });
        self.films_made += u64::from(started);
    }

    /// The inks of a job with several screens, once they are found: none where the job has one
    /// film, an inner none while they are looked for.
    fn want_plates(
        &mut self,
        job: &Job,
        picture: &Arc<Picture>,
        ctx: &Context,
    ) -> Option<Option<Arc<Plates>>> {
        let Some(wanted) = &job.inks else {
            self.wanted_plates = None;
            return None;
        };
        let found = FoundKey {
            picture: job.picture.clone()?,
            crop: job.art.crop,
            source: job.art.source,
            inks: wanted.inks.clone(),
            garment: wanted.garment,
        };
        let key = PlatesKey { found: found.clone(), changes: wanted.changes.clone() };
        self.wanted_plates = Some(key.clone());
        self.found.want(&found, ctx, || {
            let (job, picture) = (job.clone(), picture.clone());
            move |p| Ok(Arc::new(job::find_inks(&job, &picture, p)?))
        });
        if !self.found.is_fresh(&found) {
            return Some(None);
        }
        let Some(plates) = self.found.good().cloned() else { return Some(None) };
        self.plates.want(&key, ctx, || {
            let changes = key.changes.clone();
            move |_| Ok(Arc::new(job::change_inks((*plates).clone(), &changes)?))
        });
        Some(self.plates().cloned())
    }

    /// The inks as the job has them, once they are worked out.
    pub(crate) fn plates(&self) -> Option<&Arc<Plates>> {
        let key = self.wanted_plates.as_ref()?;
        self.plates.good().filter(|_| self.plates.is_fresh(key))
    }
    /// The garment's colour under several inks.
    pub(crate) fn garment_colour(&self) -> Option<Color32> {
        self.wanted_plates.as_ref()?;
        self.plates.good().map(|plates| films::color32(plates.garment))
    }
    /// Why there are no inks.
    pub(crate) fn plates_error(&self) -> Option<&JobError> {
        self.wanted_plates.as_ref()?;
        self.found.error().or(self.plates.error())
    }

    fn want_film(
        &mut self,
        surface_key: SurfaceKey,
        job: &Job,
        picture: Arc<Picture>,
        surface: Surface,
        plates: Option<Arc<Plates>>,
        ctx: &Context,
    ) {
        let key = FilmKey {
            surface: surface_key,
            tone: job.tone.clone(),
            printing: job.printing.clone(),
            inks: job.inks.clone(),
            mend: job.mend.clone(),
            width: job.width,
            turn: job.turn,
            resolution: job.resolution,
            spread: job.printer.as_ref().map(|p| p.spread),
        };
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
            move |p| films::make(&job, &picture, &surface, plates.as_deref(), number, p)
        });
        self.films_made += u64::from(started);
    }

    fn want_layout(&mut self, job: &Job, dragging: bool, ctx: &Context) {
        let Some(film) = self.planned_film().filter(|_| self.film_is_fresh()) else { return };
        let Some(ink) = film.ink.clone() else { return };
        // Only what the plan depends on makes it stale.
        let plain = Job {
            title: String::new(),
            picture: None,
            art: artwork::Settings::default(),
            seams: SeamSettings::default(),
            hand_seams: Vec::new(),
            unit: measure::Unit::Mm,
            ..job.clone()
        };
        let effort = if dragging { Request::QUICK } else { Request::THOROUGH };
        let full = LayoutKey {
            film: film.number,
            screen: self.planned,
            job: plain,
            effort: Request::THOROUGH,
        };
        self.wanted_layout = Some(full.clone());
        if self.layout.is_fresh(&full) {
            return;
        }
        // Only work for a drag is let finish; a full search for an older job is not.
        if self.layout.under_way().is_some_and(|(_, t)| t > Duration::from_millis(400)) && dragging
        {
            self.layout.stop();
        }
        let key = LayoutKey { effort, ..full };
        self.layout.want(&key, ctx, || {
            let (job, own) = (key.job.clone(), key.screen.is_some());
            let plan = if own { build::own_layout } else { build::layout };
            move |p| Ok(Arc::new(plan(&job, &ink, effort, p)?))
        });
    }

    fn want_seams(&mut self, job: &Job, ctx: &Context) {
        let Some((key, film)) = self.seams_key(job) else { return };
        let Some(layout) = self.layout.good().cloned() else { return };
        self.seams.want(&key, ctx, || {
            let job = job.clone();
            let find = if key.layout.screen.is_some() { build::own_seams } else { build::seams };
            move |p| Ok(Arc::new(find(&job, &film, &layout, p)?))
        });
    }

    /// The film that sheets are planned on: all that is printed, or one screen's.
    fn planned_film(&self) -> Option<&FilmView> {
        let film = self.film.good()?;
        match self.planned {
            None => Some(film),
            Some(n) => film.screens.get(n).or(film.screens.first()).map(|screen| &screen.film),
        }
    }

    /// The screen whose own sheets are shown, counted from 0, and its name.
    pub(crate) fn planned_screen(&self) -> Option<(usize, &str)> {
        let (n, film) = (self.planned?, self.film.good()?);
        film.screens.get(n).map(|screen| (n, &screen.name[..]))
    }

    /// What the seams depend on, and the film they are sought in.
    fn seams_key(&self, job: &Job) -> Option<(SeamsKey, build::Film)> {
        if !self.layout_is_fresh() {
            return None;
        }
        let layout = self.wanted_layout.clone()?;
        let film = self.planned_film()?;
        let bits = |film: &FilmView| film.levels.bits().clone();
        let key = SeamsKey { layout, seams: job.seams, hand_seams: job.hand_seams.clone() };
        let parts = film.screens.iter().map(|screen| bits(&screen.film) as _).collect();
        Some((key, build::Film { parts, ..build::Film::new(bits(film), job.resolution) }))
    }

    /// Works out the film with sheets slipped, or which slips are the worst.
    pub(crate) fn follow_slips(
        &mut self,
        job: &Job,
        slips: &[Slip],
        worst: Option<Length>,
        looked: Option<Looked>,
        colors: Colors,
        ctx: &Context,
    ) {
        let Some((seams_key, film)) = self.seams_key(job) else { return };
        if !self.seams.is_fresh(&seams_key) {
            return;
        }
        let (Some(seams), Some(layout), Some(view)) =
            (self.seams.good().cloned(), self.layout.good().cloned(), self.planned_film().cloned())
        else {
            return;
        };
        let rects: Vec<measure::Rect> = layout.plan.sheets.iter().map(|s| s.placed.rect).collect();
        let lip = job.seams.sliver;
        if let Some(size) = worst {
            let key = SlipsKey { seams: seams_key.clone(), slips: Vec::new(), size };
            let (rects, seams, view, resolution) =
                (rects.clone(), seams.clone(), view.clone(), film.resolution);
            self.worst.want(&key, ctx, || {
                move |p: &Progress| {
                    Ok(slips::worst(&rects, &seams, lip, size, &view, resolution, p)?)
                }
            });
        }
        if let Some(looked) = looked.filter(|_| slips.iter().any(|s| *s != Slip::default())) {
            let slipped = SlipsKey { seams: seams_key, slips: slips.to_vec(), size: Length::ZERO };
            let key = SlippedKey { slips: slipped, looked: looked.clone() };
            self.slipped.want(&key, ctx, || {
                let slips = slips.to_vec();
                move |p: &Progress| {
                    Ok(Arc::new(slips::image(
                        &rects,
                        &seams,
                        lip,
                        &slips,
                        &view,
                        film.resolution,
                        colors,
                        &looked,
                        p,
                    )?))
                }
            });
        }
    }

    /// Reckons the shop's side of the job, once film and sheets are there.
    pub(crate) fn follow_shop(&mut self, job: &Job, shop: &Shop, ctx: &Context) {
        if !self.layout_is_fresh() {
            return;
        }
        let (Some(layout_key), Some(layout), Some(view)) =
            (self.wanted_layout.clone(), self.layout.good().cloned(), self.film.good())
        else {
            return;
        };
        let films = view.to_reckon_with(job.resolution);
        let key = FactsKey { layout: layout_key, finest: shop.settings.finest_line() };
        let (title, unit, shop) = (job.title.clone(), job.unit, shop.clone());
        let wanted = ShopKey { facts: key.clone(), title, unit, shop };
        self.wanted_shop = Some(wanted.clone());
        self.facts.want(&key, ctx, || {
            let (job, settings) = (key.layout.job.clone(), wanted.shop.settings.clone());
            let shown = key.layout.screen;
            move |p: &Progress| {
                // Where each screen has sheets of its own, those not shown are planned here.
                let plan = |(n, (_, _, film)): (usize, &job::FilmOf)| {
                    if shown.is_none_or(|shown| shown == n) {
                        return Ok(layout.clone());
                    }
                    let ink = job::InkMap::of(&*film.raster, film.resolution, p)?;
                    Ok(Arc::new(build::own_layout(&job, &ink, Request::THOROUGH, p)?))
                };
                let layouts: Vec<Arc<Layout>> =
                    films.iter().enumerate().map(plan).collect::<Result<_, JobError>>()?;
                Ok(Arc::new(job::screen_facts(&job, films, |n| &layouts[n], &settings, p)?))
            }
        });
        if !self.facts.is_fresh(&key) {
            return;
        }
        let Some(facts) = self.facts.good().cloned() else { return };
        self.shop.want(&wanted.clone(), ctx, || {
            move |_: &Progress| {
                let settings = ShopSettings { unit: wanted.unit, ..wanted.shop.settings };
                let quantity = wanted.shop.quantity;
                Ok(Arc::new(job::plans(&settings, &facts, &wanted.title, quantity)?))
            }
        });
    }
    /// The shop's plans of all screens, or why there are none.
    pub(crate) fn plans(&self) -> Option<Result<&Arc<ScreenPlans>, &JobError>> {
        match (self.shop.error(), self.facts.error()) {
            (Some(e), _) | (_, Some(e)) => Some(Err(e)),
            _ => self.shop.good().map(Ok),
        }
    }
    /// Whether the shop's plan at hand is the job's.
    pub(crate) fn shop_is_fresh(&self) -> bool {
        self.layout_is_fresh() && self.wanted_shop.as_ref().is_some_and(|k| self.shop.is_fresh(k))
    }
    /// What each screen's film and the garments said last.
    pub(crate) fn facts(&self) -> &[ScreenFacts] {
        self.facts.good().map_or(&[], |facts| facts)
    }

    /// What is seen of the film with slipped sheets.
    pub(crate) fn slipped(&self) -> Option<&Arc<Slipped>> {
        self.slipped.good()
    }
    /// The worst slips found, and the size they were sought for.
    pub(crate) fn worst(&self) -> Option<(Length, &Vec<Slip>)> {
        Some((self.worst.answered()?.size, self.worst.good()?))
    }
    /// Looks for the worst slips anew.
    pub(crate) fn forget_worst(&mut self) {
        self.worst.clear();
    }
    pub(crate) fn seams(&self) -> Option<&Arc<Seams>> {
        self.seams.good().filter(|_| self.layout.good().is_some())
    }

    fn forget(&mut self) {
        self.seams.clear();
        self.slipped.clear();
        self.worst.clear();
        self.facts.clear();
        self.shop.clear();
        self.picture.clear();
        self.size = None;
        self.preview.clear();
        self.image.clear();
        self.surface.clear();
        self.recut.clear();
        self.draft.clear();
        self.found.clear();
        self.plates.clear();
        self.film.clear();
        self.layout.clear();
        self.wanted = None;
        self.wanted_plates = None;
        self.wanted_layout = None;
    }

    pub(crate) fn picture(&self) -> Option<&Arc<Picture>> {
        self.picture.good()
    }
    /// How many pixels the picture has across and down, even while it is being opened.
    pub(crate) fn picture_px(&self) -> Option<(u32, u32)> {
        let known = self.size.as_ref().and_then(|(_, size)| *size);
        self.picture().map_or(known, |p| Some((p.width, p.height)))
    }
    /// The picture as it is shown, or a first look at it.
    pub(crate) fn image(&self) -> Option<&Arc<ColorImage>> {
        self.image.good().or_else(|| self.preview.good()?.as_ref())
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
            || self.plates_error().is_some()
            || self.film.error().is_some()
            || self.layout.error().is_some() && self.film_is_fresh()
            || self.layout_is_fresh() && self.seams.answered().is_some()
    }
    /// What is being worked out now, in a few words, with its share done where known.
    pub(crate) fn under_way(&self) -> Option<(&'static str, Option<f32>)> {
        let lanes = [
            ("Opening the picture", self.picture.under_way()),
            ("Finding edges", self.surface.under_way()),
            ("Finding inks", self.found.under_way()),
            ("Working out the inks", self.plates.under_way()),
            ("Making the film", self.film.under_way()),
            ("Planning the sheets", self.layout.under_way()),
            ("Choosing seams", self.seams.under_way()),
            ("Measuring the ink", self.facts.under_way()),
            ("Reckoning the shop's plan", self.shop.under_way()),
            ("Looking for the worst slip", self.worst.under_way()),
            ("Slipping sheets", self.slipped.under_way()),
        ];
        lanes.into_iter().find_map(|(what, w)| {
            let (report, _) = w?;
            let share = report.filter(|r| r.total > 0).map(|r| r.done as f32 / r.total as f32);
            Some((what, share))
        })
    }
}

/// Whether a picture takes so long to read that a first look at it is worth its while.
fn is_large((width, height): (u32, u32)) -> bool {
    u64::from(width) * u64::from(height) > 6_000_000
}

/// A resolution at which the film has about as many pixels as a screen can show.
fn draft_resolution(job: &Job, picture: &Picture) -> Resolution {
    let (w, h) = job.art.crop.map_or((picture.width, picture.height), |c| (c.width, c.height));
    let across = (DRAFT_PX * f64::from(w) / f64::from(h.max(1))).sqrt();
    let low = job.resolution.to_ppi().min(across / job.width.to_inches());
    Resolution::ppi(low.max(job::LIMITS.ppi.0))
}
