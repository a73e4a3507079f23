//! The rail of steps: a line from artwork to print, with a mark at each step that says how it
//! stands by its shape, its words and its colour.

use crate::action::Action;
use crate::command::Command;
use crate::desk::Desk;
use crate::step::{State, Step};
use crate::theme::{Palette, strong};
use eframe::egui::{
    Align2, Color32, Context, FontId, Frame, Margin, Painter, Panel, Pos2, Rect, Role, ScrollArea,
    Sense, Shape, Stroke, Ui, WidgetInfo, pos2, text::LayoutJob, vec2,
};

/// Room for a name and three lines of why.
const HEIGHT: f32 = 88.0;
/// The same in a narrow rail.
const LOW: f32 = 52.0;

pub(crate) fn rail(desk: &mut Desk, ui: &mut Ui) {
    let p = Palette::of(ui.ctx());
    let frame =
        Frame::NONE.fill(p.board).inner_margin(Margin { left: 0, right: 0, top: 10, bottom: 10 });
    Panel::left("rail")
        .resizable(false)
        .exact_size(if is_narrow(ui.ctx()) { 78.0 } else { 176.0 })
        .show_separator_line(true)
        .frame(frame)
        .show(ui, |ui| {
            // With large text there may be less room than steps.
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                let top = ui.cursor().min;
                let x = top.x + 25.0;
                let end = top.y + height(ui.ctx()) * (Step::ALL.len() as f32 - 1.0) + 22.0;
                ui.painter().line_segment(
                    [pos2(x, top.y + 22.0), pos2(x, end)],
                    Stroke::new(2.0, p.hairline),
                );
                for step in Step::ALL {
                    entry(desk, ui, step);
                }
            });
        });
}

/// Whether the window has so little room, by its size or by large text, that the rail must leave
/// it to the table.
fn is_narrow(ctx: &Context) -> bool {
    ctx.content_rect().width() < 760.0
}

/// A step's height on the rail.
fn height(ctx: &Context) -> f32 {
    if is_narrow(ctx) { LOW } else { HEIGHT }
}

fn entry(desk: &mut Desk, ui: &mut Ui, step: Step) {
    let (p, narrow) = (Palette::of(ui.ctx()), is_narrow(ui.ctx()));
    let (state, reason) = step.state(desk);
    let size = vec2(ui.available_width(), height(ui.ctx()));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let chosen = desk.step == step;
    let label = format!("{}: {}, {reason}", step.name(), state.word());
    response.widget_info(|| WidgetInfo::selected(Role::Tab, true, chosen, &label));
    let response = response.on_hover_text(format!("{} — {reason}", state.word()));
    if response.clicked() {
        desk.ask(Action::Do(Command::Go(step)));
    }
    let painter = ui.painter();
    if chosen {
        painter.rect_filled(rect, 0, p.paper);
        let edge = Rect::from_min_size(rect.min, vec2(4.0, rect.height()));
        painter.rect_filled(edge, 0, p.accent);
    } else if response.hovered() {
        painter.rect_filled(rect, 0, p.wash);
    }
    if response.has_focus() {
        painter.rect_stroke(
            rect.shrink(2.0),
            2,
            Stroke::new(2.0, p.accent),
            eframe::egui::StrokeKind::Inside,
        );
    }
    let middle = rect.top() + if narrow { 17.0 } else { 22.0 };
    let at = pos2(rect.left() + 25.0, middle);
    let back = if chosen { p.paper } else { p.board };
    mark(painter, at, 1.0, state, back, p);
    if narrow {
        // The reason is still said on hover and to those who hear the window.
        let at = pos2(rect.left() + 9.0, middle + 21.0);
        painter.text(at, Align2::LEFT_CENTER, step.name(), strong(13.5), p.text);
        return;
    }
    let text = rect.left() + 46.0;
    painter.text(pos2(text, middle), Align2::LEFT_CENTER, step.name(), strong(16.0), p.text);
    let color = match state {
        State::Wrong => p.wrong,
        State::Look => p.look,
        State::Done | State::Working => p.quiet,
    };
    let shown = if reason.is_empty() { state.word().to_owned() } else { reason };
    let mut words =
        LayoutJob::simple(shown, FontId::proportional(12.5), color, rect.right() - text - 8.0);
    // What does not fit ends in dots; the whole of it is said on hover.
    words.wrap.max_rows = 3;
    let galley = painter.layout_job(words);
    painter.galley(pos2(text, middle + 11.0), galley, color);
}

/// A step's mark: a disc with a tick, an open ring at work, a triangle to look at, a cross.
pub(crate) fn mark(
    painter: &Painter,
    at: Pos2,
    size: f32,
    state: State,
    back: Color32,
    p: &Palette,
) {
    const R: f32 = 10.0;
    let vec2 = |x: f32, y: f32| vec2(x, y) * size;
    match state {
        State::Done => {
            painter.circle_filled(at, R * size, p.accent);
            let tick = vec![at + vec2(-4.5, 0.5), at + vec2(-1.5, 3.8), at + vec2(4.8, -3.6)];
            painter.add(Shape::line(tick, Stroke::new(2.2, p.on_accent)));
        }
        State::Working => {
            painter.circle(at, R * size, back, Stroke::new(2.0, p.edge));
            for i in -1..=1 {
                painter.circle_filled(at + vec2(i as f32 * 4.5, 0.0), 1.4, p.quiet);
            }
        }
        State::Look => {
            let corners = vec![
                at + vec2(0.0, -R - 1.0),
                at + vec2(R + 1.0, R - 1.5),
                at + vec2(-R - 1.0, R - 1.5),
            ];
            painter.add(Shape::convex_polygon(corners, back, Stroke::new(2.0, p.look)));
            painter.line_segment(
                [at + vec2(0.0, -4.0), at + vec2(0.0, 2.5)],
                Stroke::new(2.2, p.look),
            );
            painter.circle_filled(at + vec2(0.0, 5.6), 1.3, p.look);
        }
        State::Wrong => {
            let square = Rect::from_center_size(at, vec2(R * 1.8, R * 1.8));
            painter.rect(
                square,
                2,
                back,
                Stroke::new(2.0, p.wrong),
                eframe::egui::StrokeKind::Middle,
            );
            let line = Stroke::new(2.4, p.wrong);
            painter.line_segment([at + vec2(-4.0, -4.0), at + vec2(4.0, 4.0)], line);
            painter.line_segment([at + vec2(-4.0, 4.0), at + vec2(4.0, -4.0)], line);
        }
    }
}
