use crate::marks::{Side, width, wrap};
use crate::pager::{BODY, MARGIN, Pager, SMALL};
use crate::sketch::{fitting, sketch};
use shop::{Quantity, Reckoning, Section};

/// What the front page shows: section, figure, and its words there.
const KEY_FIGURES: [(&str, &str, &str); 21] = [
    ("film", "width", "Film width"),
    ("film", "height", "Film height"),
    ("film", "sheets", "Sheets"),
    ("mesh", "mesh", "Mesh"),
    ("frame", "inside across", "Frame inside, across"),
    ("frame", "inside along", "Frame inside, along"),
    ("exposure", "lamp", "Lamp"),
    ("parts", "places of the lamp", "Places of the lamp"),
    ("parts", "parts across", "Parts across"),
    ("parts", "parts along", "Parts along"),
    ("parts", "time of each exposure", "Time at each place"),
    ("parts", "time of all exposures", "Exposure in all"),
    ("strokes", "direction", "Squeegee runs"),
    ("strokes", "strokes for a garment", "Strokes for a garment"),
    ("ink", "ink for a garment by weight", "Ink for a garment"),
    ("ink", "ink for the run by weight", "Ink for the run"),
    ("ink", "additive for the run", "Additive for the run"),
    ("ink", "heat cure", "Heat cure"),
    ("cost", "each good garment adds", "Each garment adds"),
    ("cost", "break-even", "Pays for itself at"),
    ("timeline", "from start to end", "From start to end"),
];

/// What is written down while working, for the shop's notebook.
const BLANKS: [&str; 8] = [
    "date",
    "screen",
    "exposure time used",
    "last wedge step that held",
    "grams of a garment before",
    "grams straight after printing",
    "cured at, for",
    "wash test",
];

pub(crate) fn draw(pager: &mut Pager, plan: &Reckoning) {
    title(pager, &plan.job);
    let top = pager.y;
    let column = pager.room() * 0.46;
    let tall = shop_height(plan, column);
    sketch(pager, &plan.film, pager.left(), top, column, tall);
    let foot = top + tall + 4.0;
    pager.text_at(pager.left() + column / 2.0, foot, SMALL, false, Side::Middle, &plan.film.title);
    let end = facts(pager, plan, pager.left() + column + 6.0, top);
    pager.y = end.max(foot + 2.0) + 3.0;
    watch_out(pager, &plan.sections);
    to_do(pager, plan);
    blanks(pager);
    pager.y += 2.0;
    pager.paragraph("!", plan.defer, true);
}

fn shop_height(plan: &Reckoning, column: f64) -> f64 {
    crate::sketch::height(&plan.film, column, 88.0)
}

pub(crate) fn title(pager: &mut Pager, job: &str) {
    pager.text(pager.left(), MARGIN + SMALL, SMALL, false, "JOB TICKET");
    let size = fitting(job, 8.0, true, pager.room());
    pager.text(pager.left(), MARGIN + 12.0, size, true, job);
    pager.y = MARGIN + 15.0;
    let (left, right) = (pager.left(), pager.right());
    pager.line((left, pager.y), (right, pager.y), 0.6);
    pager.y += 4.0;
}

/// The key figures; returns where they end.
fn facts(pager: &mut Pager, plan: &Reckoning, x: f64, top: f64) -> f64 {
    let right = pager.right();
    let mut y = top;
    for (key, name, words) in KEY_FIGURES {
        let Some(figure) = plan.section(key).and_then(|s| s.figure(name)) else { continue };
        let label = width(words, BODY, false);
        let value = match figure.value {
            Quantity::Money(_) => format!("{} {}", figure.value.show(plan.unit), plan.currency),
            _ => figure.value.show(plan.unit),
        };
        let lines = wrap(&value, BODY, true, right - x - label - 3.0);
        for (i, line) in lines.iter().enumerate() {
            y += BODY * 1.42;
            if i == 0 {
                pager.text(x, y - 1.2, BODY, false, words);
            }
            pager.text_at(right, y - 1.2, BODY, true, Side::Right, line);
        }
        pager.line((x, y), (right, y), 0.1);
    }
    y
}

fn watch_out(pager: &mut Pager, sections: &[Section]) {
    if sections.iter().all(|s| s.warnings.is_empty()) {
        return;
    }
    pager.heading("Watch out");
    for section in sections {
        for warning in &section.warnings {
            pager.paragraph("!", &format!("{}: {warning}", section.title), false);
        }
    }
    pager.y += 2.0;
}

/// The steps with boxes to tick and room for the time they really took.
fn to_do(pager: &mut Pager, plan: &Reckoning) {
    let Some(time) = plan.section("timeline") else { return };
    let sums = ["hands-on time", "waiting", "from start to end"];
    let steps: Vec<_> = time.figures.iter().filter(|f| !sums.contains(&f.name.as_str())).collect();
    if steps.is_empty() {
        return;
    }
    pager.heading("Steps, planned time, and time taken");
    let half = pager.room() / 2.0;
    let row = 6.2;
    let rows = steps.len().div_ceil(2);
    pager.need(rows as f64 * row);
    let top = pager.y;
    for (i, figure) in steps.iter().enumerate() {
        let x = pager.left() + if i < rows { 0.0 } else { half + 3.0 };
        let y = top + row * ((i % rows) as f64 + 1.0) - 1.8;
        pager.outline(x, y - 3.0, 3.4, 3.4, 0.3);
        let planned = figure.value.show(plan.unit);
        let taken = 20.0;
        let end = x + half - 3.0;
        pager.text_at(end - taken - 2.0, y, BODY, false, Side::Right, &planned);
        let room = half - 3.0 - taken - 9.0 - width(&planned, BODY, false);
        let name = wrap(&figure.name, BODY, false, room).swap_remove(0);
        pager.text(x + 5.5, y, BODY, false, &name);
        pager.line((end - taken, y + 0.4), (end, y + 0.4), 0.15);
    }
    pager.y = top + row * rows as f64 + 2.0;
}

fn blanks(pager: &mut Pager) {
    pager.heading("Write down for the notebook");
    let half = pager.room() / 2.0;
    let row = 7.5;
    let rows = BLANKS.len().div_ceil(2);
    pager.need(rows as f64 * row);
    let top = pager.y;
    for (i, words) in BLANKS.iter().enumerate() {
        let x = pager.left() + if i < rows { 0.0 } else { half + 3.0 };
        let y = top + row * ((i % rows) as f64 + 1.0) - 2.0;
        pager.text(x, y, BODY, false, words);
        pager.line((x + width(words, BODY, false) + 2.0, y + 0.4), (x + half - 3.0, y + 0.4), 0.15);
    }
    pager.y = top + row * rows as f64;
}
