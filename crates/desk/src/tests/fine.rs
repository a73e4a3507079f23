//! Lines too fine for the mesh, found, looked at and mended.

use super::{Window, click, enter, settle, small_job, window};
use crate::step::Step;
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use job::{Job, Mended, PictureFile};
use measure::{Length, Resolution};

/// A block, and two lines 0.4 mm wide once they are on the film.
fn hairlines() -> Window {
    let picture = image::GrayImage::from_fn(200, 100, |x, y| {
        let ink = (20..80).contains(&x) || (110..112).contains(&x) || (150..152).contains(&x);
        image::Luma([if ink && (10..90).contains(&y) { 0 } else { 255 }])
    });
    let mut png = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
    let picture = PictureFile { name: "lines.png".into(), bytes: png.into_inner().into() };
    // At 254 ppi a pixel is 0.1 mm; each line is four of them.
    let (width, resolution) = (Length::mm(40.0), Resolution::ppi(254.0));
    let job = Job { picture: Some(picture), width, resolution, garment: None, ..small_job() };
    let mut window = window(job);
    window.state_mut().step = Step::Film;
    settle(&mut window);
    window
}

#[test]
fn hairlines_are_found_stepped_through_and_mended() {
    let mut window = hairlines();
    enter(&mut window, "Finest line", "0.8 mm");
    window.get_by_label("2 places are too fine");
    click(&mut window, "Next fine place");
    window.get_by_label_contains("Place 1 of 2: line of 0.");
    let looked_at = |window: &Window| {
        let desk = window.state();
        let at = desk.fine_on_table(&desk.fine_place().unwrap()).unwrap();
        let (x, y) = desk.canvas.eye().middle_mm;
        assert!((at.x.to_mm() - x).abs() < 1e-6 && (at.y.to_mm() - y).abs() < 1e-6);
        x
    };
    let first = looked_at(&window);
    window.key_press(Key::F3);
    window.run_steps(3);
    window.get_by_label_contains("Place 2 of 2: line of 0.");
    assert!((looked_at(&window) - first).abs() > 7.0);
    window.key_press_modifiers(Modifiers::SHIFT, Key::F3);
    window.run_steps(3);
    click(&mut window, "Mend this place");
    settle(&mut window);
    window.get_by_label("1 place is too fine");
    window.get_by_label("Mended 1 place");
    click(&mut window, "Undo");
    settle(&mut window);
    window.get_by_label("2 places are too fine");
    click(&mut window, "Mend every fine place");
    settle(&mut window);
    window.get_by_label("No place is too fine");
    assert_eq!(window.state().job().mend.as_ref().unwrap().places, Mended::All);
    click(&mut window, "Mend nothing");
    settle(&mut window);
    window.get_by_label("2 places are too fine");
}

/// A printer's ink spreads by a tenth of a millimetre, and the film is drawn in for that: what
/// was mended is as wide on paper as it was mended to.
#[test]
fn what_is_drawn_in_for_the_printer_is_not_too_fine() {
    let mut window = hairlines();
    let mut profile = job::Profile::true_to_size("Wide", "Clear");
    profile.spread = Length::mm(0.1);
    let edit = job::Edit::Printer(Some(profile));
    window.state_mut().queue.push(crate::action::Action::Edit(edit));
    settle(&mut window);
    enter(&mut window, "Finest line", "0.8 mm");
    window.get_by_label("2 places are too fine");
    click(&mut window, "Mend every fine place");
    settle(&mut window);
    window.get_by_label("No place is too fine");
}
