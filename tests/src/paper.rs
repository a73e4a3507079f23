//! The shop's papers and numbers: guide.pdf, ticket.pdf, and what `reckon` prints.

use crate::util::{done, folder, root, text, tool};
use serde_json::Value;

const SIZE: [&str; 4] = ["--width", "25in", "--ppi", "100"];

/// Paper sizes in points of 1/72 in: A4 of ISO 216 is 210 x 297 mm, letter 8.5 x 11 in.
#[test]
fn papers_are_sound_and_name_every_sheet() {
    let dir = folder();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let plan: Value =
        serde_json::from_str(&done([&["plan", &art], &SIZE[..]].concat())).expect("JSON");
    let sheets = plan["sheets"].as_array().unwrap();
    assert!(sheets.len() > 2);
    for (paper, wide, high) in [("a4", 595.276, 841.890), ("letter", 612.0, 792.0)] {
        for kind in ["guide", "ticket"] {
            let out = text(dir.path().join(paper));
            done([&[kind, &art, "--out", &out, "--paper", paper], &SIZE[..]].concat());
            let pdf = text(dir.path().join(paper).join(format!("{kind}.pdf")));
            let check = tool("qpdf", &["--check", &pdf]);
            assert!(!check.contains("WARNING"), "{check}");
            let info = tool("pdfinfo", &["-f", "1", "-l", "99", &pdf]);
            let sizes: Vec<&str> =
                info.lines().filter(|l| l.starts_with("Page ") && l.contains("size:")).collect();
            assert!(!sizes.is_empty(), "{info}");
            for line in sizes {
                let size = line.split_once("size:").unwrap().1;
                let points: Vec<f64> =
                    size.split_whitespace().filter_map(|w| w.parse().ok()).collect();
                let off = (points[0] - wide).abs().max((points[1] - high).abs());
                assert!(off < 0.01, "{kind} on {paper}: {line}");
            }
            let words = tool("pdftotext", &[&pdf, "-"]);
            if kind == "guide" {
                for sheet in sheets {
                    let name = sheet["name"].as_str().unwrap();
                    assert!(
                        words.split_whitespace().any(|w| w == name),
                        "{name} is not in {kind}: {words}"
                    );
                }
            }
            assert!(words.split_whitespace().count() > 50, "{kind} says little: {words}");
        }
    }
}

/// Sections with figures that say how they came about; two of them worked by hand.
#[test]
fn reckon_prints_the_shops_numbers() {
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let said = |quantity: &str| -> Value {
        let words = [&["reckon", &art, "--quantity", quantity], &SIZE[..]].concat();
        serde_json::from_str(&done(words)).expect("JSON")
    };
    let shop = said("40");
    let sections = shop["sections"].as_array().expect("sections");
    let keys: Vec<&str> = sections.iter().map(|s| s["key"].as_str().unwrap()).collect();
    for key in ["film", "mesh", "frame", "exposure", "ink", "cost"] {
        assert!(keys.contains(&key), "{key} is not among {keys:?}");
    }
    for figure in sections.iter().flat_map(|s| s["figures"].as_array().unwrap()) {
        for key in ["name", "unit", "how", "source"] {
            assert!(figure[key].as_str().is_some_and(|t| !t.is_empty()), "{key}: {figure}");
        }
    }
    let figure = |section: &str, name: &str| {
        let section = sections.iter().find(|s| s["key"] == section).unwrap();
        let all = section["figures"].as_array().unwrap();
        all.iter().find(|f| f["name"] == name).unwrap_or_else(|| panic!("{name}: {section}"))["value"].clone()
    };
    // 25 in is 635 mm; a mesh of 43 threads a centimetre repeats every 10/43 mm.
    assert!((figure("film", "width").as_f64().unwrap() - 635.0).abs() < 1e-9);
    assert!((figure("mesh", "pitch").as_f64().unwrap() - 10.0 / 43.0).abs() < 1e-9);
    assert_eq!(said("40"), shop, "the same numbers every time");
    assert_ne!(said("80"), shop, "the number of garments counts");
}
