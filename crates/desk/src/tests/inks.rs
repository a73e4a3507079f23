//! Tone and several screens: chosen, changed and shown by name, and taken back.

use super::{click, enter, settle, window};
use crate::step::Step;
use eframe::egui::{accesskit::Role, vec2};
use egui_kittest::kittest::Queryable;
use inks::Inks;
use job::{Edit, Job, PictureFile, Separation, Tone};
use measure::{Angle, Length, Resolution, Ruling};

/// A red disc and a blue bar on white.
pub(super) fn two_inks() -> Job {
    let picture = image::RgbImage::from_fn(60, 50, |x, y| {
        let r = (f64::from(x) - 20.0).hypot(f64::from(y) - 25.0);
        image::Rgb(match (r < 12.0, (40..52).contains(&x) && (8..42).contains(&y)) {
            (true, _) => [210, 30, 40],
            (_, true) => [20, 50, 190],
            _ => [255, 255, 255],
        })
    });
    let mut png = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
    Job {
        picture: Some(PictureFile { name: "two.png".into(), bytes: png.into_inner().into() }),
        width: Length::inches(15.0),
        resolution: Resolution::ppi(60.0),
        ..Job::default()
    }
}

/// The same with a screen for each ink.
fn separated() -> Job {
    two_inks().apply(Edit::Inks(Some(Separation::default()))).unwrap()
}

/// A window on the Film step.
fn at_film(job: Job) -> super::Window {
    let mut window = window(job);
    window.state_mut().step = Step::Film;
    settle(&mut window);
    window
}

fn names(window: &super::Window) -> Vec<String> {
    let film = window.state().stages.shown().unwrap();
    film.screens.iter().map(|screen| screen.name.clone()).collect()
}

#[test]
fn inks_are_found_changed_and_taken_back() {
    let mut window = at_film(two_inks());
    click(&mut window, "One screen for each ink");
    settle(&mut window);
    assert_eq!(names(&window), ["Red", "Blue"]);
    click(&mut window, "2 Blue");
    settle(&mut window);
    assert_eq!(window.state().canvas.screens.shown, Some(1));
    enter(&mut window, "Ink name", "Night");
    assert_eq!(names(&window), ["Red", "Night"]);
    click(&mut window, "Print earlier");
    settle(&mut window);
    assert_eq!(names(&window), ["Night", "Red"]);
    assert_eq!(window.state().canvas.screens.shown, Some(0));
    enter(&mut window, "Ink colour", "#102030");
    let plates = window.state().stages.plates().unwrap().clone();
    assert_eq!(plates.inks()[0].colour.to_string(), "#102030");
    click(&mut window, "White underbase");
    settle(&mut window);
    assert_eq!(names(&window), ["Underbase", "Night", "Red"]);
    enter(&mut window, "Trap", "0.5mm");
    assert_eq!(window.state().job().inks.as_ref().unwrap().trap, Length::mm(0.5));
    click(&mut window, "2 Night");
    settle(&mut window);
    click(&mut window, "Leave open");
    settle(&mut window);
    assert_eq!(names(&window), ["Underbase", "Red"]);
    for _ in 0..7 {
        click(&mut window, "Undo");
        settle(&mut window);
    }
    assert_eq!(window.state().job(), &two_inks());
    assert!(window.state().stages.shown().unwrap().screens.is_empty());
}

#[test]
fn inks_are_picked_by_hand() {
    let mut window = at_film(separated());
    click(&mut window, "Inks are");
    click(&mut window, "as I say");
    settle(&mut window);
    click(&mut window, "Add an ink");
    settle(&mut window);
    let Inks::Picked(list) = &window.state().job().inks.as_ref().unwrap().inks else {
        panic!("inks are not picked");
    };
    assert_eq!(list.len(), 3);
    click(&mut window, "3 Grey");
    settle(&mut window);
    enter(&mut window, "Ink colour", "mauve");
    assert!(window.query_all_by_label_contains("is not a colour").count() > 0);
    enter(&mut window, "Ink colour", "#ffffff");
    let plates = window.state().stages.plates().unwrap().clone();
    assert_eq!(plates.inks()[2].colour.to_string(), "#ffffff");
}

/// The disc's red, clicked in the picture, which is turned and cropped.
#[test]
fn an_ink_is_picked_from_the_picture() {
    let crop = artwork::Crop { x: 5, y: 5, width: 50, height: 40 };
    let one = Separation { inks: Inks::AtMost(1), ..Separation::default() };
    let mut job = Job { inks: Some(one), turn: Angle::deg(90.0), ..two_inks() };
    job.art.crop = Some(crop);
    let mut window = at_film(job);
    let before = names(&window);
    assert_eq!(before.len(), 1, "{before:?}");
    click(&mut window, "Pick an ink from the picture");
    settle(&mut window);
    window.get_by_label("Click a place of the artwork; Esc gives it up");
    window.key_press(eframe::egui::Key::Escape);
    settle(&mut window);
    assert!(!window.state().is_picking());
    // Both the disc's and the bar's place: one of the two is an ink already.
    for at in [(20.0, 25.0), (46.0, 25.0)] {
        click(&mut window, "Pick an ink from the picture");
        settle(&mut window);
        let place = window.get_by_label(crate::canvas::PICK).rect();
        // A quarter turn clockwise: what was up is right, what was left is up.
        let (u, v) = ((at.0 + 0.5 - 5.0) / 50.0, (at.1 + 0.5 - 5.0) / 40.0);
        let at = place.min + vec2(1.0 - v, u) * place.size();
        window.hover_at(at);
        window.run_steps(2);
        window.drag_at(at);
        window.run_steps(2);
        window.drop_at(at);
        settle(&mut window);
        assert!(!window.state().is_picking());
    }
    assert_eq!(names(&window).len(), 2);
    let plates = window.state().stages.plates().unwrap().clone();
    let mut colours: Vec<String> = plates.inks().iter().map(|i| i.colour.to_string()).collect();
    colours.sort();
    assert_eq!(colours, ["#1432be", "#d21e28"]);
    click(&mut window, "Undo");
    settle(&mut window);
    assert_eq!(names(&window), before);
}

#[test]
fn two_inks_are_joined_and_parted_again() {
    let mut window = at_film(separated());
    click(&mut window, "1 Red");
    settle(&mut window);
    click(&mut window, "Join with");
    click(&mut window, "Blue");
    settle(&mut window);
    assert_eq!(names(&window), ["Blue"]);
    click(&mut window, "Part again");
    settle(&mut window);
    let mut parted = names(&window);
    parted.sort();
    assert_eq!(parted, ["Blue", "Red"]);
}

#[test]
fn each_screen_gets_its_own_sheets_and_all_the_same_frame_marks() {
    let mut window = at_film(separated());
    click(&mut window, "Sheet plan");
    click(&mut window, "each its fewest");
    settle(&mut window);
    let plans = window.state().job().inks.as_ref().unwrap().plans;
    assert_eq!(plans, job::Plans::Own);
    window.state_mut().step = Step::Sheets;
    settle(&mut window);
    enter(&mut window, "Pin marks", "-5in, 1in; 5in, 1in");
    enter(&mut window, "Tape marks", "1/2in");
    let marks = window.state().job().frame_marks.clone();
    let inch = Length::inches;
    let pin = |x| measure::Point::new(inch(x), inch(1.0));
    assert_eq!((marks.pins, marks.tape), (vec![pin(-5.0), pin(5.0)], Some(inch(0.5))));
    enter(&mut window, "Pin marks", "left");
    assert_eq!(window.state().job().frame_marks.pins.len(), 2, "nonsense changes nothing");
    enter(&mut window, "Pin marks", "");
    enter(&mut window, "Tape marks", "0");
    assert_eq!(window.state().job().frame_marks, job::FrameMarks::default());
}

#[test]
fn dots_are_set_and_their_beat_with_the_mesh_is_said() {
    let mut window = at_film(super::small_job());
    click(&mut window, "Grey becomes");
    click(&mut window, "dots");
    settle(&mut window);
    enter(&mut window, "Ruling", "11 lpi");
    enter(&mut window, "Angle", "0");
    let Tone::Dots { ruling, angle, .. } = window.state().job().tone else {
        panic!("no dots");
    };
    assert_eq!((ruling, angle), (Ruling::lpi(11.0), Angle::deg(0.0)));
    let beat = window.query_all_by_label_contains("on the 109 mesh").count();
    assert!(beat > 0, "the beat is not said");
    enter(&mut window, "Smallest dot", "0.5mm");
    assert_eq!(window.state().job().printing.smallest_dot, Length::mm(0.5));
    click(&mut window, "Allow for dot gain");
    settle(&mut window);
    enter(&mut window, "Wedge steps", "25: 0.21, 50: 0.45");
    let gain = window.state().job().printing.gain.clone().unwrap();
    assert_eq!(gain.steps, [(0.25, 0.21), (0.5, 0.45)]);
    enter(&mut window, "Wedge steps", "fifty");
    assert_eq!(window.state().job().printing.gain, Some(gain));
    let field = window.get_by_role_and_label(Role::TextInput, "Ruling");
    assert_eq!(field.value().as_deref(), Some("11 lpi"));
}
