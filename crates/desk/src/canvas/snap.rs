//! Dragged things catch on lines that matter: the garment's middle, collar and edges.

use super::model::Caught;
use crate::desk::Desk;
use measure::{Length, Point, Rect};

/// How near a line catches, in screen points.
const NEAR: f32 = 7.0;

/// Moves a rectangle so that it lies on a line that is near. Also says which lines caught.
pub(crate) fn rect(
    desk: &Desk,
    r: Rect,
    uprights: &[Length],
    levels: &[Length],
) -> (Rect, Vec<Caught>) {
    if !desk.canvas.snapping {
        return (r, Vec::new());
    }
    let near = desk.canvas.eye().length(NEAR);
    let mut out = r;
    let mut caught = Vec::new();
    if let Some((by, line)) = nearest([r.left(), r.center().x, r.right()], uprights, near) {
        out.origin.x += by;
        caught.push(Caught::Upright(line));
    }
    if let Some((by, line)) = nearest([r.top(), r.center().y, r.bottom()], levels, near) {
        out.origin.y += by;
        caught.push(Caught::Level(line));
    }
    (out, caught)
}

/// How far to move so that one of `edges` lies on the nearest of `lines`, and which line that is.
fn nearest(edges: [Length; 3], lines: &[Length], near: Length) -> Option<(Length, Length)> {
    let pairs = edges.iter().flat_map(|e| lines.iter().map(move |l| (*l - *e, *l)));
    pairs
        .filter(|(by, _)| by.abs() <= near)
        .min_by(|a, b| a.0.abs().to_mm().total_cmp(&b.0.abs().to_mm()))
}

/// The garment's lines: its middle and its sides; its middle, collar and hem.
pub(crate) fn garment_lines(desk: &Desk) -> (Vec<Length>, Vec<Length>) {
    let outline = desk.garment_outline().unwrap_or_default();
    let (mut uprights, mut levels) = (vec![Length::ZERO], vec![Length::ZERO]);
    if let Some(garment) = &desk.job().garment
        && let Some((low, high)) = bounds(&outline)
    {
        uprights.extend([low.x, high.x]);
        levels.extend([low.y, high.y]);
        // The outline starts at the collar; its origin is the collar's lowest point.
        let own = bounds(&garment.outline());
        levels.extend(own.map(|(top, _)| low.y - top.y));
    }
    (uprights, levels)
}

/// Other sheets' edges, and the film's own.
pub(crate) fn sheet_lines(desk: &Desk, but: usize) -> (Vec<Length>, Vec<Length>) {
    let (mut uprights, mut levels) = (Vec::new(), Vec::new());
    let overlap = desk.job().overlap;
    if let Some(layout) = desk.stages.layout() {
        for (i, s) in layout.plan.sheets.iter().enumerate() {
            let r = s.placed.rect;
            if i != but {
                // Flush with a neighbour, or lying over it by just the overlap.
                uprights.extend([r.left(), r.right(), r.left() + overlap, r.right() - overlap]);
                levels.extend([r.top(), r.bottom(), r.top() + overlap, r.bottom() - overlap]);
            }
        }
    }
    if let Some(size) = desk.film_size() {
        uprights.extend([Length::ZERO, size.width]);
        levels.extend([Length::ZERO, size.height]);
    }
    (uprights, levels)
}

fn bounds(points: &[Point]) -> Option<(Point, Point)> {
    let first = *points.first()?;
    Some(points.iter().fold((first, first), |(a, b), p| {
        (Point::new(a.x.min(p.x), a.y.min(p.y)), Point::new(b.x.max(p.x), b.y.max(p.y)))
    }))
}
