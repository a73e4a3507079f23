use crate::{ArtworkError, LearnedModel};
use std::sync::OnceLock;

/// Maps that the network is given: ink, and the JPEG grid's flag, row and column.
pub(crate) const INPUTS: usize = 4;
/// Maps within the network, which is of either of these widths.
pub(crate) const WIDTHS: [usize; 2] = [40, 64];
/// What comes out for a source pixel: 2 x 2 coefficients.
pub(crate) const OUTPUTS: usize = 4;
/// The steps between the taps of the inner layers.
pub(crate) const DILATIONS: [usize; 10] = [1, 1, 2, 1, 4, 1, 2, 1, 4, 1];
/// How far a layer looks: the first, the inner ones, the last.
pub(crate) const REACHES: [usize; 12] = [2, 1, 1, 2, 1, 4, 1, 2, 1, 4, 1, 1];

/// The weights of every model, by number from 1.
const FILES: [&[u8]; LearnedModel::NEWEST.0 as usize] = [
    include_bytes!("../../../../assets/edge-model-1.bin"),
    include_bytes!("../../../../assets/edge-model-2.bin"),
    include_bytes!("../../../../assets/edge-model-3.bin"),
];

/// The network's weights, laid out for the running of it.
pub(crate) struct Model {
    /// Rises whenever the weights change.
    pub(crate) number: u32,
    /// Maps within: one of [`WIDTHS`].
    pub(crate) wide: usize,
    pub(crate) first: Layer,
    pub(crate) inner: Vec<Layer>,
    pub(crate) last: Layer,
}

/// A layer's weights as `[tap][input][output]`, and its biases.
pub(crate) struct Layer {
    pub(crate) weights: Vec<f32>,
    pub(crate) biases: Vec<f32>,
}

impl Model {
    /// The model of a number. Earlier ones are kept, for jobs whose films they drew.
    ///
    /// # Errors
    /// Where this build has no such model, or the file it was built with is damaged.
    pub(crate) fn numbered(which: LearnedModel) -> Result<&'static Self, ArtworkError> {
        static MODELS: [OnceLock<Result<Model, String>>; FILES.len()] =
            [const { OnceLock::new() }; FILES.len()];
        let at = (which.0 as usize).wrapping_sub(1);
        let (Some(once), Some(file)) = (MODELS.get(at), FILES.get(at)) else {
            return Err(ArtworkError::NoSuchModel(which.0));
        };
        once.get_or_init(|| Self::read(file))
            .as_ref()
            .map_err(|why| ArtworkError::Model(why.clone()))
    }

    /// Reads a model by the format in `train/README.md`; an error is one sentence.
    pub(crate) fn read(bytes: &[u8]) -> Result<Self, String> {
        let word = |at: usize| {
            let four = bytes.get(at..at + 4).and_then(|b| b.try_into().ok());
            four.map(u32::from_le_bytes).ok_or("the model of learned edges breaks off")
        };
        if !bytes.starts_with(b"FQEDGENN") {
            return Err("the model of learned edges is some other file".into());
        }
        if word(8)? != 1 {
            return Err("the model of learned edges is of a format this build does not know".into());
        }
        let body = bytes.get(32..).ok_or("the model of learned edges breaks off")?;
        if crc32(body) != word(24)? {
            return Err("the model of learned edges is damaged: its checksum is wrong".into());
        }
        let odd = || "the model of learned edges has layers this build does not know".to_owned();
        if word(16)? as usize != REACHES.len() {
            return Err(odd());
        }
        let wide = (word(32)? >> 16) as usize;
        if !WIDTHS.contains(&wide) {
            return Err(odd());
        }
        let mut at = 32 + 16 * REACHES.len();
        let mut layers = Vec::new();
        for n in 0..REACHES.len() {
            let (inputs, outputs, side, dilation) = match n {
                0 => (INPUTS, wide, 5, 1),
                11 => (wide, OUTPUTS, 3, 1),
                _ => (wide, wide, 3, DILATIONS[n - 1]),
            };
            let table = [word(32 + 16 * n)?, word(36 + 16 * n)?];
            if table != [inputs as u32 | (outputs as u32) << 16, side | (dilation as u32) << 16] {
                return Err(odd());
            }
            let taps = (side * side) as usize;
            let count = outputs * inputs * taps + outputs;
            let halves = bytes.get(at..at + 2 * count).ok_or_else(odd)?;
            at += 2 * count;
            let values: Vec<f32> =
                halves.chunks_exact(2).map(|b| half(u16::from_le_bytes([b[0], b[1]]))).collect();
            if !values.iter().all(|v| v.is_finite()) {
                return Err("the model of learned edges holds a weight that is no number".into());
            }
            let mut weights = vec![0.0; outputs * inputs * taps];
            for o in 0..outputs {
                for i in 0..inputs {
                    for t in 0..taps {
                        weights[(t * inputs + i) * outputs + o] =
                            values[(o * inputs + i) * taps + t];
                    }
                }
            }
            layers.push(Layer { weights, biases: values[outputs * inputs * taps..].to_vec() });
        }
        let (Some(last), number) = (layers.pop(), word(12)?) else { return Err(odd()) };
        let first = layers.remove(0);
        Ok(Self { number, wide, first, inner: layers, last })
    }
}

/// A half-precision number (IEEE 754-2019, binary16).
fn half(bits: u16) -> f32 {
    let sign = u32::from(bits >> 15) << 31;
    let (exponent, fraction) = (u32::from(bits >> 10 & 31), u32::from(bits & 1023));
    let magnitude = match exponent {
        0 => return f32::from_bits(sign | (fraction as f32 / 16_777_216.0).to_bits()),
        31 => 0x7F80_0000 | fraction << 13,
        _ => (exponent + 112) << 23 | fraction << 13,
    };
    f32::from_bits(sign | magnitude)
}

/// The CRC-32 of zip and PNG (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, byte| {
        (0..8)
            .fold(crc ^ u32::from(*byte), |c, _| c >> 1 ^ (0xEDB8_8320 & 0_u32.wrapping_sub(c & 1)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_are_read_as_ieee_754_says() {
        // Table of examples for binary16 in any text on IEEE 754: 1, -2, 65504, 2^-24, 1/3 nearly.
        for (bits, value) in [
            (0x3C00, 1.0),
            (0xC000, -2.0),
            (0x7BFF, 65504.0),
            (0x0001, 2.0_f32.powi(-24)),
            (0x3555, 0.333_251_95),
        ] {
            assert_eq!(half(bits), value);
        }
    }

    #[test]
    fn the_check_sum_is_the_published_one() {
        // The check value of CRC-32/ISO-HDLC.
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    }

    #[test]
    fn a_damaged_model_is_refused() {
        let whole = FILES[0];
        assert!(Model::read(whole).is_ok());
        for end in [0, 8, 20, 31, 32, 200, whole.len() / 2, whole.len() - 1] {
            assert!(Model::read(&whole[..end]).is_err(), "cut at {end}");
        }
        for at in [0, 9, 16, 33, 40, 5000, whole.len() - 1] {
            let mut bytes = whole.to_vec();
            bytes[at] ^= 4;
            assert!(Model::read(&bytes).is_err(), "changed at {at}");
        }
    }
    /// Changed at random, its checksum made right: a model or an error, never a panic. For as
    /// long as `FILMQUILT_FUZZ_SECS` says, if it does.
    #[test]
    fn a_changed_model_is_read_or_refused() {
        let whole = FILES[0];
        let secs = std::env::var("FILMQUILT_FUZZ_SECS").ok().and_then(|s| s.parse().ok());
        let budget = std::time::Duration::from_secs_f64(secs.unwrap_or(0.5));
        arbtest::arbtest(|u| {
            let mut bytes = whole.to_vec();
            for _ in 0..u.int_in_range(1..=8)? {
                // Mostly in the head, where sizes are.
                let most = if u.ratio(3, 4)? { 300 } else { bytes.len() - 1 };
                let at = u.int_in_range(0..=most.min(bytes.len() - 1))?;
                match u.int_in_range(0..=5)? {
                    0 => bytes.truncate(at.max(1)),
                    1 => drop(bytes.splice(at..at, [0; 7])),
                    _ => bytes[at] = u.arbitrary()?,
                }
            }
            if let Some(body) = bytes.get(32..) {
                let sum = crc32(body).to_le_bytes();
                bytes[24..28].copy_from_slice(&sum);
            }
            let _ = Model::read(&bytes);
            Ok(())
        })
        .budget(budget);
    }
}
