//! The exposure test strip: its page, its moves, and the time that comes out of it.

use super::fields;
use super::screen::spoken;
use crate::action::Action;
use crate::desk::Desk;
use crate::shop_plan::AtShop;
use eframe::egui::{Button, Ui};
use measure::Length;
use shop::{
    Figure, Hazard, Quantity, Reading, cautions, plan_strip, read_strip, time_by_wedge,
    time_elsewhere,
};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    fields::says(
        ui,
        "A film page of bands with fine lines, gaps and solid areas. Expose it band by band, \
         wash it out, and say here which bands came out.",
    );
    let mut shop = desk.shop.clone();
    let why = "The time expected to be good; the bands lie about it. Common practice, no source";
    if let Some(secs) = fields::number(ui, "Guess", shop.settings.strip.guess_secs, "s", 10.0, why)
    {
        shop.settings.strip.guess_secs = secs;
        desk.ask(Action::Shop(Box::new(shop.clone())));
    }
    let strip = match plan_strip(&shop.settings.strip) {
        Ok(strip) => strip,
        Err(e) => return fields::says_wrong(ui, &e.to_string()),
    };
    let can = desk.chore.is_none();
    let write = ui
        .add_enabled(can, Button::new("Write the test strip"))
        .on_hover_text("Writes strip.pdf into the films' folder; print it as a film, unscaled");
    if write.clicked() {
        desk.ask(Action::WriteStrip);
    }
    ui.collapsing("How to expose it", |ui| {
        for (i, said) in strip.moves.iter().enumerate() {
            fields::says(ui, format!("{}. {said}", i + 1));
        }
    });
    for caution in cautions(&[Hazard::Light, Hazard::Glass]) {
        fields::careful(ui, &caution);
    }
    let mut at = desk.at_shop.clone();
    bands(desk, ui, &strip.secs, &mut at);
    wedge(desk, ui, &mut at);
    scaled(desk, ui, &mut at);
    let now = &desk.at_shop;
    if (at.bands, at.wedge, at.other) != (now.bands, now.wedge, now.other) {
        desk.ask(Action::AtShop(Box::new(at)));
    }
}

/// The time from the bands that held and opened.
fn bands(desk: &mut Desk, ui: &mut Ui, secs: &[f64], at: &mut AtShop) {
    let why = "The first band, counted from the shortest time, whose solid areas held";
    if let Some(n) = fields::number(ui, "First that held", at.bands.0 as f64, "", 1.0, why) {
        at.bands.0 = n.clamp(0.0, secs.len() as f64) as usize;
    }
    let why = "The last band whose fine gaps opened";
    if let Some(n) = fields::number(ui, "Last that opened", at.bands.1 as f64, "", 1.0, why) {
        at.bands.1 = n.clamp(0.0, secs.len() as f64) as usize;
    }
    let (Some(held), Some(open)) = (at.bands.0.checked_sub(1), at.bands.1.checked_sub(1)) else {
        return;
    };
    match read_strip(secs, held, open) {
        Some(reading) => take(desk, ui, "strip", reading),
        None => fields::says_wrong(
            ui,
            "No time is good for both: solid areas hold only in later bands than the last whose \
             gaps opened. Look at the table below.",
        ),
    }
}

fn take(desk: &mut Desk, ui: &mut Ui, from: &str, reading: Reading) {
    let time = Quantity::Time(reading.secs).show(desk.job().unit);
    let why = "The middle, on the scale of factors, of the first time that held and the last that opened: the root of their product";
    fields::figure(ui, "Best time", time, why);
    let latitude = Quantity::Factor(reading.latitude).show(desk.job().unit);
    fields::figure(ui, "Latitude", latitude, "The longest good time over the shortest");
    let tip = "Takes time and latitude over into the shop's numbers";
    if ui.button(format!("Use the {from}'s time")).on_hover_text(tip).clicked() {
        let mut shop = desk.shop.clone();
        shop.settings.exposure.time_secs = reading.secs;
        // One band alone says nothing of how much is forgiven.
        if reading.latitude > 1.0 {
            shop.settings.exposure.latitude = reading.latitude.min(16.0);
        }
        desk.ask(Action::Shop(Box::new(shop)));
    }
}

/// The time from a step wedge exposed beside the film.
fn wedge(desk: &mut Desk, ui: &mut Ui, at: &mut AtShop) {
    ui.add_space(4.0);
    fields::says(ui, "Or by a step wedge exposed beside the film:");
    let why = "How long the wedge was exposed";
    if let Some(secs) = fields::number(ui, "Wedge exposed", at.wedge.0, "s", 10.0, why) {
        at.wedge.0 = secs.clamp(0.0, 36_000.0);
    }
    let why = "The last step that held, in halves where it held in part";
    if let Some(step) = fields::number(ui, "Last step held", at.wedge.1, "", 1.0, why) {
        at.wedge.1 = step.clamp(0.0, 40.0);
    }
    if at.wedge.0 <= 0.0 || at.wedge.1 <= 0.0 {
        return;
    }
    match time_by_wedge(at.wedge.0, at.wedge.1, &desk.shop.settings.exposure) {
        Ok(found) => {
            if let Some(secs) = offered(desk, ui, &found, "Use the wedge's time") {
                let mut shop = desk.shop.clone();
                shop.settings.exposure.time_secs = secs;
                desk.ask(Action::Shop(Box::new(shop)));
            }
        }
        Err(e) => fields::says_wrong(ui, &format!("{e}: {}.", e.hint())),
    }
}

/// A time that was found, and its seconds once it is taken over.
fn offered(desk: &Desk, ui: &mut Ui, found: &Figure, button: &str) -> Option<f64> {
    let why = format!("{}\nSource: {}", found.how, found.source);
    fields::figure(ui, &spoken(&found.name), found.value.show(desk.job().unit), &why);
    let taken = ui.button(button).on_hover_text(why).clicked();
    found.value.amount().filter(|_| taken)
}

/// The time at another distance, where that is valid, and through another film.
fn scaled(desk: &mut Desk, ui: &mut Ui, at: &mut AtShop) {
    ui.add_space(4.0);
    fields::says(ui, "Or from the time in use, with another lamp distance or film:");
    let unit = desk.job().unit;
    let (lamp, known) = (desk.shop.settings.lamp.clone(), &desk.shop.settings.exposure);
    let (distance, clear) =
        (at.other.0.unwrap_or(lamp.distance), at.other.1.unwrap_or(known.clear_density));
    let why = "From the lamp to the emulsion. Time grows by the square of the distance for lamps that are small beside it, not for panels";
    if let Some(l) = fields::length(ui, "New distance", distance, unit, why) {
        at.other.0 = (l > Length::ZERO).then_some(l);
    }
    let why = "Density of the clear film, measured in the lamp's band. Time grows by 10^(new - old) (ISO 5-1)";
    if let Some(d) = fields::number(ui, "New clear density", clear, "D", 0.01, why) {
        at.other.1 = Some(d.clamp(0.0, 1.0));
    }
    if (distance, clear) == (lamp.distance, known.clear_density) {
        return;
    }
    match time_elsewhere(&lamp, known, distance, clear, unit) {
        Ok(found) => {
            if let Some(secs) = offered(desk, ui, &found, "Use the scaled time and distance") {
                let mut shop = desk.shop.clone();
                shop.settings.exposure.time_secs = secs;
                shop.settings.exposure.clear_density = clear;
                shop.settings.lamp.distance = distance;
                desk.ask(Action::Shop(Box::new(shop)));
            }
        }
        Err(e) => fields::says_wrong(ui, &format!("{e}: {}.", e.hint())),
    }
}
