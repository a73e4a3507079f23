//! Bad input: one clear sentence and a hint, exit 1, no panic, nothing half-written.

use crate::util::{done, filmquilt, folder, root, text};
use std::path::Path;

/// Runs a command that must fail, and checks how.
fn refused(name: &str, words: &[&str], code: i32) {
    let out = filmquilt(words);
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(code), "{name}: {said}");
    assert!(!said.contains("panicked"), "{name}: {said}");
    if code == 1 {
        let lines: Vec<&str> = said.lines().collect();
        assert_eq!(lines.len(), 2, "{name}: {said}");
        assert!(lines[0].starts_with("filmquilt: ") && lines[0].len() > 20, "{name}: {said}");
        assert!(lines[1].starts_with("hint: ") && lines[1].len() > 10, "{name}: {said}");
    }
    assert!(out.stdout.is_empty(), "{name} printed to stdout");
}

fn files_in(dir: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(dir)
        .expect("a folder")
        .map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

fn png_with_size(width: u32, height: u32) -> Vec<u8> {
    // A PNG header that promises a picture of any size (PNG, 3rd edition, 11.2.1), and no data.
    let mut chunk = b"IHDR".to_vec();
    chunk.extend(width.to_be_bytes());
    chunk.extend(height.to_be_bytes());
    chunk.extend([8, 0, 0, 0, 0]);
    let mut crc = !0_u32;
    for byte in &chunk {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = crc >> 1 ^ (0xEDB8_8320 & 0_u32.wrapping_sub(crc & 1));
        }
    }
    let mut out = b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0d".to_vec();
    out.extend(&chunk);
    out.extend((!crc).to_be_bytes());
    out.extend(b"\x00\x00\x00\x00IEND\xaeB`\x82");
    out
}

#[test]
fn bad_pictures_are_refused() {
    let dir = folder();
    let out = folder();
    let demo = std::fs::read(root().join("assets/demo/lantern-moth.png")).unwrap();
    let cases: Vec<(&str, Vec<u8>)> = vec![
        ("empty.png", Vec::new()),
        ("truncated.png", demo[..demo.len() / 2].to_vec()),
        ("header-only.png", demo[..20].to_vec()),
        ("mislabelled.png", b"this is a shopping list, not a picture\n".to_vec()),
        ("zeroes.tif", vec![0; 4096]),
        ("zero-size.png", png_with_size(0, 10)),
        ("wide.png", png_with_size(60_001, 10)),
        ("bomb.png", png_with_size(50_000, 50_000)),
        (
            "zero-size.svg",
            b"<svg xmlns='http://www.w3.org/2000/svg' width='0' height='0'/>".to_vec(),
        ),
        ("broken.svg", b"<svg xmlns='http://www.w3.org/2000/svg'><path d='M0".to_vec()),
        ("not-a-job.quilt", b"PK\x03\x04 and then nothing of use".to_vec()),
    ];
    for (name, bytes) in cases {
        let path = dir.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        refused(name, &["film", &text(&path), "--out", &text(out.path())], 1);
        let picture = text(out.path().join("x.png"));
        refused(name, &["onebit", &text(&path), "--width", "3in", "-o", &picture], 1);
    }
    refused("missing", &["film", "/nowhere/at/all.png", "--out", &text(out.path())], 1);
    refused("a folder", &["film", &text(dir.path()), "--out", &text(out.path())], 1);
    assert_eq!(files_in(out.path()), Vec::<String>::new(), "nothing is half-written");
}

#[test]
fn bad_numbers_are_refused() {
    let out = folder();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let cases: &[(&[&str], i32)] = &[
        (&["--width", "nan"], 1),
        (&["--width", "NaNin"], 1),
        (&["--width", "inf"], 1),
        (&["--width", "-4in"], 1),
        (&["--width", "0in"], 1),
        (&["--width", "1000000000in"], 1),
        (&["--width", "300in", "--ppi", "4000"], 1),
        (&["--ppi", "0"], 1),
        (&["--ppi", "nan"], 1),
        (&["--ppi", "-300"], 1),
        (&["--cut", "7"], 1),
        (&["--cut", "nan"], 1),
        (&["--overlap", "14in"], 1),
        (&["--overlap", "-1in"], 1),
        (&["--margin", "7in"], 1),
        (&["--margin", "-1in"], 1),
        (&["--sheet", "0x0in"], 1),
        (&["--sheet", "1e9x1in"], 2),
        (&["--bleed", "-1in", "--garment", "tee-m"], 1),
        (&["--crop", "480,0,100,100"], 1),
        (&["--crop", "0,0,0,0"], 1),
        (&["--width", "a bit"], 2),
        (&["--sheet", "large"], 2),
        (&["--garment", "spacesuit"], 2),
        (&["--crop", "1,2,3"], 2),
        (&["--frobnicate"], 2),
    ];
    let dir = text(out.path());
    for (words, code) in cases {
        let all = [&["film", &art, "--out", &dir], *words].concat();
        refused(&words.join(" "), &all, *code);
    }
    refused("no file", &["film", "--out", &text(out.path())], 2);
    assert_eq!(files_in(out.path()), Vec::<String>::new(), "nothing is half-written");
}

#[test]
fn an_existing_export_survives_a_failed_one() {
    let out = folder();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let words = ["film", &art, "--out", &text(out.path()), "--width", "10in", "--ppi", "72"];
    done(words);
    let before = std::fs::read(out.path().join("film.pdf")).unwrap();
    refused("margins", &[&words[..], &["--margin", "8in"]].concat(), 1);
    assert_eq!(files_in(out.path()), ["film.pdf", "guide.pdf", "plan.json"]);
    assert!(std::fs::read(out.path().join("film.pdf")).unwrap() == before);
}

/// A folder under a file cannot be made; a full disk is what /dev/full stands for on Linux.
#[test]
fn an_output_that_cannot_be_written_is_refused() {
    let dir = folder();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let file = dir.path().join("file");
    std::fs::write(&file, "in the way").unwrap();
    let small = ["--width", "3in", "--ppi", "72"];
    refused(
        "under a file",
        &[&["film", &art, "--out", &text(file.join("out"))], &small[..]].concat(),
        1,
    );
    refused("no folder", &[&["onebit", &art, "-o", "/nowhere/at/all.png"], &small[..]].concat(), 1);
    let odd = text(dir.path().join("film.docx"));
    refused("odd name", &[&["onebit", &art, "-o", &odd], &small[..]].concat(), 1);
    assert_eq!(files_in(dir.path()), ["file"]);
    if cfg!(target_os = "linux") {
        // Root may write anywhere, so a read-only file system is asked instead.
        refused(
            "read-only",
            &[&["film", &art, "--out", "/proc/filmquilt"], &small[..]].concat(),
            1,
        );
    }
}
