//! The real window, under a virtual display.

use crate::util::{done, folder, root, text, tool};
use std::io::{BufRead, BufReader};
use std::path::Path;
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

/// The program's window on a display, with settings of its own in `home`, where the system has
/// no file chooser: neither a session's message bus nor a helper program.
fn window(display: &str, home: &Path, file: Option<&str>) -> Ends {
    let mut command = Command::new(env!("CARGO_BIN_EXE_filmquilt"));
    started(command.env("PATH", home), display, home, file)
}

fn started(command: &mut Command, display: &str, home: &Path, file: Option<&str>) -> Ends {
    for bus in ["DBUS_SESSION_BUS_ADDRESS", "XDG_RUNTIME_DIR"] {
        command.env_remove(bus);
    }
    command.args(file).env("DISPLAY", display).env_remove("WAYLAND_DISPLAY").env("HOME", home);
    for folder in ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"] {
        command.env(folder, home);
    }
    Ends(command.stderr(Stdio::piped()).spawn().expect("filmquilt runs"))
}

/// Waits until something has come about.
fn wait_for(window: &mut Ends, what: &str, mut done: impl FnMut() -> bool) {
    let start = Instant::now();
    while !done() {
        if let Ok(Some(status)) = window.0.try_wait() {
            panic!("the window closed by itself: {status}");
        }
        assert!(start.elapsed() < Duration::from_secs(90), "{what} never came");
        std::thread::sleep(Duration::from_millis(300));
    }
}

#[test]
fn the_window_opens_on_the_artwork_and_closes() {
    let dir = folder();
    let (_screen, display) = display();
    let art = text(root().join("assets/demo/lantern-moth.png"));
    let mut window = window(&display, dir.path(), Some(&art));
    let shot = text(dir.path().join("window.png"));
    // The film's greys at reduced size make hundreds of colours; an empty window has a few.
    wait_for(&mut window, "the film", || colours(&display, &shot) >= 60);
}

/// Mouse and keys as a hand gives them, each with a moment for the window to follow.
fn by_hand(display: &str, steps: &[&str]) {
    for step in steps {
        let done = Command::new("xdotool").args(step.split(' ')).env("DISPLAY", display).status();
        assert!(done.expect("xdotool is needed; run: sh .ci/set-up tests").success(), "{step}");
        std::thread::sleep(Duration::from_millis(700));
    }
}

/// Whether a window's title begins so.
fn titled(display: &str, title: &str) -> bool {
    found(display, &["search", "--name", &format!("^{title} ")])
}

fn found(display: &str, search: &[&str]) -> bool {
    let found = Command::new("xdotool")
        .args(search)
        .env("DISPLAY", display)
        .output()
        .expect("xdotool is needed; run: sh .ci/set-up tests");
    !found.stdout.is_empty()
}

/// From the first start to written films by mouse and keyboard; the command writes the same.
#[test]
fn films_made_by_hand_are_those_of_the_command() {
    let dir = folder();
    let (_screen, display) = display();
    let art = dir.path().join("sign.png");
    std::fs::copy(root().join("tests/art/edge-subset/scorpion/aa.png"), &art).unwrap();
    let (by_window, by_command) = (dir.path().join("by-window"), dir.path().join("by-command"));
    let mut window = window(&display, dir.path(), None);
    let shot = text(dir.path().join("window.png"));
    wait_for(&mut window, "the demo job", || colours(&display, &shot) >= 60);
    by_hand(&display, &["search --name Filmquilt windowfocus", "key Escape", "key ctrl+n"]);
    wait_for(&mut window, "an empty table", || titled(&display, "Untitled"));
    by_hand(&display, &["key ctrl+o"]);
    by_hand(&display, &[&format!("type --delay 20 {}", text(&art)), "key Return"]);
    wait_for(&mut window, "the picture", || titled(&display, "sign"));
    // The rail's third step, Film, and in its panel the first field, the artwork's width.
    by_hand(&display, &["mousemove 60 231 click 1", "mousemove 390 111 click 1", "key ctrl+a"]);
    by_hand(&display, &["type --delay 20 20.5in+1/2in", "key Return", "key ctrl+e", "key ctrl+a"]);
    by_hand(&display, &[&format!("type --delay 20 {}", text(&by_window)), "key Return"]);
    let names = ["film.pdf", "guide.pdf", "plan.json"];
    wait_for(&mut window, "the films", || names.iter().all(|n| by_window.join(n).exists()));
    done(["film", &text(&art), "--width", "21in", "--out", &text(&by_command)]);
    for name in names {
        let read = |folder: &Path| std::fs::read(folder.join(name)).unwrap();
        assert!(read(&by_window) == read(&by_command), "{name} differs");
    }
}

/// Opens a picture by the system's own chooser, and saves the job by it.
#[test]
fn the_systems_chooser_opens_and_saves() {
    let dir = folder();
    let (_screen, display) = display();
    let art = dir.path().join("sign.png");
    std::fs::copy(root().join("tests/art/edge-subset/scorpion/aa.png"), &art).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_filmquilt"));
    let mut window = started(&mut command, &display, dir.path(), None);
    let shot = text(dir.path().join("window.png"));
    wait_for(&mut window, "the demo job", || colours(&display, &shot) >= 60);
    by_hand(&display, &["search --name Filmquilt windowfocus", "key Escape", "key ctrl+n"]);
    wait_for(&mut window, "an empty table", || titled(&display, "Untitled"));
    let chooser = "search --onlyvisible --class zenity";
    let mut chosen = |keys: &str, path: &Path, done: &dyn Fn() -> bool| {
        by_hand(&display, &["search --name Filmquilt windowfocus", keys]);
        let search: Vec<&str> = chooser.split(' ').collect();
        wait_for(&mut window, "a chooser (is zenity installed?)", || found(&display, &search));
        by_hand(&display, &[&format!("{chooser} windowfocus"), "key ctrl+l", "key ctrl+a"]);
        by_hand(&display, &[&format!("type --delay 20 {}", text(path)), "key Return"]);
        wait_for(&mut window, "what was chosen", done);
    };
    chosen("key ctrl+o", &art, &|| titled(&display, "sign"));
    let job = dir.path().join("mine.quilt");
    chosen("key ctrl+s", &job, &|| job.exists());
}

#[test]
fn a_picture_is_pasted_from_the_clipboard() {
    let dir = folder();
    let (_screen, display) = display();
    let mut window = window(&display, dir.path(), None);
    let shot = text(dir.path().join("window.png"));
    wait_for(&mut window, "the demo job", || colours(&display, &shot) >= 60);
    by_hand(&display, &["search --name Filmquilt windowfocus", "key Escape", "key ctrl+n"]);
    wait_for(&mut window, "an empty table", || titled(&display, "Untitled"));
    let art = text(root().join("tests/art/edge-subset/scorpion/aa.png"));
    let copied = Command::new("xclip")
        .args(["-selection", "clipboard", "-target", "image/png", "-in", &art])
        .env("DISPLAY", &display)
        .status();
    assert!(copied.expect("xclip is needed; run: sh .ci/set-up tests").success());
    by_hand(&display, &["key shift+ctrl+v"]);
    // A change that is not saved is marked before the title.
    wait_for(&mut window, "the picture", || !titled(&display, "Untitled"));
    // Without a picture there would be nothing to write.
    let films = dir.path().join("films");
    by_hand(&display, &["key ctrl+e", "key ctrl+a"]);
    by_hand(&display, &[&format!("type --delay 20 {}", text(&films)), "key Return"]);
    wait_for(&mut window, "the films", || films.join("film.pdf").exists());
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
