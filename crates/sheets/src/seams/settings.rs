use measure::Length;
use serde::{Deserialize, Serialize};

/// What a cut costs, for each inch and each event. First guesses, meant to be tuned.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct SeamWeights {
    /// An inch through solid ink, where a joint does not show.
    pub ink: f64,
    /// An inch through clear film, whose cut edge may print as a line.
    pub clear: f64,
    /// Added to an inch along an ink edge, less the further away, down to nought at `reach`.
    pub near: f64,
    /// How far an ink edge is felt.
    pub reach: Length,
    /// Each ink edge crossed, where a slip shows as a jog.
    pub crossing: f64,
    /// Each bend, which slows the knife.
    pub bend: f64,
}

impl Default for SeamWeights {
    fn default() -> Self {
        let reach = Length::inches(0.03);
        Self { ink: 0.02, clear: 1.0, near: 20.0, reach, crossing: 6.0, bend: 0.5 }
    }
}

/// How seams are sought.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct SeamSettings {
    /// What a cut costs.
    pub weights: SeamWeights,
    /// The most bends in a seam.
    pub bends: u32,
    /// What must be left of each sheet beyond the cut, to be taped and trimmed.
    pub sliver: Length,
}

impl Default for SeamSettings {
    fn default() -> Self {
        Self { weights: SeamWeights::default(), bends: 4, sliver: Length::mm(2.0) }
    }
}

impl SeamSettings {
    /// The settings with every number inside what can be computed with.
    pub(crate) fn sound(&self) -> Self {
        let w = &self.weights;
        let number = |v: f64| if v.is_finite() { v.clamp(0.0, 1e6) } else { 0.0 };
        let length = |l: Length, most: f64| Length::inches(number(l.to_inches()).min(most));
        let weights = SeamWeights {
            ink: number(w.ink),
            clear: number(w.clear),
            near: number(w.near),
            reach: length(w.reach, 0.08),
            crossing: number(w.crossing),
            bend: number(w.bend),
        };
        Self { weights, bends: self.bends.min(12), sliver: length(self.sliver, 2.0) }
    }
}
