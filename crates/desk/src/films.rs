//! The films of a job, made ready to be looked at.

use crate::levels::Levels;
use artwork::{Picture, Surface};
use bitmap::{Bitmap, Turned};
use eframe::egui::Color32;
use inks::{Ink, Plates, Rgb};
use job::{FilmOf, InkMap, Job, JobError, Mendings, build, screens};
use measure::{Angle, Resolution};
use progress::Progress;
use std::sync::Arc;

/// A film to look at and to plan on. Of a job with several screens it is all that any prints.
#[derive(Clone)]
pub(crate) struct FilmView {
    pub(crate) levels: Arc<Levels>,
    /// Where it has ink; a draft has none.
    pub(crate) ink: Option<Arc<InkMap>>,
    /// What came of mending its fine lines.
    pub(crate) mended: Option<Mendings>,
    /// Grows by one with each film, so that tiles know which one they show.
    pub(crate) number: u64,
    /// How the artwork lay on it, and how far it was turned then.
    pub(crate) laid: Turned,
    pub(crate) turn: Angle,
    /// Each screen's film, in printing order; none where there is one film only.
    pub(crate) screens: Arc<[ScreenView]>,
}

/// One screen's film.
pub(crate) struct ScreenView {
    pub(crate) name: String,
    pub(crate) colour: Color32,
    pub(crate) underbase: bool,
    /// The share of the film that is ink.
    pub(crate) share: f64,
    pub(crate) film: FilmView,
}

impl FilmView {
    pub(crate) fn plain(
        bits: Bitmap,
        ink: Option<Arc<InkMap>>,
        number: u64,
        (laid, turn): (Turned, Angle),
    ) -> Self {
        let levels = Arc::new(Levels::new(bits));
        Self { levels, ink, mended: None, number, laid, turn, screens: Arc::new([]) }
    }

    /// Each screen's film for the shop's reckoning, the one film of a job that has no more.
    pub(crate) fn to_reckon_with(&self, resolution: Resolution) -> Vec<FilmOf> {
        let film = |view: &Self| build::Film::new(view.levels.bits().clone(), resolution);
        if self.screens.is_empty() {
            return vec![(None, false, film(self))];
        }
        let of = |(n, one): (usize, &ScreenView)| {
            let [r, g, b, _] = one.colour.to_array();
            let (order, colour) = (n as u32 + 1, Rgb([r, g, b]).to_string());
            let screen = ::film::Screen { order, name: one.name.clone(), colour };
            (Some(screen), one.underbase, film(&one.film))
        };
        self.screens.iter().enumerate().map(of).collect()
    }
}

/// Inks as a list to look for.
pub(crate) fn listed(inks: &[Ink]) -> Vec<(Rgb, Option<String>)> {
    inks.iter().map(|ink| (ink.colour, Some(ink.name.clone()))).collect()
}

/// The whole film of a job, and each screen's where `plates` are given.
pub(crate) fn make(
    job: &Job,
    picture: &Picture,
    surface: &Surface,
    plates: Option<&Plates>,
    number: u64,
    p: &Progress,
) -> Result<FilmView, JobError> {
    p.step("Making the film", 0, 0)?;
    let laid = build::laid(job, picture)?;
    let lay = (laid, job.turn);
    let Some(plates) = plates else {
        let made = build::film(job, picture, surface, p)?;
        p.step("Making the film", 0, 0)?;
        let bits = bitmap::collect(&*made.raster);
        p.check()?;
        let ink = InkMap::of(&bits, job.resolution, p)?;
        let film = FilmView::plain(bits, Some(Arc::new(ink)), number, lay);
        return Ok(FilmView { mended: made.mended, ..film });
    };
    let size = laid.film();
    let mut all = Bitmap::new(size.0, size.1);
    let area = f64::from(size.0) * f64::from(size.1);
    let mut views = Vec::new();
    for screen in screens::of_plates(job, picture, plates, laid, p)? {
        p.check()?;
        let bits = bitmap::collect(&*screen.raster);
        all.words_mut().iter_mut().zip(bits.words()).for_each(|(all, more)| *all |= more);
        let ink = InkMap::of(&bits, job.resolution, p)?;
        let colour = screen.screen.colour.parse().unwrap_or_default();
        views.push(ScreenView {
            name: screen.screen.name,
            colour: color32(colour),
            underbase: screen.underbase,
            share: bits.count() as f64 / area,
            film: FilmView {
                mended: screen.mended,
                ..FilmView::plain(bits, Some(Arc::new(ink)), number, lay)
            },
        });
    }
    let ink = InkMap::of(&all, job.resolution, p)?;
    let film = FilmView::plain(all, Some(Arc::new(ink)), number, lay);
    Ok(FilmView { screens: views.into(), ..film })
}

/// An ink's colour on the screen.
pub(crate) fn color32(Rgb([r, g, b]): Rgb) -> Color32 {
    Color32::from_rgb(r, g, b)
}
