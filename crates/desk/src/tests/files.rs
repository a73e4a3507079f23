//! Opening, saving, writing films, and what stands in the way of losing work.

use super::{click, enter, ring, settle, small_job, window};
use crate::action::Action;
use crate::command::Command;
use crate::dialog::Purpose;
use crate::step::Step;
use egui_kittest::kittest::Queryable;
use job::{Edit, Job};
use std::path::{Path, PathBuf};
use std::sync::Arc;

#[test]
fn films_written_by_the_window_are_the_commands_films() {
    let dir = tempfile::tempdir().unwrap();
    let (ours, theirs) = (dir.path().join("window"), dir.path().join("command"));
    let mut window = window(small_job());
    window.state_mut().step = Step::Print;
    settle(&mut window);
    enter(&mut window, "Folder", &ours.display().to_string());
    click(&mut window, "Write here");
    settle(&mut window);
    job::build::export(&small_job(), &theirs, &progress::Progress::none()).unwrap();
    for name in ["film.pdf", "plan.json"] {
        assert!(
            std::fs::read(ours.join(name)).unwrap() == std::fs::read(theirs.join(name)).unwrap(),
            "{name}"
        );
    }
    assert_eq!(window.state().written_for_this_job(), Some(ours.as_path()));
}

#[test]
fn a_job_is_opened_by_path_saved_and_opened_again() {
    let dir = tempfile::tempdir().unwrap();
    let picture = dir.path().join("boats.png");
    std::fs::write(&picture, ring()).unwrap();
    let mut window = window(Job::default());
    assert!(window.state().stages.picture().is_none());
    window.state_mut().queue.push(Action::Do(Command::Open));
    window.run_steps(3);
    enter(&mut window, "Path of the file", &picture.display().to_string());
    assert_eq!(window.state().job().title, "boats");
    window.state_mut().queue.push(Action::Edit(Edit::Invert(true)));
    settle(&mut window);
    assert!(window.state().unsaved());
    window.state_mut().queue.push(Action::Do(Command::Save));
    window.run_steps(3);
    let saved = dir.path().join("boats");
    enter(&mut window, "Path of the file", &saved.display().to_string());
    assert!(!window.state().unsaved());
    let back = job::file::open(&saved.with_extension(job::file::ENDING)).unwrap();
    assert_eq!(&back, window.state().job());
}

#[test]
fn what_stands_where_something_is_to_be_written_is_asked_about() {
    let dir = tempfile::tempdir().unwrap();
    let standing = dir.path().join("boats.quilt");
    std::fs::write(&standing, "another job").unwrap();
    let mut window = window(small_job());
    let save_there = |window: &mut super::Window, path: &Path| {
        window.state_mut().queue.push(Action::Do(Command::SaveAs));
        window.run_steps(3);
        enter(window, "Path of the file", &path.display().to_string());
    };
    // The ending is left out, as one does.
    save_there(&mut window, &dir.path().join("boats"));
    click(&mut window, "Go back");
    settle(&mut window);
    assert_eq!(std::fs::read(&standing).unwrap(), b"another job");
    save_there(&mut window, &dir.path().join("boats"));
    click(&mut window, "Replace");
    settle(&mut window);
    assert_eq!(&job::file::open(&standing).unwrap(), window.state().job());
    // Its own file needs no question.
    window.state_mut().queue.push(Action::Edit(Edit::Invert(true)));
    save_there(&mut window, &standing);
    settle(&mut window);
    assert!(!window.state().unsaved());

    std::fs::write(dir.path().join("film.pdf"), "another film").unwrap();
    let chosen = Action::Chosen { purpose: Purpose::Export, path: dir.path().into(), agreed: true };
    window.state_mut().queue.push(chosen.clone());
    window.run_steps(3);
    assert!(window.query_by_label_contains("film.pdf already").is_some());
    click(&mut window, "Replace");
    settle(&mut window);
    assert_eq!(window.state().written_for_this_job(), Some(dir.path()));
    assert_ne!(std::fs::read(dir.path().join("film.pdf")).unwrap(), b"another film");
    window.state_mut().queue.push(chosen);
    window.run_steps(3);
    assert!(window.query_by_label("Replace").is_none(), "its own films need no question");
    settle(&mut window);
}

#[derive(Debug)]
struct Dropped(PathBuf);
impl eframe::egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }
    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|e| e.to_string())
    }
}

#[test]
fn a_dropped_picture_becomes_the_job_and_a_broken_one_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let (good, bad) = (dir.path().join("good.png"), dir.path().join("bad.png"));
    std::fs::write(&good, ring()).unwrap();
    std::fs::write(&bad, b"this is no picture").unwrap();
    let mut window = window(Job::default());
    window.input_mut().dropped_files.push(Arc::new(Dropped(good)));
    settle(&mut window);
    assert_eq!(window.state().job().title, "good");
    window.state_mut().queue.push(Action::Replace(bad));
    settle(&mut window);
    assert_eq!(window.state().job().picture.as_ref().unwrap().name, "good.png");
    assert!(window.query_by_label("Understood").is_some(), "what is wrong is said");
}

#[test]
fn another_picture_keeps_all_else_of_the_job() {
    let dir = tempfile::tempdir().unwrap();
    let other = dir.path().join("other.png");
    std::fs::write(&other, ring()).unwrap();
    let mut window = window(small_job());
    window.state_mut().queue.push(Action::Replace(other));
    settle(&mut window);
    let mut want = small_job();
    want.picture.as_mut().unwrap().name = "other.png".into();
    assert_eq!(window.state().job(), &want);
}

#[test]
fn unsaved_changes_are_asked_about() {
    let mut window = window(small_job());
    window.state_mut().queue.push(Action::Edit(Edit::Invert(true)));
    window.state_mut().queue.push(Action::Do(Command::NewJob));
    settle(&mut window);
    assert!(window.state().job().art.invert, "still there");
    click(&mut window, "Go back");
    assert!(window.state().dialog.is_none() && window.state().job().art.invert);
    window.state_mut().queue.push(Action::Do(Command::NewJob));
    window.run_steps(3);
    click(&mut window, "Don't save");
    assert_eq!(window.state().job(), &Job::default());
}

#[test]
fn several_sizes_are_written_each_into_its_own_folder() {
    let dir = tempfile::tempdir().unwrap();
    let mut window = window(small_job());
    let sizes = vec!["tee-s".to_owned(), "tee-xl".to_owned()];
    window.state_mut().queue.push(Action::ExportSizes(dir.path().into(), sizes.clone()));
    window.run_steps(1);
    settle(&mut window);
    let plan =
        |size: &str| std::fs::read_to_string(dir.path().join(size).join("plan.json")).unwrap();
    assert!(dir.path().join("tee-s/film.pdf").exists() && plan("tee-s") != plan("tee-xl"));
}
