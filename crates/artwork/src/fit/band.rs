//! The pixels near edges, the only ones that a fit works on.

use crate::plane::Plane;
use rayon::prelude::*;

/// Pixels near edges as runs of columns, row by row.
pub(crate) struct Band {
    pub(crate) rows: Vec<Vec<(usize, usize)>>,
}

impl Band {
    /// The pixels within `reach` pixels, diagonals included, of one that an edge may touch:
    /// one that is neither full nor empty, or whose neighbour lies on the other side of 1/2.
    pub(crate) fn about(cover: &Plane, reach: usize) -> Self {
        let (width, height) = (cover.width, cover.height);
        let touched: Vec<Vec<(usize, usize)>> = (0..height)
            .into_par_iter()
            .map(|y| {
                let row = cover.row(y);
                let below = cover.row((y + 1).min(height - 1));
                let above = cover.row(y.saturating_sub(1));
                let mut runs: Vec<(usize, usize)> = Vec::new();
                for x in 0..width {
                    let side = row[x] > 0.5;
                    let turns = (below[x] > 0.5) != side
                        || (above[x] > 0.5) != side
                        || (row[(x + 1).min(width - 1)] > 0.5) != side
                        || (row[x.saturating_sub(1)] > 0.5) != side;
                    if turns || (row[x] > 0.25 && row[x] < 0.75) {
                        join(&mut runs, x.saturating_sub(reach), (x + reach + 1).min(width));
                    }
                }
                runs
            })
            .collect();
        let rows = (0..height)
            .into_par_iter()
            .map(|y| {
                let near = y.saturating_sub(reach)..(y + reach + 1).min(height);
                let mut all: Vec<(usize, usize)> =
                    touched[near].iter().flatten().copied().collect();
                all.sort_unstable();
                let mut runs = Vec::with_capacity(all.len());
                for (from, to) in all {
                    join(&mut runs, from, to);
                }
                runs
            })
            .collect();
        Self { rows }
    }

    /// The band on a grid twice as fine.
    pub(crate) fn twice(&self) -> Self {
        let rows = (0..2 * self.rows.len())
            .map(|y| self.rows[y / 2].iter().map(|(from, to)| (2 * from, 2 * to)).collect())
            .collect();
        Self { rows }
    }

    /// Works out numbers for the band's pixels: `work` is given a row, one of its runs and
    /// room for the run's numbers.
    pub(crate) fn work_out(
        &self,
        work: impl Fn(usize, (usize, usize), &mut [f32]) + Sync,
    ) -> Numbers {
        let row = |(y, runs): (usize, &Vec<(usize, usize)>)| {
            let mut out = vec![0.0; runs.iter().map(|r| r.1 - r.0).sum()];
            let mut rest = out.as_mut_slice();
            for run in runs {
                let (here, next) = rest.split_at_mut(run.1 - run.0);
                work(y, *run, here);
                rest = next;
            }
            out
        };
        self.rows.par_iter().enumerate().map(row).collect()
    }

    /// The numbers of a plane in the band.
    pub(crate) fn take(&self, plane: &Plane) -> Numbers {
        self.work_out(|y, (from, to), out| out.copy_from_slice(&plane.row(y)[from..to]))
    }

    /// Replaces each number of `plane` in the band by what `change` makes of it and the
    /// number that goes with it.
    pub(crate) fn change(
        &self,
        plane: &mut Plane,
        by: &Numbers,
        change: impl Fn(f32, f32) -> f32 + Sync,
    ) {
        let width = plane.width;
        plane.data.par_chunks_mut(width).zip(&self.rows).zip(by).for_each(|((row, runs), by)| {
            let inside = runs.iter().flat_map(|&(from, to)| from..to);
            inside.zip(by).for_each(|(x, by)| row[x] = change(row[x], *by));
        });
    }

    /// The plane with the band's numbers in place of its own.
    pub(crate) fn laid_on(&self, plane: &Plane, numbers: &Numbers) -> Plane {
        let mut out = plane.clone();
        self.change(&mut out, numbers, |_, number| number);
        out
    }
}

/// Numbers for a band's pixels, row by row.
pub(crate) type Numbers = Vec<Vec<f32>>;

/// Adds a run that starts no earlier than those before it.
fn join(runs: &mut Vec<(usize, usize)>, from: usize, to: usize) {
    match runs.last_mut() {
        Some(last) if last.1 >= from => last.1 = last.1.max(to),
        _ => runs.push((from, to)),
    }
}
