use super::{fields, group};
use crate::desk::Desk;
use eframe::egui::Ui;

/// What the screen must be to take the film: figures that follow from the job alone.
pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let unit = desk.job().unit;
    let Some(size) = desk.film_size() else {
        fields::says(ui, "Waits for the film.");
        return;
    };
    group(ui, "What must fit on the mesh");
    let image = format!("{} × {}", size.width.show(unit), size.height.show(unit));
    fields::figure(ui, "Image", image, "The artwork's size on the garment");
    if let Some(layout) = desk.stages.layout() {
        let cell = layout.region.cell;
        let area = layout.region.cells.count() as f64 * cell.to_cm() * cell.to_cm() / 1e4;
        let why = "Ink and its clear surround, where it lands on the garment and its bleed, counted in the planner's squares";
        fields::figure(ui, "Area filmed", format!("{area:.2} m²"), why);
    }
    fields::says(ui, "Measure the free mesh inside your frame: it must hold the image with room for the squeegee on all four sides.");
    group(ui, "What the mesh must hold");
    let pixel = desk.job().resolution.pixel().to_mm() * 1000.0;
    fields::figure(ui, "Film pixel", format!("{pixel:.0} µm"), "25.4 mm ÷ resolution; edges on the film are true to half of it");
    if let Some(times) = desk.enlargement() {
        let detail = pixel * times;
        let why = "What one pixel of the picture becomes on the garment: detail finer than this was never in the picture";
        fields::figure(ui, "Picture pixel", format!("{:.2} mm", detail / 1000.0), why);
    }
}
