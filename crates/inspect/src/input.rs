//! What a check is given.

use crate::InspectError;
use bitmap::{Bitmap, Raster};
use measure::{Length, Resolution};

/// The film as it should be.
pub struct Film<'a> {
    /// Its ink.
    pub raster: &'a dyn Raster,
    /// Its pixels per inch.
    pub resolution: Resolution,
    /// The sheets it is taped from.
    pub sheets: Vec<Sheet>,
    /// Which sheets meet, by their places in `sheets`.
    pub seams: Vec<[usize; 2]>,
    /// Registration marks, where there are any: they help where the drawing has few edges.
    pub marks: Vec<Mark>,
}

/// A registration mark that two sheets carry at the same place of the film.
#[derive(Clone, Debug)]
pub struct Mark {
    /// The two sheets, by their places in [`Film::sheets`].
    pub sheets: [usize; 2],
    /// The left and the top of what is drawn, in film pixels.
    pub corner: [i64; 2],
    /// Either sheet's own ink there, both of one size. Where both are the same nothing can be
    /// told from them.
    pub drawn: [Bitmap; 2],
}

/// One sheet of the film.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Its name, such as `A1`.
    pub name: String,
    /// The corners of its printed part on the film, in film pixels, going round.
    pub corners: [[f64; 2]; 4],
}

impl Sheet {
    /// An upright sheet from its left, top, width and height in film pixels.
    pub fn upright(name: impl Into<String>, x: f64, y: f64, width: f64, height: f64) -> Self {
        let corners = [[x, y], [x + width, y], [x + width, y + height], [x, y + height]];
        Self { name: name.into(), corners }
    }
}

/// A photograph in grey.
#[derive(Clone, Debug)]
pub struct Photo {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Row by row, bright is high. A colour picture's green does best.
    pub grey: Vec<u8>,
    /// How light becomes a number.
    pub tone: Tone,
}

/// How light becomes a pixel's number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tone {
    /// As in nearly all pictures (IEC 61966-2-1).
    #[default]
    Srgb,
    /// In proportion.
    Linear,
}

/// A known length in the photograph, lying on the film's plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ruler {
    /// Its ends in photo pixels.
    pub ends: [[f64; 2]; 2],
    /// How long it really is.
    pub length: Length,
}

/// How to check.
#[derive(Clone, Debug)]
pub struct Options {
    /// Where the photo shows the film's corners: top left, top right, bottom right and bottom
    /// left as the film is planned. Not needed unless the film looks alike several ways.
    pub corners: Option<[[f64; 2]; 4]>,
    /// A known length, without which the film's absolute scale is not known.
    pub ruler: Option<Ruler>,
    /// Seams that surely exceed this are faults.
    pub good: Length,
    /// Seams that surely stay under this are good.
    pub fault: Length,
}

impl Default for Options {
    fn default() -> Self {
        Self { corners: None, ruler: None, good: Length::mm(0.25), fault: Length::mm(0.5) }
    }
}

/// The smallest photo and film worth trying, in pixels of the shorter side.
const LEAST: u32 = 64;

pub(crate) fn validate(film: &Film, photo: &Photo, options: &Options) -> Result<(), InspectError> {
    let (width, height) = (film.raster.width(), film.raster.height());
    let ppi = film.resolution.to_ppi();
    if width.min(height) < LEAST || !(1.0..=100_000.0).contains(&ppi) {
        return Err(InspectError::FilmSize { width, height });
    }
    if film.sheets.is_empty() || film.sheets.len() > 1000 {
        return Err(InspectError::Sheets(film.sheets.len()));
    }
    let reach = 4.0 * f64::from(width.max(height));
    for sheet in &film.sheets {
        let wild = |v: &f64| !(-reach..=reach).contains(v);
        if sheet.corners.iter().flatten().any(wild) {
            return Err(InspectError::SheetPlace(sheet.name.clone()));
        }
    }
    if film.seams.iter().flatten().any(|s| *s >= film.sheets.len()) {
        return Err(InspectError::Seam);
    }
    if film.marks.iter().any(|m| m.sheets.iter().any(|s| *s >= film.sheets.len())) {
        return Err(InspectError::Mark);
    }
    let pixels = u64::from(photo.width) * u64::from(photo.height);
    if photo.width.min(photo.height) < LEAST || pixels != photo.grey.len() as u64 {
        return Err(InspectError::PhotoSize { width: photo.width, height: photo.height });
    }
    let places = options.corners.iter().flatten().chain(options.ruler.iter().flat_map(|r| &r.ends));
    let far = 4.0 * f64::from(photo.width.max(photo.height));
    if places.flatten().any(|v| !(-far..=far).contains(v)) {
        return Err(InspectError::Corners);
    }
    if let Some(ruler) = options.ruler {
        let [a, b] = ruler.ends;
        let long = (a[0] - b[0]).hypot(a[1] - b[1]) > 2.0;
        if !(long && ruler.length.is_finite() && ruler.length > Length::ZERO) {
            return Err(InspectError::Ruler);
        }
    }
    Ok(())
}
