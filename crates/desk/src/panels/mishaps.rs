//! What washed out, what did not, and what to do.

use super::fields;
use crate::action::Action;
use crate::desk::Desk;
use crate::theme::strong;
use eframe::egui::{Label, RichText, Ui};
use shop::{Diagnosis, Seen, diagnose, diagnoses};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let mut at = desk.at_shop.clone();
    let Seen { stencil_soft, detail_closed, seams_soft, uneven, pinholes } = &mut at.seen;
    let mut changed = false;
    for (seen, words) in [
        (stencil_soft, "Coating washed away or went slimy"),
        (detail_closed, "Fine gaps stayed closed"),
        (seams_soft, "Only the film's overlaps went soft"),
        (uneven, "Middle and corners differ"),
        (pinholes, "Small holes in closed areas"),
    ] {
        changed |= ui.checkbox(seen, words).changed();
    }
    if at.seen != Seen::default() {
        for found in diagnose(at.seen) {
            told(ui, &found);
        }
    }
    if changed {
        desk.ask(Action::AtShop(Box::new(at)));
    }
    ui.collapsing("The whole table", |ui| {
        fields::says(ui, "Common practice, no source. Write down what you saw and what helped.");
        for row in diagnoses() {
            told(ui, &row);
        }
    });
}

fn told(ui: &mut Ui, row: &Diagnosis) {
    ui.add_space(4.0);
    ui.add(Label::new(RichText::new(row.seen).font(strong(14.0))).wrap());
    fields::says(ui, row.because);
    ui.add(Label::new(row.remedy).wrap());
}
