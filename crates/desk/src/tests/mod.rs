//! Clicking through the window without a display: everything is found by its accessible name.

mod files;
mod fine;
mod hands;
mod inks;
mod look;
mod photo;
mod printer;
mod room;
mod shop;
mod typing;

use crate::Desk;
use eframe::egui::accesskit::Role;
use eframe::egui::{Modifiers, PointerButton, Pos2, Vec2, vec2};
use egui_kittest::{Harness, kittest::Queryable};
use job::{Job, PictureFile};
use measure::{Length, Resolution};
use std::time::{Duration, Instant};

type Window = Harness<'static, Desk>;

/// A ring on white, small enough to be filmed at once.
fn ring() -> Vec<u8> {
    let picture = image::GrayImage::from_fn(60, 50, |x, y| {
        let r = (f64::from(x) - 30.0).hypot(f64::from(y) - 25.0);
        image::Luma([if (12.0..22.0).contains(&r) { 0 } else { 255 }])
    });
    let mut png = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
    png.into_inner()
}

fn small_job() -> Job {
    Job {
        title: "Paper boats".into(),
        picture: Some(PictureFile { name: "ring.png".into(), bytes: ring().into() }),
        garment: garment::Garment::named("tee-m"),
        width: Length::inches(30.0),
        resolution: Resolution::ppi(40.0),
        ..Job::default()
    }
}

fn window(job: Job) -> Window {
    window_of(job, vec2(1360.0, 860.0))
}

fn window_of(job: Job, size: Vec2) -> Window {
    let builder = Harness::builder().with_size(size);
    let mut window = builder.build_eframe(|cc| Desk::new(&cc.egui_ctx, job, None, None));
    settle(&mut window);
    window
}

/// Lets everything be worked out, and the window come to rest.
fn settle(window: &mut Window) {
    let begun = Instant::now();
    let mut calm = 0;
    while calm < 4 {
        window.step();
        calm = if window.state().is_at_rest() { calm + 1 } else { 0 };
        std::thread::sleep(Duration::from_millis(3));
        assert!(begun.elapsed() < Duration::from_secs(60), "the window does not come to rest");
    }
}

/// Clicks what has this name.
fn click(window: &mut Window, name: &str) {
    window.get_by_label(name).scroll_to_me();
    window.run_steps(3);
    window.get_by_label(name).click();
    window.run_steps(3);
}

/// Drags what has this name, in a few movements as a hand does.
fn drag(window: &mut Window, name: &str, by: Vec2) {
    let from = window.get_by_label(name).rect().center();
    drag_from(window, from, by);
}

fn drag_from(window: &mut Window, from: Pos2, by: Vec2) {
    window.hover_at(from);
    window.step();
    let button = |pos, pressed| eframe::egui::Event::PointerButton {
        pos,
        button: PointerButton::Primary,
        pressed,
        modifiers: Modifiers::NONE,
    };
    window.event(button(from, true));
    window.step();
    for i in 1..=8 {
        window.hover_at(from + by * (i as f32 / 8.0));
        window.step();
    }
    window.event(button(from + by, false));
    settle(window);
}

/// Types into the field of this name and enters it.
fn enter(window: &mut Window, name: &str, text: &str) {
    window.get_by_role_and_label(Role::TextInput, name).focus();
    window.run_steps(2);
    window.key_press_modifiers(Modifiers::COMMAND, eframe::egui::Key::A);
    window.step();
    match text {
        "" => window.key_press(eframe::egui::Key::Delete),
        _ => window.event(eframe::egui::Event::Text(text.into())),
    }
    window.step();
    window.key_press(eframe::egui::Key::Enter);
    settle(window);
}
