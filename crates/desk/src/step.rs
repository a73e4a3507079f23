//! The steps of a job in the order the trade does them, and how each one stands.

use crate::desk::Desk;
use job::JobError;

/// A step of the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Step {
    Artwork,
    Garment,
    Film,
    Sheets,
    Screen,
    Print,
}

/// How a step stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum State {
    Done,
    /// Still being worked out.
    Working,
    /// Usable, but the printer should look.
    Look,
    Wrong,
}

impl State {
    /// The state in a word, which stands beside its mark.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Working => "working",
            Self::Look => "needs a look",
            Self::Wrong => "wrong",
        }
    }
}

impl Step {
    pub(crate) const ALL: [Self; 6] =
        [Self::Artwork, Self::Garment, Self::Film, Self::Sheets, Self::Screen, Self::Print];

    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Artwork => "Artwork",
            Self::Garment => "Garment",
            Self::Film => "Film",
            Self::Sheets => "Sheets",
            Self::Screen => "Screen",
            Self::Print => "Print",
        }
    }

    /// How the step stands, and why in a few words.
    pub(crate) fn state(self, desk: &Desk) -> (State, String) {
        match self {
            Self::Artwork => artwork(desk),
            Self::Garment => garment(desk),
            Self::Film => film(desk),
            Self::Sheets => sheets(desk),
            Self::Screen => screen(desk),
            Self::Print => print(desk),
        }
    }
}

fn broken(error: &JobError) -> (State, String) {
    (State::Wrong, error.to_string())
}

fn artwork(desk: &Desk) -> (State, String) {
    let job = desk.job();
    let Some(file) = &job.picture else {
        return (State::Wrong, "no picture yet".into());
    };
    if let Some(error) = desk.stages.picture_error().or(desk.stages.surface_error()) {
        return broken(error);
    }
    match desk.stages.surface() {
        Some(surface) if surface.report.specks + surface.report.pinholes > 0 => {
            let (s, p) = (surface.report.specks, surface.report.pinholes);
            (State::Done, format!("{s} specks and {p} pinholes cleaned"))
        }
        Some(_) => (State::Done, file.name.clone()),
        None => (State::Working, "finding edges".into()),
    }
}

fn garment(desk: &Desk) -> (State, String) {
    match &desk.job().garment {
        None => (State::Look, "none: all ink is filmed".into()),
        Some(g) => match g.check() {
            Ok(()) => (State::Done, g.name.clone()),
            Err(e) => (State::Wrong, e.to_string()),
        },
    }
}

fn film(desk: &Desk) -> (State, String) {
    if let Some(error) = desk.stages.plates_error() {
        return broken(error);
    }
    let job = desk.job();
    if let Some(error) = desk.stages.film_error() {
        return broken(error);
    }
    if job.picture.is_none() {
        return (State::Wrong, "waits for artwork".into());
    }
    let Some(size) = desk.film_size() else {
        return (State::Working, "working".into());
    };
    let unit = job.unit;
    let size = format!("{} × {}", size.width.show(unit), size.height.show(unit));
    if !desk.stages.film_is_fresh() {
        return (State::Working, size);
    }
    if desk.enlargement().is_some_and(|e| e > 40.0) {
        return (State::Look, format!("{size}: enlarged more than 40 times"));
    }
    (State::Done, size)
}

fn sheets(desk: &Desk) -> (State, String) {
    if let Some(error) = desk.stages.layout_error() {
        return broken(error);
    }
    let Some(layout) = desk.stages.layout() else {
        return (State::Working, "waits for the film".into());
    };
    if !desk.stages.layout_is_fresh() {
        return (State::Working, "planning".into());
    }
    let count = layout.plan.sheets.len();
    let named = format!("{count} {}", if count == 1 { "sheet" } else { "sheets" });
    if layout.plan.is_fewest() {
        return (State::Done, format!("{named}, fewest proved"));
    }
    let pinned = layout.plan.sheets.iter().filter(|s| s.pinned).count();
    if pinned > 0 {
        return (State::Done, format!("{named}, {pinned} pinned"));
    }
    (State::Done, format!("{named}, at least {} needed", layout.plan.lower_bound))
}

fn screen(desk: &Desk) -> (State, String) {
    match desk.stages.plans() {
        None => (State::Working, "waits for the sheets".into()),
        Some(Err(error)) => broken(error),
        Some(Ok(plans)) => {
            let sections = plans.screens.iter().flat_map(|one| &one.plan.sections);
            match sections.chain(&plans.all).flat_map(|s| &s.warnings).next() {
                Some(warning) => (State::Look, warning.clone()),
                None => (State::Done, "all fits together".into()),
            }
        }
    }
}

fn print(desk: &Desk) -> (State, String) {
    if let Some(written) = desk.written_for_this_job() {
        return (State::Done, format!("written to {}", written.display()));
    }
    let wrong = Step::ALL[..4].iter().any(|s| s.state(desk).0 == State::Wrong);
    if wrong {
        return (State::Wrong, "an earlier step is wrong".into());
    }
    (State::Look, "not written yet".into())
}
