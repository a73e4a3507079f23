use crate::{ArtworkError, Crop};
use serde::{Deserialize, Serialize};

/// Where grey is cut to black and white.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum Cut {
    /// At the level that the picture itself proposes.
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

/// Which of the learned models draws edges: a job keeps its own, so that it gives the same film
/// later.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct LearnedModel(pub(crate) u32);

impl LearnedModel {
    /// The one that new jobs use.
    pub const NEWEST: Self = Self(3);

    /// The one of jobs saved before models had numbers.
    fn first() -> Self {
        Self(1)
    }
}

impl Default for LearnedModel {
    fn default() -> Self {
        Self::NEWEST
    }
}

impl std::fmt::Display for LearnedModel {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// Everything a printer can choose about how a picture becomes film.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// The part of the picture to use; all of it when none.
    pub crop: Option<Crop>,
    /// Whether black and white are exchanged on the film. The level is always the share of
    /// ink before that, so that the film is exactly the other one's negative.
    pub invert: bool,
    /// Where grey is cut.
    pub cut: Cut,
    /// What the picture has been through.
    pub source: Source,
    /// How edges are made.
    pub edges: Edges,
    /// The learned model that draws edges, where one does.
    #[serde(default = "LearnedModel::first")]
    pub model: LearnedModel,
    /// Specks and pinholes smaller than this many source pixels are cleaned away.
    pub speck_px: f64,
    /// Whether uneven light and paper tone are flattened first.
    pub flatten: bool,
}

impl Settings {
    /// Whether every number is in its range.
    pub(crate) fn check(&self) -> Result<(), ArtworkError> {
        if let Cut::At(level) = self.cut
            && !(level > 0.0 && level < 1.0)
        {
            return Err(ArtworkError::BadSetting(
                "the cut level is a share of ink above 0 and below 1",
            ));
        }
        if !(0.0..=1e9).contains(&self.speck_px) {
            return Err(ArtworkError::BadSetting(
                "the speck size is a number of source pixels from 0 up",
            ));
        }
        if !(1..=LearnedModel::NEWEST.0).contains(&self.model.0) {
            return Err(ArtworkError::NoSuchModel(self.model.0));
        }
        Ok(())
    }
}
