//! The light behind the film: smooth, from the film's clear parts.

use crate::camera::Xy;
use crate::grey::Grey;
use crate::layout::Layout;
use crate::levels::Levels;
use crate::model::Model;
use nalgebra::{SMatrix, SVector};

/// A film that is known, in the photo where the model has it, looked at coarsely.
pub(crate) struct Look<'a> {
    pub(crate) model: &'a Model,
    pub(crate) photo: &'a Levels,
    /// The film's clearness and the side of its cells, mm.
    pub(crate) film: &'a (Grey, f64),
    pub(crate) layout: &'a Layout,
}

/// The light of the photograph without ink in it, a quadratic in place, and what share of it
/// comes through ink.
pub(crate) struct Light {
    curve: SVector<f64, 6>,
    long: f64,
    through: f64,
}

impl Light {
    /// The light at a film place, of 1 at most.
    pub(crate) fn at(&self, at: Xy) -> f64 {
        self.curve.dot(&terms(at, self.long)).max(1e-3)
    }

    /// How clear the film is there if the photo shows it as `seen`.
    pub(crate) fn clearness(&self, at: Xy, seen: f64) -> f64 {
        (seen / self.at(at) - self.through) / (1.0 - self.through)
    }
}

impl Look<'_> {
    /// The photo's grey at a film place, 0 to 1, at a level of pixels up to `mm` large.
    pub(crate) fn photo(&self, at: Xy, mm: f64) -> Option<f64> {
        // Not with the sheet's own slip.
        let p = self.model.camera.project(self.model.uneven(at))?;
        let pixel = self.model.camera.mm_per_px([0.0, 0.0])?;
        let level = ((mm / pixel).log2().floor().max(0.0) as usize).min(self.photo.0.len() - 1);
        let (grey, scale) = (&self.photo.0[level], f64::from(1_u32 << level));
        let [x, y] = p.map(|v| v / scale);
        let inside = x >= 0.0 && y >= 0.0 && x <= grey.width as f64 && y <= grey.height as f64;
        inside.then(|| f64::from(grey.bilinear(x, y)) / 65535.0)
    }

    /// How clear the planned film is, 0 to 1.
    pub(crate) fn clear(&self, at: Xy) -> f64 {
        let (grey, mm) = self.film;
        let [x, y] = [0, 1].map(|k| (at[k] + self.layout.size[k] / 2.0) / mm);
        if x < 0.0 || y < 0.0 || x > grey.width as f64 || y > grey.height as f64 {
            return 1.0;
        }
        f64::from(grey.bilinear(x, y)) / 65535.0
    }

    /// The light, from the film's clear parts, and what comes through its ink.
    pub(crate) fn light(&self) -> Option<Light> {
        let [w, h] = self.layout.size;
        let (long, step) = (w.max(h) / 2.0, w.max(h) / 160.0);
        let places: Vec<(Xy, f64, f64)> = (0..(h / step) as usize)
            .flat_map(|j| (0..(w / step) as usize).map(move |i| [i, j]))
            .map(|p| [0, 1].map(|k| (p[k] as f64 + 0.5) * step - [w, h][k] / 2.0))
            .filter_map(|at| Some((at, self.clear(at), self.photo(at, step / 4.0)?)))
            .collect();
        let mut curve: Option<SVector<f64, 6>> = None;
        // Twice, so that what covers the light does not count as light.
        for _ in 0..2 {
            let mut normal = SMatrix::<f64, 6, 6>::zeros();
            let mut right = SVector::<f64, 6>::zeros();
            for (at, clear, seen) in &places {
                let terms = terms(*at, long);
                let covered = curve.is_some_and(|c| *seen < 0.8 * c.dot(&terms));
                if *clear > 0.97 && !covered {
                    normal += terms * terms.transpose();
                    right += terms * *seen;
                }
            }
            for k in 0..6 {
                normal[(k, k)] += if k < 3 { 0.01 } else { 1.0 };
            }
            curve = Some(normal.cholesky()?.solve(&right));
        }
        let mut light = Light { curve: curve?, long, through: 0.0 };
        let inked = places.iter().filter(|p| p.1 < 0.03).map(|p| p.2 / light.at(p.0)).collect();
        light.through = crate::solve::median(inked).clamp(0.0, 0.7);
        Some(light)
    }
}

fn terms(at: Xy, long: f64) -> SVector<f64, 6> {
    let (x, y) = (at[0] / long, at[1] / long);
    SVector::from([1.0, x, y, x * x, x * y, y * y])
}
