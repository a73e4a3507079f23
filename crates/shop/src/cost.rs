use crate::figure::{number, show_time};
use crate::settings::settings;
use crate::{Quantity, Section, Source};

settings! {
    /// Prices, in the shop's currency. All of them are examples to be overwritten.
    pub struct CostSettings {
        /// The price of a blank garment.
        garment: f64 = 6.0, "", 0.0..=10_000.0, Source::Shop;
        /// The price of one sheet of film.
        film_sheet: f64 = 1.2, "", 0.0..=10_000.0, Source::Shop;
        /// The printer ink on one sheet of film.
        film_ink: f64 = 0.5, "", 0.0..=10_000.0, Source::Shop;
        /// The price of a litre of textile ink.
        ink_litre: f64 = 25.0, "", 0.0..=10_000.0, Source::Shop;
        /// The price of a square metre of mesh.
        mesh_m2: f64 = 18.0, "", 0.0..=10_000.0, Source::Shop;
        /// How many stencils one stretching of mesh lasts.
        mesh_stencils: u32 = 15, "stencils", 1..=1000, Source::Practice;
        /// The price of the frame's wood, screws and staples.
        frame: f64 = 25.0, "", 0.0..=100_000.0, Source::Shop;
        /// How many stencils a frame lasts.
        frame_stencils: u32 = 40, "stencils", 1..=10_000, Source::Practice;
        /// The price of a litre of emulsion.
        emulsion_litre: f64 = 28.0, "", 0.0..=10_000.0, Source::Shop;
        /// Emulsion for a square metre of mesh, all coats.
        emulsion_m2_ml: f64 = 150.0, "ml", 0.0..=2000.0, Source::Practice;
        /// Cleaners, tape, paper and power for a run.
        sundries: f64 = 5.0, "", 0.0..=100_000.0, Source::Shop;
        /// What an hour of work is worth.
        labour_hour: f64 = 18.0, "", 0.0..=10_000.0, Source::Shop;
        /// The part of garments that is spoiled.
        spoilage: f64 = 0.04, "of one", 0.0..=0.9, Source::Practice;
        /// What a printed garment sells for.
        price: f64 = 30.0, "", 0.0..=100_000.0, Source::Shop;
    }
}

/// What a run takes, from the other sections.
#[derive(Clone, Debug, PartialEq)]
pub struct Takes {
    /// Sheets of film.
    pub sheets: u32,
    /// Mesh in m².
    pub mesh_m2: f64,
    /// Ink in ml for one garment.
    pub ink_ml: f64,
    /// Ink in ml lost to a run.
    pub residue_ml: f64,
    /// Hands-on seconds of each step for one garment.
    pub garment_steps: Vec<(String, f64)>,
    /// Hands-on seconds of each step for the screen, whatever the number of garments.
    pub screen_steps: Vec<(String, f64)>,
}

/// One named part of the cost and how it came out.
type Part = (&'static str, f64, String);

/// What the screen costs, whatever the number of garments.
fn fixed_parts(t: &Takes, c: &CostSettings) -> Vec<Part> {
    vec![
        (
            "film",
            f64::from(t.sheets) * (c.film_sheet + c.film_ink),
            format!(
                "{} sheets \u{d7} ({} + {} ink)",
                t.sheets,
                number(c.film_sheet),
                number(c.film_ink)
            ),
        ),
        (
            "mesh wear",
            t.mesh_m2 * c.mesh_m2 / f64::from(c.mesh_stencils),
            format!(
                "{} m\u{b2} \u{d7} {} / {} stencils",
                number(t.mesh_m2),
                number(c.mesh_m2),
                c.mesh_stencils
            ),
        ),
        (
            "frame wear",
            c.frame / f64::from(c.frame_stencils),
            format!("{} / {} stencils", number(c.frame), c.frame_stencils),
        ),
        (
            "emulsion",
            t.mesh_m2 * c.emulsion_m2_ml / 1000.0 * c.emulsion_litre,
            format!(
                "{} m\u{b2} \u{d7} {} ml \u{d7} {} a litre",
                number(t.mesh_m2),
                number(c.emulsion_m2_ml),
                number(c.emulsion_litre)
            ),
        ),
        (
            "ink left over",
            t.residue_ml / 1000.0 * c.ink_litre,
            format!("{} ml \u{d7} {} a litre", number(t.residue_ml), number(c.ink_litre)),
        ),
        ("sundries", c.sundries, "for a run".into()),
        labour("labour on film and screen", &t.screen_steps, c),
    ]
}

/// What printing adds to each garment, spoiled ones not yet counted.
fn garment_parts(t: &Takes, c: &CostSettings) -> Vec<Part> {
    vec![
        (
            "ink on a garment",
            t.ink_ml / 1000.0 * c.ink_litre,
            format!("{} ml \u{d7} {} a litre", number(t.ink_ml), number(c.ink_litre)),
        ),
        labour("labour on a garment", &t.garment_steps, c),
    ]
}

/// What the work of some steps costs, step by step.
fn labour(name: &'static str, steps: &[(String, f64)], c: &CostSettings) -> Part {
    let worth = |secs: f64| secs / 3600.0 * c.labour_hour;
    let secs: f64 = steps.iter().map(|s| s.1).sum();
    let each: Vec<String> =
        steps.iter().map(|(step, secs)| format!("{step} {:.2}", worth(*secs))).collect();
    let all = format!("{} \u{d7} {} an hour", show_time(secs), number(c.labour_hour));
    let how = if each.is_empty() { all } else { format!("{all}: {}", each.join(", ")) };
    (name, worth(secs), how)
}

fn sum(parts: &[Part]) -> f64 {
    parts.iter().map(|p| p.1).sum()
}

/// What the whole screen costs once, and what it adds to each good garment, the blank among
/// that where `blank` says so: parts / (1 − spoilage).
pub fn fixed_and_each(takes: &Takes, costs: &CostSettings, blank: bool) -> (f64, f64) {
    let blank = if blank { costs.garment } else { 0.0 };
    let each = (blank + sum(&garment_parts(takes, costs))) / (1.0 - costs.spoilage);
    (sum(&fixed_parts(takes, costs)), each)
}

/// The least number of garments sold at `price` that pays for everything. None if a
/// garment costs as much as it brings.
pub fn break_even(fixed: f64, each: f64, price: f64) -> Option<u64> {
    let gain = price - each;
    (gain > 0.0).then(|| (fixed / gain - 1e-9).ceil().clamp(0.0, 1e12) as u64)
}

/// The cost section of the plan. Where several screens print on each garment, the blank and
/// what it sells for belong to all of them together.
pub(crate) fn section(
    takes: &Takes,
    garments: u32,
    screens: u32,
    costs: &CostSettings,
    currency: &str,
) -> Section {
    let mut s = Section::new("cost", format!("Cost in {currency}"));
    let alone = screens < 2;
    let (fixed, each) = fixed_and_each(takes, costs, alone);
    for (name, amount, how) in fixed_parts(takes, costs) {
        s.add(name, Quantity::Money(amount), how, Source::Shop);
    }
    s.add(SCREEN, Quantity::Money(fixed), "sum of the above", Source::Arithmetic);
    if alone {
        s.add("garment", Quantity::Money(costs.garment), "blank", Source::Shop);
    }
    for (name, amount, how) in garment_parts(takes, costs) {
        s.add(name, Quantity::Money(amount), how, Source::Shop);
    }
    let of = if alone { "blank + ink + labour" } else { "ink + labour" };
    let how = format!("({of}) / (1 - {} spoiled)", number(costs.spoilage));
    s.add(EACH, Quantity::Money(each), how, Source::Practice);
    if alone {
        prices(&mut s, fixed, each, garments, costs.price);
    } else {
        s.note("The blank garment, its price and the break-even are reckoned over all screens.");
    }
    s
}

/// What a screen costs once.
pub(crate) const SCREEN: &str = "screen in all";
/// What it adds to every garment.
pub(crate) const EACH: &str = "each good garment adds";

/// What a garment costs in runs of several lengths, and when a run pays for itself.
pub(crate) fn prices(s: &mut Section, fixed: f64, each: f64, garments: u32, price: f64) {
    let mut numbers = vec![1, 10, 25, 50, 100];
    if garments > 0 && !numbers.contains(&garments) {
        numbers.push(garments);
        numbers.sort_unstable();
    }
    for n in numbers {
        let one = fixed / f64::from(n) + each;
        let how = format!("{fixed:.2} / {n} + {each:.2}");
        s.add(format!("a garment of {n}"), Quantity::Money(one), how, Source::Arithmetic);
    }
    let how = format!("{fixed:.2} / ({price:.2} - {each:.2}), rounded up");
    match break_even(fixed, each, price) {
        Some(n) => {
            s.add("break-even", Quantity::Count(n), how, Source::Arithmetic);
            if garments > 0 && n > u64::from(garments) {
                s.warn(format!("This run of {garments} does not pay for itself: it takes {n}."));
            }
        }
        None => s.warn(format!(
            "At a price of {price:.2} no number of garments pays for itself; each costs {each:.2}."
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn takes() -> Takes {
        Takes {
            sheets: 10,
            mesh_m2: 2.0,
            ink_ml: 40.0,
            residue_ml: 100.0,
            garment_steps: vec![("print".into(), 400.0), ("cure".into(), 200.0)],
            screen_steps: vec![("coat".into(), 1800.0), ("expose".into(), 5400.0)],
        }
    }

    /// Reckoned by hand from round prices.
    #[test]
    fn a_run_reckoned_by_hand() {
        let costs = CostSettings {
            garment: 5.0,
            film_sheet: 1.0,
            film_ink: 0.5,
            ink_litre: 25.0,
            mesh_m2: 20.0,
            mesh_stencils: 10,
            frame: 30.0,
            frame_stencils: 30,
            emulsion_litre: 30.0,
            emulsion_m2_ml: 100.0,
            sundries: 5.0,
            labour_hour: 12.0,
            spoilage: 0.2,
            price: 20.0,
        };
        // 15 film + 4 mesh + 1 frame + 6 emulsion + 2.50 ink + 5 sundries + 24 labour = 57.50.
        // (5 + 1 ink + 2 labour) / 0.8 = 10.
        let (fixed, each) = fixed_and_each(&takes(), &costs, true);
        assert!((fixed - 57.5).abs() < 1e-9 && (each - 10.0).abs() < 1e-9, "{fixed} {each}");
        assert_eq!(break_even(fixed, each, 20.0), Some(6));
        assert_eq!(break_even(60.0, 10.0, 20.0), Some(6));
        assert_eq!(break_even(fixed, each, 10.0), None);
        let s = section(&takes(), 4, 1, &costs, "coins");
        let Some(Quantity::Money(ten)) = s.figure("a garment of 10").map(|f| &f.value) else {
            panic!("no price for ten");
        };
        assert!((ten - 15.75).abs() < 1e-9);
        assert!(s.figure("a garment of 4").is_some());
        assert_eq!(s.warnings.len(), 1);
        // Half an hour and an hour and a half at 12 an hour.
        let how = &s.figure("labour on film and screen").unwrap().how;
        assert!(how.ends_with("coat 6.00, expose 18.00"), "{how}");
        // One of several screens: (1 ink + 2 labour) / 0.8, and no price of its own.
        let s = section(&takes(), 4, 2, &costs, "coins");
        assert_eq!(s.figure(EACH).unwrap().value, Quantity::Money(3.75));
        assert!(s.figure("garment").is_none() && s.figure("break-even").is_none());
        assert!(s.warnings.is_empty());
    }
}
