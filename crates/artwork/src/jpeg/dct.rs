//! The 8 x 8 discrete cosine transform of T.81, A.3.3, as two passes of an 8 x 8 matrix.

/// The transform's matrix: row is frequency, column is place.
pub struct Dct([[f32; 8]; 8]);

impl Dct {
    /// The transform, its matrix worked out.
    pub fn new() -> Self {
        let mut matrix = [[0.0; 8]; 8];
        for (u, row) in matrix.iter_mut().enumerate() {
            let scale = if u == 0 { f64::sqrt(0.125) } else { 0.5 };
            for (x, value) in row.iter_mut().enumerate() {
                let angle = (2 * x + 1) as f64 * u as f64 * std::f64::consts::PI / 16.0;
                *value = (scale * angle.cos()) as f32;
            }
        }
        Self(matrix)
    }

    /// Coefficients of 8 x 8 samples, both in rows.
    pub fn forward(&self, samples: &[f32; 64]) -> [f32; 64] {
        let mut half = [0.0; 64];
        for y in 0..8 {
            for u in 0..8 {
                half[8 * y + u] = (0..8).map(|x| self.0[u][x] * samples[8 * y + x]).sum();
            }
        }
        let mut out = [0.0; 64];
        for v in 0..8 {
            for y in 0..8 {
                for u in 0..8 {
                    out[8 * v + u] += self.0[v][y] * half[8 * y + u];
                }
            }
        }
        out
    }

    /// Samples of 8 x 8 coefficients.
    pub fn inverse(&self, coefficients: &[f32; 64]) -> [f32; 64] {
        let mut half = [0.0; 64];
        for v in 0..8 {
            for u in 0..8 {
                let c = coefficients[8 * v + u];
                if c != 0.0 {
                    for x in 0..8 {
                        half[8 * v + x] += self.0[u][x] * c;
                    }
                }
            }
        }
        let mut out = [0.0; 64];
        for y in 0..8 {
            for v in 0..8 {
                for x in 0..8 {
                    out[8 * y + x] += self.0[v][y] * half[8 * v + x];
                }
            }
        }
        out
    }
}

impl Default for Dct {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCIPY: [(usize, f32); 5] =
        [(0, 266.0000), (1, -28.1722), (8, 0.5862), (27, -0.8689), (63, 5.8193)];

    /// scipy 1.17: `scipy.fft.dctn(a, norm="ortho")` with `a[y, x] = (x*x*7 + y*13 + x*y*5) % 64`.
    #[test]
    fn the_transform_agrees_with_scipy_and_comes_back() {
        let samples: [f32; 64] = std::array::from_fn(|i| {
            let (x, y) = (i % 8, i / 8);
            ((x * x * 7 + y * 13 + x * y * 5) % 64) as f32
        });
        let dct = Dct::new();
        let coefficients = dct.forward(&samples);
        for (place, want) in SCIPY {
            assert!(
                (coefficients[place] - want).abs() < 1e-3,
                "{place}: {} {want}",
                coefficients[place]
            );
        }
        let back = dct.inverse(&coefficients);
        assert!(back.iter().zip(&samples).all(|(a, b)| (a - b).abs() < 1e-3));
    }
}
