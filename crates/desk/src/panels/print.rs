use super::{command_button, fields, group};
use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use crate::photo::Subject;
use crate::standing;
use crate::step::{State, Step};
use eframe::egui::{Button, TextEdit, Ui};
use sheets::Assembly;
use std::path::{Path, PathBuf};

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    let wrong: Vec<(Step, String)> = Step::ALL[..4]
        .iter()
        .filter_map(|s| {
            let (state, reason) = s.state(desk);
            (state == State::Wrong).then_some((*s, reason))
        })
        .collect();
    for (step, reason) in &wrong {
        fields::says_wrong(ui, &format!("{}: {reason}", step.name()));
        if ui.button(format!("Go to {}", step.name().to_lowercase())).clicked() {
            desk.ask(Action::Do(Command::Go(*step)));
        }
    }
    group(ui, "Where the films go");
    let mut dir = desk.out_dir();
    let label = ui.label("Folder");
    if ui
        .add(TextEdit::singleline(&mut dir).desired_width(f32::INFINITY))
        .labelled_by(label.id)
        .changed()
    {
        desk.ask(Action::OutDir(dir.clone()));
    }
    will_write(desk, ui, &dir);
    ui.add_space(6.0);
    ui.horizontal_wrapped(|ui| {
        let can = desk.can(Command::Export).is_ok() && wrong.is_empty() && !dir.trim().is_empty();
        let write = ui
            .add_enabled(can, Button::new("Write here"))
            .on_hover_text("Writes film.pdf and plan.json into the folder");
        if write.clicked() {
            desk.ask(Action::ExportTo(PathBuf::from(dir.trim())));
        }
        command_button(desk, ui, Command::Export);
        command_button(desk, ui, Command::ExportSizes);
    });
    if let Some(written) = desk.written_for_this_job().map(|p| p.display().to_string()) {
        group(ui, "Written");
        fields::says(ui, written);
        command_button(desk, ui, Command::OpenFolder);
    }
    group(ui, "For the shop");
    let words = if desk.job().inks.is_some() {
        "ticket.pdf: all screens side by side, then each one's film, exposure, ink and cost, with boxes to tick; and a ticket for each screen beside it."
    } else {
        "ticket.pdf: the film, screen, exposure, lay-down, ink and cost on paper, with boxes to tick."
    };
    fields::says(ui, words);
    command_button(desk, ui, Command::Ticket);
    taping(desk, ui);
    super::photo::show(desk, ui, Subject::Film);
    group(ui, "At the printer");
    for words in [
        "Print at actual size: switch off every fitting and scaling. The file asks for it; check that the viewer obeys.",
        "Measure the ruler printed on the first sheet before printing the rest.",
        "Blackest ink, film setting, and let every sheet dry before it is stacked.",
        "Tape the sheets printed side down, overlaps by the marks, names reading the right way.",
    ] {
        fields::says(ui, format!("– {words}"));
    }
}

/// What will be there after writing, and what is there now.
fn will_write(desk: &Desk, ui: &mut Ui, dir: &str) {
    let sheets = desk.stages.layout().map_or(0, |l| l.pages.len());
    let pages =
        if sheets == 1 { "one page".to_owned() } else { format!("{sheets} pages, one a sheet") };
    let screens = desk.stages.shown().map_or(0, |film| film.screens.len());
    let (name, what) = match (desk.job().inks.is_some(), desk.stages.planned_screen()) {
        (false, _) => ("film.pdf", pages),
        (true, None) => ("film-1-….pdf", format!("{screens} films of {pages}")),
        (true, Some(_)) => ("film-1-….pdf", format!("{screens} films, each with its own sheets")),
    };
    let dir = Path::new(dir.trim());
    let films = match desk.job().inks {
        None => dir.join(name).exists(),
        Some(_) => standing::films_in(dir).iter().any(|film| film.starts_with("film-")),
    };
    let plan = dir.join("plan.json").exists();
    for (name, what, there) in
        [(name, what.as_str(), films), ("plan.json", "where each sheet lies", plan)]
    {
        let note = if there { " — takes the place of the one there" } else { "" };
        fields::says(ui, format!("{name}: {what}{note}"));
    }
}

/// The order in which the sheets are joined, and what must measure right at the end.
fn taping(desk: &mut Desk, ui: &mut Ui) {
    let (Some(seams), Some(layout)) = (desk.stages.seams().cloned(), desk.stages.layout().cloned())
    else {
        return;
    };
    let rects: Vec<_> = layout.plan.sheets.iter().map(|s| s.placed.rect).collect();
    if rects.len() < 2 {
        return;
    }
    let assembly = Assembly::of(&rects, seams.seams());
    let unit = desk.job().unit;
    let names = |of: &[usize]| {
        of.iter()
            .filter_map(|i| layout.plan.sheets.get(*i))
            .map(|s| s.name.as_str())
            .collect::<Vec<_>>()
            .join(" + ")
    };
    group(ui, "Taping, pairs first");
    command_button(desk, ui, Command::Taping);
    for (i, join) in assembly.joins.iter().enumerate() {
        let (below, above) = (names(&join.below), names(&join.above));
        let length = join.length.show(unit);
        fields::says(ui, format!("{}. {above} onto {below}, a seam of {length}", i + 1));
    }
    for check in assembly.checks.iter().take(2) {
        fields::says(ui, format!("Check corner to corner: {}", check.distance.show(unit)));
    }
}
