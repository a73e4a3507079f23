//! The line along the bottom: what is under way, what came of it, and how near one looks.

use crate::action::Action;
use crate::chore::Chore;
use crate::command::Command;
use crate::desk::Desk;
use crate::theme::Palette;
use eframe::egui::{Align, Button, Frame, Layout, Margin, Panel, ProgressBar, RichText, Ui};
use std::time::Duration;

pub(crate) fn status(desk: &mut Desk, ui: &mut Ui) {
    let p = Palette::of(ui.ctx());
    let frame = Frame::NONE.fill(p.board).inner_margin(Margin::symmetric(12, 5));
    Panel::bottom("status").frame(frame).show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.set_min_height(26.0);
            if let Some(chore) = &desk.chore {
                let (what, share, left) = chore.far();
                under_way(ui, chore, what, share, left);
                if ui.button("Stop").on_hover_text("Nothing half-written is left behind").clicked()
                {
                    desk.ask(Action::Do(Command::Stop));
                }
                ui.ctx().request_repaint_after(Duration::from_millis(200));
            } else if let Some((what, share)) = desk.stages.under_way() {
                ui.spinner();
                let share = share.map_or(String::new(), |s| format!(" {:.0} %", s * 100.0));
                ui.label(RichText::new(format!("{what}{share}")).color(p.quiet));
            } else if let Some(layout) = desk.stages.layout() {
                let plan = &layout.plan;
                let count = plan.sheets.len();
                let sheets = if count == 1 { "sheet" } else { "sheets" };
                ui.label(format!("{count} {sheets}. {}", super::sheets::why(plan)));
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if ui
                    .add(Button::new("Fit"))
                    .on_hover_text("See the whole garment and film (Ctrl+0)")
                    .clicked()
                {
                    desk.ask(Action::Do(Command::Fit));
                }
                let true_size = f64::from(desk.points_per_inch(ui.ctx())) / 25.4;
                let zoom = desk.canvas.eye().points_per_mm / true_size * 100.0;
                let shown =
                    if zoom < 10.0 { format!("{zoom:.1} %") } else { format!("{zoom:.0} %") };
                if ui
                    .add(Button::new(shown))
                    .on_hover_text("Click for true size (Ctrl+1)")
                    .clicked()
                {
                    desk.ask(Action::Do(Command::TrueSize));
                }
                let unit = desk.job().unit.name();
                if ui.add(Button::new(unit)).on_hover_text("Unit of all lengths (Ctrl+U)").clicked()
                {
                    desk.ask(Action::Do(Command::NextUnit));
                }
            });
        });
    });
}

fn under_way(
    ui: &mut Ui,
    chore: &Chore,
    what: Option<&str>,
    share: Option<f32>,
    left: Option<Duration>,
) {
    ui.label(&chore.what);
    let words = match (what, left) {
        (_, Some(left)) => format!("about {} left", spoken(left)),
        (Some(what), None) => what.to_owned(),
        (None, None) => String::new(),
    };
    match share {
        Some(share) => ui.add(ProgressBar::new(share).desired_width(220.0).text(words)),
        None => {
            ui.spinner();
            ui.label(words)
        }
    };
}

fn spoken(left: Duration) -> String {
    match left.as_secs() {
        0..=1 => "a second".into(),
        s @ 2..=90 => format!("{s} seconds"),
        s => format!("{} minutes", s.div_ceil(60)),
    }
}
