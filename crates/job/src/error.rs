use std::path::PathBuf;

/// Why a job could not be changed, opened, saved or built: one sentence, and a [`hint`](Self::hint).
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// A number that cannot be used.
    #[error("{what} cannot be {given}")]
    BadNumber {
        /// What the number is for, such as "the width on the garment".
        what: &'static str,
        /// The number as given.
        given: String,
        /// The sensible range, in words.
        range: String,
    },
    /// The job has no picture yet.
    #[error("the job has no artwork yet")]
    NoPicture,
    /// Nothing of the artwork would be printed.
    #[error("{}", if *.garment { "no ink lands on the garment" } else { "the film has no ink" })]
    NothingToPrint {
        /// Whether a garment is chosen.
        garment: bool,
    },
    /// A file that is not a job.
    #[error("{path} is not a Filmquilt job: {why}")]
    NotAJob {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// A job written by a newer Filmquilt.
    #[error(
        "{path} was saved by a newer Filmquilt (format {format}; this one reads up to {newest})"
    )]
    TooNew {
        /// The file.
        path: PathBuf,
        /// Its format.
        format: u32,
        /// The newest format this build reads.
        newest: u32,
    },
    /// A file that is no printer's profile.
    #[error("{path} is not a printer's profile: {why}")]
    NotAPrinter {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// The disk said no.
    #[error("{path} could not be {action}: {}", film::reason(.source))]
    Disk {
        /// The file or folder.
        path: PathBuf,
        /// "read", "made" or "written".
        action: &'static str,
        /// What the system said.
        source: std::io::Error,
    },
    /// A one-bit picture was asked for under a name that says neither PNG nor TIFF.
    #[error("{path} does not end in .png, .tif or .tiff")]
    NotAOneBitName {
        /// The name given.
        path: PathBuf,
    },
    /// Something is wrong with the picture.
    #[error(transparent)]
    Artwork(#[from] artwork::ArtworkError),
    /// The sheets cannot be planned.
    #[error(transparent)]
    Plan(#[from] sheets::PlanError),
    /// The films could not be written.
    #[error(transparent)]
    Film(#[from] film::FilmError),
    /// The shop's numbers cannot be reckoned with.
    #[error(transparent)]
    Shop(#[from] ::shop::Error),
    /// The film printer cannot be calibrated or corrected so.
    #[error(transparent)]
    Printer(#[from] printer::PrinterError),
    /// The picture's tone cannot be screened.
    #[error(transparent)]
    Tone(#[from] ::tone::ToneError),
    /// The picture cannot be separated.
    #[error(transparent)]
    Inks(#[from] inks::InksError),
    /// The taped film could not be checked.
    #[error(transparent)]
    Inspect(#[from] inspect::InspectError),
    /// A photo may show any of a folder's films.
    #[error("this folder holds {} films, one a screen", .films.len())]
    WhichFilm {
        /// Their names.
        films: Vec<String>,
    },
    /// The printer stopped the work.
    #[error(transparent)]
    Cancelled(#[from] progress::Cancelled),
}

impl JobError {
    /// What the printer can do about it.
    pub fn hint(&self) -> String {
        match self {
            Self::BadNumber { range, .. } => format!("give {range}"),
            Self::NoPicture => "open a picture first".into(),
            Self::NothingToPrint { garment: true } => {
                "move the artwork onto the garment, change the cut level, or choose no garment"
                    .into()
            }
            Self::NothingToPrint { garment: false } => {
                "change the cut level, or exchange black and white".into()
            }
            Self::NotAOneBitName { .. } => "name the picture film.png or film.tif".into(),
            Self::NotAJob { .. } => "open a job saved by Filmquilt, or a picture".into(),
            Self::NotAPrinter { .. } => "give a profile that \"calibrate read\" wrote".into(),
            Self::TooNew { .. } => "update Filmquilt to open it".into(),
            Self::Disk { source, .. } => match source.kind() {
                std::io::ErrorKind::NotFound => "check the path".into(),
                std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => {
                    "choose a folder that you may write to".into()
                }
                std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => {
                    "free some space, or choose another disk".into()
                }
                std::io::ErrorKind::NotADirectory | std::io::ErrorKind::IsADirectory => {
                    "choose another name".into()
                }
                _ => "check the file and the disk".into(),
            },
            Self::Artwork(e) => e.hint().into(),
            Self::Plan(e) => e.hint().into(),
            Self::Film(e) => e.hint().into(),
            Self::Shop(e) => e.hint(),
            Self::Printer(e) => e.hint(),
            Self::Tone(e) => e.hint().into(),
            Self::Inks(e) => e.hint().into(),
            Self::Inspect(e) => e.hint().into(),
            Self::WhichFilm { films } => {
                format!("say which of them the photo shows: {}", films.join(", "))
            }
            Self::Cancelled(_) => "nothing was written".into(),
        }
    }

    /// Whether this is the printer's own wish to stop.
    pub fn is_cancelled(&self) -> bool {
        matches!(
            self,
            Self::Cancelled(_)
                | Self::Artwork(artwork::ArtworkError::Cancelled(_))
                | Self::Plan(sheets::PlanError::Cancelled(_))
                | Self::Film(film::FilmError::Cancelled(_))
                | Self::Tone(::tone::ToneError::Cancelled(_))
                | Self::Inks(inks::InksError::Cancelled(_))
                | Self::Inspect(inspect::InspectError::Cancelled(_))
        )
    }
}
