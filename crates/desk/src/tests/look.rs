//! What is shown, and that everything has a name for those who hear the window.

use super::{click, settle, small_job, window};
use crate::command::Command;
use crate::step::{State, Step};
use eframe::egui::accesskit::Role;
use egui_kittest::kittest::{NodeT, Queryable};
use job::Job;

#[test]
fn every_control_of_every_step_has_a_name() {
    let mut window = window(small_job());
    for step in Step::ALL {
        window.state_mut().step = step;
        settle(&mut window);
        let mut controls = 0;
        for node in window.root().children_recursive() {
            let node = node.accesskit_node();
            let control = matches!(
                node.role(),
                Role::Button
                    | Role::CheckBox
                    | Role::ComboBox
                    | Role::Slider
                    | Role::Tab
                    | Role::TextInput
            );
            if control {
                controls += 1;
                let named = node.label().is_some_and(|l| !l.trim().is_empty());
                assert!(named, "{step:?}: a {:?} without a name", node.role());
            }
        }
        assert!(controls > 12, "{step:?}: {controls}");
    }
}

#[test]
fn the_rail_says_how_each_step_stands_and_why() {
    let mut window = window(small_job());
    for step in [Step::Artwork, Step::Garment, Step::Film, Step::Sheets] {
        let (state, reason) = step.state(window.state());
        assert_eq!(state, State::Done, "{step:?}: {reason}");
        let label = format!("{}: done, {reason}", step.name());
        assert!(window.query_by_label(&label).is_some(), "{label}");
    }
    window.state_mut().queue.push(crate::action::Action::NewAnyway);
    settle(&mut window);
    assert_eq!(Step::Artwork.state(window.state()).0, State::Wrong);
    assert!(window.query_by_label("Artwork: wrong, no picture yet").is_some());
}

#[test]
fn every_sheet_is_on_the_canvas_by_name() {
    let mut window = window(small_job());
    window.state_mut().step = Step::Sheets;
    settle(&mut window);
    let names: Vec<String> = window
        .state()
        .stages
        .layout()
        .unwrap()
        .plan
        .sheets
        .iter()
        .map(|s| s.name.clone())
        .collect();
    assert!(names.len() > 1);
    for name in names {
        assert!(window.query_all_by_label_contains(&format!("Sheet {name}")).count() > 0, "{name}");
    }
}

#[test]
fn an_empty_desk_and_every_dialog_can_be_drawn() {
    use crate::action::Action;
    use crate::command::Command;
    let mut window = window(Job::default());
    for step in Step::ALL {
        window.state_mut().step = step;
        window.run_steps(3);
    }
    for command in
        [Command::Commands, Command::Calibrate, Command::Walk, Command::SaveAs, Command::Open]
    {
        window.state_mut().queue.push(Action::Do(command));
        window.run_steps(3);
        assert!(window.state().dialog.is_some(), "{command:?}");
        window.state_mut().queue.push(Action::CloseDialog);
        window.run_steps(2);
    }
}

/// Escape closes the card although one of its buttons has the focus.
#[test]
fn the_walk_is_left_by_escape() {
    let mut window = window(small_job());
    window.state_mut().queue.push(crate::action::Action::Do(Command::Walk));
    window.run_steps(3);
    click(&mut window, "Next");
    window.get_by_label("Back").focus();
    window.run_steps(2);
    window.key_press(eframe::egui::Key::Escape);
    window.run_steps(3);
    assert!(window.state().dialog.is_none());
}

/// While the level is pulled the edges seen are cut anew at once, and fitted when it rests.
#[test]
fn a_pulled_level_is_followed_by_what_is_seen() {
    let mut window = window(small_job());
    let before = window.state().stages.surface().unwrap().report.level;
    let pulled = job::Edit::Cut(artwork::Cut::At(0.8));
    window.state_mut().queue.push(crate::action::Action::Drag(pulled));
    let begun = std::time::Instant::now();
    let recut = loop {
        window.step();
        let desk = window.state();
        if let Some(recut) = desk.stages.recut(desk.job()) {
            break recut.clone();
        }
        assert!(begun.elapsed().as_secs() < 20, "nothing is cut anew");
    };
    let level = window.state().stages.surface().unwrap().report.level;
    assert_eq!(level, before, "the edges were not sought anew yet");
    assert!(recut.image.pixels.iter().any(|p| p.a() == 255));
    window.state_mut().queue.push(crate::action::Action::EndDrag);
    settle(&mut window);
    let desk = window.state();
    assert_eq!(desk.stages.surface().unwrap().report.level, 0.8);
    assert!(desk.stages.recut(desk.job()).is_none() && desk.stages.film_is_fresh());
}

/// The guide shows the film from both sides and goes from join to join, by keys alone too.
#[test]
fn the_taping_guide_goes_from_join_to_join() {
    let mut window = window(small_job());
    window.key_press_modifiers(eframe::egui::Modifiers::COMMAND, eframe::egui::Key::G);
    window.run_steps(4);
    let both = [film::TAPING_SIDE, film::PRINTED_SIDE].map(|side| format!("Film: {side}"));
    let [above, below] = both.map(|label| window.get_by_label(&label).rect());
    assert!(above.bottom() < below.top() && (above.size() - below.size()).length() < 0.1);
    let desk = window.state();
    let layout = desk.stages.layout().unwrap();
    let rects: Vec<_> = layout.plan.sheets.iter().map(|s| s.placed.rect).collect();
    let assembly = sheets::Assembly::of(&rects, desk.stages.seams().unwrap().seams());
    assert!(assembly.joins.len() > 1);
    let lengths: Vec<_> = assembly.joins.iter().map(|join| join.length).collect();
    let long = |n: usize| format!("Seam of {:.1} mm", lengths[n].to_mm());
    window.get_by_label_contains(&long(0));
    window.get_by_label("Next join").focus();
    window.run_steps(2);
    window.key_press(eframe::egui::Key::Enter);
    window.run_steps(4);
    window.get_by_label_contains(&long(1));
    window.key_press(eframe::egui::Key::Escape);
    window.run_steps(4);
    assert!(window.state().dialog.is_none());
}
