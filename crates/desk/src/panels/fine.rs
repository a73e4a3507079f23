//! What is too fine for the mesh, to step through and to mend.

use super::{command_button, fields, group};
use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use artwork::{FinePlace, Printability};
use eframe::egui::Ui;
use job::LIMITS;
use measure::{Length, Unit};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    group(ui, "Too fine for the mesh");
    if !desk.job().tone.is_cut() {
        fields::says(ui, "Dots and grains are fine on purpose, and are not mended.");
        return;
    }
    let of_all = desk.job().inks.is_some() && desk.canvas.screens.shown.is_none();
    if of_all {
        fields::says(ui, "Choose a screen above to see what of its film is too fine.");
    }
    let why = "The finest line or gap that prints: three mesh pitches of the screen's mesh, unless another length is typed. Common practice, no source";
    let finest = desk.finest();
    if let Some(length) = fields::length(ui, "Finest line", finest, Unit::Mm, why) {
        let (least, most) = LIMITS.finest;
        desk.ask(Action::Finest(Some(length.max(least).min(most))));
    }
    if desk.fine.finest.is_some()
        && ui.button("As the mesh").on_hover_text("Take the chosen mesh's finest line").clicked()
    {
        desk.ask(Action::Finest(None));
    }
    let pixel = desk.job().resolution.pixel();
    if finest < pixel {
        fields::says(ui, "That is less than a film pixel: nothing can be finer.");
    } else if of_all {
        // Fine lines are those of one film.
    } else if let Some(found) = desk.fine_places() {
        listed(desk, &found, ui);
    } else {
        let share = desk.fine.looking().unwrap_or(0.0);
        fields::says(ui, format!("Looking for fine lines, {:.0} %", share * 100.0));
    }
    if let Some(mended) = desk.fine_film().and_then(|film| film.mended) {
        let plural = |n: usize| if n == 1 { "place" } else { "places" };
        fields::says(ui, format!("Mended {} {}", mended.places, plural(mended.places)));
        if mended.left > 0 {
            let words = "are still too fine: lines and gaps lie too close together for both";
            fields::says(ui, format!("{} {} {words}", mended.left, plural(mended.left)));
        }
    }
    if desk.job().mend.is_some() {
        command_button(desk, ui, Command::MendNothing);
    }
}

fn listed(desk: &mut Desk, found: &Printability, ui: &mut Ui) {
    let within = format!("Told to within {}", found.within.show(Unit::Mm));
    let thinnest = |l: Option<Length>| match l {
        Some(l) => shown(l),
        None => "wide enough".into(),
    };
    fields::figure(ui, "Thinnest line", thinnest(found.thinnest_ink), &within);
    fields::figure(ui, "Thinnest gap", thinnest(found.thinnest_gap), &within);
    let count = found.places.len();
    if count == 0 {
        fields::says(ui, "No place is too fine");
        return;
    }
    let more = if found.more { "more than " } else { "" };
    let words = match desk.fine.at.and_then(|i| Some((i, found.places.get(i)?))) {
        Some((i, place)) => format!("Place {} of {more}{count}: {}", i + 1, described(place)),
        None if count == 1 => "1 place is too fine".into(),
        None => format!("{more}{count} places are too fine"),
    };
    ui.label(words);
    ui.horizontal_wrapped(|ui| {
        command_button(desk, ui, Command::PreviousFine);
        command_button(desk, ui, Command::NextFine);
    });
    ui.horizontal_wrapped(|ui| {
        command_button(desk, ui, Command::MendThis);
        command_button(desk, ui, Command::MendAll);
    });
}

/// A place in a few words.
pub(crate) fn described(place: &FinePlace) -> String {
    let what = if place.ink { "line" } else { "gap" };
    format!("{what} of {}", shown(place.width))
}

/// A width to a hundredth of a millimetre, which is less than half a film pixel.
fn shown(width: Length) -> String {
    format!("{:.2} mm", width.to_mm())
}
