//! Draws the frame's picture.

use super::laid::{self, Laid};
use super::layout::{Scene, SheetSeen, Strip};
use super::model::{Caught, Held};
use super::polygon::{Side, fill};
use crate::desk::Desk;
use crate::step::Step;
use crate::theme::{Palette, strong};
use eframe::egui::{
    Align2, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, Ui, Vec2,
    epaint::Mesh, pos2, vec2,
};

/// Table, cloth, film and sheets.
pub(crate) fn scene(desk: &mut Desk, scene: &Scene, ui: &Ui) {
    let p = Palette::of(ui.ctx());
    let painter = ui.painter_at(scene.canvas);
    // The print of several screens is seen on the garment's own colour.
    let printed = desk.stages.garment_colour().filter(|_| desk.canvas.screens.shown.is_none());
    let cloth = printed.unwrap_or(p.cloth);
    // Nothing is painted over what need not be: without a graphics card every layer costs.
    if scene.garment.is_empty() {
        painter.rect_filled(scene.canvas, 0, p.table);
        if let Some(film) = scene.film {
            painter.rect_filled(film, 0, cloth);
        }
    } else {
        for (side, colour) in [(Side::Outside, p.table), (Side::Inside, cloth)] {
            painter.add(Shape::mesh(fill(&scene.garment, side, scene.canvas, colour)));
        }
    }
    let film_side = match desk.canvas.wipe {
        // An ink is picked from the picture itself.
        _ if desk.is_picking() => Rect::from_min_max(scene.canvas.right_top(), scene.canvas.max),
        None => scene.canvas,
        Some(share) => {
            let x = scene.canvas.left() + share * scene.canvas.width();
            Rect::from_min_max(pos2(x, scene.canvas.top()), scene.canvas.max)
        }
    };
    if desk.canvas.cropping {
        picture(desk, scene.laid, scene.whole_picture, 90, &painter);
    }
    let shown = desk.stages.shown().cloned();
    if let (Some(film), Some(laid)) = (scene.film, scene.laid) {
        match &shown {
            Some(view) => {
                let clipped = painter.with_clip_rect(film_side);
                let all = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
                let slipped = desk.slipped_texture(painter.ctx());
                match (slipped, desk.recut_texture(painter.ctx())) {
                    (Some((texture, looked)), _) => {
                        clipped.image(texture, looked.place(film), all, Color32::WHITE);
                    }
                    (None, Some((texture, looked))) => {
                        clipped.image(texture, looked.place(film), all, p.ink);
                    }
                    (None, None) if view.screens.is_empty() => {
                        desk.canvas.tiles.paint(view, &laid, p.ink, &clipped);
                    }
                    (None, None) => desk.canvas.screens.paint(view, &laid, p.ink, &clipped),
                }
            }
            None => {
                desk.canvas.tiles.clear();
                if desk.stages.image().is_none() {
                    opening(desk, &laid, &painter, p);
                }
                picture(desk, scene.laid, Some(laid.upright), 255, &painter);
            }
        }
        if film_side != scene.canvas {
            let other =
                Rect::from_min_max(scene.canvas.min, pos2(film_side.left(), scene.canvas.bottom()));
            let clipped = painter.with_clip_rect(other);
            picture(desk, scene.laid, Some(laid.upright), 255, &clipped);
        }
    }
    if !scene.garment.is_empty() {
        // The veil is of the table's colour, so the table itself needs none.
        if let Some(laid) = scene.laid.filter(|_| !desk.canvas.cropping) {
            let artwork = Rect::from_points(&laid.corners()).intersect(scene.canvas);
            let off = fill(&scene.garment, Side::Outside, scene.canvas, p.veil);
            painter.with_clip_rect(artwork).add(Shape::mesh(off));
        }
        painter.add(Shape::closed_line(scene.garment.clone(), Stroke::new(1.5, p.thread)));
        for outline in &scene.also {
            let closed: Vec<_> = outline.iter().chain(outline.first()).copied().collect();
            painter.extend(Shape::dashed_line(&closed, Stroke::new(1.5, p.thread), 7.0, 4.0));
        }
        if let Some((a, b)) = scene.centre_line {
            painter.extend(Shape::dashed_line(&[a, b], Stroke::new(1.0, p.thread), 2.0, 5.0));
        }
    }
    sheets(desk, scene, &painter, p);
}

/// Handles, caught lines and the wiping line, over everything.
pub(crate) fn over(desk: &Desk, scene: &Scene, ui: &Ui) {
    let p = Palette::of(ui.ctx());
    let painter = ui.painter_at(scene.canvas);
    if let Some(laid) = &scene.laid {
        if scene.moves_artwork || desk.canvas.cropping {
            double_edge(&painter, laid, p);
        }
        if scene.moves_artwork {
            super::turn::paint(desk, scene, laid, &painter, p);
        }
        if scene.moves_artwork || desk.canvas.cropping {
            laid.corners().into_iter().for_each(|corner| handle(&painter, corner, p));
        }
        if desk.canvas.cropping {
            let r = laid.upright;
            for edge in [r.left_center(), r.right_center(), r.center_top(), r.center_bottom()] {
                handle(&painter, laid.seen(edge), p);
            }
        }
    }
    if let Some((strip, way)) = scene.overlap_handle {
        let at = if way == Strip::Upright { strip.right_center() } else { strip.center_bottom() };
        handle(&painter, at, p);
        let near = ui.ctx().pointer_hover_pos().is_some_and(|hand| hand.distance(at) < 14.0);
        if near || matches!(desk.canvas.held, Some(Held::Overlap { .. })) {
            let text = format!("overlap {}", desk.job().overlap.show(desk.job().unit));
            tag(&painter, at + vec2(14.0, -10.0), Align2::LEFT_TOP, &text, p);
        }
    }
    if let Some(corner) = scene.size_handle {
        handle(&painter, corner, p);
        if matches!(desk.canvas.held, Some(Held::SheetSize { .. }))
            && let Some(stock) = desk.job().stocks.first()
        {
            tag(&painter, corner + vec2(14.0, 10.0), Align2::LEFT_TOP, &stock.name, p);
        }
    }
    for caught in &desk.canvas.caught {
        let zero = measure::Length::ZERO;
        let ends = match *caught {
            Caught::Upright(x) => {
                let x = scene.view.screen_from_table(measure::Point::new(x, zero), scene.canvas).x;
                [pos2(x, scene.canvas.top()), pos2(x, scene.canvas.bottom())]
            }
            Caught::Level(y) => {
                let y = scene.view.screen_from_table(measure::Point::new(zero, y), scene.canvas).y;
                [pos2(scene.canvas.left(), y), pos2(scene.canvas.right(), y)]
            }
        };
        painter.extend(Shape::dashed_line(&ends, Stroke::new(1.5, p.accent), 6.0, 4.0));
    }
    super::fine::paint(desk, scene, &painter, p);
    super::photo::paint(desk, scene, &painter, p);
    if let Some(share) = desk.canvas.wipe {
        let x = scene.canvas.left() + share * scene.canvas.width();
        let ends = [pos2(x, scene.canvas.top()), pos2(x, scene.canvas.bottom())];
        painter.line_segment(ends, Stroke::new(4.0, p.paper));
        painter.line_segment(ends, Stroke::new(2.0, p.accent));
        handle(&painter, pos2(x, scene.canvas.center().y), p);
        let y = scene.canvas.top() + 10.0;
        tag(&painter, pos2(x - 12.0, y), Align2::RIGHT_TOP, "picture", p);
        tag(&painter, pos2(x + 12.0, y), Align2::LEFT_TOP, "film", p);
    }
    if desk.job().picture.is_none() {
        empty(scene, &painter, p);
    }
}

/// What an empty table says.
fn empty(scene: &Scene, painter: &Painter, p: &Palette) {
    let c = scene.canvas.center();
    let card = Rect::from_center_size(c, vec2(430.0, 120.0)).intersect(scene.canvas);
    painter.rect(card, 3, p.paper, Stroke::new(1.0, p.edge), StrokeKind::Inside);
    crosshair(painter, c - vec2(0.0, 30.0), 13.0, Stroke::new(2.0, p.accent));
    painter.text(
        c + vec2(0.0, 2.0),
        Align2::CENTER_CENTER,
        "Drop a picture here",
        strong(18.0),
        p.text,
    );
    let how = "or open one with Ctrl+O, or paste one with Shift+Ctrl+V";
    painter.text(
        c + vec2(0.0, 30.0),
        Align2::CENTER_CENTER,
        how,
        FontId::proportional(15.0),
        p.quiet,
    );
}

/// Where the picture will lie, while it is being opened.
fn opening(desk: &Desk, laid: &Laid, painter: &Painter, p: &Palette) {
    let edge = Stroke::new(1.5, p.edge);
    painter.add(Shape::convex_polygon(laid.corners().to_vec(), p.paper, edge));
    let (Some(file), Some((w, h))) = (&desk.job().picture, desk.stages.picture_px()) else {
        return;
    };
    if desk.stages.picture_error().is_none() {
        let words = format!("Opening {}, {w} × {h} pixels", file.name);
        let seen = Rect::from_points(&laid.corners()).intersect(painter.clip_rect());
        let middle = seen.center();
        painter.text(middle, Align2::CENTER_CENTER, words, strong(16.0), p.quiet);
    }
}

/// The artwork's own picture, laid where its film lies.
fn picture(desk: &mut Desk, laid: Option<Laid>, place: Option<Rect>, alpha: u8, painter: &Painter) {
    let (Some(place), Some(laid)) = (place, laid) else { return };
    let Some((texture, uv)) =
        desk.source_texture(painter.ctx(), desk.canvas.cropping && alpha < 255)
    else {
        return;
    };
    let tint = Color32::from_white_alpha(alpha);
    laid::image(painter, texture, (place, uv), tint, (laid.middle(), laid.turn));
}

fn sheets(desk: &Desk, scene: &Scene, painter: &Painter, p: &Palette) {
    // The artwork is looked at without them.
    if desk.canvas.cropping || matches!(desk.step, Step::Artwork | Step::Screen) {
        return;
    }
    let front = scene.shows_sheets;
    let strength = if front { 1.0 } else { 0.45 };
    if front && !desk.canvas.slips.shown {
        // Film over film is a little darker, and so are overlaps here.
        for overlap in &scene.overlaps {
            painter.rect_filled(*overlap, 0, p.accent.gamma_multiply(0.16));
            hatch(painter, *overlap, Stroke::new(1.0, p.sheet.gamma_multiply(0.55)));
        }
    }
    for sheet in &scene.sheets {
        let chosen = desk.canvas.sheet == Some(sheet.index) && front;
        let width = if chosen { 3.0 } else { 1.5 };
        if chosen {
            painter.rect_filled(sheet.rect, 0, p.accent.gamma_multiply(0.10));
        }
        // Two lines in one, so that it is seen on cloth, on ink and on the table.
        painter.rect_stroke(
            sheet.rect,
            2,
            Stroke::new(width + 2.0, p.sheet_halo.gamma_multiply(strength)),
            StrokeKind::Middle,
        );
        painter.rect_stroke(
            sheet.rect,
            2,
            Stroke::new(width, p.sheet.gamma_multiply(strength)),
            StrokeKind::Middle,
        );
    }
    for mark in &scene.frame_marks {
        crosshair(painter, mark.center(), mark.width().max(12.0) / 2.0, Stroke::new(1.5, p.accent));
    }
    if front {
        super::seams::paint(desk, scene, painter, p);
    }
    for sheet in &scene.sheets {
        name(painter, sheet, desk.canvas.sheet == Some(sheet.index) && front, p);
    }
}

/// A sheet's name on a label in its corner, with a pin where it is pinned.
fn name(painter: &Painter, sheet: &SheetSeen, chosen: bool, p: &Palette) {
    if sheet.rect.width() < 34.0 {
        return;
    }
    let at = sheet.rect.center();
    let galley = painter.layout_no_wrap(
        sheet.name.clone(),
        strong(16.0),
        if chosen { p.on_accent } else { p.text },
    );
    let pin = if sheet.pinned { 18.0 } else { 0.0 };
    let label = Rect::from_center_size(at, galley.size() + vec2(18.0 + pin, 8.0));
    let (back, edge) = if chosen { (p.accent, p.accent) } else { (p.paper, p.edge) };
    painter.rect(label, 2, back, Stroke::new(1.0, edge), StrokeKind::Outside);
    let color = if chosen { p.on_accent } else { p.text };
    painter.galley(label.left_top() + vec2(9.0, 4.0), galley, color);
    if sheet.pinned {
        let head = label.right_center() - vec2(14.0, 4.0);
        painter.circle_filled(head, 4.0, color);
        painter.line_segment([head, head + vec2(0.0, 12.0)], Stroke::new(1.5, color));
    }
}

/// A few words on a label.
pub(super) fn tag(painter: &Painter, at: Pos2, align: Align2, text: &str, p: &Palette) {
    let galley = painter.layout_no_wrap(text.to_owned(), FontId::proportional(13.0), p.text);
    let label = align.anchor_size(at, galley.size() + vec2(12.0, 6.0));
    painter.rect(label, 2, p.paper, Stroke::new(1.0, p.edge), StrokeKind::Outside);
    painter.galley(label.min + vec2(6.0, 3.0), galley, p.text);
}

/// What can be dragged: a registration mark on a disc.
pub(crate) fn handle(painter: &Painter, at: Pos2, p: &Palette) {
    painter.circle(at, 8.5, p.paper, Stroke::new(2.0, p.accent));
    let line = Stroke::new(1.5, p.accent);
    painter.line_segment([at - vec2(5.0, 0.0), at + vec2(5.0, 0.0)], line);
    painter.line_segment([at - vec2(0.0, 5.0), at + vec2(0.0, 5.0)], line);
}

/// The printers' crossed circle.
pub(crate) fn crosshair(painter: &Painter, at: Pos2, radius: f32, line: Stroke) {
    painter.circle_stroke(at, radius * 0.62, line);
    painter.line_segment([at - Vec2::X * radius, at + Vec2::X * radius], line);
    painter.line_segment([at - Vec2::Y * radius, at + Vec2::Y * radius], line);
}

/// The artwork's edge, to be seen on light and on dark.
fn double_edge(painter: &Painter, laid: &Laid, p: &Palette) {
    for stroke in [Stroke::new(3.5, p.paper.gamma_multiply(0.8)), Stroke::new(1.5, p.accent)] {
        painter.add(Shape::closed_line(laid.corners().to_vec(), stroke));
    }
}

/// Slanting lines, so that overlaps are seen without colour.
pub(crate) fn hatch(painter: &Painter, rect: Rect, line: Stroke) {
    let seen = rect.intersect(painter.clip_rect());
    if !seen.is_positive() {
        return;
    }
    const APART: f32 = 9.0;
    let mut mesh = Mesh::default();
    let sum = |p: Pos2| p.x + p.y;
    let mut s = (sum(seen.min) / APART).ceil() * APART;
    while s < sum(seen.max) {
        // The line x + y = s inside the rectangle.
        let a = pos2((s - seen.min.y).min(seen.max.x), s - (s - seen.min.y).min(seen.max.x));
        let b = pos2((s - seen.max.y).max(seen.min.x), s - (s - seen.max.y).max(seen.min.x));
        let across = vec2(line.width, line.width) * 0.35;
        let first = mesh.vertices.len() as u32;
        for v in [a - across, a + across, b + across, b - across] {
            mesh.colored_vertex(v, line.color);
        }
        mesh.add_triangle(first, first + 1, first + 2);
        mesh.add_triangle(first, first + 2, first + 3);
        s += APART;
    }
    painter.add(Shape::mesh(mesh));
}
