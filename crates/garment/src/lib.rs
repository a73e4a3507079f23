//! Garment silhouettes from tape-measure numbers.
//!
//! A [`Garment`] is a shape and a handful of lengths that a printer reads off the real garment
//! laid flat. Its outline is in garment coordinates: the origin is where the centre line meets
//! the collar's lowest point (on shapes without a collar, the middle of the top edge), `x` runs
//! right and `y` runs down.
//!
//! The sizes offered are typical, common practice without a standard, and meant to be
//! overwritten: EN 13402-3 and ISO 8559-1 measure bodies, not garments.

mod error;
mod garment;
mod measurement;
mod outline;
mod silhouette;
mod sizes;

pub use error::GarmentError;
pub use garment::{Face, Garment, Shape};
pub use measurement::Measurement;
pub use silhouette::Silhouette;
