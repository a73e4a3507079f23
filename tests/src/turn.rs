//! Artwork turned on the film, against scipy and the picture library's own quarter turns.

use crate::util::{done, folder, python, root, text};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

fn film(art: &str, out: &Path, more: &[&str]) -> Vec<u8> {
    let out = text(out);
    let mut words = vec!["onebit", art, "--width", "8in", "--ppi", "300", "-o", &out];
    words.extend(more);
    done(words);
    std::fs::read(out).unwrap()
}

/// The edges of a turned film lie where those of a truth do that scipy turned, which has one-bit
/// pixels as fine as the film's, a twelfth (.083) of a source pixel. Measured on `knot` and
/// `scorpion`: .0091 and .0040 source pixels upright; .0125 and .0115 turned by 33 degrees, of
/// which most is the truth's own steps, that upright are the film's too. A film half a pixel
/// aside would be off by .027.
#[test]
fn turned_edges_are_as_true_as_upright_ones() {
    let subset = root().join("tests/art/edge-subset");
    let films = folder();
    let angles = ["0", "7.5", "33", "-120.4"];
    for art in std::fs::read_dir(&subset).unwrap().map(|e| e.unwrap().path()).filter(|p| p.is_dir())
    {
        let name = art.file_name().unwrap().to_string_lossy().into_owned();
        for angle in angles {
            let out = text(films.path().join(format!("{name}-{angle}.png")));
            let source = text(art.join("aa.png"));
            done([
                "onebit", &source, "--width", "10.24in", "--ppi", "300", "--turn", angle, "-o",
                &out,
            ]);
        }
    }
    let mut words = vec![text(&subset), text(films.path())];
    words.extend(angles.map(String::from));
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let said = python("turn_score.py", &words);
    println!("{said}");
    let errors: Vec<f64> = said
        .lines()
        .map(|l| serde_json::from_str::<Value>(l).expect("JSON")["error"].as_f64().unwrap())
        .collect();
    assert_eq!(errors.len(), angles.len());
    assert!(errors.iter().all(|e| *e > 0.0 && *e <= 0.017), "{errors:?}");
}

/// Quarter turns are the upright film's very pixels, turned by the picture library; nought turns
/// nothing; any other turn gives the same bytes with one thread as with all.
#[test]
fn quarter_turns_are_exact_and_threads_change_nothing() {
    let dir = folder();
    let at = |name: &str| dir.path().join(name);
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let upright = film(&art, &at("0.png"), &[]);
    assert!(film(&art, &at("none.png"), &["--turn", "0"]) == upright);
    let plain = image::load_from_memory(&upright).unwrap().into_luma8();
    for (turn, want) in [
        ("90deg", image::imageops::rotate90(&plain)),
        ("180", image::imageops::rotate180(&plain)),
        ("-90", image::imageops::rotate270(&plain)),
    ] {
        let got = image::load_from_memory(&film(&art, &at("q.png"), &["--turn", turn])).unwrap();
        assert!(got.into_luma8() == want, "{turn}");
    }
    let all = film(&art, &at("20.png"), &["--turn", "20deg"]);
    let out = text(at("one.png"));
    let one = Command::new(env!("CARGO_BIN_EXE_filmquilt"))
        .args(["onebit", &art, "--width", "8in", "--ppi", "300", "--turn", "20deg", "-o", &out])
        .env("RAYON_NUM_THREADS", "1")
        .output()
        .unwrap();
    assert!(one.status.success() && std::fs::read(&out).unwrap() == all);
}

/// A turned job's films are proved, in one ink, in dots and in several screens.
#[test]
fn films_of_turned_artwork_read_back() {
    let dir = folder();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    for more in [&[][..], &["--tone", "dots"], &["--inks", "auto:2", "--trap", "0.3mm"]] {
        let out = text(dir.path().join("films"));
        let mut words = vec!["film", &art, "--width", "20in", "--ppi", "100", "--turn", "12deg"];
        words.extend(["--out", &out]);
        words.extend(more);
        done(words);
        done(["check", &out]);
        let plan: Value =
            serde_json::from_str(&std::fs::read_to_string(format!("{out}/plan.json")).unwrap())
                .unwrap();
        // 2000 cos 12 + 1714 sin 12 = 2312.7 film pixels across.
        assert_eq!(plan["film"]["width_px"], 2313, "{more:?}");
        std::fs::remove_dir_all(&out).unwrap();
    }
}
