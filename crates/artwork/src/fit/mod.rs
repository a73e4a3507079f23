//! The coverage-constrained level set: a cubic B-spline whose side of 1/2, seen through the
//! way a pixel gathers ink, reproduces every pixel that was measured.
//!
//! After M. Irani and S. Peleg 1991 (iterative back-projection), O. Bernard et al. 2009
//! (B-spline level sets), S. Osher and J. Sethian 1988 (motion by curvature) and A. Zakhor
//! 1992 (JPEG as a set of constraints).

mod band;
mod coverage;
mod curve;
mod gauss;
mod hold;
mod stored;

use crate::plane::Plane;
use band::{Band, Numbers};
use progress::{Cancelled, Progress};

pub(crate) use gauss::blurred;
use gauss::blurred_in;
pub(crate) use hold::hold;
pub(crate) use stored::{Pull, Stored};

/// How a fit goes about its work. Lengths are in source pixels.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    /// How often the residual is fed back.
    pub(crate) rounds: usize,
    /// How strongly edges are straightened each round.
    pub(crate) straighten: f32,
    /// The Gaussian that the residual is smoothed by; 0 for none.
    pub(crate) smooth: f32,
    /// The Gaussian that the picture was blurred by beyond its pixels; 0 for none.
    pub(crate) blur: f32,
    /// The Gaussian that the start is smoothed by; 0 for none.
    pub(crate) start: f32,
    /// How far from an edge numbers may change.
    pub(crate) reach: usize,
    /// Whether only the side of a pixel is known, not its coverage.
    pub(crate) sides_only: bool,
}

/// Fits a spline to ink coverages from 0 to 1. Its coefficients say ink where the spline is
/// above 1/2. Also gives whether the plan's idea of the picture explained it; where it did
/// not, the edges are fitted mildly.
pub(crate) fn fit(
    cover: &Plane,
    stored: Option<&Stored>,
    plan: &Plan,
    progress: &Progress,
) -> Result<(Plane, bool), Cancelled> {
    match rounds(cover, stored, plan, progress)? {
        Some(u) => Ok((u, true)),
        None => {
            let mild = Plan { rounds: 4, smooth: 0.7, ..plan.clone() };
            let u = rounds(cover, stored, &mild, progress)?.unwrap_or_else(|| cover.clone());
            Ok((u, false))
        }
    }
}

/// The rounds of a fit; none where a plan that trusts every pixel does not come to explain
/// them, and so would make things up.
fn rounds(
    cover: &Plane,
    stored: Option<&Stored>,
    plan: &Plan,
    progress: &Progress,
) -> Result<Option<Plane>, Cancelled> {
    let mut u = if plan.start > 0.0 { blurred(cover, plan.start) } else { cover.clone() };
    let band = Band::about(&u, plan.reach);
    let trusting = plan.smooth == 0.0 && !plan.sides_only;
    let (mut first, mut last) = (0.0, f64::MAX);
    for round in 0..plan.rounds {
        progress.step("Fitting edges", round as u64, plan.rounds as u64)?;
        let mut seen = coverage::seen(&u, &band);
        if plan.blur > 0.0 {
            seen = blurred_in(&band, &band.laid_on(cover, &seen), plan.blur);
        }
        let mut residual = match stored {
            Some(stored) => stored.residual(&band.laid_on(cover, &seen), &band).0,
            None => coverage::residual(cover, &seen, &band, plan.sides_only),
        };
        if trusting {
            let left = mean_square(&residual);
            match round {
                0 => first = left,
                1 if left > 0.5 * first => return Ok(None),
                _ if left > 1.02 * last => break,
                _ => {}
            }
            last = left;
        }
        if plan.smooth > 0.0 {
            let nought = Plane::new(cover.width, cover.height);
            residual = blurred_in(&band, &band.laid_on(&nought, &residual), plan.smooth);
        }
        band.change(&mut u, &residual, |u, residual| (u + residual).clamp(-0.5, 1.5));
        if plan.straighten > 0.0 {
            let bends = curve::bends(&u, &band);
            band.change(&mut u, &bends, |u, bend| u + plan.straighten * bend);
        }
    }
    Ok(Some(u))
}

/// The mean square of a band's numbers, summed row by row so that it is always the same.
fn mean_square(numbers: &Numbers) -> f64 {
    let count: usize = numbers.iter().map(Vec::len).sum();
    let sum: f64 = numbers.iter().flatten().map(|v| f64::from(v * v)).sum();
    sum / count.max(1) as f64
}
