//! Looking at a picture: what it has been through, and so how its edges are best found.

use crate::Source;
use crate::fit::Plan;
use crate::plane::Plane;
use crate::tones::from_linear_light;

/// Flat parts that vary more than this are noisy,
const FAR_NOISE: f64 = 0.005;
/// and those that vary more than this near edges, and not elsewhere, ring,
const NEAR_NOISE: f64 = 0.0025;
/// where more than this share of pixels vary: faint lines are no damage, and few.
const VARYING: f64 = 0.05;

/// What a look at a picture's coverages found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Look {
    /// Of the pixels at edges, the share that is neither full nor empty.
    pub(crate) between: f64,
    /// The standard deviation of paper and ink far from edges, in coverage; about half of it
    /// is cut off where they are pure white and black.
    pub(crate) far_noise: f64,
    /// The same five to nine pixels from an edge, where a JPEG's ringing is.
    pub(crate) near_noise: f64,
    /// Of the pixels far from edges and of those near, the shares that vary by more than rounding
    /// makes them.
    pub(crate) varying: [f64; 2],
    /// The Gaussian that edges were blurred by beyond their pixels, in source pixels.
    pub(crate) blur: f64,
    /// How long edges are, in source pixels.
    pub(crate) length: f64,
    /// Whether edges are half-way where light is, not where grey is.
    pub(crate) linear_light: bool,
}

/// Looks at coverages from 0 to 1, given how deep each pixel lies on its side of 1/2.
pub(crate) fn look(cover: &Plane, depth: &[u8]) -> Look {
    let (width, height) = (cover.width, cover.height);
    let (mut crossings, mut between, mut edge) = (0_usize, 0_usize, 0_usize);
    let mut spread = [(0.0, 0_usize); 2];
    let mut noise = [(0.0, 0_usize); 2];
    let mut varying = [0_usize; 2];
    for y in 0..height {
        let row = cover.row(y);
        let below = cover.row((y + 1).min(height - 1));
        for x in 0..width {
            let f = f64::from(row[x]);
            let right = row[(x + 1).min(width - 1)];
            crossings += usize::from((row[x] > 0.5) != (right > 0.5));
            crossings += usize::from((row[x] > 0.5) != (below[x] > 0.5));
            let d = depth[y * width + x];
            if d == 1 {
                edge += 1;
                between += usize::from(f > 0.04 && f < 0.96);
            }
            if d <= 9 {
                let place = &mut spread[usize::from(d > 4)];
                place.0 += f * (1.0 - f);
                place.1 += 1;
            }
            let place = if d >= 12 { 0 } else { 1 };
            if (d >= 12 || (5..=9).contains(&d)) && x > 0 {
                let bend = 2.0 * f - f64::from(row[x - 1]) - f64::from(right);
                noise[place].0 += bend * bend / 6.0;
                noise[place].1 += 1;
                varying[place] += usize::from(bend.abs() > 0.003);
            }
        }
    }
    // Cauchy and Crofton: a contour crosses a square grid's lines 4 / pi times per length.
    let length = crossings as f64 * std::f64::consts::FRAC_PI_4;
    let mean = |(sum, n): (f64, usize)| sum / n.max(1) as f64;
    // What paper and ink away from edges show is no blur.
    let spread = (spread[0].0 - mean(spread[1]) * spread[0].1 as f64).max(0.0);
    let wide = std::f64::consts::PI.sqrt() * spread / length.max(1.0);
    let (far_noise, near_noise) = (mean(noise[0]).sqrt(), mean(noise[1]).sqrt());
    let varying = [0, 1].map(|i| varying[i] as f64 / noise[i].1.max(1) as f64);
    let mut look = Look {
        between: between as f64 / edge.max(1) as f64,
        far_noise,
        near_noise,
        varying,
        blur: (wide * wide - 1.0 / 12.0).max(0.0).sqrt(),
        length,
        linear_light: false,
    };
    // Damage hides how light was averaged, and taking it wrongly is worse than not at all.
    look.linear_light = !look.is_noisy() && !look.rings() && is_linear_light(cover);
    look
}

impl Look {
    fn is_noisy(&self) -> bool {
        self.far_noise > FAR_NOISE && self.varying[0] > VARYING
    }

    fn rings(&self) -> bool {
        self.near_noise > NEAR_NOISE && self.varying[1] > VARYING
    }
}

/// Whether pixels that an edge crosses say that light was averaged rather than grey: of those
/// that lie alone between flat paper and flat ink a slanting edge covers every share equally
/// often, either of the grey or of the light.
fn is_linear_light(cover: &Plane) -> bool {
    let by_grey = unevenness(cover);
    let mut light = cover.clone();
    from_linear_light(&mut light);
    match (by_grey, unevenness(&light)) {
        (Some(grey), Some(light)) => grey > 0.2 && light < 0.45 * grey,
        _ => false,
    }
}

/// How far the coverages of pixels that lie alone between flat paper and flat ink are from
/// being spread evenly (Kolmogorov and Smirnov); none from fewer than 200.
fn unevenness(cover: &Plane) -> Option<f32> {
    /// Flat pixels on either side: strokes not much wider would pick what falls between.
    const RUN: usize = 5;
    let clear = |f: f32| f < 0.04;
    let full = |f: f32| f > 0.96;
    let mut found: Vec<f32> = Vec::new();
    let mut look = |at: &dyn Fn(usize, usize) -> f32, along: usize, across: usize| {
        for b in 1..across {
            // Flat pixels up to here, on which side, and the pixel between if there was one.
            let (mut run, mut ink, mut between) = (0, false, None);
            for a in 0..along {
                let f = at(a, b);
                if !clear(f) && !full(f) {
                    let fresh = run >= RUN && (f - at(a, b - 1)).abs() > 0.02;
                    between = fresh.then_some((f, ink));
                    run = 0;
                } else if run > 0 && ink == full(f) {
                    run += 1;
                } else {
                    if run > 0 {
                        between = None;
                    }
                    (run, ink) = (1, full(f));
                }
                if run == RUN
                    && let Some((f, before)) = between.take()
                    && before != ink
                {
                    found.push(f);
                }
            }
        }
    };
    let (width, height) = (cover.width, cover.height);
    look(&|x, y| cover.data[y * width + x], width, height);
    look(&|y, x| cover.data[y * width + x], height, width);
    found.sort_by(f32::total_cmp);
    let count = found.len() as f32;
    let off = |(i, f): (usize, &f32)| (f - (i as f32 + 0.5) / count).abs();
    (found.len() >= 200).then(|| found.iter().enumerate().map(off).fold(0.0, f32::max))
}

/// What a picture was taken to be, and how its edges are to be found.
pub(crate) struct Verdict {
    pub(crate) source: Source,
    pub(crate) plan: Plan,
    /// Whether to fit to what its JPEG file stores.
    pub(crate) stored: bool,
    pub(crate) why: String,
}

/// Decides what a picture is, or takes the printer's word for it.
pub(crate) fn judge(look: &Look, is_jpeg: bool, asked: Source) -> Verdict {
    let (source, why) = match asked {
        Source::Auto => propose(look, is_jpeg),
        _ => (asked, "as chosen".into()),
    };
    let blurred = look.blur > 0.4;
    let blur = if source == Source::Blurred
        || (blurred && source != Source::Clean && source != Source::Hard)
    {
        look.blur.clamp(0.3, 2.5) as f32
    } else {
        0.0
    };
    let base = Plan {
        rounds: 8,
        straighten: 0.03,
        smooth: 0.0,
        blur,
        start: 0.0,
        reach: 2,
        sides_only: false,
    };
    let plan = match source {
        Source::Auto | Source::Clean => base,
        Source::Jpeg if is_jpeg => {
            Plan { rounds: 12, straighten: 0.04, smooth: 0.8, reach: 3, ..base }
        }
        Source::Jpeg => Plan { rounds: 4, straighten: 0.06, smooth: 0.6, reach: 3, ..base },
        Source::Noisy => Plan { straighten: 0.07, smooth: 0.7, ..base },
        Source::Blurred => Plan { rounds: 16, reach: 3, ..base },
        Source::Hard => Plan {
            rounds: 24,
            straighten: 0.1,
            smooth: 2.0,
            start: 1.0,
            reach: 3,
            sides_only: true,
            ..base
        },
    };
    let stored = is_jpeg && matches!(source, Source::Jpeg | Source::Noisy | Source::Blurred);
    Verdict { source, plan, stored, why }
}

fn propose(look: &Look, is_jpeg: bool) -> (Source, String) {
    let percent = |share: f64| (100.0 * share).round();
    if look.length < 1.0 {
        (Source::Clean, "it has no edges".into())
    } else if look.between < 0.02 {
        (Source::Hard, "its edge pixels are all black or white".into())
    } else if is_jpeg && look.blur > 0.4 {
        let blur = look.blur;
        (
            Source::Jpeg,
            format!("it is a JPEG file, and its edges are blurred by about {blur:.1} px"),
        )
    } else if is_jpeg {
        (Source::Jpeg, "it is a JPEG file".into())
    } else if look.is_noisy() {
        (Source::Noisy, format!("its flat parts vary by {:.1} %", 100.0 * look.far_noise))
    } else if look.rings() && look.blur < 0.6 {
        (Source::Jpeg, "it rings beside its edges as a JPEG does".into())
    } else if look.blur > 0.4 {
        (Source::Blurred, format!("its edges are blurred by about {:.1} px", look.blur))
    } else {
        (
            Source::Clean,
            format!(
                "{} % of its edge pixels are grey and its flat parts are clean",
                percent(look.between)
            ),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::depth::depths;

    fn looked_at(ink: impl Fn(usize, usize) -> f32) -> Look {
        let (width, height) = (96, 96);
        let data: Vec<f32> = (0..width * height).map(|i| ink(i % width, i / width)).collect();
        let side: Vec<bool> = data.iter().map(|f| *f > 0.5).collect();
        let depth = depths(&side, width, height);
        look(&Plane { width, height, data }, &depth)
    }

    #[test]
    fn a_faint_hairline_beside_an_edge_is_no_ringing() {
        // A square of ink whose sides fall between pixels.
        let square = |x: usize, y: usize| {
            let along = |v: usize| match v {
                30..=65 => 1.0,
                29 | 66 => 0.15,
                _ => 0.0,
            };
            along(x) * along(y)
        };
        // Too faint to be an edge itself: a line of a third of a pixel.
        let hairline = |x, y| if x == 22 && (40..46).contains(&y) { 0.3 } else { square(x, y) };
        let clean = looked_at(hairline);
        assert!(clean.near_noise > NEAR_NOISE, "the line is seen: {clean:?}");
        assert_eq!(propose(&clean, false).0, Source::Clean);
        // Ripples all along the edge, as large as a JPEG of quality 70 leaves.
        let rippled = |x: usize, y: usize| {
            let near = (20..76).contains(&x) && (20..76).contains(&y);
            let ripple = if near && x % 4 == 1 { 0.03 } else { 0.0 };
            if square(x, y) > 0.5 { square(x, y) - ripple } else { square(x, y) + ripple }
        };
        let damaged = looked_at(rippled);
        assert_eq!(propose(&damaged, false).0, Source::Jpeg, "{damaged:?}");
    }
}
