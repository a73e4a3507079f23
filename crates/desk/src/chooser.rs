//! The system's own file chooser, asked on a thread of its own so that the window stays alive.

use crate::dialog::Purpose;
use eframe::egui::Context;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// No person says "Cancel" this fast: the system has no file chooser.
const TOO_FAST: Duration = Duration::from_millis(900);

/// A chooser that is open.
pub(crate) struct Chooser {
    pub(crate) purpose: Purpose,
    asked: Instant,
    answer: Receiver<Option<PathBuf>>,
}

/// What came of a chooser.
pub(crate) enum Chosen {
    Path(PathBuf),
    Nothing,
    /// There is no chooser on this system.
    NoChooser,
}

impl Chooser {
    /// Asks; `None` where the system has no chooser.
    pub(crate) fn ask(
        asker: rfd::FileDialog,
        purpose: Purpose,
        name: String,
        ctx: &Context,
    ) -> Option<Self> {
        if !has_chooser() {
            return None;
        }
        let (send, answer) = channel();
        let ctx = ctx.clone();
        std::thread::Builder::new()
            .name("chooser".into())
            .spawn(move || {
                // Where there is no chooser some systems panic instead of saying so.
                let path = std::panic::catch_unwind(|| show(asker, purpose, &name)).unwrap_or(None);
                let _ = send.send(path);
                ctx.request_repaint();
            })
            .ok()?;
        Some(Self { purpose, asked: Instant::now(), answer })
    }

    /// The answer, if it came.
    pub(crate) fn poll(&self) -> Option<Chosen> {
        use std::sync::mpsc::TryRecvError;
        match self.answer.try_recv() {
            Ok(Some(path)) => Some(Chosen::Path(path)),
            Ok(None) if self.asked.elapsed() < TOO_FAST => Some(Chosen::NoChooser),
            Ok(None) => Some(Chosen::Nothing),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Chosen::NoChooser),
        }
    }
}

/// Where choosers come by the session's message bus or a helper program, looks for either;
/// elsewhere the system always has one.
fn has_chooser() -> bool {
    if cfg!(any(windows, target_os = "macos")) {
        return true;
    }
    let set = |name| std::env::var_os(name).is_some_and(|v| !v.is_empty());
    let bus = std::env::var_os("XDG_RUNTIME_DIR")
        .is_some_and(|dir| std::path::Path::new(&dir).join("bus").exists());
    let helper = std::env::var_os("PATH")
        .is_some_and(|path| std::env::split_paths(&path).any(|dir| dir.join("zenity").exists()));
    set("DBUS_SESSION_BUS_ADDRESS") || bus || helper
}

const PICTURES: [&str; 10] =
    ["png", "jpg", "jpeg", "tif", "tiff", "webp", "bmp", "gif", "svg", "svgz"];

fn show(asker: rfd::FileDialog, purpose: Purpose, name: &str) -> Option<PathBuf> {
    let chooser = asker.set_title(purpose.title());
    let job = [job::file::ENDING];
    match purpose {
        Purpose::Open => {
            let both: Vec<&str> = PICTURES.iter().chain(&job).copied().collect();
            chooser.add_filter("Jobs and pictures", &both).pick_file()
        }
        Purpose::Replace | Purpose::Photo => chooser.add_filter("Pictures", &PICTURES).pick_file(),
        Purpose::Save => chooser.add_filter("Filmquilt jobs", &job).set_file_name(name).save_file(),
        Purpose::Export => chooser.pick_folder(),
    }
}
