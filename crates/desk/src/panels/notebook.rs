//! The shop's notebook: what was really used and seen, and what it offers the next time.

use super::fields;
use crate::action::Action;
use crate::desk::Desk;
use crate::note::{About, Note};
use eframe::egui::{Button, Label, Ui};

/// Entries of this screen that are shown.
const SHOWN: usize = 8;

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    offers(desk, ui);
    past(desk, ui);
    write(desk, ui);
}

/// Numbers that the notes offer, each to be taken over.
fn offers(desk: &mut Desk, ui: &mut Ui) {
    let unit = desk.job().unit;
    for offer in desk.notebook.proposals(&desk.shop.settings) {
        let mut shop = desk.shop.clone();
        offer.apply(&mut shop.settings);
        let why = format!("From the notebook: {}", offer.how);
        fields::figure(ui, &offer.what, offer.value.show(unit), &why);
        if shop == desk.shop {
            fields::says(ui, "In use.");
        } else if ui.button(format!("Use this {}", offer.what)).on_hover_text(why).clicked() {
            desk.ask(Action::Shop(Box::new(shop)));
        }
    }
}

fn past(desk: &Desk, ui: &mut Ui) {
    let (screen, unit) = (desk.screen_name(), desk.job().unit);
    let notes: Vec<_> = desk.notebook.entries().filter(|e| e.screen == screen).collect();
    if notes.is_empty() {
        fields::says(ui, "Nothing is noted of this screen yet.");
    }
    for entry in notes.iter().rev().take(SHOWN) {
        ui.add(Label::new(entry.words(unit)).wrap());
    }
    if let Some(home) = &desk.home {
        let path = crate::shop_plan::notebook(home);
        fields::says(ui, format!("Kept in {}, one line a note.", path.display()));
    }
}

fn write(desk: &mut Desk, ui: &mut Ui) {
    let mut at = desk.at_shop.clone();
    let before = format!("{:?}", at.note);
    let note = &mut at.note;
    let kinds = [
        (About::Exposure, "exposure", "A screen or test strip was exposed"),
        (About::Weight, "weight", "A garment was weighed before and after printing"),
        (About::Timing, "time taken", "A step of the work was timed"),
        (About::Wash, "wash test", "A cured garment was washed"),
        (About::Words, "words", "Anything else"),
    ];
    if let Some(about) = fields::choice(ui, "Note of", note.about, &kinds, "What is noted") {
        note.about = about;
    }
    if let Some(day) = fields::words(ui, "Day", &note.date, "Best as 2031-05-17") {
        note.date = day;
    }
    kind(desk, ui, note);
    if let Some(words) = fields::words(ui, "Remarks", &note.words, "What was seen, in words") {
        note.words = words;
    }
    let why = "The file of a photograph of it";
    if let Some(photo) = fields::words(ui, "Photo", &note.photo, why) {
        note.photo = photo;
    }
    let area = desk.printed_m2();
    let entry = note.entry(desk.screen_name(), &desk.shop.settings, area);
    let button = ui.add_enabled(entry.is_ok(), Button::new("Write it down"));
    match entry {
        Ok(entry) if button.clicked() => {
            desk.ask(Action::WriteDown(Box::new(entry)));
            *note = note.next();
        }
        Ok(_) => {}
        Err(lacks) => {
            button.on_disabled_hover_text(lacks);
        }
    }
    if format!("{:?}", at.note) != before {
        desk.ask(Action::AtShop(Box::new(at)));
    }
}

fn kind(desk: &Desk, ui: &mut Ui, note: &mut Note) {
    let settings = &desk.shop.settings;
    match note.about {
        About::Exposure => {
            let secs = note.secs.unwrap_or(settings.exposure.time_secs);
            let why = "How long it was really exposed; mesh, lamp and distance are the shop's";
            if let Some(secs) = fields::number(ui, "Exposed for", secs, "s", 10.0, why) {
                note.secs = Some(secs.clamp(0.0, 36_000.0));
            }
            let why = "The last step of a wedge that held; 0 where there was none";
            let step = note.last_step.unwrap_or(0.0);
            if let Some(step) = fields::number(ui, "Wedge step held", step, "", 1.0, why) {
                note.last_step = (step > 0.0).then_some(step.min(40.0));
            }
            ui.checkbox(&mut note.good, "Solid areas held and fine gaps opened");
        }
        About::Weight => {
            let why = "Grams gained: straight after printing less before, not yet cured";
            if let Some(grams) = fields::number(ui, "Gained", note.grams, "g", 1.0, why) {
                note.grams = grams.clamp(0.0, 5000.0);
            }
        }
        About::Timing => {
            let steps: Vec<(usize, &str, &str)> =
                settings.steps.iter().enumerate().map(|(i, s)| (i, s.name.as_str(), "")).collect();
            if let Some(step) = fields::choice(ui, "Step", note.step, &steps, "Which step") {
                note.step = step;
            }
            let why = "How often it was done";
            if let Some(n) = fields::number(ui, "Done", f64::from(note.times), "times", 1.0, why) {
                note.times = n.clamp(1.0, 1e6) as u32;
            }
            let why = "Minutes of work with one's hands, for all of them";
            if let Some(min) = fields::number(ui, "Hands-on", note.minutes, "min", 1.0, why) {
                note.minutes = min.clamp(0.0, 1e6);
            }
        }
        About::Wash => {
            let why = "Temperature and time, or days in air";
            if let Some(cure) = fields::words(ui, "Cured", &note.cure, why) {
                note.cure = cure;
            }
            let why = "How often it was washed";
            if let Some(n) = fields::number(ui, "Washed", f64::from(note.washes), "times", 1.0, why)
            {
                note.washes = n.clamp(1.0, 1000.0) as u32;
            }
            ui.checkbox(&mut note.good, "The print held");
        }
        About::Words => {}
    }
}
