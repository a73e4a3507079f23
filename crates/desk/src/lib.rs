//! The window: the film over the garment, the steps of the job beside it, and the chosen step's
//! controls. It reads the job and sends commands; the job changes only through [`job::Edit`],
//! and every film it writes is made by [`job::build`], as the command's are.

mod act;
mod action;
mod aside;
mod canvas;
mod chooser;
mod chore;
mod clipboard;
mod command;
mod desk;
mod dialog;
mod error;
mod film_printers;
mod films;
mod fine;
mod lane;
mod levels;
mod note;
mod notice;
mod panels;
mod photo;
mod pins;
mod prefs;
mod recovery;
mod recut;
mod run;
mod shop_plan;
mod sketch;
mod slips;
mod source;
mod stages;
mod standing;
mod step;
#[cfg(test)]
mod tests;
mod theme;

pub use desk::Desk;
pub use error::DeskError;
pub use run::run;
