//! Checks by photo: the card, what is found, and going through the places.

use super::{Window, click, enter, settle, small_job, window};
use crate::command::Command;
use crate::dialog::Dialog;
use crate::photo::Subject;
use crate::step::Step;
use bitmap::Bitmap;
use egui_kittest::kittest::Queryable;
use film::PlanFile;
use inspect::Place;
use job::{Job, PictureFile, Separation};
use progress::Progress;
use std::path::{Path, PathBuf};

/// Blots that look alike no other way round, on many sheets.
fn blots() -> Job {
    blots_of(|h| if h % 5 < 2 { [0; 3] } else { [255; 3] })
}

/// Blots whose colour is made of a number that looks random.
fn blots_of(colour: impl Fn(u32) -> [u8; 3]) -> Job {
    let picture = image::RgbImage::from_fn(60, 50, |x, y| {
        let mut h = (x / 5).wrapping_mul(0x9E37_79B1) ^ (y / 5).wrapping_mul(0x85EB_CA77);
        h = (h ^ (h >> 15)).wrapping_mul(0x2C1B_3C6D);
        image::Rgb(colour(h >> 13))
    });
    let mut png = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
    let picture = PictureFile { name: "blots.png".into(), bytes: png.into_inner().into() };
    Job { picture: Some(picture), garment: None, ..small_job() }
}

/// The films of a job in a folder, and what a photo of them is made from.
struct Films {
    dir: tempfile::TempDir,
    plan: PlanFile,
    film: Bitmap,
}

const AROUND: u32 = 70;

impl Films {
    fn of(job: &Job) -> Self {
        Self::last_of(job, 1)
    }

    /// The last of so many films.
    fn last_of(job: &Job, count: usize) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let done = job::build::export(job, dir.path(), &Progress::none()).unwrap();
        assert_eq!(done.films.len(), count);
        let name = done.films[count - 1].file_name().unwrap().to_str();
        let read = film::read_film(dir.path(), name, &Progress::none()).unwrap();
        Self { dir, plan: read.plan, film: read.drawing }
    }

    /// A photo in which a place of the film is as bright as `light` says of its ink.
    fn photo(&self, light: impl Fn(bool) -> u8, ink: impl Fn(i64, i64) -> bool) -> PathBuf {
        let (w, h) = (self.film.width() + 2 * AROUND, self.film.height() + 2 * AROUND);
        let picture = image::GrayImage::from_fn(w, h, |x, y| {
            image::Luma([light(ink(i64::from(x) - 70, i64::from(y) - 70))])
        });
        let path = self.dir.path().join("photo.png");
        image::imageops::blur(&picture, 0.8).save(&path).unwrap();
        path
    }

    fn ink(&self, x: i64, y: i64) -> bool {
        let inside = |v: i64, most: u32| (0..i64::from(most)).contains(&v);
        inside(x, self.film.width())
            && inside(y, self.film.height())
            && self.film.get(x as u32, y as u32)
    }

    /// The taped film, its first sheet slipped to the right by so many pixels.
    fn taped(&self, slip: i64) -> PathBuf {
        let within = |s: &film::PlanSheet, x: i64, y: i64| {
            (s.x_px..s.x_px + s.width_px).contains(&x)
                && (s.y_px..s.y_px + s.height_px).contains(&y)
        };
        self.photo(
            |ink| if ink { 45 } else { 225 },
            |x, y| {
                self.plan.sheets.iter().enumerate().any(|(n, s)| {
                    let x = if n == 0 { x - slip } else { x };
                    within(s, x, y) && self.ink(x, y)
                })
            },
        )
    }
}

fn check(window: &mut Window, subject: Subject, folder: &Path, photo: &Path) {
    window.state_mut().step = subject.step();
    settle(window);
    let title = match subject {
        Subject::Film => "Check the taped film by photo",
        Subject::Screen => "Check the screen by photo",
    };
    click(window, &format!("{title}…"));
    let heading = window.get_by_label(title).rect();
    let below = window.get_by_label_contains("One photo from above").rect();
    assert!(heading.bottom() <= below.top(), "the card lies on its title: {heading} {below}");
    enter(window, "Films' folder", &folder.display().to_string());
    enter(window, "Photo", &photo.display().to_string());
    assert!(window.query_by_label("The photo").is_some(), "the photo is shown on the card");
    let (go, screen) = (window.get_by_label("Check").rect(), window.ctx.content_rect());
    assert!(go.bottom() < screen.bottom() - 8.0, "{go} is cut off by {screen}");
    click(window, "Check");
    settle(window);
}

#[test]
fn a_slipped_sheet_is_shown_with_its_seams() {
    let films = Films::of(&blots());
    let mut window = window(blots());
    // 3 pixels of 1/40 in are 1.9 mm.
    let photo = films.taped(3);
    check(&mut window, Subject::Film, films.dir.path(), &photo);
    window.get_by_label("The film has a fault (photo.png)");
    let name = &films.plan.sheets[0].name;
    let checked = window.state().photo.found(Subject::Film).unwrap().clone();
    let crate::photo::Found::Film(report) = &checked.found else { panic!("a film's check") };
    let mut told = 0;
    for seam in &report.seams {
        let [a, b] = &seam.between;
        let line = window.query_all_by_label_contains(&format!("{a} to {b}: ")).count();
        assert_eq!(line, 1, "{a} to {b} is told once");
        let touches = seam.between.contains(name);
        if let Some(jog) = seam.jog_mm {
            let truth = if touches { 3.0 * 25.4 / 40.0 } else { 0.0 };
            let most = seam.sd_mm.map_or(0.2, |sd| (1.1 * sd).max(0.2));
            assert!(most < 0.4, "{a} to {b}: measured, but known to {:?} mm only", seam.sd_mm);
            assert!((jog - truth).abs() < most, "{a} to {b}: {jog}, really {truth}");
            told += usize::from(touches);
        }
    }
    assert!(told > 0, "no seam of the slipped sheet was measured");
    window.get_by_label_contains(&format!("{name}: in place, "));
    click(&mut window, "Put the result away");
    assert!(window.query_by_label_contains("The film has a fault").is_none());
}

#[test]
fn a_photo_of_something_else_is_not_sure_and_says_what_to_do() {
    let films = Films::of(&blots());
    let mut window = window(blots());
    let table = films.photo(|ink| if ink { 45 } else { 225 }, |_, _| false);
    for subject in [Subject::Film, Subject::Screen] {
        check(&mut window, subject, films.dir.path(), &table);
        window.get_by_label_contains("Not sure");
        window.get_by_label_contains("The drawing was not made out: photograph all of it");
        assert!(window.query_by_label_contains("in place").is_none());
        assert!(window.query_by_label_contains("was seen").is_none(), "nothing was looked at");
        click(&mut window, "Put the result away");
    }
}

#[test]
fn a_film_that_looks_alike_several_ways_asks_for_its_corners() {
    let ring = || Job { garment: None, ..small_job() };
    let films = Films::of(&ring());
    let mut window = window(ring());
    let photo = films.taped(0);
    check(&mut window, Subject::Film, films.dir.path(), &photo);
    window.get_by_label_contains("Not sure");
    window
        .get_by_label("The drawing looks alike several ways: give its four corners in the photo.");
    // The card comes back as it was left; one corner clicked and then all of them typed.
    click(&mut window, "Check the taped film by photo…");
    settle(&mut window);
    window.get_by_label("The photo").scroll_to_me();
    window.run_steps(4);
    let place = window.get_by_label("The photo").rect();
    window.hover_at(place.center());
    window.get_by_label("The photo").click();
    window.run_steps(3);
    let clicked = |window: &Window| match &window.state().dialog {
        Some(Dialog::Photo(card)) => card.corners.clone(),
        other => panic!("{other:?}"),
    };
    let middle = clicked(&window)[0];
    let half = [films.film.width() + 2 * AROUND, films.film.height() + 2 * AROUND];
    for k in 0..2 {
        assert!((middle[k] - f64::from(half[k]) / 2.0).abs() < 4.0, "{middle:?}");
    }
    window.get_by_label("give all four corners, or none");
    let (r, b) = (AROUND + films.film.width(), AROUND + films.film.height());
    enter(&mut window, "Corners", &format!("{AROUND},{AROUND} {r},{AROUND} {r},{b} {AROUND},{b}"));
    assert_eq!(clicked(&window).len(), 4);
    click(&mut window, "Check");
    settle(&mut window);
    assert_eq!(window.state().photo.found(Subject::Film).unwrap().lies(), Place::Known);
    assert!(window.query_by_label_contains("looks alike several ways").is_none());
}

#[test]
fn of_several_films_the_one_in_the_photo_is_chosen() {
    let inks = [[200, 30, 40], [30, 60, 160], [255; 3]];
    let job =
        Job { inks: Some(Separation::default()), ..blots_of(|h| inks[h as usize % inks.len()]) };
    let films = Films::last_of(&job, 2);
    let (dir, photo) = (films.dir.path(), films.taped(0));
    let options = inspect::Options::default();
    let unsaid = job::check::photo(dir, None, &photo, &options, &Progress::none()).unwrap_err();
    assert!(matches!(&unsaid, job::JobError::WhichFilm { films } if films.len() == 2), "{unsaid}");
    let names: Vec<String> = film::Plans::read(dir).unwrap().films().map(str::to_owned).collect();
    let mut window = window(job);
    window.state_mut().step = Step::Print;
    settle(&mut window);
    click(&mut window, "Check the taped film by photo…");
    enter(&mut window, "Films' folder", &dir.display().to_string());
    enter(&mut window, "Photo", &photo.display().to_string());
    window.get_by_label("Film in the photo").click();
    window.run_steps(3);
    click(&mut window, &names[1]);
    click(&mut window, "Check");
    settle(&mut window);
    let checked = window.state().photo.found(Subject::Film).unwrap().clone();
    let crate::photo::Found::Film(report) = &checked.found else { panic!("a film's check") };
    assert_ne!(report.verdict, inspect::Verdict::Fault, "{report:?}");
    assert!(report.sheets.iter().any(|s| s.found == inspect::Found::InPlace), "{report:?}");
}

#[test]
fn a_rulers_length_gives_the_films_size() {
    let films = Films::of(&blots());
    let mut window = window(blots());
    window.state_mut().step = Step::Print;
    settle(&mut window);
    click(&mut window, "Check the taped film by photo…");
    enter(&mut window, "Films' folder", &films.dir.path().display().to_string());
    enter(&mut window, "Photo", &films.taped(0).display().to_string());
    // 800 pixels at 40 to the inch are 508 mm; the ruler says 513.08, 1 % more.
    enter(&mut window, "Ruler's ends", "170,170 970,170");
    enter(&mut window, "Ruler's length", "513.08 mm");
    click(&mut window, "Check");
    settle(&mut window);
    window.get_by_label_contains("of its planned size");
    let checked = window.state().photo.found(Subject::Film).unwrap().clone();
    let crate::photo::Found::Film(report) = &checked.found else { panic!("a film's check") };
    let scale = report.film.scale.unwrap();
    assert!((scale - 1.01).abs() < 1e-3, "{scale}");
}

#[test]
fn the_screens_closed_detail_is_stepped_to() {
    let films = Films::of(&blots());
    let mut window = window(blots());
    // A closed place 12 pixels wide in the middle of the largest black there is.
    let middle = darkest(&films.film);
    let photo = films.photo(
        |ink| if ink { 225 } else { 120 },
        |x, y| {
            let far = ((x - middle[0]) as f64).hypot((y - middle[1]) as f64);
            films.ink(x, y) && far > 6.0
        },
    );
    check(&mut window, Subject::Screen, films.dir.path(), &photo);
    window.get_by_label("The screen differs from the film (photo.png)");
    window.get_by_label("1 place to look at");
    assert!(window.state().can(Command::NextSpot).is_ok());
    click(&mut window, "Next place in the photo");
    window.get_by_label_contains("Place 1 of 1: closed detail");
    let desk = window.state();
    let film = desk.film_rect().unwrap();
    let (x, y) = desk.canvas.eye().middle_mm;
    let mm = |px: i64| (px as f64 + 0.5) * 25.4 / 40.0;
    let off = (x - film.origin.x.to_mm() - mm(middle[0]))
        .hypot(y - film.origin.y.to_mm() - mm(middle[1]));
    assert!(off < 1.0, "{off} mm off");
}

/// The middle of a square of black, 40 pixels wide.
fn darkest(film: &Bitmap) -> [i64; 2] {
    for y in (60..film.height() - 60).step_by(10) {
        for x in (60..film.width() - 60).step_by(10) {
            let black = |dx: u32, dy: u32| film.get(x + dx - 20, y + dy - 20);
            if (0..40).step_by(2).all(|dy| (0..40).step_by(2).all(|dx| black(dx, dy))) {
                return [i64::from(x), i64::from(y)];
            }
        }
    }
    panic!("no black square");
}
