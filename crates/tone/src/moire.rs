use measure::{Angle, Length, Ruling};

/// A beat between a screen of dots and the threads of a mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moire {
    /// The distance from one light band to the next.
    pub period: Length,
    /// How many waves of dots and threads take part; the fewer, the plainer it shows.
    pub order: u32,
}

/// The beat that shows most between dots and a mesh of this thread pitch, whose threads run
/// along and across the film. None where all beats are finer than a dot, or of so high an
/// order that they do not show.
///
/// Each regular pattern is a lattice of waves; two waves beat at the difference of their
/// wave vectors. Two equal frequencies f turned by an angle t beat at a period of
/// 1 / (2 f sin(t / 2)).
pub fn moire(pitch: Length, ruling: Ruling, angle: Angle) -> Option<Moire> {
    let threads = 1.0 / pitch.to_mm();
    let dots = 1.0 / ruling.period().to_mm();
    let (sin, cos) = angle.sin_cos();
    let mut plainest: Option<(f64, Moire)> = None;
    for (a, b) in
        (-HARMONICS..=HARMONICS).flat_map(|a| (-HARMONICS..=HARMONICS).map(move |b| (a, b)))
    {
        if (a, b) == (0, 0) {
            continue;
        }
        let (fx, fy) = (
            dots * (f64::from(a) * cos - f64::from(b) * sin),
            dots * (f64::from(a) * sin + f64::from(b) * cos),
        );
        for (m, n) in [(1_i32, 0_i32), (0, 1), (1, 1), (1, -1), (2, 0), (0, 2)] {
            let beat = (fx - threads * f64::from(m)).hypot(fy - threads * f64::from(n));
            let order = a.unsigned_abs() + b.unsigned_abs() + m.unsigned_abs() + n.unsigned_abs();
            // Finer than two dots is grain, not a band.
            if beat * 2.0 > dots {
                continue;
            }
            let period = Length::mm(1.0 / beat.max(1e-6));
            // Each further harmonic is fainter; a longer band shows more, up to the garment's size.
            let weight = period.to_mm().min(500.0).ln() - 0.9 * f64::from(order);
            if plainest.is_none_or(|(most, _)| weight > most) {
                plainest = Some((weight, Moire { period, order }));
            }
        }
    }
    plainest.map(|(_, moire)| moire)
}

/// Dots' edges are sharp, so that their waves have harmonics; past this they hardly show.
const HARMONICS: i32 = 6;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_frequencies_beat_as_the_formula_says() {
        // 10 lines a cm turned 5 degrees: 1 / (2 x 10 sin 2.5 deg) = 1.146 cm.
        let found = moire(Length::mm(1.0), Ruling::lpi(25.4), Angle::deg(5.0)).unwrap();
        assert!((found.period.to_cm() - 1.146).abs() < 1e-3, "{found:?}");
        assert_eq!(found.order, 2);
    }

    #[test]
    fn dots_in_step_with_the_threads_beat_worst() {
        let pitch = Length::mm(25.4 / 110.0);
        let level = moire(pitch, Ruling::lpi(27.4), Angle::deg(0.0)).unwrap();
        let turned = moire(pitch, Ruling::lpi(27.4), Angle::deg(22.5));
        assert!(level.period.to_mm() > 30.0, "{level:?}");
        assert!(turned.is_none_or(|m| m.period < level.period), "{turned:?}");
    }
}
