use progress::Cancelled;

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// The region has no cell.
    #[error("there is nothing to put on film")]
    Nothing,
    /// There is no stock to choose from.
    #[error("no film is chosen to print on")]
    NoStock,
    /// A number that is not finite, negative or absurd.
    #[error("{what} of {shown} makes no sense")]
    Absurd {
        /// Which number.
        what: &'static str,
        /// Its value as shown to the printer.
        shown: String,
    },
    /// Margins as wide as the sheet.
    #[error("the margins of \"{0}\" leave nothing to print on")]
    NoRoom(String),
    /// The overlap does not fit a sheet.
    #[error("an overlap of {overlap} leaves nothing of the {printable} that \"{stock}\" can print")]
    OverlapTooWide {
        /// The overlap as shown.
        overlap: String,
        /// The shorter printable side as shown.
        printable: String,
        /// The stock's name.
        stock: String,
    },
    /// More sheets than anybody would tape.
    #[error("this film takes at least {needed} sheets, and {most} is the most that is planned")]
    TooMany {
        /// A lower bound.
        needed: u64,
        /// The limit.
        most: u64,
    },
    /// More cells than can be planned on.
    #[error("the film is divided into {cells} cells, and {most} is the most that is planned")]
    TooFine {
        /// How many.
        cells: u64,
        /// The limit.
        most: u64,
    },
    /// The drawer does not hold enough.
    #[error("{on_hand} sheets are on hand, and this film takes at least {needed}")]
    NotEnough {
        /// All that is on hand.
        on_hand: u64,
        /// The fewest it takes, or more.
        needed: u64,
    },
    /// More stocks than are weighed against each other.
    #[error("more than {most} prices or limited stocks of film are too many to choose from")]
    TooManyStocks {
        /// The limit.
        most: usize,
    },
    /// A sheet placed by hand that is larger than its stock, or of no stock.
    #[error("the pinned sheet number {0} is larger than what its film can print")]
    PinTooLarge(usize),
    /// The task was cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl PlanError {
    /// What the printer may do about it.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Nothing => "place the artwork so that some of its ink lies on the garment",
            Self::NoStock => "choose a sheet size or a roll",
            Self::Absurd { .. } => "type it again with its unit, such as 0.5in or 12mm",
            Self::NoRoom(_) => "lower the margins, or choose a larger sheet",
            Self::OverlapTooWide { .. } => "lower the overlap, or choose a larger sheet",
            Self::TooMany { .. } => "choose a larger sheet, or make the artwork smaller",
            Self::TooFine { .. } => "make the artwork smaller",
            Self::NotEnough { .. } => "buy more, or add another size of film",
            Self::TooManyStocks { .. } => "leave out the stocks that you would not use",
            Self::PinTooLarge(_) => "make it smaller, or release it",
            Self::Cancelled(_) => "start again when you are ready",
        }
    }
}
