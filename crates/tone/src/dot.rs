use crate::ToneError;
use serde::{Deserialize, Serialize};

/// How a dot grows with the share of ink.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Dot {
    /// Round, until dots touch on all four sides at a half; then round holes.
    #[default]
    Round,
    /// Longer than wide: dots touch end to end near 0.4 and side to side near 0.6, so that
    /// tone does not jump where they meet.
    Elliptical,
    /// Lines that swell.
    Line,
    /// A printer's own: a square of `side` x `side` grey values for one dot's cell, row by
    /// row; the darkest is inked first. Any picture serves, since values are ranked.
    Own {
        /// Values across, and down.
        side: u32,
        /// The values.
        values: Vec<u8>,
    },
}

/// Thresholds over one dot's cell, ranked so that each share of ink covers that share of a film.
pub(crate) struct Cell {
    /// The side is 2 to this power.
    pub(crate) power: u32,
    /// 0 to [`FULL`] - 1, row by row.
    pub(crate) thresholds: Vec<u16>,
    /// How much of [`FULL`] each threshold stands for, where that is too much for exact
    /// tone without noise to spread it; otherwise empty.
    pub(crate) widths: Vec<u16>,
}

/// A threshold may stand for this much before noise has to spread it: 0.8 %.
const WIDEST: u64 = FULL as u64 / 125;

/// The level of solid ink; a pixel is inked where its level is above the threshold.
pub(crate) const FULL: u16 = u16::MAX;

impl Dot {
    /// The thresholds of a cell for dots so many film pixels apart. `met` lists the places in
    /// the cell, in 2^-32 of its sides, that the pixels of a patch of film fall on: dots in
    /// step with the pixels meet only a few, and tone is exact over those.
    pub(crate) fn cell(
        &self,
        period: f64,
        met: impl Iterator<Item = (u32, u32)>,
    ) -> Result<Cell, ToneError> {
        if let Self::Own { side, values } = self {
            let fits = (2..=1024).contains(side) && values.len() as u64 == u64::from(*side).pow(2);
            if !fits {
                return Err(ToneError::Tile(values.len(), *side));
            }
        }
        let power = if period < 48.0 { 7 } else { 8 };
        let side = 1_usize << power;
        let mut places: Vec<(f64, f64, usize)> = (0..side * side)
            .map(|at| {
                let (u, v) = ((at % side) as f64 + 0.5, (at / side) as f64 + 0.5);
                let (u, v) = (u / side as f64, v / side as f64);
                (self.height(u, v), round(u, v), at)
            })
            .collect();
        // Highest first; equals from the middle outwards, then in reading order.
        places.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.total_cmp(&a.1)).then(a.2.cmp(&b.2)));
        let mut cell = Cell { power, thresholds: vec![0; side * side], widths: Vec::new() };
        let mut counts = vec![0_u64; side * side];
        for place in met {
            counts[cell.index(place)] += 1;
        }
        let total = counts.iter().sum::<u64>().max(1);
        let full = u64::from(FULL);
        let mut before = 0;
        for (_, _, at) in places {
            let middle = (2 * before + counts[at]) * full / (2 * total);
            cell.thresholds[at] = middle.min(full - 1) as u16;
            before += counts[at];
        }
        if counts.iter().any(|count| count * full / total > WIDEST) {
            cell.widths = counts.iter().map(|count| (count * full / total) as u16).collect();
        }
        Ok(cell)
    }

    /// How early a place in the cell is inked: the highest first. The dot's middle is the
    /// cell's corner.
    fn height(&self, u: f64, v: f64) -> f64 {
        let wave = |t: f64| (std::f64::consts::TAU * t).cos();
        match self {
            Self::Round => round(u, v),
            Self::Elliptical => 0.73 * wave(u) + wave(v),
            Self::Line => wave(v),
            Self::Own { side, values } => {
                // The tile's middle is the dot's middle.
                let at = |t: f64| (((t + 0.5) * f64::from(*side)) as u32 % side) as usize;
                -f64::from(values[at(v) * *side as usize + at(u)])
            }
        }
    }
}

impl Cell {
    /// Where the threshold of a place is kept.
    pub(crate) fn index(&self, (u, v): (u32, u32)) -> usize {
        let shift = 32 - self.power;
        ((v >> shift) << self.power | u >> shift) as usize
    }
}

fn round(u: f64, v: f64) -> f64 {
    let wave = |t: f64| (std::f64::consts::TAU * t).cos();
    wave(u) + wave(v)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cell of which all places are met alike.
    fn cell(dot: &Dot) -> Cell {
        let place = |i: u32| (i % 128) << 25;
        dot.cell(12.0, (0..128 * 128).map(|i| (place(i), place(i / 128)))).unwrap()
    }

    /// The share at which ink first runs from one side of the cell to the other along an axis.
    fn joins(dot: &Dot, along_u: bool) -> f64 {
        let cell = cell(dot);
        let side = 1 << cell.power;
        // By symmetry the line through the dots' middles is the first to close.
        let line = (0..side).map(|i| cell.thresholds[if along_u { i } else { i * side }]);
        f64::from(line.max().unwrap()) / f64::from(FULL)
    }

    #[test]
    fn dots_meet_where_they_should() {
        assert!((joins(&Dot::Round, true) - 0.5).abs() < 0.02);
        assert!((joins(&Dot::Round, false) - 0.5).abs() < 0.02);
        assert!(
            (joins(&Dot::Elliptical, true) - 0.4).abs() < 0.02,
            "{}",
            joins(&Dot::Elliptical, true)
        );
        assert!((joins(&Dot::Elliptical, false) - 0.6).abs() < 0.02);
        assert!(joins(&Dot::Line, true) < 0.02);
    }

    #[test]
    fn every_dot_covers_the_share_it_is_asked() {
        let own = Dot::Own { side: 3, values: vec![200, 100, 200, 100, 0, 100, 200, 100, 200] };
        for dot in [Dot::Round, Dot::Elliptical, Dot::Line, own] {
            let cell = cell(&dot);
            for percent in 0..=100_u32 {
                let level = u32::from(FULL) * percent / 100;
                let inked = cell.thresholds.iter().filter(|t| u32::from(**t) < level).count();
                let share = inked as f64 / cell.thresholds.len() as f64;
                assert!(
                    (share - f64::from(percent) / 100.0).abs() < 1e-3,
                    "{dot:?} {percent} {share}"
                );
            }
        }
        assert!(Dot::Own { side: 3, values: vec![0; 8] }.cell(12.0, std::iter::empty()).is_err());
    }
}
