use progress::Cancelled;

/// Why a picture cannot be screened, in one sentence, and what to do about it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ToneError {
    /// The picture's size and its number of pixels disagree, or it has none.
    #[error("the picture is said to be {0} x {1} pixels but has {2}")]
    Size(u32, u32, usize),
    /// The dots would be smaller than film pixels can make.
    #[error(
        "at {ppi} ppi a ruling of {lpi} lpi leaves {pixels:.1} film pixels a dot; it takes 3 or more"
    )]
    TooFine {
        /// The ruling.
        lpi: f64,
        /// The film's resolution.
        ppi: f64,
        /// Film pixels from dot to dot.
        pixels: f64,
    },
    /// The ruling is not a number that dots can be set at.
    #[error("a ruling of {0} lpi is too coarse or not a number")]
    TooCoarse(f64),
    /// An own tile of thresholds has no values or is not square.
    #[error(
        "a tile of thresholds must be square with a side of 2 to 1024; this one has {0} values and a side of {1}"
    )]
    Tile(usize, u32),
    /// Measured tones that do not rise.
    #[error("measured tones must rise from film to print; {0} does not follow {1}")]
    Curve(f64, f64),
    /// The task was cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl ToneError {
    /// What the printer can do about it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Size(..) => "load the picture again",
            Self::TooFine { .. } => "choose a coarser ruling or a higher film resolution",
            Self::TooCoarse(_) => "choose a ruling of 1 lpi or more",
            Self::Tile(..) => "save the tile as a square grey picture",
            Self::Curve(..) => "measure the wedge again, from light to dark",
            Self::Cancelled(_) => "start it again when ready",
        }
    }
}
