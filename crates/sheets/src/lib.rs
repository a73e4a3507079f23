//! A film cut into sheets: pure geometry. All places are on the film, from its top-left corner.
//!
//! The planner works in whole cells of the [`Region`]: every sheet it places begins and ends on
//! cell edges, so that a region whose cell is a whole number of film pixels gives sheets of
//! whole film pixels. Sheets are trimmed to what they must hold and are never larger than their
//! stock's printable area.

mod assembly;
mod cover;
mod error;
mod exact;
mod fewest;
mod grid;
mod link;
mod local;
mod model;
mod naming;
mod plan;
mod prove;
mod random;
mod region;
mod request;
mod seams;
mod shares;
mod slips;
mod stock;
mod strips;
mod tidy;
mod work;

pub use assembly::{Assembly, Check, Join};
pub use error::PlanError;
pub use plan::plan;
pub use region::Region;
pub use request::{Pieces, Placed, Plan, Request, Sheet};
pub use seams::{InkWindow, Risk, Seam, SeamSettings, SeamWeights, Seams};
pub use slips::{Composed, Slip, Taped};
pub use stock::{Margins, Stock};
