use crate::{Edit, Job, JobError};

/// A job with everything that was done to it: whole values, so that undo is exact.
#[derive(Clone, Debug)]
pub struct History {
    job: Job,
    past: Vec<Step>,
    future: Vec<Step>,
    /// The drag that the newest step belongs to, if it is still under way.
    drag: Option<&'static str>,
}

#[derive(Clone, Debug)]
struct Step {
    name: &'static str,
    /// The job on the other side of the step.
    job: Job,
}

/// Steps kept; the pixels behind them are shared, so each is small.
const MOST_STEPS: usize = 500;

impl History {
    /// A job with nothing to undo.
    pub fn new(job: Job) -> Self {
        Self { job, past: Vec::new(), future: Vec::new(), drag: None }
    }

    /// The job as it stands.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// Makes an edit that can be undone. An edit that changes nothing leaves no step.
    ///
    /// # Errors
    /// As [`Job::apply`]; nothing changes then.
    pub fn apply(&mut self, edit: Edit) -> Result<(), JobError> {
        self.drag = None;
        self.push(edit, None)
    }

    /// Makes an edit that is part of a drag: all edits of one drag are one step.
    ///
    /// # Errors
    /// As [`Job::apply`]; nothing changes then.
    pub fn drag(&mut self, edit: Edit) -> Result<(), JobError> {
        let name = edit.name();
        self.push(edit, Some(name))
    }

    /// Ends a drag: the next edit is a step of its own.
    pub fn end_drag(&mut self) {
        self.drag = None;
    }

    fn push(&mut self, edit: Edit, drag: Option<&'static str>) -> Result<(), JobError> {
        let name = edit.name();
        let job = self.job.apply(edit)?;
        if job == self.job {
            return Ok(());
        }
        let before = std::mem::replace(&mut self.job, job);
        self.future.clear();
        if drag.is_none() || self.drag != drag {
            self.past.push(Step { name, job: before });
            if self.past.len() > MOST_STEPS {
                self.past.remove(0);
            }
        }
        self.drag = drag;
        Ok(())
    }

    /// Takes the newest step back and says what it was.
    pub fn undo(&mut self) -> Option<&'static str> {
        let step = self.past.pop()?;
        self.drag = None;
        let now = std::mem::replace(&mut self.job, step.job);
        self.future.push(Step { name: step.name, job: now });
        Some(step.name)
    }

    /// Makes the step taken back last again and says what it was.
    pub fn redo(&mut self) -> Option<&'static str> {
        let step = self.future.pop()?;
        self.drag = None;
        let now = std::mem::replace(&mut self.job, step.job);
        self.past.push(Step { name: step.name, job: now });
        Some(step.name)
    }

    /// What undo would take back.
    pub fn undo_name(&self) -> Option<&'static str> {
        self.past.last().map(|s| s.name)
    }

    /// What redo would make again.
    pub fn redo_name(&self) -> Option<&'static str> {
        self.future.last().map(|s| s.name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::Length;

    #[test]
    fn a_drag_is_one_step() {
        let mut history = History::new(Job::default());
        for mm in 1..20 {
            history.drag(Edit::Bleed(Length::mm(f64::from(mm)))).unwrap();
        }
        history.end_drag();
        history.drag(Edit::Bleed(Length::mm(40.0))).unwrap();
        assert_eq!(history.undo(), Some("change the bleed"));
        assert_eq!(history.job().bleed, Length::mm(19.0));
        assert_eq!(history.undo(), Some("change the bleed"));
        assert_eq!(history.job(), &Job::default());
        assert_eq!(history.undo(), None);
        history.redo();
        history.redo();
        assert_eq!(history.job().bleed, Length::mm(40.0));
    }

    #[test]
    fn any_edits_undo_to_the_start_and_redo_to_the_end() {
        arbtest::arbtest(|u| {
            let mut history = History::new(Job::default());
            for _ in 0..u.int_in_range(0..=20)? {
                let v = Length::mm(f64::from(u.int_in_range(1..=50)?));
                let edit = match u.int_in_range(0..=3)? {
                    0 => Edit::Bleed(v),
                    1 => Edit::Overlap(v),
                    2 => Edit::Width(v),
                    _ => Edit::Invert(u.arbitrary()?),
                };
                if u.arbitrary()? { history.drag(edit) } else { history.apply(edit) }.unwrap();
            }
            let end = history.job().clone();
            while history.undo().is_some() {}
            assert_eq!(history.job(), &Job::default());
            while history.redo().is_some() {}
            assert_eq!(history.job(), &end);
            Ok(())
        });
    }
}
