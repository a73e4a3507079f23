//! Other sizes that the same screen prints.

use super::{fields, group};
use crate::action::Action;
use crate::desk::Desk;
use eframe::egui::Ui;
use garment::Garment;
use job::Edit;
use shop::Align;

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui, main: &Garment, sizes: &[&str]) {
    group(ui, "Other sizes on this screen");
    fields::says(
        ui,
        "Film is made for the ink of all of them, and each is laid down by its own lines.",
    );
    let also = desk.job().also.clone();
    ui.horizontal_wrapped(|ui| {
        for size in sizes {
            let name = format!("{}-{size}", main.shape.name());
            if name == main.name {
                continue;
            }
            let mut on = also.iter().any(|g| g.name == name);
            if ui.checkbox(&mut on, format!("also {}", size.to_uppercase())).changed() {
                let mut new: Vec<Garment> =
                    also.iter().filter(|g| g.name != name).cloned().collect();
                if let Some(garment) = Garment::named(&name).filter(|_| on) {
                    new.push(Garment { face: main.face, ..garment });
                }
                desk.ask(Action::Edit(Edit::Also(new)));
            }
        }
    });
    if also.is_empty() {
        return;
    }
    let aligns = [
        (Align::Collar, "collar", "Every size lies with its collar on the same line"),
        (Align::Middle, "middle", "Every size lies with its middle on the same place"),
    ];
    let why = "What stays in place when the garment's size changes";
    if let Some(align) = fields::choice(ui, "All lie by the", desk.job().align, &aligns, why) {
        desk.ask(Action::Edit(Edit::Align(align)));
    }
    let unit = desk.job().unit;
    for (i, garment) in also.iter().enumerate() {
        for (m, _) in garment.measurements().into_iter().take(2) {
            let label = format!("{} {}", garment.name, m.name());
            let why = "Typical; lay your own flat and type what the tape says";
            let Some(length) = fields::taped(ui, &label, garment.get(m), unit, why) else {
                continue;
            };
            let mut new = also.clone();
            new[i].set(m, length);
            match new[i].check() {
                Ok(()) => desk.ask(Action::Edit(Edit::Also(new))),
                Err(e) => desk.notices.say(e.to_string(), e.hint()),
            }
        }
    }
}
