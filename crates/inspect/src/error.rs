use progress::Cancelled;

/// Why a photograph could not be judged.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum InspectError {
    /// The film has no usable size.
    #[error("the film of {width} x {height} pixels cannot be looked for in a photo")]
    FilmSize {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// No sheets, or too many.
    #[error("a film of {0} sheets cannot be checked")]
    Sheets(usize),
    /// A sheet lies nowhere near the film.
    #[error("sheet {0} does not lie on the film")]
    SheetPlace(String),
    /// A seam names a sheet that is not there.
    #[error("a seam names a sheet that the film does not have")]
    Seam,
    /// A registration mark names a sheet that is not there.
    #[error("a mark names a sheet that the film does not have")]
    Mark,
    /// The photo has no usable size.
    #[error("the photo of {width} x {height} pixels cannot be read")]
    PhotoSize {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// The corners given are no frame.
    #[error("the four corners do not make a frame")]
    Corners,
    /// The ruler given is no length.
    #[error("the ruler has no length")]
    Ruler,
    /// Stopped by the user.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl InspectError {
    /// What to do about it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::FilmSize { .. } => "check that this is the job's film",
            Self::Sheets(_) | Self::SheetPlace(_) | Self::Seam | Self::Mark => {
                "check that the plan belongs to this film"
            }
            Self::PhotoSize { .. } => "take a photo of 8 megapixels or more",
            Self::Corners => {
                "give the film's top left, top right, bottom right and bottom left corner in the photo"
            }
            Self::Ruler => "give two places on the ruler and the length between them",
            Self::Cancelled(_) => "start again when ready",
        }
    }
}
