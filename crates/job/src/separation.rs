use crate::{Job, JobError};
use artwork::Picture;
use inks::{Inks, Plates, Rgb};
use measure::{Length, Unit};
use progress::Progress;
use serde::{Deserialize, Serialize};

/// How a job's picture is separated into several screens, one an ink.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Separation {
    /// The inks that are looked for.
    pub inks: Inks,
    /// The garment's colour, left open; that of the picture's rim where none.
    pub garment: Option<Rgb>,
    /// What the printer then did with the inks, in order.
    pub changes: Vec<InkChange>,
    /// How far lighter inks spread under darker ones; without, plates tile.
    pub trap: Length,
    /// White under all inks, drawn in by so much from the open garment; none prints none.
    pub underbase: Option<Length>,
    /// Whether all screens share one sheet plan.
    #[serde(skip_serializing_if = "Plans::are_shared")]
    pub plans: Plans,
}

/// Whether the films of several screens are cut into the same sheets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Plans {
    /// One plan holds what any screen prints: one taping guide, and every film lies alike.
    #[default]
    Shared,
    /// Each screen's film has the fewest sheets for what that screen prints. Sheets placed and
    /// seams bent by hand are of the shared plan only.
    Own,
}

impl Plans {
    /// Whether all screens share one plan.
    pub fn are_shared(&self) -> bool {
        *self == Self::Shared
    }
}

/// Something the printer does with the inks; they are counted from 0 in printing order, as
/// the changes before left them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum InkChange {
    /// Calls an ink something else.
    Rename(usize, String),
    /// Prints an ink in another colour.
    Recolour(usize, Rgb),
    /// Moves an ink to another place in the printing order.
    Move(usize, usize),
    /// Prints with the first ink what the second prints; the second goes.
    Merge(usize, usize),
    /// Gives each of an ink's colours a screen of its own again.
    Split(usize),
    /// Leaves what an ink prints open; the ink goes.
    Open(usize),
    /// Has an ink print over those about it, or leave a hole for itself in them again.
    Overprint(usize, bool),
}

/// Far more than any screen is out of place.
const LONGEST: Length = Length::mm(20.0);

impl Separation {
    /// The same, looking for other inks: what was done with those before is given up.
    pub fn looking_for(&self, inks: Inks) -> Self {
        Self { inks, changes: Vec::new(), ..self.clone() }
    }

    pub(crate) fn check(&self) -> Result<(), JobError> {
        let within = |what, v: Length| {
            if v.is_finite() && v >= Length::ZERO && v <= LONGEST {
                return Ok(());
            }
            let range = format!("a length from 0 to {}", LONGEST.show(Unit::Mm));
            Err(JobError::BadNumber { what, given: v.show(Unit::Mm), range })
        };
        within("the trap", self.trap)?;
        within("the underbase's choke", self.underbase.unwrap_or_default())
    }
}

/// Separates the part of the picture that the job uses, and does with its inks what the
/// printer did.
///
/// # Errors
/// As [`inks::separate`]; where the part is not inside the picture; where a change is of an
/// ink that is no longer found.
pub fn separate(job: &Job, picture: &Picture, progress: &Progress) -> Result<Plates, JobError> {
    let found = find_inks(job, picture, progress)?;
    change_inks(found, job.inks.as_ref().map_or(&[], |inks| &inks.changes))
}

/// Separates the part of the picture that the job uses into the inks looked for.
///
/// # Errors
/// As [`inks::separate`], or where the part is not inside the picture.
pub fn find_inks(job: &Job, picture: &Picture, progress: &Progress) -> Result<Plates, JobError> {
    let usual = Separation::default();
    let wanted = job.inks.as_ref().unwrap_or(&usual);
    let settings = inks::Settings {
        inks: wanted.inks.clone(),
        garment: wanted.garment,
        source: job.art.source,
    };
    let part = crate::plates::part(picture, job.art.crop)?;
    Ok(inks::separate(&part, &settings, progress)?)
}

/// Does with the inks found what the printer did.
///
/// # Errors
/// Where a change is of an ink that is not there, or no ink is left.
pub fn change_inks(mut plates: Plates, changes: &[InkChange]) -> Result<Plates, JobError> {
    for change in changes {
        make(change, &mut plates)?;
    }
    if plates.inks().is_empty() {
        return Err(inks::InksError::NoInk.into());
    }
    Ok(plates)
}

fn make(change: &InkChange, plates: &mut Plates) -> Result<(), inks::InksError> {
    match change {
        InkChange::Rename(ink, name) => plates.rename(*ink, name),
        InkChange::Recolour(ink, colour) => plates.recolour(*ink, *colour),
        InkChange::Move(ink, place) => plates.reorder(*ink, *place),
        InkChange::Merge(ink, other) => plates.merge(*ink, *other),
        InkChange::Split(ink) => plates.split(*ink),
        InkChange::Open(ink) => plates.leave_open(*ink),
        InkChange::Overprint(ink, over) => plates.overprint(*ink, *over),
    }
}
