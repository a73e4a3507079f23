//! What the shop needs for this film: every figure says how it came out and from which source.

use super::{fields, group};
use crate::action::Action;
use crate::desk::Desk;
use crate::step::State;
use crate::theme::{Palette, strong};
use eframe::egui::{CollapsingHeader, ComboBox, Label, RichText, Ui};
use shop::{FieldValue, Section};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let why = "How many garments this screen is to print";
    if let Some(n) = fields::number(ui, "Garments", f64::from(desk.shop.quantity), "", 1.0, why) {
        let mut shop = desk.shop.clone();
        shop.quantity = n.clamp(0.0, 1e6) as u32;
        desk.ask(Action::Shop(Box::new(shop)));
    }
    match desk.stages.reckoning() {
        Some(Ok(reckoning)) => {
            let unit = desk.job().unit;
            fields::says(
                ui,
                "Hover over a figure to read how it came out and where it comes from.",
            );
            for (i, part) in reckoning.sections.iter().enumerate() {
                section(ui, part, unit, i == 1);
            }
            ui.add_space(6.0);
            fields::says(ui, reckoning.defer);
        }
        Some(Err(why)) => fields::says_wrong(ui, &why),
        None => fields::says(ui, "Waits for the film and its sheets."),
    }
    own_numbers(desk, ui);
}

fn section(ui: &mut Ui, part: &Section, unit: measure::Unit, open: bool) {
    let p = Palette::of(ui.ctx());
    let title = RichText::new(&part.title).font(strong(15.0));
    CollapsingHeader::new(title).id_salt(part.key).default_open(open).show(ui, |ui| {
        for figure in &part.figures {
            let why = format!("{}\nSource: {}", figure.how, figure.source);
            fields::row(ui, &spoken(&figure.name), &why, |ui, _| {
                ui.add(Label::new(figure.value.show(unit)).wrap()).on_hover_text(&why);
            });
        }
        for warning in &part.warnings {
            ui.horizontal_top(|ui| {
                fields::sign(ui, State::Look);
                ui.add(Label::new(RichText::new(warning).color(p.look)).wrap());
            });
        }
        for note in &part.notes {
            fields::says(ui, note.clone());
        }
        for caution in &part.cautions {
            ui.horizontal_top(|ui| {
                fields::sign(ui, State::Look);
                let text = format!("{}: {}", caution.hazard.name(), caution.text);
                ui.add(Label::new(text).wrap()).on_hover_text(caution.source.to_string());
            });
        }
    });
}

/// The shop's own numbers, the same for every job.
fn own_numbers(desk: &mut Desk, ui: &mut Ui) {
    group(ui, "The shop's own numbers");
    fields::says(ui, "Kept for all jobs. Each begins with a typical value; measure your own.");
    let unit = desk.job().unit;
    let mut shop = desk.shop.clone();
    let mut changed = false;
    for (title, list) in shop.settings.groups() {
        CollapsingHeader::new(title).id_salt(("own", title)).show(ui, |ui| {
            for field in list {
                let label = spoken(field.name);
                let why = format!("{}\nSource of the default: {}", field.about, field.source);
                ui.push_id(field.name, |ui| {
                    changed |= edit(ui, &label, field.unit, field.value, unit, &why)
                });
            }
        });
    }
    if changed {
        desk.ask(Action::Shop(Box::new(shop)));
    }
}

fn edit(
    ui: &mut Ui,
    label: &str,
    own: &str,
    value: FieldValue<'_>,
    unit: measure::Unit,
    why: &str,
) -> bool {
    match value {
        FieldValue::Number(now, range) => fields::number(ui, label, *now, own, 1.0, why)
            .is_some_and(|v| {
                *now = v.clamp(*range.start(), *range.end());
                true
            }),
        FieldValue::Length(now, range) => {
            fields::length(ui, label, *now, unit, why).is_some_and(|v| {
                *now = v.max(*range.start()).min(*range.end());
                true
            })
        }
        FieldValue::Count(now, range) => fields::number(ui, label, f64::from(*now), own, 1.0, why)
            .is_some_and(|v| {
                *now = (v.max(0.0) as u32).clamp(*range.start(), *range.end());
                true
            }),
        FieldValue::Switch(now) => ui.checkbox(now, label).on_hover_text(why).changed(),
        FieldValue::Choice(choice) => {
            let (names, before) = (choice.names(), choice.index());
            let mut index = before;
            fields::row(ui, label, why, |ui, words| {
                let shown = names.get(index).copied().unwrap_or_default();
                let combo = ComboBox::from_id_salt(label).selected_text(spoken(shown)).width(152.0);
                let response = combo.show_ui(ui, |ui| {
                    for (i, name) in names.iter().enumerate() {
                        ui.selectable_value(&mut index, i, spoken(name));
                    }
                });
                response.response.labelled_by(words.id);
            });
            choice.choose(index);
            index != before
        }
    }
}

/// A name of the saved file as words.
fn spoken(name: &str) -> String {
    let plain = name.replace('_', " ");
    let mut chars = plain.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
