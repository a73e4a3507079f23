//! Opens the window on a real screen.

use crate::aside::share_aside;
use crate::{Desk, DeskError, standing};
use eframe::egui::{IconData, ViewportBuilder};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// Opens the window on a job or a picture, or on the demo job, and returns when it is closed.
///
/// # Errors
/// Where the file cannot be opened, or no window can.
pub fn run(file: Option<PathBuf>) -> Result<(), DeskError> {
    if !has_display() {
        return Err(DeskError::NoDisplay);
    }
    let (job, path) = match file {
        None => (job::demo(), None),
        Some(path) => match job::file::open(&path) {
            Ok(job) => (job, standing::is_job(&path).then_some(path)),
            Err(source) => return Err(DeskError::File { path, source }),
        },
    };
    let mut viewport = ViewportBuilder::default()
        .with_title("Filmquilt")
        .with_app_id("filmquilt")
        .with_inner_size([1360.0, 860.0])
        .with_min_inner_size([760.0, 520.0])
        .with_drag_and_drop(true);
    if let Some(icon) = icon() {
        viewport = viewport.with_icon(icon);
    }
    // Nothing here runs from one colour to another, which is what dithering is for.
    let options = eframe::NativeOptions { viewport, dithering: false, ..Default::default() };
    share_aside();
    let home = dirs::data_local_dir().map(|d| d.join("filmquilt"));
    // Where a system library is missing, what opens windows panics instead of saying so.
    let quiet = std::panic::take_hook();
    std::panic::set_hook(Box::new(|_| {}));
    let opened = catch_unwind(AssertUnwindSafe(|| {
        eframe::run_native(
            "filmquilt",
            options,
            Box::new(move |cc| {
                std::panic::set_hook(quiet);
                Ok(Box::new(Desk::new(&cc.egui_ctx, job, path, home).in_window(cc)))
            }),
        )
    }));
    match opened {
        Ok(Ok(())) => Ok(()),
        Ok(Err(e)) => Err(why(e)),
        Err(panic) => {
            let said = panic.downcast_ref::<String>().map(String::as_str);
            let said =
                said.or_else(|| panic.downcast_ref::<&str>().copied()).unwrap_or("no reason given");
            Err(if said.to_lowercase().contains("lib") || said.contains("xkb") {
                DeskError::MissingLibrary(one_line(said))
            } else {
                DeskError::System(one_line(said))
            })
        }
    }
}

fn why(e: eframe::Error) -> DeskError {
    let said = one_line(&e.to_string());
    match e {
        eframe::Error::NoGlutinConfigs(..)
        | eframe::Error::Glutin(_)
        | eframe::Error::OpenGL(_) => DeskError::NoGraphics(said),
        eframe::Error::WinitEventLoop(_)
            if said.contains("connection") || said.contains("isplay") =>
        {
            DeskError::NoDisplay
        }
        _ if said.contains(".so") => DeskError::MissingLibrary(said),
        _ => DeskError::System(said),
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether there is anything to open a window on. Only desktops that say so by the
/// environment can be asked; others always have one.
fn has_display() -> bool {
    if cfg!(any(windows, target_os = "macos")) {
        return true;
    }
    ["DISPLAY", "WAYLAND_DISPLAY", "WAYLAND_SOCKET"]
        .iter()
        .any(|name| std::env::var_os(name).is_some_and(|v| !Path::new(&v).as_os_str().is_empty()))
}

/// The window's icon: a registration mark on four quilted sheets.
fn icon() -> Option<IconData> {
    let png = include_bytes!("../../../assets/icon/filmquilt-128.png");
    let picture =
        image::load_from_memory_with_format(png, image::ImageFormat::Png).ok()?.into_rgba8();
    Some(IconData { width: picture.width(), height: picture.height(), rgba: picture.into_raw() })
}
