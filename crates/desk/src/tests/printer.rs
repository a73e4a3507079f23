//! The film printer, calibrated in the window.

use super::{click, enter, settle, small_job, window};
use crate::film_printers::FilmPrinters;
use crate::step::Step;
use egui_kittest::kittest::Queryable;

#[test]
fn a_printer_is_calibrated_by_typing_what_was_read() {
    let dir = tempfile::tempdir().unwrap();
    let mut window = window(small_job());
    window.state_mut().home = Some(dir.path().to_owned());
    window.state_mut().out_dir = Some(dir.path().join("films").display().to_string());
    window.state_mut().step = Step::Sheets;
    settle(&mut window);
    click(&mut window, "Calibrate a film printer");
    settle(&mut window);
    enter(&mut window, "Its name", "Wide one");
    enter(&mut window, "Film's name", "Clear film");
    click(&mut window, "Write the page");
    settle(&mut window);
    assert!(dir.path().join("films/calibration.pdf").exists());
    // 300 and 460 mm are drawn on a sheet of 13 x 19 in.
    enter(&mut window, "A to C, across", "301.2mm");
    enter(&mut window, "A to G, down", "458.62mm");
    click(&mut window, "Keep what was read");
    settle(&mut window);
    let chosen = window.state().job().printer.clone().expect("a printer");
    assert!((chosen.scale_x - 1.004).abs() < 1e-12 && (chosen.scale_y - 0.997).abs() < 1e-12);
    assert_eq!((&chosen.printer[..], &chosen.film[..]), ("Wide one", "Clear film"));
    // 0.3 % over 19 in.
    assert!(window.query_all_by_label_contains("-1.4 mm down").count() > 0);
    assert_eq!(FilmPrinters::read(dir.path()).known, [chosen]);
    click(&mut window, "Undo");
    assert_eq!(window.state().job(), &small_job());
    // What cannot be is said, and changes nothing.
    enter(&mut window, "A to C, across", "30mm");
    enter(&mut window, "A to G, down", "460mm");
    click(&mut window, "Keep what was read");
    settle(&mut window);
    assert_eq!(window.state().job(), &small_job());
    assert!(window.query_all_by_label_contains("was read as 30 mm").count() > 0);
}
