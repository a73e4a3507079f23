//! Picture formats: a file of any of them gives the film that its plain 8-bit PNG twin gives.

use crate::util::{done, folder, python, text};
use image::GrayImage;
use serde_json::Value;
use std::path::Path;

/// The film of a picture, made so that nothing but the reading of the file can differ.
fn film(picture: &str, out: &Path) -> GrayImage {
    done([
        "onebit",
        picture,
        "--width",
        "7in",
        "--ppi",
        "100",
        "--edges",
        "plain",
        "--source",
        "clean",
        "--cut",
        "0.5",
        "--specks",
        "0",
        "-o",
        &text(out),
    ]);
    image::open(out).expect("a picture").into_luma8()
}

/// Lossy files may differ in one pixel of a thousand, where decoders round a grey near the cut
/// differently (ITU-T T.83 allows them one step of 255).
#[test]
fn every_format_gives_its_twins_film() {
    let dir = folder();
    let out = dir.path().join("film.png");
    let said = python("make_pictures.py", &["all", &text(dir.path())]);
    let mut wrong = Vec::new();
    let mut twins = std::collections::BTreeMap::new();
    for line in said.lines() {
        let line: Value = serde_json::from_str(line).expect("JSON");
        let (file, twin) = (line["file"].as_str().unwrap(), line["twin"].as_str().unwrap());
        let made = film(file, &out);
        let wanted = twins.entry(twin.to_owned()).or_insert_with(|| film(twin, &out));
        assert!(wanted.pixels().filter(|p| p.0[0] == 0).count() > 10_000, "{twin} has little ink");
        if made.dimensions() != wanted.dimensions() {
            wrong.push(format!("{file}: {:?}, not {:?}", made.dimensions(), wanted.dimensions()));
            continue;
        }
        let differ = made.pixels().zip(wanted.pixels()).filter(|(a, b)| a != b).count();
        let share = differ as f64 / f64::from(made.width() * made.height());
        let most = if line["exact"] == true { 0.0 } else { 1e-3 };
        if share > most {
            wrong.push(format!("{file}: {differ} pixels differ"));
        }
    }
    assert!(said.lines().count() > 50);
    assert!(wrong.is_empty(), "{wrong:#?}");
}
