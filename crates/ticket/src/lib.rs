//! The shop plan on paper: the job ticket and the exposure test strip as PDF.
//!
//! Everything is first laid out as plain [`Mark`](marks::Mark)s in millimetres, right and
//! down from the page's top-left corner, and only then written. Black and greys alone are
//! used, so that any home printer will do.

mod detail;
mod front;
mod marks;
mod pager;
mod sketch;
mod strip;

use shop::Reckoning;
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

fn pages(plan: &Reckoning, paper: Paper) -> Vec<Vec<marks::Mark>> {
    let mut pager = pager::Pager::new(paper);
    front::draw(&mut pager, plan);
    detail::draw(&mut pager, plan);
    pager.finish(&plan.job)
}

#[cfg(test)]
mod tests;
