//! Films written out: Group 4, PDF pages, one-bit TIFF and PNG, plan.json.

mod bands;
mod codes;
mod error;
mod group4;
mod onebit;
#[cfg_attr(not(test), expect(dead_code, reason = "the proof reads films back"))]
mod ungroup4;

pub use error::FilmError;
pub use group4::Group4;
