//! Work with files, done once on a thread: opening, saving, writing films.

use crate::photo::Checked;
use crate::standing;
use artwork::Picture;
use eframe::egui::Context;
use garment::Garment;
use job::{Job, JobError, PictureFile, build, file};
use progress::{Handle, Progress};
use shop::StripSettings;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::time::{Duration, Instant};

/// Work under way.
pub(crate) struct Chore {
    /// What is being done, for the printer.
    pub(crate) what: String,
    handle: Handle,
    started: Instant,
    answer: Receiver<Result<Outcome, JobError>>,
}

/// What came of it.
pub(crate) enum Outcome {
    /// A job was opened; a picture becomes a job that has no file of its own yet.
    Opened {
        job: Box<Job>,
        path: Option<PathBuf>,
    },
    Replaced(PictureFile),
    /// There was no picture to paste, and why.
    NothingPasted(String),
    Saved {
        job: Box<Job>,
        path: PathBuf,
    },
    /// What a photo showed.
    Checked(Box<Checked>),
    /// A page or pages for the shop.
    Paper(PathBuf),
    Written {
        job: Box<Job>,
        dir: PathBuf,
        films: usize,
        sheets: usize,
        /// Whether several screens' films have nothing to be laid over each other by.
        unregistered: bool,
    },
}

impl Chore {
    pub(crate) fn start(
        what: impl Into<String>,
        ctx: &Context,
        work: impl FnOnce(&Progress) -> Result<Outcome, JobError> + Send + 'static,
    ) -> Option<Self> {
        let (send, answer) = channel();
        let (repaint, ctx) = (ctx.clone(), ctx.clone());
        let progress =
            Progress::new(move |_| repaint.request_repaint_after(Duration::from_millis(50)));
        let handle = progress.handle();
        std::thread::Builder::new()
            .name("files".into())
            .spawn(move || {
                let _ = send.send(work(&progress));
                ctx.request_repaint();
            })
            .ok()?;
        Some(Self { what: what.into(), handle, started: Instant::now(), answer })
    }

    pub(crate) fn poll(&self) -> Option<Result<Outcome, JobError>> {
        match self.answer.try_recv() {
            Ok(result) => Some(result),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Err(JobError::Cancelled(progress::Cancelled))),
        }
    }

    pub(crate) fn stop(&self) {
        self.handle.cancel();
    }

    /// What is done now, its share done, and how long the rest will take at this pace.
    pub(crate) fn far(&self) -> (Option<&'static str>, Option<f32>, Option<Duration>) {
        let Some(report) = self.handle.report() else { return (None, None, None) };
        if report.total == 0 {
            return (Some(report.what), None, None);
        }
        let share = report.done as f32 / report.total as f32;
        let spent = self.started.elapsed();
        // A forecast from the first moments would only jump about.
        let left = (share > 0.05 && spent > Duration::from_millis(800))
            .then(|| spent.mul_f32(((1.0 - share) / share).clamp(0.0, 1000.0)));
        (Some(report.what), Some(share), left)
    }
}

/// Opens a job or a picture.
pub(crate) fn open(path: &Path) -> Result<Outcome, JobError> {
    let job = file::open(path)?;
    let own = standing::is_job(path).then(|| path.into());
    Ok(Outcome::Opened { job: Box::new(job), path: own })
}

/// Opens a picture to put into a job that is open; it is looked at first, so that a file that
/// is no picture changes nothing.
pub(crate) fn replacement(path: &Path) -> Result<Outcome, JobError> {
    let picture = file::open(path)?.picture.ok_or(JobError::NoPicture)?;
    let _: Picture = artwork::load(&picture.bytes)?;
    Ok(Outcome::Replaced(picture))
}

/// A picture as it lies on the disk.
pub(crate) fn picture(path: &Path) -> Result<Picture, JobError> {
    let read = |source| JobError::Disk { path: path.into(), action: "read", source };
    Ok(artwork::load(&std::fs::read(path).map_err(read)?)?)
}

/// The picture on the clipboard, to put into the job that is open.
pub(crate) fn pasted() -> Outcome {
    match crate::clipboard::picture() {
        Ok(bytes) => {
            Outcome::Replaced(PictureFile { name: "pasted.png".into(), bytes: bytes.into() })
        }
        Err(why) => Outcome::NothingPasted(why),
    }
}

pub(crate) fn save(job: Job, path: PathBuf) -> Result<Outcome, JobError> {
    file::save(&job, &path)?;
    Ok(Outcome::Saved { job: Box::new(job), path })
}

pub(crate) fn export(job: Job, dir: PathBuf, progress: &Progress) -> Result<Outcome, JobError> {
    let written = build::export(&job, &dir, progress)?;
    let (sheets, unregistered) = (written.sheets, written.unregistered);
    Ok(Outcome::Written { job: Box::new(job), dir, films: 1, sheets, unregistered })
}

/// The same job on several garments, the artwork scaled with the garment's width.
pub(crate) fn export_sizes(
    job: Job,
    dir: PathBuf,
    names: &[String],
    progress: &Progress,
) -> Result<Outcome, JobError> {
    let garments: Vec<Garment> = names.iter().filter_map(|name| Garment::named(name)).collect();
    let written = job::sizes::export(&job, &garments, &dir, progress)?;
    let sheets = written.iter().map(|w| w.exported.sheets).sum();
    let unregistered = written.iter().any(|w| w.exported.unregistered);
    let films = garments.len();
    Ok(Outcome::Written { job: Box::new(job), dir, films, sheets, unregistered })
}

/// The exposure test strip.
pub(crate) fn strip(settings: &StripSettings, dir: &Path) -> Result<Outcome, JobError> {
    Ok(Outcome::Paper(job::shop::write_strip(&shop::plan_strip(settings)?, dir)?))
}
