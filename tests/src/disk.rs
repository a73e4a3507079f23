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
