use std::path::PathBuf;

/// Why there is no window: one sentence, and a [`hint`](Self::hint).
#[derive(Debug, thiserror::Error)]
pub enum DeskError {
    /// Nothing to show a window on.
    #[error("there is no display to open a window on")]
    NoDisplay,
    /// A library that the system's window needs is not there.
    #[error("the window cannot be opened: a library it needs is missing ({0})")]
    MissingLibrary(String),
    /// No graphics that can be drawn with.
    #[error("the window cannot be opened: no OpenGL was found ({0})")]
    NoGraphics(String),
    /// The file to open was not to be opened.
    #[error("{path}: {source}")]
    File {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        source: job::JobError,
    },
    /// Anything else that the system says.
    #[error("the window cannot be opened: {0}")]
    System(String),
}

impl DeskError {
    /// What the printer can do about it.
    pub fn hint(&self) -> String {
        match self {
            Self::NoDisplay => {
                "start it on a desktop, or work without a window: filmquilt --help lists the commands".into()
            }
            Self::MissingLibrary(_) => {
                "on Debian and its kin: apt install libx11-6 libx11-xcb1 libxcursor1 libxi6 libxkbcommon-x11-0 libgl1"
                    .into()
            }
            Self::NoGraphics(_) => "on Debian and its kin: apt install libgl1 libegl1 libgl1-mesa-dri".into(),
            Self::File { source, .. } => source.hint(),
            Self::System(_) => "work without a window: filmquilt --help lists the commands".into(),
        }
    }
}
