use crate::PrinterError;
use measure::{Length, Size};

/// The calibration page of a sheet: where its measuring crosses stand. Nine of them, in three
/// rows and columns about the page's middle, named A to I as one reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// The page.
    pub page: Size,
    /// From the left column's crosses to the right column's.
    pub width: Length,
    /// From the top row's to the bottom row's.
    pub height: Length,
}

/// The gaps drawn between two solid blocks: finer steps than half a printer's usual spread.
pub const GAPS: [Length; 12] = [
    Length::mm(0.02),
    Length::mm(0.04),
    Length::mm(0.06),
    Length::mm(0.08),
    Length::mm(0.1),
    Length::mm(0.12),
    Length::mm(0.15),
    Length::mm(0.2),
    Length::mm(0.25),
    Length::mm(0.3),
    Length::mm(0.4),
    Length::mm(0.5),
];

/// The lines drawn, as wide as the gaps.
pub const LINES: [Length; 12] = GAPS;

/// Room for a cross and its letter outside the measured lengths.
const RIM: Length = Length::mm(8.0);
/// Crosses stand at whole steps, which are found on a rule with ease.
const STEP: Length = Length::mm(10.0);
/// The least that crosses may stand apart, for patches and gaps to fit between them.
const LEAST: [Length; 2] = [Length::mm(180.0), Length::mm(240.0)];

impl Target {
    /// The page for a sheet with this unprintable margin on its widest side.
    ///
    /// # Errors
    /// Where the sheet is too small.
    pub fn new(page: Size, margin: Length) -> Result<Self, PrinterError> {
        let room = |side: Length| {
            let room = side - (margin + RIM) * 2.0;
            STEP * (room / STEP).floor()
        };
        let (width, height) = (room(page.width), room(page.height));
        if !(width >= LEAST[0] && height >= LEAST[1]) {
            return Err(PrinterError::TooSmall(LEAST[0] + RIM * 2.0, LEAST[1] + RIM * 2.0));
        }
        Ok(Self { page, width, height })
    }

    /// From corner to corner.
    pub fn diagonal(&self) -> Length {
        Length::mm(self.width.to_mm().hypot(self.height.to_mm()))
    }

    /// The crosses in millimetres from the page's top-left corner, with their letters.
    pub fn crosses_mm(&self) -> [(char, f64, f64); 9] {
        let at = |middle: Length, span: Length, n: usize| {
            middle.to_mm() / 2.0 + span.to_mm() / 2.0 * (n as f64 - 1.0)
        };
        std::array::from_fn(|n| {
            let (column, row) = (n % 3, n / 3);
            let letter = char::from(b'A' + n as u8);
            (
                letter,
                at(self.page.width, self.width, column),
                at(self.page.height, self.height, row),
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crosses_stand_about_the_middle_inside_the_margins() {
        let page = Size::new(Length::inches(13.0), Length::inches(19.0));
        let target = Target::new(page, Length::inches(0.125)).unwrap();
        assert_eq!((target.width.to_mm(), target.height.to_mm()), (300.0, 460.0));
        let crosses = target.crosses_mm();
        let [a, e, i] = [0, 4, 8].map(|n| crosses[n]);
        assert_eq!((a.0, e.0, i.0), ('A', 'E', 'I'));
        assert!((i.1 - a.1 - 300.0).abs() < 1e-9 && (i.2 - a.2 - 460.0).abs() < 1e-9);
        assert!((e.1 - 165.1).abs() < 1e-9 && (e.2 - 241.3).abs() < 1e-9);
        assert!(
            Target::new(Size::new(Length::mm(148.0), Length::mm(210.0)), Length::ZERO).is_err()
        );
    }
}
