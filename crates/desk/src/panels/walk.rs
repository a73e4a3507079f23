//! A walk of three minutes through the window, in six stops.

use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use crate::dialog::Dialog;
use crate::step::Step;
use crate::theme::{Palette, strong};
use eframe::egui::{Align2, Area, Button, Frame, Id, Margin, Order, RichText, Ui, vec2};

struct Stop {
    step: Step,
    title: &'static str,
    words: &'static str,
}

const STOPS: [Stop; 6] = [
    Stop {
        step: Step::Artwork,
        title: "This is your table",
        words: "A demo design lies over a tee. The rail on the left is the job from artwork to print; each step says \
                how it stands. Drop a picture of your own on the table whenever you like, or go on with the demo.\n\n\
                Here, in Artwork, pull the line in the histogram: what is left of it becomes ink. The wheel zooms, \
                the middle button moves the table.",
    },
    Stop {
        step: Step::Garment,
        title: "What it is printed on",
        words: "Choose a garment and a size, then type what your own tape says. Drag the artwork on it; the corners \
                scale it, and it catches on the middle, the collar and the edges. Only ink that lands on the garment \
                and its bleed will need film.",
    },
    Stop {
        step: Step::Film,
        title: "How large, how fine",
        words: "The width is the width on the garment. Every field takes units and sums, such as 13in + 1/4in, and the \
                arrow keys count up and down. Zoom in far: these are the very dots that will be printed.",
    },
    Stop {
        step: Step::Sheets,
        title: "The fewest sheets",
        words: "The film is cut up for the sheets in your drawer, and the plan says whether fewer could ever do. Drag a \
                sheet and it stays pinned, while the others fall into place around it. Pull the round handles to \
                change the overlap or the sheet.",
    },
    Stop {
        step: Step::Screen,
        title: "What the screen must hold",
        words: "Figures for the frame and the mesh. Hover over any number to read where it comes from.",
    },
    Stop {
        step: Step::Print,
        title: "Write the films",
        words: "One page for each sheet, at exact scale, with marks in the overlaps and a ruler to check. Nothing you \
                did is lost on the way: Ctrl+Z takes back anything, F1 finds any command, and the job is kept even \
                if the power fails.",
    },
];

pub(crate) fn show(desk: &mut Desk, ui: &Ui, at: usize) {
    let Some(stop) = STOPS.get(at) else {
        desk.ask(Action::CloseDialog);
        return;
    };
    let p = Palette::of(ui.ctx());
    let frame =
        Frame::window(&ui.ctx().global_style()).inner_margin(Margin::same(18)).fill(p.paper);
    Area::new(Id::unique("walk"))
        .order(Order::Foreground)
        .anchor(Align2::RIGHT_BOTTOM, vec2(-26.0, -58.0))
        .show(ui.ctx(), |ui| {
            frame.show(ui, |ui| {
                ui.set_width(360.0);
                super::fields::says(ui, format!("{} of {}", at + 1, STOPS.len()));
                ui.label(RichText::new(stop.title).font(strong(19.0)));
                ui.label(stop.words);
                ui.add_space(8.0);
                ui.horizontal(|ui| {
                    let last = at + 1 == STOPS.len();
                    let next = if last { "Begin" } else { "Next" };
                    if ui
                        .add(Button::new(RichText::new(next).color(p.on_accent)).fill(p.accent))
                        .clicked()
                    {
                        go(desk, if last { 0 } else { at + 1 }, last);
                    }
                    if at > 0 && ui.button("Back").clicked() {
                        go(desk, at - 1, false);
                    }
                    if !last && ui.button("I'll look around myself").clicked() {
                        desk.ask(Action::CloseDialog);
                    }
                });
            });
        });
}

fn go(desk: &mut Desk, to: usize, end: bool) {
    desk.ask(Action::Do(Command::Go(STOPS[to].step)));
    desk.ask(if end { Action::CloseDialog } else { Action::Show(Dialog::Walk(to)) });
}
