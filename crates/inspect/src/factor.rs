//! A matrix of normal equations, factored (Cholesky) within its envelope: before a row's first
//! number there are only noughts, and they stay (George & Liu 1981, chapter 4).

use nalgebra::{DMatrix, DVector};

/// A factored matrix whose diagonal was first scaled to ones.
pub(crate) struct Factor {
    /// Which number of the matrix each row is of.
    order: Vec<usize>,
    scale: Vec<f64>,
    /// The rows, each from its first number to its diagonal.
    rows: Vec<Vec<f64>>,
}

impl Factor {
    /// Factors a matrix of which the lower triangle is filled, its rows and columns taken in
    /// this order; nothing where it is not positive definite.
    pub(crate) fn new(matrix: &DMatrix<f64>, order: &[usize]) -> Option<Self> {
        let scale: Vec<f64> =
            order.iter().map(|i| 1.0 / matrix[(*i, *i)].max(1e-30).sqrt()).collect();
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(order.len());
        for (at, i) in order.iter().enumerate() {
            let value = |j: usize| matrix[((*i).max(order[j]), (*i).min(order[j]))];
            let first = (0..at).find(|j| value(*j) != 0.0).unwrap_or(at);
            let mut row: Vec<f64> = (first..=at).map(|j| value(j) * scale[at] * scale[j]).collect();
            row[at - first] += 1e-12;
            for j in first..at {
                let above = &rows[j];
                let start = first.max(j + 1 - above.len());
                let known =
                    dot(&row[start - first..j - first], &above[start + above.len() - j - 1..]);
                row[j - first] = (row[j - first] - known) / above[above.len() - 1];
            }
            let (diagonal, known) = row.split_last_mut()?;
            *diagonal = (*diagonal - dot(known, known)).sqrt();
            if diagonal.is_nan() || *diagonal <= 0.0 {
                return None;
            }
            rows.push(row);
        }
        Some(Self { order: order.to_vec(), scale, rows })
    }

    /// How many numbers there are.
    pub(crate) fn len(&self) -> usize {
        self.rows.len()
    }

    /// What the matrix takes to `right`.
    pub(crate) fn solve(&self, right: &DVector<f64>) -> DVector<f64> {
        let mut x: Vec<f64> =
            self.order.iter().zip(&self.scale).map(|(i, s)| right[*i] * s).collect();
        for (i, row) in self.rows.iter().enumerate() {
            let (before, rest) = x.split_at_mut(i);
            let known = dot(&row[..row.len() - 1], &before[i + 1 - row.len()..]);
            rest[0] = (rest[0] - known) / row[row.len() - 1];
        }
        for (i, row) in self.rows.iter().enumerate().rev() {
            let (before, rest) = x.split_at_mut(i);
            rest[0] /= row[row.len() - 1];
            for (v, w) in before[i + 1 - row.len()..].iter_mut().zip(row) {
                *v -= w * rest[0];
            }
        }
        let mut out = DVector::zeros(right.len());
        for ((i, s), v) in self.order.iter().zip(&self.scale).zip(x) {
            out[*i] = v * s;
        }
        out
    }
}

/// The sum of products of as many numbers as the shorter has.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let len = a.len().min(b.len());
    let (a, b) = (a[..len].chunks_exact(8), b[..len].chunks_exact(8));
    let rest: f64 = a.remainder().iter().zip(b.remainder()).map(|(a, b)| a * b).sum();
    let mut sums = [0.0; 8];
    for (a, b) in a.zip(b) {
        for k in 0..8 {
            sums[k] += a[k] * b[k];
        }
    }
    sums.iter().sum::<f64>() + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As nalgebra's own factorisation has it.
    #[test]
    fn it_solves_as_a_full_factorisation_does() {
        const N: usize = 40;
        let band = |i: usize, j: usize| i.abs_diff(j) < 5 || i.max(j) >= N - 3;
        let root = DMatrix::from_fn(N, N, |i, j| match i >= j && band(i, j) {
            true => ((i * 7 + j * 3) % 11) as f64 / 11.0 + if i == j { 3.0 } else { -0.4 },
            false => 0.0,
        });
        let matrix = &root * root.transpose();
        let right = DVector::from_fn(N, |i, _| (i as f64 * 0.7).sin());
        let full = matrix.clone().cholesky().unwrap().solve(&right);
        let straight: Vec<usize> = (0..N).collect();
        let mixed: Vec<usize> = (0..N).map(|i| i * 17 % N).collect();
        for order in [straight, mixed] {
            let factor = Factor::new(&matrix.lower_triangle(), &order).unwrap();
            assert_eq!(factor.len(), N);
            assert!((factor.solve(&right) - &full).norm() < 1e-9 * full.norm());
        }
        assert!(Factor::new(&-matrix, &[0, 1, 2]).is_none());
    }
}
