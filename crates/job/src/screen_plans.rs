//! The shop's plan of a job's screens: each one's, and what all come to.

use crate::build::{Film, Layout, build};
use crate::shop::{as_noted, facts, settings, write};
use crate::{Job, JobError};
use ::shop::{JobFacts, Notebook, Reckoning, Section, Shop, ShopSettings, all_screens};
use progress::Progress;
use serde::Serialize;
use std::path::{Path, PathBuf};
use ticket::Paper;

/// The plans of all screens.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScreenPlans {
    /// The layout of this value in JSON; it grows when that changes.
    pub format: u32,
    /// The job's name.
    pub job: String,
    /// Each screen's plan, in printing order.
    pub screens: Vec<ScreenPlan>,
    /// What all come to, where there are several.
    pub all: Option<Section>,
}

/// One screen's plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScreenPlan {
    /// Which screen; none where the job has one alone.
    pub screen: Option<film::Screen>,
    /// Its plan. The blank garment and its price are in no screen's but in all together.
    pub plan: Reckoning,
}

/// What one screen's film says to the shop's reckoning.
#[derive(Clone, Debug, PartialEq)]
pub struct ScreenFacts {
    /// Which screen; none where the job has one alone.
    pub screen: Option<film::Screen>,
    /// What its film says.
    pub facts: JobFacts,
}

/// A film to reckon with: which screen's it is, and whether it is the underbase.
pub type FilmOf = (Option<film::Screen>, bool, Film);

/// What the films of a job's screens say to the shop's reckoning, one job's one film too, each on
/// the sheets that `layout` gives it, counted from 0.
///
/// # Errors
/// Only when cancelled.
pub fn screen_facts<'a>(
    job: &Job,
    films: Vec<FilmOf>,
    layout: impl Fn(usize) -> &'a Layout,
    settings: &ShopSettings,
    progress: &Progress,
) -> Result<Vec<ScreenFacts>, JobError> {
    let screens = films.len() as u32;
    let of = |(n, (screen, underbase, film)): (u32, FilmOf)| {
        let facts = facts(job, &film, layout(n as usize - 1), settings.finest_line(), progress)?;
        // Solid white is no halftone.
        let halftone = facts.halftone.filter(|_| !underbase);
        Ok(ScreenFacts { screen, facts: JobFacts { halftone, screen: n, screens, ..facts } })
    };
    (1..).zip(films).map(of).collect()
}

/// The plans from what the films say, for a job of this name and so many garments.
///
/// # Errors
/// Where a number is out of all reason.
pub fn plans(
    settings: &ShopSettings,
    films: &[ScreenFacts],
    title: &str,
    quantity: u32,
) -> Result<ScreenPlans, JobError> {
    let mut screens = Vec::with_capacity(films.len());
    for ScreenFacts { screen, facts } in films {
        let name = match screen {
            Some(screen) => format!("{title}, {}", label(screen)),
            None => title.to_owned(),
        };
        let facts = JobFacts { name, quantity, ..facts.clone() };
        let plan = ::shop::reckon(settings, &facts)?;
        screens.push(ScreenPlan { screen: screen.clone(), plan });
    }
    let mut plans = ScreenPlans { format: 1, job: title.to_owned(), screens, all: None };
    if plans.screens.len() > 1 {
        let (costs, currency) = (&settings.cost, &settings.currency);
        plans.all = Some(all_screens(&plans.named(), costs, currency, quantity));
    }
    Ok(plans)
}

/// Reckons the plan of every screen of a job. What the notebook knows better stands in for the
/// settings, and each plan lists it beside what was noted of its screen.
///
/// # Errors
/// Any stage's, or a number out of all reason.
pub fn reckon_screens(
    job: &Job,
    shop: &Shop,
    notebook: &Notebook,
    progress: &Progress,
) -> Result<ScreenPlans, JobError> {
    let known = settings(job, shop)?;
    let settings = as_noted(known.clone(), notebook);
    let built = build(job, progress)?;
    let films: Vec<FilmOf> = if built.screens.is_empty() {
        vec![(None, false, built.film.clone())]
    } else {
        let film = |raster| Film::new(raster, built.film.resolution);
        let of = built.screens.iter();
        of.map(|s| (Some(s.screen.clone()), s.underbase, film(s.raster.clone()))).collect()
    };
    let films = screen_facts(job, films, |n| &built.laid(n).layout, &settings, progress)?;
    Ok(plans(&settings, &films, &job.title, shop.quantity)?.noted(notebook, &known))
}

impl ScreenPlans {
    /// The plans with the notebook's part beside each.
    pub fn noted(mut self, notebook: &Notebook, settings: &ShopSettings) -> Self {
        for one in &mut self.screens {
            one.plan.sections.extend(notebook.section(settings, &one.plan.job));
        }
        self
    }

    /// Writes `ticket.pdf` with every screen in it and, where there are several, one for each,
    /// `ticket-1-yellow.pdf` and so on, into a folder, which is made where it does not exist.
    /// Gives what was written, the whole ticket first.
    ///
    /// # Errors
    /// Where the disk says no; no file is left half-written.
    pub fn write_tickets(&self, paper: Paper, dir: &Path) -> Result<Vec<PathBuf>, JobError> {
        let mut written = Vec::new();
        if let Some(all) = &self.all {
            let named = self.named();
            written.push(write(dir, "ticket.pdf", |out| {
                ticket::write_screens_ticket(&self.job, &named, all, paper, out)
            })?);
        }
        for one in &self.screens {
            let file = match &one.screen {
                Some(s) => format!("ticket-{}-{}.pdf", s.order, crate::plates::file_name(&s.name)),
                None => "ticket.pdf".into(),
            };
            let ticket = |out: &mut _| ticket::write_ticket(&one.plan, paper, out);
            written.push(write(dir, &file, ticket)?);
        }
        Ok(written)
    }

    /// Each screen's name and plan.
    fn named(&self) -> Vec<(String, &Reckoning)> {
        let name = |one: &ScreenPlan| one.screen.as_ref().map_or_else(String::new, label);
        self.screens.iter().map(|one| (name(one), &one.plan)).collect()
    }
}

/// A screen's name with its place in the order of printing.
fn label(screen: &film::Screen) -> String {
    format!("{} {}", screen.order, screen.name)
}
