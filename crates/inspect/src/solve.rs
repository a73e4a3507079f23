//! The joint least squares: the camera, every sheet and the unevenness at once.

use crate::camera::Xy;
use crate::edges::Edge;
use crate::factor::{Envelope, Factor, Matrix};
use crate::marks::Tie;
use crate::model::{ARM, Freedom, Model, SHEET, sheet_row};
use nalgebra::{DMatrix, DVector, Matrix2, Vector2};
use rayon::prelude::*;

/// How bent the unevenness may be: the standard deviations, in mm, of the splines' second
/// differences, for the lift and for the free shift.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bend {
    pub(crate) lift: f64,
    pub(crate) shift: f64,
}

impl Default for Bend {
    fn default() -> Self {
        Self { lift: 0.5, shift: 0.03 }
    }
}

/// What a solve found, beside the model's new numbers.
pub(crate) struct Solved {
    /// The bends that explain the unevenness best (MacKay 1992).
    pub(crate) bend: Bend,
    /// Edges within 5 standard deviations.
    pub(crate) used: usize,
    /// The covariance of the sheets' numbers, in mm^2, where asked for.
    pub(crate) covariance: Option<DMatrix<f64>>,
}

/// What to solve.
pub(crate) struct Task<'a> {
    pub(crate) freedom: Freedom,
    pub(crate) bend: Bend,
    /// What registration marks tell of the sheets.
    pub(crate) ties: &'a [Tie],
    pub(crate) covariance: bool,
}

/// Neighbouring edges err alike, so each counts as so much of one that stands alone.
const ALIKE: f64 = 0.1;

/// An edge tells of a way that its normal has this share of, ...
const ACROSS: f64 = 0.25;
/// ... if as many of its sheet's edges do.
const FEW: f64 = 0.02;

/// How often edges are weighed anew in a solve; the next solve goes on.
const PASSES: usize = 2;

type Row = Vec<(u32, f64)>;

/// Moves the model to where it explains the edges best; nothing if they do not say enough.
pub(crate) fn solve(model: &mut Model, edges: &[Edge], task: &Task) -> Option<Solved> {
    let untold = untold(edges, model.sheets.len());
    let prior = Prior::new(model, edges, &untold, task);
    let rows: Vec<Option<Row>> = edges
        .par_iter()
        .map(|e| {
            let normals = [e.normal, without(e.normal, untold[e.sheet])];
            Some(prior.order.sorted(model.row(e.at, normals, e.sheet, task.freedom)?))
        })
        .collect();
    let kept: Vec<(Row, f64, f64)> = rows
        .into_iter()
        .zip(edges)
        .filter_map(|(row, e)| row.map(|row| (row, e.shift, e.sd)))
        .collect();
    if kept.len() < 30 {
        return None;
    }
    let typical = median(kept.iter().map(|k| k.2).collect()).max(1e-4);
    // An edge's own noise tells of blurred and of cluttered edges, but not to the letter.
    let trust: Vec<f64> =
        kept.iter().map(|k| typical / k.2.clamp(typical * 0.7, typical * 3.0)).collect();
    let envelope = prior.envelope(&kept);
    let mut step = DVector::zeros(envelope.len());
    let mut weights = Vec::new();
    let mut factor = None;
    for pass in 0..PASSES {
        let misses: Vec<f64> = kept
            .par_iter()
            .zip(&trust)
            .map(|((row, shift, _), trust)| {
                (shift - row.iter().map(|(i, v)| v * step[*i as usize]).sum::<f64>()) * trust
            })
            .collect();
        // How far edges lie from the model, robustly.
        let spread = (1.4826 * median(misses.iter().map(|m| m.abs()).collect())).max(1e-3);
        weights = misses
            .iter()
            .zip(&trust)
            .map(|(m, t)| {
                // Huber 1964, and none beyond 5 standard deviations once the first fit is done.
                let r = m.abs() / spread;
                let w = if pass > 0 && r > 5.0 {
                    0.0
                } else if r > 1.5 {
                    1.5 / r
                } else {
                    1.0
                };
                w * (t / spread).powi(2)
            })
            .collect();
        let (matrix, right) = prior.with_data(&envelope, &kept, &weights, 1.0);
        let solved = Factor::new(matrix)?;
        step = solved.solve(&right);
        factor = Some(solved);
    }
    let factor = factor?;
    let bend = match task.freedom {
        Freedom::Fields => prior.better_bend(model, &step, &factor),
        _ => task.bend,
    };
    let covariance = match task.covariance {
        true => {
            let (matrix, _) = prior.with_data(&envelope, &kept, &weights, ALIKE);
            Some(sheets(&Factor::new(matrix)?, &prior.order, model))
        }
        false => None,
    };
    model.step(&prior.order.back(&step));
    let used = weights.iter().filter(|w| **w > 0.0).count();
    Some(Solved { bend, used, covariance })
}

/// The way, for every sheet whose edges nearly all run along one, in which they do not tell how it
/// lies: what little they seem to is the film's unevenness.
fn untold(edges: &[Edge], sheets: usize) -> Vec<Option<Xy>> {
    let mut spreads = vec![Matrix2::zeros(); sheets];
    for e in edges {
        let normal = Vector2::from(e.normal);
        spreads[e.sheet] += normal * normal.transpose();
    }
    let least = |spread: Matrix2<f64>| {
        let eigen = spread.symmetric_eigen();
        eigen.eigenvectors.column(eigen.eigenvalues.imin()).into_owned()
    };
    let ways: Vec<Vector2<f64>> = spreads.into_iter().map(least).collect();
    let mut counts = vec![[0.0_f64; 2]; sheets];
    for e in edges {
        counts[e.sheet][0] += 1.0;
        let across = ways[e.sheet].dot(&Vector2::from(e.normal)).abs() > ACROSS;
        counts[e.sheet][1] += f64::from(u8::from(across));
    }
    let told = |[all, across]: [f64; 2]| across > FEW * all;
    ways.into_iter().zip(counts).map(|(way, n)| (!told(n)).then(|| way.into())).collect()
}

/// What of a direction is not along a way.
fn without(direction: Xy, way: Option<Xy>) -> Xy {
    let way = way.unwrap_or_default();
    let along = direction[0] * way[0] + direction[1] * way[1];
    [0, 1].map(|k| direction[k] - along * way[k])
}

/// The middle value.
pub(crate) fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// The order in which the equations have the model's numbers: the fields' side by side, so that
/// what touches lies near, and what touches all last.
struct Order(Vec<u32>);

impl Order {
    fn new(model: &Model, task: &Task) -> Self {
        let (all, fields) = (model.unknowns(task.freedom), model.first_field());
        let (mesh, rest) = (&model.mesh, fields.min(all));
        let mut places = vec![0; all];
        for (i, place) in places.iter_mut().enumerate() {
            *place = if i < fields {
                all - rest + i
            } else {
                let (field, at) = ((i - fields) / mesh.len(), (i - fields) % mesh.len());
                3 * mesh.by_short_side(at) + field
            } as u32;
        }
        Self(places)
    }

    fn place(&self, number: usize) -> usize {
        self.0[number] as usize
    }

    /// A sum of the model's numbers as one of the equations', rising.
    fn sorted(&self, mut row: Row) -> Row {
        row.iter_mut().for_each(|(i, _)| *i = self.0[*i as usize]);
        row.sort_unstable_by_key(|(place, _)| *place);
        row
    }

    /// The equations' numbers as the model's.
    fn back(&self, solved: &DVector<f64>) -> Vec<f64> {
        self.0.iter().map(|place| solved[*place as usize]).collect()
    }
}

/// What is known of the numbers besides the edges.
struct Prior {
    order: Order,
    /// What the numbers are now.
    values: Vec<f64>,
    terms: Vec<Term>,
    first_field: usize,
    field: usize,
    bends: Vec<Vec<(usize, f64)>>,
    bend: Bend,
}

/// A sum of numbers that should come to something.
struct Term {
    sum: Vec<(u32, f64)>,
    to: f64,
    precision: f64,
    /// Whether it was seen by itself, so that it counts in full where edges do in part.
    alone: bool,
}

impl Term {
    fn nought(sum: Vec<(u32, f64)>, precision: f64) -> Self {
        Self { sum, to: 0.0, precision, alone: false }
    }
}

impl Prior {
    fn new(model: &Model, edges: &[Edge], untold: &[Option<Xy>], task: &Task) -> Self {
        let precision = |sd: f64| 1.0 / (sd * sd);
        let mut terms: Vec<Term> = Vec::new();
        let mut alone =
            |i: usize, sd: f64| terms.push(Term::nought(vec![(i as u32, 1.0)], precision(sd)));
        // Distortion of ordinary lenses, and its centre within 1.2 % of the photo's width.
        alone(8, 0.1);
        alone(9, 0.05);
        alone(10, 0.024);
        alone(11, 0.024);
        alone(12, 0.3);
        if task.freedom >= Freedom::Sheets {
            for sheet in 0..model.sheets.len() {
                let first = Model::first_of(sheet);
                // A sheet whose scale is off is off by more than paper gives: once that is seen,
                // it is believed.
                let [x, y] = model.sheets[sheet].stretch.map(|s| s.abs().max(2e-4) * ARM);
                for (k, sd) in [5.0, 5.0, 5.0, x, y].into_iter().enumerate() {
                    alone(first + k, sd);
                }
            }
            // What all sheets do together is the camera's. Those of which edges do not tell are
            // not to make up for what the others do.
            let all = untold.iter().all(Option::is_some);
            let mut shares = vec![0.0; model.sheets.len()];
            edges.iter().for_each(|e| shares[e.sheet] += 1.0 / edges.len() as f64);
            let told = |s: &usize| all || untold[*s].is_none();
            let told: Vec<usize> = (0..shares.len()).filter(told).collect();
            for k in 0..SHEET {
                let sum = told.iter().map(|s| ((Model::first_of(*s) + k) as u32, shares[*s]));
                terms.push(Term::nought(sum.collect(), precision(1e-3)));
            }
            terms.extend(task.ties.iter().flat_map(|tie| tied(model, tie)));
        }
        let (first_field, field) = (model.first_field(), model.mesh.len());
        let mut bends = Vec::new();
        if task.freedom == Freedom::Fields {
            bends = model.mesh.bends();
            for (k, (tau, whole)) in
                [(task.bend.lift, 20.0), (task.bend.shift, 2.0), (task.bend.shift, 2.0)]
                    .into_iter()
                    .enumerate()
            {
                let at = first_field + k * field;
                for bend in &bends {
                    let moved = bend.iter().map(|(i, w)| ((at + i) as u32, *w)).collect();
                    terms.push(Term::nought(moved, precision(tau)));
                }
                // Flat parts of the fields are the camera's too.
                let flat = |i| Term::nought(vec![((at + i) as u32, 1.0)], precision(whole));
                terms.extend((0..field).map(flat));
            }
        }
        let order = Order::new(model, task);
        let values = model.values(task.freedom);
        let mut now = vec![0.0; values.len()];
        for (number, value) in values.iter().enumerate() {
            now[order.place(number)] = *value;
        }
        // The equations are of steps from what the numbers are now.
        let terms = terms.into_iter().map(|term| {
            let sum = order.sorted(term.sum);
            let to = term.to - sum.iter().map(|(i, w)| w * now[*i as usize]).sum::<f64>();
            Term { sum, to, ..term }
        });
        let terms = terms.collect();
        Self { values, order, terms, first_field, field, bends, bend: task.bend }
    }

    /// Where the equations of these edges have numbers.
    fn envelope(&self, kept: &[(Row, f64, f64)]) -> Envelope {
        let rows = kept.iter().map(|k| &k.0).chain(self.terms.iter().map(|t| &t.sum));
        Envelope::new(self.values.len(), rows.map(|row| row.iter().map(|r| r.0)))
    }

    /// The normal equations of the prior and the edges.
    fn with_data<'a>(
        &self,
        envelope: &'a Envelope,
        kept: &[(Row, f64, f64)],
        weights: &[f64],
        share: f64,
    ) -> (Matrix<'a>, DVector<f64>) {
        // A fixed number of parts, so that the sums do not depend on how many threads there are.
        const PARTS: usize = 4;
        let noughts = || (Matrix::noughts(envelope), DVector::zeros(envelope.len()));
        let chunk = kept.len().div_ceil(PARTS).max(1);
        let parts: Vec<(Matrix, DVector<f64>)> = kept
            .par_chunks(chunk)
            .zip(weights.par_chunks(chunk))
            .map(|(kept, weights)| {
                let (mut matrix, mut right) = noughts();
                for ((row, shift, _), weight) in kept.iter().zip(weights) {
                    let weight = weight * share;
                    if weight > 0.0 {
                        matrix.add(row, weight);
                        for (i, v) in row {
                            right[*i as usize] += v * weight * shift;
                        }
                    }
                }
                (matrix, right)
            })
            .collect();
        let parts = parts.into_iter();
        let all = parts.reduce(|all, part| (all.0.plus(&part.0), all.1 + part.1));
        let (mut matrix, mut right) = all.unwrap_or_else(noughts);
        for Term { sum, to, precision, alone } in &self.terms {
            let precision = precision * if *alone { share / ALIKE } else { 1.0 };
            for (i, w) in sum {
                right[*i as usize] += w * precision * to;
            }
            matrix.add(sum, precision);
        }
        (matrix, right)
    }

    /// The bends' standard deviations that make what was found likeliest.
    fn better_bend(&self, model: &Model, step: &DVector<f64>, factor: &Factor) -> Bend {
        let step = self.order.back(step);
        let after: Vec<f64> = self.values.iter().zip(step).map(|(v, s)| v + s).collect();
        let one = |fields: &[usize], tau: f64, floor: f64, ceiling: f64| {
            let mut energy = 0.0;
            for field in fields {
                let at = self.first_field + field * self.field;
                for bend in &self.bends {
                    energy += bend.iter().map(|(i, w)| after[at + i] * w).sum::<f64>().powi(2);
                }
            }
            // Of so many numbers, those that the edges decide.
            let all = (fields.len() * (model.mesh.len() - 3)) as f64;
            let decided = (all - self.trace(fields, factor) / (tau * tau)).max(1.0);
            (energy / decided).sqrt().clamp(floor, ceiling)
        };
        Bend {
            lift: one(&[0], self.bend.lift, 0.01, 5.0),
            shift: one(&[1, 2], self.bend.shift, 0.003, 0.3),
        }
    }

    /// The trace of the bends' covariance, from a few probes (Hutchinson 1989).
    fn trace(&self, fields: &[usize], factor: &Factor) -> f64 {
        const PROBES: u64 = 6;
        let sum: f64 = (0..PROBES)
            .into_par_iter()
            .map(|probe| {
                let mut vector = DVector::zeros(self.values.len());
                let mut state = probe.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
                for field in fields {
                    let at = self.first_field + field * self.field;
                    for bend in &self.bends {
                        state = state
                            .wrapping_mul(6_364_136_223_846_793_005)
                            .wrapping_add(1_442_695_040_888_963_407);
                        let sign = if state >> 63 == 1 { 1.0 } else { -1.0 };
                        for (i, w) in bend {
                            vector[self.order.place(at + i)] += w * sign;
                        }
                    }
                }
                vector.dot(&factor.solve(&vector))
            })
            .collect::<Vec<_>>()
            .iter()
            .sum();
        sum / PROBES as f64
    }
}

/// What a mark tells of its two sheets along the axes in which it errs most and least.
fn tied(model: &Model, tie: &Tie) -> [Term; 2] {
    let [a, b] = tie.sheets;
    let errs = tie.covariance.symmetric_eigen();
    [0, 1].map(|which| {
        let axis: [f64; 2] = std::array::from_fn(|k| errs.eigenvectors[(k, which)]);
        let precision = 1.0 / errs.eigenvalues[which].max(1e-6);
        let of = |sheet: usize, sign: f64| {
            let row = sheet_row(tie.at, model.middles[sheet], axis);
            let first = Model::first_of(sheet);
            row.into_iter().enumerate().map(move |(k, v)| ((first + k) as u32, sign * v))
        };
        let sum = of(a, 1.0).chain(of(b, -1.0)).collect();
        let to = axis[0] * tie.apart[0] + axis[1] * tie.apart[1];
        Term { sum, to, precision, alone: true }
    })
}

/// The covariance of the sheets' numbers.
fn sheets(factor: &Factor, order: &Order, model: &Model) -> DMatrix<f64> {
    // They stand side by side in the equations too.
    let (first, count) = (order.place(Model::first_of(0)), SHEET * model.sheets.len());
    let columns: Vec<DVector<f64>> = (0..count)
        .into_par_iter()
        .map(|k| {
            let mut unit = DVector::zeros(order.0.len());
            unit[first + k] = 1.0;
            factor.solve(&unit).rows(first, count).into_owned()
        })
        .collect();
    DMatrix::from_columns(&columns)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edges_along_one_way_do_not_tell_of_it() {
        let edge = |sheet: usize, degrees: f64| {
            let (y, x) = degrees.to_radians().sin_cos();
            Edge { at: [0.0; 2], normal: [x, y], sheet, shift: 0.0, sd: 0.02 }
        };
        // One sheet's normals are all within six degrees; the next one's are but for one in
        // twenty; the last has no edges.
        let mut edges: Vec<Edge> =
            (0..100).map(|k| edge(0, 30.0 + f64::from(k % 13) - 6.0)).collect();
        edges.extend((0..100).map(|k| edge(1, if k % 20 == 0 { 110.0 } else { 30.0 })));
        let ways = untold(&edges, 3);
        let way = ways[0].unwrap();
        let along = way[0] * 120_f64.to_radians().cos() + way[1] * 120_f64.to_radians().sin();
        assert!(along.abs() > 0.999, "{way:?}");
        assert_eq!(ways[1], None);
        let left = without([0.0, 1.0], Some([0.6, 0.8]));
        assert!((left[0] + 0.48).abs() < 1e-12 && (left[1] - 0.36).abs() < 1e-12);
        assert_eq!(without([0.6, 0.8], None), [0.6, 0.8]);
    }
}
