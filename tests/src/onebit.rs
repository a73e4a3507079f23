//! `filmquilt onebit`, against Pillow and scikit-image.

use crate::util::{done, folder, python, root, text, tool};
use serde_json::Value;

fn json(said: &str) -> Value {
    serde_json::from_str(said.trim()).unwrap_or_else(|e| panic!("{e}: {said}"))
}

/// Width is exactly round(width x ppi); height follows the picture's proportion.
#[test]
fn pixel_size_is_exact() {
    let dir = folder();
    let art = text(root().join("assets/demo/lantern-moth.png")); // 490 x 420
    for (width, ppi, across, down) in [
        ("10.24in", "300", 3072, 2633),
        ("7in", "300", 2100, 1800),
        ("90cm", "72", 2551, 2187),
        ("123.4mm", "720", 3498, 2998),
        ("100pt", "100", 139, 119),
    ] {
        let out = text(dir.path().join("out.png"));
        done(["onebit", &art, "--width", width, "--ppi", ppi, "-o", &out]);
        let film = image::open(&out).expect("a picture");
        assert_eq!((film.width(), film.height()), (across, down), "{width} at {ppi}");
    }
}

/// The TIFF, read by libtiff through Pillow, holds the same pixels as the PNG.
#[test]
fn tiff_and_png_are_the_same_film() {
    let dir = folder();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let (png, tif) = (text(dir.path().join("a.png")), text(dir.path().join("a.tif")));
    for out in [&png, &tif] {
        done(["onebit", &art, "--width", "9.1in", "--ppi", "300", "-o", out]);
    }
    let said = json(&python("same_picture.py", &[&png, &tif]));
    assert_eq!(said["same"], true, "{said}");
    assert_eq!(said["modes"], serde_json::json!(["1", "1"]));
    assert_eq!(said["compression"], "group4");
    let info = tool("tiffinfo", &[&tif]);
    assert!(info.contains("Resolution: 300, 300 pixels/inch"), "{info}");
    assert!(info.contains("min-is-white"), "{info}");
}

/// Plain edges are Keys' cubic with a = -1/2 (Keys 1981), as Pillow's BICUBIC is: every pixel
/// the same, but where the last bits of a float decide.
#[test]
fn plain_edges_match_pillow_bicubic() {
    let dir = folder();
    let real = text(dir.path().join("page.png"));
    python("real_art.py", &["page", &real]);
    let demo = text(root().join("assets/demo/lantern-moth.png"));
    for (art, across) in [(&demo, 490 * 6), (&real, 384 * 5)] {
        let out = text(dir.path().join("film.png"));
        let width = format!("{across}pt");
        done([
            "onebit", art, "--width", &width, "--ppi", "72", "--edges", "plain", "--cut", "0.5",
            "--specks", "0", "-o", &out,
        ]);
        let said = json(&python("compare_cut.py", &[art, &out, "pillow-bicubic", "127.5"]));
        assert_eq!(said["beyond_rounding"], 0, "{art}: {said}");
        let share = said["differ"].as_f64().unwrap() / said["pixels"].as_f64().unwrap();
        assert!(share < 1e-4, "{art}: {said}");
    }
}

/// Otsu's level (Otsu 1979), as scikit-image finds it, at one film pixel a source pixel.
#[test]
fn the_automatic_level_is_otsus() {
    let dir = folder();
    for (name, across) in [("page", 384), ("coins", 384), ("camera", 512)] {
        let (art, out) = (text(dir.path().join("art.png")), text(dir.path().join("film.png")));
        python("real_art.py", &[name, &art]);
        let width = format!("{across}pt");
        done([
            "onebit", &art, "--width", &width, "--ppi", "72", "--edges", "plain", "--cut", "auto",
            "--specks", "0", "-o", &out,
        ]);
        let said = json(&python("compare_cut.py", &[&art, &out, "otsu"]));
        assert_eq!(said["differ"], 0, "{name}: {said}");
    }
}

/// Inverted film is the other film's opposite.
#[test]
fn invert_exchanges_black_and_white() {
    let dir = folder();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let (a, b) = (text(dir.path().join("a.png")), text(dir.path().join("b.png")));
    let words = |out| {
        [
            "onebit", &art, "--width", "980pt", "--ppi", "72", "--edges", "plain", "--cut", "0.5",
            "-o", out,
        ]
    };
    done(words(&a));
    done(words(&b).into_iter().chain(["--invert"]));
    let said = json(&python("same_picture.py", &[&a, &b]));
    let (same, all) = (said["equal"].as_f64().unwrap(), said["pixels"].as_f64().unwrap());
    assert!(same / all < 1e-3, "{said}");
}
