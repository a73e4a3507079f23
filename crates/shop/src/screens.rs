use crate::cost::{EACH, SCREEN, prices};
use crate::figure::show_time;
use crate::{CostSettings, Quantity, Reckoning, Section, Source};

/// What all screens of a job come to, from each one's name and plan: sheets, ink, exposure,
/// cost and time. The blank garment is counted once.
pub fn all_screens(
    screens: &[(String, &Reckoning)],
    costs: &CostSettings,
    currency: &str,
    garments: u32,
) -> Section {
    let mut s = Section::new("all", format!("All {} screens, cost in {currency}", screens.len()));
    let add = |s: &mut Section, name: &str, key: &str, figure: &str| {
        let parts: Vec<(&str, f64, Quantity)> = screens
            .iter()
            .filter_map(|(screen, plan)| {
                let value = &plan.section(key)?.figure(figure)?.value;
                Some((screen.as_str(), value.amount()?, value.clone()))
            })
            .collect();
        let Some((_, _, first)) = parts.first() else { return 0.0 };
        let sum: f64 = parts.iter().map(|p| p.1).sum();
        let how: Vec<String> = parts
            .iter()
            .map(|(screen, _, value)| format!("{screen}: {}", value.show(measure::Unit::Mm)))
            .collect();
        let total = like(first, sum);
        s.add(name, total, how.join(" + "), Source::Arithmetic);
        sum
    };
    add(&mut s, "sheets of film", "film", "sheets");
    add(&mut s, "ink for a garment", "ink", "ink for a garment");
    add(&mut s, "ink for the run", "ink", "ink for the run");
    add(&mut s, "ink for the run by weight", "ink", "ink for the run by weight");
    add(&mut s, "additive for the run", "ink", "additive for the run");
    add(&mut s, "time of all exposures", "parts", "time of all exposures");
    let fixed = add(&mut s, "screens in all", "cost", SCREEN);
    let printing = add(&mut s, "printing adds to each good garment", "cost", EACH);
    let blank = costs.garment / (1.0 - costs.spoilage);
    let each = printing + blank;
    let how = format!("{printing:.2} + blank {:.2} / (1 - {})", costs.garment, costs.spoilage);
    s.add(EACH, Quantity::Money(each), how, Source::Practice);
    prices(&mut s, fixed, each, garments, costs.price);
    let hands = add(&mut s, "hands-on time", "timeline", "hands-on time");
    let waiting = add(&mut s, "waiting", "timeline", "waiting");
    let how = format!("{} + {}, one after another", show_time(hands), show_time(waiting));
    let end = Quantity::Time(hands + waiting);
    s.add("from start to end", end, how, Source::Arithmetic);
    s.note("Each screen takes a frame, a piece of mesh and a coating of its own; the lumber is listed for one.");
    s.note("Prepare the screens side by side, and one is washed out while another dries; print them in order, each dry before the next.");
    s
}

/// A sum in the unit of its parts.
fn like(part: &Quantity, sum: f64) -> Quantity {
    match part {
        Quantity::Volume(_) => Quantity::Volume(sum),
        Quantity::Mass(_) => Quantity::Mass(sum),
        Quantity::Time(_) => Quantity::Time(sum),
        Quantity::Count(_) => Quantity::Count(sum as u64),
        _ => Quantity::Money(sum),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ShopSettings, reckon};

    /// Two screens, the second with twice the ink of the first: sums are of the parts, and the
    /// blank garment is in them once.
    #[test]
    fn all_screens_come_to_the_sum_with_one_blank() {
        let mut settings = ShopSettings::default();
        settings.cost.garment = 10.0;
        settings.cost.spoilage = 0.2;
        let mut job = crate::reckon::tests::job();
        job.screens = 2;
        job.ink_area_m2 = 0.1;
        let first = reckon(&settings, &job).unwrap();
        (job.screen, job.ink_area_m2) = (2, 0.2);
        let second = reckon(&settings, &job).unwrap();
        let both = [("1 Yellow".to_owned(), &first), ("2 Red".to_owned(), &second)];
        let all = all_screens(&both, &settings.cost, "coins", 20);
        let value = |s: &Section, name: &str| s.figure(name).unwrap().value.amount().unwrap();
        let of = |plan: &Reckoning, key: &str, name: &str| value(plan.section(key).unwrap(), name);
        // 0.3 m² at 51.64 cm³/m².
        assert!((value(&all, "ink for a garment") - 0.3 * 51.64).abs() < 0.01);
        assert_eq!(value(&all, "sheets of film"), 16.0);
        let each = value(&all, EACH);
        let parts = of(&first, "cost", EACH) + of(&second, "cost", EACH);
        assert!((each - (parts + 12.5)).abs() < 1e-9, "10 / 0.8 is the blank: {each} {parts}");
        let fixed = of(&first, "cost", SCREEN) + of(&second, "cost", SCREEN);
        assert!((value(&all, "a garment of 25") - (fixed / 25.0 + each)).abs() < 1e-9);
        // 20 garments are cured once, in 1.5 and 3 minutes each.
        let end = of(&first, "timeline", "from start to end") * 2.0 + 20.0 * 4.5 * 60.0;
        assert!((value(&all, "from start to end") - end).abs() < 1e-6);
        let how = &all.figure("ink for a garment").unwrap().how;
        assert_eq!(how, "1 Yellow: 5.164 ml + 2 Red: 10.33 ml");
        for f in &all.figures {
            assert!(!f.how.is_empty(), "{}", f.name);
        }
    }
}
