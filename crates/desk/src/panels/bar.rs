//! The bar along the top: the job's name, the menus, and the command search.

use crate::action::Action;
use crate::canvas::crosshair;
use crate::command::{ALL, Command, Info, Menu};
use crate::desk::Desk;
use crate::theme::{Palette, strong};
use eframe::egui::{
    Align, Button, Frame, Label, Layout, Margin, MenuBar, Panel, RichText, Sense, Stroke, Ui, vec2,
};

/// Room for the buttons on the right.
const BUTTONS: f32 = 440.0;

pub(crate) fn top_bar(desk: &mut Desk, ui: &mut Ui) {
    let p = Palette::of(ui.ctx());
    let frame = Frame::NONE.fill(p.board).inner_margin(Margin::symmetric(12, 7));
    Panel::top("bar").frame(frame).show(ui, |ui| {
        MenuBar::new().ui(ui, |ui| {
            let (mark, _) = ui.allocate_exact_size(vec2(26.0, 26.0), Sense::hover());
            crosshair(ui.painter(), mark.center(), 11.0, Stroke::new(2.0, p.accent));
            for menu in Menu::ALL {
                ui.menu_button(menu.name(), |ui| list(desk, ui, menu));
            }
            ui.add_space(10.0);
            // The title gives way to the buttons where there is little room.
            let room = ui.available_width() - BUTTONS;
            if room > 90.0 {
                let mark = if desk.unsaved() { " • not saved" } else { "" };
                let title = RichText::new(format!("{}{mark}", desk.job().title)).font(strong(15.0));
                let size = vec2(room, ui.spacing().interact_size.y);
                ui.allocate_ui_with_layout(size, Layout::left_to_right(Align::Center), |ui| {
                    ui.add(Label::new(title).truncate());
                });
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                bar_button(desk, ui, Command::Export, "Write the films…");
                // With hardly any room the menus come first: Help has it too.
                if room > -210.0 {
                    bar_button(desk, ui, Command::Commands, "Find a command  F1");
                }
                if room > 0.0 {
                    bar_button(desk, ui, Command::Redo, "Redo");
                    bar_button(desk, ui, Command::Undo, "Undo");
                }
            });
        });
    });
}

fn bar_button(desk: &mut Desk, ui: &mut Ui, command: Command, words: &str) {
    let can = desk.can(command);
    let response =
        ui.add_enabled(can.is_ok(), Button::new(words)).on_hover_text(full_tip(desk, ui, command));
    let response = if let Err(why) = can { response.on_disabled_hover_text(why) } else { response };
    if response.clicked() {
        desk.ask(Action::Do(command));
    }
}

fn list(desk: &mut Desk, ui: &mut Ui, menu: Menu) {
    ui.set_min_width(250.0);
    for info in ALL.iter().filter(|i| i.menu == menu) {
        entry(desk, ui, info);
        if parts_after(info.command) {
            ui.separator();
        }
    }
    if menu == Menu::Job && !desk.prefs.recent.is_empty() {
        ui.separator();
        ui.label(RichText::new("Recent jobs").size(13.0).color(Palette::of(ui.ctx()).quiet));
        for path in desk.prefs.recent.clone() {
            let name =
                path.file_stem().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
            if ui.button(name).on_hover_text(path.display().to_string()).clicked() {
                desk.ask(Action::Open(path));
                ui.close();
            }
        }
    }
}

fn entry(desk: &mut Desk, ui: &mut Ui, info: &Info) {
    let can = desk.can(info.command);
    let mut button = Button::new(full_name(desk, info.command));
    if let Some(keys) = info.keys {
        button = button.shortcut_text(ui.ctx().format_shortcut(&keys));
    }
    let response = ui.add_enabled(can.is_ok(), button).on_hover_text(info.tip);
    let response = if let Err(why) = can { response.on_disabled_hover_text(why) } else { response };
    if response.clicked() {
        desk.ask(Action::Do(info.command));
        ui.close();
    }
}

/// Undo and redo say what of; switches say how they stand.
pub(crate) fn full_name(desk: &Desk, command: Command) -> String {
    let name = command.info().name;
    let switch = |on: bool| format!("{name}: {}", if on { "on" } else { "off" });
    match command {
        Command::Undo => {
            desk.history.undo_name().map_or(name.into(), |what| format!("{name}: {what}"))
        }
        Command::Redo => {
            desk.history.redo_name().map_or(name.into(), |what| format!("{name}: {what}"))
        }
        Command::Rulers => switch(desk.canvas.rulers),
        Command::Snapping => switch(desk.canvas.snapping),
        Command::Wipe => switch(desk.canvas.wipe.is_some()),
        _ => name.into(),
    }
}

fn full_tip(desk: &Desk, ui: &Ui, command: Command) -> String {
    let info = command.info();
    let what = match command {
        Command::Undo | Command::Redo => full_name(desk, command),
        _ => info.tip.to_owned(),
    };
    match info.keys {
        Some(keys) => format!("{what} ({})", ui.ctx().format_shortcut(&keys)),
        None => what,
    }
}

/// Where a menu is parted by a line.
fn parts_after(command: Command) -> bool {
    matches!(
        command,
        Command::OpenDemo
            | Command::PasteArtwork
            | Command::SaveAs
            | Command::OpenFolder
            | Command::Redo
            | Command::UncropArtwork
            | Command::UnpinAll
            | Command::Calibrate
            | Command::NextUnit
            | Command::UsualText
            | Command::AsSystem
    )
}
