use crate::figure::{number, show_length};
use crate::{Mesh, Quantity, Section, Source};
use measure::{Angle, Length, Resolution, Ruling, Unit};

/// The tones a halftone cell can hold: (resolution / ruling)² + 1, whole.
pub fn levels(resolution: Resolution, ruling: Ruling) -> u64 {
    let cell = (resolution.to_ppi() / ruling.to_lpi()).powi(2);
    (cell + 1e-9).floor() as u64 + 1
}

/// The period of the moiré between two line patterns of these periods at an angle:
/// 1/√(f₁² + f₂² − 2 f₁ f₂ cos θ). Equal patterns: 1/(2 f sin(θ/2)). None if they do not beat.
pub fn moire_period(first: Length, second: Length, angle: Angle) -> Option<Length> {
    let (f, g) = (1.0 / first.to_mm(), 1.0 / second.to_mm());
    // Written so that nearly equal patterns lose no digits.
    let square = (f - g).powi(2) + 4.0 * f * g * (angle.to_rad() / 2.0).sin().powi(2);
    (square > 1e-24).then(|| Length::mm(1.0 / square.sqrt()))
}

/// The worst moiré of a ruling with a mesh: the longest beat of the first six harmonics
/// of the ruling with the threads, for the threads both ways. The angle is that of the
/// ruling to the warp.
pub fn worst_moire(ruling: Ruling, mesh: &Mesh, angle: Angle) -> Option<(u32, Length)> {
    let mut worst: Option<(u32, Length)> = None;
    for harmonic in 1..=6 {
        let period = ruling.period() / f64::from(harmonic);
        // A square dot pattern and a square weave repeat every quarter turn.
        let folded = angle.to_deg().rem_euclid(90.0);
        for turn in [folded, 90.0 - folded] {
            if let Some(beat) = moire_period(period, mesh.pitch(), Angle::deg(turn))
                && worst.is_none_or(|w| beat > w.1)
            {
                worst = Some((harmonic, beat));
            }
        }
    }
    worst
}

/// The halftone section of the plan.
pub(crate) fn section(
    ruling: Ruling,
    angle: Angle,
    resolution: Resolution,
    mesh: &Mesh,
    unit: Unit,
) -> Section {
    let mut s = Section::new("halftone", "Halftone");
    let lpi = ruling.to_lpi();
    let tones = levels(resolution, ruling);
    let how = format!("({} ppi / {} lpi)\u{b2} + 1", number(resolution.to_ppi()), number(lpi));
    s.add("tones", Quantity::Count(tones), how, Source::Arithmetic);
    let threads = mesh.per_inch() / lpi;
    let how = format!("{:.1} per in / {} lpi", mesh.per_inch(), number(lpi));
    let source = Source::Trade("3.5 to 5 is usual; exact prediction is impossible");
    s.add("threads for one line", Quantity::Factor(threads), how, source);
    let folded = angle.to_deg().rem_euclid(45.0);
    if folded.min(45.0 - folded) < 3.0 {
        s.warn(format!(
            "An angle of {}\u{b0} to the threads is among the worst for moir\u{e9}; 22.5\u{b0} is safer.",
            number(angle.to_deg())
        ));
    }
    if let Some((harmonic, beat)) = worst_moire(ruling, mesh, angle) {
        let how = format!(
            "1/\u{221a}(f\u{b2} + g\u{b2} - 2fg cos {}\u{b0}), f = {harmonic} \u{d7} {} lpi, g = {:.1} threads per in",
            number(angle.to_deg()),
            number(lpi),
            mesh.per_inch()
        );
        s.add("longest moir\u{e9}", Quantity::Length(beat), how, Source::Arithmetic);
        if beat > ruling.period() * 3.0 {
            s.warn(format!(
                "The ruling beats with the mesh every {}; change the angle or the ruling a little and print a test.",
                show_length(beat, unit)
            ));
        }
    }
    if tones < 32 {
        s.warn(format!(
            "{tones} tones show steps; lower the ruling or raise the film's resolution."
        ));
    }
    s.note("Screen prints gain in the middle tones and lose the lightest; measure a tint ladder.");
    s
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tones_of_a_cell() {
        // ISO 12647-9:2021, 4.2.2 asks for 150 steps, and 1000/cm at 80/cm: formula 157.
        for (ppi, lpi, n) in
            [(720.0, 45.0, 257), (1440.0, 45.0, 1025), (600.0, 45.0, 178), (2540.0, 203.2, 157)]
        {
            assert_eq!(levels(Resolution::ppi(ppi), Ruling::lpi(lpi)), n);
        }
    }

    #[test]
    fn moire_of_equal_patterns() {
        // Period 1/(2 f sin(θ/2)): 10 per cm at 5 degrees, 1.146 cm.
        let p = Length::mm(1.0);
        let beat = moire_period(p, p, Angle::deg(5.0)).unwrap();
        assert!((beat.to_cm() - 1.146).abs() < 5e-4);
        assert_eq!(moire_period(p, p, Angle::ZERO), None);
        // Parallel patterns of 10 and 11 per cm beat once a centimetre.
        let beat = moire_period(p, Length::cm(1.0 / 11.0), Angle::ZERO).unwrap();
        assert!((beat.to_cm() - 1.0).abs() < 1e-9);
        // A harmonic that meets the mesh is found: 4 x 27.305 lpi against 43 per cm.
        let mesh = Mesh::new(43.0, 80.0);
        let worst = worst_moire(Ruling::lpi(mesh.per_inch() / 4.01), &mesh, Angle::ZERO).unwrap();
        assert_eq!(worst.0, 4);
        assert!(worst.1 > Length::mm(50.0));
        let turned =
            worst_moire(Ruling::lpi(mesh.per_inch() / 4.01), &mesh, Angle::deg(22.5)).unwrap();
        assert!(turned.1 < Length::mm(1.0));
    }
}
