use crate::{Moire, moire};
use measure::{Angle, Length, Resolution, Ruling};

/// A ruling and angle that suit a mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Proposal {
    /// Lines of dots per inch.
    pub ruling: Ruling,
    /// The angle.
    pub angle: Angle,
    /// How many shares of ink one dot can show at the film's resolution.
    pub levels: u32,
    /// The beat with the threads that shows most, if any does.
    pub moire: Option<Moire>,
}

/// How many shares of ink one dot can show: the film pixels in its cell, and none.
pub fn levels(resolution: Resolution, ruling: Ruling) -> u32 {
    let across = resolution.to_ppi() / ruling.to_lpi();
    (across * across + 1.0).clamp(1.0, f64::from(u32::MAX)) as u32
}

/// Rulings and angles for a mesh of this thread pitch, best first: a ruling of a quarter to
/// a fifth of the mesh count, at each of the usual angles, by the moire that shows.
///
/// Mesh counts of 4 to 5 times the ruling are common; 0, 45 and 90 degrees lie worst to the
/// threads, and 22.5 degrees is the usual way out (trade press, 2003). Exact prediction is
/// impossible: the first print is the test.
pub fn propose(pitch: Length, resolution: Resolution) -> Vec<Proposal> {
    let mesh_per_inch = Length::inches(1.0) / pitch;
    let mut all = Vec::new();
    for ratio in [4.0, 4.25, 4.5, 4.75, 5.0] {
        for degrees in [7.5, 15.0, 22.5, 30.0, 37.5, 52.5, 61.0, 67.5, 82.5] {
            // Half lines are as fine as anyone sets.
            let ruling = Ruling::lpi((mesh_per_inch / ratio * 2.0).round() / 2.0);
            if ruling.to_lpi() < 1.0 || resolution.to_ppi() / ruling.to_lpi() < 3.0 {
                continue;
            }
            let angle = Angle::deg(degrees);
            all.push(Proposal {
                ruling,
                angle,
                levels: levels(resolution, ruling),
                moire: moire(pitch, ruling, angle),
            });
        }
    }
    // What shows: long bands of low order. Of equals, the usual angle and the finer ruling.
    let shows = |p: &Proposal| {
        let weight =
            p.moire.map_or(-20.0, |m| m.period.to_mm().min(500.0).ln() - 0.9 * f64::from(m.order));
        (weight * 4.0).round() as i64
    };
    let usual = |p: &Proposal| (p.angle.to_deg() - 22.5).abs();
    all.sort_by(|a, b| {
        shows(a)
            .cmp(&shows(b))
            .then(usual(a).total_cmp(&usual(b)))
            .then(b.ruling.to_lpi().total_cmp(&a.ruling.to_lpi()))
    });
    all.dedup_by(|a, b| a.ruling == b.ruling && a.angle == b.angle);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_agree_with_the_formula() {
        // Levels = (resolution / ruling)^2 + 1.
        for (ppi, lpi, expected) in [(720.0, 45.0, 257), (1440.0, 45.0, 1025), (600.0, 45.0, 178)] {
            assert_eq!(levels(Resolution::ppi(ppi), Ruling::lpi(lpi)), expected);
        }
        // ISO 12647-9:2021, 4.2.2: 1000 pixels and 80 lines a cm give at least 150 steps.
        assert!(levels(Resolution::ppi(2540.0), Ruling::lpi(203.2)) >= 150);
    }

    #[test]
    fn proposals_suit_the_mesh() {
        let best = propose(Length::inches(1.0 / 110.0), Resolution::ppi(300.0));
        let first = best.first().unwrap();
        assert!((22.0..=27.5).contains(&first.ruling.to_lpi()), "{first:?}");
        let level = moire(Length::inches(1.0 / 110.0), first.ruling, Angle::ZERO);
        assert!(
            first
                .moire
                .is_none_or(|m| level.is_some_and(|l| m.period < l.period || m.order > l.order))
        );
        assert!(propose(Length::inches(1.0 / 1000.0), Resolution::ppi(100.0)).is_empty());
    }
}
