//! The planned film and its sheets in millimetres from the film's middle.

use crate::Film;
use crate::camera::Xy;

/// The planned film in millimetres.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    /// Width and height.
    pub(crate) size: Xy,
    /// The side of a film pixel.
    pub(crate) pixel: f64,
    /// Each sheet's window.
    pub(crate) quads: Vec<Quad>,
}

/// A sheet's window: four corners, the inside on the right of each side.
#[derive(Clone, Debug)]
pub(crate) struct Quad {
    pub(crate) corners: [Xy; 4],
    pub(crate) middle: Xy,
}

impl Layout {
    pub(crate) fn new(film: &Film) -> Self {
        let pixel = film.resolution.pixel().to_mm();
        let size =
            [f64::from(film.raster.width()) * pixel, f64::from(film.raster.height()) * pixel];
        let quads = film.sheets.iter().map(|s| {
            Quad::new(
                s.corners.map(|c| [c[0] * pixel - size[0] / 2.0, c[1] * pixel - size[1] / 2.0]),
            )
        });
        Self { size, pixel, quads: quads.collect() }
    }

    /// The film's corners, from the top left clockwise.
    pub(crate) fn corners(&self) -> [Xy; 4] {
        let [x, y] = [self.size[0] / 2.0, self.size[1] / 2.0];
        [[-x, -y], [x, -y], [x, y], [-x, y]]
    }

    /// The sheet that alone covers a place, every window's border at least `margin` away.
    pub(crate) fn only_sheet(&self, at: Xy, margin: f64) -> Option<usize> {
        let mut found = None;
        for (i, quad) in self.quads.iter().enumerate() {
            let depth = quad.depth(at);
            if depth < -margin {
                continue;
            }
            if depth < margin || found.is_some() {
                return None;
            }
            found = Some(i);
        }
        found
    }
}

impl Quad {
    fn new(mut corners: [Xy; 4]) -> Self {
        let area: f64 = (0..4)
            .map(|i| {
                let (a, b) = (corners[i], corners[(i + 1) % 4]);
                a[0] * b[1] - a[1] * b[0]
            })
            .sum();
        if area < 0.0 {
            corners.reverse();
        }
        let middle = std::array::from_fn(|k| corners.iter().map(|c| c[k]).sum::<f64>() / 4.0);
        Self { corners, middle }
    }

    /// How far inside the window a place is, in mm; negative outside.
    pub(crate) fn depth(&self, at: Xy) -> f64 {
        (0..4)
            .map(|i| {
                let (a, b) = (self.corners[i], self.corners[(i + 1) % 4]);
                let side = [b[0] - a[0], b[1] - a[1]];
                let cross = side[0] * (at[1] - a[1]) - side[1] * (at[0] - a[0]);
                cross / side[0].hypot(side[1]).max(1e-9)
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// The left, top, right and bottom of the window's upright frame.
    pub(crate) fn frame(&self) -> [f64; 4] {
        let side = |k: usize, pick: fn(f64, f64) -> f64, start: f64| {
            self.corners.iter().map(|c| c[k]).fold(start, pick)
        };
        [
            side(0, f64::min, f64::INFINITY),
            side(1, f64::min, f64::INFINITY),
            side(0, f64::max, f64::NEG_INFINITY),
            side(1, f64::max, f64::NEG_INFINITY),
        ]
    }

    /// The ends of the stretch that two windows share, along its length.
    pub(crate) fn seam(&self, other: &Self) -> Option<[Xy; 2]> {
        let shared = clip(&self.corners, other);
        if shared.len() < 3 {
            return None;
        }
        let n = shared.len() as f64;
        let middle: Xy = std::array::from_fn(|k| shared.iter().map(|p| p[k]).sum::<f64>() / n);
        // The longest direction is that of the two corners farthest apart, but along a side.
        let mut axis = [1.0, 0.0];
        let mut longest = 0.0;
        for i in 0..shared.len() {
            let (a, b) = (shared[i], shared[(i + 1) % shared.len()]);
            let length = (b[0] - a[0]).hypot(b[1] - a[1]);
            if length > longest {
                longest = length;
                axis = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
            }
        }
        let along = |p: &Xy| (p[0] - middle[0]) * axis[0] + (p[1] - middle[1]) * axis[1];
        let (from, to) = shared
            .iter()
            .map(along)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |m, t| (m.0.min(t), m.1.max(t)));
        Some([from, to].map(|t| [middle[0] + axis[0] * t, middle[1] + axis[1] * t]))
    }
}

/// The part of a polygon inside a quad (Sutherland & Hodgman 1974).
fn clip(polygon: &[Xy], quad: &Quad) -> Vec<Xy> {
    let mut out = polygon.to_vec();
    for i in 0..4 {
        let (a, b) = (quad.corners[i], quad.corners[(i + 1) % 4]);
        let inside = |p: &Xy| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
        let mut kept = Vec::new();
        for k in 0..out.len() {
            let (p, q) = (out[k], out[(k + 1) % out.len()]);
            let (dp, dq) = (inside(&p), inside(&q));
            if dp >= 0.0 {
                kept.push(p);
            }
            if (dp >= 0.0) != (dq >= 0.0) {
                let t = dp / (dp - dq);
                kept.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
            }
        }
        out = kept;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quad(x: f64, y: f64, w: f64, h: f64) -> Quad {
        Quad::new([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
    }

    #[test]
    fn a_seam_runs_along_the_overlap() {
        let seam = quad(0., 0., 110., 200.).seam(&quad(100., 20., 110., 200.)).unwrap();
        let mut seam = seam.map(|p| [p[0].round(), p[1].round()]);
        seam.sort_by(|a, b| a[1].total_cmp(&b[1]));
        assert_eq!(seam, [[105., 20.], [105., 200.]]);
        assert!(quad(0., 0., 50., 50.).seam(&quad(60., 0., 50., 50.)).is_none());
    }

    #[test]
    fn depth_is_the_distance_to_the_nearest_side() {
        let q = quad(0.0, 0.0, 100.0, 50.0);
        assert_eq!(q.depth([10.0, 25.0]), 10.0);
        assert_eq!(q.depth([50.0, -3.0]), -3.0);
    }
}
