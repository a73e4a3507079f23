use crate::{FrameMarks, HandSeam, JobError, Mend, Mended, Printing, Separation, Tone};
use ::shop::Align;
use garment::Garment;
use measure::{Angle, Length, Point, Resolution, Unit};
use serde::{Deserialize, Serialize};
use sheets::{Pieces, Placed, SeamSettings, Stock};
use std::sync::Arc;

/// Everything a printer decides about one print.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Job {
    /// What the job is called; printed on every sheet.
    pub title: String,
    /// The artwork, as the file it came in.
    #[serde(skip)]
    pub picture: Option<PictureFile>,
    /// How the artwork becomes one-bit film.
    pub art: artwork::Settings,
    /// How the artwork's tone becomes ink or none.
    #[serde(skip_serializing_if = "Tone::is_cut")]
    pub tone: Tone,
    /// How tone comes out in print.
    #[serde(skip_serializing_if = "Printing::is_plain")]
    pub printing: Printing,
    /// How the picture is separated into several screens; none prints it with one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inks: Option<Separation>,
    /// Which fine lines and gaps are widened until they print.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mend: Option<Mend>,
    /// The width of the cropped artwork on the garment, before its turn.
    pub width: Length,
    /// How far the artwork is turned about its middle, clockwise.
    #[serde(skip_serializing_if = "lies_upright")]
    pub turn: Angle,
    /// The film's resolution.
    pub resolution: Resolution,
    /// The garment it is printed on; none covers all the ink, wherever it lies.
    pub garment: Option<Garment>,
    /// Garments of other sizes that the same screen prints.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Garment>,
    /// What stays in place when the garment's size changes.
    pub align: Align,
    /// How far the artwork's middle lies from the garment's.
    pub offset: Point,
    /// How far the print runs off the garment's edge.
    pub bleed: Length,
    /// Clear film kept around the ink.
    pub surround: Length,
    /// The film in the drawer.
    pub stocks: Vec<Stock>,
    /// The least overlap where two sheets meet.
    pub overlap: Length,
    /// Whether each sheet carries its trim lines, dotted where the film is clear.
    #[serde(default)]
    pub trim_lines: bool,
    /// Marks outside the print by which films are laid to their frames.
    #[serde(skip_serializing_if = "FrameMarks::is_none")]
    pub frame_marks: FrameMarks,
    /// The film printer whose faults the films undo; none is taken for true.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub printer: Option<printer::Profile>,
    /// Whether the film must hang together.
    pub pieces: Pieces,
    /// Sheets placed by hand.
    pub pinned: Vec<Placed>,
    /// How seams are sought.
    pub seams: SeamSettings,
    /// Seams whose nodes the printer moved.
    pub hand_seams: Vec<HandSeam>,
    /// The unit lengths are shown in.
    pub unit: Unit,
}

/// A picture as the file it came in, so that a saved job needs no other file.
#[derive(Clone, PartialEq)]
pub struct PictureFile {
    /// The file's name, without its folder.
    pub name: String,
    /// The file's bytes.
    pub bytes: Arc<[u8]>,
}

impl std::fmt::Debug for PictureFile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} ({} bytes)", self.name, self.bytes.len())
    }
}

impl Default for Job {
    fn default() -> Self {
        Self {
            title: "Untitled".into(),
            picture: None,
            art: artwork::Settings::default(),
            tone: Tone::Cut,
            printing: Printing::default(),
            inks: None,
            mend: None,
            width: Length::inches(42.0),
            turn: Angle::ZERO,
            resolution: Resolution::ppi(300.0),
            garment: None,
            also: Vec::new(),
            align: Align::Collar,
            offset: Point::default(),
            bleed: Length::inches(0.5),
            surround: Length::inches(0.125),
            stocks: Stock::named("13x19in").into_iter().collect(),
            overlap: Length::inches(0.5),
            trim_lines: false,
            frame_marks: FrameMarks::default(),
            printer: None,
            pieces: Pieces::One,
            pinned: Vec::new(),
            seams: SeamSettings::default(),
            hand_seams: Vec::new(),
            unit: Unit::In,
        }
    }
}

fn lies_upright(turn: &Angle) -> bool {
    *turn == Angle::ZERO
}

/// The sensible range of each number. Outside it a job is refused.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Shortest and longest artwork width.
    pub width: (Length, Length),
    /// Lowest and highest resolution, in ppi.
    pub ppi: (f64, f64),
    /// The most pixels a film may be wide or high.
    pub film_px: i64,
    /// Longest bleed, surround or offset.
    pub reach: Length,
    /// The largest sheet side.
    pub sheet: Length,
    /// The finest line that can be asked for, least and most.
    pub finest: (Length, Length),
}

/// The limits every job is held to.
pub const LIMITS: Limits = Limits {
    width: (Length::mm(1.0), Length::inches(400.0)),
    ppi: (20.0, 5000.0),
    film_px: 200_000,
    reach: Length::inches(400.0),
    sheet: Length::inches(1000.0),
    finest: (Length::mm(0.01), Length::mm(20.0)),
};

impl Job {
    /// Checks every number of the job.
    ///
    /// # Errors
    /// [`JobError::BadNumber`] for the first number that cannot be used.
    pub fn check(&self) -> Result<(), JobError> {
        let unit = self.unit;
        let within = |what, v: Length, (low, high): (Length, Length)| {
            if v.is_finite() && v >= low && v <= high {
                return Ok(());
            }
            let range = format!("a length from {} to {}", low.show(unit), high.show(unit));
            Err(JobError::BadNumber { what, given: v.show(unit), range })
        };
        within("the width on the garment", self.width, LIMITS.width)?;
        self.frame_marks.check(unit)?;
        let ppi = self.resolution.to_ppi();
        if !(ppi >= LIMITS.ppi.0 && ppi <= LIMITS.ppi.1) {
            return Err(JobError::BadNumber {
                what: "the resolution",
                given: format!("{ppi} ppi"),
                range: format!("a resolution from {} to {} ppi", LIMITS.ppi.0, LIMITS.ppi.1),
            });
        }
        if self.resolution.whole_px(self.width) > LIMITS.film_px {
            return Err(JobError::BadNumber {
                what: "the film",
                given: format!("{} pixels wide", self.resolution.whole_px(self.width)),
                range: format!("a width and resolution of at most {} pixels", LIMITS.film_px),
            });
        }
        let turn = self.turn.to_deg();
        if !(-360.0..=360.0).contains(&turn) {
            return Err(JobError::BadNumber {
                what: "the artwork's turn",
                given: format!("{turn} deg"),
                range: "an angle from -360 to 360 deg".into(),
            });
        }
        let reach = (-LIMITS.reach, LIMITS.reach);
        within("the artwork's place", self.offset.x, reach)?;
        within("the artwork's place", self.offset.y, reach)?;
        within("the bleed", self.bleed, (Length::ZERO, LIMITS.reach))?;
        within("the surround", self.surround, (Length::ZERO, LIMITS.reach))?;
        within("the overlap", self.overlap, (Length::ZERO, LIMITS.sheet))?;
        for stock in &self.stocks {
            within("the sheet", stock.size.width, (Length::mm(10.0), LIMITS.sheet))?;
            within("the sheet", stock.size.height, (Length::mm(10.0), LIMITS.sheet))?;
            let m = stock.margins;
            for side in [m.left, m.top, m.right, m.bottom] {
                within("a margin", side, (Length::ZERO, LIMITS.sheet))?;
            }
        }
        if let Some(printer) = &self.printer {
            printer.check()?;
        }
        self.tone.check()?;
        self.printing.check()?;
        self.inks.as_ref().map_or(Ok(()), Separation::check)?;
        if self.also.len() > 40 {
            return Err(JobError::BadNumber {
                what: "the number of other sizes",
                given: self.also.len().to_string(),
                range: "at most 40 sizes".into(),
            });
        }
        if let Some(mend) = &self.mend {
            within("the finest line", mend.finest, LIMITS.finest)?;
            if let Mended::At(spots) = &mend.places
                && let Some(spot) = spots.iter().find(|s| !(s.x.is_finite() && s.y.is_finite()))
            {
                return Err(JobError::BadNumber {
                    what: "a mended spot",
                    given: format!("{}, {}", spot.x, spot.y),
                    range: "a place in the picture, in its pixels".into(),
                });
            }
        }
        if let artwork::Cut::At(level) = self.art.cut
            && !(level > 0.0 && level < 1.0)
        {
            return Err(JobError::BadNumber {
                what: "the cut level",
                given: format!("{level}"),
                range: "a share of ink between 0 and 1".into(),
            });
        }
        Ok(())
    }
}
