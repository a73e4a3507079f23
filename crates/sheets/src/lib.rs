//! A film cut into sheets: pure geometry. All places are on the film, from its top-left corner.

use bitmap::Bitmap;
use measure::{Length, Point, Rect, Size};
use progress::{Cancelled, Progress};
use serde::{Deserialize, Serialize};

/// Where film is needed: a bitmap of square cells, each with ink or its surround in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// The side of a cell, at most 0.25 in.
    pub cell: Length,
    /// Where the bitmap's top-left corner lies on the film.
    pub origin: Point,
    /// The cells; set = needs film.
    pub cells: Bitmap,
}

/// The unprintable edge of a sheet as it stands upright in the printer.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Margins {
    /// Left.
    pub left: Length,
    /// Top.
    pub top: Length,
    /// Right.
    pub right: Length,
    /// Bottom.
    pub bottom: Length,
}

/// A stock of film: sheets of one size, or a roll.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stock {
    /// What the printer calls it.
    pub name: String,
    /// Width and height upright. A roll's height is the longest piece it may give.
    pub size: Size,
    /// The unprintable edges.
    pub margins: Margins,
    /// Whether this is a roll: fixed width, free length.
    pub roll: bool,
    /// How many sheets are on hand, where that is limited.
    pub on_hand: Option<u32>,
    /// The price of a sheet (of a metre, for a roll), in the shop's currency.
    pub price: f64,
}

/// Whether the assembled film must hang together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Pieces {
    /// One taped film.
    #[default]
    One,
    /// Separate pieces for separate motifs are allowed.
    Many,
}

/// A sheet's printed image on the film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Placed {
    /// The printed image on the film.
    pub rect: Rect,
    /// Which of the stocks it is printed on.
    pub stock: usize,
    /// Whether its stock lies a quarter turn the other way on the film.
    pub turned: bool,
}

/// What to plan.
#[derive(Clone, Debug)]
pub struct Request {
    /// Where film is needed.
    pub region: Region,
    /// The stocks to choose from.
    pub stocks: Vec<Stock>,
    /// The least overlap where two sheets meet.
    pub overlap: Length,
    /// One piece or many.
    pub pieces: Pieces,
    /// Sheets placed by hand: kept as they are.
    pub pinned: Vec<Placed>,
    /// How much work may be spent, in search nodes; the same number gives the same plan.
    pub effort: u64,
}

/// A plan of sheets.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The sheets in the order of their names.
    pub sheets: Vec<Sheet>,
    /// No plan has fewer sheets than this.
    pub lower_bound: u32,
    /// Why the bound holds, for the printer.
    pub why: String,
    /// What a plain grid would have taken.
    pub grid: u32,
}

/// One named sheet of a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Row letter and number, such as `A1`.
    pub name: String,
    /// Where it lies.
    pub placed: Placed,
    /// Whether the printer pinned it.
    pub pinned: bool,
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Something in the request cannot be met.
    #[error("{0}")]
    Impossible(String),
    /// The task was cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Plans the fewest (or cheapest) sheets.
///
/// # Errors
/// Where no plan exists, or when cancelled.
pub fn plan(request: &Request, progress: &Progress) -> Result<Plan, PlanError> {
    let _ = (request, progress);
    Err(PlanError::Impossible("not yet".into()))
}
