use crate::ToneError;
use serde::{Deserialize, Serialize};

/// What a shop's prints make of a film's dots: points of (share on film, share in print),
/// rising, with straight lines between. Without points, print and film agree.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    points: Vec<(f64, f64)>,
}

impl Curve {
    /// A curve through measured points of (share on film, share in print), 0 to 1. Bare and
    /// solid are added where they are missing.
    ///
    /// # Errors
    /// Where the points do not rise, or leave 0..=1.
    pub fn measured(points: &[(f64, f64)]) -> Result<Self, ToneError> {
        let mut all = vec![(0.0, 0.0)];
        all.extend(points.iter().filter(|(film, _)| *film > 0.0 && *film < 1.0));
        all.push((1.0, 1.0));
        for pair in all.windows(2) {
            let rises = pair[1].0 > pair[0].0 && pair[1].1 > pair[0].1;
            if !rises {
                return Err(ToneError::Curve(pair[1].1, pair[0].1));
            }
        }
        Ok(Self { points: all })
    }

    /// A curve from densities of printed wedge steps above the bare garment: points of
    /// (share on film, density), and the solid's density, by the Yule-Nielsen formula.
    ///
    /// # Errors
    /// Where the printed shares do not rise.
    pub fn from_densities(points: &[(f64, f64)], solid: f64, n: f64) -> Result<Self, ToneError> {
        let shares: Vec<_> =
            points.iter().map(|(film, d)| (*film, yule_nielsen(*d, solid, n))).collect();
        Self::measured(&shares)
    }

    /// The share in print of a share on film.
    pub fn print_of(&self, film: f64) -> f64 {
        follow(&self.points, film, |p| p)
    }

    /// The share that film must carry for a share in print.
    pub fn film_for(&self, print: f64) -> f64 {
        follow(&self.points, print, |(film, print)| (print, film))
    }
}

/// The printed share of ink from densities above the bare ground (Murray 1936; the equation
/// is credited to Davies): (1 - 10^-Dt) / (1 - 10^-Ds).
pub fn murray_davies(tint: f64, solid: f64) -> f64 {
    yule_nielsen(tint, solid, 1.0)
}

/// The same allowing for light that spreads in the ground (Yule, Nielsen 1951); `n` is 1
/// where none does, to about 2 where all does.
pub fn yule_nielsen(tint: f64, solid: f64, n: f64) -> f64 {
    (1.0 - 10_f64.powf(-tint / n)) / (1.0 - 10_f64.powf(-solid / n))
}

fn follow(points: &[(f64, f64)], at: f64, turn: impl Fn((f64, f64)) -> (f64, f64)) -> f64 {
    let at = at.clamp(0.0, 1.0);
    for pair in points.windows(2) {
        let ((x0, y0), (x1, y1)) = (turn(pair[0]), turn(pair[1]));
        if at <= x1 {
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0);
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulae_agree_with_worked_values() {
        // Worked from the published formulae: tint .5, solid 1.2.
        for (n, expected) in [(1.0, 0.7298), (1.7, 0.6126), (2.0, 0.5845)] {
            assert!((yule_nielsen(0.5, 1.2, n) - expected).abs() < 5e-5, "n {n}");
        }
        // A half tint under a solid of 1.2 reads a density of .2745.
        assert!((murray_davies(0.2745, 1.2) - 0.5).abs() < 2e-4);
    }

    #[test]
    fn film_and_print_are_each_others_inverse() {
        let curve = Curve::measured(&[(0.25, 0.35), (0.5, 0.65), (0.75, 0.88)]).unwrap();
        assert!((curve.print_of(0.5) - 0.65).abs() < 1e-12);
        assert!((curve.film_for(0.65) - 0.5).abs() < 1e-12);
        for i in 0..=20 {
            let share = f64::from(i) / 20.0;
            assert!((curve.print_of(curve.film_for(share)) - share).abs() < 1e-12);
        }
        assert_eq!(Curve::default().film_for(0.3), 0.3);
        assert!(Curve::measured(&[(0.5, 0.6), (0.6, 0.5)]).is_err());
        assert!(Curve::measured(&[(0.5, f64::NAN)]).is_err());
    }
}
