//! Lines and gaps too fine for the mesh: sought on the film in the background, gone through
//! one by one, and mended by the job's own [`job::Mend`].

use crate::action::Action;
use crate::canvas::View;
use crate::command::Command;
use crate::desk::Desk;
use crate::films::FilmView;
use crate::lane::{Lane, Overtaken};

use crate::step::Step;
use artwork::{FinePlace, Printability};
use eframe::egui::Context;
use job::{Edit, Job, Mend, Mended, Spot, build};
use measure::{Length, Point, Resolution};
use progress::Progress;
use std::sync::Arc;
use std::time::Duration;

/// Which film was looked through, and for what.
#[derive(Clone, Copy, PartialEq)]
struct FineKey {
    film: u64,
    /// Which screen's film, of several.
    screen: Option<usize>,
    resolution: Resolution,
    finest: Length,
}

/// The search for fine places, and the one looked at.
pub(crate) struct Fine {
    found: Lane<FineKey, Arc<Printability>>,
    /// As typed; none takes the chosen mesh's.
    pub(crate) finest: Option<Length>,
    /// The place looked at, in the list.
    pub(crate) at: Option<usize>,
    /// Where in the list to go on, once a mended place is gone from it.
    resume: usize,
}

impl Fine {
    pub(crate) fn new() -> Self {
        let found = Lane::new("fine lines", Overtaken::Stop);
        Self { found, finest: None, at: None, resume: 0 }
    }

    /// How much of the film is looked through, while it is.
    pub(crate) fn looking(&self) -> Option<f32> {
        let (report, _) = self.found.under_way()?;
        let share = |r: progress::Report| r.done as f32 / r.total.max(1) as f32;
        Some(report.map_or(0.0, share))
    }

    fn follow(&mut self, film: &FilmView, job: Job, key: FineKey, ctx: &Context) {
        let (resolution, finest) = (key.resolution, key.finest);
        if !self.found.is_fresh(&key) {
            self.at = None;
            ctx.request_repaint_after(Duration::from_millis(200));
        }
        let levels = film.levels.clone();
        self.found.want(&key, ctx, || {
            move |p: &Progress| {
                // The printer's ink spreads: what it drew in for that is no finer on paper.
                let film = build::Film::new(levels.bits().clone(), resolution).as_printed(&job);
                Ok(Arc::new(artwork::printability(&*film.raster, resolution, finest, p)?))
            }
        });
    }
}

impl Desk {
    /// The finest line or gap the printer wants on the film.
    pub(crate) fn finest(&self) -> Length {
        let settings = &self.shop.settings;
        self.fine.finest.unwrap_or_else(|| settings.mesh.finest_line(&settings.mesh_rules))
    }

    /// Looks the film through at the film step; elsewhere nobody asks.
    pub(crate) fn follow_fine(&mut self, ctx: &Context) {
        self.fine.found.poll();
        let film = self.fine_film().filter(|_| self.step == Step::Film).cloned();
        match (film, self.fine_key()) {
            (Some(film), Some(key)) => {
                self.fine.follow(&film, self.history.job().clone(), key, ctx)
            }
            _ => self.fine.found.stop(),
        }
    }

    /// The film that is looked through: of several screens' the one shown.
    pub(crate) fn fine_film(&self) -> Option<&FilmView> {
        if !self.stages.film_is_fresh() || !self.job().tone.is_cut() {
            return None;
        }
        let film = self.stages.shown()?;
        if self.job().inks.is_none() {
            return Some(film);
        }
        film.screens.get(self.canvas.screens.shown?).map(|screen| &screen.film)
    }

    fn fine_key(&self) -> Option<FineKey> {
        let film = self.fine_film()?.number;
        let screen = self.canvas.screens.shown.filter(|_| self.job().inks.is_some());
        Some(FineKey { film, screen, resolution: self.job().resolution, finest: self.finest() })
    }

    /// What was found on the film that is shown, and only on that.
    pub(crate) fn fine_places(&self) -> Option<Arc<Printability>> {
        let key = self.fine_key()?;
        self.fine.found.good().filter(|_| self.fine.found.is_fresh(&key)).cloned()
    }

    /// The place looked at.
    pub(crate) fn fine_place(&self) -> Option<FinePlace> {
        self.fine_places()?.places.get(self.fine.at?).cloned()
    }

    /// Where a place lies on the table.
    pub(crate) fn fine_on_table(&self, place: &FinePlace) -> Option<Point> {
        Some(Point::new(place.x, place.y) + self.film_rect()?.origin)
    }

    /// Goes through the list, and round from its end.
    pub(crate) fn step_fine(&mut self, forward: bool) {
        self.step = Step::Film;
        let Some(found) = self.fine_places() else {
            self.notices.tell("The film is still being looked through".into());
            return;
        };
        let count = found.places.len();
        if count == 0 {
            self.notices.tell("No place is too fine".into());
            return;
        }
        let back = count - 1;
        let to = match self.fine.at.filter(|i| *i < count) {
            Some(i) => (i + if forward { 1 } else { back }) % count,
            None if forward => self.fine.resume % count,
            None => (self.fine.resume + back) % count,
        };
        (self.fine.at, self.fine.resume) = (Some(to), 0);
        let place = &found.places[to];
        let Some(at) = self.fine_on_table(place) else { return };
        // Near enough that the width is seen, even of a long line.
        let points_per_mm = (20.0 / place.width.to_mm().max(0.02)).clamp(2.0, 60.0);
        self.canvas.view = Some(View { middle_mm: (at.x.to_mm(), at.y.to_mm()), points_per_mm });
    }

    /// Mends the place looked at, every place, or takes all mending back.
    pub(crate) fn mend(&mut self, command: Command) {
        let finest = self.finest();
        let mend = match command {
            Command::MendAll => Some(Mend { finest, places: Mended::All }),
            Command::MendThis => {
                let Some(mend) = self.mend_this(finest) else { return };
                self.fine.resume = self.fine.at.unwrap_or(0);
                Some(mend)
            }
            _ => None,
        };
        self.ask(Action::Edit(Edit::Mend(mend)));
    }

    /// The place looked at mended beside those mended before.
    fn mend_this(&self, finest: Length) -> Option<Mend> {
        let place = self.fine_place()?;
        let picture = self.stages.picture()?;
        let at = Point::new(place.x, place.y);
        let mut spots = match &self.job().mend {
            Some(Mend { places: Mended::At(spots), .. }) => spots.clone(),
            // All of a smaller width were mended before: what is left now is, too.
            Some(Mend { places: Mended::All, .. }) => {
                return Some(Mend { finest, places: Mended::All });
            }
            None => Vec::new(),
        };
        spots.push(Spot::shown_at(at, self.job(), picture));
        Some(Mend { finest, places: Mended::At(spots) })
    }
}
