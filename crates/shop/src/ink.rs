use crate::figure::number;
use crate::settings::settings;
use crate::{GarmentSize, Mesh, MeshSettings, Quantity, Section, Source};

settings! {
    /// The ink and how it dries and cures.
    pub struct InkSettings {
        /// Grams in one millilitre of ink.
        density: f64 = 1.05, "g/ml", 0.6..=2.5, Source::Practice;
        /// How many times the theoretical volume a garment takes; weigh one to know.
        take_up: f64 = 1.0, "times", 0.1..=5.0, Source::Practice;
        /// Ink that stays on screen, blade and tub after a run, lost or scraped back.
        residue_ml: f64 = 150.0, "ml", 0.0..=5000.0, Source::Practice;
        /// Curing additive for every 100 g of ink.
        additive_per_100: f64 = 2.0, "g", 0.0..=50.0, Source::Practice;
        /// Minutes until a print is dry to the touch, at the least.
        dry_low_minutes: f64 = 10.0, "min", 0.0..=10_000.0, Source::Practice;
        /// Minutes until a print is dry to the touch, at the most.
        dry_high_minutes: f64 = 30.0, "min", 0.0..=10_000.0, Source::Practice;
        /// The least temperature of the ink film while curing.
        cure_low: f64 = 149.0, "\u{b0}C", 20.0..=250.0, Source::Trade("water-based: 300 to 320 \u{b0}F for 2 to 3 min");
        /// The highest temperature of the ink film while curing.
        cure_high: f64 = 160.0, "\u{b0}C", 20.0..=250.0, Source::Trade("water-based: 300 to 320 \u{b0}F for 2 to 3 min");
        /// The shortest time at that temperature.
        cure_low_secs: f64 = 120.0, "s", 1.0..=3600.0, Source::Trade("water-based: 300 to 320 \u{b0}F for 2 to 3 min");
        /// The longest time at that temperature.
        cure_high_secs: f64 = 180.0, "s", 1.0..=3600.0, Source::Trade("water-based: 300 to 320 \u{b0}F for 2 to 3 min");
        /// The hours in air until an additive has cured the ink without heat, at the least.
        air_low_hours: f64 = 24.0, "h", 0.0..=1000.0, Source::Practice;
        /// The hours in air until an additive has cured the ink without heat, at the most.
        air_high_hours: f64 = 72.0, "h", 0.0..=1000.0, Source::Practice;
    }
}

/// Ink for one garment in ml: inked area in m² × volume in cm³/m² × take-up.
pub fn ml_per_garment(ink_area_m2: f64, volume: f64, take_up: f64) -> f64 {
    ink_area_m2 * volume * take_up
}

/// The take-up found by weighing a garment before and straight after printing, before cure:
/// grams / density / (area × volume).
pub fn take_up_by_weight(grams: f64, density: f64, ink_area_m2: f64, volume: f64) -> f64 {
    grams / density / (ink_area_m2 * volume)
}

/// The ink section of the plan.
pub(crate) fn section(
    ink_area_m2: f64,
    sizes: &[GarmentSize],
    garments: u32,
    mesh: &Mesh,
    mesh_settings: &MeshSettings,
    settings: &InkSettings,
) -> Section {
    let mut s = Section::new("ink", "Ink and cure");
    let from_film = match sizes {
        [] => "black pixels of the film",
        [_] => "black pixels of the film inside the garment",
        _ => "black pixels of the film inside the size that takes most",
    };
    s.add("inked area", Quantity::Area(ink_area_m2), from_film, Source::Arithmetic);
    let volume = mesh.ink_volume(mesh_settings);
    let each = ml_per_garment(ink_area_m2, volume, settings.take_up);
    let how = format!(
        "{} m\u{b2} \u{d7} {} cm\u{b3}/m\u{b2} \u{d7} take-up {}",
        number(ink_area_m2),
        number(volume),
        number(settings.take_up)
    );
    s.add("ink for a garment", Quantity::Volume(each), how, Source::Arithmetic);
    for size in sizes.iter().filter(|_| sizes.len() > 1) {
        let ml = ml_per_garment(size.ink_area_m2, volume, settings.take_up);
        let how = format!("{} m\u{b2} inside {}", number(size.ink_area_m2), size.name);
        s.add(format!("ink for {}", size.name), Quantity::Volume(ml), how, Source::Arithmetic);
    }
    let how = format!("{} ml \u{d7} {} g/ml", number(each), number(settings.density));
    let grams = Quantity::Mass(each * settings.density);
    s.add("ink for a garment by weight", grams, how, Source::Arithmetic);
    let run = each * f64::from(garments) + settings.residue_ml;
    let how = format!(
        "{garments} \u{d7} {} ml + {} ml that stays on screen and tools",
        number(each),
        number(settings.residue_ml)
    );
    s.add("ink for the run", Quantity::Volume(run), how, Source::Practice);
    let grams = run * settings.density;
    let how = format!("{} ml \u{d7} {} g/ml", number(run), number(settings.density));
    s.add("ink for the run by weight", Quantity::Mass(grams), how, Source::Arithmetic);
    let additive = grams * settings.additive_per_100 / 100.0;
    let how = format!("{} g / 100 \u{d7} {}", number(grams), number(settings.additive_per_100));
    s.add("additive for the run", Quantity::Mass(additive), how, Source::Practice);
    let (low, high) = (settings.dry_low_minutes, settings.dry_high_minutes);
    let words = Quantity::Words(format!("{} to {} min", number(low), number(high)));
    let how = "in moving air, dry to the touch; thick ink and damp air take longer";
    s.add("drying before cure", words, how, Source::Practice);
    let words = format!(
        "{} to {} \u{b0}C for {} to {}",
        number(settings.cure_low),
        number(settings.cure_high),
        crate::figure::show_time(settings.cure_low_secs),
        crate::figure::show_time(settings.cure_high_secs)
    );
    let how = "drive the water out first; the ink's data sheet governs";
    let trade = Source::Trade("water-based: 300 to 320 \u{b0}F for 2 to 3 min");
    s.add("heat cure", Quantity::Words(words), how, trade);
    let words =
        format!("{} to {} h", number(settings.air_low_hours), number(settings.air_high_hours));
    let how = "with additive; the additive's data sheet governs";
    s.add("air cure", Quantity::Words(words), how, Source::Practice);
    let windows = [
        (low, high),
        (settings.cure_low, settings.cure_high),
        (settings.cure_low_secs, settings.cure_high_secs),
        (settings.air_low_hours, settings.air_high_hours),
    ];
    if windows.iter().any(|(low, high)| low > high) {
        s.warn("A drying or cure window ends before it starts; check its temperatures and times.");
    }
    s.note("Weigh a garment before and straight after printing to learn your own take-up.");
    s.note("Wash one cured garment before any is sold, and write down how it came out.");
    s
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn millilitres_and_back() {
        // 0.45 x 0.35 m², all of it inked, at 52 cm³/m²: 8.19 ml.
        let ml = ml_per_garment(0.45 * 0.35, 52.0, 1.0);
        assert!((ml - 8.19).abs() < 1e-9);
        let k = take_up_by_weight(ml * 1.3 * 1.05, 1.05, 0.45 * 0.35, 52.0);
        assert!((k - 1.3).abs() < 1e-12);
    }

    #[test]
    fn the_run_adds_residue_and_additive() {
        let settings = InkSettings::default();
        let s = section(0.5, &[], 20, &Mesh::new(43.0, 80.0), &MeshSettings::default(), &settings);
        let value = |name: &str| match s.figure(name).unwrap().value {
            Quantity::Volume(v) | Quantity::Mass(v) => v,
            _ => panic!("{name} is no amount"),
        };
        let run = value("ink for a garment") * 20.0 + 150.0;
        assert!((value("ink for the run") - run).abs() < 1e-9);
        assert!((value("additive for the run") - run * 1.05 * 0.02).abs() < 1e-9);
    }
}
