//! The big picture: the film over the garment, cut into sheets. `model` is what is kept between
//! frames, `layout` where everything lies on the screen, `drag` what the hand does to it;
//! only `paint` and what it calls draw.

mod crop;
mod drag;
mod fine;
mod keys;
mod laid;
mod layout;
mod model;
mod paint;
mod photo;
mod pick;
mod polygon;
mod rulers;
mod screens;
mod seams;
mod snap;
mod tiles;
mod turn;

pub(crate) use keys::arrows;
pub(crate) use layout::Scene;
pub(crate) use model::{Model, View, WhatIf};
pub(crate) use paint::{crosshair, hatch};
#[cfg(test)]
pub(crate) use pick::LABEL as PICK;
pub(crate) use seams::{moved as seam_moved, with_node as seam_with_node};
pub(crate) use turn::plain as plain_turn;

use crate::desk::Desk;
use crate::sketch;
use crate::step::Step;
use crate::theme::{Palette, strong};
use eframe::egui::{
    Align2, CentralPanel, FontId, Frame, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2,
};

/// Width of a ruler in points.
const RULER: f32 = 22.0;

/// Shows the drawing of the shop's plan that lies on the table, if one does.
fn drawing(desk: &Desk, ui: &mut Ui, all: Rect) -> bool {
    let (Some((key, index)), Step::Screen) = (desk.at_shop.drawing, desk.step) else {
        return false;
    };
    let section = desk.plan().and_then(|plan| plan.section(key));
    let Some(drawing) = section.and_then(|s| s.drawings.get(index)) else { return false };
    let p = Palette::of(ui.ctx());
    let response = ui.allocate_rect(all, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &drawing.title));
    let painter = ui.painter_at(all);
    painter.rect_filled(all, 0, p.table);
    let title = Rect::from_min_max(all.min, pos2(all.right(), all.top() + 44.0));
    painter.text(title.center(), Align2::CENTER_CENTER, &drawing.title, strong(17.0), p.text);
    let place = Rect::from_min_max(title.left_bottom(), all.max).shrink(24.0);
    let fitted = sketch::fitted(drawing, place);
    painter.rect_filled(fitted.expand(12.0), 0, p.page);
    sketch::paint(&painter, drawing, fitted, Some(FontId::proportional(13.0)));
    true
}

/// Shows the canvas in what is left of the window.
pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    CentralPanel::default().frame(Frame::NONE).show(ui, |ui| {
        let all = ui.available_rect_before_wrap();
        let edge = if desk.canvas.rulers { RULER } else { 0.0 };
        let corner = all.min + vec2(edge, edge);
        // Large text in a narrow window may leave nothing.
        let canvas = Rect::from_min_max(corner, all.max.max(corner));
        desk.canvas.rect = canvas;
        if drawing(desk, ui, all) {
            return;
        }
        if desk.canvas.view.is_none()
            && (desk.film_size().is_some() || desk.job().picture.is_none())
        {
            desk.canvas.view = Some(View::of(desk.table_bounds(), canvas));
        }
        ui.allocate_rect(all, Sense::hover());
        drag::look_around(desk, ui, canvas);
        let scene = Scene::of(desk, canvas);
        paint::scene(desk, &scene, ui);
        drag::hands(desk, &scene, ui);
        paint::over(desk, &scene, ui);
        if desk.canvas.rulers {
            rulers::show(desk, ui, all, canvas);
        }
    });
}
