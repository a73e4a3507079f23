use crate::{Region, Stock};
use measure::{Length, Rect};
use serde::{Deserialize, Serialize};

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
    /// How much work may be spent, in steps of very roughly a microsecond; counted, not timed, so
    /// that the same number gives the same plan.
    pub effort: u64,
}

impl Request {
    /// Effort for a plan that is to be final.
    pub const THOROUGH: u64 = 600_000;
    /// Effort for a plan that follows a handle while it is dragged.
    pub const QUICK: u64 = 10_000;
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
    /// What the sheets cost, in the shop's currency; nought where no price is known.
    pub cost: f64,
    /// Whether it is proved that no plan has fewer sheets or, where stocks differ in price, that
    /// none costs less.
    pub proved: bool,
}

impl Plan {
    /// Whether no plan has fewer sheets.
    pub fn is_fewest(&self) -> bool {
        self.sheets.len() as u32 <= self.lower_bound
    }
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
