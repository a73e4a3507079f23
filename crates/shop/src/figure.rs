use crate::{Caution, Drawing};
use measure::{Length, Unit};
use serde::ser::{Serialize, SerializeMap, Serializer};
use std::fmt;

/// One number of the shop plan, able to say how it came out.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Figure {
    /// What it is, in a printer's words.
    pub name: String,
    /// The number with its unit.
    #[serde(flatten)]
    pub value: Quantity,
    /// The formula with the numbers put in.
    pub how: String,
    /// Where the formula or the number behind it comes from.
    pub source: Source,
}

/// A number with its unit.
#[derive(Clone, Debug, PartialEq)]
pub enum Quantity {
    /// A length, shown in the shop's unit.
    Length(Length),
    /// A length so small that it is shown in micrometres.
    Fine(Length),
    /// An area in square metres.
    Area(f64),
    /// A volume in millilitres.
    Volume(f64),
    /// A mass in grams.
    Mass(f64),
    /// A time in seconds.
    Time(f64),
    /// A part of one, shown in per cent.
    Share(f64),
    /// A plain factor.
    Factor(f64),
    /// A whole number of things.
    Count(u64),
    /// A sum of money in the shop's currency.
    Money(f64),
    /// A number in a unit that stands beside it.
    Other(f64, &'static str),
    /// An answer in words.
    Words(String),
}

/// Where a formula or a default comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// A standard, paper or handbook.
    Published(&'static str),
    /// A work named from memory, not looked up for this program.
    Recalled(&'static str),
    /// What trade handbooks and articles say; shops differ.
    Trade(&'static str),
    /// Common practice without a source.
    Practice,
    /// Follows from the numbers by geometry or arithmetic alone.
    Arithmetic,
    /// The shop's own setting, price, measurement or record.
    Shop,
}

/// The figures of one part of the plan, with what the printer is warned of.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Section {
    /// A short fixed name, the same in every release.
    pub key: &'static str,
    /// The heading.
    pub title: String,
    /// The numbers, in reading order.
    pub figures: Vec<Figure>,
    /// What does not fit together, each one sentence.
    pub warnings: Vec<String>,
    /// What to keep in mind, each one sentence.
    pub notes: Vec<String>,
    /// What can hurt in this part of the work.
    pub cautions: Vec<Caution>,
    /// Drawings to scale, for the window and the ticket; JSON holds the numbers alone.
    #[serde(skip)]
    pub drawings: Vec<Drawing>,
}

impl Section {
    pub(crate) fn new(key: &'static str, title: impl Into<String>) -> Self {
        let title = title.into();
        Self {
            key,
            title,
            figures: vec![],
            warnings: vec![],
            notes: vec![],
            cautions: vec![],
            drawings: vec![],
        }
    }

    pub(crate) fn add(
        &mut self,
        name: impl Into<String>,
        value: Quantity,
        how: impl Into<String>,
        source: Source,
    ) {
        self.figures.push(Figure { name: name.into(), value, how: how.into(), source });
    }

    pub(crate) fn warn(&mut self, text: impl Into<String>) {
        self.warnings.push(text.into());
    }

    pub(crate) fn note(&mut self, text: impl Into<String>) {
        self.notes.push(text.into());
    }

    /// The figure of that name.
    pub fn figure(&self, name: &str) -> Option<&Figure> {
        self.figures.iter().find(|f| f.name == name)
    }
}

impl Quantity {
    /// The number where it is one that can be summed: millilitres, grams, seconds, money, pieces.
    pub fn amount(&self) -> Option<f64> {
        match self {
            Self::Volume(v) | Self::Mass(v) | Self::Time(v) | Self::Money(v) => Some(*v),
            Self::Count(v) => Some(*v as f64),
            _ => None,
        }
    }

    /// The quantity as a printer reads it, lengths in `unit`.
    ///
    /// ```
    /// use measure::{Length, Unit};
    /// use shop::Quantity;
    /// assert_eq!(Quantity::Time(270.0).show(Unit::In), "4 min 30 s");
    /// assert_eq!(Quantity::Length(Length::inches(2.0)).show(Unit::In), "2 in");
    /// assert_eq!(Quantity::Share(0.323).show(Unit::Mm), "32.3 %");
    /// ```
    pub fn show(&self, unit: Unit) -> String {
        match self {
            Self::Length(v) => show_length(*v, unit),
            Self::Fine(v) => format!("{} \u{3bc}m", number(v.to_mm() * 1000.0)),
            Self::Area(v) => format!("{} m\u{b2}", number(*v)),
            Self::Volume(v) => format!("{} ml", number(*v)),
            Self::Mass(v) => format!("{} g", number(*v)),
            Self::Time(v) => show_time(*v),
            Self::Share(v) => format!("{} %", number(v * 100.0)),
            Self::Factor(v) => number(*v),
            Self::Count(v) => v.to_string(),
            Self::Money(v) => format!("{v:.2}"),
            Self::Other(v, unit) => format!("{} {unit}", number(*v)),
            Self::Words(v) => v.clone(),
        }
    }
}

/// Written as `{"value": .., "unit": ".."}`: lengths in millimetres, times in
/// seconds, shares as parts of one.
impl Serialize for Quantity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (value, unit) = match self {
            Self::Length(v) | Self::Fine(v) => (v.to_mm(), "mm"),
            Self::Area(v) => (*v, "m2"),
            Self::Volume(v) => (*v, "ml"),
            Self::Mass(v) => (*v, "g"),
            Self::Time(v) => (*v, "s"),
            Self::Share(v) => (*v, "part of one"),
            Self::Factor(v) => (*v, "times"),
            Self::Count(v) => (*v as f64, "pieces"),
            Self::Money(v) => (*v, "money"),
            Self::Other(v, unit) => (*v, *unit),
            Self::Words(_) => (0.0, "words"),
        };
        let mut map = serializer.serialize_map(Some(2))?;
        match self {
            Self::Words(text) => map.serialize_entry("value", text)?,
            Self::Count(count) => map.serialize_entry("value", count)?,
            _ => map.serialize_entry("value", &value)?,
        }
        map.serialize_entry("unit", unit)?;
        map.end()
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Published(work) => f.write_str(work),
            Self::Recalled(work) => write!(f, "{work} (from memory)"),
            Self::Trade(what) => write!(f, "trade: {what}"),
            Self::Practice => f.write_str("common practice, no source"),
            Self::Arithmetic => f.write_str("arithmetic"),
            Self::Shop => f.write_str("this shop's own number"),
        }
    }
}

impl Serialize for Source {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// A number with four digits that count, or all digits left of the point,
/// without trailing noughts.
pub(crate) fn number(v: f64) -> String {
    if !v.is_finite() {
        return "?".to_owned();
    }
    let left = if v == 0.0 { 0 } else { v.abs().log10().floor() as i32 };
    let decimals = (3 - left).clamp(0, 8) as usize;
    let text = format!("{v:.decimals$}");
    let text =
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A length as a tape measure shows it: tenths of a millimetre, hundredths of an inch.
pub(crate) fn show_length(v: Length, unit: Unit) -> String {
    let step = match unit {
        Unit::In => 100.0,
        Unit::Mm | Unit::Pt => 10.0,
        Unit::Cm => 100.0,
    };
    Length::of((v.to(unit) * step).round() / step, unit).show(unit)
}

/// A time in the largest units that keep it readable.
pub(crate) fn show_time(seconds: f64) -> String {
    if !seconds.is_finite() {
        return "?".to_owned();
    }
    if seconds.abs() < 10.0 {
        return format!("{} s", number(seconds));
    }
    let whole = seconds.round().min(1e15) as i64;
    let (hours, minutes, secs) = (whole / 3600, whole / 60 % 60, whole % 60);
    match (hours, minutes, secs) {
        (0, 0, s) => format!("{s} s"),
        (0, m, 0) => format!("{m} min"),
        (0, m, s) => format!("{m} min {s} s"),
        (h, 0, _) => format!("{h} h"),
        (h, m, _) => format!("{h} h {m} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_well() {
        let cases = [
            (0.0, "0"),
            (63.111, "63.11"),
            (1234.56, "1235"),
            (0.012346, "0.01235"),
            (2.0, "2"),
            (10.0, "10"),
            (-0.5, "-0.5"),
            (9.99999, "10"),
        ];
        for (v, text) in cases {
            assert_eq!(number(v), text, "{v}");
        }
        assert_eq!(show_time(7260.0), "2 h 1 min");
        assert_eq!(show_time(2.5), "2.5 s");
        assert_eq!(show_length(Length::inches(1.0 / 3.0), Unit::In), "0.33 in");
    }

    #[test]
    fn a_figure_says_its_unit_and_source_in_json() {
        let figure = Figure {
            name: "opening".into(),
            value: Quantity::Fine(Length::mm(0.0631)),
            how: "10 000 / 90 - 48".into(),
            source: Source::Arithmetic,
        };
        let json = serde_json::to_value(&figure).unwrap();
        assert_eq!(json["value"], 0.0631);
        assert_eq!(json["unit"], "mm");
        assert_eq!(json["source"], "arithmetic");
    }
}
