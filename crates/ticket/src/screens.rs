//! One ticket for several screens.

use crate::detail::words;
use crate::marks::{Mark, Side, wrap};
use crate::pager::{BODY, Pager, Paper};
use crate::{detail, front};
use shop::{Reckoning, Section};

/// The columns beside the screen's name: words over it, section and figure, and how wide it is
/// in parts of the page.
const COLUMNS: [(&str, &str, &str, f64); 6] = [
    ("Sheets", "film", "sheets", 0.09),
    ("Ink a garment", "ink", "ink for a garment by weight", 0.14),
    ("Ink, run", "ink", "ink for the run by weight", 0.13),
    ("Each place", "parts", "time of each exposure", 0.15),
    ("Exposure", "parts", "time of all exposures", 0.15),
    ("Strokes", "strokes", "strokes for a garment", 0.09),
];

pub(crate) fn pages(
    job: &str,
    screens: &[(String, &Reckoning)],
    all: &Section,
    paper: Paper,
) -> Vec<Vec<Mark>> {
    let mut pager = Pager::new(paper);
    front::title(&mut pager, job);
    let plans: Vec<&Reckoning> = screens.iter().map(|s| s.1).collect();
    if let Some(first) = plans.first() {
        pager.heading("Screens in printing order");
        table(&mut pager, screens);
        words(&mut pager, all, first.unit);
        warnings(&mut pager, screens);
        pager.paragraph("!", first.defer, true);
    }
    for (n, plan) in plans.iter().enumerate() {
        pager.page();
        front::draw(&mut pager, plan);
        detail::draw(&mut pager, plan, (n > 0).then(|| plans[0]));
    }
    pager.finish(job)
}

/// A row a screen, with a box to tick once it is printed.
fn table(pager: &mut Pager, screens: &[(String, &Reckoning)]) {
    let (left, right, room) = (pager.left(), pager.right(), pager.room());
    let ends = |n: usize| right - room * COLUMNS[n + 1..].iter().map(|c| c.3).sum::<f64>();
    pager.y += BODY;
    for (n, (title, ..)) in COLUMNS.iter().enumerate() {
        pager.text_at(ends(n), pager.y, BODY, false, Side::Right, title);
    }
    pager.y += 2.0;
    let names = room * (1.0 - COLUMNS.iter().map(|c| c.3).sum::<f64>()) - 7.0;
    for (name, plan) in screens {
        let lines = wrap(name, BODY, true, names);
        let tall = lines.len() as f64 * BODY * 1.3 + 2.0;
        pager.need(tall);
        let y = pager.y + BODY * 1.1;
        pager.outline(left, y - 3.0, 3.4, 3.4, 0.3);
        for (i, line) in lines.iter().enumerate() {
            pager.text(left + 5.5, y + BODY * 1.3 * i as f64, BODY, true, line);
        }
        for (n, (_, key, figure, _)) in COLUMNS.iter().enumerate() {
            let found = plan.section(key).and_then(|s| s.figure(figure));
            let shown = found.map_or_else(|| "\u{2013}".into(), |f| f.value.show(plan.unit));
            pager.text_at(ends(n), y, BODY, false, Side::Right, &shown);
        }
        pager.y += tall;
        pager.line((left, pager.y - 0.4), (right, pager.y - 0.4), 0.1);
    }
    pager.y += 3.0;
}

/// What the screens' plans warn of, each warning once.
fn warnings(pager: &mut Pager, screens: &[(String, &Reckoning)]) {
    let mut said: Vec<(String, Vec<&str>)> = Vec::new();
    for (name, plan) in screens {
        for section in &plan.sections {
            for warning in &section.warnings {
                let words = format!("{}: {warning}", section.title);
                match said.iter_mut().find(|s| s.0 == words) {
                    Some(known) => known.1.push(name),
                    None => said.push((words, vec![name])),
                }
            }
        }
    }
    if said.is_empty() {
        return;
    }
    pager.heading("Watch out");
    for (words, names) in said {
        let whose = if names.len() == screens.len() {
            String::new()
        } else {
            format!("{}. ", names.join(", "))
        };
        pager.paragraph("!", &format!("{whose}{words}"), false);
    }
    pager.y += 2.0;
}
