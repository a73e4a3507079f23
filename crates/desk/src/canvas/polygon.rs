//! A closed outline cut into level slabs, each of which is made of upright-sided pieces:
//! the graphics card fills only simple shapes.

use eframe::egui::epaint::{Mesh, Vertex, WHITE_UV};
use eframe::egui::{Color32, Pos2, Rect, pos2};

/// What of the canvas to fill.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Inside,
    Outside,
}

/// The inside of an outline, or what of `canvas` lies outside it. Either may reach past the
/// canvas's left and right, where the painter clips it.
pub(crate) fn fill(outline: &[Pos2], side: Side, canvas: Rect, color: Color32) -> Mesh {
    let mut mesh = Mesh::default();
    let mut levels: Vec<f32> =
        outline.iter().map(|p| p.y.clamp(canvas.top(), canvas.bottom())).collect();
    levels.extend([canvas.top(), canvas.bottom()]);
    levels.sort_by(f32::total_cmp);
    levels.dedup();
    for pair in levels.windows(2) {
        let (top, bottom) = (pair[0], pair[1]);
        let mut sides = crossings(outline, top, bottom);
        if side == Side::Outside {
            sides.insert(0, (canvas.left(), canvas.left()));
            sides.push((canvas.right(), canvas.right()));
        }
        for s in sides.chunks_exact(2) {
            quad(
                &mut mesh,
                [(s[0].0, top), (s[1].0, top), (s[1].1, bottom), (s[0].1, bottom)],
                color,
            );
        }
    }
    mesh
}

/// Where the outline's sides cross a slab that holds none of its corners: at its top and bottom.
fn crossings(outline: &[Pos2], top: f32, bottom: f32) -> Vec<(f32, f32)> {
    let middle = f32::midpoint(top, bottom);
    let mut out: Vec<(f32, f32)> = Vec::new();
    for (i, a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        if (a.y <= middle) != (b.y <= middle) {
            let at = |y: f32| a.x + (b.x - a.x) * ((y - a.y) / (b.y - a.y));
            out.push((at(top), at(bottom)));
        }
    }
    out.sort_by(|a, b| (a.0 + a.1).total_cmp(&(b.0 + b.1)));
    out
}

fn quad(mesh: &mut Mesh, corners: [(f32, f32); 4], color: Color32) {
    let first = mesh.vertices.len() as u32;
    mesh.vertices.extend(corners.map(|(x, y)| Vertex { pos: pos2(x, y), uv: WHITE_UV, color }));
    mesh.indices.extend([first, first + 1, first + 2, first, first + 2, first + 3]);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(mesh: &Mesh) -> f32 {
        mesh.indices
            .chunks(3)
            .map(|t| {
                let p = |i: usize| mesh.vertices[t[i] as usize].pos;
                let (a, b) = (p(1) - p(0), p(2) - p(0));
                (a.x * b.y - a.y * b.x).abs() / 2.0
            })
            .sum()
    }

    #[test]
    fn inside_and_outside_make_up_the_canvas() {
        // A notched shape whose area is known by the shoelace formula.
        let notched =
            [(10., 10.), (50., 40.), (90., 10.), (90., 80.), (10., 80.)].map(|(x, y)| pos2(x, y));
        let canvas = Rect::from_min_max(pos2(0., 0.), pos2(100., 100.));
        let inside = area(&fill(&notched, Side::Inside, canvas, Color32::WHITE));
        let outside = area(&fill(&notched, Side::Outside, canvas, Color32::WHITE));
        assert!((inside - 4400.0).abs() < 0.5, "{inside}");
        assert!((inside + outside - 10_000.0).abs() < 0.5, "{outside}");
    }

    #[test]
    fn a_slanting_side_is_as_steep_where_the_canvas_ends() {
        let wedge = [(-50., 0.), (50., 0.), (50., 100.)].map(|(x, y)| pos2(x, y));
        let canvas = Rect::from_min_max(pos2(0., 0.), pos2(100., 100.));
        let inside = fill(&wedge, Side::Inside, canvas, Color32::WHITE);
        // The whole wedge, half base times height, and not a steeper piece of it.
        assert!((area(&inside) - 5000.0).abs() < 0.5);
    }
}
