//! Holding an edge to what a JPEG file stores: every coefficient in it says within half a
//! quantiser step what the picture was, so an edge that says otherwise is moved until it does
//! not (A. Zakhor 1992, JPEG as a set of constraints).

use super::Stored;
use super::band::{Band, Numbers};
use crate::grid::Kernel;
use crate::plane::{Plane, twice};
use progress::{Cancelled, Progress};
use rayon::prelude::*;

/// How often the residual is fed back.
const ROUNDS: usize = 8;
/// How far an edge goes for a residual.
const STRIDE: f32 = 2.0;
/// The mean square, in quantiser steps, past which a file was not made of crisp edges alone:
/// those reduced by any common filter give 0.002 at most, blurred or noisy ones 0.1 and more.
const CRISP: f64 = 0.01;
/// Samples across and down a source pixel: three to a number of the finer grid.
const SAMPLES: usize = 6;

/// Moves the edge of coefficients `u`, twice as fine as the picture and ink where positive,
/// until the file could hold it. False, and nothing moved, where the file was not made of
/// crisp edges.
pub(crate) fn hold(
    u: &mut Plane,
    share: &Plane,
    stored: &Stored,
    progress: &Progress,
) -> Result<bool, Cancelled> {
    let band = Band::about(share, 3);
    let mut flat = share.clone();
    flat.data.iter_mut().for_each(|s| *s = f32::from(*s > 0.5));
    let nought = Plane::new(share.width, share.height);
    let mut next = u.clone();
    let mut last = f64::MAX;
    for round in 0..=ROUNDS {
        progress.step("Holding edges to the file", round as u64, ROUNDS as u64 + 1)?;
        let (residual, off) = stored.residual(&band.laid_on(&flat, &seen(&next, &band)), &band);
        if round == 0 && off > CRISP {
            return Ok(false);
        }
        if off > last {
            break;
        }
        last = off;
        u.data.copy_from_slice(&next.data);
        if round < ROUNDS {
            moved(&mut next, u, &band.laid_on(&nought, &residual));
        }
    }
    Ok(true)
}

/// The four numbers' weights at each sample of a pixel, and the first of them counted from
/// twice the pixel's own place; also for one sample before the pixel and one after it.
fn taps() -> [(isize, [f32; 4]); SAMPLES + 2] {
    std::array::from_fn(|i| {
        let third = i as isize - 2;
        let t = third.rem_euclid(3) as f64 / 3.0;
        (third.div_euclid(3) - 1, Kernel::BSpline.weights(t).map(|w| w as f32))
    })
}

/// The share of every pixel of the band that lies on the ink's side of the edge. A sample's own
/// share goes from 0 to 1 within half a sample of it.
fn seen(u: &Plane, band: &Band) -> Numbers {
    let taps = taps();
    let place = |at: isize, size: usize| at.clamp(0, size as isize - 1) as usize;
    band.work_out(|y, (from, to), sums| {
        // The spline along each of the pixel row's rows of samples.
        let lines: [Vec<f32>; SAMPLES + 2] = std::array::from_fn(|i| {
            let (first, weights) = taps[i];
            let rows: [&[f32]; 4] = std::array::from_fn(|j| {
                u.row(place(2 * y as isize + first + j as isize, u.height))
            });
            let mixed: Vec<f32> = (2 * from as isize - 3..2 * to as isize + 3)
                .map(|x| {
                    let x = place(x, u.width);
                    (0..4).map(|j| weights[j] * rows[j][x]).sum()
                })
                .collect();
            let sample = |at: usize, tap: usize| -> f32 {
                let (first, weights) = taps[tap];
                let near = &mixed[(2 * at + 3).wrapping_add_signed(first)..][..4];
                (0..4).map(|j| weights[j] * near[j]).sum()
            };
            std::iter::once(sample(0, 0))
                .chain(
                    (0..to - from)
                        .flat_map(|at| (1..=SAMPLES).map(move |tap| (at, tap)))
                        .map(|(at, tap)| sample(at, tap)),
                )
                .chain(std::iter::once(sample(to - from - 1, SAMPLES + 1)))
                .collect()
        });
        for three in lines.windows(3) {
            for (at, sum) in sums.iter_mut().enumerate() {
                for x in SAMPLES * at + 1..=SAMPLES * (at + 1) {
                    let across = 0.5 * (three[1][x + 1] - three[1][x - 1]);
                    let down = 0.5 * (three[2][x] - three[0][x]);
                    let steep = (across * across + down * down).sqrt().max(0.02);
                    *sum += (three[1][x] / steep + 0.5).clamp(0.0, 1.0);
                }
            }
        }
        sums.iter_mut().for_each(|sum| *sum /= (SAMPLES * SAMPLES) as f32);
    })
}

/// Moves the edge outwards where the residual, a share of ink, is positive: by as much on
/// steep edges as on gentle ones.
fn moved(next: &mut Plane, u: &Plane, residual: &Plane) {
    let (width, height) = (u.width, u.height);
    next.data.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        let rows = [u.row(y.saturating_sub(1)), u.row(y), u.row((y + 1).min(height - 1))];
        for (x, out) in out.iter_mut().enumerate() {
            let by = twice([x, y], [residual.width, residual.height], |x, y| residual.row(y)[x]);
            if by != 0.0 {
                let (left, right) = (x.saturating_sub(1), (x + 1).min(width - 1));
                let down = |x: usize| rows[2][x] - rows[0][x];
                let across = |row: &[f32]| row[right] - row[left];
                // The spline's slope at the number's own place, to a source pixel.
                let dx = (across(rows[0]) + 4.0 * across(rows[1]) + across(rows[2])) / 6.0;
                let dy = (down(left) + 4.0 * down(x) + down(right)) / 6.0;
                *out += STRIDE * by * (dx * dx + dy * dy).sqrt().clamp(0.2, 4.0);
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use super::super::{Pull, blurred};
    use super::*;
    use crate::jpeg;
    use image::codecs::jpeg::JpegEncoder;

    /// Numbers of a picture of so many pixels whose spline is as high as `inside` is deep, in
    /// source pixels from the edge, at a number's place.
    fn drawn(width: usize, height: usize, inside: impl Fn(f32, f32) -> f32) -> Plane {
        let mut u = Plane::new(2 * width, 2 * height);
        for (i, v) in u.data.iter_mut().enumerate() {
            let middle = |at: usize| (at as f32 + 0.5) / 2.0;
            *v = 1.7 * inside(middle(i % (2 * width)), middle(i / (2 * width)));
        }
        u
    }

    /// A straight edge at `at` from the left, in source pixels, inks that share of its pixel.
    #[test]
    fn a_straight_edge_is_seen_where_it_is() {
        for at in [5.0_f32, 5.25, 5.5, 5.8] {
            let (width, height) = (12, 8);
            // A cubic B-spline of numbers on a line is that line.
            let u = drawn(width, height, |x, _| at - x);
            let share = |x: usize| (at - x as f32).clamp(0.0, 1.0);
            let data = (0..width * height).map(|i| share(i % width)).collect();
            let band = Band::about(&Plane { width, height, data }, 2);
            for (runs, row) in band.rows.iter().zip(seen(&u, &band)) {
                let inside = runs.iter().flat_map(|r| r.0..r.1);
                for (x, got) in inside.zip(row) {
                    assert!((got - share(x)).abs() < 0.01, "{at} {x}: {got}");
                }
            }
        }
    }

    const SIDE: usize = 64;

    /// A ring with a ripple of .03 pixels on its edge, or none.
    fn ring(ripple: f32) -> Plane {
        drawn(SIDE, SIDE, |x, y| {
            let (x, y) = (x - 31.3, y - 32.6);
            let off = 0.03 * ripple * (9.0 * y.atan2(x)).sin();
            7.0 - ((x * x + y * y).sqrt() - 17.5).abs() + off
        })
    }

    /// The share of every pixel that `u` inks, and the JPEG file of these made by the image
    /// crate, as Filmquilt reads it.
    fn pictured(u: &Plane, blur: f32) -> (Plane, Stored) {
        let all = Band { rows: vec![vec![(0, SIDE)]; SIDE] };
        let mut share = all.laid_on(&Plane::new(SIDE, SIDE), &seen(u, &all));
        if blur > 0.0 {
            share = blurred(&share, blur);
        }
        let greys: Vec<u8> = share.data.iter().map(|s| (255.0 * (1.0 - s)).round() as u8).collect();
        let mut file = Vec::new();
        JpegEncoder::new_with_quality(&mut file, 60)
            .encode(&greys, SIDE as u32, SIDE as u32, image::ExtendedColorType::L8)
            .unwrap();
        let luma = jpeg::luma(&file).unwrap();
        (share, Stored::new(luma, [0, 0], [255.0, 0.0], Pull::Hold))
    }

    fn apart(a: &Plane, b: &Plane) -> f32 {
        let all = Band { rows: vec![vec![(0, SIDE)]; SIDE] };
        let pairs = seen(a, &all).concat().into_iter().zip(seen(b, &all).concat());
        pairs.map(|(a, b)| (a - b).abs()).sum()
    }

    #[test]
    fn an_edge_is_drawn_back_to_what_the_file_stores() {
        let (truth, mut u) = (ring(0.0), ring(1.0));
        let (share, stored) = pictured(&truth, 0.0);
        let before = apart(&u, &truth);
        assert!(hold(&mut u, &share, &stored, &Progress::none()).unwrap());
        let after = apart(&u, &truth);
        assert!(after < 0.6 * before, "{after} of {before}");
    }

    #[test]
    fn a_file_of_soft_edges_moves_nothing() {
        let mut u = ring(1.0);
        let (share, stored) = pictured(&ring(0.0), 0.8);
        assert!(!hold(&mut u, &share, &stored, &Progress::none()).unwrap());
        assert_eq!(u, ring(1.0));
    }
}
