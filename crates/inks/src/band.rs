use crate::cover::Cover;
use crate::image::index;
use crate::spline::{SUBS, sample, sparsemax, sub_weights};
use rayon::prelude::*;

/// The pixels near an edge, and the inks that may print in each; all others are settled.
pub(crate) struct Band {
    pixels: Vec<u32>,
    /// Where each pixel's inks begin in `inks`; one more entry than pixels.
    starts: Vec<u32>,
    inks: Vec<u8>,
}

impl Band {
    /// The pixels within two of any that is mixed or next to another ink.
    pub(crate) fn of(cover: &Cover) -> Self {
        let (w, h) = (cover.width, cover.height);
        const MIXED: u8 = u8::MAX;
        let solid: Vec<u8> = (0..w * h)
            .map(|i| {
                let top = cover.top(i);
                if cover.plane(top)[i] > 0.999 { top as u8 } else { MIXED }
            })
            .collect();
        let around = |x: usize, y: usize| {
            (0..25).map(move |k| index(w, h, x as isize + k % 5 - 2, y as isize + k / 5 - 2))
        };
        let mut band = Self { pixels: Vec::new(), starts: vec![0], inks: Vec::new() };
        for y in 0..h {
            for x in 0..w {
                let k = solid[y * w + x];
                if k != MIXED && around(x, y).all(|i| solid[i] == k) {
                    continue;
                }
                let near =
                    (0..cover.inks).filter(|k| around(x, y).any(|i| cover.plane(*k)[i] > 0.02));
                band.inks.extend(near.map(|k| k as u8));
                band.pixels.push((y * w + x) as u32);
                band.starts.push(band.inks.len() as u32);
            }
        }
        band
    }

    /// Each pixel, the inks that may print in it, and where their values lie in a vector
    /// with one value for each pixel and ink.
    pub(crate) fn iter(&self) -> impl Iterator<Item = (usize, &[u8], std::ops::Range<usize>)> {
        self.pixels.iter().zip(self.starts.windows(2)).map(|(pixel, ends)| {
            let range = ends[0] as usize..ends[1] as usize;
            (*pixel as usize, &self.inks[range.clone()], range)
        })
    }

    /// How much of each pixel of the band each ink would cover, were it cut at these levels.
    pub(crate) fn coverage(&self, levels: &Cover) -> Vec<f32> {
        let mut out = vec![0.0; self.inks.len()];
        let weights = sub_weights();
        let (w, h) = (levels.width, levels.height);
        let jobs: Vec<_> = split(&mut out, &self.starts).zip(self.iter()).collect();
        jobs.into_par_iter().with_min_len(64).for_each(|(out, (pixel, inks, _))| {
            if let [_] = inks {
                out[0] = 1.0;
                return;
            }
            let (x, y) = ((pixel % w) as isize, (pixel / w) as isize);
            let mut values = [[0.0; SUBS * SUBS]; crate::MAX_INKS + 1];
            for (k, values) in inks.iter().zip(&mut values) {
                let plane = levels.plane(*k as usize);
                let mut patch = [[0.0; 5]; 5];
                for (dy, line) in (-2..).zip(&mut patch) {
                    for (dx, v) in (-2..).zip(line) {
                        *v = plane[index(w, h, x + dx, y + dy)];
                    }
                }
                *values = sample(&patch, &weights);
            }
            let mut z = [0.0; crate::MAX_INKS + 1];
            let z = &mut z[..inks.len()];
            for sub in 0..SUBS * SUBS {
                for (z, values) in z.iter_mut().zip(&values) {
                    *z = SUBS as f32 * values[sub];
                }
                sparsemax(z);
                for (out, z) in out.iter_mut().zip(z.iter()) {
                    *out += z / (SUBS * SUBS) as f32;
                }
            }
        });
        out
    }

    /// A cover with the band's values put in.
    pub(crate) fn put(&self, values: &[f32], cover: &mut Cover) {
        for (pixel, inks, range) in self.iter() {
            for (k, v) in inks.iter().zip(&values[range]) {
                cover.plane_mut(*k as usize)[pixel] = *v;
            }
        }
    }

    /// Moves the levels so that edges shorten, by `mu` times their curvature.
    pub(crate) fn shorten(&self, levels: &mut Cover, mu: f32) {
        let (w, h) = (levels.width, levels.height);
        let mut change = vec![0.0; self.inks.len()];
        for (pixel, inks, range) in self.iter() {
            let (x, y) = ((pixel % w) as isize, (pixel / w) as isize);
            for (k, change) in inks.iter().zip(&mut change[range]) {
                let plane = levels.plane(*k as usize);
                let u = |dx: isize, dy: isize| plane[index(w, h, x + dx, y + dy)];
                let (ux, uy) = ((u(1, 0) - u(-1, 0)) / 2.0, (u(0, 1) - u(0, -1)) / 2.0);
                let middle = 2.0 * u(0, 0);
                let (uxx, uyy) = (u(1, 0) - middle + u(-1, 0), u(0, 1) - middle + u(0, -1));
                let uxy = (u(1, 1) - u(-1, 1) - u(1, -1) + u(-1, -1)) / 4.0;
                let steep = ux * ux + uy * uy;
                *change =
                    mu * (uxx * uy * uy - 2.0 * ux * uy * uxy + uyy * ux * ux) / (steep + 1e-6);
            }
        }
        for (pixel, inks, range) in self.iter() {
            for (k, change) in inks.iter().zip(&change[range]) {
                levels.plane_mut(*k as usize)[pixel] += change;
            }
        }
    }
}

/// A vector cut into one slice for each pixel.
fn split<'a>(mut rest: &'a mut [f32], starts: &'a [u32]) -> impl Iterator<Item = &'a mut [f32]> {
    starts.windows(2).map(move |ends| {
        let (head, tail) = std::mem::take(&mut rest).split_at_mut((ends[1] - ends[0]) as usize);
        rest = tail;
        head
    })
}
