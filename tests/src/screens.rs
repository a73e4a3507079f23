//! `filmquilt film --inks`: a film a screen, on sheets they share, each proved and each what
//! `filmquilt plates` writes.

use crate::util::{done, filmquilt, folder, python, text, tool};
use image::{Rgb, RgbImage};
use serde_json::Value;
use std::path::Path;

/// A disc of two inks with a dark ring, left of the middle of a wide picture.
fn draw(path: &str) {
    RgbImage::from_fn(96, 64, |x, y| {
        let r = (f64::from(x) - 39.5).hypot(f64::from(y) - 31.5);
        Rgb(match r {
            r if r > 27.0 => [240, 236, 224],
            r if r > 21.0 => [20, 24, 40],
            _ if x + y / 3 < 50 => [220, 40, 50],
            _ => [250, 200, 40],
        })
    })
    .save(path)
    .unwrap();
}

fn plan(dir: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(dir.join("plan.json")).unwrap()).unwrap()
}

fn screens(plan: &Value) -> Vec<&Value> {
    plan["files"].as_array().unwrap().iter().collect()
}

#[test]
fn every_screen_has_its_film_on_the_shared_sheets() {
    let dir = folder();
    let art = text(dir.path().join("art.png"));
    let (out, flat) = (dir.path().join("films"), dir.path().join("plates"));
    draw(&art);
    let inks = ["--width", "20in", "--ppi", "100", "--trap", "0.4mm", "--underbase", "0.5mm"];
    let words = |verb: &'static str, out: &Path| {
        [verb.to_owned(), art.clone(), "--out".into(), text(out)]
            .into_iter()
            .chain(inks.map(str::to_owned))
    };
    let more = ["--inks", "auto", "--garment", "none", "--surround", "0.5in"];
    done(words("film", &out).chain(more.map(str::to_owned)));
    done(words("plates", &flat));
    let plan = plan(&out);
    let names: Vec<&str> = screens(&plan).iter().map(|f| f["name"].as_str().unwrap()).collect();
    assert_eq!(
        names,
        ["film-1-underbase.pdf", "film-2-yellow.pdf", "film-3-red.pdf", "film-4-dark-blue.pdf"],
    );
    let said = done(["check", &text(&out)]);
    assert_eq!(said.matches("read back and proved").count(), 4, "{said}");
    let list: Value =
        serde_json::from_str(&std::fs::read_to_string(flat.join("plates.json")).unwrap()).unwrap();
    for (n, file) in screens(&plan).into_iter().enumerate() {
        let plate = &list["plates"][n];
        assert_eq!(file["screen"]["order"], n + 1);
        assert_eq!(file["screen"]["name"], plate["name"]);
        assert_eq!(file["screen"]["colour"], plate["colour"]);
        let png = text(flat.join(plate["file"].as_str().unwrap()));
        python("compose.py", &[&text(&out), &png, "poppler", file["name"].as_str().unwrap()]);
    }
    python("targets.py", &[&text(&out)]);
    // A page is called by its order, ink and sheet (ISO 32000-1, 12.4.2).
    let pdf = lopdf::Document::load(out.join(names[2])).unwrap();
    let labels = pdf.catalog().unwrap().get(b"PageLabels").unwrap().as_dict().unwrap();
    let first = labels.get(b"Nums").unwrap().as_array().unwrap()[1].as_dict().unwrap();
    assert_eq!(first.get(b"P").unwrap().as_str().unwrap(), b"3 Red A1");
}

#[test]
fn a_film_of_another_screen_or_with_a_target_moved_is_noticed() {
    let dir = folder();
    let (art, out) = (text(dir.path().join("art.png")), dir.path().join("films"));
    draw(&art);
    let words = ["film", &art, "--width", "12in", "--ppi", "100", "--garment", "none"];
    done(words.into_iter().chain(["--inks", "auto:2", "--out", &text(&out)]));
    let first = out.join(screens(&plan(&out))[0]["name"].as_str().unwrap());
    let second = out.join(screens(&plan(&out))[1]["name"].as_str().unwrap());
    let kept = std::fs::read(&first).unwrap();
    std::fs::copy(&second, &first).unwrap();
    let said = filmquilt(["check", &text(&out)]);
    assert_eq!(said.status.code(), Some(1));
    std::fs::write(&first, kept).unwrap();
    done(["check", &text(&out)]);
    let plan_path = out.join("plan.json");
    let mut moved = plan(&out);
    let x = moved["targets"][0]["x_px"].as_i64().unwrap();
    moved["targets"][0]["x_px"] = (x + 3).into();
    std::fs::write(&plan_path, serde_json::to_string(&moved).unwrap()).unwrap();
    let said = filmquilt(["check", &text(&out)]);
    let told = String::from_utf8_lossy(&said.stdout).into_owned();
    assert_eq!(said.status.code(), Some(1));
    assert!(told.contains("register target is out of its place"), "{told}");
}

/// A red bar across the top and a blue disc at the bottom left, on white.
fn draw_apart(path: &str) {
    RgbImage::from_fn(90, 120, |x, y| {
        let r = (f64::from(x) - 16.0).hypot(f64::from(y) - 104.0);
        Rgb(match (r < 12.0, (4..86).contains(&x) && (4..16).contains(&y)) {
            (true, _) => [30, 50, 190],
            (_, true) => [220, 40, 50],
            _ => [255, 255, 255],
        })
    })
    .save(path)
    .unwrap();
}

/// Every film is laid together from its own sheets and is its plate; no film has more sheets
/// than the shared plan, and all together have fewer.
#[test]
fn every_screen_has_the_fewest_sheets_of_its_own_where_that_is_asked_for() {
    let dir = folder();
    let art = text(dir.path().join("art.png"));
    draw_apart(&art);
    let job = ["--width", "30in", "--ppi", "60", "--inks", "auto:2", "--plans"];
    let film = |plans: &str| {
        let out = dir.path().join(plans);
        let words = ["film", &art, "--garment", "none", "--trim-lines", "--out", &text(&out)];
        let told = done(words.into_iter().chain(job).chain([plans]));
        (plan(&out), out, told)
    };
    let (shared, _, told) = film("shared");
    assert!(!shared["targets"].as_array().unwrap().is_empty() && told.is_empty(), "{told}");
    let (own, out, told) = film("own");
    // The inks lie so far apart that their films share no place for targets.
    let bare = |plan: &Value| plan["targets"].as_array().is_none_or(Vec::is_empty);
    assert!(own["plans"].as_array().unwrap().iter().all(bare));
    assert!(told.contains("ask for pin or tape marks"), "{told}");
    assert_eq!(
        (&shared["format"], &own["format"]),
        (&"filmquilt plan 1".into(), &"filmquilt plan 2".into())
    );
    let count = |plan: &Value| plan["sheets"].as_array().unwrap().len();
    let plans = own["plans"].as_array().unwrap();
    assert_eq!(plans.len(), 2);
    assert!(plans.iter().all(|p| p["format"] == "filmquilt plan 1" && p["film"] == shared["film"]));
    let sums = (plans.iter().map(count).sum::<usize>(), 2 * count(&shared));
    assert!(plans.iter().all(|p| count(p) <= count(&shared)) && sums.0 < sums.1, "{sums:?}");
    let said = done(["check", &text(&out)]);
    assert_eq!(said.matches("read back and proved").count(), 2, "{said}");
    let flat = dir.path().join("plates");
    let words = ["plates", &art, "--width", "30in", "--ppi", "60", "--inks", "auto:2"];
    done(words.into_iter().chain(["--out", &text(&flat)]));
    let plates: Value =
        serde_json::from_str(&std::fs::read_to_string(flat.join("plates.json")).unwrap()).unwrap();
    for (n, (plan, guide)) in plans.iter().zip(["guide-1-red.pdf", "guide-2-blue.pdf"]).enumerate()
    {
        let name = plan["files"][0]["name"].as_str().unwrap();
        // Each plan by itself is one film's in every way.
        let alone = dir.path().join(format!("alone-{n}"));
        std::fs::create_dir(&alone).unwrap();
        std::fs::copy(out.join(name), alone.join(name)).unwrap();
        std::fs::write(alone.join("plan.json"), plan.to_string()).unwrap();
        let png = text(flat.join(plates["plates"][n]["file"].as_str().unwrap()));
        python("compose.py", &[&text(&alone), &png, "poppler", name]);
        done(["check", &text(&alone)]);
        assert!(out.join(guide).exists());
        let pdf = lopdf::Document::load(out.join(name)).unwrap();
        assert_eq!(pdf.get_pages().len(), count(plan));
    }
    // Films or plans that changed places are noticed.
    let mut swapped = own.clone();
    swapped["plans"].as_array_mut().unwrap().truncate(1);
    swapped["plans"][0]["files"][0]["name"] = plans[1]["files"][0]["name"].clone();
    std::fs::write(out.join("plan.json"), swapped.to_string()).unwrap();
    assert_eq!(filmquilt(["check", &text(&out)]).status.code(), Some(1));
}

/// Where the sheets of all screens leave room, targets stand at the same places of films cut
/// into different sheets; one that is missing from a plan is noticed.
#[test]
fn films_with_sheets_of_their_own_have_their_targets_in_common() {
    let dir = folder();
    let (art, out) = (text(dir.path().join("art.png")), dir.path().join("films"));
    draw(&art);
    let words = ["film", &art, "--width", "44in", "--ppi", "60", "--garment", "none"];
    let inks = ["--inks", "auto", "--plans", "own", "--out", &text(&out)];
    done(words.into_iter().chain(inks));
    done(["check", &text(&out)]);
    python("targets.py", &[&text(&out)]);
    let mut moved = plan(&out);
    assert_eq!(moved["format"], "filmquilt plan 2");
    moved["plans"][1]["targets"].as_array_mut().unwrap().pop();
    std::fs::write(out.join("plan.json"), moved.to_string()).unwrap();
    let said = filmquilt(["check", &text(&out)]);
    let told = String::from_utf8_lossy(&said.stdout).into_owned();
    assert_eq!(said.status.code(), Some(1));
    assert!(told.contains("differ in the film's size or the register targets"), "{told}");
}

#[test]
fn words_about_inks_need_inks() {
    let dir = folder();
    let (art, out) = (text(dir.path().join("art.png")), text(dir.path().join("films")));
    draw(&art);
    for more in [
        ["--trap", "1mm"],
        ["--underbase", "1mm"],
        ["--garment-colour", "#000000"],
        ["--plans", "own"],
    ] {
        let said = filmquilt(["film", &art, "--out", &out].into_iter().chain(more));
        let errors = String::from_utf8_lossy(&said.stderr).into_owned();
        assert_eq!(said.status.code(), Some(2), "{errors}");
        assert!(errors.contains("need --inks"), "{errors}");
    }
}

/// Each screen's ink is reckoned by itself; together they are the sum, the blank counted once.
#[test]
fn every_screen_has_its_ink_cost_and_ticket() {
    let dir = folder();
    let (art, out) = (text(dir.path().join("art.png")), dir.path().join("tickets"));
    draw(&art);
    let words = |verb: &'static str| {
        [verb, &art, "--inks", "auto", "--width", "12in", "--ppi", "100", "--garment", "none"]
            .map(str::to_owned)
    };
    let said: Value = serde_json::from_str(&done(words("reckon"))).unwrap();
    let screens = said["screens"].as_array().unwrap();
    assert_eq!(screens.len(), 3);
    let figure = |screen: &Value, section: &str, name: &str| {
        let sections = screen["plan"]["sections"].as_array().unwrap();
        let section = sections.iter().find(|s| s["key"] == section).unwrap();
        let figures = section["figures"].as_array().unwrap();
        let found = figures.iter().find(|f| f["name"] == name).unwrap();
        found["value"].as_f64().unwrap()
    };
    let sum = |section, name| screens.iter().map(|s| figure(s, section, name)).sum::<f64>();
    let near = |a: f64, b: f64| (a - b).abs() < 1e-9 * b.abs().max(1.0);
    let all = |name: &str| {
        let figures = said["all"]["figures"].as_array().unwrap();
        let found = figures.iter().find(|f| f["name"] == name).unwrap();
        assert!(!found["how"].as_str().unwrap().is_empty());
        found["value"].as_f64().unwrap()
    };
    assert!(near(all("ink for the run"), sum("ink", "ink for the run")));
    assert!(near(all("screens in all"), sum("cost", "screen in all")));
    // The blank, 6 of which 4 % are spoiled, is in it once.
    let each = sum("cost", "each good garment adds") + 6.0 / 0.96;
    assert!(near(all("each good garment adds"), each));
    assert!(near(all("a garment of 25"), each + sum("cost", "screen in all") / 25.0));
    // Areas by geometry: the ring is pi (27^2 - 21^2) of 96 x 64 picture pixels, and the
    // print is 12 x 8 in.
    let whole_m2 = 12.0 * 8.0 * 0.0254 * 0.0254;
    let ring = std::f64::consts::PI * (27.0_f64.powi(2) - 21.0_f64.powi(2)) / (96.0 * 64.0);
    let dark = figure(&screens[2], "ink", "inked area");
    assert!((dark / (ring * whole_m2) - 1.0).abs() < 0.01, "{dark}");
    let out_words = ["--out".to_owned(), text(&out)];
    done(words("ticket").into_iter().chain(out_words));
    let mut names: Vec<String> = std::fs::read_dir(&out)
        .unwrap()
        .map(|f| f.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    let each = ["ticket-1-yellow.pdf", "ticket-2-red.pdf", "ticket-3-dark-blue.pdf"];
    assert_eq!(names, [&each[..], &["ticket.pdf"]].concat());
    // All screens are in the one ticket, and what they share is in it once.
    let words = tool("pdftotext", &["-layout", &text(out.join("ticket.pdf")), "-"]);
    for said in ["1 Yellow", "2 Red", "3 Dark blue", "screens in all", "As on the pages of"] {
        assert!(words.contains(said), "{said} is not in {words}");
    }
    assert_eq!(words.matches("When something went wrong").count(), 1);
}
