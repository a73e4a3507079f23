//! The shop's side by the real command: the test strip, several sizes, the notebook, and the
//! ticket as a printer's paper would show it.

use crate::util::{done, filmquilt, folder, root, text, tool};
use serde_json::{Value, json};

fn art() -> String {
    text(root().join("assets/demo/lantern-moth.png"))
}

/// A value of what `reckon` printed.
fn figure(plan: &Value, section: &str, name: &str) -> Value {
    let sections = plan["sections"].as_array().expect("sections");
    let section = sections.iter().find(|s| s["key"] == section).expect("the section");
    let all = section["figures"].as_array().expect("figures");
    let found = all.iter().find(|f| f["name"] == name);
    found.unwrap_or_else(|| panic!("{name}: {section}"))["value"].clone()
}

fn reckon(more: &[&str]) -> Value {
    let art = art();
    let words = [&["reckon", &art, "--ppi", "40", "--width", "25in"], more].concat();
    serde_json::from_str(&done(words)).expect("JSON")
}

/// A page rendered by poppler at 100 ppi, as grey.
fn rendered(pdf: &str, page: u32, to: &str) -> image::GrayImage {
    let n = page.to_string();
    tool("pdftoppm", &["-r", "100", "-f", &n, "-l", &n, "-gray", "-png", "-singlefile", pdf, to]);
    image::open(format!("{to}.png")).expect("a picture").into_luma8()
}

/// The strip's ruler is 100 mm long on paper, its bands are black and clear, and its reading is
/// the middle of what was good: half stops, 2^(n/2), as in the tables of step wedges.
#[test]
fn a_test_strip_prints_true_and_reads_into_a_time() {
    let dir = folder();
    let out = text(dir.path());
    let said = done(["strip", "--out", &out, "--guess", "100", "--bands", "7", "--sheet", "a4"]);
    // The first band lies open for 100 / 2^(3/2) s.
    assert!(said.contains("light for 35 s") && said.contains("Cover bands 1 to 6"), "{said}");
    assert!(said.contains("Do not look at the lit exposure lamp"), "{said}");
    let pdf = text(dir.path().join("strip.pdf"));
    let info = tool("pdfinfo", &[&pdf]);
    assert!(info.contains("595.276 x 841.89") && info.contains("Pages:           1"), "{info}");
    let page = rendered(&pdf, 1, &text(dir.path().join("page")));
    let (w, h) = page.dimensions();
    let black = page.pixels().filter(|p| p.0[0] < 64).count() as f64 / f64::from(w * h);
    assert!((0.15..0.6).contains(&black), "{black}");
    // The longest black run near the foot is the ruler.
    let runs = |y: u32| {
        let row: Vec<bool> = (0..w).map(|x| page.get_pixel(x, y).0[0] < 128).collect();
        row.chunk_by(|a, b| a == b).filter(|r| r[0]).map(<[bool]>::len).max().unwrap_or(0)
    };
    let longest = (h * 9 / 10..h).map(runs).max().unwrap_or(0);
    assert!((longest as f64 - 100.0 / 25.4 * 100.0).abs() <= 2.0, "{longest} pixels of 1/100 in");

    let read = |held: &str, open: &str| {
        let words = ["strip", "--guess", "100", "--bands", "7", "--held", held, "--open", open];
        let said = done([&words[..], &["--json"]].concat());
        let value: Value = serde_json::from_str(&said).expect("JSON");
        (value["secs"].as_f64().unwrap(), value["latitude"].as_f64().unwrap())
    };
    let (secs, latitude) = read("3", "5");
    assert!((secs - 100.0).abs() < 1e-9 && (latitude - 2.0).abs() < 1e-9, "{secs} {latitude}");
    let (secs, latitude) = read("7", "7");
    assert!((secs - 282.84).abs() < 0.01 && (latitude - 1.0).abs() < 1e-9, "{secs} {latitude}");
    for (held, open) in [("5", "3"), ("0", "3"), ("2", "8")] {
        let out = filmquilt(["strip", "--bands", "7", "--held", held, "--open", open]);
        let errors = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(1), "{errors}");
        assert!(errors.contains("hint:") && !errors.contains("panicked"), "{errors}");
    }
}

/// What was seen leads to what to do, in words and as JSON; without it the whole table is given.
#[test]
fn the_table_of_what_went_wrong_is_printed() {
    let table = |more: &[&str]| -> Vec<Value> {
        let said = done([&["diagnose", "--json"], more].concat());
        serde_json::from_str(&said).expect("JSON")
    };
    let all = table(&[]);
    assert!(all.len() >= 12, "{}", all.len());
    for row in &all {
        for part in ["seen", "because", "remedy"] {
            assert!(row[part].as_str().is_some_and(|words| words.ends_with('.')), "{row}");
        }
    }
    // Both at once have one reason, which neither has alone.
    let both = table(&["--seen", "soft,closed"]);
    assert_eq!(both.len(), 1);
    assert!(both != table(&["--seen", "soft"]) && both != table(&["--seen", "closed"]));
    assert!(all.contains(&both[0]));
    let said = done(["diagnose", "--seen", "uneven"]);
    assert!(said.contains("Do: Raise the lamp") && said.contains("no source"), "{said}");
    assert_eq!(filmquilt(["diagnose", "--seen", "purple"]).status.code(), Some(2));
}

/// A wedge and another distance or film become a time; a panel's does not scale.
#[test]
fn a_wedge_a_distance_and_a_film_become_a_time() {
    let secs = |more: &[&str]| {
        let said = done([&["strip", "--json"], more].concat());
        let found: Value = serde_json::from_str(&said).expect("JSON");
        assert!(!found["how"].as_str().unwrap().is_empty());
        found["value"].as_f64().unwrap()
    };
    // Two half stops too few: twice the time, to 2.5 % of the tables of step wedges.
    assert!((secs(&["--wedge", "100,5"]) / 200.0 - 1.0).abs() < 0.025);
    // 300 s at 500 mm; the square of 1.5, and 10^0.1 = 1.2589 for a denser film (ISO 5-1).
    assert!((secs(&["--distance", "750mm"]) - 675.0).abs() < 1e-6);
    assert!((secs(&["--clear", "0.15"]) - 377.68).abs() < 0.01);
    assert!((secs(&["--distance", "750mm", "--clear", "0.15"]) - 849.78).abs() < 0.01);
    let dir = folder();
    let shop = text(dir.path().join("shop.json"));
    std::fs::write(&shop, json!({"settings": {"lamp": {"kind": "panel"}}}).to_string()).unwrap();
    for (more, status) in [
        (&["--distance", "750mm", "--shop", &shop][..], 1),
        (&["--distance", "infmm"], 1),
        (&["--wedge", "0,5"], 1),
        (&["--wedge", "100"], 2),
        (&["--clear", "NaN"], 1),
    ] {
        let out = filmquilt([&["strip"], more].concat());
        let errors = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(status), "{more:?}: {errors}");
        assert!(!errors.contains("panicked"), "{errors}");
        assert!(!more.contains(&shop.as_str()) || errors.contains("panel"), "{errors}");
    }
}

/// Ink on the garment against the pixels of the written film, counted over a panel of
/// 1000 x 900 mm whose middle is the film's.
#[test]
fn ink_is_what_the_film_has_inside_the_garment() {
    let dir = folder();
    let png = text(dir.path().join("film.png"));
    let size = ["--ppi", "40", "--width", "110cm"];
    done([&["onebit", &art(), "-o", &png, "--quiet"], &size[..]].concat());
    let film = image::open(&png).expect("the film").into_luma8();
    let (w, h) = film.dimensions();
    let pixel = 25.4 / 40.0;
    let near = |i: u32, n: u32, half: f64| {
        ((f64::from(i) + 0.5 - f64::from(n) / 2.0) * pixel).abs() <= half
    };
    let ink = film
        .enumerate_pixels()
        .filter(|(x, y, p)| p.0[0] == 0 && near(*x, w, 500.0) && near(*y, h, 450.0))
        .count();
    let counted = ink as f64 * (pixel / 1000.0) * (pixel / 1000.0);
    let plan = done([&["reckon", &art(), "--garment", "panel", "--quiet"], &size[..]].concat());
    let plan: Value = serde_json::from_str(&plan).expect("JSON");
    let area = figure(&plan, "ink", "inked area").as_f64().unwrap();
    assert!(counted > 0.05 && (area / counted - 1.0).abs() < 0.005, "{area} {counted}");
    // By a mesh of 43 threads of 80 um: 51.64 cm3 on a square metre.
    let ml = figure(&plan, "ink", "ink for a garment").as_f64().unwrap();
    assert!((ml / (area * 51.64) - 1.0).abs() < 1e-3, "{ml}");
}

#[test]
fn several_sizes_share_a_screen_or_get_films_of_their_own() {
    let plan = reckon(&["--garment", "tee-l", "--also", "tee-s,tee-2xl"]);
    let ml = |name: &str| figure(&plan, "ink", name).as_f64().unwrap();
    let most = ml("ink for tee-s").max(ml("ink for tee-l")).max(ml("ink for tee-2xl"));
    assert_eq!(ml("ink for a garment"), most);
    let collar = |size: &str| figure(&plan, "laydown", &format!("{size}: pivot to collar"));
    assert_eq!(collar("tee-s"), collar("tee-2xl"), "all lie by the collar");
    // A size named twice, or the job's own, is on the screen once.
    let once = reckon(&["--garment", "tee-l", "--also", "tee-l,tee-s,tee-2xl,tee-s"]);
    assert_eq!(once, plan);
    let apart = reckon(&["--garment", "tee-l", "--also", "tee-2xl", "--align", "middle"]);
    let collar = |size: &str| figure(&apart, "laydown", &format!("{size}: pivot to collar"));
    assert_ne!(collar("tee-l"), collar("tee-2xl"), "all lie by the middle");

    let dir = folder();
    let out = text(dir.path());
    let size = ["--ppi", "40", "--width", "20in", "--garment", "tee-s", "--quiet"];
    let words = ["film", &art(), "--out", &out, "--sizes", "tee-s,tee-3xl"];
    done([&words[..], &size[..]].concat());
    let width = |name: &str| {
        let plan = std::fs::read_to_string(dir.path().join(name).join("plan.json")).expect(name);
        assert!(dir.path().join(name).join("film.pdf").exists());
        let plan: Value = serde_json::from_str(&plan).expect("JSON");
        plan["film"]["width_px"].as_f64().unwrap_or_else(|| panic!("{plan}"))
    };
    assert!((width("tee-s") - 800.0).abs() < 1.5 && width("tee-3xl") > 900.0);
    let said = done([&words[..], &["--mend", "1mm"], &size[..]].concat());
    for name in ["tee-s: mended", "tee-3xl: mended"] {
        assert!(said.contains(name), "{name} is not in {said}");
    }
    for bad in ["tee-4xl", "none"] {
        let words = ["film", &art(), "--out", &out, "--sizes", bad];
        assert_eq!(filmquilt(words).status.code(), Some(2), "{bad}");
    }
}

#[test]
fn the_shops_numbers_and_notebook_are_reckoned_with() {
    let dir = folder();
    let shop = text(dir.path().join("shop.json"));
    let book = text(dir.path().join("notebook.jsonl"));
    let kept = json!({"quantity": 12, "settings": {"cost": {"labour_hour": 0.0}}});
    std::fs::write(&shop, kept.to_string()).unwrap();
    // Two good exposures; the later counts. A garment that took 20 % more ink than it should.
    let note = |seen: Value| {
        json!({"date": "2031-05-17", "screen": "moth", "seen": seen}).to_string() + "\n"
    };
    let exposed = |secs: f64| {
        note(
            json!({"exposed": {"per_cm": 43.0, "lamp": "bulb", "distance": "500mm", "secs": secs, "good": true}}),
        )
    };
    let weighed =
        json!({"weighed": {"grams": 1.2 * 1.05 * 20.0, "ink_area_m2": 0.4, "volume": 50.0}});
    let lines = ["# ours\n".into(), exposed(100.0), exposed(140.0), note(weighed)].concat();
    std::fs::write(&book, lines).unwrap();
    let plain = reckon(&[]);
    let noted = reckon(&["--shop", &shop, "--notebook", &book]);
    assert_eq!(figure(&noted, "exposure", "time for one layer"), json!(140.0));
    assert_eq!(figure(&noted, "notebook", "exposure time"), json!(140.0));
    let ml = |plan: &Value| figure(plan, "ink", "ink for a garment").as_f64().unwrap();
    assert!((ml(&noted) / ml(&plain) - 1.2).abs() < 1e-9);
    assert_eq!(figure(&noted, "cost", "labour on a garment"), json!(0.0));
    figure(&noted, "cost", "a garment of 12");
    for missing in [["--shop", "no.json"], ["--notebook", "no.jsonl"]] {
        let out = filmquilt([&["reckon", &art()], &missing[..]].concat());
        let errors = String::from_utf8_lossy(&out.stderr).into_owned();
        assert!(out.status.code() == Some(1) && errors.contains("not there"), "{errors}");
    }
}

/// Every page of the ticket keeps off the edges that home printers cannot print, and the front
/// page shows the film: dark where it is inked.
#[test]
fn the_ticket_prints_well_at_home() {
    let dir = folder();
    let out = text(dir.path());
    for paper in ["a4", "letter"] {
        let size = ["--ppi", "40", "--width", "38in", "--garment", "tee-xl", "--quiet"];
        done([&["ticket", &art(), "--out", &out, "--paper", paper], &size[..]].concat());
        let pdf = text(dir.path().join("ticket.pdf"));
        let info = tool("pdfinfo", &[&pdf]);
        let pages = info.lines().find_map(|l| l.strip_prefix("Pages:")).expect("pages").trim();
        let pages: u32 = pages.parse().expect("a number");
        assert!((6..=12).contains(&pages), "{pages}");
        for n in 1..=pages {
            let page = rendered(&pdf, n, &text(dir.path().join("page")));
            let (w, h) = page.dimensions();
            // 10 mm at 100 ppi.
            let edge = |x: u32, y: u32| x < 39 || y < 39 || x >= w - 39 || y >= h - 39;
            let stray = page.enumerate_pixels().filter(|(x, y, p)| edge(*x, *y) && p.0[0] < 200);
            assert_eq!(stray.count(), 0, "page {n} on {paper}");
            let inked = page.pixels().filter(|p| p.0[0] < 128).count();
            assert!(inked > 500, "page {n} on {paper} is empty");
        }
        let words = tool("pdftotext", &["-layout", &pdf, "-"]);
        for said in ["JOB TICKET", "off contact", "Do not look at the lit", "break-even"] {
            let found = words.contains(said);
            assert!(found, "{said} is not in {words}");
        }
    }
    // The film's picture on the front page: a fifth of that corner of the page is grey.
    let page = rendered(&text(dir.path().join("ticket.pdf")), 1, &text(dir.path().join("front")));
    let grey = |p: &&image::Luma<u8>| (30..230).contains(&p.0[0]);
    let (w, h) = page.dimensions();
    let corner = image::imageops::crop_imm(&page, 60, h / 10, w / 2 - 60, h / 4).to_image();
    let share = corner.pixels().filter(grey).count() as f64 / corner.pixels().count() as f64;
    assert!(share > 0.05, "{share}");
}
