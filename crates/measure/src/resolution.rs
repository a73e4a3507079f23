use crate::Length;
use serde::{Deserialize, Serialize};

/// A film's resolution: pixels per inch, the same both ways.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Resolution(f64);

impl Resolution {
    /// A resolution of so many pixels per inch.
    pub const fn ppi(v: f64) -> Self {
        Self(v)
    }
    /// The pixels per inch.
    pub const fn to_ppi(self) -> f64 {
        self.0
    }
    /// How long one pixel is.
    pub const fn pixel(self) -> Length {
        Length::inches(1.0 / self.0)
    }
    /// How many pixels a length spans, not rounded.
    pub const fn px(self, length: Length) -> f64 {
        length.to_inches() * self.0
    }
    /// How many whole pixels a length spans, rounded to the nearest.
    ///
    /// ```
    /// use measure::{Length, Resolution};
    /// assert_eq!(Resolution::ppi(300.0).whole_px(Length::inches(10.24)), 3072);
    /// ```
    pub fn whole_px(self, length: Length) -> i64 {
        self.px(length).round() as i64
    }
    /// The length that so many pixels span.
    pub const fn length(self, px: f64) -> Length {
        Length::inches(px / self.0)
    }
}

/// A halftone's ruling: lines of dots per inch.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Ruling(f64);

impl Ruling {
    /// A ruling of so many lines per inch.
    pub const fn lpi(v: f64) -> Self {
        Self(v)
    }
    /// The lines per inch.
    pub const fn to_lpi(self) -> f64 {
        self.0
    }
    /// The distance from one line of dots to the next.
    pub const fn period(self) -> Length {
        Length::inches(1.0 / self.0)
    }
}
