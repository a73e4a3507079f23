//! One-bit pictures. A set bit is ink: black on the film.
//!
//! Two forms, each where it is the quicker one:
//! - a [`Bitmap`] holds every pixel, 64 to a word, leftmost pixel in the highest bit;
//! - a row's *changes* list the columns where its colour changes, starting from clear.
//!
//! A [`Raster`] is a picture that can give any part of any row as changes without ever
//! being held whole; films of 136 Mpx and more are passed on as rasters.

mod inset;
mod kept;
mod packed;
mod raster;
mod turned;

pub use inset::inset;
pub use kept::{Kept, KeptPixels};
pub use packed::Bitmap;
pub use raster::{Raster, Window, collect, runs};
pub use turned::Turned;
