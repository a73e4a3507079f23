//! Checking a taped film from one photograph of it, by the film's own ink.
//!
//! [`check_screen`] checks a washed-out screen in the same way.
//!
//! [`check_film`] finds the film in the photograph, solves for the camera, the lens, the
//! film's unevenness and each sheet's place at once, and reports how well every seam fits.
//! `docs/photo-check.md` says what was measured, and what was not.
//!
//! Film places are pixels of the film from its top-left corner; photo places are pixels of
//! the photo from its top-left corner; both continuous, so the middle of the first pixel is
//! at 0.5, 0.5.

mod align;
mod bench;
mod camera;
mod check;
mod correlation;
mod edges;
mod error;
mod factor;
mod faults;
mod fft;
mod field;
mod grey;
mod input;
mod layout;
mod levels;
mod light;
mod marks;
mod model;
mod overlay;
mod parts;
mod pattern;
mod pose;
mod report;
mod rough;
mod samples;
mod screen;
mod sharpness;
mod solve;
mod spots;
mod taps;
mod weigh;

pub use check::check_film;
pub use error::InspectError;
pub use input::{Film, Mark, Options, Photo, Ruler, Sheet, Tone};
pub use report::{FilmFound, Found, Place, Report, SeamFound, SheetFound, Spot, SpotKind, Verdict};
pub use screen::{ScreenReport, ScreenSpot, ScreenSpotKind, check_screen};
