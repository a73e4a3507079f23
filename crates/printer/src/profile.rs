use crate::PrinterError;
use measure::{Length, Size, Unit};
use serde::{Deserialize, Serialize};

/// What one printer does with one film, as its calibration page told. A plain value, kept in a
/// readable file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Profile {
    /// [`Profile::FORMAT`].
    pub format: String,
    /// What the shop calls the printer.
    pub printer: String,
    /// What the shop calls the film.
    #[serde(default)]
    pub film: String,
    /// How long a length across the sheet comes out, as a share of what was asked for.
    pub scale_x: f64,
    /// The same down the sheet.
    pub scale_y: f64,
    /// How far the print leans right for each length down the sheet, as a share of it.
    #[serde(default)]
    pub shear: f64,
    /// How far ink spreads past each edge; negative where it falls short.
    #[serde(default)]
    pub spread: Length,
    /// How sure the numbers are.
    #[serde(default)]
    pub sure: Sure,
    /// The finest line that came out whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finest_line: Option<Length>,
    /// The density of solid ink and of clear film, where they were measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub densities: Option<[f64; 2]>,
    /// Whether a second page, printed with this profile, came out true.
    #[serde(default)]
    pub confirmed: bool,
}

/// One standard deviation of each number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "as in Profile")]
pub struct Sure {
    pub scale_x: f64,
    pub scale_y: f64,
    pub shear: f64,
    pub spread: Length,
}

/// How far a sheet printed without correction is off, at most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Off {
    /// Too wide over the sheet's width; negative where too narrow.
    pub across: Length,
    /// Too long over the sheet's height.
    pub down: Length,
    /// Leaning over the sheet's height.
    pub aside: Length,
}

/// How far a printer that works may be from true.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// The most a scale may differ from 1, or a lean be.
    pub share: f64,
    /// The most ink may spread.
    pub spread: Length,
}

/// Further off, a page was scaled by a viewer, or misread.
pub const LIMITS: Limits = Limits { share: 0.05, spread: Length::mm(0.5) };

impl Profile {
    /// What [`Profile::format`] says in this version.
    pub const FORMAT: &'static str = "filmquilt printer 1";

    /// A printer that prints true.
    pub fn true_to_size(printer: impl Into<String>, film: impl Into<String>) -> Self {
        Self {
            format: Self::FORMAT.into(),
            printer: printer.into(),
            film: film.into(),
            scale_x: 1.0,
            scale_y: 1.0,
            shear: 0.0,
            spread: Length::ZERO,
            sure: Sure::default(),
            finest_line: None,
            densities: None,
            confirmed: false,
        }
    }

    /// Checks every number, since a file may say anything.
    ///
    /// # Errors
    /// For the first that no working printer has.
    pub fn check(&self) -> Result<(), PrinterError> {
        let share = |what, v: f64, from: f64| {
            if (v - from).abs() <= LIMITS.share {
                return Ok(());
            }
            let (low, high) = (from - LIMITS.share, from + LIMITS.share);
            let range = format!("a share from {low} to {high}");
            Err(PrinterError::BadNumber { what, given: v.to_string(), range })
        };
        share("a printer's scale across", self.scale_x, 1.0)?;
        share("a printer's scale down", self.scale_y, 1.0)?;
        share("a printer's lean", self.shear, 0.0)?;
        if self.spread.is_finite() && self.spread.abs() <= LIMITS.spread {
            return Ok(());
        }
        let (given, most) = (self.spread.show(Unit::Mm), LIMITS.spread.show(Unit::Mm));
        let range = format!("at most {most} either way");
        Err(PrinterError::BadNumber { what: "an ink's spread", given, range })
    }

    /// Whether pages are drawn otherwise than asked for.
    pub fn moves(&self) -> bool {
        (self.scale_x, self.scale_y, self.shear) != (1.0, 1.0, 0.0)
    }

    /// How far a sheet of this size would be off without correction.
    pub fn off(&self, sheet: Size) -> Off {
        Off {
            across: sheet.width * (self.scale_x - 1.0),
            down: sheet.height * (self.scale_y - 1.0),
            aside: sheet.height * self.shear,
        }
    }

    /// How much wider a margin must be, on the left or right and at the top or bottom, so that
    /// what is to be true still lies within the printer's reach. `margin` is what the printer
    /// leaves blank itself.
    pub fn margin(&self, sheet: Size, margin: Length, upright: bool) -> Length {
        let (side, scale) =
            if upright { (sheet.height, self.scale_y) } else { (sheet.width, self.scale_x) };
        let reach = (side / 2.0 - margin) * scale;
        let lean = if upright { Length::ZERO } else { sheet.height * (self.shear.abs() / 2.0) };
        margin.max(side / 2.0 - reach + lean)
    }

    /// Takes a place on a printed page to the place that it must be drawn at, as a PDF matrix
    /// (ISO 32000-1, 8.3.4) in points with `y` up, for a page of this size.
    pub fn drawn_from_true(&self, page: Size) -> [f64; 6] {
        let (x, y, k) = (1.0 / self.scale_x, 1.0 / self.scale_y, self.shear);
        about_middle([x, 0.0, k * x * y, y], page)
    }

    /// The way back: where on the printed page a place drawn comes out.
    pub fn true_from_drawn(&self, page: Size) -> [f64; 6] {
        about_middle([self.scale_x, 0.0, -self.shear, self.scale_y], page)
    }
}

/// The matrix that keeps the page's middle where it is.
fn about_middle([a, b, c, d]: [f64; 4], page: Size) -> [f64; 6] {
    let (x, y) = (page.width.to_pt() / 2.0, page.height.to_pt() / 2.0);
    [a, b, c, d, x - a * x - c * y, y - b * x - d * y]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn leaning() -> Profile {
        Profile {
            scale_x: 1.004,
            scale_y: 0.997,
            shear: 0.002,
            ..Profile::true_to_size("wide", "clear")
        }
    }

    fn sheet() -> Size {
        Size::new(Length::inches(13.0), Length::inches(19.0))
    }

    #[test]
    fn three_tenths_of_a_percent_over_nineteen_inches() {
        // 0.003 x 19 in x 25.4 mm/in = 1.4478 mm.
        let off = leaning().off(sheet());
        assert!((off.down.to_mm() + 1.4478).abs() < 1e-9, "{off:?}");
        assert!((off.across.to_mm() - 0.004 * 330.2).abs() < 1e-9, "{off:?}");
        assert!((off.aside.to_mm() - 0.002 * 482.6).abs() < 1e-9, "{off:?}");
    }

    #[test]
    fn drawing_and_printing_undo_each_other() {
        let (p, page) = (leaning(), sheet());
        let at = |m: [f64; 6], [x, y]: [f64; 2]| {
            [m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5]]
        };
        for place in [[0.0, 0.0], [936.0, 1368.0], [100.0, 900.0]] {
            let drawn = at(p.drawn_from_true(page), place);
            let back = at(p.true_from_drawn(page), drawn);
            assert!((0..2).all(|k| (back[k] - place[k]).abs() < 1e-9), "{place:?} {back:?}");
        }
        // Down the page (y falls) the print leans right.
        let [x, _] = at(p.true_from_drawn(page), [468.0, 0.0]);
        assert!((x - 468.0 - 0.002 * 684.0).abs() < 1e-9);
    }

    #[test]
    fn what_lies_within_the_margins_is_drawn_within_reach() {
        let (p, page, margin) = (leaning(), sheet(), Length::mm(3.0));
        let (side, end) = (p.margin(page, margin, false), p.margin(page, margin, true));
        assert!(side >= margin && end > margin);
        let (w, h) = (page.width.to_pt(), page.height.to_pt());
        let (s, e, m) = (side.to_pt(), end.to_pt(), margin.to_pt() - 1e-9);
        for [x, y] in [[s, e], [w - s, e], [s, h - e], [w - s, h - e]] {
            let [a, b, c, d, dx, dy] = p.drawn_from_true(page);
            let (u, v) = (a * x + c * y + dx, b * x + d * y + dy);
            assert!(u >= m && u <= w - m && v >= m && v <= h - m, "{u} {v}");
        }
    }

    #[test]
    fn a_file_that_says_nonsense_is_refused() {
        let good = leaning();
        let text = serde_json::to_string(&good).unwrap();
        assert_eq!(serde_json::from_str::<Profile>(&text).unwrap(), good);
        for bad in [
            Profile { scale_x: f64::NAN, ..good.clone() },
            Profile { scale_y: 0.2, ..good.clone() },
            Profile { shear: f64::INFINITY, ..good.clone() },
            Profile { spread: Length::mm(3.0), ..good.clone() },
        ] {
            assert!(!bad.check().unwrap_err().hint().is_empty());
        }
        good.check().unwrap();
    }
}
