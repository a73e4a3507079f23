//! Seams on the canvas: where overlapping sheets are cut and joined. The chosen one shows its
//! nodes, which can be dragged; the smaller marks between them make a new node.

use super::drag::take;
use super::keys;
use super::layout::{Scene, SeamSeen};
use super::model::Held;
use crate::action::Action;
use crate::desk::Desk;
use crate::theme::Palette;
use eframe::egui::{CursorIcon, Painter, PointerButton, Pos2, Rect, Shape, Stroke, Ui, vec2};
use job::{Edit, HandSeam};
use measure::{Length, Point};

const GRIP: f32 = 24.0;

/// Nodes of the chosen seam, and a mark on each other one to choose it by.
pub(crate) fn hands(desk: &mut Desk, scene: &Scene, ui: &Ui) {
    if !scene.moves_sheets {
        return;
    }
    // The chosen one lies on top, so it comes last.
    let chosen = desk.canvas.seam;
    for seam in scene.seams.iter().filter(|s| chosen != Some(s.index)) {
        if let Some(at) = marked_at(&seam.seen).filter(|at| scene.canvas.contains(*at)) {
            let label = format!("Seam {} to {}", seam.between[0], seam.between[1]);
            let grip = Rect::from_center_size(at, vec2(GRIP, GRIP));
            let response =
                take(desk, ui, grip, ("seam", seam.index), &label, CursorIcon::PointingHand);
            if response.clicked() {
                desk.ask(Action::ChooseSeam(Some(seam.index)));
            }
        }
    }
    if let Some(seam) = scene.seams.iter().find(|s| chosen == Some(s.index)) {
        nodes(desk, scene, seam, ui);
    }
}

fn nodes(desk: &mut Desk, scene: &Scene, seam: &SeamSeen, ui: &Ui) {
    for (i, (at, kind)) in marks(seam).into_iter().enumerate() {
        let grip = Rect::from_center_size(at, vec2(GRIP, GRIP)).intersect(scene.canvas);
        let what = if kind.1 { "New bend" } else { "Bend" };
        let label =
            format!("{what} {} of the seam {} to {}", i + 1, seam.between[0], seam.between[1]);
        let response = take(desk, ui, grip, ("node", seam.index, i), &label, CursorIcon::Move);
        // A new node stands where its mark was.
        let (node, new) = kind;
        let points = if new { with_node(&seam.points, node) } else { seam.points.clone() };
        let by_hand =
            |points| HandSeam { between: seam.between.clone(), strip: seam.strip, points };
        if response.drag_started_by(PointerButton::Primary) {
            desk.canvas.held = Some(Held::Seam { seam: by_hand(points), node });
        } else if response.has_focus() {
            let by = keys::arrows(ui, response.id);
            if by != eframe::egui::Vec2::ZERO {
                let step = Length::mm(0.5);
                let by = Point::new(step * f64::from(by.x), step * f64::from(by.y));
                let edit = moved(desk, by_hand(points), node, by);
                desk.ask(Action::Drag(edit));
            }
        }
    }
}

/// Where the chosen seam can be taken: its bends, and between its points. Each with the place
/// in the list of points it has or would have, and whether it is new.
fn marks(seam: &SeamSeen) -> Vec<(Pos2, (usize, bool))> {
    let mut out = Vec::new();
    for (i, pair) in seam.seen.windows(2).enumerate() {
        out.push((pair[0].lerp(pair[1], 0.5), (i + 1, true)));
        if i + 2 < seam.seen.len() {
            out.push((pair[1], (i + 1, false)));
        }
    }
    out
}

/// A seam's points with a new one in the middle of the piece that ends at `node`.
pub(crate) fn with_node(points: &[Point], node: usize) -> Vec<Point> {
    let (a, b) = (points[node - 1], points[node]);
    let mut points = points.to_vec();
    points.insert(node, Point::new((a.x + b.x) / 2.0, (a.y + b.y) / 2.0));
    points
}

/// The edit that moves a node of a seam.
pub(crate) fn moved(desk: &Desk, mut seam: HandSeam, node: usize, by: Point) -> Edit {
    if let Some(p) = seam.points.get_mut(node) {
        *p = *p + by;
    }
    let other = |h: &&HandSeam| h.between != seam.between || h.strip != seam.strip;
    let mut all: Vec<HandSeam> = desk.job().hand_seams.iter().filter(other).cloned().collect();
    all.push(seam);
    Edit::HandSeams(all)
}

/// The seams as dashed cuts, the chosen one stronger and with its nodes.
pub(crate) fn paint(desk: &Desk, scene: &Scene, painter: &Painter, p: &Palette) {
    for seam in &scene.seams {
        let chosen = desk.canvas.seam == Some(seam.index);
        let width = if chosen { 2.5 } else { 1.5 };
        painter.add(Shape::line(seam.seen.clone(), Stroke::new(width + 2.5, p.paper)));
        painter.extend(Shape::dashed_line(&seam.seen, Stroke::new(width, p.wrong), 7.0, 4.0));
        if chosen {
            for (at, (_, new)) in marks(seam) {
                let (radius, edge) = if new { (4.0, 1.5) } else { (7.0, 2.0) };
                painter.circle(at, radius, p.paper, Stroke::new(edge, p.wrong));
            }
        } else if let Some(at) = marked_at(&seam.seen) {
            // A knife's mark: two short strokes across the cut.
            painter.circle(at, 5.0, p.paper, Stroke::new(1.5, p.wrong));
        }
    }
}

/// A place on a line to mark it at; none where it is too short to be marked.
fn marked_at(line: &[Pos2]) -> Option<Pos2> {
    let length: f32 = line.windows(2).map(|w| w[0].distance(w[1])).sum();
    if length < 40.0 {
        return None;
    }
    // Off the middle, where an overlap has its own handle.
    let mut left = length * 0.62;
    for w in line.windows(2) {
        let piece = w[0].distance(w[1]);
        if piece >= left {
            return Some(w[0].lerp(w[1], if piece > 0.0 { left / piece } else { 0.0 }));
        }
        left -= piece;
    }
    None
}
