use crate::FilmError;
use bitmap::Raster;
use progress::{Cancelled, Progress};
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicU64, Ordering};

/// Bands worked out ahead, for each thread: enough to keep all of them busy, few enough
/// to hold little.
const AHEAD: usize = 2;

/// Rows of a band whose rows are handed on one by one.
const BAND: u32 = 64;

/// Rows done, counted over all threads of a task.
pub(crate) struct Steps<'a> {
    progress: &'a Progress,
    what: &'static str,
    total: u64,
    done: AtomicU64,
}

impl<'a> Steps<'a> {
    pub(crate) fn new(progress: &'a Progress, what: &'static str, total: u64) -> Self {
        Self { progress, what, total, done: AtomicU64::new(0) }
    }

    /// Says that so many more rows are done.
    pub(crate) fn add(&self, rows: u32) -> Result<(), Cancelled> {
        let done = self.done.fetch_add(rows.into(), Ordering::Relaxed) + u64::from(rows);
        self.progress.step(self.what, done, self.total)
    }
}

/// Works bands of `rows` rows out over all threads and hands them on in order, from the
/// top, while the next ones are worked out; only a few are ever held. What comes out does
/// not depend on the number of threads.
pub(crate) fn in_bands<T: Send>(
    height: u32,
    rows: u32,
    steps: &Steps,
    work: impl Fn(Range<u32>) -> T + Sync,
    mut take: impl FnMut(T) -> Result<(), FilmError> + Send,
) -> Result<(), FilmError> {
    let group = rows.saturating_mul((rayon::current_num_threads() * AHEAD) as u32);
    let work_out = |from: u32| -> Vec<T> {
        let to = from.saturating_add(group).min(height);
        let starts: Vec<u32> = (from..to).step_by(rows as usize).collect();
        starts.into_par_iter().map(|y| work(y..(y + rows).min(to))).collect()
    };
    let mut from = 0;
    let mut ready = work_out(from);
    while from < height {
        let next = from.saturating_add(group).min(height);
        let (worked_out, taken) =
            rayon::join(|| work_out(next), || ready.into_iter().try_for_each(&mut take));
        taken?;
        steps.add(next - from)?;
        (ready, from) = (worked_out, next);
    }
    Ok(())
}

/// Hands on the changes of every row in order, worked out by this thread alone or, where
/// `spread`, by all.
pub(crate) fn each_row(
    raster: &dyn Raster,
    spread: bool,
    steps: &Steps,
    mut take: impl FnMut(u32, &[u32]) + Send,
) -> Result<(), FilmError> {
    let (width, height) = (raster.width(), raster.height());
    let mut y = 0;
    if !spread {
        let mut changes = Vec::new();
        while y < height {
            changes.clear();
            raster.changes(y, 0, width, &mut changes);
            take(y, &changes);
            y += 1;
            if y % BAND == 0 || y == height {
                steps.add((y - 1) % BAND + 1)?;
            }
        }
        return Ok(());
    }
    let work = |rows: Range<u32>| {
        let (mut changes, mut ends) = (Vec::new(), Vec::with_capacity(rows.len()));
        for y in rows {
            raster.changes(y, 0, width, &mut changes);
            ends.push(changes.len());
        }
        (changes, ends)
    };
    in_bands(height, BAND, steps, work, |(changes, ends)| {
        let mut start = 0;
        for end in ends {
            take(y, &changes[start..end]);
            (start, y) = (end, y + 1);
        }
        Ok(())
    })
}
