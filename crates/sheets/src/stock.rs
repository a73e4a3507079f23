use measure::{Length, Size};
use serde::{Deserialize, Serialize};

/// The unprintable edge of a sheet as it stands upright in the printer.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Margins {
    /// Left.
    pub left: Length,
    /// Top.
    pub top: Length,
    /// Right.
    pub right: Length,
    /// Bottom.
    pub bottom: Length,
}

impl Margins {
    /// The same margin on all four sides.
    pub const fn all(width: Length) -> Self {
        Self { left: width, top: width, right: width, bottom: width }
    }
}

/// An eighth of an inch all round: common practice, no source. Printers differ; measure yours.
impl Default for Margins {
    fn default() -> Self {
        Self::all(Length::inches(0.125))
    }
}

/// A stock of film: sheets of one size, or a roll.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stock {
    /// What the printer calls it.
    pub name: String,
    /// Width and height upright. A roll's height is the longest piece it may give.
    pub size: Size,
    /// The unprintable edges.
    pub margins: Margins,
    /// Whether this is a roll: fixed width, free length.
    pub roll: bool,
    /// How many sheets are on hand, where that is limited.
    pub on_hand: Option<u32>,
    /// The price of a sheet (of a metre, for a roll), in the shop's currency.
    pub price: f64,
}

/// Sheets that are sold widely: name, width, height upright, and the unit's millimetres.
const SHEETS: [(&str, f64, f64, f64); 11] = [
    ("13x19in", 13.0, 19.0, 25.4),
    // The nearest metric size to 13 x 19 in. System lists disagree about the name of either, so
    // that sizes are matched by their dimensions.
    ("329x483mm", 329.0, 483.0, 1.0),
    // ISO 216:2007.
    ("A4", 210.0, 297.0, 1.0),
    ("A3", 297.0, 420.0, 1.0),
    ("A2", 420.0, 594.0, 1.0),
    ("A1", 594.0, 841.0, 1.0),
    // ASME Y14.1: A and B are better known as letter and tabloid.
    ("letter", 8.5, 11.0, 25.4),
    ("tabloid", 11.0, 17.0, 25.4),
    ("C", 17.0, 22.0, 25.4),
    ("D", 22.0, 34.0, 25.4),
    ("E", 34.0, 44.0, 25.4),
];

/// Widths of rolls in inches: common practice, no source.
const ROLLS: [f64; 5] = [13.0, 17.0, 24.0, 36.0, 44.0];

/// The longest piece of a roll offered at first.
const LONGEST: Length = Length::inches(100.0);

impl Stock {
    /// A stock of sheets of `size` with the usual margins, without a limit or a price.
    pub fn sheet(name: impl Into<String>, size: Size) -> Self {
        let upright = if size.width > size.height { size.turned() } else { size };
        Self {
            name: name.into(),
            size: upright,
            margins: Margins::default(),
            roll: false,
            on_hand: None,
            price: 0.0,
        }
    }

    /// A roll of `width` that gives pieces up to `longest`.
    pub fn roll(name: impl Into<String>, width: Length, longest: Length) -> Self {
        let size = Size::new(width, longest);
        let (name, margins) = (name.into(), Margins::default());
        Self { name, size, margins, roll: true, on_hand: None, price: 0.0 }
    }

    /// A stock by name: a sheet such as `A3` or `letter`, or a roll such as `roll-24in`.
    pub fn named(name: &str) -> Option<Self> {
        let wanted = name.trim();
        Self::all().into_iter().find(|stock| stock.name.eq_ignore_ascii_case(wanted))
    }

    /// All stocks with a name, in the order to offer them.
    pub fn all() -> Vec<Self> {
        let sheets = SHEETS.iter().map(|(name, w, h, mm)| {
            Self::sheet(*name, Size::new(Length::mm(w * mm), Length::mm(h * mm)))
        });
        let rolls =
            ROLLS.iter().map(|w| Self::roll(format!("roll-{w}in"), Length::inches(*w), LONGEST));
        sheets.chain(rolls).collect()
    }

    /// The name of the widely sold sheet with these dimensions, either way up, to half a millimetre.
    pub fn name_of(size: Size) -> Option<&'static str> {
        let near = |a: Length, mm: f64| (a.to_mm() - mm).abs() <= 0.5;
        let (short, long) = (size.width.min(size.height), size.width.max(size.height));
        let found = SHEETS.iter().find(|(_, w, h, mm)| near(short, w * mm) && near(long, h * mm));
        found.map(|(name, ..)| *name)
    }

    /// What can be printed on, upright.
    pub fn printable(&self) -> Size {
        let m = self.margins;
        Size::new(self.size.width - m.left - m.right, self.size.height - m.top - m.bottom)
    }

    /// The stock's width and height as it lies on the film.
    pub fn lying(&self, turned: bool) -> Size {
        if turned { self.size.turned() } else { self.size }
    }

    /// What `length` along a roll, or one sheet, costs.
    pub fn cost(&self, length: Length) -> f64 {
        if self.roll { self.price * length.to_mm() / 1000.0 } else { self.price }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_agree_with_the_standards() {
        let mm = |name: &str| {
            let s = Stock::named(name).unwrap().size;
            (s.width.to_mm(), s.height.to_mm())
        };
        // ISO 216:2007, A series, millimetres.
        assert_eq!(mm("a4"), (210.0, 297.0));
        assert_eq!(mm("A3"), (297.0, 420.0));
        assert_eq!(mm("A2"), (420.0, 594.0));
        assert_eq!(mm("A1"), (594.0, 841.0));
        // ASME Y14.1, inches.
        let inch = |name: &str| {
            let s = Stock::named(name).unwrap().size;
            (s.width.to_inches(), s.height.to_inches())
        };
        assert_eq!(inch("letter"), (8.5, 11.0));
        assert_eq!(inch("tabloid"), (11.0, 17.0));
        assert_eq!(inch("C"), (17.0, 22.0));
        assert_eq!(inch("D"), (22.0, 34.0));
        assert_eq!(inch("E"), (34.0, 44.0));
        let (w, h) = mm("13x19in");
        assert!((w - 330.2).abs() < 1e-9 && (h - 482.6).abs() < 1e-9);
        assert!(Stock::named("roll-24in").unwrap().roll);
    }

    #[test]
    fn a_size_is_known_by_its_dimensions_alone() {
        let size = |w, h| Size::new(Length::mm(w), Length::mm(h));
        assert_eq!(Stock::name_of(size(482.6, 330.2)), Some("13x19in"));
        assert_eq!(Stock::name_of(size(329.0, 483.0)), Some("329x483mm"));
        // Some lists use one name for this size and for 13 x 19 in: it is neither.
        assert_eq!(Stock::name_of(size(305.0, 487.0)), None);
    }
}
