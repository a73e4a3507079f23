//! One background computation: the newest wish wins, and answers to older ones are dropped.

use crate::aside::step_aside;
use eframe::egui::Context;
use job::JobError;
use progress::{Handle, Progress, Report};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::time::{Duration, Instant};

/// What to do with a computation whose question is no longer asked.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Overtaken {
    /// Stop it; nobody needs its answer.
    Stop,
    /// Let it end, and show its answer until the newer one comes.
    Finish,
    /// Let it end if it is quick, so that a drag is followed; stop it if it takes longer than this.
    FinishWithin(Duration),
}

/// A lane on which one computation at a time runs.
pub(crate) struct Lane<K, V> {
    name: &'static str,
    overtaken: Overtaken,
    running: Option<Running<K, V>>,
    /// The newest answer and its question.
    answer: Option<(K, Result<V, JobError>)>,
    /// The newest good answer, which is shown while a newer one is awaited.
    good: Option<V>,
}

struct Running<K, V> {
    key: K,
    handle: Handle,
    started: Instant,
    answer: Receiver<Result<V, JobError>>,
}

impl<K: PartialEq + Clone, V: Clone + Send + 'static> Lane<K, V> {
    pub(crate) fn new(name: &'static str, overtaken: Overtaken) -> Self {
        Self { name, overtaken, running: None, answer: None, good: None }
    }

    /// Asks for the answer to `key`; `work` runs on a thread of its own where it is not known yet.
    pub(crate) fn want<W>(&mut self, key: &K, ctx: &Context, work: impl FnOnce() -> W)
    where
        W: FnOnce(&Progress) -> Result<V, JobError> + Send + 'static,
    {
        if let Some(running) = &self.running {
            let stop = match self.overtaken {
                Overtaken::Stop => true,
                Overtaken::Finish => false,
                Overtaken::FinishWithin(long) => running.started.elapsed() > long,
            };
            if running.key != *key && stop {
                running.handle.cancel();
            }
            return;
        }
        if self.is_fresh(key) {
            return;
        }
        let (work, ctx, (send, answer)) = (work(), ctx.clone(), channel());
        let progress = Progress::none();
        let handle = progress.handle();
        let spawned = std::thread::Builder::new().name(self.name.into()).spawn(move || {
            step_aside();
            let result = work(&progress);
            // Nobody may be waiting for it any more.
            let _ = send.send(result);
            ctx.request_repaint();
        });
        if spawned.is_ok() {
            let (key, started) = (key.clone(), Instant::now());
            self.running = Some(Running { key, handle, started, answer });
        }
    }

    /// Takes in an answer that came. Whether one did.
    pub(crate) fn poll(&mut self) -> bool {
        let Some(running) = &self.running else { return false };
        let result = match running.answer.try_recv() {
            Ok(result) => result,
            Err(TryRecvError::Empty) => return false,
            // The thread ended without an answer, which only a panic in it can cause.
            Err(TryRecvError::Disconnected) => Err(JobError::Cancelled(progress::Cancelled)),
        };
        let Some(running) = self.running.take() else { return false };
        match &result {
            Err(e) if e.is_cancelled() => return true,
            Ok(v) => self.good = Some(v.clone()),
            Err(_) => self.good = None,
        }
        self.answer = Some((running.key, result));
        true
    }

    /// The newest good answer, perhaps to an older question.
    pub(crate) fn good(&self) -> Option<&V> {
        self.good.as_ref()
    }

    /// The question of the newest answer.
    pub(crate) fn answered(&self) -> Option<&K> {
        self.answer.as_ref().map(|(k, _)| k)
    }

    /// What went wrong with the newest question answered.
    pub(crate) fn error(&self) -> Option<&JobError> {
        self.answer.as_ref().and_then(|(_, r)| r.as_ref().err())
    }

    /// Whether the answer at hand is the one to `key`.
    pub(crate) fn is_fresh(&self, key: &K) -> bool {
        self.answer.as_ref().is_some_and(|(k, _)| k == key)
    }

    /// How far the computation under way is, and since when it runs.
    pub(crate) fn under_way(&self) -> Option<(Option<Report>, Duration)> {
        self.running.as_ref().map(|r| (r.handle.report(), r.started.elapsed()))
    }

    /// Asks the computation under way to stop.
    pub(crate) fn stop(&self) {
        if let Some(running) = &self.running {
            running.handle.cancel();
        }
    }

    /// Forgets every answer and stops.
    pub(crate) fn clear(&mut self) {
        self.stop();
        self.running = None;
        self.answer = None;
        self.good = None;
    }
}

impl<K, V> Drop for Lane<K, V> {
    fn drop(&mut self) {
        if let Some(running) = &self.running {
            running.handle.cancel();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wait<V: Clone + Send + 'static>(lane: &mut Lane<u32, V>) {
        while !lane.poll() {
            std::thread::yield_now();
        }
    }

    #[test]
    fn the_newest_wish_wins_and_stopped_work_leaves_no_answer() {
        let ctx = Context::default();
        let mut lane: Lane<u32, u32> = Lane::new("test", Overtaken::Stop);
        lane.want(&1, &ctx, || {
            |p: &Progress| loop {
                p.check()?;
                std::thread::yield_now();
            }
        });
        assert!(lane.under_way().is_some());
        lane.want(&2, &ctx, || |_: &Progress| Ok(20));
        wait(&mut lane);
        assert!(lane.answered().is_none(), "a stopped computation answers nothing");
        lane.want(&2, &ctx, || |_: &Progress| Ok(20));
        wait(&mut lane);
        assert_eq!((lane.good(), lane.is_fresh(&2), lane.is_fresh(&1)), (Some(&20), true, false));
    }

    #[test]
    fn an_error_takes_the_place_of_an_answer() {
        let ctx = Context::default();
        let mut lane: Lane<u32, u32> = Lane::new("test", Overtaken::Finish);
        lane.want(&1, &ctx, || |_: &Progress| Err(JobError::NoPicture));
        wait(&mut lane);
        assert!(lane.good().is_none() && lane.error().is_some() && lane.is_fresh(&1));
    }
}
