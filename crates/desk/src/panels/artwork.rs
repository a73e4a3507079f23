use super::{command_button, fields, group, histogram};
use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use artwork::{Crop, Cut, Edges, LearnedModel, Source};
use eframe::egui::{RichText, Ui};
use job::Edit;

const SOURCES: [(Source, &str, &str); 6] = [
    (Source::Auto, "look and decide", "Filmquilt looks at the picture and proposes"),
    (Source::Clean, "clean, soft edges", "Drawn and exported with smooth edges, undamaged"),
    (Source::Jpeg, "JPEG", "Blocks and ringing around edges"),
    (Source::Hard, "hard pixels", "Only black and white pixels, stair-stepped"),
    (Source::Noisy, "noisy scan", "Grain from a scanner or a camera"),
    (Source::Blurred, "blurred", "Out of focus or enlarged before"),
];

const EDGES: [(Edges, &str, &str); 4] = [
    (Edges::Auto, "the best known", "Whatever suits the picture best"),
    (Edges::Learned, "learned", "A small model trained on drawings and lettering"),
    (Edges::Fitted, "fitted", "The smoothest edge that explains every pixel"),
    (Edges::Plain, "plain", "Cubic enlargement, then cut: the usual way, for comparison"),
];

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let job = desk.job().clone();
    if let Some(title) = fields::words(
        ui,
        "Job title",
        &job.title,
        "Printed on every sheet, so that films of two jobs are not mixed up",
    ) {
        desk.ask(Action::Edit(Edit::Title(title)));
    }
    match (&job.picture, desk.stages.picture()) {
        (Some(file), Some(picture)) => {
            let size = format!("{} × {} pixels", picture.width, picture.height);
            ui.label(RichText::new(&file.name).strong());
            fields::says(ui, size);
        }
        (Some(file), None) => {
            ui.label(&file.name);
        }
        (None, _) => {
            ui.label("No picture yet. Drop one on the table, or open one.");
        }
    }
    ui.horizontal_wrapped(|ui| {
        if job.picture.is_some() {
            command_button(desk, ui, Command::ReplaceArtwork);
        } else {
            command_button(desk, ui, Command::Open);
        }
        command_button(desk, ui, Command::PasteArtwork);
    });
    if job.picture.is_none() {
        return;
    }
    cut(desk, ui);
    edges(desk, ui);
    compare(desk, ui);
    crop(desk, ui);
}

fn cut(desk: &mut Desk, ui: &mut Ui) {
    let art = desk.job().art;
    group(ui, "Where grey is cut");
    histogram::show(desk, ui);
    ui.horizontal_wrapped(|ui| {
        for (cut, name, tip) in [
            (Cut::Auto, "Proposed", "The level that parts dark from light best"),
            (Cut::Local, "Follows the light", "For scans and photographs lit unevenly: the level follows the picture's own light (Sauvola)"),
        ] {
            if ui.selectable_label(art.cut == cut, name).on_hover_text(tip).clicked() && art.cut != cut {
                desk.ask(Action::Edit(Edit::Cut(cut)));
            }
        }
    });
    if art.cut != Cut::Local {
        let level = histogram::level(desk) * 100.0;
        let why = "Pixels with more ink than this become ink";
        if let Some(percent) =
            fields::number(ui, "Cut at", (level * 10.0).round() / 10.0, "% ink", 1.0, why)
        {
            desk.ask(Action::Edit(Edit::Cut(Cut::At(percent / 100.0))));
        }
    }
    let mut invert = art.invert;
    let tip = "Print what is clear now: for artwork drawn white on black, or ink on dark cloth";
    if ui.checkbox(&mut invert, "Exchange black and white").on_hover_text(tip).changed() {
        desk.ask(Action::Edit(Edit::Invert(invert)));
    }
    let mut flatten = art.flatten;
    let tip = "Takes out shadows and paper tone first: for photographs of drawings";
    if ui.checkbox(&mut flatten, "Flatten paper and light").on_hover_text(tip).changed() {
        desk.ask(Action::Edit(Edit::Flatten(flatten)));
    }
    let why = "Dots of ink and pinholes with less area than this, in picture pixels, are cleaned away. 0 keeps all";
    if let Some(px) = fields::number(ui, "Clean specks", art.speck_px, "px", 1.0, why) {
        desk.ask(Action::Edit(Edit::Speck(px)));
    }
    if let Some(report) = desk.stages.surface().map(|s| s.report.clone())
        && report.specks + report.pinholes > 0
    {
        fields::says(
            ui,
            format!("Cleaned {} specks and {} pinholes", report.specks, report.pinholes),
        );
    }
}

fn edges(desk: &mut Desk, ui: &mut Ui) {
    let art = desk.job().art;
    group(ui, "How it is enlarged");
    let why = "What the picture has been through decides how its true edges are found";
    if let Some(source) = fields::choice(ui, "The picture is", art.source, &SOURCES, why) {
        desk.ask(Action::Edit(Edit::Source(source)));
    }
    if let Some(edges) = fields::choice(
        ui,
        "Edges are",
        art.edges,
        &EDGES,
        "How the smooth edge between ink and clear is made",
    ) {
        desk.ask(Action::Edit(Edit::Edges(edges)));
    }
    if let Some(surface) = desk.stages.surface() {
        fields::says(ui, surface.report.why.clone());
        let tip = "This job's films were drawn by an earlier model, and will be again until you choose this";
        if surface.report.edges == Edges::Learned
            && art.model != LearnedModel::NEWEST
            && ui.button("Draw with the newest model").on_hover_text(tip).clicked()
        {
            desk.ask(Action::Edit(Edit::Model(LearnedModel::NEWEST)));
        }
    }
    if let Some(times) = desk.enlargement() {
        let why = "Film pixels a picture pixel becomes, in one direction: film resolution × width ÷ picture pixels";
        fields::figure(ui, "Enlarged", format!("{times:.1} times"), why);
    }
}

fn crop(desk: &mut Desk, ui: &mut Ui) {
    let Some(picture) = desk.stages.picture().cloned() else { return };
    let now = desk.job().art.crop.unwrap_or_else(|| picture.whole());
    group(ui, "Crop");
    let cropping = desk.canvas.cropping;
    let words = if cropping { "Done cropping" } else { "Crop by hand" };
    ui.horizontal_wrapped(|ui| {
        let tip = Command::CropByHand.info().tip;
        if ui.selectable_label(cropping, words).on_hover_text(tip).clicked() {
            desk.ask(Action::Do(Command::CropByHand));
        }
        command_button(desk, ui, Command::UncropArtwork);
    });
    let mut edited = None;
    let parts = [
        ("Left cut off", now.x, "Picture pixels cut off at the left"),
        ("Top cut off", now.y, "Picture pixels cut off at the top"),
        ("Kept across", now.width, "Picture pixels kept across"),
        ("Kept down", now.height, "Picture pixels kept down"),
    ];
    for (i, (label, value, why)) in parts.into_iter().enumerate() {
        if let Some(v) = fields::number(ui, label, f64::from(value), "px", 1.0, why) {
            edited = Some((i, v.clamp(0.0, f64::from(u32::MAX)) as u32));
        }
    }
    if let Some((i, v)) = edited {
        let mut new = now;
        match i {
            0 => new.x = v.min(picture.width - 1),
            1 => new.y = v.min(picture.height - 1),
            2 => new.width = v,
            _ => new.height = v,
        }
        let new = Crop {
            width: new.width.clamp(1, picture.width - new.x),
            height: new.height.clamp(1, picture.height - new.y),
            ..new
        };
        let crop = (new != picture.whole()).then_some(new);
        desk.ask(Action::Edit(Edit::Crop(crop)));
    }
}

/// The picture beside the film.
fn compare(desk: &mut Desk, ui: &mut Ui) {
    group(ui, "Picture and film");
    command_button(desk, ui, Command::Wipe);
    let Some(share) = desk.canvas.wipe else { return };
    let why = "How far across the table the line stands: the picture is left of it, the film right";
    if let Some(at) = fields::number(ui, "Line at", f64::from(share) * 100.0, "%", 5.0, why) {
        desk.ask(Action::WipeAt((at / 100.0) as f32));
    }
}
