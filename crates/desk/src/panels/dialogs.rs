//! What lies over the desk: messages, questions, and a path to type.

use super::{commands, photo, taping, walk};
use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use crate::dialog::{Dialog, Purpose};
use crate::step::State;
use crate::theme::{Palette, strong};
use eframe::egui::{
    Align2, Area, Button, Frame, Id, Key, Label, Margin, Modal, Order, RichText, ScrollArea, Sense,
    Slider, Stroke, StrokeKind, TextEdit, Ui, vec2,
};
use garment::Garment;
use std::path::PathBuf;

pub(crate) fn dialogs(desk: &mut Desk, ui: &mut Ui) {
    notices(desk, ui);
    let Some(dialog) = desk.dialog.clone() else { return };
    match dialog {
        Dialog::Unsaved(next) => unsaved(desk, ui, &next),
        Dialog::Path { purpose, text } => path(desk, ui, purpose, text),
        Dialog::Standing { names, next } => may_replace(desk, ui, &names, *next),
        Dialog::Commands { text, chosen } => commands::show(desk, ui, text, chosen),
        Dialog::Calibrate { points_per_inch } => calibrate(desk, ui, points_per_inch),
        Dialog::Walk(stop) => walk::show(desk, ui, stop),
        Dialog::Photo(card) => photo::card(desk, ui, card),
        Dialog::Taping(join) => taping::show(desk, ui, join),
        Dialog::Sizes { chosen, standing } => sizes(desk, ui, chosen, &standing),
        Dialog::Recover { title } => recover(desk, ui, &title),
    }
}

pub(super) fn modal(ui: &Ui, title: &str, width: f32, add: impl FnOnce(&mut Ui)) -> bool {
    let p = Palette::of(ui.ctx());
    let frame =
        Frame::window(&ui.ctx().global_style()).inner_margin(Margin::same(20)).fill(p.paper);
    Modal::new(Id::unique("dialog"))
        .frame(frame)
        .show(ui.ctx(), |ui| {
            let window = ui.ctx().content_rect().size();
            ui.set_width(width.min(window.x - 60.0));
            // However low the card before this one was; before all else, since it begins anew above.
            ui.set_max_height(window.y);
            ui.label(RichText::new(title).font(strong(19.0)));
            ui.add_space(6.0);
            // In a low window, or with large text, a card is scrolled.
            let room = (window.y - 110.0).max(120.0);
            let mut area = ScrollArea::vertical().max_height(room);
            if is_new(ui, title) {
                area = area.vertical_scroll_offset(0.0);
            }
            area.show(ui, add);
        })
        .should_close()
}

/// Whether a card was not shown just before: it begins at its top, wherever the last one was left.
fn is_new(ui: &Ui, title: &str) -> bool {
    let (id, now) = (Id::unique("card shown"), ui.ctx().cumulative_pass_nr());
    ui.data_mut(|data| {
        let before = data.get_temp::<(u64, String)>(id);
        data.insert_temp(id, (now, title.to_owned()));
        before.is_none_or(|(pass, shown)| pass + 1 < now || shown != title)
    })
}

/// The button that a dialog is for.
pub(super) fn main_button(ui: &mut Ui, words: &str, enabled: bool) -> bool {
    let p = Palette::of(ui.ctx());
    let text = RichText::new(words).color(if enabled { p.on_accent } else { p.quiet });
    let fill = if enabled { p.accent } else { p.board };
    ui.add_enabled(enabled, Button::new(text).fill(fill)).clicked()
}

fn unsaved(desk: &mut Desk, ui: &Ui, next: &Action) {
    let title = format!("Save the changes to {}?", desk.job().title);
    let closed = modal(ui, &title, 440.0, |ui| {
        ui.label("What was changed since it was last saved is lost otherwise.");
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if main_button(ui, "Save first", true) {
                desk.ask(Action::CloseDialog);
                desk.ask(Action::Do(Command::Save));
                desk.ask(Action::AfterSave(Box::new(anyway(next))));
            }
            if ui.button("Don't save").clicked() {
                desk.ask(Action::CloseDialog);
                desk.ask(anyway(next));
            }
            if ui.button("Go back").clicked() {
                desk.ask(Action::CloseDialog);
            }
        });
    });
    if closed {
        desk.ask(Action::CloseDialog);
    }
}

/// The action that no longer asks.
fn anyway(next: &Action) -> Action {
    match next {
        Action::Open(path) => Action::OpenAnyway(path.clone()),
        other => other.clone(),
    }
}

fn path(desk: &mut Desk, ui: &Ui, purpose: Purpose, mut text: String) {
    let mut go = false;
    let closed = modal(ui, purpose.title(), 520.0, |ui| {
        let what = if purpose == Purpose::Export { "Folder" } else { "Path of the file" };
        let label = ui.label(what);
        let edit = TextEdit::singleline(&mut text).desired_width(f32::INFINITY);
        let response = ui.add(edit).labelled_by(label.id);
        go = response.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
        if !go && ui.memory(|m| m.focused().is_none()) {
            response.request_focus();
        }
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            go |= main_button(ui, purpose.verb(), !text.trim().is_empty());
            if ui.button("Cancel").clicked() {
                desk.ask(Action::CloseDialog);
            }
        });
    });
    if go && !text.trim().is_empty() {
        let path = tilde(text.trim());
        close_for(desk, Action::Chosen { purpose, path, agreed: false });
    } else if closed {
        desk.ask(Action::CloseDialog);
    } else if let Some(Dialog::Path { text: kept, .. }) = &mut desk.dialog {
        *kept = text;
    }
}

/// Closes the card and goes on with this; what waits for a save still does.
fn close_for(desk: &mut Desk, next: Action) {
    let after = desk.after_save.take();
    desk.ask(Action::CloseDialog);
    desk.ask(next);
    if let Some(after) = after {
        desk.ask(Action::AfterSave(after));
    }
}

/// Asks whether what stands in the way may go.
fn may_replace(desk: &mut Desk, ui: &Ui, names: &[String], next: Action) {
    let (title, place, again) = match &next {
        Action::ExportTo(dir) => ("Replace the films there?", dir.as_path(), Command::Export),
        Action::SaveTo(path) => {
            let folder = path.parent().unwrap_or(path);
            ("Replace the job there?", folder, Command::SaveAs)
        }
        _ => return,
    };
    let closed = modal(ui, title, 440.0, |ui| {
        ui.label(format!("{} holds {} already.", place.display(), names.join(", ")));
        ui.label("Replaced files cannot be had back.");
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if main_button(ui, "Replace", true) {
                close_for(desk, next.clone());
            }
            if ui.button("Choose elsewhere…").clicked() {
                close_for(desk, Action::Do(again));
            }
            if ui.button("Go back").clicked() {
                desk.ask(Action::CloseDialog);
            }
        });
    });
    if closed {
        desk.ask(Action::CloseDialog);
    }
}

/// A path as typed, `~` being the printer's own folder.
fn tilde(text: &str) -> PathBuf {
    match (text.strip_prefix("~/"), dirs::home_dir()) {
        (Some(rest), Some(home)) => home.join(rest),
        _ => PathBuf::from(text),
    }
}

/// A bank card is 85.60 mm wide (ISO/IEC 7810, ID-1).
const CARD_INCHES: f32 = 85.60 / 25.4;
const CARD_PROPORTION: f32 = 53.98 / 85.60;

fn calibrate(desk: &mut Desk, ui: &Ui, mut points_per_inch: f32) {
    let p = Palette::of(ui.ctx());
    let zoom = ui.ctx().zoom_factor();
    let mut done = false;
    let closed = modal(ui, "How large is your screen?", 640.0, |ui| {
        ui.label("Hold a bank card or a ruler to the screen, and move the slider until the drawing is as wide as the card: 85.6 mm, or 3⅜ in.");
        let width = points_per_inch * CARD_INCHES;
        let (rect, _) =
            ui.allocate_exact_size(vec2(width, width * CARD_PROPORTION), Sense::hover());
        ui.painter().rect(
            rect,
            width * 0.04,
            p.board,
            Stroke::new(1.5, p.accent),
            StrokeKind::Inside,
        );
        for i in 0..=8 {
            let x = rect.left() + points_per_inch / zoom.max(0.1) * zoom * i as f32 / 2.54;
            if x <= rect.right() {
                ui.painter().line_segment(
                    [
                        eframe::egui::pos2(x, rect.bottom() - 9.0),
                        eframe::egui::pos2(x, rect.bottom()),
                    ],
                    Stroke::new(1.0, p.text),
                );
            }
        }
        ui.painter().text(rect.center(), Align2::CENTER_CENTER, "85.6 mm", strong(15.0), p.text);
        ui.spacing_mut().slider_width = 420.0;
        let label = ui.label("Points to an inch");
        ui.add(Slider::new(&mut points_per_inch, 40.0..=240.0).step_by(0.5)).labelled_by(label.id);
        ui.add_space(8.0);
        ui.horizontal(|ui| {
            done = main_button(ui, "It matches", true);
            if ui.button("Cancel").clicked() {
                desk.ask(Action::CloseDialog);
            }
        });
    });
    if done {
        desk.ask(Action::Calibrated(points_per_inch * zoom));
    } else if closed {
        desk.ask(Action::CloseDialog);
    } else if let Some(Dialog::Calibrate { points_per_inch: kept }) = &mut desk.dialog {
        *kept = points_per_inch;
    }
}

fn sizes(desk: &mut Desk, ui: &Ui, mut chosen: Vec<String>, standing: &[String]) {
    let mut go = false;
    let dir = desk.out_dir();
    let closed = modal(ui, "Write the films for several sizes", 470.0, |ui| {
        ui.label("The artwork grows and shrinks with the garment's width. Each size gets a folder of its own name in");
        ui.label(RichText::new(&dir).strong());
        ScrollArea::vertical().max_height(240.0).show(ui, |ui| {
            let shape = desk.job().garment.as_ref().map(|g| g.shape.name());
            for name in Garment::names() {
                // Sizes of the garment at hand; all garments where there is none.
                if shape.is_some_and(|s| Garment::named(&name).is_none_or(|g| g.shape.name() != s))
                {
                    continue;
                }
                let mut on = chosen.contains(&name);
                let note = if standing.contains(&name) {
                    " — takes the place of the films there"
                } else {
                    ""
                };
                if ui.checkbox(&mut on, format!("{name}{note}")).changed() {
                    chosen.retain(|n| *n != name);
                    if on {
                        chosen.push(name);
                    }
                }
            }
        });
        ui.add_space(8.0);
        ui.horizontal(|ui| {
            go = main_button(ui, "Write", !chosen.is_empty());
            if ui.button("Cancel").clicked() {
                desk.ask(Action::CloseDialog);
            }
        });
    });
    if go {
        desk.ask(Action::CloseDialog);
        desk.ask(Action::ExportSizes(PathBuf::from(dir), chosen));
    } else if closed {
        desk.ask(Action::CloseDialog);
    } else if let Some(Dialog::Sizes { chosen: kept, .. }) = &mut desk.dialog {
        *kept = chosen;
    }
}

fn recover(desk: &mut Desk, ui: &Ui, title: &str) {
    let _ = modal(ui, "Take up where the window ended?", 460.0, |ui| {
        ui.label(format!("Filmquilt ended before \"{title}\" was saved. All changes but those of the last moments are there."));
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if main_button(ui, "Take it up", true) {
                desk.ask(Action::Recover(true));
            }
            if ui.button("Throw it away").clicked() {
                desk.ask(Action::Recover(false));
            }
        });
    });
}

fn notices(desk: &mut Desk, ui: &Ui) {
    let p = Palette::of(ui.ctx());
    let canvas = desk.canvas.rect;
    let notices = desk.notices.current().to_vec();
    if notices.is_empty() {
        return;
    }
    ui.ctx().request_repaint_after(std::time::Duration::from_millis(500));
    Area::new(Id::unique("notices"))
        .order(Order::Foreground)
        .anchor(Align2::RIGHT_TOP, vec2(-16.0, canvas.top() + 14.0))
        .show(ui.ctx(), |ui| {
            for (i, notice) in notices.iter().enumerate() {
                let edge = if notice.bad { p.wrong } else { p.accent };
                let frame = Frame::NONE
                    .fill(p.paper)
                    .stroke(Stroke::new(1.5, edge))
                    .corner_radius(3)
                    .inner_margin(Margin::symmetric(12, 9));
                frame.show(ui, |ui| {
                    ui.set_width(330.0);
                    ui.horizontal_top(|ui| {
                        super::fields::sign(
                            ui,
                            if notice.bad { State::Wrong } else { State::Done },
                        );
                        ui.add(Label::new(&notice.text).wrap());
                    });
                    if !notice.hint.is_empty() {
                        super::fields::says(ui, notice.hint.clone());
                    }
                    if notice.bad && ui.button("Understood").clicked() {
                        desk.queue.push(Action::Forget(i));
                    }
                });
            }
        });
}
