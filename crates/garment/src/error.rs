/// Why a garment's numbers make no garment.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum GarmentError {
    /// A length that no garment has.
    #[error("the garment's {what} of {shown} is outside {least} to {most}")]
    OutOfRange {
        /// The measurement's name.
        what: &'static str,
        /// Its value as shown to the printer.
        shown: String,
        /// The least allowed.
        least: &'static str,
        /// The most allowed.
        most: &'static str,
    },
    /// Two lengths that contradict each other.
    #[error("the garment's {wide} is not wider than its {narrow}")]
    Contradiction {
        /// The measurement that must be the larger.
        wide: &'static str,
        /// The measurement that must be the smaller.
        narrow: &'static str,
    },
    /// A sleeve that points up or back.
    #[error("the sleeve's angle of {0} degrees is outside 0 to 85")]
    Angle(f64),
}

impl GarmentError {
    /// What the printer may do about it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::OutOfRange { .. } => "lay the garment flat and measure it again",
            Self::Contradiction { .. } => "check both numbers against the garment",
            Self::Angle(_) => "0 is a sleeve straight out, 85 one that hangs down",
        }
    }
}
