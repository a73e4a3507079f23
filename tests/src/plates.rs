//! `filmquilt plates`: the plates tile, and are what was drawn.

use crate::util::{done, filmquilt, folder, text};
use image::{Rgb, RgbImage};
use serde_json::Value;
use std::path::Path;

const GARMENT: [u8; 3] = [240, 236, 224];
const INKS: [[u8; 3]; 3] = [[250, 200, 40], [220, 40, 50], [20, 24, 40]];

/// The drawing at a place, in picture pixels: a dark ring about a disc of two inks.
fn drawn(x: f64, y: f64) -> [u8; 3] {
    let r = (x - 31.0).hypot(y - 33.0);
    match r {
        r if r > 25.3 => GARMENT,
        r if r > 20.0 => INKS[2],
        _ if x + 0.3 * y < 40.0 => INKS[1],
        _ => INKS[0],
    }
}

/// 64 x 64 pixels, each the mean of 8 x 8 places.
fn draw(path: &str) {
    RgbImage::from_fn(64, 64, |x, y| {
        let mut sum = [0; 3];
        for i in 0..64 {
            let place = |v: u32, i: u32| f64::from(v) + (f64::from(i) + 0.5) / 8.0;
            let colour = drawn(place(x, i % 8), place(y, i / 8));
            (0..3).for_each(|c| sum[c] += u32::from(colour[c]));
        }
        Rgb(sum.map(|s| ((s + 32) / 64) as u8))
    })
    .save(path)
    .unwrap();
}

fn listed(dir: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(dir.join("plates.json")).unwrap()).unwrap()
}

/// Each plate's pixels that print.
fn plates(dir: &Path) -> Vec<Vec<bool>> {
    let list = listed(dir);
    let file = |plate: &Value| dir.join(plate["file"].as_str().unwrap());
    let film = |plate: &Value| image::open(file(plate)).unwrap().into_luma8();
    list["plates"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| film(p).pixels().map(|v| v.0[0] == 0).collect())
        .collect()
}

fn colour(text: &Value) -> [u8; 3] {
    let text = text.as_str().unwrap();
    assert!(text.len() == 7 && text.starts_with('#'), "{text}");
    [1, 3, 5].map(|at| u8::from_str_radix(&text[at..at + 2], 16).unwrap())
}

fn near(a: [u8; 3], b: [u8; 3]) -> bool {
    (0..3).all(|c| a[c].abs_diff(b[c]) <= 3)
}

#[test]
fn plates_leave_no_gap_and_do_not_overlap() {
    let dir = folder();
    let (art, out) = (text(dir.path().join("art.png")), dir.path().join("plates"));
    draw(&art);
    done(["plates", &art, "--width", "640pt", "--ppi", "72", "--out", &text(&out)]);
    let (list, films) = (listed(&out), plates(&out));
    assert!(near(colour(&list["garment"]), GARMENT), "{list}");
    assert_eq!(films.len(), INKS.len(), "{list}");
    let area = 640 * 640;
    let mut wrong = 0;
    for i in 0..area {
        let inks: Vec<usize> = (0..films.len()).filter(|k| films[*k][i]).collect();
        assert!(inks.len() < 2, "pixel {i} is on {} plates", inks.len());
        let (x, y) = ((i % 640) as f64 / 10.0 + 0.05, (i / 640) as f64 / 10.0 + 0.05);
        let got = inks.first().map_or(GARMENT, |k| colour(&list["plates"][*k]["colour"]));
        wrong += usize::from(!near(got, drawn(x, y)));
    }
    // About 330 picture pixels of edge: a share of .16 % is an edge .02 picture pixels off,
    // and a gap or a wrong ink would be far more.
    assert!(wrong * 1000 < 2 * area, "{wrong} pixels are not as drawn");
    for (k, film) in films.iter().enumerate() {
        let plate = &list["plates"][k];
        let share = film.iter().filter(|p| **p).count() as f64 / area as f64;
        assert!((plate["share"].as_f64().unwrap() - share).abs() < 1e-9, "{plate}");
        assert_eq!(plate["order"], k + 1);
        assert!(!plate["name"].as_str().unwrap().is_empty());
    }
}

/// Picked inks come in the order and under the names given; a trap makes plates overlap.
#[test]
fn inks_are_picked_and_trapped() {
    let dir = folder();
    let (art, out) = (text(dir.path().join("art.png")), dir.path().join("plates"));
    let picked = text(dir.path().join("inks.json"));
    draw(&art);
    let inks = r##"[{"colour": "#fac828", "name": "Sun"}, {"colour": "#dc2832"}, {"colour": "#141828", "name": "Night"}]"##;
    std::fs::write(&picked, inks).unwrap();
    let words = [
        "plates",
        &art,
        "--width",
        "640pt",
        "--ppi",
        "72",
        "--garment-colour",
        "#f0ece0",
        "--inks",
        &picked,
    ];
    let words = || words.into_iter().map(str::to_owned).chain(["--out".into(), text(&out)]);
    done(words());
    let list = listed(&out);
    assert_eq!(list["garment"], "#f0ece0");
    assert_eq!(list["plates"][0]["name"], "Sun");
    assert_eq!(list["plates"][2]["name"], "Night");
    assert_eq!(list["plates"][1]["colour"], "#dc2832");
    let flat = plates(&out);
    done(words().chain(["--trap".into(), "1mm".into()]));
    let trapped = plates(&out);
    let shared =
        trapped[0].iter().zip(&trapped[2]).filter(|(light, dark)| **light && **dark).count();
    assert!(shared > 300, "{shared}");
    assert_eq!(flat[2], trapped[2]);
    let spread = flat[0].iter().zip(&trapped[0]).all(|(before, after)| *after || !*before);
    assert!(spread, "a trap takes no ink away");
}

#[test]
fn bad_inks_are_refused() {
    let dir = folder();
    let (art, out) = (text(dir.path().join("art.png")), dir.path().join("plates"));
    let list = text(dir.path().join("list.json"));
    draw(&art);
    std::fs::write(&list, "[{\"colour\": \"mauve\"}]").unwrap();
    for (more, code) in [
        (["--inks", "auto:0"], 1),
        (["--inks", "auto:many"], 2),
        (["--inks", "missing.json"], 1),
        (["--inks", &list], 1),
        (["--garment-colour", "mauve"], 1),
        (["--trap", "-1mm"], 1),
        (["--crop", "60,60,10,10"], 1),
    ] {
        let said = filmquilt(
            ["plates", &art, "--width", "5in", "--out", &text(&out)].into_iter().chain(more),
        );
        let errors = String::from_utf8_lossy(&said.stderr).into_owned();
        assert_eq!(said.status.code(), Some(code), "{more:?}: {errors}");
        assert!(errors.contains("hint: ") || code == 2, "{more:?}: {errors}");
        assert!(!out.join("plates.json").exists(), "{more:?}");
    }
}
