use progress::Cancelled;

/// Why art cannot be separated, in one sentence, and what to do about it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum InksError {
    /// The text is no colour.
    #[error("\"{0}\" is not a colour")]
    NotAColour(String),
    /// More inks were asked for than a separation can hold.
    #[error("{0} inks were asked for; at most {max} can be separated", max = crate::MAX_INKS)]
    TooManyInks(usize),
    /// No ink was asked for.
    #[error("a separation needs at least one ink")]
    NoInk,
    /// An ink that is not there was named.
    #[error("there is no ink {0}; inks are counted from 1 to {1}")]
    NoSuchInk(usize, usize),
    /// An ink of one flat colour was to be split.
    #[error("ink {0} has one colour only and cannot be split")]
    OneColour(usize),
    /// The picture has no pixels, or more than can be separated.
    #[error("the picture is {0} x {1} pixels; a separation needs between 1 and {max} million", max = crate::MAX_PIXELS / 1_000_000)]
    Size(u32, u32),
    /// The task was cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl InksError {
    /// What the printer can do about it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NotAColour(_) => "write a colour as #rrggbb, such as #ffcc00",
            Self::TooManyInks(_) => "merge inks that are alike",
            Self::NoInk => "ask for one ink or more, or let the inks be found",
            Self::NoSuchInk(..) => "list the inks first and use their numbers",
            Self::OneColour(_) => "pick two colours for it by hand instead",
            Self::Size(..) => "make the picture smaller first: separation enlarges it smoothly",
            Self::Cancelled(_) => "start it again when ready",
        }
    }
}
