//! The parts around the canvas, one a file. They read the desk and queue actions.

mod artwork;
mod bar;
mod commands;
mod dialogs;
mod fields;
mod film;
mod fine;
mod garment;
mod histogram;
mod inks;
mod mishaps;
mod notebook;
mod photo;
mod print;
mod printer;
mod rail;
mod screen;
mod seams;
mod sheets;
mod shelf;
mod sizes;
mod status;
mod strip;
mod taping;
mod tone;
mod walk;

pub(crate) use bar::top_bar;
pub(crate) use dialogs::dialogs;
pub(crate) use fine::described;
pub(crate) use histogram::HistogramKey;
pub(crate) use photo::{found_words, jog_words, state as verdict_state};
pub(crate) use rail::{mark as rail_mark, rail};
pub(crate) use status::status;

use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use crate::step::{State, Step};
use crate::theme::Palette;
use eframe::egui::{Frame, Margin, Panel, Response, RichText, ScrollArea, Ui};

/// The chosen step's controls.
pub(crate) fn step_panel(desk: &mut Desk, ui: &mut Ui) {
    let p = Palette::of(ui.ctx());
    let frame = Frame::NONE.fill(p.paper).inner_margin(Margin::symmetric(16, 14));
    Panel::left("step")
        .resizable(true)
        .default_size(318.0)
        .size_range(290.0..=460.0)
        .frame(frame)
        .show(ui, |ui| {
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                ui.heading(desk.step.name());
                let (state, reason) = desk.step.state(desk);
                if state == State::Wrong {
                    fields::says_wrong(ui, &reason);
                }
                ui.add_space(6.0);
                match desk.step {
                    Step::Artwork => artwork::show(desk, ui),
                    Step::Garment => garment::show(desk, ui),
                    Step::Film => film::show(desk, ui),
                    Step::Sheets => sheets::show(desk, ui),
                    Step::Screen => screen::show(desk, ui),
                    Step::Print => print::show(desk, ui),
                }
                ui.add_space(12.0);
            });
        });
}

/// A button that gives a command, with the command's own words.
fn command_button(desk: &mut Desk, ui: &mut Ui, command: Command) -> Response {
    let info = command.info();
    let can = desk.can(command);
    let tip = match info.keys {
        Some(keys) => format!("{} ({})", info.tip, ui.ctx().format_shortcut(&keys)),
        None => info.tip.to_owned(),
    };
    let response =
        ui.add_enabled(can.is_ok(), eframe::egui::Button::new(info.name)).on_hover_text(tip);
    let response = match can {
        Ok(()) => response,
        Err(why) => response.on_disabled_hover_text(why),
    };
    if response.clicked() {
        desk.ask(Action::Do(command));
    }
    response
}

/// A small title over a group of controls.
fn group(ui: &mut Ui, title: &str) {
    let p = Palette::of(ui.ctx());
    ui.add_space(10.0);
    ui.label(RichText::new(title).font(crate::theme::strong(15.0)).color(p.text));
    ui.add_space(2.0);
}
