//! The film printer's calibration: a page printed by a made-up printer with known faults is
//! measured, and films made with the profile come out true from that printer.

use crate::util::{done, filmquilt, folder, python, root, text};
use serde_json::Value;
use std::path::Path;

/// The made-up printer: 0.41 % too wide, 0.3 % too short, leaning 2.3 mm in a metre.
const FAULTS: [&str; 3] = ["1.0041", "0.997", "0.0023"];

/// What is measured on a page as it comes out of the made-up printer, as options.
fn readings(page: &Path) -> Vec<String> {
    let said = python("printed.py", &[&["measure", &text(page)], &FAULTS[..]].concat());
    let read: Value = serde_json::from_str(&said).expect("JSON");
    let lengths = |name: &str| -> Vec<String> {
        let all = read[name].as_array().expect("lengths").iter();
        all.flat_map(|mm| [format!("--{name}"), format!("{mm}mm")]).collect()
    };
    ["across", "down", "falling", "rising"].iter().flat_map(|name| lengths(name)).collect()
}

fn words(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

#[test]
fn a_printer_is_measured_corrected_and_confirmed() {
    let dir = folder();
    let at = |name: &str| dir.path().join(name);
    let (page, profile) = (at("page.pdf"), text(at("wide.printer")));
    done(["calibrate", "page", "-o", &text(&page), "--name", "Wide one"]);
    let named = ["--name", "Wide one", "--gap", "0.08mm"];
    let read = words(&[&["calibrate", "read", "-o", &profile][..], &named].concat());
    let said = done([read, readings(&page)].concat());
    assert!(said.contains("Seams would be off by up to 1.4 mm"), "{said}");
    let found: Value =
        serde_json::from_slice(&std::fs::read(&profile).expect("a profile")).expect("JSON");
    let near = |key: &str, meant: f64, by: f64| {
        let v = found[key].as_f64().expect("a number");
        assert!((v - meant).abs() < by, "{key}: {v}, not {meant}");
    };
    // The middle of a hairline as shaded stands within a tenth of a pixel of 300 ppi.
    near("scale_x", 1.0041, 1.2e-4);
    near("scale_y", 0.997, 7e-5);
    near("shear", 0.0023, 1.2e-4);
    // The second page comes out true.
    let second = at("second.pdf");
    done(["calibrate", "page", "-o", &text(&second), "--printer", &profile]);
    let again = words(&["calibrate", "read", "-o", &profile, "--printer", &profile]);
    let said = done([again, readings(&second)].concat());
    assert!(said.contains("the profile is confirmed"), "{said}");
    corrected_films(dir.path(), &profile);
}

/// Films made for the printer come out of it as the film itself, within a pixel; those made
/// without are off by many.
fn corrected_films(dir: &Path, profile: &str) {
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let onebit = text(dir.join("whole.png"));
    let size = ["--width", "24in", "--ppi", "100", "--overlap", "1in"];
    // Without its spread, which is a third of a pixel here and changes none.
    done([&["onebit", &art, "-o", &onebit], &size[..4]].concat());
    for corrected in [true, false] {
        let out = text(dir.join(if corrected { "true" } else { "as-is" }));
        let printer: &[&str] = if corrected { &["--printer", profile] } else { &[] };
        done([&["film", &art, "--out", &out], &size[..], printer].concat());
        let check = filmquilt(["check", &out]);
        let said = String::from_utf8_lossy(&check.stdout).into_owned();
        assert_eq!(check.status.code(), Some(0), "{said}");
        let found = python("printed.py", &[&["film", &out, &onebit], &FAULTS[..]].concat());
        let found: Value = serde_json::from_str(&found).expect("JSON");
        let wrong = found["wrong"].as_u64().expect("pixels");
        assert!(
            found["sheets"].as_u64() >= Some(2) && found["looked_at"].as_u64() > Some(1_000_000)
        );
        assert_eq!(wrong == 0, corrected, "corrected {corrected}: {found}");
    }
    let plan: Value =
        serde_json::from_slice(&std::fs::read(dir.join("true/plan.json")).expect("a plan"))
            .expect("JSON");
    assert_eq!(plan["printer"]["printer"], "Wide one");
    // A plan that tells of another printer is found out.
    let mut other = plan;
    other["printer"]["scale_x"] = 1.003.into();
    std::fs::write(dir.join("true/plan.json"), other.to_string()).expect("written");
    assert_eq!(filmquilt(["check", &text(dir.join("true"))]).status.code(), Some(1));
}

/// Ink that spreads by 0.7 pixels on each side, drawn in by one. The densities are those of lines
/// 0.06 mm too wide on either side, worked out by hand from Murray 1936.
#[test]
fn spreading_ink_is_drawn_in() {
    let dir = folder();
    let at = |name: &str| text(dir.path().join(name));
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let profile = at("wet.printer");
    let densities = "0.04,0.148,0.207,0.276,0.358,0.459,0.592,0.783,1.13,3.1,3.1";
    let read = ["calibrate", "read", "-o", &profile, "--across", "300mm", "--down", "460mm"];
    let said = done([&read[..], &["--densities", densities]].concat());
    assert!(said.contains("Ink spreads 0.060 mm"), "{said}");
    let size = ["--width", "10in", "--ppi", "300"];
    done([&["onebit", &art, "-o", &at("plain.png")], &size[..]].concat());
    done([&["film", &art, "--out", &at("films"), "--printer", &profile], &size[..]].concat());
    let found = python("printed.py", &["spread", &at("films"), &at("plain.png")]);
    let found: Value = serde_json::from_str(&found).expect("JSON");
    // Drawn in by one pixel where the art is thick, and nothing of it lost.
    assert_eq!((found["wrong"].as_u64(), found["lost"].as_u64()), (Some(0), Some(0)), "{found}");
    assert!(found["drawn_in"].as_u64() > Some(1000), "{found}");
    assert_eq!(filmquilt(["check", &at("films")]).status.code(), Some(0));
}

#[test]
fn misread_pages_and_foreign_files_are_told() {
    let dir = folder();
    let out = text(dir.path().join("x.printer"));
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let read = |across, down| {
        ["calibrate", "read", "-o", &out, "--across", across, "--down", down]
            .map(String::from)
            .to_vec()
    };
    let films = text(dir.path().join("films"));
    let film = words(&["film", &art, "--out", &films, "--printer", &art]);
    let small = words(&["calibrate", "page", "-o", &out, "--sheet", "4x6in"]);
    for bad in [read("300in", "460mm"), read("300mm", "46mm"), film, small] {
        let told = filmquilt(&bad);
        let said = String::from_utf8_lossy(&told.stderr);
        assert_eq!(told.status.code(), Some(1), "{bad:?}: {said}");
        assert_eq!(said.lines().count(), 2, "{bad:?}: {said}");
        assert_eq!(std::fs::read_dir(dir.path()).expect("a folder").count(), 0, "{bad:?}");
    }
}
