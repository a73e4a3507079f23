/// How much of each pixel each ink covers, 0 to 1, one plane an ink. The same shape holds
/// the level functions whose greatest says which ink prints.
#[derive(Clone, Debug)]
pub(crate) struct Cover {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) inks: usize,
    values: Vec<f32>,
}

impl Cover {
    pub(crate) fn new(width: usize, height: usize, inks: usize) -> Self {
        Self { width, height, inks, values: vec![0.0; width * height * inks] }
    }
    pub(crate) fn plane(&self, k: usize) -> &[f32] {
        &self.values[k * self.width * self.height..][..self.width * self.height]
    }
    pub(crate) fn plane_mut(&mut self, k: usize) -> &mut [f32] {
        &mut self.values[k * self.width * self.height..][..self.width * self.height]
    }
    /// The ink that covers most of pixel `i`, the first of equals.
    pub(crate) fn top(&self, i: usize) -> usize {
        let mut best = 0;
        for k in 1..self.inks {
            if self.plane(k)[i] > self.plane(best)[i] {
                best = k;
            }
        }
        best
    }

    /// All planes smoothed by a Gaussian of this standard deviation, in pixels.
    pub(crate) fn blurred(&self, sigma: f32) -> Self {
        let mut out = self.clone();
        for k in 0..self.inks {
            blur(out.plane_mut(k), self.width, self.height, sigma);
        }
        out
    }
}

/// Smooths one plane by a Gaussian cut off at three standard deviations; edges repeat.
pub(crate) fn blur(plane: &mut [f32], width: usize, height: usize, sigma: f32) {
    let reach = (3.0 * sigma).ceil() as isize;
    let mut taps: Vec<f32> =
        (-reach..=reach).map(|d| (-((d * d) as f32) / (2.0 * sigma * sigma)).exp()).collect();
    let total: f32 = taps.iter().sum();
    taps.iter_mut().for_each(|t| *t /= total);
    let mut line = vec![0.0; width.max(height)];
    for row in plane.chunks_exact_mut(width) {
        line[..width].copy_from_slice(row);
        smooth(&line[..width], &taps, reach, |x, v| row[x] = v);
    }
    for x in 0..width {
        for y in 0..height {
            line[y] = plane[y * width + x];
        }
        smooth(&line[..height], &taps, reach, |y, v| plane[y * width + x] = v);
    }
}

fn smooth(line: &[f32], taps: &[f32], reach: isize, mut put: impl FnMut(usize, f32)) {
    let last = line.len() as isize - 1;
    for x in 0..=last {
        let v =
            taps.iter().zip(-reach..).map(|(t, d)| t * line[(x + d).clamp(0, last) as usize]).sum();
        put(x as usize, v);
    }
}
