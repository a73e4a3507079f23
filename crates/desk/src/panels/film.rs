use super::{fields, group, inks, tone};
use crate::action::Action;
use crate::desk::Desk;
use eframe::egui::Ui;
use job::Edit;
use measure::Resolution;

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let job = desk.job().clone();
    let unit = job.unit;
    if let Some(width) = fields::length(
        ui,
        "Artwork width",
        job.width,
        unit,
        "Width of the cropped artwork, before any turn. Takes units and sums: 13in + 1/4in",
    ) {
        desk.ask(Action::Edit(Edit::Width(width)));
    }
    if let Some(size) = desk.artwork_size()
        && let Some(height) = fields::length(
            ui,
            "Artwork height",
            size.height,
            unit,
            "Follows the width by the picture's proportion",
        )
    {
        desk.ask(Action::Edit(Edit::Width(job.width * (height / size.height))));
    }
    let why = "Film pixels per inch. 300 holds what screen printing shows; 600 or 720 for fine lettering. Common practice, no source";
    if let Some(ppi) = fields::number(ui, "Resolution", job.resolution.to_ppi(), "ppi", 10.0, why) {
        desk.ask(Action::Edit(Edit::Resolution(Resolution::ppi(ppi))));
    }
    ui.horizontal_wrapped(|ui| {
        for ppi in [300.0, 360.0, 600.0, 720.0] {
            let chosen = job.resolution.to_ppi() == ppi;
            if ui.selectable_label(chosen, format!("{ppi}")).clicked() && !chosen {
                desk.ask(Action::Edit(Edit::Resolution(Resolution::ppi(ppi))));
            }
        }
    });
    let why = "Clear film kept around the ink, so that tape and marks never lie on it";
    if let Some(surround) = fields::length(ui, "Clear surround", job.surround, unit, why) {
        desk.ask(Action::Edit(Edit::Surround(surround)));
    }
    tone::show(desk, ui);
    inks::show(desk, ui);
    group(ui, "The film comes to");
    if let Some(size) = desk.film_size() {
        let px = |l| job.resolution.whole_px(l);
        let (w, h) = (px(size.width), px(size.height));
        fields::figure(
            ui,
            "Pixels",
            format!("{w} × {h}"),
            "Width × resolution, rounded to whole pixels",
        );
        let million = (w as f64 * h as f64) / 1e6;
        fields::figure(ui, "In all", format!("{million:.1} million, one bit each"), "");
        fields::figure(
            ui,
            "One pixel",
            format!("{:.1} µm", job.resolution.pixel().to_mm() * 1000.0),
            "25.4 mm ÷ resolution",
        );
    }
    if let Some(times) = desk.enlargement() {
        fields::figure(
            ui,
            "Enlarged",
            format!("{times:.1} times"),
            "Film pixels a picture pixel becomes, in one direction",
        );
    }
    super::fine::show(desk, ui);
}
