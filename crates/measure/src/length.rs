use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// A length. Made from and read in a named unit; never a bare number.
///
/// ```
/// use measure::Length;
/// assert!((Length::inches(13.0).to_mm() - 330.2).abs() < 1e-9);
/// assert!((Length::pt(72.0).to_inches() - 1.0).abs() < 1e-12);
/// ```
#[derive(Clone, Copy, Default, PartialEq, PartialOrd)]
pub struct Length(f64);

/// A unit that a length can be typed or shown in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    /// Inches, 25.4 mm each.
    In,
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// Points, 1/72 in each.
    Pt,
}

impl Unit {
    /// The millimetres in one of this unit.
    pub const fn mm(self) -> f64 {
        match self {
            Self::In => 25.4,
            Self::Mm => 1.0,
            Self::Cm => 10.0,
            Self::Pt => 25.4 / 72.0,
        }
    }

    /// The unit's usual abbreviation, which [`crate::parse_length`] reads back.
    pub const fn name(self) -> &'static str {
        match self {
            Self::In => "in",
            Self::Mm => "mm",
            Self::Cm => "cm",
            Self::Pt => "pt",
        }
    }
}

impl Length {
    /// No length at all.
    pub const ZERO: Self = Self(0.0);

    /// A length of so many millimetres.
    pub const fn mm(v: f64) -> Self {
        Self(v)
    }
    /// A length of so many centimetres.
    pub const fn cm(v: f64) -> Self {
        Self(v * 10.0)
    }
    /// A length of so many inches.
    pub const fn inches(v: f64) -> Self {
        Self(v * 25.4)
    }
    /// A length of so many points (1/72 in).
    pub const fn pt(v: f64) -> Self {
        Self(v * 25.4 / 72.0)
    }
    /// A length of so many of `unit`.
    pub const fn of(v: f64, unit: Unit) -> Self {
        Self(v * unit.mm())
    }
    /// The length in millimetres.
    pub const fn to_mm(self) -> f64 {
        self.0
    }
    /// The length in centimetres.
    pub const fn to_cm(self) -> f64 {
        self.0 / 10.0
    }
    /// The length in inches.
    pub const fn to_inches(self) -> f64 {
        self.0 / 25.4
    }
    /// The length in points (1/72 in), the unit of a PDF page.
    pub const fn to_pt(self) -> f64 {
        self.0 * 72.0 / 25.4
    }
    /// The length in `unit`.
    pub const fn to(self, unit: Unit) -> f64 {
        self.0 / unit.mm()
    }
    /// The length without its sign.
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }
    /// The shorter of two lengths.
    pub const fn min(self, other: Self) -> Self {
        Self(self.0.min(other.0))
    }
    /// The longer of two lengths.
    pub const fn max(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }
    /// Whether this length fits into `room`, forgiving a thousandth of a
    /// millimetre of rounding.
    ///
    /// ```
    /// use measure::Length;
    /// let three_tenths = Length::mm(0.1) + Length::mm(0.2);
    /// assert!(three_tenths.fits(Length::mm(0.3)));
    /// ```
    pub fn fits(self, room: Self) -> bool {
        self.0 <= room.0 + 1e-3
    }
    /// Whether the number behind the length is finite.
    pub const fn is_finite(self) -> bool {
        self.0.is_finite()
    }
    /// The length as a printer reads it: at most four decimals of an inch,
    /// two of a millimetre or point, three of a centimetre, without trailing noughts.
    ///
    /// ```
    /// use measure::{Length, Unit};
    /// assert_eq!(Length::inches(0.125).show(Unit::In), "0.125 in");
    /// assert_eq!(Length::mm(483.0).show(Unit::Mm), "483 mm");
    /// ```
    pub fn show(self, unit: Unit) -> String {
        let decimals = match unit {
            Unit::In => 4,
            Unit::Cm => 3,
            Unit::Mm | Unit::Pt => 2,
        };
        let text = format!("{:.decimals$}", self.to(unit));
        let text = text.trim_end_matches('0').trim_end_matches('.');
        let text = if text == "-0" { "0" } else { text };
        format!("{text} {}", unit.name())
    }
}

impl fmt::Debug for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}mm", self.0)
    }
}

impl Add for Length {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self(self.0 + o.0)
    }
}
impl Sub for Length {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self(self.0 - o.0)
    }
}
impl AddAssign for Length {
    fn add_assign(&mut self, o: Self) {
        self.0 += o.0;
    }
}
impl SubAssign for Length {
    fn sub_assign(&mut self, o: Self) {
        self.0 -= o.0;
    }
}
impl Neg for Length {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}
impl Mul<f64> for Length {
    type Output = Self;
    fn mul(self, k: f64) -> Self {
        Self(self.0 * k)
    }
}
impl Div<f64> for Length {
    type Output = Self;
    fn div(self, k: f64) -> Self {
        Self(self.0 / k)
    }
}
impl Div for Length {
    type Output = f64;
    fn div(self, o: Self) -> f64 {
        self.0 / o.0
    }
}
impl std::iter::Sum for Length {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        iter.fold(Self::ZERO, Add::add)
    }
}

/// Saved as text with its unit, such as `"330.2mm"`, and read back to the same bits.
impl Serialize for Length {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(&format!("{}mm", self.0))
    }
}
impl<'de> Deserialize<'de> for Length {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        crate::parse_length(&text, None).map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_agree() {
        // ISO 31-1 / NIST SP 811: 1 in = 25.4 mm exactly.
        assert_eq!(Length::inches(1.0).to_mm(), 25.4);
        // ISO 32000-1, 8.3.2.3: the default user unit is 1/72 in.
        assert!((Length::inches(13.0).to_pt() - 936.0).abs() < 1e-9);
        assert!((Length::mm(329.0).to_pt() - 932.598).abs() < 1e-3);
    }

    #[test]
    fn saves_and_reads_the_same_bits() {
        for v in [0.1 + 0.2, 330.2, 1.0 / 3.0, 1e-300, -7.25] {
            let text = serde_json::to_string(&Length::mm(v)).unwrap();
            let back: Length = serde_json::from_str(&text).unwrap();
            assert_eq!(back.to_mm().to_bits(), v.to_bits(), "{text}");
        }
    }
}
