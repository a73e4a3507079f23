use crate::cover::Cover;
use artwork::{Dct, JpegPlane};

/// Brightness and colour differences of an sRGB colour (ITU-T T.871), all about 0..=255.
pub(crate) fn ycc([r, g, b]: [f32; 3]) -> [f32; 3] {
    [
        0.299 * r + 0.587 * g + 0.114 * b,
        128.0 - 0.168_736 * r - 0.331_264 * g + 0.5 * b,
        128.0 + 0.5 * r - 0.418_688 * g - 0.081_312 * b,
    ]
}

/// The sRGB colour of brightness and colour differences (ITU-T T.871).
pub(crate) fn rgb([y, cb, cr]: [f32; 3]) -> [f32; 3] {
    let (cb, cr) = (cb - 128.0, cr - 128.0);
    [y + 1.402 * cr, y - 0.344_136 * cb - 0.714_136 * cr, y + 1.772 * cb]
        .map(|v| v.clamp(0.0, 255.0))
}

/// Compares pictures with the coefficients that a JPEG's file holds.
pub(crate) struct Fit<'a> {
    planes: &'a [JpegPlane],
    width: usize,
    height: usize,
    dct: Dct,
    /// Where anything is to be compared; all of the picture when none.
    mask: Option<Vec<bool>>,
}

/// How far towards the middle of a coefficient's step what lies inside it is drawn.
const INWARD: f32 = 0.08;

impl<'a> Fit<'a> {
    pub(crate) fn new(planes: &'a [JpegPlane], width: usize, height: usize) -> Self {
        Self { planes, width, height, dct: Dct::new(), mask: None }
    }

    /// Compares only blocks that hold some of these pixels.
    pub(crate) fn only(mut self, pixels: impl Iterator<Item = usize>) -> Self {
        let mut mask = vec![false; self.width * self.height];
        pixels.for_each(|i| mask[i] = true);
        self.mask = Some(mask);
        self
    }

    fn skips(&self, plane: &JpegPlane, block: usize) -> bool {
        let Some(mask) = &self.mask else { return false };
        let (sx, sy) = (8 * plane.spans.0, 8 * plane.spans.1);
        let (x, y) = (block % plane.blocks_wide * sx, block / plane.blocks_wide * sy);
        let columns = x.min(self.width)..(x + sx).min(self.width);
        !(y..(y + sy).min(self.height))
            .any(|y| mask[y * self.width..][columns.clone()].contains(&true))
    }

    /// How the picture's planes would have to change to fall into the file's steps: all of
    /// what lies outside a step, and a little of the rest; softened.
    pub(crate) fn residual(&self, picture: &[Vec<f32>; 3]) -> [Vec<f32>; 3] {
        let mut out = [0, 1, 2].map(|c| self.plane(c, &picture[c]));
        for plane in &mut out {
            crate::cover::blur(plane, self.width, self.height, 0.9);
        }
        out
    }

    /// The same for one plane, not softened. A plane that the file has not needs no change.
    pub(crate) fn plane(&self, c: usize, picture: &[f32]) -> Vec<f32> {
        let mut out = vec![0.0; self.width * self.height];
        let Some(plane) = self.planes.get(c) else { return out };
        for block in 0..plane.blocks_wide * plane.blocks_high {
            if self.skips(plane, block) {
                continue;
            }
            let mut spectrum = self.spectrum(plane, block, picture);
            for (i, v) in spectrum.iter_mut().enumerate() {
                let (low, middle, high) = step(plane, block, i);
                let inside = v.clamp(low, high);
                *v = inside - *v + INWARD * (middle - inside);
            }
            let (bx, by) = (block % plane.blocks_wide * 8, block / plane.blocks_wide * 8);
            let (sx, sy) = plane.spans;
            for (i, v) in self.dct.inverse(&spectrum).into_iter().enumerate() {
                let (x, y) = ((bx + i % 8) * sx, (by + i / 8) * sy);
                for y in (y..y + sy).take_while(|y| *y < self.height) {
                    for x in (x..x + sx).take_while(|x| *x < self.width) {
                        out[y * self.width + x] = v;
                    }
                }
            }
        }
        out
    }

    /// The coefficients that a picture's plane would have in one block, before rounding.
    fn spectrum(&self, plane: &JpegPlane, block: usize, picture: &[f32]) -> [f32; 64] {
        let (bx, by) = (block % plane.blocks_wide * 8, block / plane.blocks_wide * 8);
        let (sx, sy) = plane.spans;
        let mut samples = [0.0; 64];
        for (i, v) in samples.iter_mut().enumerate() {
            for dy in 0..sy {
                for dx in 0..sx {
                    let x = ((bx + i % 8) * sx + dx).min(self.width - 1);
                    let y = ((by + i / 8) * sy + dy).min(self.height - 1);
                    *v += picture[y * self.width + x] - 128.0;
                }
            }
            *v /= (sx * sy) as f32;
        }
        self.dct.forward(&samples)
    }

    /// The value of plane `c` of each ink that best agrees with the file, given what each
    /// covers. A coefficient pulls only as far as it lies outside its step: the file does not
    /// know where inside it was, and to assume the middle would wash small inks out.
    pub(crate) fn solve(&self, c: usize, cover: &Cover, values: &[f32]) -> Vec<f32> {
        const RIDGE: f64 = 2.0;
        let Some(plane) = self.planes.get(c) else { return values.to_vec() };
        let inks = cover.inks;
        // Each block's spectrum is the sum of the inks' spectra; 128 is taken off by all alike.
        let mut parts: Vec<(usize, Vec<Part>)> = Vec::new();
        let mut normal = vec![vec![0_f64; inks]; inks];
        for block in 0..plane.blocks_wide * plane.blocks_high {
            let shares: Vec<Part> = (0..inks)
                .filter_map(|k| {
                    let mut spectrum = self.spectrum(plane, block, cover.plane(k));
                    spectrum[0] += 8.0 * 128.0;
                    spectrum.iter().any(|v| v.abs() > 1e-3).then_some((k, spectrum))
                })
                .collect();
            for (k, p) in &shares {
                for (l, q) in &shares {
                    normal[*k][*l] += p.iter().zip(q).map(|(a, b)| f64::from(a * b)).sum::<f64>();
                }
            }
            parts.push((block, shares));
        }
        (0..inks).for_each(|k| normal[k][k] += RIDGE);
        let mut values = values.to_vec();
        for _ in 0..60 {
            let mut pull = vec![0_f64; inks];
            for (block, shares) in &parts {
                let mut made = [0.0; 64];
                made[0] = -8.0 * 128.0;
                for (k, spectrum) in shares {
                    made.iter_mut().zip(spectrum).for_each(|(m, s)| *m += values[*k] * s);
                }
                for (i, v) in made.iter_mut().enumerate() {
                    let (low, middle, high) = step(plane, *block, i);
                    let inside = v.clamp(low, high);
                    *v = inside - *v + INWARD / 4.0 * (middle - inside);
                }
                for (k, spectrum) in shares {
                    pull[*k] +=
                        made.iter().zip(spectrum).map(|(m, s)| f64::from(m * s)).sum::<f64>();
                }
            }
            let change = crate::fit::eliminate(&normal, &pull);
            values.iter_mut().zip(change).for_each(|(v, d)| *v = (*v + d as f32).clamp(0.0, 255.0));
        }
        values
    }
}

/// An ink and the spectrum of its cover in one block.
type Part = (usize, [f32; 64]);

/// The least, the middle and the greatest value that a coefficient was rounded from.
fn step(plane: &JpegPlane, block: usize, i: usize) -> (f32, f32, f32) {
    let q = f32::from(plane.steps[i]);
    let middle = f32::from(plane.coefficients[block * 64 + i]) * q;
    (middle - q / 2.0, middle, middle + q / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_that_falls_into_the_steps_needs_no_change() {
        let mut coefficients = vec![0; 64];
        coefficients[0] = 10;
        let luma = [JpegPlane {
            blocks_wide: 1,
            blocks_high: 1,
            coefficients,
            steps: [16; 64],
            spans: (1, 1),
        }];
        let fit = Fit::new(&luma, 8, 8);
        // A mean of 20 above 128 is a first coefficient of 8 x 20 = 160 (ITU-T T.81, A.3.3).
        assert!(fit.plane(0, &[148.0; 64]).iter().all(|v| v.abs() < 1e-3));
        // Three grey levels more are 24 more: 16 outside the step of 16 about 160, which
        // takes 2 levels, and a little of the 8 inside.
        assert!(fit.plane(0, &[151.0; 64]).iter().all(|v| (v + 2.08).abs() < 1e-3));
    }

    #[test]
    fn colours_come_back_from_brightness_and_differences() {
        // ITU-T T.871: red is Y 76.2, Cb 85.0, Cr 255.5.
        let red = ycc([255.0, 0.0, 0.0]);
        for (got, expected) in red.iter().zip([76.245, 84.972, 255.5]) {
            assert!((got - expected).abs() < 1e-2, "{red:?}");
        }
        let back = rgb(ycc([12.0, 200.0, 77.0]));
        assert!(back.iter().zip([12.0, 200.0, 77.0]).all(|(a, b)| (a - b).abs() < 1e-2));
    }
}
