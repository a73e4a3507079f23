//! Every drag by the keyboard too: the arrows move what has the focus, with Shift in large steps.

use super::drag::tidy;
use crate::action::Action;
use crate::desk::Desk;
use crate::pins;
use eframe::egui::{EventFilter, Id, Key, Ui, Vec2, vec2};
use job::Edit;
use measure::{Length, Point, Size, Unit};

/// How far the arrows pressed in this frame go, in steps, and keeps them from moving the focus.
pub(crate) fn arrows(ui: &Ui, id: Id) -> Vec2 {
    let filter =
        EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
    ui.memory_mut(|m| m.set_focus_lock_filter(id, filter));
    ui.input(|i| {
        let pressed = |k| i.num_presses(k) as f32;
        let by = vec2(
            pressed(Key::ArrowRight) - pressed(Key::ArrowLeft),
            pressed(Key::ArrowDown) - pressed(Key::ArrowUp),
        );
        if i.modifiers.shift { by * 10.0 } else { by }
    })
}

/// A step of the arrows.
fn step(unit: Unit) -> Length {
    match unit {
        Unit::In | Unit::Pt => Length::inches(1.0 / 16.0),
        Unit::Mm | Unit::Cm => Length::mm(1.0),
    }
}

fn by(desk: &Desk, ui: &Ui, id: Id) -> Option<Point> {
    let by = arrows(ui, id);
    let step = step(desk.job().unit);
    (by != Vec2::ZERO).then(|| Point::new(step * f64::from(by.x), step * f64::from(by.y)))
}

pub(crate) fn artwork(desk: &mut Desk, ui: &Ui, id: Id) {
    if let Some(by) = by(desk, ui, id) {
        let offset = desk.job().offset + by;
        desk.ask(Action::Drag(Edit::Offset(offset)));
    }
}

pub(crate) fn corner(desk: &mut Desk, ui: &Ui, id: Id) {
    if let Some(by) = by(desk, ui, id) {
        let width = (desk.job().width + by.x - by.y).max(Length::mm(10.0));
        let offset = desk.job().offset;
        desk.ask(Action::Drag(Edit::Scale(width, offset)));
    }
}

pub(crate) fn sheet(desk: &mut Desk, ui: &Ui, id: Id, index: usize) {
    let Some(by) = by(desk, ui, id) else { return };
    if let Some((mut placed, others)) = pins::taken(desk, index) {
        placed.rect.origin = placed.rect.origin + by;
        desk.ask(Action::Drag(pins::with(&others, placed)));
    }
}

pub(crate) fn overlap(desk: &mut Desk, ui: &Ui, id: Id) {
    if let Some(by) = by(desk, ui, id) {
        let overlap = tidy(desk.job().overlap + by.x + by.y, desk.job().unit).max(Length::ZERO);
        desk.ask(Action::Drag(Edit::Overlap(overlap)));
    }
}

pub(crate) fn sheet_size(desk: &mut Desk, ui: &Ui, id: Id) {
    let Some(by) = by(desk, ui, id) else { return };
    let unit = desk.job().unit;
    let mut stocks = desk.job().stocks.clone();
    if let Some(stock) = stocks.first_mut() {
        let least = Length::inches(2.0);
        stock.size =
            Size::new((stock.size.width + by.x).max(least), (stock.size.height + by.y).max(least));
        stock.name = format!("{} x {}", stock.size.width.show(unit), stock.size.height.show(unit));
        desk.ask(Action::Drag(Edit::Stocks(stocks)));
    }
}
