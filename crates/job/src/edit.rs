use crate::model::{Job, PictureFile};
use crate::{FrameMarks, HandSeam, JobError, Mend, Printing, Separation, Tone};
use ::shop::Align;
use artwork::{Crop, Cut, Edges, LearnedModel, Source};
use garment::Garment;
use measure::{Angle, Length, Point, Resolution, Unit};
use sheets::{Pieces, Placed, SeamSettings, Stock};

/// Every way a job changes.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// Gives the job a title.
    Title(String),
    /// Puts another picture in, keeping all else but the crop.
    Picture(PictureFile),
    /// Crops the picture, or shows all of it again.
    Crop(Option<Crop>),
    /// Crops the picture and changes its width and place at once, so that what stays does not move.
    Trim(Option<Crop>, Length, Point),
    /// Exchanges black and white.
    Invert(bool),
    /// Moves the cut level.
    Cut(Cut),
    /// Says what the picture has been through.
    Source(Source),
    /// Says how edges are made.
    Edges(Edges),
    /// Says which learned model draws edges.
    Model(LearnedModel),
    /// Sets the size below which specks and pinholes are cleaned away, in source pixels of area.
    Speck(f64),
    /// Flattens uneven light and paper tone.
    Flatten(bool),
    /// Chooses how tone becomes ink or none.
    Tone(Tone),
    /// Says how tone comes out in print.
    Printing(Printing),
    /// Separates the picture into screens, changes how, or prints it with one screen again.
    Inks(Option<Separation>),
    /// Widens lines and gaps too fine to print, or none.
    Mend(Option<Mend>),
    /// Sets the width on the garment.
    Width(Length),
    /// Turns the artwork about its middle, to so far clockwise from upright.
    Turn(Angle),
    /// Sets the film's resolution.
    Resolution(Resolution),
    /// Chooses or measures the garment.
    Garment(Option<Garment>),
    /// Says which other sizes the same screen prints.
    Also(Vec<Garment>),
    /// Says what stays in place when the garment's size changes.
    Align(Align),
    /// Moves the artwork on the garment.
    Offset(Point),
    /// Moves the artwork and changes its width at once, as dragging a corner does.
    Scale(Length, Point),
    /// Sets the bleed.
    Bleed(Length),
    /// Sets the clear surround.
    Surround(Length),
    /// Changes the film in the drawer.
    Stocks(Vec<Stock>),
    /// Sets the overlap.
    Overlap(Length),
    /// Dots the trim lines on the sheets, or not.
    TrimLines(bool),
    /// Prints pin or tape marks outside the print, or none.
    FrameMarks(FrameMarks),
    /// Chooses the film printer whose faults are undone.
    Printer(Option<printer::Profile>),
    /// One piece or many.
    Pieces(Pieces),
    /// Pins sheets by hand.
    Pinned(Vec<Placed>),
    /// Changes how seams are sought.
    Seams(SeamSettings),
    /// Moves the nodes of seams.
    HandSeams(Vec<HandSeam>),
    /// Shows lengths in another unit.
    Unit(Unit),
}

impl Edit {
    /// What the edit does, for "Undo ..." and "Redo ...".
    pub fn name(&self) -> &'static str {
        match self {
            Self::Title(_) => "rename the job",
            Self::Picture(_) => "replace the artwork",
            Self::Crop(_) | Self::Trim(..) => "crop the artwork",
            Self::Invert(_) => "exchange black and white",
            Self::Cut(_) => "move the cut level",
            Self::Source(_) => "change what the picture is",
            Self::Edges(_) => "change how edges are made",
            Self::Model(_) => "change the learned model",
            Self::Speck(_) => "change the speck size",
            Self::Flatten(_) => "flatten the paper",
            Self::Tone(_) => "change the tone",
            Self::Printing(_) => "change how tone prints",
            Self::Inks(_) => "change the inks",
            Self::Mend(_) => "mend fine lines",
            Self::Width(_) => "change the width",
            Self::Turn(_) => "turn the artwork",
            Self::Resolution(_) => "change the resolution",
            Self::Garment(_) => "change the garment",
            Self::Also(_) | Self::Align(_) => "change the other sizes",
            Self::Offset(_) => "move the artwork",
            Self::Scale(..) => "scale the artwork",
            Self::Bleed(_) => "change the bleed",
            Self::Surround(_) => "change the surround",
            Self::Stocks(_) => "change the film",
            Self::Overlap(_) => "change the overlap",
            Self::TrimLines(_) => "print trim lines",
            Self::FrameMarks(_) => "change the frame marks",
            Self::Printer(_) => "choose the film printer",
            Self::Pieces(_) => "change the pieces",
            Self::Pinned(_) => "place sheets by hand",
            Self::Seams(_) => "change how seams are sought",
            Self::HandSeams(_) => "move a seam",
            Self::Unit(_) => "change the unit",
        }
    }
}

impl Job {
    /// The job after an edit.
    ///
    /// # Errors
    /// Where the edit would leave the job with a number that cannot be used; the job stays as it was.
    pub fn apply(&self, edit: Edit) -> Result<Self, JobError> {
        let mut job = self.clone();
        match edit {
            Edit::Title(v) => job.title = v,
            Edit::Picture(v) => {
                job.picture = Some(v);
                job.art.crop = None;
                // Another picture has other inks.
                if let Some(inks) = &mut job.inks {
                    inks.changes.clear();
                }
            }
            Edit::Crop(v) => job.art.crop = v,
            Edit::Trim(crop, width, offset) => {
                job.art.crop = crop;
                job.width = width;
                job.offset = offset;
            }
            Edit::Invert(v) => job.art.invert = v,
            Edit::Cut(v) => job.art.cut = v,
            Edit::Source(v) => job.art.source = v,
            Edit::Edges(v) => job.art.edges = v,
            Edit::Model(v) => job.art.model = v,
            Edit::Speck(v) => job.art.speck_px = v,
            Edit::Flatten(v) => job.art.flatten = v,
            Edit::Tone(v) => job.tone = v,
            Edit::Printing(v) => job.printing = v,
            Edit::Inks(v) => job.inks = v,
            Edit::Mend(v) => job.mend = v,
            Edit::Width(v) => job.width = v,
            Edit::Turn(v) => job.turn = v,
            Edit::Resolution(v) => job.resolution = v,
            Edit::Garment(v) => job.garment = v,
            Edit::Also(v) => {
                // A size that is named twice, or is the job's own, is on the screen already.
                job.also.clear();
                let mut names: Vec<String> = job.garment.iter().map(|g| g.name.clone()).collect();
                for garment in v {
                    if !names.contains(&garment.name) {
                        names.push(garment.name.clone());
                        job.also.push(garment);
                    }
                }
            }
            Edit::Align(v) => job.align = v,
            Edit::Offset(v) => job.offset = v,
            Edit::Scale(width, offset) => {
                job.width = width;
                job.offset = offset;
            }
            Edit::Bleed(v) => job.bleed = v,
            Edit::Surround(v) => job.surround = v,
            Edit::Stocks(v) => job.stocks = v,
            Edit::Overlap(v) => job.overlap = v,
            Edit::TrimLines(v) => job.trim_lines = v,
            Edit::FrameMarks(v) => job.frame_marks = v,
            Edit::Printer(v) => job.printer = v,
            Edit::Pieces(v) => job.pieces = v,
            Edit::Pinned(v) => job.pinned = v,
            Edit::Seams(v) => job.seams = v,
            Edit::HandSeams(v) => job.hand_seams = v,
            Edit::Unit(v) => job.unit = v,
        }
        job.check()?;
        Ok(job)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nonsense_numbers_leave_the_job_as_it_was() {
        let job = Job::default();
        for edit in [
            Edit::Width(Length::mm(f64::NAN)),
            Edit::Width(Length::inches(-4.0)),
            Edit::Width(Length::inches(1e9)),
            Edit::Resolution(Resolution::ppi(f64::INFINITY)),
            Edit::Overlap(Length::mm(-1.0)),
            Edit::Cut(Cut::At(1.5)),
            Edit::Bleed(Length::mm(f64::NEG_INFINITY)),
        ] {
            let error = job.apply(edit.clone()).unwrap_err();
            assert!(!error.to_string().is_empty() && !error.hint().is_empty(), "{edit:?}");
        }
        assert_eq!(job, Job::default());
    }
}
