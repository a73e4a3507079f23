//! Where the film lies in the photograph, coarsely but surely.

use crate::align::align;
use crate::camera::{Camera, Xy};
use crate::grey::Grey;
use crate::layout::Layout;
use crate::levels::Levels;
use crate::parts::Parts;
use crate::rough::{Ladder, apart, guesses};
use progress::{Cancelled, Progress};
use rayon::prelude::*;

/// A pose that correlates less is none, ...
const LEAST: f64 = 0.4;
/// ... and one that correlates more is sure to be one, if no sheet was left out for it.
const SURE: f64 = 0.6;
/// By parts of the film, one that correlates more need not be sought among slanted ones.
const PLAIN: f64 = 0.85;
/// Poses this close in correlation are told apart by the finer levels.
pub(crate) const TIE: f64 = 0.05;

/// A pose, the sheets that it was found by, and their correlation.
#[derive(Clone, Debug)]
pub(crate) struct Pose {
    pub(crate) camera: Camera,
    pub(crate) taken: Vec<bool>,
    pub(crate) score: f64,
}

impl Pose {
    /// Whether it needs no more proof.
    pub(crate) fn is_sure(&self) -> bool {
        self.score > SURE && self.taken.iter().all(|t| *t)
    }
}

/// The film's clearness with cells of a thousandth of its longer side, and its halvings.
pub(crate) fn ladder(clear: Grey, mm: f64) -> Ladder {
    let levels = Levels::new(clear, 40).0;
    levels.into_iter().enumerate().map(|(k, g)| (g, mm * f64::from(1 << k))).collect()
}

/// The distinct poses worth following, best first, by the film as a whole or by some of its parts;
/// none where the film is not seen.
pub(crate) fn find(
    photo: &Levels,
    film: &Ladder,
    layout: &Layout,
    parts: &Parts,
    progress: &Progress,
) -> Result<Vec<Pose>, Cancelled> {
    let upright: Vec<f64> = (0..4)
        .flat_map(|q| (-2..=2).map(move |k| f64::from(q) * 90.0 + f64::from(k) * 5.0))
        .collect();
    let slanted: Vec<f64> =
        (0..72).map(|k| f64::from(k) * 5.0).filter(|t| (t + 12.0) % 90.0 > 24.0).collect();
    let mut poses = Vec::new();
    for turns in [upright, slanted] {
        progress.check()?;
        let starts = guesses(&photo.0[0], film, layout, parts, &turns).into_iter().map(|guess| {
            let taken = parts.sheets.iter().map(|part| guess.taken[*part]).collect();
            Pose { camera: guess.camera, taken, score: 0.0 }
        });
        poses.extend(refined(photo, film, layout, parts, starts.collect()));
        poses.sort_by(|a, b| b.score.total_cmp(&a.score));
        if poses.first().is_some_and(|p| p.is_sure() || p.score > PLAIN) {
            break;
        }
    }
    poses.retain(|p| p.score > LEAST);
    Ok(distinct(poses, layout, photo.0[0].width as f64))
}

/// The poses that four clicked corners allow: the film as said, or, where its ink says so
/// plainly, with the corners taken in another order.
pub(crate) fn from_corners(
    photo: &Levels,
    film: &Ladder,
    layout: &Layout,
    corners: &[Xy; 4],
) -> Vec<Pose> {
    let size = [photo.0[0].width as f64, photo.0[0].height as f64];
    let orders = (0..8).map(|k| -> [Xy; 4] {
        std::array::from_fn(|i| corners[if k < 4 { (i + k) % 4 } else { (3 + k - i) % 4 }])
    });
    let cameras = orders.filter_map(|c| Camera::through(&layout.corners(), &c, size[0], size[1]));
    let cameras = cameras.filter(|c| layout.corners().iter().all(|p| c.project(*p).is_some()));
    let parts = Parts::whole(layout);
    let mut poses: Vec<Pose> = cameras
        .map(|camera| Pose { camera, taken: vec![true; layout.quads.len()], score: 0.0 })
        .flat_map(|pose| refined(photo, film, layout, &parts, vec![pose]))
        .collect();
    if poses.is_empty() {
        return poses;
    }
    // The order given counts unless another is clearly better.
    let said = poses.remove(0);
    poses.retain(|p| p.score > said.score + 2.0 * TIE);
    poses.push(said);
    poses.sort_by(|a, b| b.score.total_cmp(&a.score));
    poses.truncate(1);
    poses
}

/// The poses that starts lead to, those left out that fall behind on the way.
fn refined(
    photo: &Levels,
    film: &Ladder,
    layout: &Layout,
    parts: &Parts,
    mut poses: Vec<Pose>,
) -> Vec<Pose> {
    let long = layout.size[0].max(layout.size[1]);
    // First about 60 cells along the film and then 125, smoothed so that edges pull from afar.
    for (cells, passes, behind) in [(60.0, 10, 0.2), (125.0, 12, 1.0)] {
        let Some((grey, mm)) = film.iter().rev().find(|l| l.1 * cells <= long) else {
            continue;
        };
        let step = (grey.clone().blurred(1.0), *mm);
        poses = poses
            .into_par_iter()
            .filter_map(|mut pose| {
                let pixel = pose.camera.mm_per_px([0.0, 0.0])?;
                // The photo level whose pixels are nearest the film's cells.
                let level = (step.1 / pixel).log2().round().max(0.0) as usize;
                let level = level.min(photo.0.len() - 1);
                let scale = f64::from(1_u32 << level);
                let taken = parts.taken(&pose.taken);
                let photo = (&photo.0[level], scale);
                pose.score = align(&mut pose.camera, &step, layout, &taken, photo, passes);
                Some(pose)
            })
            .collect();
        let best = poses.iter().map(|p| p.score).fold(f64::NEG_INFINITY, f64::max);
        poses.retain(|p| p.score > best - behind);
    }
    poses
}

/// The poses close to the best in score that differ in place, best first.
fn distinct(poses: Vec<Pose>, layout: &Layout, width: f64) -> Vec<Pose> {
    let mut kept: Vec<Pose> = Vec::new();
    for pose in poses {
        let far = kept.iter().all(|k| apart(&k.camera, &pose.camera, layout) > 0.01 * width);
        if far && kept.first().is_none_or(|best| pose.score > best.score - TIE) {
            kept.push(pose);
        }
    }
    kept
}
