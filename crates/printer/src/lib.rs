//! What a film printer does to lengths and edges, and its undoing.
//!
//! A printer draws what stands at `u` on a page, counted right and down from the page's middle,
//! at `A u` on the film, with `A = [[scale_x, shear], [0, scale_y]]`: a little too wide or
//! narrow, too long or short, and leaning. Its ink spreads past every edge. A printed and
//! measured [`Target`] tells both, as a [`Profile`]; films are then drawn at `A⁻¹ u` and with
//! edges drawn in, so that the printed film is true.

mod density;
mod error;
mod profile;
mod readings;
mod solve;
mod target;

pub use density::{PATCH_PITCH, PATCHES, coverage};
pub use error::PrinterError;
pub use profile::{LIMITS, Limits, Off, Profile, Sure};
pub use readings::{READING_SD, Readings};
pub use solve::{Outcome, solve};
pub use target::{GAPS, LINES, Target};
