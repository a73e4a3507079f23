//! The edge as a learned model draws it: look by look, and held to what a JPEG file stores
//! after each.

use crate::ArtworkError;
use crate::fit::{Stored, hold};
use crate::learned::{JpegGrid, Look, Model, looked};
use crate::plane::Plane;
use crate::settings::LearnedModel;
use progress::Progress;

/// Pictures of at most so many pixels are looked at more than once.
const SMALL: usize = 160_000;
/// Of an edge that was held to the file already, how much the next look at it counts.
const NEXT: f32 = 0.6;

/// An edge, and how it came about.
pub(crate) struct Drawn {
    /// Coefficients twice as fine as the picture, positive where there is ink.
    pub(crate) u: Plane,
    /// The number of the model that drew it.
    pub(crate) model: u32,
    /// Whether it was held to what a file stores.
    pub(crate) held: bool,
}

/// Draws the edge through `share`, 1 ink and 0 paper. `stored` is what its file holds of it,
/// where that is a JPEG.
pub(crate) fn drawn(
    job: LearnedModel,
    share: &Plane,
    grid: JpegGrid,
    stored: Option<&Stored>,
    progress: &Progress,
) -> Result<Drawn, ArtworkError> {
    let Way { model, looks, holds } = way(job, share.data.len() <= SMALL);
    let model = Model::numbered(model)?;
    let look = |n: usize, share: &Plane, grid| {
        progress.step("Finding edges", n as u64, looks.len() as u64)?;
        looked(model, share, grid, looks[n], progress)
    };
    let mut u = look(0, share, grid)?;
    let seen = match stored {
        Some(stored) if holds => hold(&mut u, share, stored, progress)?,
        _ => None,
    };
    let held = seen.is_some();
    if let (Some(mut seen), Some(stored)) = (seen, stored) {
        for n in 1..looks.len() {
            // What the file can hold shows no blocks.
            let next = look(n, &seen, None)?;
            u.data.iter_mut().zip(&next.data).for_each(|(u, next)| *u += NEXT * (next - *u));
            match hold(&mut u, share, stored, progress)? {
                Some(closer) => seen = closer,
                None => break,
            }
        }
    } else {
        for n in 1..looks.len() {
            let next = look(n, share, grid)?;
            u.data.iter_mut().zip(&next.data).for_each(|(u, next)| *u += next);
        }
        let count = looks.len() as f32;
        u.data.iter_mut().for_each(|u| *u /= count);
    }
    Ok(Drawn { u, model: model.number, held })
}

/// How a job's picture is drawn.
struct Way {
    model: LearnedModel,
    looks: &'static [Look],
    /// Whether what it draws is held to what a JPEG file stores.
    holds: bool,
}

/// All that a job's model stands for: what one number draws never changes.
fn way(job: LearnedModel, small: bool) -> Way {
    const fn look(turns: u8, exchange: bool) -> Look {
        Look { turns, exchange }
    }
    const FOUR: &[Look] = &[look(0, false), look(2, true), look(1, false), look(3, true)];
    const TWO: &[Look] = &[look(0, false), look(1, true)];
    let holds = job.0 > 2;
    let (model, looks) = match (holds, small) {
        (false, true) => (job, FOUR),
        (false, false) => (job, &FOUR[..1]),
        // The third is so wide that two looks do more than four did; the second, at a third of
        // the time, is good enough for pictures that are enlarged less.
        (true, true) => (job, TWO),
        (true, false) => (LearnedModel(2), &FOUR[..1]),
    };
    Way { model, looks, holds }
}

#[cfg(test)]
mod tests {
    use crate::jpeg::encoded;
    use crate::{LearnedModel, Settings, load, surface};
    use progress::Progress;

    /// What is said of a JPEG of crisp rings, so many pixels wide, drawn by a job's model.
    fn said(side: usize, model: u32) -> String {
        let grey = |i: usize| {
            let inside = (0..256)
                .filter(|s| {
                    let at = |i: usize, s: usize| i as f32 + (s as f32 + 0.5) / 16.0;
                    let (x, y) = (at(i % side, s % 16), at(i / side, s / 16));
                    ((x - 31.3).hypot(y - 30.8) * 0.02).fract() > 0.5
                })
                .count();
            (255 * (256 - inside) / 256) as u8
        };
        let file = encoded(&(0..side * side).map(grey).collect::<Vec<_>>(), side, 50);
        let settings = Settings { model: LearnedModel(model), ..Settings::default() };
        surface(&load(&file).unwrap(), &settings, &Progress::none()).unwrap().report.why
    }

    #[test]
    fn a_jpeg_is_held_to_its_file_by_jobs_of_the_third_model() {
        let words = "drawn by learned model";
        assert!(said(120, 3).ends_with(&format!("{words} 3 and held to what the file stores")));
        assert!(said(120, 2).ends_with(&format!("{words} 2")));
        // A large one is drawn by the narrower model.
        assert!(said(420, 3).ends_with(&format!("{words} 2 and held to what the file stores")));
    }
}
