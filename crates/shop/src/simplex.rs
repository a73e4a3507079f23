/// Solves `max c·x, A x <= b, x >= 0` for `b >= 0` by the simplex method with
/// Bland's rule, which cannot cycle. Returns `x` and the multiplier of each row.
/// None if the problem has no bound.
///
/// Source: Bland 1977, "New finite pivoting rules for the simplex method".
pub(crate) fn maximise(c: &[f64], a: &[Vec<f64>], b: &[f64]) -> Option<(Vec<f64>, Vec<f64>)> {
    let (n, m) = (c.len(), a.len());
    let width = n + m + 1;
    // One row a constraint with its slack, then the objective's row.
    let mut t = vec![vec![0.0; width]; m + 1];
    for (i, (row, &right)) in a.iter().zip(b).enumerate() {
        t[i][..n].copy_from_slice(row);
        t[i][n + i] = 1.0;
        t[i][width - 1] = right;
    }
    for (cell, &v) in t[m].iter_mut().zip(c) {
        *cell = -v;
    }
    let mut basis: Vec<usize> = (n..n + m).collect();
    while let Some(enter) = (0..n + m).find(|&j| t[m][j] < -1e-9) {
        let leave = (0..m).filter(|&i| t[i][enter] > 1e-9).min_by(|&i, &j| {
            let (p, q) = (t[i][width - 1] / t[i][enter], t[j][width - 1] / t[j][enter]);
            p.total_cmp(&q).then(basis[i].cmp(&basis[j]))
        })?;
        pivot(&mut t, leave, enter);
        basis[leave] = enter;
    }
    let mut x = vec![0.0; n];
    for (row, &j) in basis.iter().enumerate() {
        if j < n {
            x[j] = t[row][width - 1];
        }
    }
    Some((x, t[m][n..n + m].to_vec()))
}

fn pivot(t: &mut [Vec<f64>], row: usize, column: usize) {
    let by = t[row][column];
    for v in &mut t[row] {
        *v /= by;
    }
    let pivot_row = t[row].clone();
    for (i, other) in t.iter_mut().enumerate() {
        let by = other[column];
        if i != row && by != 0.0 {
            for (v, p) in other.iter_mut().zip(&pivot_row) {
                *v -= by * p;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_textbook_problem() {
        // max 3x + 5y; x <= 4, 2y <= 12, 3x + 2y <= 18. Solution 36 at (2, 6), multipliers
        // 0, 3/2, 1: the worked example of Hillier & Lieberman (from memory); scipy 1.17
        // linprog gives the same.
        let a = [vec![1.0, 0.0], vec![0.0, 2.0], vec![3.0, 2.0]];
        let (x, y) = maximise(&[3.0, 5.0], &a, &[4.0, 12.0, 18.0]).unwrap();
        assert!((x[0] - 2.0).abs() < 1e-12 && (x[1] - 6.0).abs() < 1e-12);
        assert!(y[0].abs() < 1e-12 && (y[1] - 1.5).abs() < 1e-12 && (y[2] - 1.0).abs() < 1e-12);
        assert!(maximise(&[1.0], &[vec![-1.0]], &[1.0]).is_none());
    }
}
