//! `filmquilt check`: an export that was touched is found out.

use crate::util::{done, filmquilt, folder, root, text, tool};
use serde_json::Value;
use std::path::Path;

fn export(dir: &Path) {
    let art = text(root().join("assets/demo/lantern-moth.png"));
    done(["film", &art, "--out", &text(dir), "--width", "20in", "--ppi", "100"]);
}

/// The exit code and the verdict of a check.
fn verdict(dir: &Path) -> (i32, Value) {
    let out = filmquilt(["check", &text(dir), "--json"]);
    let (said, errors) =
        (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    let json = serde_json::from_str(said.trim()).unwrap_or_else(|e| panic!("{e}: {said}{errors}"));
    (out.status.code().expect("an exit code"), json)
}

/// The folder with one file changed is a fault, told as JSON.
fn found(name: &str, file: &str, change: impl FnOnce(Vec<u8>) -> Vec<u8>) {
    let dir = folder();
    export(dir.path());
    let path = dir.path().join(file);
    let before = std::fs::read(&path).unwrap();
    let after = change(before.clone());
    assert!(before != after, "{name} changes nothing");
    std::fs::write(&path, after).unwrap();
    let (code, json) = verdict(dir.path());
    assert_eq!((code, &json["verdict"]), (1, &Value::from("fault")), "{name}: {json}");
    let faults: Vec<&Value> = json["files"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|f| f["faults"].as_array().unwrap())
        .collect();
    assert!(!faults.is_empty(), "{name}: {json}");
    assert!(faults.iter().all(|f| f["what"].as_str().unwrap().len() > 10), "{name}: {json}");
}

#[test]
fn an_export_is_good() {
    let dir = folder();
    export(dir.path());
    let (code, json) = verdict(dir.path());
    assert_eq!((code, &json["verdict"]), (0, &Value::from("good")), "{json}");
    assert!(done(["check", &text(dir.path())]).contains("good"));
}

/// The film as qpdf, a general PDF tool, writes it in plain text.
fn opened(pdf: &[u8]) -> Vec<u8> {
    let dir = folder();
    let (whole, open) = (dir.path().join("whole.pdf"), dir.path().join("open.pdf"));
    std::fs::write(&whole, pdf).unwrap();
    tool("qpdf", &["--qdf", "--object-streams=disable", &text(&whole), &text(&open)]);
    std::fs::read(&open).unwrap()
}

/// The opened film with one text replaced by another as long, so that nothing else moves.
fn edited(open: &[u8], from: &str, to: &str) -> Vec<u8> {
    assert_eq!(from.len(), to.len(), "{from}, {to}");
    let at = open.windows(from.len()).position(|w| w == from.as_bytes());
    let at = at.unwrap_or_else(|| panic!("{from} is not in the film"));
    [&open[..at], to.as_bytes(), &open[at + from.len()..]].concat()
}

#[test]
fn a_touched_film_is_a_fault() {
    found("a truncated film", "film.pdf", |pdf| pdf[..pdf.len() * 2 / 3].to_vec());
    found("an empty film", "film.pdf", |_| Vec::new());
    // The matrix of the first image tells its size and place, in points.
    for (name, place, by) in [("a shifted sheet", 4, -1.5), ("a sheet drawn larger", 0, 9.0)] {
        found(name, "film.pdf", |pdf| {
            let open = opened(&pdf);
            let all = String::from_utf8_lossy(&open).into_owned();
            let line = all.lines().find(|l| l.ends_with(" cm")).expect("a matrix");
            let words: Vec<&str> = line.split(' ').collect();
            let moved = format!("{:.4}", words[place].parse::<f64>().unwrap() + by);
            let mut new = words.clone();
            new[place] = &moved;
            edited(&open, line, &new.join(" "))
        });
    }
    found("a lower page", "film.pdf", |pdf| edited(&opened(&pdf), "1368", "1367"));
    found("a smaller scale unit", "film.pdf", |pdf| {
        let open = opened(&pdf);
        edited(&open, "/PrintScaling /None", "/PrintScaling /AppD")
    });
}

/// A plan whose numbers or sheets are not those of the film.
#[test]
fn a_plan_that_disagrees_is_a_fault() {
    type Change = fn(&mut Value);
    let changes: [(&str, Change); 4] = [
        ("a sheet moved", |plan| {
            let x = plan["sheets"][1]["x_px"].as_i64().unwrap();
            plan["sheets"][1]["x_px"] = (x + 7).into();
        }),
        ("a sheet elsewhere on its page", |plan| {
            let x = plan["sheets"][0]["image_x_px"].as_i64().unwrap();
            plan["sheets"][0]["image_x_px"] = (x + 3).into();
        }),
        ("a page of another size", |plan| plan["sheets"][0]["page_width_mm"] = 329.0.into()),
        ("a sheet left out", |plan| {
            plan["sheets"].as_array_mut().unwrap().pop();
        }),
    ];
    for (name, change) in changes {
        found(name, "plan.json", |bytes| {
            let mut plan: Value = serde_json::from_slice(&bytes).unwrap();
            change(&mut plan);
            serde_json::to_vec(&plan).unwrap()
        });
    }
}
