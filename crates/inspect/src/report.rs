//! What a check found.

use serde::{Serialize, Serializer};

/// A verdict on a seam or on the film.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Surely good enough.
    Good,
    /// Surely faulty.
    Fault,
    /// The photograph does not tell.
    #[serde(rename = "not sure")]
    NotSure,
}

/// What lies where a sheet should.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// The sheet itself.
    InPlace,
    /// Nothing.
    Missing,
    /// The sheet, printed side the wrong way.
    Mirrored,
    /// The sheet, turned by half a turn.
    UpsideDown,
    /// Another sheet, by its name.
    Is(String),
    /// The photograph does not tell.
    NotSure,
}

impl Serialize for Found {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::InPlace => to.serialize_str("in place"),
            Self::Missing => to.serialize_str("missing"),
            Self::Mirrored => to.serialize_str("mirrored"),
            Self::UpsideDown => to.serialize_str("upside down"),
            Self::Is(name) => to.collect_str(&format_args!("is {name}")),
            Self::NotSure => to.serialize_str("not sure"),
        }
    }
}

/// Whether it is known where in the photo the drawing lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// It is.
    Known,
    /// The drawing may as well lie another way.
    Tie,
    /// The drawing was not made out.
    Unseen,
}

impl Place {
    /// What to do about it.
    pub const fn hint(self) -> Option<&'static str> {
        match self {
            Self::Known => None,
            Self::Tie => {
                Some("The drawing looks alike several ways: give its four corners in the photo.")
            }
            Self::Unseen => Some(
                "The drawing was not made out: photograph all of it from above, before an even light, or give its four corners in the photo.",
            ),
        }
    }
}

/// The whole film.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilmFound {
    /// Its size against the plan's, where a ruler told.
    pub scale: Option<f64>,
    /// Whether the photo shows it mirrored, as it does from the other side.
    pub mirrored: bool,
    /// Where the photo shows the planned film's corners, in photo pixels.
    #[serde(skip)]
    pub corners: [[f64; 2]; 4],
    /// Whether it is known where in the photo the film lies.
    #[serde(skip)]
    pub place: Place,
}

/// One sheet. Slips are of the sheet's middle, in film millimetres, and nought on average.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SheetFound {
    /// Its name.
    pub name: String,
    /// What lies in its place.
    pub found: Found,
    /// The slip to the right.
    pub dx_mm: Option<f64>,
    /// The slip downwards.
    pub dy_mm: Option<f64>,
    /// The turn in degrees, clockwise.
    pub turn_deg: Option<f64>,
    /// The width against the plan's and the other sheets'.
    pub scale_x: Option<f64>,
    /// The height against the plan's and the other sheets'.
    pub scale_y: Option<f64>,
    /// The slip's standard deviation, told large rather than small.
    pub sd_mm: Option<f64>,
}

/// Where two sheets meet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SeamFound {
    /// The sheets' names.
    pub between: [String; 2],
    /// The larger of the jogs at the seam's two ends, where it can be told.
    pub jog_mm: Option<f64>,
    /// The jog's standard deviation, told large rather than small.
    pub sd_mm: Option<f64>,
    /// Whether it will do.
    pub verdict: Verdict,
    /// The seam's ends, in film pixels.
    #[serde(skip)]
    pub ends: [[f64; 2]; 2],
}

/// What is wrong at a spot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SpotKind {
    /// Light where the film has ink: a pinhole.
    Bright,
    /// Dark where the film is clear: dirt.
    Dark,
    /// Ink that lets through more light than the rest.
    #[serde(rename = "thin black")]
    ThinBlack,
}

/// A place to look at.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Spot {
    /// What is wrong.
    pub kind: SpotKind,
    /// How far right of the film's left edge its middle is, as the film is planned.
    pub x_mm: f64,
    /// How far below the film's top edge.
    pub y_mm: f64,
    /// The diameter of a circle as large.
    pub size_mm: f64,
}

/// What a check found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// The verdict on the whole film.
    pub verdict: Verdict,
    /// The whole film.
    pub film: FilmFound,
    /// Each sheet, in the order given.
    pub sheets: Vec<SheetFound>,
    /// Each seam, in the order given.
    pub seams: Vec<SeamFound>,
    /// Pinholes, dirt and thin black, largest first; at most 500.
    #[serde(skip)]
    pub spots: Vec<Spot>,
}
