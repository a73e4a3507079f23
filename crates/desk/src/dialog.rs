//! What may lie over the desk, one at a time.

use crate::action::Action;
use crate::photo::Card;

#[derive(Clone, Debug)]
pub(crate) enum Dialog {
    /// Unsaved changes stand in the way of this.
    Unsaved(Box<Action>),
    /// A path is typed, where there is no file chooser or the printer prefers to.
    Path {
        purpose: Purpose,
        text: String,
    },
    /// These files stand where something is to be written.
    Standing {
        names: Vec<String>,
        next: Box<Action>,
    },
    /// All commands, searched.
    Commands {
        text: String,
        chosen: usize,
    },
    Calibrate {
        points_per_inch: f32,
    },
    /// The walk through the window, at this stop.
    Walk(usize),
    /// How the sheets are taped, at this join.
    Taping(usize),
    /// A photo is chosen for a check.
    Photo(Card),
    /// Films for several sizes.
    Sizes {
        chosen: Vec<String>,
        /// Those whose films stand written.
        standing: Vec<String>,
    },
    /// An ended window left something unsaved.
    Recover {
        title: String,
    },
}

/// What a file or folder is chosen for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Purpose {
    Open,
    Replace,
    Save,
    Export,
    /// The photo of a check.
    Photo,
}

impl Purpose {
    /// The question, as a title.
    pub(crate) const fn title(self) -> &'static str {
        match self {
            Self::Open => "Open a job or a picture",
            Self::Replace => "Replace the artwork with a picture",
            Self::Save => "Save the job",
            Self::Export => "Write the films into a folder",
            Self::Photo => "Choose the photo",
        }
    }

    /// What the button that does it says.
    pub(crate) const fn verb(self) -> &'static str {
        match self {
            Self::Open => "Open",
            Self::Replace => "Replace",
            Self::Save => "Save",
            Self::Export => "Write",
            Self::Photo => "Take it",
        }
    }
}
