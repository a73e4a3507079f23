use crate::figure::{number, show_length, show_time};
use crate::settings::{check_number, settings};
use crate::{Error, Figure, Lamp, Quantity, Section, Source};
use measure::{Length, Unit};

settings! {
    /// What is known of emulsion and film.
    pub struct ExposureSettings {
        /// The time found good for one layer of film at this lamp and distance.
        time_secs: f64 = 300.0, "s", 1.0..=36_000.0, Source::Practice;
        /// How many times the shortest good time the longest good time is; two wedge steps are 2.
        latitude: f64 = 2.0, "times", 1.0..=16.0, Source::Practice;
        /// The density of one wedge step.
        wedge_step: f64 = 0.15, "D", 0.02..=0.6, Source::Trade("21-step wedge, half a stop a step");
        /// The wedge step that should be the last one to hold.
        target_step: f64 = 7.0, "steps", 1.0..=21.0, Source::Practice;
        /// The density of the clear film, measured in the lamp's band.
        clear_density: f64 = 0.05, "D", 0.0..=1.0,
            Source::Trade("film targets: clear at most 0.06 to 0.10");
        /// The density of the printed black, measured in the lamp's band.
        black_density: f64 = 3.0, "D", 0.5..=6.0, Source::Trade("film targets: at least 3.0 to 4.0");
        /// Whether there is air between the two films of an overlap rather than glue.
        air_in_overlap: bool = true, "", (), Source::Practice;
        /// The refractive index of the film.
        film_index: f64 = 1.64, "", 1.3..=1.8, Source::Recalled("polyester film, optics tables");
        /// How thick the film is.
        film_thickness: Length = Length::mm(0.1), "", Length::mm(0.02)..=Length::mm(1.0), Source::Shop;
        /// The largest gap expected between film and emulsion, without vacuum.
        gap: Length = Length::mm(0.1), "", Length::ZERO..=Length::mm(10.0), Source::Practice;
    }
}

/// The part of light that passes a density: T = 10^−D (ISO 5-1).
pub fn transmittance(density: f64) -> f64 {
    10.0_f64.powf(-density)
}

/// The density of a transmittance: D = −log₁₀ T (ISO 5-1).
pub fn density(transmittance: f64) -> f64 {
    -transmittance.log10()
}

/// How many times the light so many wedge steps are: 10^(step · n).
pub fn wedge_factor(steps: f64, step_density: f64) -> f64 {
    10.0_f64.powf(steps * step_density)
}

/// The time that moves the last held wedge step from `held` to `target`.
pub fn time_from_wedge(secs: f64, held: f64, target: f64, step_density: f64) -> f64 {
    secs * wedge_factor(target - held, step_density)
}

/// The time through clear film of another density: t · 10^(D₂ − D₁) (ISO 5-1).
pub fn time_for_density(secs: f64, from: f64, to: f64) -> f64 {
    secs * transmittance(from) / transmittance(to)
}

/// The right time by a step wedge that was exposed for `secs` and held up to the step `held`.
///
/// # Errors
/// [`Error::Range`] where that makes no time that can be exposed.
pub fn time_by_wedge(secs: f64, held: f64, known: &ExposureSettings) -> Result<Figure, Error> {
    check_number("wedge step", held, 0.0..=40.0, "")?;
    let time = time_from_wedge(secs, held, known.target_step, known.wedge_step);
    check_number("time by the wedge", time, SECS, "s")?;
    let how = format!(
        "{} \u{d7} 10^({} \u{d7} (wanted step {} - held step {}))",
        show_time(secs),
        number(known.wedge_step),
        number(known.target_step),
        number(held)
    );
    let source = Source::Trade("21-step wedge, half a stop a step");
    Ok(Figure { name: "time by wedge".into(), value: Quantity::Time(time), how, source })
}

/// The time with the lamp at another distance and through clear film of another density.
///
/// # Errors
/// [`Error::NotAPoint`] where the square of the distance does not hold for the lamp;
/// [`Error::Range`] where that makes no time that can be exposed.
pub fn time_elsewhere(
    lamp: &Lamp,
    known: &ExposureSettings,
    distance: Length,
    clear_density: f64,
    unit: Unit,
) -> Result<Figure, Error> {
    check_number("clear density", clear_density, 0.0..=1.0, "D")?;
    let through = time_for_density(known.time_secs, known.clear_density, clear_density);
    let moved = distance != lamp.distance;
    let time = if moved { lamp.time_at(through, distance)? } else { through };
    check_number("time there", time, SECS, "s")?;
    let how = format!(
        "{} \u{d7} 10^({} - {}) \u{d7} ({} / {})\u{b2}",
        show_time(known.time_secs),
        number(clear_density),
        number(known.clear_density),
        show_length(distance, unit),
        show_length(lamp.distance, unit)
    );
    let source = Source::Published("ISO 5-1; inverse square law");
    Ok(Figure { name: "scaled time".into(), value: Quantity::Time(time), how, source })
}

/// The times that are exposed.
const SECS: std::ops::RangeInclusive<f64> = 1.0..=36_000.0;

/// The light reflected at a smooth face at a right angle: ((n − 1)/(n + 1))² (Fresnel).
pub fn fresnel(index: f64) -> f64 {
    ((index - 1.0) / (index + 1.0)).powi(2)
}

/// The light that passes `sheets` clear sheets with air between them, without absorption:
/// (1 − R)/(1 + (2s − 1) R), light reflected to and fro included.
pub fn through_sheets(index: f64, sheets: u32) -> f64 {
    if sheets == 0 {
        return 1.0;
    }
    let r = fresnel(index);
    (1.0 - r) / (1.0 + (2.0 * f64::from(sheets) - 1.0) * r)
}

/// How many times the time the seam needs, where two layers of clear film lie.
pub fn seam_factor(settings: &ExposureSettings) -> f64 {
    let absorbed = 1.0 / transmittance(settings.clear_density);
    let reflected = if settings.air_in_overlap {
        through_sheets(settings.film_index, 1) / through_sheets(settings.film_index, 2)
    } else {
        1.0
    };
    absorbed * reflected
}

/// The one time that serves film and seam alike, in the middle of what both allow:
/// t·√f. None if the seam needs more than the emulsion forgives.
pub fn time_for_both(secs: f64, factor: f64, latitude: f64) -> Option<f64> {
    (factor <= latitude).then(|| secs * factor.sqrt())
}

/// How far light creeps under the edge of the black over an air gap: g·tan θ.
pub fn undercut_in_air(gap: Length, tangent: f64) -> Length {
    gap * tangent
}

/// How far light creeps through film of this index, by Snell's law: t·tan(asin(sin θ / n)).
pub fn undercut_in_film(thickness: Length, tangent: f64, index: f64) -> Length {
    let sine = tangent.atan().sin() / index;
    thickness * sine.asin().tan()
}

/// The exposure section of the plan. `reach` is how far from the lamp's axis, along the
/// screen, the farthest exposed point lies.
pub(crate) fn section(
    reach: Length,
    seams: bool,
    finest: Option<Length>,
    lamp: &Lamp,
    settings: &ExposureSettings,
    unit: Unit,
) -> Section {
    let mut s = Section::new("exposure", "Exposure");
    let t = settings.time_secs;
    s.add(
        "time for one layer",
        Quantity::Time(t),
        "set in the shop, best from a test strip",
        Source::Shop,
    );
    let away = show_length(lamp.distance, unit);
    let words = Quantity::Words(format!("{} at {away}", lamp.kind.name()));
    s.add("lamp", words, "chosen", Source::Shop);
    if lamp.is_small(lamp.distance) {
        s.note(format!(
            "At another distance the time grows by (new / {away})\u{b2}, as long as that is over five times the lamp's size."
        ));
    } else {
        s.note(format!(
            "At another distance make a new test strip: the square of the distance does not hold for this {} at {away}.",
            lamp.kind.name()
        ));
    }
    let contrast = settings.black_density - settings.clear_density;
    let through = Quantity::Share(transmittance(contrast));
    let how =
        format!("10^-({} - {})", number(settings.black_density), number(settings.clear_density));
    s.add("light through the black, against the clear", through, how, Source::Published("ISO 5-1"));
    if settings.black_density < 3.0 {
        s.warn(format!(
            "A black of density {} is thin; films for screens are asked for 3.0 or more.",
            number(settings.black_density)
        ));
    }
    if seams {
        seam(&mut s, settings);
    }
    undercut(&mut s, reach, finest, lamp, settings, unit);
    s
}

fn seam(s: &mut Section, settings: &ExposureSettings) {
    let (t, latitude) = (settings.time_secs, settings.latitude);
    let factor = seam_factor(settings);
    let air = if settings.air_in_overlap {
        let (one, two) =
            (through_sheets(settings.film_index, 1), through_sheets(settings.film_index, 2));
        format!(" \u{d7} reflections {} / {}", number(one), number(two))
    } else {
        String::new()
    };
    let how = format!("10^{} for the second clear layer{air}", number(settings.clear_density));
    let source = Source::Published("ISO 5-1; Fresnel's equations");
    s.add("light needed in overlaps", Quantity::Factor(factor), how, source);
    let how = format!("log10 {} / {}", number(factor), number(settings.wedge_step));
    let steps = factor.log10() / settings.wedge_step;
    s.add("overlap in wedge steps", Quantity::Other(steps, "steps"), how, Source::Arithmetic);
    match time_for_both(t, factor, latitude) {
        Some(both) => {
            let how = format!(
                "{} \u{d7} \u{221a}{}: the middle of what film and overlap allow",
                show_time(t),
                number(factor)
            );
            s.add("one time for both", Quantity::Time(both), how, Source::Arithmetic);
            let root = latitude.sqrt();
            let (low, high) = (t * factor / root, t * root);
            let how = format!("latitude {} around each one's own time", number(latitude));
            let range = Quantity::Words(format!("{} to {}", show_time(low), show_time(high)));
            s.add("both hold within", range, how, Source::Arithmetic);
        }
        None => s.warn(format!(
            "The overlaps need {} times the light, more than the emulsion's latitude of {}: cover the rest and give the overlaps {} more.",
            number(factor),
            number(latitude),
            show_time(t * (factor - 1.0))
        )),
    }
}

fn undercut(
    s: &mut Section,
    reach: Length,
    finest: Option<Length>,
    lamp: &Lamp,
    settings: &ExposureSettings,
    unit: Unit,
) {
    let tangent = lamp.flattest(reach);
    let degrees = tangent.atan().to_degrees();
    let how = format!(
        "atan((farthest point {} + half lamp) / {})",
        show_length(reach, unit),
        show_length(lamp.distance, unit)
    );
    let angle = Quantity::Other(degrees, "degrees");
    s.add("flattest light", angle, how, Source::Arithmetic);
    let down = undercut_in_air(settings.gap, tangent);
    let um = |l: Length| number(l.to_mm() * 1000.0);
    let how = format!("gap {} \u{3bc}m \u{d7} tan {}\u{b0}", um(settings.gap), number(degrees));
    s.add("undercut, printed side down", Quantity::Fine(down), how, Source::Arithmetic);
    let up = down + undercut_in_film(settings.film_thickness, tangent, settings.film_index);
    let how = format!(
        "that + film {} \u{3bc}m \u{d7} tan(asin(sin {}\u{b0} / {}))",
        um(settings.film_thickness),
        number(degrees),
        number(settings.film_index)
    );
    let source = Source::Published("Snell's law");
    s.add("undercut, printed side up", Quantity::Fine(up), how, source);
    s.note("Tape the films printed side down on the emulsion: the film's own thickness then undercuts nothing.");
    if let Some(line) = finest.filter(|line| down * 2.0 > *line) {
        s.warn(format!(
            "Light creeps {} \u{3bc}m under both edges at the corners and closes the finest line, {} mm: press the film flat or raise the lamp.",
            um(down),
            number(line.to_mm())
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn densities_by_iso_5() {
        for (d, t) in [(0.05, 0.8913), (0.15, 0.7079), (0.3, 0.5012), (3.0, 0.001)] {
            assert!((transmittance(d) - t).abs() < 5e-5);
            assert!((density(transmittance(d)) - d).abs() < 1e-12);
        }
        // A clear film of 0.15 rather than 0.05: 10^0.1 = 1.2589 times.
        assert!((time_for_density(100.0, 0.05, 0.15) - 125.89).abs() < 0.01);
        // One extra layer of density 0.05: 1.122 times.
        let glued = ExposureSettings { air_in_overlap: false, ..ExposureSettings::default() };
        assert!((seam_factor(&glued) - 1.122).abs() < 5e-4);
    }

    #[test]
    fn a_wedge_step_is_half_a_stop() {
        // 2^(n/2) of the trade's tables; 0.15 D a step agrees within 2.5 %.
        for (n, factor) in [
            (1.0, 1.414),
            (2.0, 2.0),
            (3.0, 2.828),
            (4.0, 4.0),
            (5.0, 5.657),
            (6.0, 8.0),
            (20.0, 1024.0),
        ] {
            assert!((wedge_factor(n, 0.15) / factor - 1.0).abs() < 0.025, "{n}");
        }
        // Held 5, wanted 7: twice the time; held 9: half of it.
        assert!((time_from_wedge(100.0, 5.0, 7.0, 0.15) / 200.0 - 1.0).abs() < 0.01);
        assert!((time_from_wedge(100.0, 9.0, 7.0, 0.15) / 50.0 - 1.0).abs() < 0.01);
    }

    #[test]
    fn times_found_elsewhere_say_how_and_are_refused_where_they_do_not_hold() {
        let known = ExposureSettings { time_secs: 100.0, ..ExposureSettings::default() };
        // Held 5, wanted 7: twice the time within 2.5 % of the trade's tables.
        let by_wedge = time_by_wedge(100.0, 5.0, &known).unwrap().value.amount().unwrap();
        assert!((by_wedge / 200.0 - 1.0).abs() < 0.025, "{by_wedge}");
        assert!(time_by_wedge(100.0, f64::NAN, &known).is_err());
        assert!(time_by_wedge(36_000.0, 1.0, &known).is_err());
        // 500 to 750 mm: 2.25 times; clear film of 0.15 for 0.05: 1.2589 times.
        let lamp = Lamp::default();
        let at = |mm| time_elsewhere(&lamp, &known, Length::mm(mm), 0.15, Unit::Mm);
        let secs = at(750.0).unwrap().value.amount().unwrap();
        assert!((secs - 225.0 * 1.2589).abs() < 0.01, "{secs}");
        let panel = Lamp { kind: crate::LampKind::Panel, ..lamp.clone() };
        let error = time_elsewhere(&panel, &known, Length::mm(750.0), 0.05, Unit::Mm).unwrap_err();
        assert!(error.to_string().contains("panel"), "{error}");
        // Another film at the same distance needs no law of distance.
        let same = time_elsewhere(&panel, &known, panel.distance, 0.15, Unit::Mm).unwrap();
        assert!((same.value.amount().unwrap() - 125.89).abs() < 0.01);
    }

    #[test]
    fn fresnel_values() {
        // Optics handbooks: n 1.5 reflects 4.00 %, 1.64 5.88 %.
        for (n, r, one, two) in [(1.5, 0.04, 0.9231, 0.8571), (1.64, 0.0588, 0.889, 0.8002)] {
            assert!((fresnel(n) - r).abs() < 5e-5);
            assert!((through_sheets(n, 1) - one).abs() < 5e-5);
            assert!((through_sheets(n, 2) - two).abs() < 5e-5);
        }
        assert_eq!(through_sheets(1.5, 0), 1.0);
    }

    #[test]
    fn undercut_per_tenth_of_a_millimetre() {
        // 18.435 degrees: 33.3 µm in air and 19.7 in film of 1.64; 45 degrees: 100.0 and 47.8.
        for (tan, air, film) in [(1.0 / 3.0, 33.3, 19.7), (1.0, 100.0, 47.8)] {
            let t = Length::mm(0.1);
            assert!((undercut_in_air(t, tan).to_mm() * 1000.0 - air).abs() < 0.06);
            assert!((undercut_in_film(t, tan, 1.64).to_mm() * 1000.0 - film).abs() < 0.06);
        }
    }

    #[test]
    fn one_time_serves_both_within_the_latitude_alone() {
        let both = time_for_both(100.0, 1.25, 2.0).unwrap();
        // The same number of wedge steps over for the film as under for the seam.
        assert!((both / 100.0 - 125.0 / both).abs() < 1e-12);
        assert_eq!(time_for_both(100.0, 2.1, 2.0), None);
    }

    #[test]
    fn the_section_warns_of_thin_black_and_wide_gaps() {
        let settings =
            ExposureSettings { black_density: 2.0, gap: Length::mm(0.5), ..Default::default() };
        let line = Some(Length::mm(0.3));
        let s = section(Length::mm(673.0), true, line, &Lamp::default(), &settings, Unit::Mm);
        assert_eq!(s.warnings.len(), 2, "{:?}", s.warnings);
        assert!(s.figure("one time for both").is_some());
    }
}
