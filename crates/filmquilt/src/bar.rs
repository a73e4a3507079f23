use indicatif::{ProgressBar, ProgressStyle};
use progress::Progress;
use std::io::IsTerminal;

/// Progress shown as a bar on stderr, unless it should be quiet or nobody watches.
pub(crate) fn progress(quiet: bool) -> Progress {
    if quiet || !std::io::stderr().is_terminal() {
        return Progress::none();
    }
    let bar = ProgressBar::new(0);
    if let Ok(style) = ProgressStyle::with_template("{msg:<24} {wide_bar} {percent:>3} % {eta:>4}")
    {
        bar.set_style(style);
    }
    Progress::new(move |report| {
        if bar.message() != report.what {
            bar.reset();
            bar.set_message(report.what);
        }
        bar.set_length(report.total);
        bar.set_position(report.done);
        if report.done >= report.total {
            bar.finish_and_clear();
        }
    })
}
