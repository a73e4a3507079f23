use indicatif::{ProgressBar, ProgressStyle};
use progress::Progress;
use std::io::{IsTerminal, Write};
use std::sync::{Mutex, PoisonError};

/// What the task decided on its way: told once it is done, so that a refusal stands alone.
static NOTES: Mutex<Vec<String>> = Mutex::new(Vec::new());

/// Progress shown as a bar on stderr where somebody watches, and notes kept, unless it should be
/// quiet.
pub(crate) fn progress(quiet: bool) -> Progress {
    if quiet {
        return Progress::none();
    }
    let note =
        |text: &str| NOTES.lock().unwrap_or_else(PoisonError::into_inner).push(text.to_owned());
    if !std::io::stderr().is_terminal() {
        return Progress::none().with_notes(note);
    }
    let bar = ProgressBar::new(0);
    if let Ok(style) = ProgressStyle::with_template("{msg:<24} {wide_bar} {percent:>3} % {eta:>4}")
    {
        bar.set_style(style);
    }
    let watched = Progress::new(move |report| {
        if bar.message() != report.what {
            bar.reset();
            bar.set_message(report.what);
        }
        bar.set_length(report.total);
        bar.set_position(report.done);
        if report.done >= report.total {
            bar.finish_and_clear();
        }
    });
    watched.with_notes(note)
}

/// Tells the notes on stderr.
pub(crate) fn tell() {
    for note in NOTES.lock().unwrap_or_else(PoisonError::into_inner).drain(..) {
        // Where even this cannot be written there is nobody to tell.
        let _ = writeln!(std::io::stderr(), "{note}");
    }
}
