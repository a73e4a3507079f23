use serde::{Deserialize, Serialize};

/// A turn. Positive is clockwise, since `y` runs down. Saved in degrees.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Angle(f64);

impl Angle {
    /// No turn.
    pub const ZERO: Self = Self(0.0);

    /// An angle of so many degrees.
    pub const fn deg(v: f64) -> Self {
        Self(v)
    }
    /// An angle of so many radians.
    pub const fn rad(v: f64) -> Self {
        Self(v.to_degrees())
    }
    /// The angle in degrees.
    pub const fn to_deg(self) -> f64 {
        self.0
    }
    /// The angle in radians.
    pub const fn to_rad(self) -> f64 {
        self.0.to_radians()
    }
    /// Sine and cosine.
    pub fn sin_cos(self) -> (f64, f64) {
        self.to_rad().sin_cos()
    }
}
