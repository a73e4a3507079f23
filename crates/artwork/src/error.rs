use progress::Cancelled;

/// What went wrong with a picture, in one sentence, and what to do about it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ArtworkError {
    /// There are no bytes.
    #[error("the file is empty")]
    Empty,
    /// The bytes are something else, named where it is known.
    #[error("this is {0}, which cannot be opened as a picture")]
    NotAPicture(&'static str),
    /// The picture starts well and then fails.
    #[error("the {format} picture is damaged or cut short: {detail}")]
    Damaged {
        /// Which format it is in.
        format: &'static str,
        /// What the reader stumbled over.
        detail: String,
    },
    /// The format's own feature that is not read.
    #[error("this {format} picture cannot be read: {detail}")]
    Unsupported {
        /// Which format it is in.
        format: &'static str,
        /// What is not supported.
        detail: String,
    },
    /// The picture has no pixels.
    #[error("the picture is {width} x {height} pixels: there is nothing in it")]
    NoPixels {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// The picture is larger than can be held.
    #[error(
        "the picture is {width} x {height} pixels; the most is {MAX_SIDE} on a side and {} million in all",
        MAX_PIXELS / 1_000_000
    )]
    TooLarge {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// A drawing with live text in a typeface that is not here.
    #[error("the drawing's text is set in {0}, which is not installed on this computer")]
    MissingTypeface(String),
    /// A crop that reaches outside the picture, or is empty.
    #[error("the crop is not inside the picture of {width} x {height} pixels")]
    CropOutside {
        /// The picture's pixels across.
        width: u32,
        /// The picture's pixels down.
        height: u32,
    },
    /// A number among the settings that makes no sense.
    #[error("{0}")]
    BadSetting(&'static str),
    /// The model of learned edges is not what it should be.
    #[error("{0}")]
    Model(String),
    /// A learned model that this build does not have.
    #[error("edges are to be drawn by learned model {0}, which this Filmquilt does not have")]
    NoSuchModel(u32),
    /// The task was cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// The most pixels a picture may have on a side.
pub const MAX_SIDE: u32 = 50_000;
/// The most pixels a picture may have in all: a 13 x 19 in scan at 720 ppi has 128 million.
pub const MAX_PIXELS: u64 = 150_000_000;

impl ArtworkError {
    /// What the printer can do about it.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Empty => "copy the file again from where it came",
            Self::NotAPicture(_) => "save it as PNG, JPEG, TIFF, WebP, BMP, GIF or SVG first",
            Self::Damaged { .. } => "get the file again, or open it elsewhere and save it as PNG",
            Self::Unsupported { .. } => "open it in an image editor and save it as an 8-bit PNG",
            Self::NoPixels { .. } => "export the picture again with a size of at least one pixel",
            Self::TooLarge { .. } => {
                "scale the picture down: edges are kept crisp when it is enlarged on film"
            }
            Self::MissingTypeface(_) => "turn the text into outlines in the drawing program",
            Self::CropOutside { .. } => "choose the crop again inside the picture",
            Self::BadSetting(_) => "choose a value in the range named",
            Self::Model(_) => "install Filmquilt again, or choose fitted edges",
            Self::NoSuchModel(_) => "open it with a newer Filmquilt, or choose fitted edges",
            Self::Cancelled(_) => "start it again when you are ready",
        }
    }
}
