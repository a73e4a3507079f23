//! The shop's side of the window: its numbers and notebook, which are the same for every job and
//! kept beside the window's settings, and what is being typed at the Screen step.

use crate::desk::Desk;
use eframe::egui::Context;
use measure::Length;
use shop::{Entry, Notebook, Reckoning, Seen, Shop};
use std::path::{Path, PathBuf};

/// The shop's numbers, as kept in a folder.
pub(crate) fn file(home: &Path) -> PathBuf {
    home.join("shop.json")
}

/// The shop's notebook, as kept in a folder.
pub(crate) fn notebook(home: &Path) -> PathBuf {
    home.join("notebook.jsonl")
}

/// What is looked at and typed at the Screen step.
#[derive(Clone, Debug, Default)]
pub(crate) struct AtShop {
    /// The drawing on the canvas: its section, and which one of that.
    pub(crate) drawing: Option<(&'static str, usize)>,
    /// The first band that held and the last that opened, counted from 1.
    pub(crate) bands: (usize, usize),
    /// The time of a wedge, and the last step of it that held.
    pub(crate) wedge: (f64, f64),
    /// Another distance of the lamp, and another clear density of the film, to scale the time to.
    pub(crate) other: (Option<Length>, Option<f64>),
    /// What was seen after washing out.
    pub(crate) seen: Seen,
    /// The note being written.
    pub(crate) note: crate::note::Note,
}

impl Desk {
    /// Reckons the shop's side of the job, once film and sheets are there.
    pub(crate) fn follow_shop(&mut self, ctx: &Context) {
        let job = self.history.job().clone();
        self.stages.follow_shop(&job, &self.shop, ctx);
    }

    /// The plan of the screen that is looked at: of several the one whose film is shown, and
    /// none while all of them are.
    pub(crate) fn plan(&self) -> Option<&Reckoning> {
        let plans = self.stages.plans()?.ok()?;
        let chosen = match plans.all {
            Some(_) => plans.screens.get(self.canvas.screens.shown?),
            None => plans.screens.first(),
        };
        chosen.map(|one| &one.plan)
    }

    /// What the notebook calls the screen that is looked at.
    pub(crate) fn screen_name(&self) -> &str {
        self.plan().map_or(&self.job().title, |plan| &plan.job)
    }

    /// The ink on a garment of the screen that is looked at, or of all, once it is known.
    pub(crate) fn printed_m2(&self) -> Option<f64> {
        let facts = self.stages.facts();
        let shown = self.canvas.screens.shown.filter(|_| facts.len() > 1);
        let chosen = shown.map_or(facts, |n| facts.get(n..=n).unwrap_or(&[]));
        (!chosen.is_empty()).then(|| chosen.iter().map(|one| one.facts.ink_area_m2).sum())
    }

    /// Takes over the shop's numbers and keeps them.
    pub(crate) fn set_shop(&mut self, shop: Shop) {
        if let Err(e) = shop.settings.check() {
            self.notices.say(e.to_string(), e.hint());
            return;
        }
        self.shop = shop;
        let Some(home) = &self.home else { return };
        let _ = std::fs::create_dir_all(home);
        if let Err(e) = self.shop.save(&file(home)) {
            self.notices.say(e.to_string(), e.hint());
        }
    }

    /// Writes an entry into the notebook. The file is read anew first, so that what others
    /// wrote into it stays.
    pub(crate) fn write_down(&mut self, entry: Entry) {
        let mut book = self.notebook.clone();
        if let Some(home) = &self.home {
            let path = notebook(home);
            let _ = std::fs::create_dir_all(home);
            let saved = Notebook::read(&path).and_then(|mut read| {
                read.push(entry);
                read.save(&path)?;
                Ok(read)
            });
            match saved {
                Ok(read) => book = read,
                Err(e) => return self.notices.say(e.to_string(), e.hint()),
            }
        } else {
            book.push(entry);
        }
        self.notebook = book;
        self.notices.tell("Written into the notebook".into());
    }
}
