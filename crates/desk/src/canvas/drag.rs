//! What the hand does on the canvas: looks around, moves and scales the artwork, moves sheets,
//! and pulls the overlap and the sheet's size. A drag counts from where it began, so that
//! nothing is lost on a slow start.

use super::layout::{Scene, Strip};
use super::model::{Caught, Held};
use super::{crop, keys, pick, seams, snap, turn};
use crate::action::Action;
use crate::desk::Desk;
use crate::pins;
use eframe::egui::{
    CursorIcon, Id, Key, PointerButton, Pos2, Rect, Response, Role, Sense, Ui, Vec2, WidgetInfo,
    vec2,
};
use job::Edit;
use measure::{Length, Point, Size, Unit};

/// A handle takes at least this much of the screen (WCAG 2.5.8).
const GRIP: f32 = 26.0;

/// Pan by the middle button, or by any with the space bar; zoom by the wheel and by pinching.
pub(crate) fn look_around(desk: &mut Desk, ui: &mut Ui, canvas: Rect) {
    let ground = ui.interact(canvas, Id::unique("canvas"), Sense::click_and_drag());
    let space = ui.input(|i| i.key_down(Key::Space)) && !ui.ctx().egui_wants_keyboard_input();
    let mut view = desk.canvas.eye();
    let panning = ground.dragged_by(PointerButton::Middle)
        || ground.dragged_by(PointerButton::Primary) && desk.canvas.held.is_none();
    if panning {
        view.pan(ground.drag_delta());
        ui.set_cursor_icon(CursorIcon::Grabbing);
    }
    if ground.clicked() {
        desk.ask(Action::ChooseSheet(None));
        ground.surrender_focus();
    }
    if ui.rect_contains_pointer(canvas)
        && let Some(at) = ui.ctx().pointer_hover_pos()
    {
        if space {
            ui.set_cursor_icon(CursorIcon::Grab);
        }
        let (pinch, scroll, shift) =
            ui.input(|i| (i.zoom_delta(), i.smooth_scroll_delta(), i.modifiers.shift));
        if pinch != 1.0 {
            view.zoom(f64::from(pinch), at, canvas);
        } else if scroll != Vec2::ZERO {
            if shift || scroll.x != 0.0 {
                view.pan(vec2(scroll.x + if shift { scroll.y } else { 0.0 }, 0.0));
            } else {
                view.zoom((f64::from(scroll.y) / 240.0).exp(), at, canvas);
            }
        }
    }
    if desk.canvas.view.is_some() {
        desk.canvas.view = Some(view);
    }
}

/// Everything that can be taken hold of.
pub(crate) fn hands(desk: &mut Desk, scene: &Scene, ui: &mut Ui) {
    let space = ui.input(|i| i.key_down(Key::Space)) && !ui.ctx().egui_wants_keyboard_input();
    if !space {
        if desk.canvas.cropping {
            crop::hands(desk, scene, ui);
        } else if desk.is_picking() {
            pick::hands(desk, scene, ui);
        } else {
            artwork(desk, scene, ui);
            turn::hands(desk, scene, ui);
        }
        sheets(desk, scene, ui);
        seams::hands(desk, scene, ui);
        wipe_line(desk, scene, ui);
    }
    carry(desk, scene, ui);
}

fn artwork(desk: &mut Desk, scene: &Scene, ui: &mut Ui) {
    let Some(film) = scene.film.filter(|_| scene.moves_artwork) else { return };
    let Some(laid) = scene.laid else { return };
    let (offset, width) = (desk.job().offset, desk.job().width);
    let body = take(
        desk,
        ui,
        film.intersect(scene.canvas),
        "artwork",
        "Artwork on the garment",
        CursorIcon::Move,
    );
    if body.drag_started_by(PointerButton::Primary) {
        desk.canvas.held = Some(Held::Artwork { offset });
    }
    if body.has_focus() {
        keys::artwork(desk, ui, body.id);
    }
    let [top_left, top_right, bottom_right, bottom_left] = laid.corners();
    for (name, corner, cursor) in [
        ("top left", top_left, CursorIcon::ResizeNwSe),
        ("top right", top_right, CursorIcon::ResizeNeSw),
        ("bottom left", bottom_left, CursorIcon::ResizeNeSw),
        ("bottom right", bottom_right, CursorIcon::ResizeNwSe),
    ] {
        let grip = grip(corner, scene.canvas);
        let label = format!("Scale by the {name} corner");
        let response = take(desk, ui, grip, name, &label, cursor);
        if response.drag_started_by(PointerButton::Primary) {
            desk.canvas.held = Some(Held::Corner { width, offset, corner: corner - laid.middle() });
        }
        if response.has_focus() {
            keys::corner(desk, ui, response.id);
        }
    }
}

fn sheets(desk: &mut Desk, scene: &Scene, ui: &mut Ui) {
    if !scene.moves_sheets {
        return;
    }
    // What is chosen lies on top, so it comes last.
    let mut order: Vec<usize> = (0..scene.sheets.len()).collect();
    order.sort_by_key(|i| desk.canvas.sheet == Some(scene.sheets[*i].index));
    for i in order {
        let sheet = &scene.sheets[i];
        let pinned = if sheet.pinned { ", pinned" } else { "" };
        let turned = if sheet.turned { ", turned" } else { "" };
        let label = format!("Sheet {}{pinned}{turned}", sheet.name);
        let response = take(
            desk,
            ui,
            sheet.rect.intersect(scene.canvas),
            ("sheet", sheet.index),
            &label,
            CursorIcon::Move,
        );
        if response.clicked()
            || response.drag_started_by(PointerButton::Primary)
            || response.gained_focus()
        {
            desk.ask(Action::ChooseSheet(Some(sheet.index)));
        }
        if response.double_clicked() {
            desk.ask(Action::Do(crate::command::Command::PinSheet));
        }
        if response.drag_started_by(PointerButton::Primary)
            && let Some((placed, others)) = pins::taken(desk, sheet.index)
        {
            desk.canvas.held = Some(Held::Sheet { index: sheet.index, placed, others });
        }
        if response.has_focus() {
            keys::sheet(desk, ui, response.id, sheet.index);
        }
    }
    if let Some((strip, way)) = scene.overlap_handle {
        let (at, cursor) = match way {
            Strip::Upright => (strip.right_center(), CursorIcon::ResizeHorizontal),
            Strip::Level => (strip.center_bottom(), CursorIcon::ResizeVertical),
        };
        let response =
            take(desk, ui, grip(at, scene.canvas), "overlap", "Width of the overlap", cursor);
        if response.drag_started_by(PointerButton::Primary) {
            desk.canvas.held = Some(Held::Overlap { overlap: desk.job().overlap, way });
        }
        if response.has_focus() {
            keys::overlap(desk, ui, response.id);
        }
    }
    if let Some(corner) = scene.size_handle {
        let response = take(
            desk,
            ui,
            grip(corner, scene.canvas),
            "sheet size",
            "Size of the sheet",
            CursorIcon::ResizeNwSe,
        );
        if response.drag_started_by(PointerButton::Primary)
            && let Some(stock) = desk.job().stocks.first()
        {
            desk.canvas.held = Some(Held::SheetSize { size: stock.size });
        }
        if response.has_focus() {
            keys::sheet_size(desk, ui, response.id);
        }
    }
}

fn wipe_line(desk: &mut Desk, scene: &Scene, ui: &mut Ui) {
    let Some(share) = desk.canvas.wipe else { return };
    let x = scene.canvas.left() + share * scene.canvas.width();
    let line = Rect::from_x_y_ranges(x - GRIP / 2.0..=x + GRIP / 2.0, scene.canvas.y_range());
    let label = "Line between picture and film";
    let response = take(desk, ui, line, "wipe", label, CursorIcon::ResizeHorizontal);
    if response.drag_started_by(PointerButton::Primary) {
        desk.canvas.held = Some(Held::Wipe);
    }
    if response.has_focus() {
        let by = keys::arrows(ui, response.id).x / 200.0;
        desk.canvas.wipe = Some((share + by).clamp(0.0, 1.0));
    }
}

/// Something to take hold of, with a name for those who hear the window.
pub(crate) fn take(
    desk: &Desk,
    ui: &Ui,
    rect: Rect,
    id: impl std::hash::Hash + std::fmt::Debug,
    label: &str,
    cursor: CursorIcon,
) -> Response {
    let sense = if desk.canvas.held.is_some() { Sense::drag() } else { Sense::click_and_drag() };
    let id = Id::unique(("canvas part", id));
    let response =
        ui.interact(rect, id, sense | Sense::focusable_noninteractive()).on_hover_cursor(cursor);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, label));
    if response.clicked() {
        response.request_focus();
    }
    response
}

/// The place of a handle, kept on the canvas where the thing itself reaches past it.
pub(crate) fn grip(at: Pos2, canvas: Rect) -> Rect {
    Rect::from_center_size(at, vec2(GRIP, GRIP)).intersect(canvas)
}

/// Moves what is held, and lets it go with the button.
fn carry(desk: &mut Desk, scene: &Scene, ui: &Ui) {
    let Some(held) = desk.canvas.held.clone() else { return };
    let (from, to, down) =
        ui.input(|i| (i.pointer.press_origin(), i.pointer.latest_pos(), i.pointer.primary_down()));
    if !down {
        desk.canvas.held = None;
        desk.canvas.caught.clear();
        desk.ask(Action::EndDrag);
        return;
    }
    let (Some(from), Some(to)) = (from, to) else { return };
    let by = scene.view.movement(to - from);
    let (edit, caught) = match held {
        Held::Artwork { offset } => move_artwork(desk, offset + by),
        Held::Corner { width, offset, corner } => {
            scale_artwork(desk, scene, width, offset, corner, to - from)
        }
        Held::Turn { turn } => {
            (scene.laid.map(|laid| turn::dragged(desk, &laid, turn, from, to)), Vec::new())
        }
        Held::Sheet { index, placed, others } => {
            let mut moved = placed;
            moved.rect.origin = moved.rect.origin + by;
            let (uprights, levels) = snap::sheet_lines(desk, index);
            let (rect, caught) = snap::rect(desk, moved.rect, &uprights, &levels);
            moved.rect = rect;
            (Some(pins::with(&others, moved)), on_table(desk, caught))
        }
        Held::Overlap { overlap, way } => {
            let by = if way == Strip::Upright { by.x } else { by.y };
            (
                Some(Edit::Overlap(tidy(overlap + by * 2.0, desk.job().unit).max(Length::ZERO))),
                Vec::new(),
            )
        }
        Held::SheetSize { size } => (sheet_size(desk, size, by), Vec::new()),
        Held::Crop { crop, edges, width, offset } => {
            (crop::dragged(desk, scene, crop, edges, width, offset, to - from), Vec::new())
        }
        Held::Seam { seam, node } => (Some(seams::moved(desk, seam, node, by)), Vec::new()),
        Held::Wipe => {
            let share = (to.x - scene.canvas.left()) / scene.canvas.width().max(1.0);
            desk.canvas.wipe = Some(share.clamp(0.0, 1.0));
            (None, Vec::new())
        }
    };
    desk.canvas.caught = caught;
    if let Some(edit) = edit {
        desk.ask(Action::Drag(edit));
    }
}

fn move_artwork(desk: &Desk, offset: Point) -> (Option<Edit>, Vec<Caught>) {
    let Some(mut film) = desk.film_rect() else { return (None, Vec::new()) };
    let now = desk.job().offset;
    film.origin = film.origin + (offset - now);
    let (uprights, levels) = snap::garment_lines(desk);
    let (snapped, caught) = snap::rect(desk, film, &uprights, &levels);
    (Some(Edit::Offset(offset + (snapped.origin - film.origin))), caught)
}

/// The corner follows the hand; the opposite corner stays.
fn scale_artwork(
    desk: &Desk,
    scene: &Scene,
    width: Length,
    offset: Point,
    corner: Vec2,
    by: Vec2,
) -> (Option<Edit>, Vec<Caught>) {
    // How much longer the diagonal from the opposite corner to the hand has become.
    let diagonal = corner * 2.0;
    let longer = (by.x * diagonal.x + by.y * diagonal.y) / diagonal.length_sq().max(1.0);
    let scaled = tidy(width * f64::from(1.0 + longer), desk.job().unit).max(Length::mm(10.0));
    let grown = scaled / width - 1.0;
    let half = scene.view.movement(corner);
    let offset = Point::new(offset.x + half.x * grown, offset.y + half.y * grown);
    (Some(Edit::Scale(scaled, offset)), Vec::new())
}

fn sheet_size(desk: &Desk, size: Size, by: Point) -> Option<Edit> {
    let mut stocks = desk.job().stocks.clone();
    let stock = stocks.first_mut()?;
    let unit = desk.job().unit;
    let turned =
        desk.stages.layout().and_then(|l| l.plan.sheets.first()).is_some_and(|s| s.placed.turned);
    let by = if turned { Point::new(by.y, by.x) } else { by };
    let least = Length::inches(2.0);
    stock.size = Size::new(
        tidy(size.width + by.x, unit).max(least),
        tidy(size.height + by.y, unit).max(least),
    );
    stock.name = format!("{} x {}", stock.size.width.show(unit), stock.size.height.show(unit));
    Some(Edit::Stocks(stocks))
}

/// Dragged lengths land on numbers that can be measured: sixteenths of an inch, or millimetres.
pub(crate) fn tidy(length: Length, unit: Unit) -> Length {
    let step = match unit {
        Unit::In | Unit::Pt => Length::inches(1.0 / 16.0),
        Unit::Mm | Unit::Cm => Length::mm(1.0),
    };
    step * (length / step).round()
}

/// Lines of the film as lines of the table.
fn on_table(desk: &Desk, caught: Vec<Caught>) -> Vec<Caught> {
    let Some(film) = desk.film_rect() else { return caught };
    caught
        .into_iter()
        .map(|c| match c {
            Caught::Upright(x) => Caught::Upright(x + film.origin.x),
            Caught::Level(y) => Caught::Level(y + film.origin.y),
        })
        .collect()
}
