//! The search box of commands: type part of a name, choose with the arrows, Enter does it.

use super::bar::full_name;
use crate::action::Action;
use crate::command::{ALL, Info};
use crate::desk::Desk;
use crate::dialog::Dialog;
use crate::theme::{Palette, strong};
use eframe::egui::{
    Button, Frame, Id, Key, Margin, Modal, Modifiers, RichText, ScrollArea, TextEdit, Ui,
};

pub(crate) fn show(desk: &mut Desk, ui: &Ui, mut text: String, mut chosen: usize) {
    let p = Palette::of(ui.ctx());
    let frame =
        Frame::window(&ui.ctx().global_style()).inner_margin(Margin::same(16)).fill(p.paper);
    let mut done = false;
    let modal = Modal::new(Id::unique("commands")).frame(frame).show(ui.ctx(), |ui| {
        ui.set_width(520.0_f32.min(ui.ctx().content_rect().width() - 60.0));
        let label = ui.label(RichText::new("What do you want to do?").font(strong(19.0)));
        let (down, up) = ui.input_mut(|i| {
            (
                i.consume_key(Modifiers::NONE, Key::ArrowDown),
                i.consume_key(Modifiers::NONE, Key::ArrowUp),
            )
        });
        let before = text.clone();
        let edit = TextEdit::singleline(&mut text)
            .hint_text("part of a command's name")
            .desired_width(f32::INFINITY);
        let response = ui.add(edit).labelled_by(label.id);
        response.request_focus();
        let found = found(&text);
        if text != before {
            chosen = 0;
        }
        if down {
            chosen += 1;
        }
        if up {
            chosen = chosen.saturating_sub(1);
        }
        chosen = chosen.min(found.len().saturating_sub(1));
        let enter = ui.input(|i| i.key_pressed(Key::Enter));
        ui.add_space(4.0);
        let room = (ui.ctx().content_rect().height() - 150.0).clamp(120.0, 380.0);
        ScrollArea::vertical().max_height(room).auto_shrink([false, true]).show(ui, |ui| {
            if found.is_empty() {
                super::fields::says(ui, "No command has a name like that.");
            }
            for (i, info) in found.iter().enumerate() {
                let can = desk.can(info.command);
                let mut button = Button::selectable(i == chosen, full_name(desk, info.command));
                if let Some(keys) = info.keys {
                    button = button.shortcut_text(ui.ctx().format_shortcut(&keys));
                }
                let response = ui.add_enabled(
                    can.is_ok(),
                    button.min_size(eframe::egui::vec2(ui.available_width(), 0.0)),
                );
                let response = response.on_hover_text(info.tip);
                let response = if let Err(why) = can {
                    response.on_disabled_hover_text(why)
                } else {
                    response
                };
                if i == chosen && (down || up) {
                    response.scroll_to_me(None);
                }
                if response.clicked() || enter && i == chosen {
                    desk.queue.push(Action::CloseDialog);
                    desk.queue.push(Action::Do(info.command));
                    done = true;
                }
            }
        });
    });
    if modal.should_close() && !done {
        desk.ask(Action::CloseDialog);
    } else if let Some(Dialog::Commands { text: kept, chosen: at }) = &mut desk.dialog {
        *kept = text;
        *at = chosen;
    }
}

/// Commands whose name or explanation holds every word typed; names before explanations.
fn found(text: &str) -> Vec<&'static Info> {
    let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
    let holds = |place: &str| {
        let place = place.to_lowercase();
        words.iter().all(|w| place.contains(w))
    };
    let (mut names, mut tips) = (Vec::new(), Vec::new());
    for info in ALL {
        if holds(info.name) {
            names.push(info);
        } else if holds(&format!("{} {}", info.name, info.tip)) {
            tips.push(info);
        }
    }
    names.extend(tips);
    names
}

#[cfg(test)]
mod tests {
    use super::found;
    use crate::command::{ALL, Command};

    #[test]
    fn parts_of_words_find_commands_and_nothing_finds_all() {
        assert_eq!(found("").len(), ALL.len());
        assert_eq!(found("black white")[0].command, Command::Invert);
        assert_eq!(found("bank card")[0].command, Command::Calibrate);
        assert!(found("no such thing at all").is_empty());
    }
}
