use crate::Tones;
use std::sync::Arc;

/// Which pixels of a picture are tone rather than the soft rim of flat art.
#[derive(Clone, Debug, PartialEq)]
pub struct TonalMask {
    width: usize,
    height: usize,
    tonal: Arc<[bool]>,
}

/// Shares of ink nearer to bare or solid than this are taken for bare or solid.
const NEAR: f32 = 0.08;

impl TonalMask {
    /// Finds the tonal areas. A middle tone beside both bare and solid is an edge; one whose
    /// surroundings are middle tones too is tone. Areas smaller than a few pixels are left
    /// to the hard edges, and each area takes in its rim, so that dots fade out inside it.
    pub fn of(tones: &Tones) -> Self {
        let (w, h) = (tones.width() as usize, tones.height() as usize);
        let shares = tones.shares();
        let middle: Vec<u32> =
            shares.iter().map(|s| u32::from(*s > NEAR && *s < 1.0 - NEAR)).collect();
        // At least 17 of the 25 about a pixel are middle tones: an edge's rim is two wide.
        let core: Vec<u32> = sums(&middle, w, h, 2)
            .iter()
            .zip(&middle)
            .map(|(n, m)| u32::from(*n >= 17 && *m == 1))
            .collect();
        // A core of a few pixels is a thick soft edge, not tone.
        let firm: Vec<u32> = sums(&core, w, h, 3)
            .iter()
            .zip(&core)
            .map(|(n, c)| u32::from(*n >= 12 && *c == 1))
            .collect();
        let tonal = sums(&firm, w, h, 3).into_iter().map(|n| n > 0).collect();
        Self { width: w, height: h, tonal }
    }

    /// Pixels across and down.
    pub fn size(&self) -> (u32, u32) {
        (self.width as u32, self.height as u32)
    }

    /// Whether the pixel is tone.
    pub fn get(&self, x: u32, y: u32) -> bool {
        self.tonal[y as usize * self.width + x as usize]
    }

    /// The share of the picture that is tone.
    pub fn share(&self) -> f64 {
        self.tonal.iter().filter(|t| **t).count() as f64 / self.tonal.len() as f64
    }
}

/// The sum over the square of `reach` about each pixel; outside counts nothing.
fn sums(values: &[u32], w: usize, h: usize, reach: usize) -> Vec<u32> {
    let line = |get: &dyn Fn(usize) -> u32, n: usize| -> Vec<u32> {
        let mut before = vec![0; n + 1];
        for i in 0..n {
            before[i + 1] = before[i] + get(i);
        }
        (0..n).map(|i| before[(i + reach + 1).min(n)] - before[i.saturating_sub(reach)]).collect()
    };
    let mut across = Vec::with_capacity(w * h);
    for row in values.chunks_exact(w) {
        across.extend(line(&|x| row[x], w));
    }
    let mut out = vec![0; w * h];
    for x in 0..w {
        for (y, v) in line(&|y| across[y * w + x], h).into_iter().enumerate() {
            out[y * w + x] = v;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_is_tone_and_a_soft_edge_is_not() {
        // Left: a disc with a soft rim two pixels wide. Right: a ramp from bare to solid.
        let share = |x: usize, y: usize| {
            if x < 60 {
                let r = (x as f32 - 30.0).hypot(y as f32 - 30.0);
                ((21.0 - r) / 2.0).clamp(0.0, 1.0)
            } else if x < 70 {
                0.0
            } else {
                (x - 70) as f32 / 50.0
            }
        };
        let shares: Vec<f32> = (0..60).flat_map(|y| (0..121).map(move |x| share(x, y))).collect();
        let mask = TonalMask::of(&Tones::new(121, 60, &shares).unwrap());
        for y in 0..60 {
            assert!((0..64).all(|x| !mask.get(x, y)), "row {y} has tone in the flat art");
            assert!((76..115).all(|x| mask.get(x, y)), "row {y} misses tone in the ramp");
        }
    }
}
