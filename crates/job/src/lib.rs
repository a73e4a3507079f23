//! The job: everything a printer decides about one print, as a plain value.
//!
//! A [`Job`] changes only through a named [`Edit`]; [`History`] undoes and redoes them;
//! [`file`] saves and opens it; the functions of [`build`] turn it into films, stage by
//! stage. The window and the command call these same functions, so they write the same bytes.

mod blocks;
pub mod build;
pub mod calibrate;
pub mod check;
mod demo;
mod edit;
mod error;
pub mod file;
mod frame_marks;
mod history;
mod ink_map;
mod mend;
mod model;
mod pages;
pub mod plates;
mod printing;
mod region;
mod screen_plans;
pub mod screens;
mod seams;
mod separation;
pub mod shop;
pub mod sizes;
mod tone;

pub use demo::demo;
pub use edit::Edit;
pub use error::JobError;
pub use frame_marks::FrameMarks;
pub use history::History;
pub use ink_map::InkMap;
pub use mend::{Mend, Mended, Mendings, Spot};
pub use model::{Job, LIMITS, Limits, PictureFile};
pub use printer::Profile;
pub use printing::{Gain, Printing};
pub use screen_plans::{
    FilmOf, ScreenFacts, ScreenPlan, ScreenPlans, plans, reckon_screens, screen_facts,
};
pub use seams::HandSeam;
pub use separation::{InkChange, Plans, Separation, change_inks, find_inks, separate};
pub use tone::Tone;
