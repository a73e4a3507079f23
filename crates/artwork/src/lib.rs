//! Artwork: from a file's bytes to the edge that a film is cut along.
//!
//! [`load`] reads a picture; [`surface`] looks at it and makes a [`Surface`], a smooth
//! edge; [`Surface::raster`] is the one-bit film at any size, given out row by row.

use bitmap::Raster;
use progress::{Cancelled, Progress};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// What went wrong with a picture, in one sentence, and what to do about it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ArtworkError {
    /// The file cannot be read as a picture.
    #[error("{0}")]
    Unreadable(String),
    /// The task was cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl ArtworkError {
    /// What the printer can do about it.
    pub fn hint(&self) -> &'static str {
        ""
    }
}

/// A picture as loaded: upright (EXIF honoured), transparency laid on white, 8 bits a channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// The pixels, row by row.
    pub pixels: Pixels,
}

/// A picture's pixels.
#[derive(Clone, Debug, PartialEq)]
pub enum Pixels {
    /// One byte a pixel, 0 black.
    Grey(Arc<[u8]>),
    /// Red, green and blue bytes, sRGB.
    Rgb(Arc<[u8]>),
}

/// A part of a picture in source pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Crop {
    /// Pixels cut off at the left.
    pub x: u32,
    /// Pixels cut off at the top.
    pub y: u32,
    /// Pixels kept across.
    pub width: u32,
    /// Pixels kept down.
    pub height: u32,
}

/// Where grey is cut to black and white.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum Cut {
    /// At the level Otsu's method proposes.
    #[default]
    Auto,
    /// At a share of ink from 0 to 1: pixels with more ink than this become ink.
    At(f64),
    /// At a level that follows the picture's own light (Sauvola).
    Local,
}

/// What a picture has been through, which decides how its edges are found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Source {
    /// Look at the picture and decide.
    #[default]
    Auto,
    /// Anti-aliased and undamaged.
    Clean,
    /// Damaged by JPEG.
    Jpeg,
    /// Hard one-bit pixels.
    Hard,
    /// Noisy, such as a scan.
    Noisy,
    /// Blurred.
    Blurred,
}

/// How edges are made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Edges {
    /// The best way for this picture.
    #[default]
    Auto,
    /// By the learned model.
    Learned,
    /// By the coverage-constrained level set.
    Fitted,
    /// By cubic interpolation alone.
    Plain,
}

/// Everything a printer can choose about how a picture becomes film.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// The part of the picture to use; all of it when none.
    pub crop: Option<Crop>,
    /// Whether black and white are exchanged.
    pub invert: bool,
    /// Where grey is cut.
    pub cut: Cut,
    /// What the picture has been through.
    pub source: Source,
    /// How edges are made.
    pub edges: Edges,
    /// Specks and pinholes smaller than this many source pixels are cleaned away.
    pub speck_px: f64,
    /// Whether uneven light and paper tone are flattened first.
    pub flatten: bool,
}

/// Reads a picture from a file's bytes.
///
/// # Errors
/// Where the bytes are no picture that can be used.
pub fn load(bytes: &[u8]) -> Result<Picture, ArtworkError> {
    let _ = bytes;
    Err(ArtworkError::Unreadable("not yet".into()))
}

/// A smooth edge, ready to be cut at any size.
#[derive(Clone)]
pub struct Surface {
    /// How the edge was made and why, for the printer.
    pub report: SurfaceReport,
}

/// How a surface was made.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceReport {
    /// What the picture was taken to be.
    pub source: Source,
    /// How its edges were made.
    pub edges: Edges,
    /// The level it was cut at: a share of ink from 0 to 1.
    pub level: f64,
    /// One line saying why.
    pub why: String,
    /// Specks of ink cleaned away.
    pub specks: u32,
    /// Pinholes filled.
    pub pinholes: u32,
}

/// Looks at a picture and finds its edges.
///
/// # Errors
/// When cancelled, or where the settings ask for a part that the picture has not.
pub fn surface(
    picture: &Picture,
    settings: &Settings,
    progress: &Progress,
) -> Result<Surface, ArtworkError> {
    let _ = (picture, settings, progress);
    Err(ArtworkError::Unreadable("not yet".into()))
}

impl Surface {
    /// The film at `width` x `height` pixels.
    pub fn raster(&self, width: u32, height: u32) -> impl Raster + 'static {
        bitmap::Bitmap::new(width, height)
    }
}
