//! The cut level: a slider laid over the picture's histogram. What lies left of it is ink.

use crate::action::Action;
use crate::canvas;
use crate::desk::Desk;
use crate::theme::Palette;
use artwork::{Crop, Cut};
use eframe::egui::{
    Align2, CursorIcon, FontId, Rect, Role, Sense, Shape, Stroke, StrokeKind, Ui, WidgetInfo, pos2,
    vec2,
};
use job::{Edit, PictureFile};

/// What the histogram at hand was counted from.
pub(crate) type HistogramKey = (PictureFile, Option<Crop>);

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    count(desk);
    let p = Palette::of(ui.ctx());
    let level = level(desk);
    let size = vec2(ui.available_width().min(360.0), 92.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let response = response.on_hover_cursor(CursorIcon::ResizeHorizontal).on_hover_text(
        "Greys left of the line become ink, greys right of it stay clear. The proposal is Otsu's level: \
         the one that parts dark from light best (N. Otsu, 1979)",
    );
    let enabled = desk.job().art.cut != Cut::Local;
    response.widget_info(|| WidgetInfo {
        value: Some(level),
        ..WidgetInfo::labeled(Role::Slider, enabled, "Cut level")
    });
    let plot = Rect::from_min_max(rect.min, rect.max - vec2(0.0, 18.0));
    let painter = ui.painter_at(rect);
    painter.rect(plot, 2, p.field, Stroke::new(1.0, p.edge), StrokeKind::Inside);
    // The share of ink runs against the grey: black paper is all ink.
    let x_of = |share: f64| plot.left() + ((1.0 - share) as f32) * plot.width();
    let line = x_of(level);
    if let Some((_, counts)) = &desk.histogram {
        let most = counts.iter().map(|n| height(*n)).fold(1.0, f32::max);
        let bar = plot.width() / 256.0;
        for (grey, n) in counts.iter().enumerate() {
            let x = plot.left() + grey as f32 * bar;
            let top = plot.bottom() - 1.0 - height(*n) / most * (plot.height() - 6.0);
            let color = if x < line { p.text } else { p.edge };
            painter.rect_filled(
                Rect::from_min_max(pos2(x, top), pos2(x + bar.max(1.0), plot.bottom() - 1.0)),
                0,
                color,
            );
        }
    }
    if let Some(proposed) =
        desk.stages.surface().map(|s| s.report.level).filter(|_| desk.job().art.cut == Cut::Auto)
    {
        let x = x_of(proposed);
        painter.text(
            pos2(x, plot.bottom() + 2.0),
            Align2::CENTER_TOP,
            "proposed",
            FontId::proportional(12.0),
            p.quiet,
        );
    } else {
        painter.text(
            plot.left_bottom() + vec2(1.0, 2.0),
            Align2::LEFT_TOP,
            "ink",
            FontId::proportional(12.0),
            p.quiet,
        );
        painter.text(
            plot.right_bottom() + vec2(-1.0, 2.0),
            Align2::RIGHT_TOP,
            "clear",
            FontId::proportional(12.0),
            p.quiet,
        );
    }
    if enabled {
        painter.line_segment(
            [pos2(line, plot.top()), pos2(line, plot.bottom())],
            Stroke::new(2.5, p.accent),
        );
        let flag = vec![
            pos2(line - 7.0, plot.top()),
            pos2(line + 7.0, plot.top()),
            pos2(line, plot.top() + 10.0),
        ];
        painter.add(Shape::convex_polygon(flag, p.accent, Stroke::new(1.0, p.paper)));
    }
    if response.has_focus() {
        painter.rect_stroke(plot, 2, Stroke::new(2.0, p.accent), StrokeKind::Inside);
    }
    let pointed =
        response.interact_pointer_pos().filter(|_| response.dragged() || response.clicked());
    let by_keys = if response.has_focus() { canvas::arrows(ui, response.id).x } else { 0.0 };
    let wanted = match pointed {
        Some(at) => Some(1.0 - f64::from((at.x - plot.left()) / plot.width())),
        None if by_keys != 0.0 => Some(level - f64::from(by_keys) / 255.0),
        None => None,
    };
    if let Some(share) = wanted {
        let share = ((share * 1000.0).round() / 1000.0).clamp(0.004, 0.996);
        desk.ask(Action::Drag(Edit::Cut(Cut::At(share))));
    }
    if response.clicked() {
        response.request_focus();
    }
    if response.drag_stopped() {
        desk.ask(Action::EndDrag);
    }
}

/// The level in use: a share of ink.
pub(crate) fn level(desk: &Desk) -> f64 {
    match desk.job().art.cut {
        Cut::At(level) => level,
        _ => desk.stages.surface().map_or(0.5, |s| s.report.level),
    }
}

/// Bars by their root, so that few greys between much black and white are seen.
fn height(n: u64) -> f32 {
    (n as f32).sqrt().sqrt()
}

fn count(desk: &mut Desk) {
    let (Some(file), Some(picture)) = (desk.job().picture.clone(), desk.stages.picture().cloned())
    else {
        desk.histogram = None;
        return;
    };
    let key = (file, desk.job().art.crop);
    if desk.histogram.as_ref().is_none_or(|(k, _)| *k != key) {
        desk.histogram = picture.histogram(key.1).ok().map(|counts| (key, Box::new(counts)));
    }
}
