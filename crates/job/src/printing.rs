use crate::{JobError, Tone};
use ::tone::{Curve, Hold};
use measure::{Length, Unit};
use serde::{Deserialize, Serialize};

/// How tone comes out in the shop's prints, so that film can allow for it. As new, print and
/// film agree and every dot holds.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Printing {
    /// A printed wedge's readings; none where none was measured.
    pub gain: Option<Gain>,
    /// How wide the smallest dot is that the screen holds; a hole no wider fills in. Smaller
    /// ones go to nothing or to the least that holds, whichever is nearer.
    pub smallest_dot: Length,
    /// Whether hard edges are kept as they are, with dots only where the picture is tone.
    pub mixed: bool,
}

/// Densities of a printed wedge above the bare garment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Gain {
    /// Each step's share of ink on film, 0 to 1, and its density in print.
    pub steps: Vec<(f64, f64)>,
    /// The solid's density.
    pub solid: f64,
    /// Yule and Nielsen's factor: 1 (Murray and Davies) where no light spreads in the cloth,
    /// to about 2.
    #[serde(default = "one")]
    pub n: f64,
}

fn one() -> f64 {
    1.0
}

impl Printing {
    /// Whether nothing is asked for.
    pub fn is_plain(&self) -> bool {
        *self == Self::default()
    }

    pub(crate) fn check(&self) -> Result<(), JobError> {
        let bad = |what, given: String, range: &str| {
            Err(JobError::BadNumber { what, given, range: range.into() })
        };
        let dot = self.smallest_dot;
        if !(dot.is_finite() && dot >= Length::ZERO && dot <= Length::mm(20.0)) {
            return bad("the smallest dot", dot.show(Unit::Mm), "a length from 0 to 20 mm");
        }
        let Some(gain) = &self.gain else { return Ok(()) };
        if !(gain.solid > 0.0 && gain.solid <= 6.0) {
            return bad("the solid's density", gain.solid.to_string(), "a density from 0 to 6");
        }
        if !(1.0..=4.0).contains(&gain.n) {
            return bad("Yule and Nielsen's factor", gain.n.to_string(), "a factor from 1 to 4");
        }
        if gain.steps.iter().any(|(share, d)| !(0.0..=1.0).contains(share) || !d.is_finite()) {
            let range = "a share of film from 0 to 1 and a density for each step";
            return bad("a wedge step", "outside 0 to 1".into(), range);
        }
        self.curve().map(|_| ())
    }

    /// What prints make of film's shares.
    pub(crate) fn curve(&self) -> Result<Option<Curve>, JobError> {
        let curve = self.gain.as_ref().map(|g| Curve::from_densities(&g.steps, g.solid, g.n));
        Ok(curve.transpose()?)
    }

    /// The least and the most tone that a screen of dots holds; of grain, its own size says.
    pub fn hold(&self, tone: &Tone) -> Hold {
        match tone {
            Tone::Dots { ruling, .. } if self.smallest_dot > Length::ZERO => {
                Hold::of_dot(self.smallest_dot, *ruling)
            }
            _ => Hold::ALL,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Edit, Job, build};
    use artwork::Picture;
    use measure::Resolution;
    use progress::Progress;

    fn ink(job: &Job, grey: u8) -> f64 {
        let picture = Picture::grey(30, 30, vec![grey; 900]);
        let surface = build::surface(job, &picture, &Progress::none()).unwrap();
        let film = build::film(job, &picture, &surface, &Progress::none()).unwrap();
        bitmap::collect(&*film.raster).count() as f64 / (600.0 * 600.0)
    }

    fn dots(printing: Printing) -> Job {
        let job = Job {
            width: Length::inches(2.0),
            resolution: Resolution::ppi(300.0),
            tone: Tone::DOTS,
            ..Job::default()
        };
        job.apply(Edit::Printing(printing)).unwrap()
    }

    /// A wedge whose half tone prints as .65 by Murray and Davies, at a solid of 1.2:
    /// density -log10(1 - .65 (1 - 10^-1.2)) = .4076. Film for half a tone is then
    /// .5 x .5 / .65 = .3846.
    #[test]
    fn film_allows_for_measured_gain() {
        let gain = |n| Gain { steps: vec![(0.5, 0.4076)], solid: 1.2, n };
        let with = |n| Printing { gain: Some(gain(n)), ..Printing::default() };
        let plain = ink(&dots(Printing::default()), 128);
        assert!((plain - 127.0 / 255.0).abs() < 0.005, "{plain}");
        let curved = ink(&dots(with(1.0)), 128);
        assert!((curved - 0.3846 * 127.0 / 127.5).abs() < 0.005, "{curved}");
        // Where light spreads in the cloth (Yule, Nielsen) the same reading is of less ink,
        // so that film may carry more.
        assert!(ink(&dots(with(2.0)), 128) > curved + 0.03);
    }

    #[test]
    fn dots_that_would_wash_out_go_to_nothing_or_to_the_least() {
        // A dot of .5 mm at 25 lpi covers pi / 4 x (.5 / 1.016)^2 = .190 of its cell.
        let printing = Printing { smallest_dot: Length::mm(0.5), ..Printing::default() };
        let job = dots(printing);
        for (share, held) in [(0.05, 0.0), (0.15, 0.190), (0.4, 0.4), (0.85, 0.810), (0.96, 1.0)] {
            let got = ink(&job, 255 - (share * 255.0_f64).round() as u8);
            assert!((got - held).abs() < 0.006, "{share}: {got} not {held}");
        }
    }

    #[test]
    fn a_mixed_film_keeps_hard_edges_and_screens_tone() {
        // A bar of solid ink on the left, a field of half tone on the right.
        let grey = |x: usize| match x {
            4..10 => 0,
            20.. => 128,
            _ => 255,
        };
        let picture = Picture::grey(40, 40, (0..1600).map(|i| grey(i % 40)).collect::<Vec<u8>>());
        let film = |job: &Job| {
            let surface = build::surface(job, &picture, &Progress::none()).unwrap();
            bitmap::collect(
                &*build::film(job, &picture, &surface, &Progress::none()).unwrap().raster,
            )
        };
        let mixed = film(&dots(Printing { mixed: true, ..Printing::default() }));
        let cut = film(&Job { tone: Tone::Cut, ..dots(Printing::default()) });
        // 15 film pixels a picture pixel.
        for y in 0..600 {
            assert!((0..240).all(|x| mixed.get(x, y) == cut.get(x, y)), "row {y}");
        }
        let count = (100..500).flat_map(|y| (360..560).map(move |x| (x, y)));
        let share = count.filter(|(x, y)| mixed.get(*x, *y)).count() as f64 / 80_000.0;
        assert!((share - 127.0 / 255.0).abs() < 0.02, "{share}");
    }

    #[test]
    fn readings_that_cannot_be_are_refused() {
        let gain = |steps: &[(f64, f64)], solid, n| {
            let gain = Some(Gain { steps: steps.to_vec(), solid, n });
            Edit::Printing(Printing { gain, ..Printing::default() })
        };
        for edit in [
            gain(&[(0.5, 0.4)], 0.0, 1.0),
            gain(&[(0.5, 0.4)], 1.2, 9.0),
            gain(&[(0.5, f64::NAN)], 1.2, 1.0),
            gain(&[(0.3, 0.5), (0.6, 0.2)], 1.2, 1.0),
            gain(&[(1.5, 0.5)], 1.2, 1.0),
            Edit::Printing(Printing { smallest_dot: Length::mm(-1.0), ..Printing::default() }),
        ] {
            let error = Job::default().apply(edit).unwrap_err();
            assert!(!error.hint().is_empty());
        }
    }
}
