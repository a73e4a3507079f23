use crate::InksError;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// An sRGB colour of 8 bits a channel, written `#rrggbb`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Rgb(pub [u8; 3]);

/// A colour in CIE L\*a\*b\*, white point D65, 2 degree observer.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lab {
    /// Lightness, 0 black to 100 white.
    pub l: f64,
    /// Green (negative) to red.
    pub a: f64,
    /// Blue (negative) to yellow.
    pub b: f64,
}

impl Rgb {
    /// The colour in L\*a\*b\*.
    pub fn lab(self) -> Lab {
        lab_of(self.0.map(f64::from))
    }
    /// The CIEDE2000 difference from another colour.
    pub fn difference(self, other: Self) -> f64 {
        ciede2000(self.lab(), other.lab())
    }
}

impl fmt::Display for Rgb {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [r, g, b] = self.0;
        write!(f, "#{r:02x}{g:02x}{b:02x}")
    }
}

impl FromStr for Rgb {
    type Err = InksError;
    fn from_str(text: &str) -> Result<Self, InksError> {
        let digits = text.trim().strip_prefix('#').unwrap_or(text.trim());
        if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(InksError::NotAColour(text.into()));
        }
        let value =
            u32::from_str_radix(digits, 16).map_err(|_| InksError::NotAColour(text.into()))?;
        Ok(Self([(value >> 16) as u8, (value >> 8) as u8, value as u8]))
    }
}

impl TryFrom<String> for Rgb {
    type Error = InksError;
    fn try_from(text: String) -> Result<Self, InksError> {
        text.parse()
    }
}
impl From<Rgb> for String {
    fn from(colour: Rgb) -> Self {
        colour.to_string()
    }
}

/// One sRGB channel of 0..=255 in linear light of 0..=1 (IEC 61966-2-1).
pub(crate) fn linear(v: f64) -> f64 {
    let v = v / 255.0;
    if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
}

/// Linear light of 0..=1 back to an sRGB channel of 0..=255.
pub(crate) fn encoded(v: f64) -> f64 {
    let v = v.clamp(0.0, 1.0);
    255.0 * if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 }
}

/// L\*a\*b\* of sRGB channels of 0..=255, which need not be whole.
pub(crate) fn lab_of(rgb: [f64; 3]) -> Lab {
    let [r, g, b] = rgb.map(linear);
    // IEC 61966-2-1 primaries; D65 white of the 2 degree observer.
    let x = (0.412_453 * r + 0.357_580 * g + 0.180_423 * b) / 0.950_47;
    let y = 0.212_671 * r + 0.715_160 * g + 0.072_169 * b;
    let z = (0.019_334 * r + 0.119_193 * g + 0.950_227 * b) / 1.088_83;
    let f = |t: f64| if t > 0.008_856 { t.cbrt() } else { 7.787 * t + 16.0 / 116.0 };
    let (fx, fy, fz) = (f(x), f(y), f(z));
    Lab { l: 116.0 * fy - 16.0, a: 500.0 * (fx - fy), b: 200.0 * (fy - fz) }
}

/// The CIEDE2000 colour difference with all weights 1.
///
/// Sharma, Wu and Dalal 2005, doi:10.1002/col.20070, equations 2 to 22.
pub fn ciede2000(p: Lab, q: Lab) -> f64 {
    let c_mean = (p.a.hypot(p.b) + q.a.hypot(q.b)) / 2.0;
    let c7 = c_mean.powi(7);
    let g = 0.5 * (1.0 - (c7 / (c7 + 25_f64.powi(7))).sqrt());
    let (a1, a2) = ((1.0 + g) * p.a, (1.0 + g) * q.a);
    let (c1, c2) = (a1.hypot(p.b), a2.hypot(q.b));
    let hue = |a: f64, b: f64| {
        if a == 0.0 && b == 0.0 { 0.0 } else { b.atan2(a).to_degrees().rem_euclid(360.0) }
    };
    let (h1, h2) = (hue(a1, p.b), hue(a2, q.b));
    let grey = c1 * c2 == 0.0;
    let dh = match h2 - h1 {
        _ if grey => 0.0,
        d if d > 180.0 => d - 360.0,
        d if d < -180.0 => d + 360.0,
        d => d,
    };
    let (dl, dc) = (q.l - p.l, c2 - c1);
    let d_hue = 2.0 * (c1 * c2).sqrt() * (dh / 2.0).to_radians().sin();
    let (l, c) = ((p.l + q.l) / 2.0, (c1 + c2) / 2.0);
    let h = match h1 + h2 {
        s if grey => s,
        s if (h1 - h2).abs() <= 180.0 => s / 2.0,
        s if s < 360.0 => (s + 360.0) / 2.0,
        s => (s - 360.0) / 2.0,
    };
    let cos = |degrees: f64| degrees.to_radians().cos();
    let t = 1.0 - 0.17 * cos(h - 30.0) + 0.24 * cos(2.0 * h) + 0.32 * cos(3.0 * h + 6.0)
        - 0.20 * cos(4.0 * h - 63.0);
    let turn = 30.0 * (-((h - 275.0) / 25.0).powi(2)).exp();
    let c7 = c.powi(7);
    let r_c = 2.0 * (c7 / (c7 + 25_f64.powi(7))).sqrt();
    let s_l = 1.0 + 0.015 * (l - 50.0).powi(2) / (20.0 + (l - 50.0).powi(2)).sqrt();
    let (s_c, s_h) = (1.0 + 0.045 * c, 1.0 + 0.015 * c * t);
    let r_t = -(2.0 * turn).to_radians().sin() * r_c;
    let (x, y, z) = (dl / s_l, dc / s_c, d_hue / s_h);
    (x * x + y * y + z * z + r_t * y * z).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lab(v: [f64; 3]) -> Lab {
        Lab { l: v[0], a: v[1], b: v[2] }
    }

    #[test]
    fn ciede2000_agrees_with_published_pairs() {
        // Sharma, Wu and Dalal 2005, table 1.
        let pairs = [
            ([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485], 2.0425),
            ([50.0, -1.3802, -84.2814], [50.0, 0.0, -82.7485], 1.0000),
            ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0], 2.3669),
            ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0009], 7.1792),
            ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0011], 7.2195),
            ([50.0, -0.001, 2.49], [50.0, 0.0009, -2.49], 4.8045),
            ([50.0, -0.001, 2.49], [50.0, 0.0011, -2.49], 4.7461),
            ([50.0, 2.5, 0.0], [73.0, 25.0, -18.0], 27.1492),
            ([50.0, 2.5, 0.0], [50.0, 3.1736, 0.5854], 1.0000),
            ([60.2574, -34.0099, 36.2677], [60.4626, -34.1751, 39.4387], 1.2644),
            ([22.7233, 20.0904, -46.6940], [23.0331, 14.9730, -42.5619], 2.0373),
            ([2.0776, 0.0795, -1.1350], [0.9033, -0.0636, -0.5514], 0.9082),
        ];
        for (p, q, expected) in pairs {
            for (p, q) in [(p, q), (q, p)] {
                let got = ciede2000(lab(p), lab(q));
                assert!((got - expected).abs() < 5e-5, "{p:?} {q:?}: {got}, not {expected}");
            }
        }
    }

    #[test]
    fn srgb_to_lab_agrees_with_a_reference_library() {
        // skimage.color.rgb2lab (scikit-image 0.26), D65, 2 degrees.
        let cases = [
            ([255, 0, 0], [53.24, 80.09, 67.20]),
            ([0, 255, 0], [87.73, -86.18, 83.18]),
            ([0, 0, 255], [32.30, 79.19, -107.86]),
            ([128, 128, 128], [53.585, 0.0, 0.0]),
        ];
        for (rgb, expected) in cases {
            let got = Rgb(rgb).lab();
            for (g, e) in [got.l, got.a, got.b].into_iter().zip(expected) {
                assert!((g - e).abs() < 0.011, "{rgb:?}: {got:?}");
            }
        }
    }

    #[test]
    fn colours_are_read_and_written() {
        assert_eq!("#FFcc00".parse(), Ok(Rgb([255, 204, 0])));
        assert_eq!(Rgb([1, 2, 254]).to_string(), "#0102fe");
        for bad in ["", "#fff", "#gggggg", "red", "#12345\u{e9}"] {
            assert!(bad.parse::<Rgb>().is_err(), "{bad}");
        }
    }
}
