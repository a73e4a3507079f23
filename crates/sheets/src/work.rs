use progress::{Cancelled, Progress};

/// How much work is left to a plan, in units of very roughly a microsecond.
///
/// Work is counted, not timed, so that the same request gives the same plan on any machine.
pub(crate) struct Work<'a> {
    left: u64,
    done: u64,
    asked: u64,
    progress: &'a Progress,
}

impl<'a> Work<'a> {
    pub(crate) const fn new(effort: u64, progress: &'a Progress) -> Self {
        Self { left: effort, done: 0, asked: 0, progress }
    }

    /// Counts work done; `false` when none is left.
    pub(crate) fn spend(&mut self, units: u64) -> Result<bool, Cancelled> {
        self.left = self.left.saturating_sub(units);
        self.done += units;
        // Asking costs a lock, so it is done now and then.
        if self.done >= self.asked {
            self.asked = self.done + 5_000;
            self.progress.step("Planning sheets", self.done, self.done + self.left)?;
        }
        Ok(self.left > 0)
    }

    pub(crate) const fn left(&self) -> u64 {
        self.left
    }

    /// All work that is allowed, done or left.
    pub(crate) const fn whole(&self) -> u64 {
        self.done + self.left
    }

    /// Does `task` with only a share of the work that is left.
    pub(crate) fn with_share<T>(&mut self, parts: u64, task: impl FnOnce(&mut Self) -> T) -> T {
        let reserve = self.left - self.left / parts.max(1);
        self.left -= reserve;
        let out = task(self);
        self.left += reserve;
        out
    }
}
