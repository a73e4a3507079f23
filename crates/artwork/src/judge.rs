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

/// Whether light was averaged rather than grey. The coverages that a row has from paper to ink
/// add up to where the edge lies, whatever the filter; from row to row it moves evenly, but by
/// jerks where the coverages are not what they seem.
fn is_linear_light(cover: &Plane) -> bool {
    let mut light = cover.clone();
    light.data.iter_mut().for_each(|f| *f = from_linear_light(*f));
    let (width, height) = (cover.width, cover.height);
    let (mut jerks, mut seen) = ([0.0; 2], 0);
    for (sum, plane) in jerks.iter_mut().zip([cover, &light]) {
        let rows: Vec<Vec<Crossing>> = (0..height).map(|y| crossings(plane.row(y))).collect();
        let column = |x: usize| -> Vec<f32> { (0..height).map(|y| plane.row(y)[x]).collect() };
        let columns: Vec<Vec<Crossing>> = (0..width).map(|x| crossings(&column(x))).collect();
        let (by_rows, by_columns) = (jerk(&rows), jerk(&columns));
        *sum = by_rows.0 + by_columns.0;
        seen = by_rows.1 + by_columns.1;
    }
    seen >= 100 && jerks[1] < 0.6 * jerks[0]
}

/// Where a row goes from flat paper to flat ink or back within a few pixels.
#[derive(Clone, Copy, Debug)]
struct Crossing {
    at: f32,
    to_ink: bool,
}

fn crossings(row: &[f32]) -> Vec<Crossing> {
    /// Flat pixels on either side: strokes not much wider would mix with what lies between.
    const RUN: usize = 4;
    let mut out = Vec::new();
    // Flat pixels up to here, on which side, and where those between begin.
    let (mut run, mut ink, mut from) = (0, false, None);
    for (x, f) in row.iter().enumerate() {
        if (0.015..=0.985).contains(f) {
            if run > 0 {
                from = (run >= RUN).then_some((x, ink));
            }
            run = 0;
            continue;
        }
        let full = *f > 0.5;
        if run > 0 && ink != full {
            // From one to the next without a pixel between.
            from = (run >= RUN).then_some((x, ink));
            run = 0;
        }
        (run, ink) = (run + 1, full);
        if run == RUN
            && let Some((start, before)) = from.take()
            && before != ink
        {
            let end = x + 1 - RUN;
            let covered: f32 = row[start..end].iter().sum();
            let at = if ink { end as f32 - covered } else { start as f32 + covered };
            if end - start <= 4 {
                out.push(Crossing { at, to_ink: ink });
            }
        }
    }
    out
}

/// How much crossings jerk over four rows, summed, and how many that was looked at for: third
/// differences, which neither a slant nor an even bend has.
fn jerk(rows: &[Vec<Crossing>]) -> (f32, usize) {
    /// Edges that run more along the rows than across are seen better the other way.
    const STEEP: f32 = 1.5;
    let (mut sum, mut seen) = (0.0, 0);
    for four in rows.windows(4) {
        for c in &four[0] {
            let mut at = [c.at; 4];
            let followed = (1..4).all(|i| {
                let near = |o: &&Crossing| o.to_ink == c.to_ink && (o.at - at[i - 1]).abs() < STEEP;
                four[i].iter().find(near).map(|o| at[i] = o.at).is_some()
            });
            if followed && (at[3] - at[0]).abs() > 0.1 {
                sum += (at[0] - 3.0 * at[1] + 3.0 * at[2] - at[3]).abs();
                seen += 1;
            }
        }
    }
    (sum, seen)
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

    /// How much of each pixel a ring covers, seen through a square or, where `wide`, a triangle
    /// twice as wide, as many scalers have it.
    fn ring(wide: bool) -> impl Fn(usize, usize) -> f32 {
        move |x, y| {
            let (mut sum, mut all) = (0.0, 0.0);
            for i in 0..64_u8 {
                for j in 0..64_u8 {
                    let [u, v] = [i, j].map(|k| (f32::from(k) + 0.5) / 32.0 - 1.0);
                    let weight = if wide {
                        (1.0 - u.abs()) * (1.0 - v.abs())
                    } else {
                        f32::from(u8::from(u.abs() < 0.5 && v.abs() < 0.5))
                    };
                    let r = (x as f32 + u - 47.3).hypot(y as f32 + v - 48.1);
                    sum += weight * f32::from(u8::from((20.0..38.0).contains(&r)));
                    all += weight;
                }
            }
            sum / all
        }
    }

    #[test]
    fn averaged_light_is_told_from_averaged_grey_whatever_the_filter() {
        for wide in [false, true] {
            let cover = ring(wide);
            assert!(!looked_at(&cover).linear_light, "grey, wide {wide}");
            let look = looked_at(|x, y| 1.0 - (1.0 - cover(x, y)).powf(1.0 / 2.2));
            assert!(look.linear_light, "light, wide {wide}: {look:?}");
        }
    }
}
