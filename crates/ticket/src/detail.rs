use crate::marks::wrap;
use crate::pager::{BODY, Pager, SMALL};
use crate::sketch::{height, sketch};
use measure::Unit;
use shop::{Drawing, Figure, Reckoning, Section};

/// The parts that share a page, so that each page can be taken to where it is used: the
/// frame's cut sheet to the saw, the exposure to the lamp, the lay-down to the table.
const PAGES: [&[&str]; 6] = [
    &["film", "mesh", "halftone", "strokes"],
    &["frame", "lumber"],
    &["exposure", "parts"],
    &["laydown"],
    &["ink", "cost"],
    &["timeline", "notebook"],
];

/// The pages of a screen's parts. Parts that are the same as those of `before`, a screen whose
/// pages come first, are only named.
pub(crate) fn draw(pager: &mut Pager, plan: &Reckoning, before: Option<&Reckoning>) {
    let known = |section: &Section| before.is_some_and(|b| b.section(section.key) == Some(section));
    let mut same: Vec<&str> = Vec::new();
    for keys in PAGES {
        let all = keys.iter().filter_map(|key| plan.section(key));
        let (known, new): (Vec<&Section>, Vec<&Section>) = all.partition(|s| known(s));
        same.extend(known.iter().map(|s| s.title.as_str()));
        if new.is_empty() {
            continue;
        }
        pager.page();
        for section in &new {
            pager.keep_together(|pager| words(pager, section, plan.unit));
        }
        for drawing in new.iter().flat_map(|s| &s.drawings) {
            picture(pager, drawing);
        }
        if keys.contains(&"exposure") && before.is_none() {
            mishaps(pager);
        }
    }
    if let (Some(before), false) = (before, same.is_empty()) {
        let words = format!("As on the pages of {}: {}.", before.job, same.join(", "));
        pager.paragraph("\u{b7}", &words, false);
    }
}

pub(crate) fn words(pager: &mut Pager, section: &Section, unit: Unit) {
    pager.heading(&section.title);
    for figure in &section.figures {
        row(pager, figure, unit);
    }
    pager.y += 1.5;
    for warning in &section.warnings {
        pager.paragraph("!", warning, true);
    }
    for note in &section.notes {
        pager.paragraph("\u{b7}", note, false);
    }
    for caution in &section.cautions {
        boxed(pager, &format!("{}. {}", caution.hazard.name(), caution.text));
    }
    pager.y += 4.0;
}

/// A drawing as large as the page's width or 11 cm of height allow, shrunk into what is
/// left of the page where that keeps most of it.
fn picture(pager: &mut Pager, drawing: &Drawing) {
    let room = pager.room();
    let natural = height(drawing, room, 110.0);
    let left = pager.bottom() - pager.y - 4.0;
    let tall =
        if left > (natural * 0.35).max(50.0).min(natural) { natural.min(left) } else { natural };
    pager.need(tall + 4.0);
    pager.text(pager.left(), pager.y + SMALL, SMALL, true, &drawing.title);
    pager.y += 4.0;
    sketch(pager, drawing, pager.left(), pager.y, room, tall);
    pager.y += tall + 2.0;
}

/// Name, value, and in small print how it came out and from where.
fn row(pager: &mut Pager, figure: &Figure, unit: Unit) {
    let room = pager.room();
    let columns = [0.0, room * 0.25, room * 0.5];
    let names = wrap(&figure.name, BODY, false, columns[1] - 2.0);
    let values = wrap(&figure.value.show(unit), BODY, true, columns[2] - columns[1] - 2.0);
    let how = format!("{} \u{2013} {}", figure.how, figure.source);
    let hows = wrap(&how, SMALL, false, room - columns[2]);
    let step = BODY * 1.25;
    let small_step = SMALL * 1.25;
    let tall =
        (names.len().max(values.len()) as f64 * step).max(hows.len() as f64 * small_step) + 1.0;
    pager.need(tall);
    let (left, top) = (pager.left(), pager.y);
    for (lines, x, size, bold, step) in [
        (&names, columns[0], BODY, false, step),
        (&values, columns[1], BODY, true, step),
        (&hows, columns[2], SMALL, false, small_step),
    ] {
        for (i, line) in lines.iter().enumerate() {
            // All first lines share a baseline.
            let y = top + BODY + step * i as f64;
            pager.text(left + x, y, size, bold, line);
        }
    }
    pager.y += tall + 0.6;
    pager.line((left, pager.y - 0.2), (left + room, pager.y - 0.2), 0.1);
}

/// A caution in a box.
fn boxed(pager: &mut Pager, words: &str) {
    let pad = 2.0;
    let lines = wrap(words, BODY, false, pager.room() - 2.0 * pad - 6.0);
    let step = BODY * 1.3;
    let tall = lines.len() as f64 * step + 2.0 * pad - 0.6;
    pager.need(tall + 1.5);
    pager.y += 1.5;
    let (left, top, room) = (pager.left(), pager.y, pager.room());
    pager.outline(left, top, room, tall, 0.4);
    pager.text(left + pad, top + pad + BODY * 1.1, BODY * 1.4, true, "!");
    for (i, line) in lines.iter().enumerate() {
        let y = top + pad + BODY * 0.85 + step * i as f64;
        pager.text(left + pad + 5.0, y, BODY, false, line);
    }
    pager.y += tall;
}

/// The table of what went wrong and what to do.
fn mishaps(pager: &mut Pager) {
    pager.heading("When something went wrong");
    pager.paragraph(
        "\u{b7}",
        "Common practice, no source. Write down what you saw and what helped.",
        false,
    );
    let room = pager.room();
    let columns = [0.0, room * 0.28, room * 0.58, room + 2.0];
    let step = SMALL * 1.3;
    let titles = ["Seen", "Because", "Do"];
    for (words, x) in titles.iter().zip(columns) {
        pager.text(pager.left() + x, pager.y + BODY, BODY, true, words);
    }
    pager.y += BODY * 1.6;
    for d in shop::diagnoses() {
        let cells: Vec<Vec<String>> = [d.seen, d.because, d.remedy]
            .iter()
            .zip(columns.windows(2))
            .map(|(words, c)| wrap(words, SMALL, false, c[1] - c[0] - 3.0))
            .collect();
        let tall = cells.iter().map(Vec::len).max().unwrap_or(0) as f64 * step + 1.6;
        pager.need(tall);
        let (left, top) = (pager.left(), pager.y);
        for (lines, x) in cells.iter().zip(columns) {
            for (i, line) in lines.iter().enumerate() {
                pager.text(left + x, top + SMALL + step * i as f64, SMALL, false, line);
            }
        }
        pager.y += tall;
        pager.line((left, pager.y - 0.7), (left + room, pager.y - 0.7), 0.1);
    }
}
