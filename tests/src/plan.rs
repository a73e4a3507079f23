//! `filmquilt plan`: regions whose fewest sheets are known, and an independent checker.

use crate::util::{done, folder, root, text, tool};
use image::{GrayImage, Luma};
use serde_json::Value;
use std::path::Path;

/// A region of 0.25 in cells, with its fewest sheets as two independent methods (a branch and
/// bound, an integer programme) proved them.
struct Case {
    name: String,
    sheet: [f64; 2],
    overlap: f64,
    fewest: u64,
    cells: GrayImage,
}

const CELL: f64 = 0.25;
const MARGIN: f64 = 0.125;

fn region(width: u64, height: u64, ink: impl Fn(u32, u32) -> bool) -> GrayImage {
    GrayImage::from_fn(width as u32, height as u32, |x, y| Luma([if ink(x, y) { 0 } else { 255 }]))
}

fn cases() -> Vec<Case> {
    let mut files: Vec<_> = std::fs::read_dir(root().join("crates/sheets/tests/regions"))
        .expect("the regions")
        .map(|f| f.unwrap().path())
        .collect();
    files.sort();
    let case = |file: &Path| {
        let json: Value = serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap();
        let rows: Vec<Vec<[u32; 2]>> = serde_json::from_value(json["rows"].clone()).unwrap();
        let whole = |key: &str| json[key].as_u64().unwrap();
        let cells = region(whole("width"), whole("height"), |x, y| {
            rows[y as usize].iter().any(|run| (run[0]..run[1]).contains(&x))
        });
        assert_eq!(json["cell_in"], CELL);
        Case {
            name: file.file_stem().unwrap().to_string_lossy().into_owned(),
            sheet: [0, 1].map(|i| json["printable_in"][i].as_f64().unwrap() + 2.0 * MARGIN),
            overlap: json["overlap_in"].as_f64().unwrap(),
            fewest: whole("fewest"),
            cells,
        }
    };
    files.iter().map(|file| case(file)).collect()
}

/// The plan of a region, after the checker in Python, which shares nothing with the planner, has
/// found it sound at the picture's own cells: the region was enlarged exactly.
fn plan(case: &Case, pieces: &str, dir: &Path) -> Value {
    let picture = text(dir.join(format!("{}.png", case.name)));
    case.cells.save(&picture).unwrap();
    let (across, down) = case.cells.dimensions();
    let width = format!("{}in", f64::from(across) * CELL);
    let [w, h] = case.sheet;
    let words = |length: f64| format!("{length}in");
    let said = done([
        "plan",
        &picture,
        "--garment",
        "none",
        "--bleed",
        "0in",
        "--surround",
        "0in",
        "--ppi",
        "100",
        "--width",
        &width,
        "--sheet",
        &format!("{w}x{h}in"),
        "--margin",
        &words(MARGIN),
        "--overlap",
        &words(case.overlap),
        "--pieces",
        pieces,
    ]);
    let path = text(dir.join(format!("{}-{pieces}.json", case.name)));
    std::fs::write(&path, &said).unwrap();
    let printable = format!("{}x{}", w - 2.0 * MARGIN, h - 2.0 * MARGIN);
    let checker = text(root().join("tests/check_plan.py"));
    tool(
        "python3",
        &[
            &checker,
            &picture,
            &path,
            "--overlap",
            &case.overlap.to_string(),
            "--printable",
            &printable,
            "--pieces",
            pieces,
        ],
    );
    let plan: Value = serde_json::from_str(&said).expect("JSON");
    assert_eq!(plan["film"]["width_px"], 25 * across, "{}", case.name);
    assert_eq!(plan["film"]["height_px"], 25 * down, "{}", case.name);
    plan
}

fn sheets(plan: &Value) -> u64 {
    plan["sheets"].as_array().unwrap().len() as u64
}

#[test]
fn known_regions_reach_their_fewest_sheets() {
    let dir = folder();
    let cases = cases();
    assert_eq!(cases.len(), 9);
    for case in &cases {
        let plan = plan(case, "one", dir.path());
        assert_eq!(sheets(&plan), case.fewest, "{}", case.name);
        assert_eq!(plan["fewest_proved"], true, "{}", case.name);
        assert_eq!(plan["lower_bound"], case.fewest, "{}", case.name);
        if case.name.starts_with("tee-2xl") {
            let apart = self::plan(case, "many", dir.path());
            assert!(sheets(&apart) <= case.fewest, "{}", case.name);
        }
    }
}

/// Two squares of 8 in, 24 in apart: a sheet of 13 x 19 in holds either, so two are the fewest
/// where the film may be in pieces, and a taped film needs more to bridge them.
#[test]
fn separate_motifs_may_be_separate_pieces() {
    let dir = folder();
    let cells = region(160, 32, |x, _| !(32..128).contains(&x));
    let case = Case { name: "pair".into(), sheet: [13.0, 19.0], overlap: 0.5, fewest: 2, cells };
    let many = plan(&case, "many", dir.path());
    assert_eq!((sheets(&many), &many["fewest_proved"]), (2, &Value::from(true)));
    assert!(sheets(&plan(&case, "one", dir.path())) > 2);
}
