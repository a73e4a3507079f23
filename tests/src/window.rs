//! The real window, under a virtual display.

use crate::util::{folder, root, text, tool};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A process that ends with the test.
struct Ends(Child);

impl Drop for Ends {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Starts a display of its own, so that tests never meet on one.
fn display() -> (Ends, String) {
    let mut child = Command::new("Xvfb")
        .args(["-displayfd", "1", "-screen", "0", "1280x800x24", "-nolisten", "tcp"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("Xvfb is needed; run: sh .ci/set-up tests");
    let mut line = String::new();
    let out = child.stdout.take().expect("a pipe");
    BufReader::new(out).read_line(&mut line).expect("the display's number");
    (Ends(child), format!(":{}", line.trim()))
}

/// How many colours a picture of the whole display has.
fn colours(display: &str, to: &str) -> u64 {
    let shot = Command::new("import")
        .args(["-display", display, "-window", "root", to])
        .status()
        .expect("imagemagick is needed; run: sh .ci/set-up tests");
    assert!(shot.success());
    tool("identify", &["-format", "%k", to]).trim().parse().expect("a number")
}

#[test]
fn the_window_opens_on_the_artwork_and_closes() {
    let dir = folder();
    let (_screen, display) = display();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let mut window = Ends(
        Command::new(env!("CARGO_BIN_EXE_filmquilt"))
            .arg(&art)
            .env("DISPLAY", &display)
            .env_remove("WAYLAND_DISPLAY")
            .env("HOME", dir.path())
            .env("XDG_CONFIG_HOME", dir.path())
            .env("XDG_DATA_HOME", dir.path())
            .env("XDG_STATE_HOME", dir.path())
            .env("XDG_CACHE_HOME", dir.path())
            .stderr(Stdio::piped())
            .spawn()
            .expect("filmquilt runs"),
    );
    let shot = text(dir.path().join("window.png"));
    let start = Instant::now();
    // The film's greys at reduced size make hundreds of colours; an empty window has a few.
    while colours(&display, &shot) < 60 {
        if let Ok(Some(status)) = window.0.try_wait() {
            panic!("the window closed by itself: {status}");
        }
        assert!(start.elapsed() < Duration::from_secs(60), "the film never appeared");
        std::thread::sleep(Duration::from_millis(300));
    }
}

#[test]
fn without_a_display_it_says_so() {
    let dir = folder();
    let out = Command::new(env!("CARGO_BIN_EXE_filmquilt"))
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .env("HOME", dir.path())
        .output()
        .expect("filmquilt runs");
    let said = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(1), "{said}");
    assert!(
        said.contains("display") && said.contains("hint: ") && !said.contains("panicked"),
        "{said}"
    );
}
