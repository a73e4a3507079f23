//! Grey pictures of 16 bits, and their reduction.
//!
//! Places are continuous: pixel `i` covers `i..i + 1`, so its middle is at `i + 0.5`.

use rayon::prelude::*;

/// A grey picture, 65535 at its brightest (or, for a film, solid ink).
#[derive(Clone, Debug)]
pub(crate) struct Grey {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) px: Vec<u16>,
}

impl Grey {
    pub(crate) fn at(&self, x: usize, y: usize) -> f32 {
        f32::from(self.px[y * self.width + x])
    }

    /// The value between pixels, bilinear; the edge pixels go on outwards.
    pub(crate) fn bilinear(&self, x: f64, y: f64) -> f32 {
        let (x, y) = ((x - 0.5).max(0.0), (y - 0.5).max(0.0));
        let (ix, iy) = ((x as usize).min(self.width - 1), (y as usize).min(self.height - 1));
        let (fx, fy) = ((x - ix as f64).min(1.0) as f32, (y - iy as f64).min(1.0) as f32);
        let (jx, jy) = ((ix + 1).min(self.width - 1), (iy + 1).min(self.height - 1));
        let top = self.at(ix, iy) * (1.0 - fx) + self.at(jx, iy) * fx;
        let bottom = self.at(ix, jy) * (1.0 - fx) + self.at(jx, jy) * fx;
        top * (1.0 - fy) + bottom * fy
    }

    /// The value between pixels by cubic convolution (Keys 1981, a = -1/2), or nothing
    /// within two pixels of the border.
    pub(crate) fn cubic(&self, x: f64, y: f64) -> Option<f32> {
        let (x, y) = (x - 0.5, y - 0.5);
        if !(x >= 1.0 && y >= 1.0) {
            return None;
        }
        let (ix, iy) = (x as usize, y as usize);
        if ix + 2 >= self.width || iy + 2 >= self.height {
            return None;
        }
        let (wx, wy) = (keys((x - ix as f64) as f32), keys((y - iy as f64) as f32));
        let mut sum = 0.0;
        for (j, wy) in wy.iter().enumerate() {
            let start = (iy + j - 1) * self.width + ix - 1;
            let row = &self.px[start..start + 4];
            let line: f32 = row.iter().zip(&wx).map(|(v, w)| f32::from(*v) * w).sum();
            sum += line * wy;
        }
        Some(sum)
    }

    /// The variance of the pixels' noise up to `half` pixels from a place, whatever is drawn there in
    /// level and upright lines (Immerkaer 1996).
    pub(crate) fn noise(&self, middle: [usize; 2], half: usize) -> f64 {
        let span = |k: usize, most: usize| {
            middle[k].saturating_sub(half).max(1)..(middle[k] + half).min(most.saturating_sub(1))
        };
        let (mut sum, mut count) = (0.0, 0.0_f64);
        for y in span(1, self.height) {
            for x in span(0, self.width) {
                let row = |y: usize| self.at(x - 1, y) - 2.0 * self.at(x, y) + self.at(x + 1, y);
                sum += f64::from((row(y - 1) - 2.0 * row(y) + row(y + 1)).abs());
                count += 1.0;
            }
        }
        std::f64::consts::FRAC_PI_2 * (sum / count.max(1.0) / 6.0).powi(2)
    }

    /// Half as large: means of 2 x 2 pixels. An odd last row or column is left out.
    pub(crate) fn halved(&self) -> Self {
        let (width, height) = ((self.width / 2).max(1), (self.height / 2).max(1));
        if self.width < 2 || self.height < 2 {
            return Self { width: 1, height: 1, px: vec![self.px[0]] };
        }
        let mut px = vec![0; width * height];
        px.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
            let top = &self.px[2 * y * self.width..][..2 * width];
            let bottom = &self.px[(2 * y + 1) * self.width..][..2 * width];
            for ((out, a), b) in out.iter_mut().zip(top.chunks_exact(2)).zip(bottom.chunks_exact(2))
            {
                let sum = u32::from(a[0]) + u32::from(a[1]) + u32::from(b[0]) + u32::from(b[1]);
                *out = ((sum + 2) / 4) as u16;
            }
        });
        Self { width, height, px }
    }

    /// Smaller by `factor` (at least 1): the mean over each pixel's area.
    pub(crate) fn shrunk(&self, factor: f64) -> Self {
        let width = ((self.width as f64 / factor).round() as usize).max(1);
        let height = ((self.height as f64 / factor).round() as usize).max(1);
        let (columns, rows) =
            (shares(self.width, width, factor), shares(self.height, height, factor));
        let mut px = vec![0; width * height];
        px.par_chunks_mut(width).zip(&rows).for_each(|(out, row)| {
            for (out, column) in out.iter_mut().zip(&columns) {
                let (mut sum, mut weight) = (0.0, 0.0);
                for (y, wy) in row.clone() {
                    for (x, wx) in column.clone() {
                        sum += self.at(x, y) * wy * wx;
                        weight += wy * wx;
                    }
                }
                *out = (sum / weight).round() as u16;
            }
        });
        Self { width, height, px }
    }

    /// Blurred by a Gaussian of standard deviation `sigma` pixels.
    pub(crate) fn blurred(mut self, sigma: f64) -> Self {
        let kernel = gaussian(sigma);
        self.filter_across(&kernel);
        self.filtered_down(&kernel)
    }

    fn filter_across(&mut self, kernel: &[f32]) {
        let (width, half) = (self.width, kernel.len() / 2);
        self.px.par_chunks_mut(width).for_each_init(
            || (vec![0.0_f32; width + 2 * half], vec![0.0_f32; width]),
            |(padded, sums), row| {
                padded[..half].fill(f32::from(row[0]));
                padded[half + width..].fill(f32::from(row[width - 1]));
                for (to, from) in padded[half..half + width].iter_mut().zip(row.iter()) {
                    *to = f32::from(*from);
                }
                sums.fill(0.5);
                for (k, weight) in kernel.iter().enumerate() {
                    for (sum, v) in sums.iter_mut().zip(&padded[k..k + width]) {
                        *sum += v * weight;
                    }
                }
                for (out, sum) in row.iter_mut().zip(sums.iter()) {
                    *out = *sum as u16;
                }
            },
        );
    }

    fn filtered_down(&self, kernel: &[f32]) -> Self {
        let (width, half) = (self.width, kernel.len() as i64 / 2);
        let mut px = vec![0; self.px.len()];
        px.par_chunks_mut(width).enumerate().for_each_init(
            || vec![0.0_f32; width],
            |sums, (y, out)| {
                sums.fill(0.5);
                for (k, weight) in kernel.iter().enumerate() {
                    let from =
                        (y as i64 + k as i64 - half).clamp(0, self.height as i64 - 1) as usize;
                    for (sum, v) in sums.iter_mut().zip(&self.px[from * width..][..width]) {
                        *sum += f32::from(*v) * weight;
                    }
                }
                for (out, sum) in out.iter_mut().zip(sums.iter()) {
                    *out = *sum as u16;
                }
            },
        );
        Self { px, ..*self }
    }
}

/// The pixels, and their shares, under each of `count` spans of `factor` pixels.
fn shares(len: usize, count: usize, factor: f64) -> Vec<Vec<(usize, f32)>> {
    (0..count)
        .map(|i| {
            let (from, to) = (i as f64 * factor, ((i + 1) as f64 * factor).min(len as f64));
            let first = (from as usize).min(len - 1);
            let last = (to.ceil() as usize).clamp(first + 1, len);
            (first..last)
                .map(|p| (p, (to.min(p as f64 + 1.0) - from.max(p as f64)).max(1e-6) as f32))
                .collect()
        })
        .collect()
}

/// The weights of cubic convolution so far past the second of four neighbours.
pub(crate) fn keys(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        -0.5 * t3 + t2 - 0.5 * t,
        1.5 * t3 - 2.5 * t2 + 1.0,
        -1.5 * t3 + 2.0 * t2 + 0.5 * t,
        0.5 * t3 - 0.5 * t2,
    ]
}

/// The weights of a Gaussian blur of standard deviation `sigma` pixels.
fn gaussian(sigma: f64) -> Vec<f32> {
    let half = (3.0 * sigma).ceil() as i64;
    let raw: Vec<f64> = (-half..=half).map(|i| (-0.5 * (i as f64 / sigma).powi(2)).exp()).collect();
    let sum: f64 = raw.iter().sum();
    raw.iter().map(|w| (w / sum) as f32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp(width: usize, height: usize) -> Grey {
        let px = (0..width * height).map(|i| (1000 + 30 * (i % width) + 50 * (i / width)) as u16);
        Grey { width, height, px: px.collect() }
    }

    /// Every filter here keeps a plane a plane, at the place it says.
    #[test]
    fn noise_is_measured_beside_lines() {
        // Even numbers of a known variance (MINSTD, Park & Miller 1988) on a grid of dark lines.
        let mut state = 1_u64;
        let px = (0..200 * 160_usize).map(|i| {
            state = state * 48_271 % 2_147_483_647;
            let line = i % 200 % 50 == 7 || i / 200 % 40 == 11;
            (if line { 20_000 } else { 40_000 }) + (state % 2401) as u16
        });
        let grey = Grey { width: 200, height: 160, px: px.collect() };
        let (seen, truth) = (grey.noise([100, 80], 70), 2401.0_f64.powi(2) / 12.0);
        assert!((seen / truth - 1.0).abs() < 0.15, "{seen} is {truth}");
    }

    #[test]
    fn planes_stay_where_they_are() {
        let picture = ramp(60, 40);
        let plane = |x: f64, y: f64| 1000.0 + 30.0 * (x - 0.5) + 50.0 * (y - 0.5);
        let within = |a: f32, b: f64, by: f64| assert!((f64::from(a) - b).abs() < by, "{a} {b}");
        let near = |a: f32, b: f64| within(a, b, 1.0);
        near(picture.bilinear(20.3, 11.9), plane(20.3, 11.9));
        near(picture.cubic(20.3, 11.9).unwrap(), plane(20.3, 11.9));
        near(picture.clone().blurred(1.3).bilinear(20.3, 11.9), plane(20.3, 11.9));
        near(picture.halved().bilinear(10.3, 7.2), plane(20.6, 14.4));
        // Pixels that are cut between two means leave a little of their steps.
        within(picture.shrunk(2.7).bilinear(10.3, 7.2), plane(27.81, 19.44), 4.0);
        assert!(picture.cubic(0.7, 9.0).is_none() && picture.cubic(9.0, 39.0).is_none());
    }
}
