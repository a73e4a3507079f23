use measure::{Length, Ruling};
use serde::{Deserialize, Serialize};

/// The smallest and largest shares of ink that hold on a mesh. A smaller dot washes out and
/// a smaller hole fills in, so each goes to the nearer of nothing and the least that holds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hold {
    /// The smallest share that prints as dots.
    pub smallest: f64,
    /// The largest share that keeps holes open.
    pub largest: f64,
}

impl Hold {
    /// Everything holds.
    pub const ALL: Self = Self { smallest: 0.0, largest: 1.0 };

    /// For round dots at `ruling` of which the smallest that holds is `dot` across, as is
    /// the smallest hole. One thread pitch is the floor and three are safe (common practice,
    /// no source).
    pub fn of_dot(dot: Length, ruling: Ruling) -> Self {
        let across = dot / ruling.period();
        let share = (std::f64::consts::FRAC_PI_4 * across * across).clamp(0.0, 0.5);
        Self { smallest: share, largest: 1.0 - share }
    }

    /// The share that is printed for one asked.
    pub fn of(self, share: f32) -> f32 {
        let (smallest, largest) = (self.smallest as f32, self.largest as f32);
        if share < smallest {
            if share < smallest / 2.0 { 0.0 } else { smallest }
        } else if share > largest {
            if share > (1.0 + largest) / 2.0 { 1.0 } else { largest }
        } else {
            share
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_dots_go_to_nothing_or_to_the_least() {
        // A dot of half the period across covers pi / 16 of its cell.
        let hold = Hold::of_dot(Length::inches(0.02), Ruling::lpi(25.0));
        assert!((hold.smallest - std::f64::consts::PI / 16.0).abs() < 1e-12);
        assert_eq!(hold.of(0.05), 0.0);
        assert_eq!(hold.of(0.15), hold.smallest as f32);
        assert_eq!(hold.of(0.5), 0.5);
        assert_eq!(hold.of(0.85), hold.largest as f32);
        assert_eq!(hold.of(0.95), 1.0);
        assert_eq!(Hold::ALL.of(0.001), 0.001);
    }
}
