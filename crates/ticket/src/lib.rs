//! The shop plan on paper: the job ticket and the exposure test strip as PDF.
//!
//! Everything is first laid out as plain [`Mark`](marks::Mark)s in millimetres, right and
//! down from the page's top-left corner, and only then written. Black and greys alone are
//! used, so that any home printer will do.

mod detail;
mod front;
mod marks;
mod pager;
mod screens;
mod sketch;
mod strip;

use shop::{Reckoning, Section};
use std::io::{self, Write};

pub use pager::Paper;
pub use strip::write_strip;

/// Writes the whole shop plan of a job: a front page to work by, then each part with its
/// formulas, the frame's cut sheet, the lay-down plan, and what to do when something went
/// wrong. The same plan gives the same bytes.
///
/// # Errors
/// What the writer reports.
pub fn write_ticket(plan: &Reckoning, paper: Paper, out: &mut impl Write) -> io::Result<()> {
    let pages = pages(plan, paper);
    marks::write(&format!("{} \u{2013} job ticket", plan.job), paper.size(), &pages, out)
}

/// Writes one ticket for all screens of a job, from each one's name and plan and from what they
/// come to: a front page with all of them side by side, then each screen's pages. What several
/// screens share stands in it once.
///
/// # Errors
/// What the writer reports.
pub fn write_screens_ticket(
    job: &str,
    screens: &[(String, &Reckoning)],
    all: &Section,
    paper: Paper,
    out: &mut impl Write,
) -> io::Result<()> {
    let pages = screens::pages(job, screens, all, paper);
    marks::write(&format!("{job} \u{2013} job ticket"), paper.size(), &pages, out)
}

fn pages(plan: &Reckoning, paper: Paper) -> Vec<Vec<marks::Mark>> {
    let mut pager = pager::Pager::new(paper);
    front::draw(&mut pager, plan);
    detail::draw(&mut pager, plan, None);
    pager.finish(&plan.job)
}

#[cfg(test)]
mod tests;
