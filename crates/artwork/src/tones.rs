//! Which greys are paper and which are ink, and how much of each pixel is inked.

use crate::fit::blurred;
use crate::plane::Plane;

/// The tones of paper and ink, and what lies between them, all as shares of ink.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tones {
    /// The paper's share of ink, as measured.
    pub(crate) clear: f64,
    /// The ink's.
    pub(crate) ink: f64,
    /// What kind of picture has them.
    pub(crate) kind: Kind,
    /// The share of pixels away from edges that have another tone.
    pub(crate) off: f64,
}

/// How many tones a picture has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// One of paper and one of ink.
    Two,
    /// Several flat ones on a side, as colour art in grey, or uneven light.
    Several,
    /// Tones that run into each other, as in a photograph.
    Tonal,
}

/// Pixels this deep on their own side are not touched by the edge, even a blurred one.
const DEEP: u8 = 3;

impl Tones {
    /// Finds the tones of shares of ink, given how deep each pixel lies on its side of the cut.
    pub(crate) fn find(share: &Plane, side: &[bool], depth: &[u8]) -> Self {
        let mut counts = [[0_u64; 1024]; 2];
        let deep =
            [DEEP, 2, 1].into_iter().find(|d| depth.iter().filter(|x| *x >= d).count() > 100);
        let deep = deep.unwrap_or(1);
        let bin = |f: f32| (f.clamp(0.0, 1.0) * 1023.0) as usize;
        for ((f, side), depth) in share.data.iter().zip(side).zip(depth) {
            if *depth >= deep {
                counts[usize::from(*side)][bin(*f)] += 1;
            }
        }
        let median = |counts: &[u64; 1024]| {
            let half = counts.iter().sum::<u64>() / 2;
            let mut sum = 0;
            counts.iter().position(|n| {
                sum += n;
                sum > half
            })
        };
        let tone = |side: usize, otherwise: f64| {
            median(&counts[side]).map_or(otherwise, |b| b as f64 / 1023.0)
        };
        let (clear, ink) = (tone(0, 0.0), tone(1, 1.0));
        let span = (ink - clear).max(0.02);
        let (mut off, mut rough, mut all) = (0_u64, 0_u64, 0_u64);
        for y in 1..share.height.saturating_sub(1) {
            for x in 1..share.width.saturating_sub(1) {
                let at = y * share.width + x;
                if depth[at] < DEEP {
                    continue;
                }
                let f = share.data[at];
                let tone = if side[at] { ink } else { clear };
                let near =
                    [at - 1, at + 1, at - share.width, at + share.width].map(|i| share.data[i]);
                let range =
                    near.iter().fold(f, |a, b| a.max(*b)) - near.iter().fold(f, |a, b| a.min(*b));
                all += 1;
                off += u64::from((f64::from(f) - tone).abs() > 0.15 * span);
                rough += u64::from(f64::from(range) > 0.012);
            }
        }
        let share_of = |n: u64| n as f64 / all.max(1) as f64;
        let off = share_of(off);
        let kind = match (off, share_of(rough)) {
            (off, _) if off < 0.02 => Kind::Two,
            (_, rough) if rough < 0.3 => Kind::Several,
            _ => Kind::Tonal,
        };
        Self { clear, ink, kind, off }
    }

    /// The share of ink of a pixel that is covered so far.
    pub(crate) fn share_of(&self, cover: f64) -> f64 {
        self.clear + cover * (self.ink - self.clear)
    }

    /// The coverage at which a share of ink lies, kept away from paper and ink themselves.
    pub(crate) fn place_of(&self, share: f64) -> f64 {
        ((share - self.clear) / (self.ink - self.clear).max(0.02)).clamp(0.1, 0.9)
    }

    /// How much of each pixel is inked, from 0 to 1: its place between the paper and the ink
    /// about it.
    pub(crate) fn coverage(&self, share: &Plane, side: &[bool], depth: &[u8]) -> Plane {
        let mut out = share.clone();
        let (clear, ink) = (self.clear as f32, self.ink as f32);
        if self.kind != Kind::Several {
            let span = (ink - clear).max(0.02);
            out.data.iter_mut().for_each(|f| *f = ((*f - clear) / span).clamp(0.0, 1.0));
            return out;
        }
        let about = |wanted: bool, otherwise: f32| {
            let (mut sum, mut weight) = (share.clone(), share.clone());
            for (at, (sum, weight)) in sum.data.iter_mut().zip(&mut weight.data).enumerate() {
                *weight = if side[at] == wanted && depth[at] >= DEEP { 1.0 } else { 0.0 };
                *sum *= *weight;
            }
            let (mut sum, weight) = (blurred(&sum, 2.5), blurred(&weight, 2.5));
            for (sum, weight) in sum.data.iter_mut().zip(&weight.data) {
                *sum = (*sum + 0.01 * otherwise) / (weight + 0.01);
            }
            sum
        };
        let (clear, ink) = (about(false, clear), about(true, ink));
        for (at, f) in out.data.iter_mut().enumerate() {
            let span = (ink.data[at] - clear.data[at]).max(0.06);
            let middle = (ink.data[at] + clear.data[at]) / 2.0;
            let cover = ((*f - middle) / span + 0.5).clamp(0.0, 1.0);
            // Far from the edge only the side matters.
            *f = if depth[at] < 4 { cover } else { f32::from(u8::from(side[at])) };
        }
        out
    }
}

/// Takes a coverage that was averaged in linear light, as some cameras and scalers do, back
/// to the true one: half a pixel of ink is then 73 % as bright as paper in sRGB.
pub(crate) fn from_linear_light(cover: f32) -> f32 {
    1.0 - (1.0 - cover).max(0.0).powf(2.2)
}
