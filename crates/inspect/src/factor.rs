//! Normal equations, gathered and factored (Cholesky) within their envelope: before a row's first
//! number there are only noughts, and they stay (George & Liu 1981, chapter 4).

use nalgebra::DVector;

/// Where the numbers of a symmetric matrix's lower triangle are kept.
pub(crate) struct Envelope {
    /// The first number of each row that is not nought.
    first: Vec<usize>,
    /// Where each row begins, and where the last one ends.
    start: Vec<usize>,
}

impl Envelope {
    /// That of so many numbers of which these depend on each other, each list rising.
    pub(crate) fn new<L: Iterator<Item = u32>>(
        numbers: usize,
        together: impl Iterator<Item = L>,
    ) -> Self {
        let mut first: Vec<usize> = (0..numbers).collect();
        for list in together {
            let mut list = list.map(|i| i as usize).peekable();
            let least = list.peek().copied().unwrap_or_default();
            list.for_each(|i| first[i] = first[i].min(least));
        }
        let ends = first.iter().enumerate().scan(0, |end, (i, first)| {
            *end += i + 1 - first;
            Some(*end)
        });
        let start = std::iter::once(0).chain(ends).collect();
        Self { first, start }
    }

    /// How many numbers there are.
    pub(crate) fn len(&self) -> usize {
        self.first.len()
    }
}

/// A symmetric matrix within an envelope.
#[derive(Clone)]
pub(crate) struct Matrix<'a> {
    envelope: &'a Envelope,
    data: Vec<f64>,
}

impl<'a> Matrix<'a> {
    pub(crate) fn noughts(envelope: &'a Envelope) -> Self {
        Self { envelope, data: vec![0.0; envelope.start[envelope.len()]] }
    }

    /// Adds `weight row row^T`. Rows rise, and the envelope is to know of them.
    pub(crate) fn add(&mut self, row: &[(u32, f64)], weight: f64) {
        for (k, (i, vi)) in row.iter().enumerate() {
            let i = *i as usize;
            let (first, vi) = (self.envelope.first[i], vi * weight);
            let within = &mut self.data[self.envelope.start[i]..self.envelope.start[i + 1]];
            for (j, vj) in &row[..=k] {
                within[*j as usize - first] += vi * vj;
            }
        }
    }

    pub(crate) fn plus(mut self, other: &Self) -> Self {
        self.data.iter_mut().zip(&other.data).for_each(|(a, b)| *a += b);
        self
    }
}

/// A factored matrix whose diagonal was first scaled to ones.
pub(crate) struct Factor<'a> {
    scale: Vec<f64>,
    matrix: Matrix<'a>,
}

impl<'a> Factor<'a> {
    /// Factors a matrix; nothing where it is not positive definite.
    pub(crate) fn new(mut matrix: Matrix<'a>) -> Option<Self> {
        let Envelope { first, start } = matrix.envelope;
        let scale: Vec<f64> =
            start[1..].iter().map(|end| 1.0 / matrix.data[end - 1].max(1e-30).sqrt()).collect();
        for (at, from) in first.iter().copied().enumerate() {
            let (above, row) = matrix.data.split_at_mut(start[at]);
            let row = &mut row[..=at - from];
            row.iter_mut().zip(&scale[from..]).for_each(|(v, s)| *v *= s * scale[at]);
            row[at - from] += 1e-12;
            for j in from..at {
                let above = &above[start[j]..start[j + 1]];
                let begin = from.max(first[j]);
                let known = dot(&row[begin - from..j - from], &above[begin - first[j]..]);
                row[j - from] = (row[j - from] - known) / above[above.len() - 1];
            }
            let (diagonal, known) = row.split_last_mut()?;
            *diagonal = (*diagonal - dot(known, known)).sqrt();
            if diagonal.is_nan() || *diagonal <= 0.0 {
                return None;
            }
        }
        Some(Self { scale, matrix })
    }

    /// What the matrix takes to `right`.
    pub(crate) fn solve(&self, right: &DVector<f64>) -> DVector<f64> {
        let Envelope { first, start } = self.matrix.envelope;
        let row = |i: usize| self.matrix.data[start[i]..start[i + 1]].split_last();
        let mut x = right.clone();
        x.iter_mut().zip(&self.scale).for_each(|(x, scale)| *x *= scale);
        for i in 0..first.len() {
            let Some((diagonal, row)) = row(i) else { continue };
            x[i] = (x[i] - dot(row, &x.as_slice()[first[i]..])) / diagonal;
        }
        for i in (0..first.len()).rev() {
            let Some((diagonal, row)) = row(i) else { continue };
            x[i] /= diagonal;
            let now = x[i];
            let before = &mut x.as_mut_slice()[first[i]..];
            before.iter_mut().zip(row).for_each(|(v, w)| *v -= w * now);
        }
        x.iter_mut().zip(&self.scale).for_each(|(x, scale)| *x *= scale);
        x
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
    use nalgebra::DMatrix;

    /// As nalgebra's own factorisation has it.
    #[test]
    fn it_solves_as_a_full_factorisation_does() {
        const N: usize = 40;
        // Neighbours depend on each other, and all on the last three.
        let rows: Vec<Vec<(u32, f64)>> = (0..N)
            .map(|i| {
                let all = (i..(i + 5).min(N - 3)).chain(N - 3..N);
                all.map(|j| (j as u32, ((i * 7 + j * 3) % 11) as f64 / 11.0 - 0.3)).collect()
            })
            .collect();
        let envelope = Envelope::new(N, rows.iter().map(|row| row.iter().map(|r| r.0)));
        let mut matrix = Matrix::noughts(&envelope);
        let mut full = DMatrix::zeros(N, N);
        let right = DVector::from_fn(N, |i, _| (i as f64 * 0.7).sin());
        for (row, weight) in rows.iter().chain(&rows).zip(1..) {
            matrix.add(row, f64::from(weight));
            for (i, vi) in row {
                for (j, vj) in row {
                    full[(*i as usize, *j as usize)] += f64::from(weight) * vi * vj;
                }
            }
        }
        for i in 0..N {
            matrix.add(&[(i as u32, 1.0)], 0.5);
            full[(i, i)] += 0.5;
        }
        let expected = full.cholesky().unwrap().solve(&right);
        let factor = Factor::new(matrix.clone()).unwrap();
        assert!((factor.solve(&right) - &expected).norm() < 1e-9 * expected.norm());
        matrix.add(&[(3, 1.0)], -1e6);
        assert!(Factor::new(matrix).is_none());
    }
}
