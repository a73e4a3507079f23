/// Why a shop reckoning cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A number that is missing, not finite or out of all reason.
    #[error("{what} is {got}; it must lie between {low} and {high}")]
    Range {
        /// Which number, in a printer's words.
        what: String,
        /// What was given.
        got: String,
        /// The least that is understood.
        low: String,
        /// The most that is understood.
        high: String,
    },
    /// Times cannot be scaled by distance for this lamp.
    #[error("the square of the distance does not hold for a {lamp} at {distance}")]
    NotAPoint {
        /// What kind of lamp it is.
        lamp: &'static str,
        /// How far away it is.
        distance: String,
    },
    /// A piece is longer than every board.
    #[error("a piece of {piece} is longer than the longest board, {board}")]
    PieceTooLong {
        /// The piece's length.
        piece: String,
        /// The longest board's length.
        board: String,
    },
    /// The boards at hand are too few.
    #[error("the boards at hand do not yield all the pieces")]
    TooFewBoards,
    /// No way to cut was found, though there may be one.
    #[error("no way to cut all the pieces was found in reasonable time")]
    NoPlan,
    /// More pieces than any shop cuts in one go.
    #[error("{count} is more than this program reckons with at once, {most}")]
    TooMany {
        /// What there is too much of, with its number.
        count: String,
        /// The limit.
        most: u64,
    },
    /// Nothing was given where at least one is needed.
    #[error("there is no {0}")]
    Missing(&'static str),
    /// One of the shop's files could not be read or written.
    #[error("{path} could not be {done}: {why}")]
    File {
        /// The file.
        path: String,
        /// "read" or "written".
        done: &'static str,
        /// Why, in the system's words or in ours.
        why: String,
    },
}

impl Error {
    /// What the printer can do about it.
    pub fn hint(&self) -> String {
        match self {
            Self::Range { what, low, high, .. } => {
                format!("set the {what} to something between {low} and {high}")
            }
            Self::NotAPoint { .. } => {
                "make a new test strip at the new distance; only a lamp that is small beside its \
                 distance follows the square"
                    .into()
            }
            Self::PieceTooLong { .. } => "add a longer board or join two pieces".into(),
            Self::TooFewBoards => {
                "add boards, or leave the number at hand open to buy what is needed".into()
            }
            Self::NoPlan => "split the list of pieces, or add boards".into(),
            Self::TooMany { most, .. } => format!("split it into parts of at most {most}"),
            Self::Missing(what) => format!("add at least one {what}"),
            Self::File { done: "read", .. } => {
                "check the path, and that the file is the one meant".into()
            }
            Self::File { .. } => {
                "check that the folder exists, has room and may be written to".into()
            }
        }
    }
}
