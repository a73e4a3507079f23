//! The Screen step: the shop's plan, its drawings, the test strip, the notebook, the shelf.

use super::{Window, click, enter, settle, small_job, window};
use crate::Desk;
use crate::step::Step;
use eframe::egui::{accesskit::Role, vec2};
use egui_kittest::{Harness, kittest::Queryable};
use job::{Job, Separation};
use progress::Progress;
use shop::{Notebook, Observation, Quantity, Shop};
use std::path::Path;

/// A window on the Screen step that keeps the shop in a folder.
fn at_screen(home: Option<&Path>) -> Window {
    let mut window = match home {
        None => window(small_job()),
        Some(home) => {
            let home = home.to_owned();
            let builder = Harness::builder().with_size(vec2(1360.0, 860.0));
            let mut window =
                builder.build_eframe(|cc| Desk::new(&cc.egui_ctx, small_job(), None, Some(home)));
            window.state_mut().dialog = None;
            settle(&mut window);
            window
        }
    };
    window.state_mut().step = Step::Screen;
    settle(&mut window);
    window
}

#[test]
fn the_window_reckons_what_the_command_reckons() {
    let window = at_screen(None);
    let Some(Ok(shown)) = window.state().stages.plans() else { panic!("no plan") };
    let nothing = Notebook::default();
    let job = small_job();
    let plans = job::reckon_screens(&job, &Shop::default(), &nothing, &Progress::none()).unwrap();
    assert!(**shown == plans, "two plans of one job");
}

/// A job of two inks: each screen's figures by its name, all together, notes a screen, and the
/// same tickets as the command's.
#[test]
fn every_screen_has_its_plan_and_all_have_one_ticket() {
    let job = Job { inks: Some(Separation::default()), ..super::inks::two_inks() };
    let mut window = window(job.clone());
    window.state_mut().step = Step::Screen;
    settle(&mut window);
    let nothing = Notebook::default();
    let plans = job::reckon_screens(&job, &Shop::default(), &nothing, &Progress::none()).unwrap();
    {
        let Some(Ok(shown)) = window.state().stages.plans() else { panic!("no plan") };
        assert!(**shown == plans, "two plans of one job");
    }
    assert!(window.query_by_label("All 2 screens, cost in USD").is_some());
    assert!(window.query_by_label("Screens in all").is_some(), "the sum is open");
    assert!(window.query_by_label("Lay-down").is_none() && window.state().plan().is_none());
    window.get_by_role_and_label(Role::ComboBox, "Screen").click();
    window.run_steps(3);
    click(&mut window, "2 Blue");
    settle(&mut window);
    assert!(window.query_by_label("Lay-down").is_some());
    assert_eq!(window.state().canvas.screens.shown, Some(1), "its film lies on the table");
    let blue = window.state().plan().unwrap().clone();
    assert!(blue == plans.screens[1].plan);
    assert_eq!(window.state().screen_name(), blue.job);
    // The disc is the larger: pi 12^2 against 12 x 34 of 60 x 50 picture pixels; the print is
    // 15 x 12.5 in.
    let whole_m2 = 15.0 * 12.5 * 0.0254 * 0.0254;
    let area = window.state().printed_m2().unwrap();
    assert!((area / (12.0 * 34.0 / 3000.0 * whole_m2) - 1.0).abs() < 0.03, "{area}");

    let dir = tempfile::tempdir().unwrap();
    let (ours, theirs) = (dir.path().join("window"), dir.path().join("command"));
    window.state_mut().step = Step::Print;
    settle(&mut window);
    enter(&mut window, "Folder", &ours.display().to_string());
    click(&mut window, "Write the job ticket");
    settle(&mut window);
    let written = plans.write_tickets(job::shop::Paper::Letter, &theirs).unwrap();
    assert_eq!(written.len(), 3);
    for path in written {
        let name = path.file_name().unwrap();
        assert!(std::fs::read(ours.join(name)).unwrap() == std::fs::read(&path).unwrap());
    }
}

/// Screens with sheets of their own are reckoned with those, whichever is shown.
#[test]
fn own_sheets_are_reckoned_as_by_the_command() {
    let inks = Some(Separation { plans: job::Plans::Own, ..Separation::default() });
    let job = Job { inks, ..super::inks::two_inks() };
    let nothing = Notebook::default();
    let plans = job::reckon_screens(&job, &Shop::default(), &nothing, &Progress::none()).unwrap();
    let sheets = |one: &job::ScreenPlan| one.plan.sections.clone();
    assert!(sheets(&plans.screens[0]) != sheets(&plans.screens[1]));
    let mut window = window(job);
    window.state_mut().step = Step::Screen;
    settle(&mut window);
    for shown in [0, 1] {
        window.state_mut().ask(crate::action::Action::ShowScreen(Some(shown)));
        settle(&mut window);
        let Some(Ok(seen)) = window.state().stages.plans() else { panic!("no plan") };
        assert!(**seen == plans, "two plans of one job");
    }
}

#[test]
fn the_ticket_of_the_window_is_the_commands_ticket() {
    let dir = tempfile::tempdir().unwrap();
    let (ours, theirs) = (dir.path().join("window"), dir.path().join("command"));
    let mut window = at_screen(None);
    window.state_mut().step = Step::Print;
    settle(&mut window);
    enter(&mut window, "Folder", &ours.display().to_string());
    click(&mut window, "Write the job ticket");
    settle(&mut window);
    let nothing = Notebook::default();
    let job = small_job();
    let plans = job::reckon_screens(&job, &Shop::default(), &nothing, &Progress::none()).unwrap();
    plans.write_tickets(job::shop::Paper::Letter, &theirs).unwrap();
    let read = |dir: &Path| std::fs::read(dir.join("ticket.pdf")).unwrap();
    assert!(read(&ours) == read(&theirs));
}

#[test]
fn a_test_strip_becomes_the_shops_time() {
    let dir = tempfile::tempdir().unwrap();
    let mut window = at_screen(None);
    window.state_mut().out_dir = Some(dir.path().display().to_string());
    click(&mut window, "Test strip and time");
    enter(&mut window, "Guess", "100 s");
    click(&mut window, "Write the test strip");
    settle(&mut window);
    assert!(dir.path().join("strip.pdf").exists());
    // Eight bands of half stops about 100 s: the fourth is 100 / 2^(1/4), the sixth twice that.
    enter(&mut window, "First that held", "4");
    enter(&mut window, "Last that opened", "6");
    click(&mut window, "Use the strip's time");
    settle(&mut window);
    let known = &window.state().shop.settings.exposure;
    assert!((known.time_secs - 100.0 * 2.0_f64.powf(0.25)).abs() < 0.01, "{}", known.time_secs);
    assert!((known.latitude - 2.0).abs() < 1e-9);
    enter(&mut window, "First that held", "7");
    assert!(window.query_all_by_label_contains("No time is good for both").count() > 0);
    // A wedge that held two steps too few: twice the time, to 2.5 % of the trade's tables.
    enter(&mut window, "Wedge exposed", "100");
    enter(&mut window, "Last step held", "5");
    click(&mut window, "Use the wedge's time");
    settle(&mut window);
    let secs = window.state().shop.settings.exposure.time_secs;
    assert!((secs / 200.0 - 1.0).abs() < 0.025, "{secs}");
}

#[test]
fn times_scale_with_distance_for_small_lamps_alone() {
    let mut window = at_screen(None);
    click(&mut window, "Test strip and time");
    settle(&mut window);
    // 300 s at 500 mm; at 750 mm 2.25 times that, by the square.
    enter(&mut window, "New distance", "750 mm");
    click(&mut window, "Use the scaled time and distance");
    settle(&mut window);
    assert!((window.state().shop.settings.exposure.time_secs - 675.0).abs() < 1e-9);
    let mut shop = window.state().shop.clone();
    shop.settings.lamp.kind = shop::LampKind::Panel;
    window.state_mut().queue.push(crate::action::Action::Shop(Box::new(shop)));
    settle(&mut window);
    enter(&mut window, "New distance", "500 mm");
    assert!(window.query_all_by_label_contains("does not hold for a panel").count() > 0);
}

#[test]
fn what_was_seen_says_what_to_do() {
    let mut window = at_screen(None);
    click(&mut window, "When something went wrong");
    settle(&mut window);
    let remedy = "Print a denser film";
    assert_eq!(window.query_all_by_label_contains(remedy).count(), 0);
    click(&mut window, "Fine gaps stayed closed");
    click(&mut window, "Coating washed away or went slimy");
    settle(&mut window);
    assert_eq!(window.query_all_by_label_contains(remedy).count(), 1);
}

#[test]
fn a_note_is_kept_and_offered_the_next_time() {
    let home = tempfile::tempdir().unwrap();
    let mut window = at_screen(Some(home.path()));
    click(&mut window, "Notebook");
    settle(&mut window);
    enter(&mut window, "Day", "2031-05-17");
    enter(&mut window, "Exposed for", "222 s");
    enter(&mut window, "Photo", "boats-1.jpg");
    click(&mut window, "Write it down");
    settle(&mut window);
    drop(window);
    let book = Notebook::read(&home.path().join("notebook.jsonl")).unwrap();
    let entry = book.entries().next().unwrap();
    assert_eq!((entry.screen.as_str(), entry.date.as_str()), ("Paper boats", "2031-05-17"));
    assert!(matches!(entry.seen, Observation::Exposed { secs: 222.0, good: true, .. }));
    let mut window = at_screen(Some(home.path()));
    click(&mut window, "Notebook");
    settle(&mut window);
    assert!(window.query_all_by_label_contains("exposed 3 min 42 s").count() > 0);
    click(&mut window, "Use this exposure time");
    settle(&mut window);
    assert_eq!(Shop::read(&home.path().join("shop.json")).unwrap(), window.state().shop);
    let plan = window.state().plan().expect("a plan");
    let figure = plan.section("exposure").unwrap().figure("time for one layer").unwrap();
    assert_eq!(figure.value, Quantity::Time(222.0));
}

#[test]
fn a_drawing_lies_on_the_table() {
    let mut window = at_screen(None);
    for (section, title) in [
        ("Lay-down", "Table or floor, to scale"),
        ("Exposure in parts", "Light over the screen, less where darker, and the lamp's places"),
        ("Squeegee strokes", "Lanes of the squeegee over the film and its seams"),
    ] {
        click(&mut window, section);
        settle(&mut window);
        let lay = format!("Lay it on the table: {title}");
        click(&mut window, &lay);
        settle(&mut window);
        assert!(window.query_by_role_and_label(Role::Image, title).is_some(), "{title}");
        click(&mut window, &format!("Show the film again: {title}"));
        settle(&mut window);
        assert!(window.state().at_shop.drawing.is_none());
        click(&mut window, section);
        settle(&mut window);
    }
}

#[test]
fn the_shelf_is_kept_and_reckoned_with() {
    let home = tempfile::tempdir().unwrap();
    let mut window = at_screen(Some(home.path()));
    click(&mut window, "The mesh in the frame");
    settle(&mut window);
    enter(&mut window, "Threads per cm", "61");
    enter(&mut window, "Thread", "64 μm");
    click(&mut window, "Frames on the shelf");
    settle(&mut window);
    click(&mut window, "Add a frame");
    settle(&mut window);
    enter(&mut window, "Frame 1 across", "1000mm");
    // A mesh that cannot be woven is refused, and what was there stays.
    enter(&mut window, "Threads per cm", "400");
    assert!(window.query_all_by_label_contains("mesh count is 400").count() > 0);
    let kept = Shop::read(&home.path().join("shop.json")).unwrap().settings;
    assert_eq!((kept.mesh.per_cm, kept.frames.len()), (61.0, 1));
    let plan = window.state().plan().expect("a plan");
    // 61 per cm with 64 um: 37.2 % open (a mesh table's 37 %, trade).
    let Quantity::Share(open) = plan.section("mesh").unwrap().figure("open area").unwrap().value
    else {
        panic!("no share")
    };
    assert!((open - 0.372).abs() < 5e-4, "{open}");
    assert!(plan.section("frame").unwrap().figure("shelf: frame 1").is_some());
}

#[test]
fn other_sizes_lie_on_the_same_screen() {
    let mut window = at_screen(None);
    window.state_mut().step = Step::Garment;
    settle(&mut window);
    click(&mut window, "also XL");
    settle(&mut window);
    enter(&mut window, "tee-xl half chest", "61cm");
    let also = &window.state().job().also;
    assert_eq!((also.len(), also[0].name.as_str()), (1, "tee-xl"));
    assert_eq!(also[0].get(garment::Measurement::Chest), measure::Length::cm(61.0));
    let facts = window.state().stages.facts()[0].facts.clone();
    assert_eq!(facts.garments.len(), 2);
    let film_at = [facts.garments[0].film_at, facts.garments[1].film_at];
    assert_eq!(film_at[0], film_at[1], "both lie by their collars");
    click(&mut window, "Undo");
    click(&mut window, "Undo");
    assert_eq!(window.state().job(), &small_job());
}
