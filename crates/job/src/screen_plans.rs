//! The shop's plan of a job with several screens: each screen's, and what all come to.

use crate::build::{Film, build};
use crate::shop::{as_noted, facts, settings, write};
use crate::{Job, JobError};
use ::shop::{Notebook, Quantity, Reckoning, Shop};
use progress::Progress;
use serde::Serialize;
use std::path::{Path, PathBuf};
use ticket::Paper;

/// The plans of all screens.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScreenPlans {
    /// Each screen's plan, in printing order.
    pub screens: Vec<ScreenPlan>,
    /// What all screens come to.
    pub all: AllScreens,
}

/// One screen's plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScreenPlan {
    /// Which screen.
    pub screen: film::Screen,
    /// Its plan. The blank garment is counted with the first screen only.
    pub plan: Reckoning,
}

/// Sums over all screens, in the shop's currency.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[allow(missing_docs, reason = "the names say it, unit included")]
pub struct AllScreens {
    pub sheets: usize,
    pub ink_for_the_run_ml: f64,
    pub exposure_s: f64,
    pub screens_cost: f64,
    pub each_garment_cost: f64,
    /// What one garment of the quantity wanted costs.
    pub garment_cost: f64,
}

/// Reckons the plan of every screen of a job.
///
/// # Errors
/// Any stage's, or a number out of all reason.
pub fn reckon_screens(
    job: &Job,
    shop: &Shop,
    notebook: &Notebook,
    progress: &Progress,
) -> Result<ScreenPlans, JobError> {
    let mut settings = as_noted(settings(job, shop)?, notebook);
    let finest = settings.finest_line();
    let built = build(job, progress)?;
    let mut screens = Vec::with_capacity(built.screens.len());
    let mut all = AllScreens::default();
    for (n, screen) in built.screens.iter().enumerate() {
        let film = Film::new(screen.raster.clone(), built.film.resolution);
        let mut facts = facts(job, &film, &built.laid(n).layout, finest, shop.quantity, progress)?;
        facts.name = format!("{}, {} {}", job.title, screen.screen.order, screen.screen.name);
        // Solid white is no halftone.
        facts.halftone = facts.halftone.filter(|_| !screen.underbase);
        let plan = ::shop::reckon(&settings, &facts)?;
        settings.cost.garment = 0.0;
        all.sheets += facts.sheets.len();
        all.ink_for_the_run_ml += amount(&plan, "ink", "ink for the run");
        let lit = amount(&plan, "parts", "time of all exposures");
        let plain = amount(&plan, "exposure", "one time for both");
        all.exposure_s += if lit > 0.0 { lit } else { plain };
        all.screens_cost += amount(&plan, "cost", "screen in all");
        all.each_garment_cost += amount(&plan, "cost", "each good garment adds");
        screens.push(ScreenPlan { screen: screen.screen.clone(), plan });
    }
    all.garment_cost = all.each_garment_cost + all.screens_cost / f64::from(shop.quantity.max(1));
    Ok(ScreenPlans { screens, all })
}

impl ScreenPlans {
    /// Writes a ticket for each screen, `ticket-1-yellow.pdf` and so on, into a folder, which is
    /// made where it does not exist.
    ///
    /// # Errors
    /// Where the disk says no; no file is left half-written.
    pub fn write_tickets(&self, paper: Paper, dir: &Path) -> Result<Vec<PathBuf>, JobError> {
        let one = |one: &ScreenPlan| {
            let name = crate::plates::file_name(&one.screen.name);
            let file = format!("ticket-{}-{name}.pdf", one.screen.order);
            write(dir, &file, |out| ticket::write_ticket(&one.plan, paper, out))
        };
        self.screens.iter().map(one).collect()
    }
}

/// A figure of a plan as a bare number; nought where it has none.
fn amount(plan: &Reckoning, section: &str, figure: &str) -> f64 {
    let value = plan.section(section).and_then(|s| s.figure(figure)).map(|f| &f.value);
    match value {
        Some(Quantity::Volume(v) | Quantity::Money(v) | Quantity::Time(v)) => *v,
        _ => 0.0,
    }
}
