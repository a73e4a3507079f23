//! Smooth surfaces over the film: uniform bicubic B-splines.

use crate::camera::Xy;

/// The grid of a spline's coefficients.
#[derive(Clone, Debug)]
pub(crate) struct Mesh {
    origin: Xy,
    knot: f64,
    pub(crate) columns: usize,
    pub(crate) rows: usize,
}

/// The sixteen coefficients that matter at a place, and their weights.
pub(crate) type Patch = [(usize, f64); 16];

impl Mesh {
    /// A grid over a film of this size in mm, a knot every `knot` mm.
    pub(crate) fn new(width: f64, height: f64, knot: f64) -> Self {
        let spans = |length: f64| (length / knot).ceil().max(1.0);
        let (across, down) = (spans(width), spans(height));
        Self {
            origin: [-across * knot / 2.0, -down * knot / 2.0],
            knot,
            columns: across as usize + 3,
            rows: down as usize + 3,
        }
    }

    /// How many coefficients a spline has.
    pub(crate) const fn len(&self) -> usize {
        self.columns * self.rows
    }

    /// Which coefficient it is if they are counted along the shorter side first.
    pub(crate) const fn by_short_side(&self, at: usize) -> usize {
        if self.columns <= self.rows {
            at
        } else {
            at % self.columns * self.rows + at / self.columns
        }
    }

    /// The weights at a place; places off the grid count as its nearest border.
    pub(crate) fn patch(&self, at: Xy) -> Patch {
        let (i, wx) = weights((at[0] - self.origin[0]) / self.knot, self.columns - 3);
        let (j, wy) = weights((at[1] - self.origin[1]) / self.knot, self.rows - 3);
        std::array::from_fn(|k| {
            let (a, b) = (k % 4, k / 4);
            ((j + b) * self.columns + i + a, wx[a] * wy[b])
        })
    }

    /// The spline's bends: second differences along, across and mixed, each as the
    /// coefficients it takes. A smooth surface has small ones.
    pub(crate) fn bends(&self) -> Vec<Vec<(usize, f64)>> {
        let (columns, rows) = (self.columns, self.rows);
        let mut out = Vec::new();
        for j in 0..rows {
            for i in 0..columns {
                let at = j * columns + i;
                if i + 2 < columns {
                    out.push(vec![(at, 1.0), (at + 1, -2.0), (at + 2, 1.0)]);
                }
                if j + 2 < rows {
                    out.push(vec![(at, 1.0), (at + columns, -2.0), (at + 2 * columns, 1.0)]);
                }
                if i + 1 < columns && j + 1 < rows {
                    let w = std::f64::consts::SQRT_2;
                    out.push(vec![
                        (at, w),
                        (at + 1, -w),
                        (at + columns, -w),
                        (at + columns + 1, w),
                    ]);
                }
            }
        }
        out
    }
}

/// The span that holds `t` and the four B-spline weights there.
fn weights(t: f64, spans: usize) -> (usize, [f64; 4]) {
    let t = t.clamp(0.0, spans as f64);
    let i = (t as usize).min(spans - 1);
    let t = t - i as f64;
    let (t2, t3, u) = (t * t, t * t * t, 1.0 - t);
    let w = [u * u * u, 3.0 * t3 - 6.0 * t2 + 4.0, -3.0 * t3 + 3.0 * t2 + 3.0 * t + 1.0, t3];
    (i, w.map(|w| w / 6.0))
}

/// The spline's value from a patch.
pub(crate) fn value(patch: &Patch, coefficients: &[f64]) -> f64 {
    patch.iter().map(|(i, w)| coefficients[*i] * w).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_has_no_bends_and_is_kept() {
        let mesh = Mesh::new(1000.0, 700.0, 90.0);
        let plane = |i: usize, j: usize| 2.0 + 0.5 * i as f64 - 0.25 * j as f64;
        let c: Vec<f64> =
            (0..mesh.len()).map(|k| plane(k % mesh.columns, k / mesh.columns)).collect();
        for bend in mesh.bends() {
            assert!(bend.iter().map(|(i, w)| c[*i] * w).sum::<f64>().abs() < 1e-12);
        }
        let step = value(&mesh.patch([90.0, 0.0]), &c) - value(&mesh.patch([0.0, 0.0]), &c);
        assert!((step - 0.5).abs() < 1e-12, "{step}");
    }
}
