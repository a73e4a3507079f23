//! Separation: small colour art into one-bit plates, one for each ink, that tile.
//!
//! [`separate`] finds the picture's inks (or takes those picked), measures how much of each
//! pixel each covers, and fits smooth level functions to those shares. At every point the
//! ink of the greatest level prints, so that at any size the plates leave no gap and share
//! no pixel. Colours are sRGB; lengths on the picture are in its own pixels.

mod band;
mod colour;
mod cover;
mod damage;
mod distance;
mod error;
mod fit;
mod flat;
mod image;
mod jpeg;
mod modes;
mod names;
mod palette;
mod plates;
mod separate;
mod specks;
mod spline;
mod tiling;
mod trap;
mod under;
mod unexplained;
mod unmix;

pub use colour::{Lab, Rgb, ciede2000};
pub use damage::Damage;
pub use error::InksError;
pub use plates::{Ink, PlateRaster, Plates};
pub use separate::{Inks, Settings, separate};
pub use trap::Look;

/// The most inks that one separation holds, the garment not counted.
pub const MAX_INKS: usize = 24;
/// The most pixels that a picture to separate may have.
pub const MAX_PIXELS: u64 = 24_000_000;
