//! What the shop needs for this film: every figure says how it came out and from which source.

use super::{fields, group, mishaps, notebook, shelf, strip};
use crate::action::Action;
use crate::desk::Desk;
use crate::photo::Subject;
use crate::sketch;
use crate::step::State;
use crate::theme::{Palette, strong};
use eframe::egui::{
    CollapsingHeader, ComboBox, Label, Pos2, Rect, RichText, Sense, Stroke, StrokeKind, Ui, vec2,
};
use job::{ScreenPlan, ScreenPlans};
use shop::{Drawing, FieldValue, Section};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let why = "How many garments this screen is to print";
    if let Some(n) = fields::number(ui, "Garments", f64::from(desk.shop.quantity), "", 1.0, why) {
        let mut shop = desk.shop.clone();
        shop.quantity = n.clamp(0.0, 1e6) as u32;
        desk.ask(Action::Shop(Box::new(shop)));
    }
    match desk.stages.plans() {
        Some(Ok(plans)) => {
            let (plans, unit) = (plans.clone(), desk.job().unit);
            fields::says(
                ui,
                "Hover over a figure to read how it came out and where it comes from.",
            );
            if let Some(all) = &plans.all {
                screens(desk, ui, &plans);
                section(desk, ui, all, unit, true);
            }
            if let Some(plan) = desk.plan().cloned() {
                for (i, part) in plan.sections.iter().enumerate() {
                    section(desk, ui, part, unit, i == 1 && plans.all.is_none());
                }
            }
            ui.add_space(6.0);
            fields::says(ui, shop::DEFER);
        }
        Some(Err(error)) => fields::says_wrong(ui, &error.to_string()),
        None => fields::says(ui, "Waits for the film and its sheets."),
    }
    super::photo::show(desk, ui, Subject::Screen);
    group(ui, "Exposing and noting");
    tool(ui, "Test strip and time", |ui| strip::show(desk, ui));
    tool(ui, "When something went wrong", |ui| mishaps::show(desk, ui));
    tool(ui, "Notebook", |ui| notebook::show(desk, ui));
    group(ui, "On the shelf");
    shelf::show(desk, ui);
    own_numbers(desk, ui);
}

/// Which of several screens is looked at, its film on the table and its plan below.
fn screens(desk: &mut Desk, ui: &mut Ui, plans: &ScreenPlans) {
    let name = |one: &ScreenPlan| {
        one.screen.as_ref().map_or_else(String::new, |s| format!("{} {}", s.order, s.name))
    };
    let names: Vec<String> = plans.screens.iter().map(name).collect();
    let mut options = vec![(None, "all together", "What all screens come to")];
    options.extend(names.iter().enumerate().map(|(n, name)| (Some(n), name.as_str(), "")));
    let now = desk.canvas.screens.shown.filter(|n| *n < names.len());
    let why = "One screen's film and plan, or all of them";
    if let Some(screen) = fields::choice(ui, "Screen", now, &options, why) {
        desk.ask(Action::ShowScreen(screen));
    }
    if now.is_none() {
        fields::says(ui, "Choose a screen for its mesh, frame, exposure, strokes and ink.");
    }
}

fn tool(ui: &mut Ui, title: &str, add: impl FnOnce(&mut Ui)) {
    let words = RichText::new(title).font(strong(15.0));
    CollapsingHeader::new(words).id_salt(title).show(ui, add);
}

fn section(desk: &mut Desk, ui: &mut Ui, part: &Section, unit: measure::Unit, open: bool) {
    let p = Palette::of(ui.ctx());
    let title = RichText::new(&part.title).font(strong(15.0));
    CollapsingHeader::new(title).id_salt(part.key).default_open(open).show(ui, |ui| {
        for (i, drawing) in part.drawings.iter().enumerate() {
            small(desk, ui, (part.key, i), drawing);
        }
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
            fields::careful(ui, caution);
        }
    });
}

/// A drawing made small, which a click lays on the table.
fn small(desk: &mut Desk, ui: &mut Ui, which: (&'static str, usize), drawing: &Drawing) {
    let p = Palette::of(ui.ctx());
    let room = vec2(ui.available_width(), 190.0);
    let fitted = sketch::fitted(drawing, Rect::from_min_size(Pos2::ZERO, room)).size();
    let (rect, _) = ui.allocate_exact_size(fitted, Sense::hover());
    sketch::paint(&ui.painter_at(rect), drawing, rect, None);
    ui.painter().rect_stroke(rect, 0, Stroke::new(1.0, p.edge), StrokeKind::Outside);
    let shown = desk.at_shop.drawing == Some(which);
    let words = if shown { "Show the film again" } else { "Lay it on the table" };
    let button = ui.button(format!("{words}: {}", drawing.title));
    if button.on_hover_text("The drawing to scale, with its measures").clicked() {
        desk.ask(Action::Draw((!shown).then_some(which)));
    }
}

/// The shop's own numbers, the same for every job.
fn own_numbers(desk: &mut Desk, ui: &mut Ui) {
    group(ui, "The shop's own numbers");
    fields::says(ui, "Kept for all jobs. Each begins with a typical value; measure your own.");
    let unit = desk.job().unit;
    let mut shop = desk.shop.clone();
    let mut changed = false;
    for (title, list) in shop.settings.groups() {
        // A name of its own, since the plan's parts are called the same.
        CollapsingHeader::new(format!("{title}, own numbers")).id_salt(("own", title)).show(
            ui,
            |ui| {
                for field in list {
                    let label = spoken(field.name);
                    let why = format!("{}\nSource of the default: {}", field.about, field.source);
                    ui.push_id(field.name, |ui| {
                        changed |= edit(ui, &label, field.unit, field.value, unit, &why)
                    });
                }
            },
        );
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
                let combo = ComboBox::from_id_salt(label)
                    .selected_text(spoken(shown))
                    .width(ui.available_width().min(152.0));
                let options =
                    names.iter().enumerate().map(|(i, name)| (i, i == before, spoken(name), ""));
                index = fields::list(ui, combo, words, options).unwrap_or(before);
            });
            choice.choose(index);
            index != before
        }
    }
}

/// A name of the saved file as words.
pub(crate) fn spoken(name: &str) -> String {
    let plain = name.replace('_', " ");
    let mut chars = plain.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
