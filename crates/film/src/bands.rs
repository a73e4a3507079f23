use crate::FilmError;
use progress::Progress;
use rayon::prelude::*;
use std::ops::Range;

/// Bands worked out ahead, for each thread: enough to keep all of them busy, few enough
/// to hold little.
const AHEAD: usize = 2;

/// Works bands of `rows` rows out over all threads and hands them on in order, from the
/// top, while the next ones are worked out; only a few are ever held. What comes out does
/// not depend on the number of threads.
pub(crate) fn in_bands<T: Send>(
    height: u32,
    rows: u32,
    progress: &Progress,
    what: &'static str,
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
        from = from.saturating_add(group).min(height);
        let (next, taken) = rayon::join(
            || work_out(from),
            || ready.into_iter().try_for_each(&mut take),
        );
        taken?;
        ready = next;
        progress.step(what, u64::from(from), u64::from(height))?;
    }
    Ok(())
}
