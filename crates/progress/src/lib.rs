//! How a long task reports how far it is, and hears that it should stop.
//!
//! A task takes `&Progress` and calls [`Progress::step`] now and then. Whoever
//! started it keeps a [`Handle`] to read how far it is, and to cancel.

use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

/// The task was asked to stop, and did; nothing is half-written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("cancelled")]
pub struct Cancelled;

/// How far a task is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Report {
    /// What is being done, in a few words, such as "Writing sheets".
    pub what: &'static str,
    /// Units of work done.
    pub done: u64,
    /// Units of work in all; nought when not yet known.
    pub total: u64,
}

#[derive(Default)]
struct Shared {
    stop: AtomicBool,
    report: Mutex<Option<Report>>,
}

type Listener = dyn Fn(Report) + Send + Sync;
type Notes = dyn Fn(&str) + Send + Sync;

/// A task's side: reports, and hears whether to stop.
#[derive(Clone, Default)]
pub struct Progress {
    shared: Arc<Shared>,
    listener: Option<Arc<Listener>>,
    notes: Option<Arc<Notes>>,
}

/// The starter's side: reads the last report, and cancels.
#[derive(Clone)]
pub struct Handle(Arc<Shared>);

impl Progress {
    /// Progress that nobody watches and nobody cancels.
    pub fn none() -> Self {
        Self::default()
    }

    /// Progress that tells `listener` of each step, on the thread that took it.
    pub fn new(listener: impl Fn(Report) + Send + Sync + 'static) -> Self {
        Self { listener: Some(Arc::new(listener)), ..Self::default() }
    }

    /// The same, and `notes` is told of what the task decides on its way.
    pub fn with_notes(self, notes: impl Fn(&str) + Send + Sync + 'static) -> Self {
        Self { notes: Some(Arc::new(notes)), ..self }
    }

    /// The starter's side of this task.
    pub fn handle(&self) -> Handle {
        Handle(self.shared.clone())
    }

    /// Says that `done` of `total` units of `what` are done.
    ///
    /// # Errors
    /// [`Cancelled`] when the task should stop.
    pub fn step(&self, what: &'static str, done: u64, total: u64) -> Result<(), Cancelled> {
        let report = Report { what, done, total };
        if let Ok(mut last) = self.shared.report.lock() {
            *last = Some(report);
        }
        if let Some(listener) = &self.listener {
            listener(report);
        }
        self.check()
    }

    /// Tells of something decided that a person may want to know, in one line.
    pub fn note(&self, text: &str) {
        if let Some(notes) = &self.notes {
            notes(text);
        }
    }

    /// Only asks whether to stop.
    ///
    /// # Errors
    /// [`Cancelled`] when the task should stop.
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.shared.stop.load(Ordering::Relaxed) { Err(Cancelled) } else { Ok(()) }
    }
}

impl Handle {
    /// Asks the task to stop at its next step.
    pub fn cancel(&self) {
        self.0.stop.store(true, Ordering::Relaxed);
    }

    /// The last report, if any came yet.
    pub fn report(&self) -> Option<Report> {
        self.0.report.lock().ok().and_then(|r| *r)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cancelled_task_hears_it_at_its_next_step() {
        let progress = Progress::none();
        let handle = progress.handle();
        assert_eq!(progress.step("Cutting", 1, 2), Ok(()));
        assert_eq!(handle.report(), Some(Report { what: "Cutting", done: 1, total: 2 }));
        handle.cancel();
        assert_eq!(progress.step("Cutting", 2, 2), Err(Cancelled));
    }

    #[test]
    fn a_note_reaches_whoever_listens() {
        let heard = Arc::new(Mutex::new(String::new()));
        let to = heard.clone();
        Progress::none().note("nobody hears this");
        Progress::none().with_notes(move |text| to.lock().unwrap().push_str(text)).note("fitted");
        assert_eq!(*heard.lock().unwrap(), "fitted");
    }
}
