/// The quantised coefficients of a JPEG picture, as its file keeps them.
#[derive(Clone, Debug, PartialEq)]
pub struct Coefficients {
    /// Brightness, then the two colour differences; one plane only where the picture is grey.
    pub planes: Vec<CoefficientPlane>,
}

/// One plane of a JPEG picture's coefficients.
#[derive(Clone, Debug, PartialEq)]
pub struct CoefficientPlane {
    /// Blocks of 8 x 8 across.
    pub blocks_wide: usize,
    /// Blocks of 8 x 8 down.
    pub blocks_high: usize,
    /// How many picture pixels one sample of this plane spans, across and down.
    pub step: (usize, usize),
    /// The size of a step of each coefficient, row by row.
    pub quant: [u16; 64],
    /// The coefficients in steps: blocks row by row, 64 each, row by row.
    pub values: Vec<i16>,
}

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
    [y + 1.402 * cr, y - 0.344_136 * cb - 0.714_136 * cr, y + 1.772 * cb].map(|v| v.clamp(0.0, 255.0))
}

/// Compares pictures with a JPEG's coefficients.
pub(crate) struct Fit<'a> {
    coefficients: &'a Coefficients,
    width: usize,
    height: usize,
    cosines: [[f32; 8]; 8],
}

impl<'a> Fit<'a> {
    pub(crate) fn new(coefficients: &'a Coefficients, width: usize, height: usize) -> Self {
        let mut cosines = [[0.0; 8]; 8];
        for (k, row) in cosines.iter_mut().enumerate() {
            let scale = if k == 0 { (1.0_f64 / 8.0).sqrt() } else { 0.5 };
            for (x, v) in row.iter_mut().enumerate() {
                *v = (scale * ((2 * x + 1) as f64 * k as f64 * std::f64::consts::PI / 16.0).cos()) as f32;
            }
        }
        Self { coefficients, width, height, cosines }
    }

    /// How the picture would have to change to fall into the file's steps, plane by plane:
    /// all of what lies outside a step, and a little towards its middle; softened.
    pub(crate) fn residual(&self, picture: &[Vec<f32>; 3]) -> [Vec<f32>; 3] {
        const INWARD: f32 = 0.08;
        let mut out = [0, 1, 2].map(|_| vec![0.0; self.width * self.height]);
        for ((plane, picture), out) in self.coefficients.planes.iter().zip(picture).zip(&mut out) {
            for block in 0..plane.blocks_wide * plane.blocks_high {
                let (bx, by) = (block % plane.blocks_wide * 8, block / plane.blocks_wide * 8);
                let mut samples = [[0.0; 8]; 8];
                for (y, row) in samples.iter_mut().enumerate() {
                    for (x, v) in row.iter_mut().enumerate() {
                        *v = self.mean(picture, bx + x, by + y, plane.step) - 128.0;
                    }
                }
                let mut spectrum = self.forward(&samples);
                for (i, v) in spectrum.iter_mut().flatten().enumerate() {
                    let q = f32::from(plane.quant[i]);
                    let kept = f32::from(plane.values[block * 64 + i]) * q;
                    let inside = v.clamp(kept - q / 2.0, kept + q / 2.0);
                    *v = inside - *v + INWARD * (kept - inside);
                }
                let change = self.inverse(&spectrum);
                for (y, row) in change.iter().enumerate() {
                    for (x, v) in row.iter().enumerate() {
                        self.spread(out, bx + x, by + y, plane.step, *v);
                    }
                }
            }
            crate::cover::blur(out, self.width, self.height, 0.9);
        }
        out
    }

    /// One sample of a plane: the mean of the pixels it spans, edges repeated.
    fn mean(&self, picture: &[f32], x: usize, y: usize, (sx, sy): (usize, usize)) -> f32 {
        let mut sum = 0.0;
        for dy in 0..sy {
            for dx in 0..sx {
                let (px, py) = ((x * sx + dx).min(self.width - 1), (y * sy + dy).min(self.height - 1));
                sum += picture[py * self.width + px];
            }
        }
        sum / (sx * sy) as f32
    }

    /// Gives a sample's change to all pixels it spans.
    fn spread(&self, out: &mut [f32], x: usize, y: usize, (sx, sy): (usize, usize), v: f32) {
        for py in (y * sy..(y + 1) * sy).take_while(|py| *py < self.height) {
            for px in (x * sx..(x + 1) * sx).take_while(|px| *px < self.width) {
                out[py * self.width + px] = v;
            }
        }
    }

    /// The discrete cosine transform of ITU-T T.81, A.3.3, one axis at a time.
    fn forward(&self, block: &[[f32; 8]; 8]) -> [[f32; 8]; 8] {
        let mut rows = [[0.0; 8]; 8];
        for (row, out) in block.iter().zip(&mut rows) {
            for (cosine, out) in self.cosines.iter().zip(out) {
                *out = cosine.iter().zip(row).map(|(c, v)| c * v).sum();
            }
        }
        let mut out = [[0.0; 8]; 8];
        for (cosine, out) in self.cosines.iter().zip(&mut out) {
            for (c, row) in cosine.iter().zip(&rows) {
                for (o, v) in out.iter_mut().zip(row) {
                    *o += c * v;
                }
            }
        }
        out
    }

    fn inverse(&self, spectrum: &[[f32; 8]; 8]) -> [[f32; 8]; 8] {
        let mut rows = [[0.0; 8]; 8];
        for (line, out) in spectrum.iter().zip(&mut rows) {
            for (cosine, s) in self.cosines.iter().zip(line) {
                for (o, c) in out.iter_mut().zip(cosine) {
                    *o += c * s;
                }
            }
        }
        let mut out = [[0.0; 8]; 8];
        for (cosine, line) in self.cosines.iter().zip(&rows) {
            for (c, out) in cosine.iter().zip(&mut out) {
                for (o, v) in out.iter_mut().zip(line) {
                    *o += c * v;
                }
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_that_falls_into_the_steps_needs_no_change() {
        let flat = Coefficients {
            planes: vec![CoefficientPlane {
                blocks_wide: 1,
                blocks_high: 1,
                step: (1, 1),
                quant: [16; 64],
                values: std::iter::once(10).chain([0; 63]).collect(),
            }],
        };
        // A mean of 20 above 128 is a first coefficient of 8 x 20 = 160 (ITU-T T.81, A.3.3).
        let fit = Fit::new(&flat, 8, 8);
        let same = fit.residual(&[vec![148.0; 64], vec![128.0; 64], vec![128.0; 64]]);
        assert!(same[0].iter().all(|v| v.abs() < 1e-3));
        // Three grey levels more are 24 steps more, 16 outside the step of 16 about 160.
        let more = fit.residual(&[vec![151.0; 64], vec![128.0; 64], vec![128.0; 64]]);
        assert!(more[0].iter().all(|v| (v + 2.08).abs() < 1e-3), "{:?}", more[0][0]);
    }
}
