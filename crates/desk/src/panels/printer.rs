//! Which film printer the films are for, and the calibration of one.

use super::{fields, group};
use crate::action::Action;
use crate::desk::Desk;
use eframe::egui::{CollapsingHeader, Ui};
use job::Edit;
use measure::Length;
use printer::{GAPS, Profile, Target};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    group(ui, "Film printer");
    choose(desk, ui);
    if let Some(profile) = desk.job().printer.clone() {
        told(desk, ui, &profile);
    }
    CollapsingHeader::new("Calibrate a film printer").show(ui, |ui| calibrate(desk, ui));
}

/// A profile, or none.
fn choose(desk: &mut Desk, ui: &mut Ui) {
    let now = desk.job().printer.clone();
    let mut known = desk.film_printers.known.clone();
    if let Some(own) = &now
        && !known.contains(own)
    {
        // The job's own profile, which may come from another shop.
        known.push(own.clone());
    }
    let names: Vec<String> = known.iter().map(|p| format!("{}, {}", p.printer, p.film)).collect();
    let none = [(usize::MAX, "taken for true", "Films are written as they are")];
    let why = "Films undo this printer's scale, lean and ink spread";
    let known_ones = names.iter().enumerate().map(|(n, name)| (n, name.as_str(), why));
    let options: Vec<(usize, &str, &str)> = none.into_iter().chain(known_ones).collect();
    let at = now.and_then(|own| known.iter().position(|p| *p == own)).unwrap_or(usize::MAX);
    if let Some(chosen) = fields::choice(ui, "Printer", at, &options, why) {
        desk.ask(Action::Edit(Edit::Printer(known.get(chosen).cloned())));
    }
}

/// What the printer does to a sheet.
fn told(desk: &Desk, ui: &mut Ui, profile: &Profile) {
    let Some(stock) = desk.job().stocks.first() else { return };
    let off = profile.off(stock.size);
    let mm = |length: Length| format!("{:+.1} mm", length.to_mm());
    let (across, down, aside) = (mm(off.across), mm(off.down), mm(off.aside));
    fields::says(
        ui,
        format!(
            "Undone on every sheet: {across} across, {down} down, {aside} lean, ink spread {:.2} mm",
            profile.spread.to_mm()
        ),
    );
    fields::says(
        ui,
        if profile.confirmed {
            "Confirmed by a second page"
        } else {
            "Not confirmed by a second page yet"
        },
    );
}

fn calibrate(desk: &mut Desk, ui: &mut Ui) {
    let target = match desk.target() {
        Some(Ok(target)) => target,
        Some(Err(e)) => return fields::says_wrong(ui, &e.to_string()),
        None => return fields::says_wrong(ui, "put a film in the drawer first"),
    };
    fields::says(
        ui,
        "Print the page at actual size, let it lie for an hour, and read it with a steel rule.",
    );
    let again = desk.job().printer.is_some();
    if !again {
        names(desk, ui);
    }
    let words = if again { "Write the page that confirms it" } else { "Write the page" };
    if ui.button(words).on_hover_text("calibration.pdf, where the films go").clicked() {
        desk.ask(Action::CalibrationPage);
    }
    readings(desk, ui, &target);
    if ui
        .button("Keep what was read")
        .on_hover_text("Works the printer out, keeps it, and chooses it for this job")
        .clicked()
    {
        desk.ask(Action::KeepPrinter);
    }
    for line in &desk.film_printers.told {
        fields::says(ui, line.clone());
    }
}

fn names(desk: &mut Desk, ui: &mut Ui) {
    let printers = &mut desk.film_printers;
    if let Some(name) = fields::words(ui, "Its name", &printers.printer, "What the shop calls it") {
        printers.printer = name;
    }
    let why = "Each film prints otherwise: one profile for each";
    if let Some(name) = fields::words(ui, "Film's name", &printers.film, why) {
        printers.film = name;
    }
}

fn readings(desk: &mut Desk, ui: &mut Ui, target: &Target) {
    let unit = desk.job().unit;
    let drawn =
        |length: Length| format!("Drawn: {}. Read to a quarter of a millimetre", length.show(unit));
    let (across, down) = (drawn(target.width), drawn(target.height));
    let diagonal = drawn(target.diagonal());
    let printers = &mut desk.film_printers;
    for (label, text, why) in [
        ("A to C, across", &mut printers.across, &across),
        ("A to G, down", &mut printers.down, &down),
        ("A to I, falling", &mut printers.falling, &diagonal),
        ("G to C, rising", &mut printers.rising, &diagonal),
    ] {
        if let Some(typed) = fields::words(ui, label, text, why) {
            *text = typed;
        }
    }
    let names: Vec<String> = GAPS.iter().map(|gap| format!("{} mm", gap.to_mm())).collect();
    let why = "The narrowest gap that is open all along";
    let none = [(usize::MAX, "not read", why)];
    let gaps = names.iter().enumerate().map(|(n, name)| (n, name.as_str(), why));
    let options: Vec<(usize, &str, &str)> = none.into_iter().chain(gaps).collect();
    let at = printers.gap.and_then(|gap| GAPS.iter().position(|g| *g == gap)).unwrap_or(usize::MAX);
    if let Some(chosen) = fields::choice(ui, "Open gap", at, &options, why) {
        printers.gap = GAPS.get(chosen).copied();
    }
}
