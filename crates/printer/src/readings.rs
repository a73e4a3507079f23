use crate::{GAPS, PATCHES, PrinterError, Target};
use measure::{Length, Unit};

/// One standard deviation of a length read from a steel rule: common practice, no source.
pub const READING_SD: Length = Length::mm(0.25);

/// What was read from a printed [`Target`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    /// Lengths across: A to C, D to F, G to I, or fewer.
    pub across: Vec<Length>,
    /// Lengths down: A to G, B to H, C to I, or fewer.
    pub down: Vec<Length>,
    /// The falling diagonal, A to I, and the rising one, G to C.
    pub diagonals: Option<[Length; 2]>,
    /// The narrowest gap that is open all along.
    pub gap: Option<Length>,
    /// The narrowest line that is whole.
    pub line: Option<Length>,
    /// The densities of all patches, from clear to solid.
    pub densities: Option<[f64; PATCHES.len()]>,
}

impl Readings {
    /// Checks that there are enough, and none far off.
    pub(crate) fn check(&self, target: &Target) -> Result<(), PrinterError> {
        if self.across.is_empty() {
            return Err(PrinterError::Missing("a length across the page"));
        }
        if self.down.is_empty() {
            return Err(PrinterError::Missing("a length down the page"));
        }
        for read in &self.across {
            near("a length across", *read, target.width)?;
        }
        for read in &self.down {
            near("a length down", *read, target.height)?;
        }
        for read in self.diagonals.iter().flatten() {
            near("a diagonal", *read, target.diagonal())?;
        }
        for (what, read) in [("the narrowest gap", self.gap), ("the narrowest line", self.line)] {
            if let Some(read) = read
                && nearest_step(read).is_none()
            {
                let steps: Vec<String> = GAPS.iter().map(|g| g.to_mm().to_string()).collect();
                let range = format!("one of {} mm, as printed beside it", steps.join(", "));
                return Err(PrinterError::BadNumber { what, given: read.show(Unit::Mm), range });
            }
        }
        if let Some(densities) = &self.densities
            && crate::density::spread(densities).is_none()
        {
            let given = "as they are".into();
            let range = "eleven densities from clear film to solid ink".into();
            return Err(PrinterError::BadNumber { what: "the densities", given, range });
        }
        Ok(())
    }

    /// How far ink spreads past an edge, and one standard deviation of it, if anything that
    /// tells was read; patches tell it better than gaps.
    pub(crate) fn spread(&self) -> Option<(Length, Length)> {
        if let Some(densities) = &self.densities {
            return crate::density::spread(densities);
        }
        // Both sides of a gap spread. It lies between the widest that closed and the narrowest
        // that is open: evenly so, with a standard deviation of a twelfth's root of the step.
        let open = nearest_step(self.gap?)?;
        let closed = open.checked_sub(1).map_or(Length::ZERO, |n| GAPS[n]);
        let (middle, step) = ((GAPS[open] + closed) / 4.0, (GAPS[open] - closed) / 2.0);
        Some((middle, step / 12_f64.sqrt()))
    }
}

fn near(what: &'static str, read: Length, drawn: Length) -> Result<(), PrinterError> {
    if (read / drawn - 1.0).abs() <= crate::LIMITS.share {
        return Ok(());
    }
    Err(PrinterError::FarOff { what, read, drawn })
}

/// Which of the steps drawn a reading is.
fn nearest_step(read: Length) -> Option<usize> {
    GAPS.iter().position(|gap| (*gap - read).abs() < Length::mm(0.004))
}
