use super::cost::CostMap;
use measure::Length;
use serde::{Deserialize, Serialize};

/// What a seam puts at risk.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Risk {
    /// The ink edges it crosses.
    pub crossings: u32,
    /// The jogs that a slip of half a millimetre along the seam makes in these edges, added up:
    /// half a millimetre at an edge crossed squarely, less the more aslant.
    pub jog: Length,
}

/// The slip that the risk supposes.
const SLIP: Length = Length::mm(0.5);

impl CostMap {
    /// What a cut through `points` puts at risk.
    pub(super) fn risk(&self, points: &[(f64, f64)]) -> Risk {
        let crossings = self.crossings(points);
        let jog = |(row, column, (da, dc), film): &(i32, i32, (f64, f64), u32)| {
            // Only the part of the slip that is square to the ink edge shows.
            let (along, across) = self.slope(*row, *column, *film);
            let long = along.hypot(across);
            if long > 0.0 { SLIP * ((along * da + across * dc) / long).abs() } else { SLIP }
        };
        Risk { crossings: crossings.len() as u32, jog: crossings.iter().map(jog).sum() }
    }
}
