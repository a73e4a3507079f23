//! Unsaved work survives a window that ends without warning. Each window that runs has a slot
//! of its own, marked by a lock that the system lets go when the window ends, however it ends.

use eframe::egui::Context;
use job::{Job, JobError, file};
use std::fs::File;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How long after a change the job is kept.
const SOON: Duration = Duration::from_secs(2);
/// Windows that may run at once and still have a slot each.
const MOST_SLOTS: u32 = 16;

pub(crate) struct Recovery {
    path: PathBuf,
    /// Held as long as the window runs.
    _lock: File,
    /// The job kept last.
    kept: Option<Job>,
    /// Since when the job is another than the one kept.
    changed: Option<(Job, Instant)>,
    writing: Option<std::thread::JoinHandle<()>>,
}

impl Recovery {
    /// A slot: one that an ended window left something in, before an empty one.
    pub(crate) fn claim(home: &Path) -> Option<Self> {
        let dir = home.join("unsaved");
        std::fs::create_dir_all(&dir).ok()?;
        let mut free = None;
        for slot in 0..MOST_SLOTS {
            let name = dir.join(format!("{slot}.lock"));
            // Slots are used from the first on, so beyond a new one there is nothing to find.
            if free.is_some() && !name.exists() {
                break;
            }
            let lock = File::options().create(true).truncate(false).write(true).open(name).ok()?;
            if lock.try_lock().is_err() {
                continue;
            }
            let path = dir.join(format!("{slot}.{}", file::ENDING));
            let found = path.exists();
            let this = Self { path, _lock: lock, kept: None, changed: None, writing: None };
            if found {
                return Some(this);
            }
            free.get_or_insert(this);
        }
        free
    }

    /// The title of what an ended window left in the slot.
    pub(crate) fn left_title(&mut self) -> Option<String> {
        if !self.path.exists() {
            return None;
        }
        match file::open(&self.path) {
            Ok(job) => Some(job.title),
            Err(_) => {
                // Cut short in the act of writing, which renaming makes next to impossible.
                let _ = std::fs::remove_file(&self.path);
                None
            }
        }
    }

    /// Takes up what was left.
    pub(crate) fn take(&mut self) -> Result<Job, JobError> {
        file::open(&self.path)
    }

    /// Keeps the job soon after it changed, on a thread; keeps nothing once it is saved.
    pub(crate) fn keep(&mut self, job: &Job, unsaved: bool, ctx: &Context) {
        if self.writing.as_ref().is_some_and(|w| !w.is_finished()) {
            ctx.request_repaint_after(SOON);
            return;
        }
        if !unsaved {
            if self.kept.is_some() || self.path.exists() && self.changed.is_some() {
                self.done();
            }
            return;
        }
        if self.kept.as_ref() == Some(job) {
            self.changed = None;
            return;
        }
        let since = match &self.changed {
            Some((seen, since)) if seen == job => *since,
            _ => {
                self.changed = Some((job.clone(), Instant::now()));
                ctx.request_repaint_after(SOON);
                return;
            }
        };
        if since.elapsed() < SOON {
            ctx.request_repaint_after(SOON);
            return;
        }
        let (job, path) = (job.clone(), self.path.clone());
        self.kept = Some(job.clone());
        self.changed = None;
        self.writing = std::thread::Builder::new()
            .name("unsaved".into())
            .spawn(move || {
                let _ = file::save(&job, &path);
            })
            .ok();
    }

    /// Nothing is unsaved any more.
    pub(crate) fn done(&mut self) {
        if let Some(writing) = self.writing.take() {
            let _ = writing.join();
        }
        let _ = std::fs::remove_file(&self.path);
        self.kept = None;
        self.changed = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_an_ended_window_left_is_found_by_the_next() {
        let home = tempfile::tempdir().unwrap();
        let ctx = Context::default();
        let mut first = Recovery::claim(home.path()).unwrap();
        assert_eq!(first.left_title(), None);
        let job = Job { title: "Paper boats".into(), ..Job::default() };
        while first.kept.is_none() {
            first.keep(&job, true, &ctx);
            std::thread::sleep(Duration::from_millis(20));
        }
        first.writing.take().unwrap().join().unwrap();
        // While it runs, its slot is its own.
        assert_eq!(Recovery::claim(home.path()).unwrap().left_title(), None);
        drop(first);
        let mut next = Recovery::claim(home.path()).unwrap();
        assert_eq!(next.left_title().as_deref(), Some("Paper boats"));
        assert_eq!(next.take().unwrap(), job);
        next.done();
        assert_eq!(Recovery::claim(home.path()).unwrap().left_title(), None);
    }
}
