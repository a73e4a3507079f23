use progress::Cancelled;
use std::io::{self, ErrorKind};
use std::path::PathBuf;

/// What went wrong while writing or reading films, in one sentence.
#[derive(Debug, thiserror::Error)]
pub enum FilmError {
    /// A file could not be written.
    #[error("{} could not be written: {}", .path.display(), reason(.why))]
    Write {
        /// The file or folder meant.
        path: PathBuf,
        /// What the system said.
        why: io::Error,
    },
    /// A file could not be read.
    #[error("{} could not be read: {}", .path.display(), reason(.why))]
    Read {
        /// The file meant.
        path: PathBuf,
        /// What the system said.
        why: io::Error,
    },
    /// Output that has no path could not be written.
    #[error("the film could not be written: {}", reason(.0))]
    Output(#[from] io::Error),
    /// The film has no pixels, or more than a file can name.
    #[error("a film of {width} x {height} pixels cannot be written")]
    Size {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// A sheet's image reaches past its page or past the film.
    #[error("the image of sheet {0} reaches past its page or past the film")]
    Page(String),
    /// The file is no film or plan of ours.
    #[error("{} is no {what} that Filmquilt wrote: {why}", .path.display())]
    Foreign {
        /// The file meant.
        path: PathBuf,
        /// What it should be.
        what: &'static str,
        /// What is wrong with it.
        why: String,
    },
    /// The task was cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl FilmError {
    /// What the printer can do about it, in one sentence.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Write { why, .. } | Self::Output(why) => match why.kind() {
                ErrorKind::NotFound => "make the folder first, or name another one",
                ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
                    "choose a folder that you may write to"
                }
                ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
                    "make room on the disk, or choose another one"
                }
                ErrorKind::NotADirectory | ErrorKind::AlreadyExists | ErrorKind::IsADirectory => {
                    "choose another name"
                }
                ErrorKind::ResourceBusy => "wait for the other export, or choose another folder",
                _ => "check the folder and the disk, then try again",
            },
            Self::Read { .. } => "check the name and that you may read the file",
            Self::Size { .. } => "choose another width or a lower resolution",
            Self::Page(_) => "plan the sheets again",
            Self::Foreign { .. } => "export the film again",
            Self::Cancelled(_) => "nothing was left behind",
        }
    }
}

/// The system's reason for a file not read or written, in a few plain words.
pub fn reason(why: &io::Error) -> String {
    match why.kind() {
        ErrorKind::NotFound => "the folder or file is not there".into(),
        ErrorKind::PermissionDenied => "the system does not allow it".into(),
        ErrorKind::ReadOnlyFilesystem => "the disk is read-only".into(),
        ErrorKind::StorageFull => "the disk is full".into(),
        ErrorKind::NotADirectory => "a part of its path is a file, not a folder".into(),
        ErrorKind::IsADirectory => "it is a folder".into(),
        ErrorKind::ResourceBusy => "another export is writing it now".into(),
        ErrorKind::AlreadyExists => "a file of that name is there already".into(),
        ErrorKind::InvalidInput => "no file can have such a name".into(),
        ErrorKind::InvalidFilename => "the name is too long or cannot be used here".into(),
        ErrorKind::QuotaExceeded => "there is no more room allowed on the disk".into(),
        ErrorKind::FileTooLarge => "the disk takes no file so large".into(),
        _ => {
            // Without the number, which is of no use to a printer.
            let said = why.to_string();
            let words = said.split(" (os error").next().unwrap_or_default();
            let mut letters = words.chars();
            let first = letters.next().map(|c| c.to_lowercase().to_string());
            format!("{}{}", first.unwrap_or_default(), letters.as_str())
        }
    }
}
