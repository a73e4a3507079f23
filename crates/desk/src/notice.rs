//! Short messages over the canvas: good news goes by itself, bad news stays until dismissed.

use std::time::{Duration, Instant};

const GOOD_NEWS: Duration = Duration::from_secs(6);
const MOST: usize = 4;

#[derive(Clone, Debug)]
pub(crate) struct Notice {
    pub(crate) text: String,
    pub(crate) hint: String,
    pub(crate) bad: bool,
    at: Instant,
}

#[derive(Default)]
pub(crate) struct Notices(Vec<Notice>);

impl Notices {
    /// Says what went wrong and what to do about it.
    pub(crate) fn say(&mut self, text: impl Into<String>, hint: impl Into<String>) {
        self.push(Notice { text: text.into(), hint: hint.into(), bad: true, at: Instant::now() });
    }

    /// Tells that something is done.
    pub(crate) fn tell(&mut self, text: String) {
        self.push(Notice { text, hint: String::new(), bad: false, at: Instant::now() });
    }

    fn push(&mut self, notice: Notice) {
        // The same thing again, as while dragging against a limit, is one message.
        self.0.retain(|n| n.text != notice.text && (n.bad || notice.bad));
        self.0.push(notice);
        if self.0.len() > MOST {
            self.0.remove(0);
        }
    }

    /// The messages to show now.
    pub(crate) fn current(&mut self) -> &[Notice] {
        self.0.retain(|n| n.bad || n.at.elapsed() < GOOD_NEWS);
        &self.0
    }

    pub(crate) fn forget(&mut self, index: usize) {
        if index < self.0.len() {
            self.0.remove(index);
        }
    }

    pub(crate) fn clear(&mut self) {
        self.0.clear();
    }
}
