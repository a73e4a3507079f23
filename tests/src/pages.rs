//! `filmquilt film`: the pages, drawn by three PDF readers and laid on each other by plan.json,
//! are the one-bit film in every pixel.

use crate::util::{done, folder, python, root, text, tool};
use serde_json::Value;
use std::path::Path;

struct Case<'a> {
    art: String,
    options: &'a [&'a str],
    /// Whether any sheet must lie turned, or none; either when not told.
    turned: Option<bool>,
}

fn real(dir: &Path, name: &str) -> String {
    let out = text(dir.join(format!("{name}.png")));
    python("real_art.py", &[name, &out]);
    out
}

fn plan(dir: &Path) -> Value {
    let bytes = std::fs::read(dir.join("plan.json")).expect("plan.json");
    serde_json::from_slice(&bytes).expect("JSON")
}

#[test]
fn three_readers_see_the_film_in_every_pixel() {
    let dir = folder();
    let demo = text(root().join("assets/demo/lantern-moth.png"));
    let svg = text(root().join("assets/demo/lantern-moth.svg"));
    let cases = [
        Case { art: demo, options: &["--width", "25in", "--ppi", "150"], turned: None },
        Case {
            art: svg,
            options: &[
                "--width",
                "500mm",
                "--ppi",
                "180",
                "--sheet",
                "329x483mm",
                "--margin",
                "0.25in",
            ],
            turned: None,
        },
        Case {
            art: real(dir.path(), "page"),
            options: &["--width", "17in", "--ppi", "200", "--sheet", "letter", "--cut", "0.55"],
            turned: None,
        },
        Case {
            art: real(dir.path(), "text"),
            options: &["--width", "18.5in", "--ppi", "100", "--sheet", "13x19in"],
            turned: Some(true),
        },
    ];
    for (i, case) in cases.iter().enumerate() {
        let out = dir.path().join(format!("case{i}"));
        let film = text(out.join("film.pdf"));
        done([&["film", &case.art, "--out", &text(&out)], case.options].concat());
        let onebit = text(dir.path().join("whole.png"));
        let art: Vec<&str> = case
            .options
            .chunks(2)
            .filter(|o| ["--width", "--ppi", "--cut"].contains(&o[0]))
            .flatten()
            .copied()
            .collect();
        done([&["onebit", &case.art, "-o", &onebit], art.as_slice()].concat());
        let said = python("compose.py", &[&text(&out), &onebit]);
        for line in said.lines() {
            let line: Value = serde_json::from_str(line).expect("JSON");
            assert_eq!(line["differ"], 0, "case {i}: {line}");
            assert_eq!(line["uncovered_ink"], 0, "case {i}: {line}");
            assert!(line["ink"].as_u64() > Some(1000), "case {i}: {line}");
            assert!(line["marks_share"].as_f64().unwrap() < 0.01, "case {i}: {line}");
        }
        assert_eq!(said.lines().count(), 3, "three readers");
        tool("qpdf", &["--check", &film]);
        let plan = plan(&out);
        let turned = plan["sheets"].as_array().unwrap().iter().any(|s| s["turned"] == true);
        assert!(case.turned.is_none_or(|want| want == turned), "case {i}");
    }
}

/// ISO 32000-1, 8.3.2.3: a unit is 1/72 in; 13 x 19 in is 936 x 1368 of them.
#[test]
fn page_boxes_and_scale_are_exact() {
    let dir = folder();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    done(["film", &art, "--out", &text(dir.path()), "--width", "30in", "--ppi", "100"]);
    let film = text(dir.path().join("film.pdf"));
    let plan = plan(dir.path());
    let sheets = plan["sheets"].as_array().unwrap();
    let info = tool("pdfinfo", &["-box", "-f", "1", "-l", "99", &film]);
    assert_eq!(info.matches("size:").count(), sheets.len() + 1, "{info}");
    let sizes = info.lines().filter(|l| l.contains(" size:") && l.starts_with("Page"));
    for line in sizes {
        assert!(line.contains("936 x 1368 pts"), "{line}");
    }
    let json = tool("qpdf", &["--json", "--json-key=qpdf", &film]);
    for wanted in ["\"/PrintScaling\": \"/None\"", "\"/PickTrayByPDFSize\": true"] {
        assert!(json.contains(wanted), "{wanted} is missing");
    }
    for sheet in sheets {
        let px = |key: &str| sheet[key].as_f64().unwrap();
        assert!((px("width_mm") - px("width_px") * 25.4 / 100.0).abs() < 1e-6, "{sheet}");
        assert!((px("x_mm") - px("x_px") * 25.4 / 100.0).abs() < 1e-6, "{sheet}");
        assert!((px("page_width_mm") - 330.2).abs() < 1e-9, "{sheet}");
    }
}

/// The same job, saved and opened again, gives the same films to the byte; so does a second run.
#[test]
fn a_saved_job_gives_the_same_bytes() {
    let dir = folder();
    let (first, second) = (dir.path().join("first"), dir.path().join("second"));
    done(["demo", &text(&first)]);
    done(["film", &text(first.join("demo.quilt")), "--out", &text(&second)]);
    for name in ["film.pdf", "plan.json"] {
        let (a, b) =
            (std::fs::read(first.join(name)).unwrap(), std::fs::read(second.join(name)).unwrap());
        assert!(a == b, "{name} differs");
    }
}
