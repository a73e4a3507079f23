//! What is typed: numbers with units and sums, and commands by name.

use super::{click, enter, settle, small_job, window};
use crate::command::Command;
use crate::prefs::Light;
use crate::step::Step;
use eframe::egui::{Event, Key};
use egui_kittest::kittest::Queryable;
use measure::{Length, Unit};

#[test]
fn lengths_take_units_and_sums_and_nonsense_changes_nothing() {
    let mut window = window(small_job());
    window.state_mut().step = Step::Film;
    settle(&mut window);
    enter(&mut window, "Artwork width", "13in + 1/4in");
    assert!((window.state().job().width - Length::inches(13.25)).abs() < Length::mm(1e-9));
    enter(&mut window, "Artwork width", "70cm");
    assert_eq!(window.state().job().width, Length::cm(70.0));
    for nonsense in ["seven", "nan", "-5in", "1e99in", "2in * 3in"] {
        enter(&mut window, "Artwork width", nonsense);
        assert_eq!(window.state().job().width, Length::cm(70.0), "{nonsense}");
    }
    click(&mut window, "Undo");
    click(&mut window, "Undo");
    assert_eq!(window.state().job(), &small_job());
}

#[test]
fn an_overlap_larger_than_the_sheet_is_said_in_words() {
    let mut window = window(small_job());
    window.state_mut().step = Step::Sheets;
    settle(&mut window);
    enter(&mut window, "Overlap", "15in");
    let error = window.state().stages.layout_error().expect("no such plan").to_string();
    assert!(window.query_all_by_label_contains(&error).count() > 0, "{error}");
}

#[test]
fn the_arrow_keys_count_a_field_up_and_down() {
    let mut window = window(small_job());
    window.state_mut().step = Step::Film;
    settle(&mut window);
    window.get_by_role_and_label(eframe::egui::accesskit::Role::TextInput, "Resolution").focus();
    window.run_steps(2);
    window.key_press(Key::ArrowUp);
    settle(&mut window);
    assert_eq!(window.state().job().resolution.to_ppi(), 50.0);
}

#[test]
fn any_command_is_found_by_part_of_its_name() {
    let mut window = window(small_job());
    window.key_press(Key::F1);
    window.run_steps(3);
    window.event(Event::Text("black and".into()));
    window.run_steps(3);
    window.key_press(Key::Enter);
    settle(&mut window);
    assert!(window.state().job().art.invert && window.state().dialog.is_none());
}

#[test]
fn text_grows_to_twice_its_size_and_lights_change() {
    let mut window = window(small_job());
    for _ in 0..15 {
        // What a keyboard sends for Shift and the key of "=".
        let modifiers = eframe::egui::Modifiers::COMMAND
            | eframe::egui::Modifiers::CTRL
            | eframe::egui::Modifiers::SHIFT;
        let (key, physical_key) = (Key::Plus, Some(Key::Equals));
        window.event(Event::Key { key, physical_key, pressed: true, repeat: false, modifiers });
        window.run_steps(2);
    }
    assert_eq!(window.state().prefs.text, 2.0);
    assert_eq!(window.ctx.zoom_factor(), 2.0);
    window.state_mut().queue.push(crate::action::Action::Do(Command::Night));
    window.run_steps(2);
    assert_eq!(
        (window.state().prefs.theme, window.ctx.theme()),
        (Light::Night, eframe::egui::Theme::Dark)
    );
}

#[test]
fn units_change_everywhere_at_once() {
    let mut window = window(small_job());
    window.state_mut().queue.push(crate::action::Action::Do(Command::NextUnit));
    settle(&mut window);
    assert_eq!(window.state().job().unit, Unit::Mm);
    window.state_mut().step = Step::Film;
    settle(&mut window);
    let field =
        window.get_by_role_and_label(eframe::egui::accesskit::Role::TextInput, "Artwork width");
    assert_eq!(field.value().as_deref(), Some("762 mm"));
}

#[test]
fn the_walk_leaves_the_keys_alone() {
    let mut window = window(small_job());
    window.state_mut().ask(crate::action::Action::Do(crate::command::Command::Walk));
    window.run_steps(3);
    window.get_by_label("This is your table");
    window.key_press_modifiers(eframe::egui::Modifiers::COMMAND, Key::I);
    settle(&mut window);
    assert!(window.state().job().art.invert);
    window.get_by_label("This is your table");
    window.key_press(Key::Escape);
    window.run_steps(3);
    assert!(window.query_by_label("This is your table").is_none());
}

#[test]
fn the_line_between_picture_and_film_is_typed_too() {
    let mut window = window(small_job());
    settle(&mut window);
    click(&mut window, "Compare with the picture");
    enter(&mut window, "Line at", "30 %");
    assert_eq!(window.state().canvas.wipe, Some(0.3));
    enter(&mut window, "Line at", "300");
    assert_eq!(window.state().canvas.wipe, Some(1.0));
}

#[test]
fn a_list_is_opened_chosen_from_and_closed_by_keys() {
    let mut window = window(small_job());
    window.state_mut().step = Step::Garment;
    settle(&mut window);
    let role = eframe::egui::accesskit::Role::ComboBox;
    window.get_by_role_and_label(role, "Printed on").focus();
    for key in [Key::Enter, Key::ArrowDown, Key::Enter] {
        window.run_steps(2);
        window.key_press(key);
    }
    settle(&mut window);
    assert_ne!(window.state().job().garment, small_job().garment);
    assert!(window.query_by_label("square scarf").is_none(), "the list is closed");
    assert!(window.get_by_role_and_label(role, "Printed on").is_focused());
}
