//! A smooth edge as numbers on a grid: positive is ink.

use crate::plane::Plane;
use rayon::prelude::*;
use std::ops::Range;

/// How a value between grid points follows from the 4 x 4 about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kernel {
    /// The cubic B-spline: the numbers are its coefficients, and it stays within their range.
    BSpline,
    /// Keys' cubic convolution with a = -1/2: the numbers are values, which it goes through.
    /// R. Keys 1981, doi:10.1109/TASSP.1981.1163711.
    Keys,
}

impl Kernel {
    /// The weights of four neighbours at `t` from the second to the third.
    pub(crate) fn weights(self, t: f64) -> [f64; 4] {
        let s = 1.0 - t;
        match self {
            Self::BSpline => {
                let inner = |u: f64| (4.0 - 3.0 * u * u * (2.0 - u)) / 6.0;
                [s * s * s / 6.0, inner(t), inner(s), t * t * t / 6.0]
            }
            Self::Keys => {
                let inner = |u: f64| 1.0 + u * u * (1.5 * u - 2.5);
                [-0.5 * t * s * s, inner(t), inner(s), -0.5 * s * t * t]
            }
        }
    }

    /// The Bernstein ordinates of the cubic between the second and third of four neighbours:
    /// it lies within their range.
    pub(crate) fn ordinates(self, [a, b, c, d]: [f64; 4]) -> [f64; 4] {
        match self {
            Self::BSpline => [
                (a + 4.0 * b + c) / 6.0,
                (2.0 * b + c) / 3.0,
                (b + 2.0 * c) / 3.0,
                (b + 4.0 * c + d) / 6.0,
            ],
            Self::Keys => [b, b + (c - a) / 6.0, c - (d - b) / 6.0, c],
        }
    }

    /// How fast a value between 4 x 4 numbers can change for such a step in cells, at most: a
    /// B-spline's slope lies within the range of its numbers' differences, that of Keys within
    /// three times that (the differences of the Bernstein ordinates, thrice), and either is
    /// weighed across by weights whose sizes sum to 1, or 1.25.
    pub(crate) fn steepest(self, rows: &[&[f32]; 4], (across, down): (f64, f64)) -> f64 {
        let most = |a: f32, b: f32| a.max(b);
        let along = rows.iter().flat_map(|row| row.windows(2).map(|w| (w[1] - w[0]).abs()));
        let beside = rows
            .windows(2)
            .flat_map(|pair| pair[0].iter().zip(pair[1]).map(|(a, b)| (b - a).abs()));
        let steep = match self {
            Self::BSpline => 1.0,
            Self::Keys => 3.0 * 1.25,
        };
        let (dx, dy) = (along.fold(0.0, most), beside.fold(0.0, most));
        steep * (f64::from(dx) * across.abs() + f64::from(dy) * down.abs())
    }

    /// How far past half their range about their middle 4 x 4 numbers can push a value: the
    /// sum of the weights' sizes, 1 for the B-spline and 1.25 each way for Keys (at t = 1/2).
    const fn reach(self) -> f32 {
        match self {
            Self::BSpline => 1.0,
            Self::Keys => 1.25 * 1.25,
        }
    }
}

/// Numbers this near nought are not trusted to say on which side of the edge a cell lies.
pub(crate) const MARGIN: f64 = 1e-6;

/// Numbers on a grid, two more on every side than the picture has.
pub(crate) struct Grid {
    /// Numbers across the picture, without the border.
    pub(crate) columns: usize,
    /// Numbers down the picture, without the border.
    pub(crate) rows: usize,
    pub(crate) kernel: Kernel,
    border: Border,
    stride: usize,
    numbers: Vec<f32>,
    /// Per row of cells, where its spans start among `spans`.
    starts: Vec<usize>,
    spans: Vec<Span>,
    /// Per row of cells, whether it starts as ink.
    first: Vec<bool>,
}

/// Neighbouring cells that an edge may cross, counted from the cell left of the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Span {
    /// The first such cell.
    pub(crate) from: u32,
    /// One past the last.
    pub(crate) to: u32,
    /// Whether the cells from there to the next span are ink.
    pub(crate) ink_after: bool,
}

/// What lies past a picture's edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Border {
    /// The number at the edge goes on.
    Repeat,
    /// Nought, so that a kernel that is cut off there and made to sum to one again, as
    /// common libraries do, has the same sign.
    Nought,
}

impl Grid {
    /// A grid of nothing, for the time before there is one.
    pub(crate) fn empty() -> Self {
        Self::new(&Plane::new(1, 1), Kernel::BSpline, Border::Repeat)
    }

    /// A grid of the plane's numbers. They must be finite.
    pub(crate) fn new(plane: &Plane, kernel: Kernel, border: Border) -> Self {
        let (columns, rows) = (plane.width, plane.height);
        let stride = columns + 4;
        let mut numbers = vec![0.0_f32; stride * (rows + 4)];
        numbers.par_chunks_mut(stride).enumerate().for_each(|(y, row)| {
            let inside = (2..rows + 2).contains(&y);
            if border == Border::Nought && !inside {
                return;
            }
            let from = plane.row(y.saturating_sub(2).min(rows - 1));
            row[2..2 + columns].copy_from_slice(from);
            if border == Border::Repeat {
                row[..2].fill(from[0]);
                row[2 + columns..].fill(from[columns - 1]);
            }
        });
        let mut grid = Self {
            columns,
            rows,
            kernel,
            border,
            stride,
            numbers,
            starts: vec![0],
            spans: vec![],
            first: vec![],
        };
        let found: Vec<(bool, Vec<Span>)> =
            (0..rows + 1).into_par_iter().map(|cell| grid.spans_of(cell)).collect();
        for (first, spans) in found {
            grid.first.push(first);
            grid.spans.extend(spans);
            grid.starts.push(grid.spans.len());
        }
        grid
    }

    /// A part of the grid with all its numbers made less. Near a side of it that is no side of
    /// the whole grid its values are not to be used.
    pub(crate) fn lowered(&self, by: f32, columns: Range<usize>, rows: Range<usize>) -> Self {
        let mut plane = Plane::new(columns.len(), rows.len());
        plane.data.par_chunks_mut(columns.len()).zip(rows.into_par_iter()).for_each(|(out, y)| {
            let row = &self.numbers[(y + 2) * self.stride + 2..][columns.clone()];
            out.iter_mut().zip(row).for_each(|(out, number)| *out = number - by);
        });
        Self::new(&plane, self.kernel, self.border)
    }

    /// The four rows of numbers about row of cells `cell`, counted from the one above the picture.
    pub(crate) fn four_rows(&self, cell: usize) -> [&[f32]; 4] {
        std::array::from_fn(|i| &self.numbers[(cell + i) * self.stride..][..self.stride])
    }

    /// Whether row of cells `cell` starts as ink, and the spans of it that edges may cross.
    pub(crate) fn edges_of(&self, cell: usize) -> (bool, &[Span]) {
        (self.first[cell], &self.spans[self.starts[cell]..self.starts[cell + 1]])
    }

    /// The spline's values at the grid points.
    pub(crate) fn values(&self) -> Plane {
        let mut plane = Plane::new(self.columns, self.rows);
        let [a, b, c, _] = self.kernel.weights(0.0).map(|w| w as f32);
        plane.data.par_chunks_mut(self.columns).enumerate().for_each(|(y, out)| {
            let [_, above, here, below] = self.four_rows(y);
            let mixed = |x: usize| a * above[x] + b * here[x] + c * below[x];
            for (x, value) in (2..).zip(out) {
                *value = a * mixed(x - 1) + b * mixed(x) + c * mixed(x + 1);
            }
        });
        plane
    }

    fn spans_of(&self, cell: usize) -> (bool, Vec<Span>) {
        let rows = self.four_rows(cell);
        let (low, high): (Vec<f32>, Vec<f32>) = (0..self.stride)
            .map(|x| {
                let column = rows.map(|row| row[x]);
                (
                    column.into_iter().fold(f32::MAX, f32::min),
                    column.into_iter().fold(f32::MIN, f32::max),
                )
            })
            .unzip();
        let reach = self.kernel.reach();
        let mut first = None;
        let mut spans: Vec<Span> = Vec::new();
        for (x, (low, high)) in low.windows(4).zip(high.windows(4)).enumerate() {
            let low = low.iter().copied().fold(f32::MAX, f32::min);
            let high = high.iter().copied().fold(f32::MIN, f32::max);
            let (middle, half) = ((low + high) / 2.0, reach * (high - low) / 2.0);
            let ink = middle > half + 4.0 * MARGIN as f32;
            let crossed = !ink && middle > -half - 4.0 * MARGIN as f32;
            let x = x as u32;
            match spans.last_mut() {
                _ if first.is_none() && crossed => {
                    first = Some(false);
                    spans.push(Span { from: x, to: x + 1, ink_after: false });
                }
                Some(last) if crossed && last.to == x => last.to = x + 1,
                _ if crossed => spans.push(Span { from: x, to: x + 1, ink_after: false }),
                Some(last) if last.to == x => last.ink_after = ink,
                _ => {}
            }
            first.get_or_insert(ink);
        }
        (first.unwrap_or(false), spans)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17: `BSpline.basis_element([-2, -1, 0, 1, 2])` of `scipy.interpolate` at
    /// 1.3, 0.3, -0.7 and -1.7.
    const BSPLINE: [f64; 4] =
        [0.057_166_666_666_666_65, 0.590_166_666_666_666_6, 0.348_166_666_666_666_7, 0.0045];

    #[test]
    fn weights_agree_with_scipy() {
        let weights = Kernel::BSpline.weights(0.3);
        for (got, want) in weights.iter().zip(BSPLINE) {
            assert!((got - want).abs() < 1e-12, "{got} {want}");
        }
    }

    /// The table of Catmull-Rom weights (B = 0, C = 1/2) in Mitchell and Netravali 1988,
    /// doi:10.1145/54852.378514: 0.5625 at 1/2 and -0.0625 at 3/2.
    #[test]
    fn keys_weights_are_those_published() {
        assert_eq!(Kernel::Keys.weights(0.5), [-0.0625, 0.5625, 0.5625, -0.0625]);
        assert_eq!(Kernel::Keys.weights(0.0), [0.0, 1.0, 0.0, 0.0]);
    }

    #[test]
    fn ordinates_and_weights_describe_the_same_cubic() {
        let four = [0.3, -1.2, 2.0, 0.7];
        for kernel in [Kernel::BSpline, Kernel::Keys] {
            for t in [0.0_f64, 0.1, 0.5, 0.77, 1.0] {
                let s = 1.0 - t;
                let by_weights: f64 = kernel.weights(t).iter().zip(four).map(|(w, v)| w * v).sum();
                let bernstein = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
                let by_ordinates: f64 =
                    kernel.ordinates(four).iter().zip(bernstein).map(|(o, b)| o * b).sum();
                assert!((by_weights - by_ordinates).abs() < 1e-12, "{kernel:?} {t}");
            }
        }
    }
}
