//! The taped film, or the washed-out screen, checked by a photo: what was chosen, what was
//! found, and the place that is looked at.

use crate::canvas::View;
use crate::chore::{self, Outcome};
use crate::desk::Desk;
use crate::dialog::Dialog;
use crate::lane::{Lane, Overtaken};
use crate::source::{self, SourceTexture};
use crate::step::Step;
use eframe::egui::{ColorImage, Context};
use film::{FilmError, Plans};
use inspect::{Options, Report, Ruler, ScreenReport, ScreenSpotKind, SpotKind};
use job::JobError;
use measure::{Length, Point, Rect, Size, Unit};
use progress::Progress;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a photo is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Subject {
    Film,
    Screen,
}

impl Subject {
    /// Where it is checked.
    pub(crate) const fn step(self) -> Step {
        match self {
            Self::Film => Step::Print,
            Self::Screen => Step::Screen,
        }
    }
}

/// What is given to a check, as it stands on its card.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Card {
    pub(crate) subject: Subject,
    pub(crate) folder: String,
    /// The folder's films, and which of them the photo shows.
    pub(crate) films: Vec<String>,
    pub(crate) film: Option<String>,
    pub(crate) photo: String,
    /// The film's corners in the photo, from the top left as planned, going round.
    pub(crate) corners: Vec<[f64; 2]>,
    /// Two places on a ruler, and the length between them.
    pub(crate) ruler: Vec<[f64; 2]>,
    pub(crate) length: Length,
    /// What a click on the photo gives.
    pub(crate) clicks: Clicks,
}

/// What a click on the photo gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Clicks {
    Corners,
    Ruler,
}

impl Card {
    /// The options, or what is still wanting.
    pub(crate) fn options(&self) -> Result<Options, &'static str> {
        let corners = match self.corners.as_slice() {
            [] => None,
            &[a, b, c, d] => Some([a, b, c, d]),
            _ => return Err("give all four corners, or none"),
        };
        let ruler = match self.ruler.as_slice() {
            [] => None,
            &[a, b] if self.length > Length::ZERO => {
                Some(Ruler { ends: [a, b], length: self.length })
            }
            _ => return Err("give both ends of the ruler and its length, or none"),
        };
        Ok(Options { corners, ruler, ..Options::default() })
    }

    /// Looks what films the folder holds; the film chosen stays if it is among them.
    pub(crate) fn look_in_folder(&mut self) {
        let plans = Plans::read(self.folder.trim().as_ref());
        self.films = plans.map_or_else(|_| Vec::new(), |p| p.films().map(str::to_owned).collect());
        let stays = self.film.take().filter(|film| self.films.contains(film));
        self.film = stays.or_else(|| self.films.first().cloned());
    }
}

/// A photo made small for its card.
pub(crate) struct Preview {
    pub(crate) image: Arc<ColorImage>,
    /// The photo's own pixels.
    pub(crate) size: [u32; 2],
}

/// What a check found, with what is needed to show it.
#[derive(Clone, Debug)]
pub(crate) struct Checked {
    pub(crate) found: Found,
    /// The photo's file.
    pub(crate) photo: String,
    /// The film that was checked, and its pixel.
    pub(crate) film: Size,
    pub(crate) pixel: Length,
    /// The sheets on the film, in the report's order.
    pub(crate) sheets: Vec<Rect>,
}

#[derive(Clone, Debug)]
pub(crate) enum Found {
    Film(Report),
    Screen(ScreenReport),
}

/// A place to look at.
pub(crate) struct Place {
    /// On the film.
    pub(crate) at: Point,
    pub(crate) size: Length,
    /// Whether there is too much black rather than too little.
    pub(crate) dark: bool,
    pub(crate) words: String,
}

impl Checked {
    pub(crate) const fn subject(&self) -> Subject {
        match self.found {
            Found::Film(_) => Subject::Film,
            Found::Screen(_) => Subject::Screen,
        }
    }

    /// Whether it is known where in the photo the drawing lies.
    pub(crate) const fn lies(&self) -> inspect::Place {
        match &self.found {
            Found::Film(report) => report.film.place,
            Found::Screen(report) => report.place,
        }
    }

    pub(crate) fn count(&self) -> usize {
        match &self.found {
            Found::Film(report) => report.spots.len(),
            Found::Screen(report) => report.spots.len(),
        }
    }

    pub(crate) fn place(&self, i: usize) -> Option<Place> {
        let place = |x, y, size, dark, words: String| Place {
            at: Point::new(Length::mm(x), Length::mm(y)),
            size: Length::mm(size),
            dark,
            words: format!("{words}, {size:.1} mm"),
        };
        match &self.found {
            Found::Film(report) => report.spots.get(i).map(|s| {
                let (dark, words) = match s.kind {
                    SpotKind::Bright => (false, "pinhole"),
                    SpotKind::Dark => (true, "dirt"),
                    SpotKind::ThinBlack => (false, "thin black"),
                };
                place(s.x_mm, s.y_mm, s.size_mm, dark, words.into())
            }),
            Found::Screen(report) => report.spots.get(i).map(|s| {
                let (dark, words) = match s.kind {
                    ScreenSpotKind::Closed => (true, "closed detail"),
                    ScreenSpotKind::Pinhole => (false, "pinhole"),
                };
                let from = format!(
                    "{words} {:.0} mm aside and {:.0} mm up or down from the photo's {} corner",
                    s.aside_mm, s.upward_mm, s.corner
                );
                place(s.x_mm, s.y_mm, s.size_mm, dark, from)
            }),
        }
    }
}

/// The checks by photo: the last of each kind, and the photo on the card.
pub(crate) struct PhotoCheck {
    film: Option<Arc<Checked>>,
    screen: Option<Arc<Checked>>,
    /// The place looked at, in the list.
    pub(crate) at: Option<usize>,
    /// What was given last, to begin with the next time.
    last: Option<Card>,
    preview: Lane<PathBuf, Arc<Preview>>,
    pub(crate) texture: Option<SourceTexture>,
}

impl PhotoCheck {
    pub(crate) fn new() -> Self {
        Self {
            film: None,
            screen: None,
            at: None,
            last: None,
            preview: Lane::new("photo", Overtaken::Stop),
            texture: None,
        }
    }

    pub(crate) fn found(&self, subject: Subject) -> Option<&Arc<Checked>> {
        match subject {
            Subject::Film => self.film.as_ref(),
            Subject::Screen => self.screen.as_ref(),
        }
    }

    /// What is shown at a step.
    pub(crate) fn at_step(&self, step: Step) -> Option<&Arc<Checked>> {
        [Subject::Film, Subject::Screen]
            .into_iter()
            .find(|subject| subject.step() == step)
            .and_then(|subject| self.found(subject))
    }

    pub(crate) fn put(&mut self, subject: Subject, checked: Option<Arc<Checked>>) {
        self.at = None;
        match subject {
            Subject::Film => self.film = checked,
            Subject::Screen => self.screen = checked,
        }
    }

    pub(crate) fn is_opening(&self) -> bool {
        self.preview.under_way().is_some()
    }

    /// The photo of this path, once it is read.
    pub(crate) fn preview(&self, path: &str) -> Option<&Arc<Preview>> {
        self.preview.good().filter(|_| self.preview.is_fresh(&PathBuf::from(path)))
    }

    pub(crate) fn preview_error(&self, path: &str) -> Option<&JobError> {
        self.preview.error().filter(|_| self.preview.is_fresh(&PathBuf::from(path)))
    }
}

impl Desk {
    /// Opens the card of a check, filled in as the last one was.
    pub(crate) fn photo_card(&mut self, subject: Subject) {
        let written = self.written.as_ref().map(|(_, dir)| dir.display().to_string());
        let folder = written.unwrap_or_else(|| self.out_dir());
        let last = self.photo.last.clone().filter(|last| last.subject == subject);
        let mut card = last.unwrap_or_else(|| Card {
            subject,
            folder,
            films: Vec::new(),
            film: None,
            photo: String::new(),
            corners: Vec::new(),
            ruler: Vec::new(),
            length: Length::mm(300.0),
            clicks: Clicks::Corners,
        });
        card.look_in_folder();
        self.step = subject.step();
        self.dialog = Some(Dialog::Photo(card));
    }

    /// Takes a photo for the card that is open.
    pub(crate) fn take_photo(&mut self, path: &Path) {
        let Some(Dialog::Photo(card)) = &mut self.dialog else { return };
        card.photo = path.display().to_string();
        card.corners.clear();
        card.ruler.clear();
    }

    /// Begins the check of a card.
    pub(crate) fn check_photo(&mut self, card: Card, ctx: &Context) {
        match card.options() {
            Err(wanting) => self.notices.say(wanting, ""),
            Ok(options) => {
                let what = match card.subject {
                    Subject::Film => "Checking the taped film",
                    Subject::Screen => "Checking the screen",
                };
                self.photo.last = Some(card.clone());
                self.begin(what, ctx, move |p| checked(&card, &options, p));
            }
        }
    }

    /// Shows what a check found.
    pub(crate) fn show_checked(&mut self, checked: Checked) {
        let subject = checked.subject();
        self.step = subject.step();
        self.at_shop.drawing = None;
        self.photo.put(subject, Some(Arc::new(checked)));
    }

    /// Reads the photo on the card, once its path is that of a file.
    pub(crate) fn follow_photo(&mut self, ctx: &Context) {
        self.photo.preview.poll();
        let Some(Dialog::Photo(card)) = &self.dialog else { return };
        let path = PathBuf::from(card.photo.trim());
        if path.is_file() {
            let read = path.clone();
            self.photo.preview.want(&path, ctx, || {
                move |_: &Progress| {
                    let picture = chore::picture(&read)?;
                    let size = [picture.width, picture.height];
                    Ok(Arc::new(Preview { image: Arc::new(source::image(&picture)), size }))
                }
            });
        }
    }

    /// Goes through the places that a photo showed, and round from the end.
    pub(crate) fn step_spot(&mut self, forward: bool) {
        let Some(checked) = self.photo.at_step(self.step).cloned() else { return };
        let count = checked.count();
        if count == 0 {
            self.notices.tell("The photo shows no place to look at".into());
            return;
        }
        let to = match self.photo.at.filter(|i| *i < count) {
            Some(i) => (i + if forward { 1 } else { count - 1 }) % count,
            None if forward => 0,
            None => count - 1,
        };
        self.photo.at = Some(to);
        let (Some(place), Some(film)) = (checked.place(to), self.film_rect()) else { return };
        let at = place.at + film.origin;
        self.canvas.view =
            Some(View { middle_mm: (at.x.to_mm(), at.y.to_mm()), points_per_mm: 8.0 });
    }
}

fn checked(card: &Card, options: &Options, progress: &Progress) -> Result<Outcome, JobError> {
    let [folder, photo] = [&card.folder, &card.photo].map(|path| Path::new(path.trim()));
    let film = card.film.as_deref();
    let found = match card.subject {
        Subject::Film => Found::Film(job::check::photo(folder, film, photo, options, progress)?),
        Subject::Screen => {
            Found::Screen(job::check::screen(folder, film, photo, options, progress)?)
        }
    };
    let Some(plan) = Plans::read(folder)?.of(film.unwrap_or_default()).cloned() else {
        let (path, why) = (folder.join("plan.json"), "it holds no plan".into());
        return Err(FilmError::Foreign { path, what: "plan", why }.into());
    };
    let mm = Length::mm;
    let sheet = |s: &film::PlanSheet| {
        let corner = Point::new(mm(s.x_mm), mm(s.y_mm));
        Rect::new(corner, Size::new(mm(s.width_mm), mm(s.height_mm)))
    };
    let name = photo.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    Ok(Outcome::Checked(Box::new(Checked {
        found,
        photo: name,
        film: Size::new(mm(plan.film.width_mm), mm(plan.film.height_mm)),
        pixel: Length::of(1.0 / plan.film.ppi, Unit::In),
        sheets: plan.sheets.iter().map(sheet).collect(),
    })))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_given_corners_and_rulers_are_refused() {
        let card = Card {
            subject: Subject::Film,
            folder: "films".into(),
            films: Vec::new(),
            film: None,
            photo: "photo.jpg".into(),
            corners: Vec::new(),
            ruler: Vec::new(),
            length: Length::mm(300.0),
            clicks: Clicks::Corners,
        };
        assert!(card.options().unwrap().corners.is_none());
        let corners = vec![[0.0, 0.0], [9.0, 0.0], [9.0, 9.0]];
        assert!(Card { corners, ..card.clone() }.options().is_err());
        let ruler = vec![[1.0, 2.0], [3.0, 4.0]];
        let given = Card { ruler, ..card.clone() };
        assert_eq!(given.options().unwrap().ruler.unwrap().length, Length::mm(300.0));
        assert!(Card { length: Length::ZERO, ..given }.options().is_err());
    }
}
