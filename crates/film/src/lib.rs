//! Films written out: Group 4, PDF pages, one-bit TIFF and PNG, plan.json.
//!
//! Three frames meet here. The *film*'s and a *page*'s run right and down from their
//! top-left corner and count film pixels; PDF's own runs up from the bottom-left corner in
//! points, and only `canvas` and `page_from_film` know it.

mod bands;
mod beside;
mod calibration;
mod canvas;
mod codes;
mod error;
mod export;
mod film;
mod font;
mod group4;
mod guide;
mod image;
mod ink;
mod legend;
mod map;
mod marks;
mod onebit;
mod pages;
mod pdf;
mod plan_file;
mod plans_file;
mod proof;
mod px;
mod read_film;
mod read_page;
mod taping;
mod target;
mod tick;
mod together;
mod trim;
mod ungroup4;

pub use beside::write_beside;
pub use calibration::write_calibration;
pub use canvas::{Align, Canvas, Matrix};
pub use error::{FilmError, reason};
pub use export::export;
pub use film::{FilmJob, FilmSheet, Screen, Seam};
pub use font::{BOLD, Face, REGULAR};
pub use group4::Group4;
pub use guide::write_guide;
pub use onebit::{write_png, write_tif};
pub use pages::Films;
pub use pdf::{Page, Pdf};
pub use plan_file::{
    PlanFile, PlanFilm, PlanMark, PlanPdf, PlanPrint, PlanPrinter, PlanSeam, PlanSheet,
};
pub use plans_file::Plans;
pub use proof::{Fault, Proof, prove};
pub use px::PxRect;
pub use read_film::{ReadFilm, ReadTick, read_film};
pub use taping::{JoinText, KNIFE, PRINTED_SIDE, SEAM_STEPS, TAPING_SIDE, checks_text, join_text};
pub use together::{Together, settle};
