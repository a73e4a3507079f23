//! Two-dimensional Fourier transforms of small pictures.

use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};
use std::sync::Arc;

pub(crate) type C = Complex<f32>;

/// Transforms of one size.
pub(crate) struct Fft2 {
    width: usize,
    height: usize,
    /// Along rows and along columns, there and back.
    plans: [Arc<dyn Fft<f32>>; 4],
}

impl Fft2 {
    pub(crate) fn new(width: usize, height: usize) -> Self {
        let mut planner = FftPlanner::new();
        let plans = [
            planner.plan_fft_forward(width),
            planner.plan_fft_forward(height),
            planner.plan_fft_inverse(width),
            planner.plan_fft_inverse(height),
        ];
        Self { width, height, plans }
    }

    pub(crate) fn forward(&self, data: &mut Vec<C>) {
        self.both(data, 0);
    }

    /// Back, times the number of pixels.
    pub(crate) fn inverse(&self, data: &mut Vec<C>) {
        self.both(data, 2);
    }

    fn both(&self, data: &mut Vec<C>, first: usize) {
        self.plans[first].process(data);
        let mut turned = transposed(data, self.width);
        self.plans[first + 1].process(&mut turned);
        *data = transposed(&turned, self.height);
    }
}

fn transposed(data: &[C], width: usize) -> Vec<C> {
    let height = data.len() / width;
    let mut out = vec![C::default(); data.len()];
    for (y, row) in data.chunks(width).enumerate() {
        for (x, v) in row.iter().enumerate() {
            out[x * height + y] = *v;
        }
    }
    out
}
