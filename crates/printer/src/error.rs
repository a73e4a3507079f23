use measure::{Length, Unit};

/// Why a page could not be made or its readings could not be used, in one sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PrinterError {
    /// The sheet has no room for the page.
    #[error("a calibration page needs {} x {} of printable film", .0.show(Unit::Mm), .1.show(Unit::Mm))]
    TooSmall(Length, Length),
    /// A reading is missing.
    #[error("{0} is needed")]
    Missing(&'static str),
    /// A reading is far from what it should be.
    #[error("{what} was read as {}, but is {} on the page", .read.show(Unit::Mm), .drawn.show(Unit::Mm))]
    FarOff {
        /// Which length.
        what: &'static str,
        /// As it was read.
        read: Length,
        /// As it was drawn.
        drawn: Length,
    },
    /// A number that cannot be.
    #[error("{what} cannot be {given}")]
    BadNumber {
        /// What the number is for.
        what: &'static str,
        /// The number.
        given: String,
        /// What it can be.
        range: String,
    },
}

impl PrinterError {
    /// What the printer can do about it.
    pub fn hint(&self) -> String {
        match self {
            Self::TooSmall(..) => "use a larger sheet, or narrower margins".into(),
            Self::Missing(_) => {
                "read at least one length across, one down, and both diagonals or none".into()
            }
            Self::FarOff { .. } => {
                "read it again, and say which sheet and margin the page was made for".into()
            }
            Self::BadNumber { range, .. } => format!("give {range}"),
        }
    }
}
