//! What is shown, and that everything has a name for those who hear the window.

use super::{settle, small_job, window};
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
