//! Everything that is dragged, and its keyboard twin.

use super::{click, drag, enter, settle, small_job, window};
use crate::command::Command;
use crate::step::Step;
use eframe::egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;
use measure::{Length, Point};

#[test]
fn the_artwork_is_dragged_undone_and_made_again() {
    let mut window = window(small_job());
    window.state_mut().canvas.snapping = false;
    drag(&mut window, "Artwork on the garment", vec2(40.0, 25.0));
    let moved = window.state().job().offset;
    let per_mm = window.state().canvas.eye().points_per_mm;
    assert!(
        (moved.x.to_mm() * per_mm - 40.0).abs() < 0.01,
        "{moved:?}: the way dragged counts whole"
    );
    assert!((moved.y.to_mm() * per_mm - 25.0).abs() < 0.01);
    click(&mut window, "Undo");
    assert_eq!(window.state().job().offset, Point::default(), "a drag is one step");
    click(&mut window, "Redo");
    assert_eq!(window.state().job().offset, moved);
}

#[test]
fn a_dragged_artwork_catches_on_the_garments_middle() {
    let mut window = window(small_job());
    drag(&mut window, "Artwork on the garment", vec2(3.0, 80.0));
    let offset = window.state().job().offset;
    assert!(offset.x.abs() < Length::mm(1e-6), "{offset:?} caught on the centre line");
    assert!(offset.y > Length::mm(10.0));
}

#[test]
fn a_corner_scales_and_the_opposite_corner_stays() {
    let mut window = window(small_job());
    let before = window.state().film_rect().unwrap();
    drag(&mut window, "Scale by the bottom right corner", vec2(-60.0, -50.0));
    let after = window.state().film_rect().unwrap();
    assert!(after.size.width < before.size.width * 0.95);
    // The film's height is whole pixels, so the corner may move by part of one.
    let pixel = window.state().job().resolution.pixel();
    assert!(
        (after.origin.x - before.origin.x).abs() < pixel
            && (after.origin.y - before.origin.y).abs() < pixel
    );
}

#[test]
fn arrow_keys_do_what_dragging_does() {
    let mut window = window(small_job());
    window.get_by_label("Artwork on the garment").focus();
    window.run_steps(2);
    window.key_press(Key::ArrowRight);
    window.run_steps(2);
    window.key_press_modifiers(Modifiers::SHIFT, Key::ArrowDown);
    settle(&mut window);
    let sixteenth = Length::inches(1.0 / 16.0);
    let offset = window.state().job().offset;
    assert!(
        (offset.x - sixteenth).abs() < Length::mm(1e-6)
            && (offset.y - sixteenth * 10.0).abs() < Length::mm(1e-6)
    );
}

#[test]
fn a_dragged_sheet_is_pinned_where_it_was_put_and_let_go_again() {
    let mut window = window(small_job());
    window.state_mut().step = Step::Sheets;
    settle(&mut window);
    let before = window.state().stages.layout().unwrap().plan.sheets[0].placed.rect;
    window.state_mut().canvas.snapping = false;
    drag(&mut window, "Sheet A1", vec2(-12.0, -9.0));
    let desk = window.state();
    let [pinned] = desk.job().pinned.as_slice() else { panic!("{:?}", desk.job().pinned) };
    let per_mm = desk.canvas.eye().points_per_mm;
    assert!(
        ((pinned.rect.origin.x - before.origin.x).to_mm() * per_mm + 12.0).abs() < 0.6,
        "{pinned:?} {before:?}"
    );
    let plan = &desk.stages.layout().unwrap().plan;
    assert!(plan.sheets.iter().any(|s| s.pinned), "{:?}", plan.sheets);
    click(&mut window, "Let every sheet go");
    settle(&mut window);
    assert!(window.state().job().pinned.is_empty());
}

#[test]
fn the_overlap_and_the_sheet_are_pulled_by_their_handles() {
    let mut window = window(small_job());
    window.state_mut().step = Step::Sheets;
    settle(&mut window);
    let before = window.state().job().clone();
    let strip = window.get_by_label("Width of the overlap").rect();
    drag(&mut window, "Width of the overlap", vec2(8.0, 8.0));
    let overlap = window.state().job().overlap;
    assert!(overlap > before.overlap, "{overlap:?} at {strip:?}");
    drag(&mut window, "Size of the sheet", vec2(-30.0, -20.0));
    let size = window.state().job().stocks[0].size;
    assert!(size.width < before.stocks[0].size.width && size.height < before.stocks[0].size.height);
    click(&mut window, "Undo");
    click(&mut window, "Undo");
    assert_eq!(window.state().job(), &before);
}

#[test]
fn cropping_by_hand_leaves_what_stays_where_it_was() {
    let mut window = window(small_job());
    let before = window.state().film_rect().unwrap();
    window.state_mut().canvas.cropping = true;
    settle(&mut window);
    drag(&mut window, "Crop the left edge", vec2(50.0, 0.0));
    let desk = window.state();
    let crop = desk.job().art.crop.unwrap();
    assert!(crop.x > 0 && crop.x + crop.width == 60 && crop.height == 50, "{crop:?}");
    let after = desk.film_rect().unwrap();
    assert!((after.right() - before.right()).abs() < Length::mm(0.7), "{before:?} {after:?}");
    window.state_mut().queue.push(crate::action::Action::Do(Command::Undo));
    settle(&mut window);
    assert_eq!(window.state().job(), &small_job());
}

#[test]
fn the_cut_level_is_dragged_over_the_histogram() {
    let mut window = window(small_job());
    let slider = window.get_by_label("Cut level").rect();
    super::drag_from(&mut window, slider.center(), vec2(slider.width() * 0.2, 0.0));
    let artwork::Cut::At(level) = window.state().job().art.cut else { panic!("no level was set") };
    assert!((level - 0.3).abs() < 0.02, "{level}");
}

#[test]
fn a_seam_is_bent_by_its_nodes_and_let_go_again() {
    let mut window = window(small_job());
    window.state_mut().step = Step::Sheets;
    settle(&mut window);
    let seams = window.state().stages.seams().unwrap().clone();
    assert!(!seams.seams().is_empty());
    // The longest has room to be bent in.
    let length = |s: &sheets::Seam| {
        (s.points[1].x - s.points[0].x).abs() + (s.points[1].y - s.points[0].y).abs()
    };
    let longest = |a: &&usize, b: &&usize| {
        length(&seams.seams()[**a]).to_mm().total_cmp(&length(&seams.seams()[**b]).to_mm())
    };
    let all: Vec<usize> = (0..seams.seams().len()).collect();
    let long = *all.iter().max_by(longest).unwrap();
    window.state_mut().queue.push(crate::action::Action::ChooseSeam(Some(long)));
    settle(&mut window);
    let layout = window.state().stages.layout().unwrap().clone();
    let name = |i: usize| layout.plan.sheets[i].name.clone();
    let [a, b] = seams.seams()[long].between.map(name);
    drag(&mut window, &format!("New bend 1 of the seam {a} to {b}"), vec2(9.0, 9.0));
    let desk = window.state();
    assert_eq!(desk.job().hand_seams.len(), 1);
    assert_eq!(desk.job().hand_seams[0].points.len(), seams.seams()[long].points.len() + 1);
    assert_ne!(
        desk.stages.seams().unwrap().seams()[long].points,
        seams.seams()[long].points,
        "it was weighed anew"
    );
    // The same by typing.
    let bend = window.state().job().hand_seams[0].points[1];
    enter(&mut window, "Bend 1 from the left", &format!("{}mm + 2mm", bend.x.to_mm()));
    settle(&mut window);
    let by = window.state().job().hand_seams[0].points[1].x - bend.x;
    assert!((by - Length::mm(2.0)).abs() < Length::mm(1e-6), "{by:?}");
    let bends =
        |window: &super::Window| window.state().stages.seams().unwrap().seams()[long].points.len();
    let before = bends(&window);
    assert!(before <= 7, "{before} points after one bend");
    click(&mut window, "New bend");
    settle(&mut window);
    assert_eq!(bends(&window), before + 1);
    click(&mut window, "Let every seam go");
    settle(&mut window);
    assert_eq!(window.state().stages.seams().unwrap().seams(), seams.seams());
}

#[test]
fn the_worst_of_many_slips_is_shown_and_taken_back() {
    let mut window = window(small_job());
    window.state_mut().step = Step::Sheets;
    settle(&mut window);
    click(&mut window, "Worst of 200");
    settle(&mut window);
    let what_if = &window.state().canvas.slips;
    assert!(what_if.shown && what_if.slips.iter().any(|s| *s != sheets::Slip::default()));
    let half = Length::mm(0.5 + 1e-6);
    assert!(what_if.slips.iter().all(|s| s.right.abs() <= half && s.down.abs() <= half));
    let job = window.state().job().clone();
    assert_eq!(job, small_job(), "only to look: the job is as it was");
    click(&mut window, "Back in place");
    assert!(!window.state().canvas.slips.shown);
}

/// What a frame of dragging costs without the graphics card, over a film of 136 million pixels.
/// `cargo test -p desk -- --ignored --nocapture` prints it.
#[test]
#[ignore = "a measurement"]
fn frame_cost() {
    let job = job::Job {
        picture: small_job().picture,
        garment: small_job().garment,
        ..job::Job::default()
    };
    let mut window = window(job);
    let from = window.get_by_label("Artwork on the garment").rect().center();
    let button = |pos, pressed| eframe::egui::Event::PointerButton {
        pos,
        button: eframe::egui::PointerButton::Primary,
        pressed,
        modifiers: Modifiers::NONE,
    };
    window.hover_at(from);
    window.event(button(from, true));
    window.step();
    let mut frames: Vec<f64> = Vec::new();
    for i in 0..200 {
        window.hover_at(from + vec2((i % 40) as f32, (i % 17) as f32));
        let begun = std::time::Instant::now();
        window.step();
        frames.push(begun.elapsed().as_secs_f64() * 1e3);
    }
    frames.sort_by(f64::total_cmp);
    eprintln!("median {:.2} ms, worst {:.2} ms", frames[100], frames[199]);
}

#[test]
fn the_artwork_is_turned_by_its_handle_by_keys_and_by_a_number() {
    let mut window = window(small_job());
    let turn = |window: &super::Window| window.state().job().turn.to_deg();
    let (handle, middle) = {
        let desk = window.state();
        let handle = window.get_by_label("Turn the artwork").rect().center();
        let film = desk.film_rect().unwrap().center();
        (handle, desk.canvas.eye().screen_from_table(film, desk.canvas.rect))
    };
    // To a place 44 degrees on about the artwork's middle: 45 is near and catches.
    let to =
        middle + eframe::egui::emath::Rot2::from_angle(44_f32.to_radians()) * (handle - middle);
    drag(&mut window, "Turn the artwork", to - handle);
    assert_eq!(turn(&window), 45.0);
    let size = window.state().film_size().unwrap();
    // 30 x 25 in turned by 45 degrees is (30 + 25) / sqrt 2 on both sides.
    let side = Length::inches(55.0 / std::f64::consts::SQRT_2);
    let pixel = window.state().job().resolution.pixel();
    assert!((size.width - side).abs() < pixel && (size.height - side).abs() < pixel, "{size:?}");
    assert_eq!(window.state().history.undo_name(), Some("turn the artwork"));
    click(&mut window, "Undo");
    assert_eq!(turn(&window), 0.0, "a drag is one step");
    window.get_by_label("Turn the artwork").focus();
    window.run_steps(2);
    window.key_press(Key::ArrowRight);
    window.run_steps(2);
    window.key_press_modifiers(Modifiers::SHIFT, Key::ArrowDown);
    settle(&mut window);
    assert_eq!(turn(&window), 11.0);
    window.state_mut().step = Step::Garment;
    settle(&mut window);
    super::enter(&mut window, "Turn", "-30deg");
    assert_eq!(turn(&window), -30.0);
    click(&mut window, "Turn the artwork a quarter");
    settle(&mut window);
    assert_eq!(turn(&window), 60.0);
    click(&mut window, "Lay the artwork upright");
    settle(&mut window);
    assert_eq!(turn(&window), 0.0);
}

#[test]
fn a_crop_of_turned_artwork_leaves_what_stays_where_it_was() {
    let mut job = small_job();
    job.turn = measure::Angle::deg(90.0);
    let mut window = window(job);
    let before = window.state().film_rect().unwrap();
    window.state_mut().canvas.cropping = true;
    settle(&mut window);
    // The picture's top edge is the right one now.
    drag(&mut window, "Crop the top edge", vec2(-60.0, 0.0));
    let crop = window.state().job().art.crop.expect("a crop");
    assert!(crop.y > 0 && crop.x == 0 && crop.y + crop.height == 50, "{crop:?}");
    let after = window.state().film_rect().unwrap();
    let pixel = window.state().job().resolution.pixel();
    assert!((after.left() - before.left()).abs() < pixel, "{before:?} {after:?}");
    assert!(after.right() < before.right() && (after.top() - before.top()).abs() < pixel);
}
