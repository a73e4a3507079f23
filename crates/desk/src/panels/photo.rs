//! Checks by photo: the card where the photo is chosen, and what was found.

use super::dialogs::{main_button, modal};
use super::{command_button, fields, group};
use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use crate::dialog::Dialog;
use crate::photo::{Card, Checked, Clicks, Found, Subject};
use crate::step::State;
use crate::theme::Palette;
use eframe::egui::{
    Color32, Label, Pos2, Rect, Response, Role, Sense, Stroke, TextEdit, Ui, WidgetInfo, pos2, vec2,
};
use inspect::{SeamFound, SheetFound, Verdict};
use measure::Unit;

const CORNERS: [&str; 4] = ["top left", "top right", "bottom right", "bottom left"];

/// What was found, and the command that checks.
pub(crate) fn show(desk: &mut Desk, ui: &mut Ui, subject: Subject) {
    let (title, command) = match subject {
        Subject::Film => ("The taped film by photo", Command::CheckFilm),
        Subject::Screen => ("The washed-out screen by photo", Command::CheckScreen),
    };
    group(ui, title);
    command_button(desk, ui, command);
    let Some(checked) = desk.photo.found(subject).cloned() else { return };
    let (verdict, words) = match &checked.found {
        Found::Film(report) => (report.verdict, film_verdict(report.verdict)),
        Found::Screen(report) => (report.verdict, screen_verdict(report.verdict)),
    };
    told(ui, state(verdict), format!("{words} ({})", checked.photo));
    if let Some(hint) = checked.lies().hint() {
        fields::says(ui, hint);
    }
    if desk.film_size().is_some_and(|s| (s.width - checked.film.width).abs().to_mm() > 1.0) {
        fields::says(ui, "The films in that folder are not of the job on the table.");
    }
    // Of a drawing that was not made out nothing else is known.
    if checked.lies() != inspect::Place::Unseen {
        details(ui, &checked);
        places(desk, ui, &checked);
    }
    if ui.button("Put the result away").clicked() {
        desk.ask(Action::ForgetChecked(subject));
    }
}

/// What was found of sheets and seams.
fn details(ui: &mut Ui, checked: &Checked) {
    match &checked.found {
        Found::Film(report) => {
            if let Some(scale) = report.film.scale {
                let words = format!("{:.2} % of its planned size", scale * 100.0);
                fields::figure(ui, "The film is", words, "By the ruler in the photo");
            }
            for sheet in &report.sheets {
                let right = sheet.found == inspect::Found::InPlace;
                let sign = match (&sheet.found, right) {
                    (_, true) => State::Done,
                    (inspect::Found::NotSure, _) => State::Look,
                    _ => State::Wrong,
                };
                told(ui, sign, sheet_words(sheet));
            }
            for seam in &report.seams {
                told(ui, state(seam.verdict), seam_words(seam));
            }
        }
        Found::Screen(report) if report.mirrored => {
            fields::says(ui, "The photo shows the drawing mirrored.");
        }
        Found::Screen(_) => {}
    }
}

fn places(desk: &mut Desk, ui: &mut Ui, checked: &Checked) {
    let count = checked.count();
    let words = match desk.photo.at.and_then(|i| Some((i, checked.place(i)?))) {
        _ if count == 0 => "No pinhole and nothing closed was seen".into(),
        Some((i, place)) => format!("Place {} of {count}: {}", i + 1, place.words),
        None if count == 1 => "1 place to look at".into(),
        None => format!("{count} places to look at"),
    };
    ui.add(Label::new(words).wrap());
    if count > 0 {
        ui.horizontal_wrapped(|ui| {
            command_button(desk, ui, Command::PreviousSpot);
            command_button(desk, ui, Command::NextSpot);
        });
    }
}

/// A line with a mark whose shape says how it stands.
fn told(ui: &mut Ui, state: State, words: String) {
    ui.horizontal_top(|ui| {
        fields::sign(ui, state);
        ui.add(Label::new(words).wrap());
    });
}

pub(crate) const fn state(verdict: Verdict) -> State {
    match verdict {
        Verdict::Good => State::Done,
        Verdict::Fault => State::Wrong,
        Verdict::NotSure => State::Look,
    }
}

const fn film_verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Good => "The film is taped well",
        Verdict::Fault => "The film has a fault",
        Verdict::NotSure => "Not sure: the photo does not tell of every sheet and seam",
    }
}

const fn screen_verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Good => "The photo shows nothing wrong on the screen",
        Verdict::Fault => "The screen differs from the film",
        Verdict::NotSure => "Not sure where the drawing lies in the photo",
    }
}

/// What lies in a sheet's place, and how far it slipped.
fn sheet_words(sheet: &SheetFound) -> String {
    let name = &sheet.name;
    let slip = match (sheet.dx_mm, sheet.dy_mm, sheet.turn_deg) {
        (Some(x), Some(y), Some(turn)) => {
            let way = |v: f64, less: &str, more: &str| {
                format!("{:.2} mm {}", v.abs(), if v < 0.0 { less } else { more })
            };
            let turned =
                format!("{:.3}° {}clockwise", turn.abs(), if turn < 0.0 { "anti" } else { "" });
            format!(", {} and {}, turned {turned}", way(x, "left", "right"), way(y, "up", "down"))
        }
        _ => String::new(),
    };
    format!("{name}: {}{slip}", found_words(&sheet.found))
}

pub(crate) fn found_words(found: &inspect::Found) -> String {
    match found {
        inspect::Found::InPlace => "in place".into(),
        inspect::Found::Missing => "missing".into(),
        inspect::Found::Mirrored => "printed side the wrong way".into(),
        inspect::Found::UpsideDown => "upside down".into(),
        inspect::Found::Is(other) => format!("sheet {other} lies here"),
        inspect::Found::NotSure => "not sure".into(),
    }
}

fn seam_words(seam: &SeamFound) -> String {
    let [a, b] = &seam.between;
    format!("{a} to {b}: {}", jog_words(seam))
}

/// A seam's jog with its verdict.
pub(crate) fn jog_words(seam: &SeamFound) -> String {
    let verdict = match seam.verdict {
        Verdict::Good => "good",
        Verdict::Fault => "fault",
        Verdict::NotSure => "not sure",
    };
    match (seam.jog_mm, seam.sd_mm) {
        (Some(jog), Some(sd)) => format!("{verdict}, jog {jog:.2} mm ± {sd:.2}"),
        _ => verdict.into(),
    }
}

/// The card on which a photo is chosen.
pub(crate) fn card(desk: &mut Desk, ui: &Ui, mut card: Card) {
    let mut go = false;
    let (title, of) = match card.subject {
        Subject::Film => {
            ("Check the taped film by photo", "the film lying on a light table or against a window")
        }
        Subject::Screen => {
            ("Check the screen by photo", "the washed-out, dry screen held against an even light")
        }
    };
    let closed = modal(ui, title, 760.0, |ui| {
        ui.add(
            Label::new(format!(
                "One photo from above, all of it in the picture: {of}, never the exposure lamp. Drop it on the window, or give its path."
            ))
            .wrap(),
        );
        if text(ui, "Films' folder", &mut card.folder).changed() {
            card.look_in_folder();
        }
        which_film(ui, &mut card);
        if text(ui, "Photo", &mut card.photo).changed() {
            card.corners.clear();
            card.ruler.clear();
        }
        if desk.home.is_some() && !desk.no_chooser && ui.button("Choose the photo…").clicked() {
            desk.ask(Action::ChoosePhoto);
        }
        ui.add_space(6.0);
        preview(desk, ui, &mut card);
        given(desk, ui, &mut card);
        ui.add_space(10.0);
        let wanting = card.options().err();
        if let Some(wanting) = wanting {
            fields::says_wrong(ui, wanting);
        }
        ui.horizontal(|ui| {
            let can = wanting.is_none()
                && !card.photo.trim().is_empty()
                && !card.folder.trim().is_empty();
            go = main_button(ui, "Check", can);
            if ui.button("Cancel").clicked() {
                desk.ask(Action::CloseDialog);
            }
        });
    });
    if go {
        desk.ask(Action::CloseDialog);
        desk.ask(Action::CheckPhoto(Box::new(card)));
    } else if closed {
        desk.ask(Action::CloseDialog);
    } else if let Some(Dialog::Photo(kept)) = &mut desk.dialog {
        *kept = card;
    }
}

/// Which film the photo shows, where the folder holds one a screen.
fn which_film(ui: &mut Ui, card: &mut Card) {
    if card.films.len() < 2 {
        return;
    }
    let names: Vec<(usize, &str, &str)> = card
        .films
        .iter()
        .enumerate()
        .map(|(n, name)| (n, name.as_str(), "Check this film"))
        .collect();
    let now = card.films.iter().position(|film| Some(film) == card.film.as_ref()).unwrap_or(0);
    let why = "The folder holds a film a screen";
    if let Some(n) = fields::choice(ui, "Film in the photo", now, &names, why) {
        card.film = Some(card.films[n].clone());
    }
}

fn text(ui: &mut Ui, words: &str, text: &mut String) -> Response {
    let label = ui.label(words);
    ui.add(TextEdit::singleline(text).desired_width(f32::INFINITY)).labelled_by(label.id)
}

/// The corners and the ruler: clicked in the photo, or typed in its pixels.
fn given(desk: &Desk, ui: &mut Ui, card: &mut Card) {
    ui.horizontal_wrapped(|ui| {
        ui.radio_value(&mut card.clicks, Clicks::Corners, "Click the corners").on_hover_text(
            "Only needed where the drawing looks alike several ways or is not made out",
        );
        ui.radio_value(&mut card.clicks, Clicks::Ruler, "Click a ruler's ends")
            .on_hover_text("Only needed to know the film's absolute size");
        if ui.button("Clear the clicks").clicked() {
            card.corners.clear();
            card.ruler.clear();
        }
    });
    let next = match card.clicks {
        Clicks::Corners => match CORNERS.get(card.corners.len()) {
            Some(corner) => format!("Next: the film's {corner} corner, as it is planned"),
            None => "All four corners are given".into(),
        },
        Clicks::Ruler if card.ruler.len() < 2 => "Next: an end of the ruler".into(),
        Clicks::Ruler => "Both ends of the ruler are given".into(),
    };
    fields::says(ui, next);
    let why = "Across and down in the photo's own pixels: top left, top right, bottom right and bottom left";
    if let Some(typed) = fields::words(ui, "Corners", &written(&card.corners), why) {
        card.corners = read(&typed, 4);
    }
    let why = "Two places on the ruler, across and down in the photo's own pixels";
    if let Some(typed) = fields::words(ui, "Ruler's ends", &written(&card.ruler), why) {
        card.ruler = read(&typed, 2);
    }
    let unit = if desk.job().unit == Unit::Pt { Unit::Mm } else { desk.job().unit };
    let why = "How far apart those two places are";
    if let Some(length) = fields::length(ui, "Ruler's length", card.length, unit, why) {
        card.length = length;
    }
}

fn written(places: &[[f64; 2]]) -> String {
    places.iter().map(|[x, y]| format!("{x:.0},{y:.0}")).collect::<Vec<_>>().join(" ")
}

/// The places typed; a number too few or one that is none leaves out what it belongs to.
fn read(typed: &str, most: usize) -> Vec<[f64; 2]> {
    let parts = typed.split([',', ' ', ';']).filter(|part| !part.is_empty());
    let numbers: Vec<f64> =
        parts.map_while(|part| part.parse().ok().filter(|n: &f64| n.is_finite())).collect();
    numbers.chunks_exact(2).map(|pair| [pair[0], pair[1]]).take(most).collect()
}

/// The photo, to click on.
fn preview(desk: &mut Desk, ui: &mut Ui, card: &mut Card) {
    let p = Palette::of(ui.ctx());
    let path = card.photo.trim().to_owned();
    if let Some(error) = desk.photo.preview_error(&path) {
        fields::says_wrong(ui, &error.to_string());
        return;
    }
    let Some(shown) = desk.photo.preview(&path).cloned() else {
        let words = if desk.photo.is_opening() { "Reading the photo" } else { "No photo yet" };
        fields::says(ui, words);
        return;
    };
    let [w, h] = shown.size.map(|v| v.max(1) as f32);
    // The rest of the card is about so high: its buttons are to be seen without scrolling.
    let high = (ui.ctx().content_rect().height() - 600.0).max(140.0);
    let room = vec2(ui.available_width(), high);
    let by = (room.x / w).min(room.y / h);
    let (rect, response) = ui.allocate_exact_size(vec2(w, h) * by, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "The photo"));
    let texture = desk.photo_texture(shown.image.clone(), ui.ctx());
    let all = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    let painter = ui.painter_at(rect);
    painter.image(texture, rect, all, Color32::WHITE);
    if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        let place = [at.x - rect.left(), at.y - rect.top()].map(|v| f64::from(v / by).round());
        let (list, most) = match card.clicks {
            Clicks::Corners => (&mut card.corners, 4),
            Clicks::Ruler => (&mut card.ruler, 2),
        };
        if list.len() < most {
            list.push(place);
        }
    }
    let on_screen = |[x, y]: &[f64; 2]| rect.min + vec2(*x as f32, *y as f32) * by;
    for list in [&card.corners, &card.ruler] {
        let seen: Vec<Pos2> = list.iter().map(on_screen).collect();
        for (n, at) in seen.iter().enumerate() {
            for line in [Stroke::new(4.0, p.paper), Stroke::new(1.8, p.wrong)] {
                crate::canvas::crosshair(&painter, *at, 9.0, line);
                if n > 0 {
                    painter.line_segment([seen[n - 1], *at], line);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_read_as_they_are_written() {
        let places = vec![[10.0, 20.0], [300.0, 25.0]];
        assert_eq!(read(&written(&places), 4), places);
        assert_eq!(read("1, 2; 3,4 5", 4), vec![[1.0, 2.0], [3.0, 4.0]]);
        assert_eq!(read("1,x", 4), Vec::<[f64; 2]>::new());
    }
}
