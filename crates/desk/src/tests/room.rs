//! Little room: a small window, and text twice as large in it.

use super::{settle, small_job, window_of};
use crate::action::Action;
use crate::command::Command;
use crate::dialog::Dialog;
use crate::step::Step;
use eframe::egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;

/// Down to the least window with the largest text, which leaves half as many points each way, no
/// step and no card of any fails; and whatever is on a card, what it is for can be reached.
#[test]
fn every_step_and_card_is_there_with_little_room() {
    for (width, height) in [(1024.0, 700.0), (512.0, 350.0), (380.0, 260.0)] {
        let mut window = window_of(small_job(), vec2(width, height));
        for step in Step::ALL {
            window.state_mut().step = step;
            settle(&mut window);
            let steps = window.query_all_by_label_contains(step.name()).count();
            assert!(steps > 0, "{} in {width} x {height}", step.name());
        }
        for (command, button) in
            [(Command::CheckFilm, "Check"), (Command::Taping, "Close the guide")]
        {
            window.state_mut().ask(crate::action::Action::Do(command));
            settle(&mut window);
            window.get_by_label(button).scroll_to_me();
            window.run_steps(4);
            let rect = window.get_by_label(button).rect();
            if width > 400.0 {
                assert!(rect.max.y <= height && rect.min.y >= 0.0, "{rect:?} in {height}");
            }
            window.key_press_modifiers(Modifiers::NONE, Key::Escape);
            settle(&mut window);
        }
    }
}

#[test]
fn a_card_that_was_scrolled_begins_at_its_top_again() {
    let mut window = window_of(small_job(), vec2(512.0, 350.0));
    let mut opened_at = || {
        window.state_mut().ask(crate::action::Action::Do(Command::CheckFilm));
        settle(&mut window);
        let first = window.get_by_label("Check").rect().min.y;
        window.get_by_label("Check").scroll_to_me();
        window.run_steps(4);
        let then = window.get_by_label("Check").rect().min.y;
        window.key_press_modifiers(Modifiers::NONE, Key::Escape);
        settle(&mut window);
        (first, then)
    };
    let (first, then) = opened_at();
    assert!(then < first, "the card is scrolled");
    assert_eq!(opened_at(), (first, then));
}

#[test]
fn a_card_is_as_high_as_it_needs_after_a_lower_one() {
    let mut window = window_of(small_job(), vec2(1024.0, 700.0));
    settle(&mut window);
    window.state_mut().dialog = Some(Dialog::Recover { title: "Boats".into() });
    window.run_steps(6);
    let dir = tempfile::tempdir().unwrap();
    let job = dir.path().join("boats.quilt");
    let names = vec!["boats.quilt".into(); 24];
    let next = Box::new(Action::SaveTo(job.clone()));
    window.state_mut().dialog = Some(Dialog::Standing { names, next });
    window.run_steps(6);
    // Where a button is cut off, a hand misses it.
    let button = window.get_by_label("Replace").rect().center();
    window.hover_at(button);
    window.run_steps(2);
    window.drag_at(button);
    window.run_steps(2);
    window.drop_at(button);
    settle(&mut window);
    assert!(job.exists());
}
