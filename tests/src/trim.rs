//! `filmquilt film --trim-lines`: dots along the seams, which a PDF reader sees where plan.json
//! lists them, and the film in every pixel besides.

use crate::util::{done, folder, python, root, text, tool};
use serde_json::Value;

#[test]
fn dots_are_seen_where_they_are_listed_and_the_film_everywhere_else() {
    let dir = folder();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let (out, onebit) = (dir.path().join("out"), text(dir.path().join("whole.png")));
    let size = ["--width", "25in", "--ppi", "150"];
    done([&["film", &art, "--out", &text(&out), "--trim-lines"], &size[..]].concat());
    done([&["onebit", &art, "-o", &onebit], &size[..]].concat());
    let said = python("compose.py", &[&text(&out), &onebit]);
    assert_eq!(said.lines().count(), 3, "three readers");
    for line in said.lines() {
        let line: Value = serde_json::from_str(line).expect("JSON");
        assert_eq!(line["differ"], 0, "{line}");
        assert!(line["marks_share"].as_f64().expect("a share") < 0.01, "{line}");
    }
    let bytes = std::fs::read(out.join("plan.json")).expect("plan.json");
    let plan: Value = serde_json::from_slice(&bytes).expect("JSON");
    let px = |of: &Value, key: &str| of[key].as_i64().expect("pixels");
    let mut seen = 0;
    for sheet in plan["sheets"].as_array().expect("sheets") {
        let page = sheet["page"].to_string();
        let drawn = text(dir.path().join(format!("page{page}")));
        let film = text(out.join("film.pdf"));
        let once = ["-r", "150", "-mono", "-singlefile", "-f", &page, "-l", &page, &film, &drawn];
        tool("pdftoppm", &once);
        let (width, bits) = pbm(&std::fs::read(format!("{drawn}.pbm")).expect("a page"));
        let of = |m: &&Value| m["kind"] == "trim" && m["sheet"] == sheet["name"];
        for mark in plan["marks"].as_array().expect("marks").iter().filter(of) {
            let u = px(mark, "x_px") - px(sheet, "x_px");
            let v = px(mark, "y_px") - px(sheet, "y_px");
            let (wide, high) = (px(mark, "width_px"), px(mark, "height_px"));
            let (x, y) = (u + wide / 2, v + high / 2);
            // A turned image stands a quarter clockwise on its page.
            let turned = sheet["turned"] == true;
            let (x, y) = if turned { (px(sheet, "height_px") - 1 - y, x) } else { (x, y) };
            let (x, y) = (x + px(sheet, "image_x_px"), y + px(sheet, "image_y_px"));
            let byte = bits[y as usize * width.div_ceil(8) + x as usize / 8];
            assert_eq!(byte >> (7 - x % 8) & 1, 1, "no dot at {mark} on page {page}");
            seen += 1;
        }
    }
    assert!(seen > 50, "{seen} dots");
}

/// The width and the packed rows of a raw PBM.
fn pbm(file: &[u8]) -> (usize, Vec<u8>) {
    let lines: Vec<&[u8]> = file.splitn(3, |byte| *byte == b'\n').collect();
    assert_eq!(lines[0], b"P4");
    let size = std::str::from_utf8(lines[1]).expect("a size");
    let width = size.split(' ').next().and_then(|w| w.parse().ok()).expect("a width");
    (width, lines[2].to_vec())
}
