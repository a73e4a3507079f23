//! Films written out: Group 4, PDF pages, one-bit TIFF and PNG, plan.json.
//!
//! Three frames meet here. The *film*'s and a *page*'s run right and down from their
//! top-left corner and count film pixels; PDF's own runs up from the bottom-left corner in
//! points, and only `canvas` and `page_from_film` know it.

mod bands;
mod canvas;
mod codes;
mod error;
mod film;
mod font;
mod group4;
mod image;
mod ink;
mod onebit;
mod pages;
mod pdf;
mod px;
mod ungroup4;

pub use error::FilmError;
pub use film::{FilmJob, FilmSheet, Seam};
pub use group4::Group4;
pub use onebit::{write_png, write_tif};
pub use pages::write_pdf;
pub use px::PxRect;
