//! Artwork: from a file's bytes to the edge that a film is cut along.
//!
//! [`load`] reads a picture; [`surface`] looks at it and makes a [`Surface`], a smooth
//! edge; [`Surface::raster`] is the one-bit film at any size, given out row by row.
//!
//! Conventions: a *share of ink* is 1 - grey / 255, so 1 is black; source pixel `i` covers
//! `i` to `i + 1`, and a film pixel covers its equal share of that, its colour found at its
//! middle (area sampling, with no half-pixel shift).

mod cut;
mod depth;
mod distance;
mod drawn;
mod error;
mod fit;
mod flatten;
mod grid;
mod jpeg;
mod judge;
mod learned;
mod level;
mod load;
mod picture;
mod plane;
mod printability;
mod recut;
mod reduce;
mod settings;
mod specks;
mod surface;
mod tones;
mod turned;

pub use error::{ArtworkError, MAX_PIXELS, MAX_SIDE};
pub use jpeg::{Dct, JpegPlane, planes as jpeg_planes};
pub use level::otsu;
pub use load::{head_fits, load, preview, size_of};
pub use picture::{Crop, Picture, Pixels};
pub use printability::{FinePlace, Printability, mend, printability};
pub use settings::{Cut, Edges, LearnedModel, Settings, Source};
pub use surface::{Cleaned, Surface, SurfaceReport, surface};
