//! A disk that is full or may not be written, as a real file system of its own.

use crate::util::{filmquilt, folder, python, text};
use std::path::Path;
use std::process::Command;

/// A small file system in memory, taken away with the test.
struct Disk(tempfile::TempDir);

impl Disk {
    /// None, with a note, where this user or machine may not mount one.
    fn new(options: &str) -> Option<Disk> {
        let dir = folder();
        let words = ["-t", "tmpfs", "-o", options, "tmpfs"];
        let done = Command::new("mount").args(words).arg(dir.path()).output();
        if done.is_ok_and(|out| out.status.success()) {
            return Some(Disk(dir));
        }
        println!("skipped: a file system cannot be mounted here (it takes root on Linux)");
        None
    }

    fn path(&self) -> &Path {
        self.0.path()
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.path()).status();
    }
}

/// The command fails with one sentence and a hint, and leaves nothing on the disk.
fn fails(disk: &Disk, words: &[&str]) {
    let out = filmquilt(words);
    let said = String::from_utf8_lossy(&out.stderr);
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(out.status.code(), Some(1), "{words:?}: {said}");
    assert_eq!(lines.len(), 2, "{words:?}: {said}");
    assert!(lines[0].starts_with("filmquilt: ") && lines[1].starts_with("hint: "), "{said}");
    let left = std::fs::read_dir(disk.path()).unwrap().count();
    assert_eq!(left, 0, "{words:?} leaves something behind");
}

fn try_all(disk: &Disk) {
    let dir = folder();
    let art = text(dir.path().join("noise.png"));
    // Noise, cut hard, packs into no less than a bit a source pixel or so: far over 256 kB.
    python("make_pictures.py", &["noise", &art]);
    let size =
        ["--width", "16in", "--ppi", "150", "--edges", "plain", "--cut", "0.5", "--specks", "0"];
    let file = text(disk.path().join("film.tif"));
    fails(disk, &[&["film", &art, "--out", &text(disk.path())], &size[..]].concat());
    fails(disk, &[&["onebit", &art, "-o", &file], &size[..]].concat());
}

#[test]
fn a_full_disk_is_told_and_left_clean() {
    if let Some(disk) = Disk::new("size=256k") {
        try_all(&disk);
    }
}

#[test]
fn a_disk_that_may_not_be_written_is_told() {
    if let Some(disk) = Disk::new("size=256k,ro") {
        try_all(&disk);
    }
}

/// A folder that goes away while films are written into it.
#[test]
fn a_folder_that_vanishes_is_told() {
    let dir = folder();
    let out = dir.path().join("films");
    let art = text(crate::util::root().join("assets/demo/lantern-moth.png"));
    let mut child = Command::new(env!("CARGO_BIN_EXE_filmquilt"))
        .args(["film", &art, "--out", &text(&out), "--width", "30in", "--ppi", "150"])
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    while !out.exists() {
        assert!(child.try_wait().unwrap().is_none(), "done before its folder was there");
    }
    // Its files may still be on their way in.
    while out.exists() {
        let _ = std::fs::remove_dir_all(&out);
    }
    let done = child.wait_with_output().unwrap();
    let said = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(1), "{said}");
    assert!(said.contains("could not be written") && said.contains("hint: "), "{said}");
    assert!(!out.exists());
}

/// What fails leaves no folder of its own behind.
#[test]
fn a_failed_export_leaves_no_folder() {
    let dir = folder();
    let art = text(crate::util::root().join("assets/demo/lantern-moth.png"));
    let out = text(dir.path().join("new/films"));
    for words in [["--overlap", "13in"], ["--crop", "9000,9000,9,9"]] {
        let out = filmquilt([&["film", &art, "--out", &out], &words[..]].concat());
        assert_eq!(out.status.code(), Some(1), "{}", String::from_utf8_lossy(&out.stderr));
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
    }
}
