//! Holding an edge to what a JPEG file stores: every coefficient in it says within half a
//! quantiser step what the picture was, so an edge that says otherwise is moved until it does
//! not (A. Zakhor 1992, JPEG as a set of constraints).

use super::Stored;
use super::band::{Band, Numbers};
use super::gauss::blurred_in;
use crate::grid::Kernel;
use crate::plane::{Plane, twice};
use progress::{Cancelled, Progress};
use rayon::prelude::*;

/// How often the residual is fed back.
const ROUNDS: usize = 12;
/// How far an edge goes for a residual.
const STRIDE: f32 = 2.0;
/// The mean square of what stays unexplained, in quantiser steps, past which a file was not made
/// of edges alone. Measured, JPEGs of 40 to 90: edges reduced by common filters, or a little
/// soft, leave .00003 to .005, and are held nearer to the truth; strong noise leaves .02 and more.
const EXPLAINED: f64 = 0.005;
/// How soft a picture may have been: the bells tried, as deviations in source pixels.
const BELLS: [f32; 7] = [0.0, 0.3, 0.4, 0.5, 0.65, 0.8, 1.0];
/// Samples across and down a source pixel: three to a number of the finer grid.
const SAMPLES: usize = 6;

/// Neighbours move together: the deviation of the bell over which a residual is averaged, in
/// source pixels.
const TOGETHER: f32 = 0.8;

/// Moves the edge of coefficients `u`, twice as fine as the picture and ink where positive,
/// until the file could hold it. Gives the shares of ink that the file might have been made of,
/// as near to that edge as it allows; none, and nothing moved, where edges alone, crisp or soft,
/// do not explain the file.
pub(crate) fn hold(
    u: &mut Plane,
    share: &Plane,
    stored: &Stored,
    progress: &Progress,
) -> Result<Option<Plane>, Cancelled> {
    let band = Band::about(share, 3);
    let mut looks = share.clone();
    looks.data.iter_mut().for_each(|s| *s = f32::from(*s > 0.5));
    let see = |looks: &mut Plane, u: &Plane, bell: f32| {
        band.change(looks, &seen(u, &band), |_, share| share);
        if bell > 0.0 {
            let soft = blurred_in(&band, looks, bell);
            band.change(looks, &soft, |_, share| share);
        }
        stored.residual(looks, &band)
    };
    let (mut bell, mut least) = (0.0, f64::MAX);
    for soft in BELLS {
        progress.check()?;
        let (_, off) = see(&mut looks, u, soft);
        if off > least {
            break;
        }
        (bell, least) = (soft, off);
    }
    let mut by = Plane::new(share.width, share.height);
    let mut near = by.clone();
    let fine = band.twice();
    let before = fine.take(u);
    let (mut best, mut left) = (Numbers::new(), Numbers::new());
    least = f64::MAX;
    for round in 0..=ROUNDS {
        progress.step("Holding edges to the file", round as u64, ROUNDS as u64 + 1)?;
        let (residual, off) = see(&mut looks, u, bell);
        if off > least {
            fine.change(u, &best, |_, best| best);
            left = see(&mut looks, u, bell).0;
            break;
        }
        least = off;
        if round < ROUNDS {
            best = fine.take(u);
            together(&looks, &residual, &band, [&mut by, &mut near]);
            let next = moved(u, &by, &fine);
            fine.change(u, &next, |_, next| next);
        }
        left = residual;
    }
    if least > EXPLAINED {
        fine.change(u, &before, |_, before| before);
        return Ok(None);
    }
    band.change(&mut looks, &left, |looks, off| (looks + off).clamp(0.0, 1.0));
    Ok(Some(looks))
}

/// Writes to `by` the mean residual of the pixels near each that an edge goes through; `near` is
/// room for their number.
fn together(looks: &Plane, residual: &Numbers, band: &Band, [by, near]: [&mut Plane; 2]) {
    band.change(near, &band.take(looks), |_, s| f32::from((0.02..0.98).contains(&s)));
    band.change(by, residual, |_, residual| residual);
    by.data.par_iter_mut().zip(&near.data).for_each(|(by, near)| *by *= near);
    let [sums, counts] = [&*by, &*near].map(|plane| blurred_in(band, plane, TOGETHER));
    band.change(by, &sums, |_, sum| sum);
    band.change(by, &counts, |sum, count| sum / count.max(0.05));
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

/// The numbers with the edge moved outwards where `by`, a share of ink, is positive: by as much
/// on steep edges as on gentle ones.
fn moved(u: &Plane, by: &Plane, fine: &Band) -> Numbers {
    let (width, height) = (u.width, u.height);
    fine.work_out(|y, (from, _), out| {
        let rows = [u.row(y.saturating_sub(1)), u.row(y), u.row((y + 1).min(height - 1))];
        for (x, out) in (from..).zip(out) {
            let by = twice([x, y], [by.width, by.height], |x, y| by.row(y)[x]);
            let (left, right) = (x.saturating_sub(1), (x + 1).min(width - 1));
            let down = |x: usize| rows[2][x] - rows[0][x];
            let across = |row: &[f32]| row[right] - row[left];
            // The spline's slope at the number's own place, to a source pixel.
            let dx = (across(rows[0]) + 4.0 * across(rows[1]) + across(rows[2])) / 6.0;
            let dy = (down(left) + 4.0 * down(x) + down(right)) / 6.0;
            *out = rows[1][x] + STRIDE * by * (dx * dx + dy * dy).sqrt().clamp(0.2, 4.0);
        }
    })
}

#[cfg(test)]
mod tests {
    use super::super::{Pull, blurred};
    use super::*;
    use crate::jpeg;

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

    fn everywhere() -> Band {
        Band { rows: vec![vec![(0, SIDE)]; SIDE] }
    }

    /// A ring with a ripple of .03 pixels on its edge, or none.
    fn ring(ripple: f32) -> Plane {
        drawn(SIDE, SIDE, |x, y| {
            let (x, y) = (x - 31.3, y - 32.6);
            let off = 0.03 * ripple * (9.0 * y.atan2(x)).sin();
            7.0 - ((x * x + y * y).sqrt() - 17.5).abs() + off
        })
    }

    /// The share of every pixel that `u` inks, smoothed by a bell and moved off by as much as
    /// `noise` up or down, and the JPEG file of these made by the image crate, as Filmquilt
    /// reads it.
    fn pictured(u: &Plane, bell: f32, noise: f32) -> (Plane, Stored) {
        let all = everywhere();
        let mut share = all.laid_on(&Plane::new(SIDE, SIDE), &seen(u, &all));
        if bell > 0.0 {
            share = blurred(&share, bell);
        }
        let mut dice = 7_u32;
        for share in &mut share.data {
            dice = dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *share += if dice >> 31 == 0 { noise } else { -noise };
        }
        let greys: Vec<u8> = share.data.iter().map(|s| (255.0 * (1.0 - s)).round() as u8).collect();
        let luma = jpeg::luma(&jpeg::encoded(&greys, SIDE, 60)).unwrap();
        (share, Stored::new(luma, [0, 0], [255.0, 0.0], Pull::Hold))
    }

    fn apart(a: &Plane, b: &Plane) -> f32 {
        let all = everywhere();
        let pairs = seen(a, &all).concat().into_iter().zip(seen(b, &all).concat());
        pairs.map(|(a, b)| (a - b).abs()).sum()
    }

    #[test]
    fn an_edge_is_drawn_back_to_what_the_file_stores() {
        let truth = ring(0.0);
        for bell in [0.0, 0.8] {
            let mut u = ring(1.0);
            let (share, stored) = pictured(&truth, bell, 0.0);
            let before = apart(&u, &truth);
            let seen = hold(&mut u, &share, &stored, &Progress::none()).unwrap().unwrap();
            let after = apart(&u, &truth);
            assert!(after < 0.6 * before, "bell {bell}: {after} of {before}");
            // What the file can hold is nearer to what it was made of than to what is off it.
            let off: f32 = seen.data.iter().zip(&share.data).map(|(a, b)| (a - b).abs()).sum();
            assert!(off < before, "bell {bell}: {off}");
        }
    }

    #[test]
    fn a_file_of_more_than_edges_moves_nothing() {
        let mut u = ring(1.0);
        let (share, stored) = pictured(&ring(0.0), 0.0, 0.08);
        assert!(hold(&mut u, &share, &stored, &Progress::none()).unwrap().is_none());
        assert_eq!(u, ring(1.0));
    }
}
