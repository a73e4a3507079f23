//! The inks of a job with several screens: found, picked, changed and put in order.

use super::{command_button, fields, group};
use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use crate::films::{ScreenView, color32, listed};
use crate::theme::Palette;
use eframe::egui::{Sense, Stroke, StrokeKind, Ui, vec2};
use inks::{Ink, Inks, Rgb};
use job::{Edit, InkChange, Plans, Separation};
use measure::Length;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Way {
    Found,
    AtMost,
    Picked,
}

const WAYS: [(Way, &str, &str); 3] = [
    (Way::Found, "as the picture has", "Filmquilt looks for every colour the picture is made of"),
    (Way::AtMost, "no more than", "The inks that matter most, up to a number"),
    (Way::Picked, "as I say", "The inks you list, in your order"),
];

/// What an underbase is drawn in by where nothing else is asked: about one point (trade press).
const CHOKE: Length = Length::mm(0.35);

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    group(ui, "Screens");
    let mut several = desk.job().inks.is_some();
    let tip = "Parts a colour picture into its inks; each gets its own film";
    if ui.checkbox(&mut several, "One screen for each ink").on_hover_text(tip).changed() {
        desk.ask(Action::ShowScreen(None));
        desk.ask(Action::Edit(Edit::Inks(several.then(Separation::default))));
    }
    let Some(now) = desk.job().inks.clone() else { return };
    if let Some(error) = desk.stages.plates_error() {
        let text = error.to_string();
        fields::says_wrong(ui, &text);
    }
    let plates = desk.stages.plates().cloned();
    let inks: Vec<Ink> = plates.as_ref().map_or_else(Vec::new, |p| p.inks().to_vec());
    ways(desk, ui, &now, &inks);
    if !now.changes.is_empty() {
        let tip = "Gives up what you did with the inks and starts from those found";
        if ui.button("Start the inks anew").on_hover_text(tip).clicked() {
            ask(desk, Separation { changes: Vec::new(), ..now.clone() });
        }
    }
    let Some(plates) = plates else {
        fields::says(ui, "Looking for inks…");
        return;
    };
    list(desk, ui);
    let base = usize::from(now.underbase.is_some());
    let chosen = desk.canvas.screens.shown.and_then(|n| n.checked_sub(base));
    if let Some((n, ink)) = chosen.and_then(|n| Some((n, inks.get(n)?))) {
        chosen_ink(desk, ui, &now, &inks, n, ink);
    }
    group(ui, "How they meet");
    let why =
        "Left open: the cloth shows. The colour along the picture's rim, unless you say another";
    if let Some(colour) = fields::colour(ui, "Garment colour", plates.garment, why) {
        ask(desk, Separation { garment: Some(colour), ..now.clone() });
    }
    let unit = desk.job().unit;
    let why = "How far a lighter ink spreads under a darker one beside it, so that screens a little out of place show no gap";
    if let Some(trap) = fields::length(ui, "Trap", now.trap, unit, why) {
        ask(desk, Separation { trap, ..now.clone() });
    }
    let mut under = now.underbase.is_some();
    let tip = "White under all inks, printed first: for dark garments";
    if ui.checkbox(&mut under, "White underbase").on_hover_text(tip).changed() {
        desk.ask(Action::ShowScreen(None));
        ask(desk, Separation { underbase: under.then_some(CHOKE), ..now.clone() });
    }
    if let Some(choke) = now.underbase {
        let why = "How far the underbase keeps inside the inks, so that no white shows";
        if let Some(choke) = fields::length(ui, "Choke", choke, unit, why) {
            ask(desk, Separation { underbase: Some(choke), ..now.clone() });
        }
    }
    let plans = [
        (Plans::Shared, "one for all", "One taping guide, and every film lies alike"),
        (
            Plans::Own,
            "each its fewest",
            "A screen that prints little takes few sheets; each film has a guide of its own",
        ),
    ];
    let why = "Whether all screens' films are cut into the same sheets";
    if let Some(plans) = fields::choice(ui, "Sheet plan", now.plans, &plans, why) {
        ask(desk, Separation { plans, ..now.clone() });
    }
    let why =
        "How much of what lies under it an ink hides in the print shown here; only for the eye";
    let opacity = (f64::from(desk.canvas.screens.opacity) * 100.0).round();
    if let Some(percent) = fields::number(ui, "Ink hides", opacity, "%", 5.0, why) {
        desk.ask(Action::Opacity((percent / 100.0) as f32));
    }
}

fn ask(desk: &mut Desk, separation: Separation) {
    desk.ask(Action::Edit(Edit::Inks(Some(separation))));
}

/// Which inks are looked for.
fn ways(desk: &mut Desk, ui: &mut Ui, now: &Separation, inks: &[Ink]) {
    let way = match now.inks {
        Inks::Found => Way::Found,
        Inks::AtMost(_) => Way::AtMost,
        Inks::Picked(_) => Way::Picked,
    };
    let to = |inks| now.looking_for(inks);
    if let Some(way) = fields::choice(ui, "Inks are", way, &WAYS, "Which inks are looked for") {
        desk.ask(Action::ShowScreen(None));
        match way {
            Way::Found => ask(desk, to(Inks::Found)),
            Way::AtMost => ask(desk, to(Inks::AtMost(inks.len().max(1)))),
            Way::Picked if inks.is_empty() => ask(desk, to(Inks::Picked(vec![grey()]))),
            Way::Picked => ask(desk, to(Inks::Picked(listed(inks)))),
        }
    }
    if let Inks::AtMost(count) = now.inks {
        let why = "The most inks; those that change the picture least go first";
        if let Some(n) = fields::number(ui, "Most inks", count as f64, "", 1.0, why) {
            ask(desk, to(Inks::AtMost(n.clamp(0.0, 1000.0) as usize)));
        }
    }
    command_button(desk, ui, Command::PickInk);
    if desk.is_picking() {
        fields::says(ui, "Click a place of the artwork; Esc gives it up");
    }
    if matches!(now.inks, Inks::Picked(_)) && !inks.is_empty() {
        let tip = "Adds a grey at the end; choose it and give it its colour";
        if ui.button("Add an ink").on_hover_text(tip).clicked() {
            let mut all = listed(inks);
            all.push(grey());
            ask(desk, to(Inks::Picked(all)));
        }
    }
}

fn grey() -> (Rgb, Option<String>) {
    (Rgb([128; 3]), None)
}

/// The print and every screen, one of them shown on the table.
fn list(desk: &mut Desk, ui: &mut Ui) {
    let Some(film) = desk.stages.shown().cloned() else { return };
    let shown = desk.canvas.screens.shown.filter(|n| *n < film.screens.len());
    let tip = "Shows all inks on the garment's colour, in order";
    if ui.selectable_label(shown.is_none(), "The print").on_hover_text(tip).clicked() {
        desk.ask(Action::ShowScreen(None));
    }
    for (n, screen) in film.screens.iter().enumerate() {
        let ScreenView { name, share, colour, .. } = screen;
        ui.horizontal(|ui| {
            let p = Palette::of(ui.ctx());
            let (rect, _) = ui.allocate_exact_size(vec2(18.0, 18.0), Sense::hover());
            ui.painter().rect_filled(rect, 3, *colour);
            ui.painter().rect_stroke(rect, 3, Stroke::new(1.0, p.edge), StrokeKind::Inside);
            let words = format!("{} {name}", n + 1);
            let tip =
                if screen.underbase { "Printed first, under all inks" } else { "Shows its film" };
            if ui.selectable_label(shown == Some(n), words).on_hover_text(tip).clicked() {
                desk.ask(Action::ShowScreen(Some(n)));
            }
            fields::says(ui, format!("{:.1} % of the film", share * 100.0));
        });
    }
}

/// What can be done with one ink.
fn chosen_ink(desk: &mut Desk, ui: &mut Ui, now: &Separation, inks: &[Ink], n: usize, ink: &Ink) {
    let base = usize::from(now.underbase.is_some());
    let change = |desk: &mut Desk, change: InkChange, shown: Option<usize>| {
        let mut new = now.clone();
        new.changes.push(change);
        ask(desk, new);
        desk.ask(Action::ShowScreen(shown.map(|n| n + base)));
    };
    if let Some(name) = fields::words(ui, "Ink name", &ink.name, "Stands on its films and files")
        && !name.trim().is_empty()
    {
        change(desk, InkChange::Rename(n, name.trim().into()), Some(n));
    }
    let why = "How the ink looks in print";
    if let Some(colour) = fields::colour(ui, "Ink colour", ink.colour, why) {
        // Of inks picked by hand the colour also says what is looked for.
        match &now.inks {
            Inks::Picked(list) if now.changes.is_empty() && n < list.len() => {
                let mut list = list.clone();
                list[n].0 = colour;
                ask(desk, Separation { inks: Inks::Picked(list), ..now.clone() });
            }
            _ => change(desk, InkChange::Recolour(n, colour), Some(n)),
        }
    }
    ui.horizontal_wrapped(|ui| {
        let mut button = |can: bool, words: &str, tip: &str| {
            ui.add_enabled(can, eframe::egui::Button::new(words)).on_hover_text(tip).clicked()
        };
        if button(n > 0, "Print earlier", "Before the ink that comes before it now") {
            change(desk, InkChange::Move(n, n - 1), Some(n - 1));
        }
        if button(n + 1 < inks.len(), "Print later", "After the ink that comes after it now") {
            change(desk, InkChange::Move(n, n + 1), Some(n + 1));
        }
        if button(ink.is_merged(), "Part again", "Gives each colour merged into it its own screen")
        {
            change(desk, InkChange::Split(n), None);
        }
        if button(inks.len() > 1, "Leave open", "Prints nothing there; the cloth shows") {
            change(desk, InkChange::Open(n), None);
        }
    });
    let mut over = ink.overprints;
    let tip = "Prints over the inks about it, which go on under it, instead of in a hole in them";
    if ui.checkbox(&mut over, "Prints over the others").on_hover_text(tip).changed() {
        change(desk, InkChange::Overprint(n, over), Some(n));
    }
    if inks.len() > 1 {
        let others = inks.iter().enumerate().filter(|(m, _)| *m != n);
        let mut options = vec![(n, "no other ink", "As it is")];
        options.extend(others.map(|(m, other)| (m, &other.name[..], "Prints both with this ink")));
        let why = "Both are printed with one screen, in the other's colour";
        if let Some(into) = fields::choice(ui, "Join with", n, &options, why) {
            change(desk, InkChange::Merge(into, n), Some(if into > n { into - 1 } else { into }));
        }
    }
    let p = Palette::of(ui.ctx());
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 4.0), Sense::hover());
    ui.painter().rect_filled(rect, 2, color32(ink.colour));
    ui.painter().rect_stroke(rect, 2, Stroke::new(0.5, p.edge), StrokeKind::Inside);
}
