//! The big picture: the film over the garment, cut into sheets. `model` is what is kept between
//! frames, `layout` where everything lies on the screen, `drag` what the hand does to it;
//! only `paint` and what it calls draw.

mod crop;
mod drag;
mod keys;
mod layout;
mod model;
mod paint;
mod polygon;
mod rulers;
mod seams;
mod snap;
mod tiles;

pub(crate) use keys::arrows;
pub(crate) use layout::Scene;
pub(crate) use model::{Model, View, WhatIf};
pub(crate) use paint::crosshair;

use crate::desk::Desk;
use eframe::egui::{CentralPanel, Frame, Rect, Sense, Ui, vec2};

/// Width of a ruler in points.
const RULER: f32 = 22.0;

/// Shows the canvas in what is left of the window.
pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    CentralPanel::default().frame(Frame::NONE).show(ui, |ui| {
        let all = ui.available_rect_before_wrap();
        let edge = if desk.canvas.rulers { RULER } else { 0.0 };
        let canvas = Rect::from_min_max(all.min + vec2(edge, edge), all.max);
        desk.canvas.rect = canvas;
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
