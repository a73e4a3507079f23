//! Fields for numbers, each with its label, an explanation on hover, and a word on what is
//! wrong with what was typed. Lengths take units and sums: `13in + 1/4in`.

use crate::step::State;
use crate::theme::Palette;
use eframe::egui::{
    ComboBox, EventFilter, Id, Key, Label, Response, RichText, Sense, TextEdit, Ui, WidgetText,
    vec2,
};
use inks::Rgb;
use job::FrameMarks;
use measure::{Length, Point, Unit, parse_length};

const LABEL: f32 = 118.0;
const FIELD: f32 = 124.0;

/// A row: its label on the left, hovering over which explains the number, then `add`.
pub(crate) fn row<R>(
    ui: &mut Ui,
    label: &str,
    why: &str,
    add: impl FnOnce(&mut Ui, &Response) -> R,
) -> R {
    ui.horizontal(|ui| {
        let words = ui
            .allocate_ui_with_layout(
                vec2(LABEL, ui.spacing().interact_size.y),
                eframe::egui::Layout::left_to_right(eframe::egui::Align::Center),
                |ui| {
                    ui.set_min_width(LABEL);
                    ui.add(Label::new(label).wrap())
                },
            )
            .inner;
        let words = if why.is_empty() { words } else { words.on_hover_text(why) };
        add(ui, &words)
    })
    .inner
}

/// A length. The new one where another was typed.
pub(crate) fn length(
    ui: &mut Ui,
    label: &str,
    value: Length,
    unit: Unit,
    why: &str,
) -> Option<Length> {
    length_shown(ui, label, value, unit, why, &|l| l.show(unit))
}

/// A length off a tape: shown to a hundredth of an inch or a tenth of a millimetre, kept exactly.
pub(crate) fn taped(
    ui: &mut Ui,
    label: &str,
    value: Length,
    unit: Unit,
    why: &str,
) -> Option<Length> {
    let step =
        if matches!(unit, Unit::In | Unit::Pt) { Length::of(0.01, unit) } else { Length::mm(0.1) };
    length_shown(ui, label, value, unit, why, &|l| (step * (l / step).round()).show(unit))
}

fn length_shown(
    ui: &mut Ui,
    label: &str,
    value: Length,
    unit: Unit,
    why: &str,
    show: &dyn Fn(Length) -> String,
) -> Option<Length> {
    let step = match unit {
        Unit::In | Unit::Pt => Length::inches(1.0 / 16.0),
        Unit::Mm | Unit::Cm => Length::mm(1.0),
    };
    typed(ui, label, &show(value), why, &|text, steps| {
        let length = parse_length(text, Some(unit)).map_err(|e| e.to_string())?;
        let length = length + step * f64::from(steps);
        Ok((length, show(length)))
    })
}

/// A plain number with a unit of its own, such as `300 ppi`.
pub(crate) fn number(
    ui: &mut Ui,
    label: &str,
    value: f64,
    unit: &str,
    step: f64,
    why: &str,
) -> Option<f64> {
    let show = |v: f64| {
        let text = format!("{v:.4}");
        let text = text.trim_end_matches('0').trim_end_matches('.').to_owned();
        if unit.is_empty() { text } else { format!("{text} {unit}") }
    };
    typed(ui, label, &show(value), why, &|text, steps| {
        let bare = text.trim().trim_end_matches(unit).trim_end_matches("deg").trim();
        let v: f64 = bare.parse().map_err(|_| format!("\"{text}\" is not a number"))?;
        if !v.is_finite() {
            return Err(format!("\"{text}\" is not a number that can be used"));
        }
        let v = v + step * f64::from(steps);
        Ok((v, show(v)))
    })
}

/// Words.
pub(crate) fn words(ui: &mut Ui, label: &str, value: &str, why: &str) -> Option<String> {
    typed(ui, label, value, why, &|text, _| Ok((text.to_owned(), text.to_owned())))
}

/// A colour, written #rrggbb.
pub(crate) fn colour(ui: &mut Ui, label: &str, value: Rgb, why: &str) -> Option<Rgb> {
    typed(ui, label, &value.to_string(), why, &|text, _| {
        let colour: Rgb = text.parse().map_err(|e: inks::InksError| e.to_string())?;
        Ok((colour, colour.to_string()))
    })
}

/// Places of register pins.
pub(crate) fn pins(
    ui: &mut Ui,
    label: &str,
    value: &[Point],
    unit: Unit,
    why: &str,
) -> Option<Vec<Point>> {
    let show = |pins: &[Point]| {
        FrameMarks { pins: pins.to_vec(), ..FrameMarks::default() }.pins_shown(unit)
    };
    typed(ui, label, &show(value), why, &|text, _| {
        let pins = FrameMarks::pins_from(text, Some(unit))?;
        let shown = show(&pins);
        Ok((pins, shown))
    })
}

/// A wedge's readings: share on film and density in print of each step.
pub(crate) fn readings(
    ui: &mut Ui,
    label: &str,
    value: &[(f64, f64)],
    why: &str,
) -> Option<Vec<(f64, f64)>> {
    let show = |steps: &[(f64, f64)]| {
        let one = |(share, d): &(f64, f64)| format!("{}: {d}", (share * 1e4).round() / 1e2);
        steps.iter().map(one).collect::<Vec<_>>().join(", ")
    };
    typed(ui, label, &show(value), why, &|text, _| {
        let wrong = || "write each step as share: density, such as 50: 0.41".to_owned();
        let mut steps = Vec::new();
        for step in text.split(',').filter(|step| !step.trim().is_empty()) {
            let (share, density) = step.split_once(':').ok_or_else(wrong)?;
            let number =
                |text: &str| text.trim().trim_end_matches('%').parse().map_err(|_| wrong());
            let (share, density): (f64, f64) = (number(share)?, number(density)?);
            steps.push((share / 100.0, density));
        }
        let shown = show(&steps);
        Ok((steps, shown))
    })
}

/// What is being typed, and what was wrong with it.
#[derive(Clone, Default)]
struct Draft {
    text: Option<String>,
    wrong: Option<String>,
}

type Read<'a, T> = dyn Fn(&str, i32) -> Result<(T, String), String> + 'a;

fn typed<T>(ui: &mut Ui, label: &str, shown: &str, why: &str, read: &Read<'_, T>) -> Option<T> {
    let mut out = None;
    let id = ui.make_persistent_id(("field", label));
    let mut draft: Draft = ui.data(|d| d.get_temp(id)).unwrap_or_default();
    row(ui, label, why, |ui, words| {
        let mut text = draft.text.clone().unwrap_or_else(|| shown.to_owned());
        let width = FIELD.max(ui.available_width().min(FIELD * 1.4));
        let edit = TextEdit::singleline(&mut text).id(id.with("text")).desired_width(width - 12.0);
        let response = ui.add(edit).labelled_by(words.id);
        let response = if why.is_empty() { response } else { response.on_hover_text(why) };
        if response.gained_focus() {
            select_all(ui, response.id, text.chars().count());
        }
        if response.changed() {
            draft.text = Some(text.clone());
            draft.wrong = None;
        }
        let steps = if response.has_focus() { steps(ui, response.id) } else { 0 };
        let entered = response.lost_focus() && !ui.input(|i| i.key_pressed(Key::Escape));
        if response.lost_focus() && !entered {
            draft = Draft::default();
        } else if steps != 0 || entered && draft.text.is_some() {
            match read(&text, steps) {
                Ok((value, now)) => {
                    if now != shown {
                        out = Some(value);
                    }
                    draft = Draft::default();
                }
                Err(e) => draft.wrong = Some(e),
            }
        }
    });
    if let Some(wrong) = &draft.wrong {
        says_wrong(ui, wrong);
    }
    ui.data_mut(|d| d.insert_temp(id, draft));
    out
}

/// How many steps the up and down keys ask for.
fn steps(ui: &Ui, id: Id) -> i32 {
    let filter =
        EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
    ui.memory_mut(|m| m.set_focus_lock_filter(id, filter));
    ui.input(|i| {
        let by = i.num_presses(Key::ArrowUp) as i32 - i.num_presses(Key::ArrowDown) as i32;
        if i.modifiers.shift { by * 10 } else { by }
    })
}

/// A field entered is ready to be typed over.
fn select_all(ui: &Ui, id: Id, length: usize) {
    use eframe::egui::text::{CCursor, CCursorRange};
    if let Some(mut state) = eframe::egui::TextEdit::load_state(ui.ctx(), id) {
        state.cursor.set_char_range(Some(CCursorRange::two(CCursor::new(0), CCursor::new(length))));
        state.store(ui.ctx(), id);
    }
}

/// What is wrong, with a mark that needs no colour.
pub(crate) fn says_wrong(ui: &mut Ui, text: &str) {
    let p = Palette::of(ui.ctx());
    ui.horizontal_top(|ui| {
        sign(ui, State::Wrong);
        ui.add(Label::new(RichText::new(text).color(p.wrong).size(13.0)).wrap());
    });
}

/// A small mark that says by its shape how something stands.
pub(crate) fn sign(ui: &mut Ui, state: State) {
    let p = Palette::of(ui.ctx());
    let (rect, _) = ui.allocate_exact_size(vec2(17.0, 17.0), Sense::hover());
    super::rail::mark(ui.painter(), rect.center(), 0.75, state, p.paper, p);
}

/// A quiet explanation.
pub(crate) fn says(ui: &mut Ui, text: impl Into<String>) {
    let p = Palette::of(ui.ctx());
    ui.label(RichText::new(text.into()).color(p.quiet).size(13.5));
}

/// A caution, where its work comes up; its source on hover.
pub(crate) fn careful(ui: &mut Ui, caution: &shop::Caution) {
    ui.horizontal_top(|ui| {
        sign(ui, State::Look);
        let text = format!("{}: {}", caution.hazard.name(), caution.text);
        ui.add(Label::new(text).wrap()).on_hover_text(caution.source.to_string());
    });
}

/// A figure with its label, and where it comes from on hover.
pub(crate) fn figure(ui: &mut Ui, label: &str, value: impl Into<WidgetText>, why: &str) {
    row(ui, label, why, |ui, _| {
        let shown = ui.add(Label::new(value).wrap());
        if !why.is_empty() {
            shown.on_hover_text(why);
        }
    });
}

/// A choice among a few.
pub(crate) fn choice<T: PartialEq + Copy>(
    ui: &mut Ui,
    label: &str,
    now: T,
    options: &[(T, &str, &str)],
    why: &str,
) -> Option<T> {
    let mut chosen = None;
    let name = options.iter().find(|o| o.0 == now).map_or("", |o| o.1);
    row(ui, label, why, |ui, words| {
        let width = (FIELD + 28.0).min(ui.available_width());
        let combo = ComboBox::from_id_salt(label).selected_text(name).width(width).height(420.0);
        let options = options.iter().map(|(value, name, tip)| (*value, *value == now, *name, *tip));
        chosen = list(ui, combo, words, options);
    });
    chosen.filter(|c| *c != now)
}

/// A list that opens, with its label: values, whether each is the one now, their names, and what
/// is said of each while the pointer rests on it. It closes when something is chosen, by the
/// keyboard too, and the keyboard then goes on from it.
pub(crate) fn list<'a, T>(
    ui: &mut Ui,
    combo: ComboBox,
    words: &Response,
    options: impl Iterator<Item = (T, bool, impl Into<String>, &'a str)>,
) -> Option<T> {
    let shown = combo.show_ui(ui, |ui| {
        let mut chosen = None;
        for (value, is_now, name, tip) in options {
            let mut label = ui.selectable_label(is_now, name.into());
            if !tip.is_empty() {
                label = label.on_hover_text(tip);
            }
            if label.clicked() {
                chosen = Some(value);
            }
        }
        if chosen.is_some() {
            ui.close();
        }
        chosen
    });
    let button = shown.response.labelled_by(words.id);
    let chosen = shown.inner.flatten();
    if chosen.is_some() {
        button.request_focus();
    }
    chosen
}
