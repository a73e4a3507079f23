use crate::Damage;
use crate::fit::{fit, fit_jpeg, mix, recolour};
use crate::image::{Image, distance2};
use crate::jpeg::Fit;
use crate::modes::modes;
use crate::unexplained::{Blob, residuals, unexplained};
use crate::unmix::unmix;
use crate::{InksError, MAX_INKS};
use artwork::JpegPlane;
use progress::Progress;

/// The colours that a picture is made of, the garment's first.
pub(crate) fn find(
    image: &Image,
    calm: &Image,
    damage: Damage,
    file: Option<&[JpegPlane]>,
    progress: &Progress,
) -> Result<Vec<[f32; 3]>, InksError> {
    let modes = modes(image, calm, damage);
    let mut inks: Vec<[f32; 3]> = modes.iter().map(|m| unclipped(m.rgb, damage)).collect();
    if inks.is_empty() {
        inks.push(calm.pixels[0]);
    }
    inks.truncate(MAX_INKS + 1);
    let firm = inks.len();
    let mut settled = vec![false; image.pixels.len()];
    let mut before: Option<(Vec<f32>, Blob)> = None;
    for _ in 0..MAX_INKS {
        progress.check()?;
        let (mut rest, limits) = match file {
            Some(file) => {
                (unfitted(image, file, &mut inks, firm, progress)?, (LEAST, 25.0 * LEAST))
            }
            None => {
                let (rest, limit) = residuals(image, damage, &inks);
                (rest, (limit, 4.0 * limit))
            }
        };
        if let Some((old, blob)) = before.take() {
            // An ink that explains little of the blob it came from is not what was missing.
            let total = |rest: &[f32]| blob.pixels.iter().map(|i| rest[*i]).sum::<f32>();
            if total(&rest) > 0.6 * total(&old) {
                inks.pop();
                blob.pixels.iter().for_each(|i| settled[*i] = true);
                rest = old;
            }
        }
        rest.iter_mut()
            .zip(&settled)
            .filter(|(_, settled)| **settled)
            .for_each(|(rest, _)| *rest = 0.0);
        let colours = if damage == Damage::Clean { image } else { calm };
        let blob = unexplained(&rest, limits, colours, damage, &inks);
        let Some(blob) = blob.filter(|_| inks.len() <= MAX_INKS) else { break };
        inks.push(blob.colour);
        before = Some((rest, blob));
    }
    // Colours seen in flat patches are known exactly where the art is clean.
    if damage != Damage::Clean || inks.len() > firm {
        let measured = unmix(image, damage, &inks);
        let (_, cover) = match file {
            Some(file) => fit_jpeg(&measured, image, &inks, file, 12, progress)?,
            None => fit(&measured, damage, progress)?,
        };
        let solved = recolour(image, &cover, damage, file, &inks);
        for (k, colour) in solved.into_iter().enumerate() {
            if k >= firm || damage == Damage::Jpeg {
                inks[k] = colour;
            }
        }
    }
    Ok(inks)
}

/// How far edges fitted with these inks are from what a JPEG's file allows. Inks past the
/// `firm` first are given the colour that agrees best.
fn unfitted(
    image: &Image,
    file: &[JpegPlane],
    inks: &mut [[f32; 3]],
    firm: usize,
    progress: &Progress,
) -> Result<Vec<f32>, InksError> {
    let measured = unmix(image, Damage::Jpeg, inks);
    let (_, cover) = fit_jpeg(&measured, image, inks, file, 8, progress)?;
    if inks.len() > firm {
        let solved = recolour(image, &cover, Damage::Jpeg, Some(file), inks);
        inks[firm..].copy_from_slice(&solved[firm..]);
    }
    let fit = Fit::new(file, image.width, image.height);
    let made = mix(&cover, &inks.iter().map(|p| crate::jpeg::ycc(*p)).collect::<Vec<_>>());
    let [bright, blue, red] = [0, 1, 2].map(|c| fit.plane(c, &made[c]));
    Ok((0..bright.len()).map(|i| bright[i].abs().max(0.5 * blue[i].hypot(red[i]))).collect())
}

/// Brightness this far outside what a JPEG allows wants a new ink.
const LEAST: f32 = 12.0;

/// Noise that is clipped at black or white moves the mean inwards; this moves it back.
fn unclipped(rgb: [f32; 3], damage: Damage) -> [f32; 3] {
    let Damage::Noisy(sigma) = damage else { return rgb };
    rgb.map(|v| if v > 127.5 { 255.0 - unclip(255.0 - v, sigma) } else { unclip(v, sigma) })
}

/// The mean of a normal distribution whose part below nought was moved to nought, leaving
/// the mean `seen`: E[max(X, 0)] = m cdf(m/s) + s pdf(m/s), solved for m of at least 0.
fn unclip(seen: f32, sigma: f32) -> f32 {
    let expected = |m: f32| {
        let z = m / sigma;
        let pdf = (-z * z / 2.0).exp() / std::f32::consts::TAU.sqrt();
        // The cumulative distribution by its logistic approximation, good to 2e-4 (Page 1977).
        let cdf = 1.0
            / (1.0
                + (-2.0 * (2.0 / std::f32::consts::PI).sqrt() * (z + 0.044_715 * z * z * z)).exp());
        m * cdf + sigma * pdf
    };
    if seen > 3.0 * sigma {
        return seen;
    }
    let (mut low, mut high) = (0.0, seen);
    for _ in 0..30 {
        let middle = (low + high) / 2.0;
        if expected(middle) < seen { low = middle } else { high = middle }
    }
    low
}

/// Which colour lies most along the picture's rim: the garment.
pub(crate) fn garment(calm: &Image, inks: &[[f32; 3]]) -> usize {
    let mut votes = vec![0_u32; inks.len()];
    let (w, h) = (calm.width, calm.height);
    for (i, p) in calm.pixels.iter().enumerate() {
        let (x, y) = (i % w, i / w);
        if x == 0 || y == 0 || x + 1 == w || y + 1 == h {
            votes[nearest(*p, inks)] += 1;
        }
    }
    (0..inks.len()).rev().max_by_key(|k| votes[*k]).unwrap_or(0)
}

pub(crate) fn nearest(p: [f32; 3], inks: &[[f32; 3]]) -> usize {
    let by = |k: &usize| distance2(p, inks[*k]);
    (0..inks.len()).min_by(|a, b| by(a).total_cmp(&by(b))).unwrap_or(0)
}

/// Leaves the `count` inks, besides the garment's, that matter most: again and again the
/// ink whose area changes least when its nearest neighbour takes it goes.
pub(crate) fn keep(inks: &mut Vec<[f32; 3]>, calm: &Image, count: usize) {
    while inks.len() > count + 1 {
        let mut loss = vec![0.0_f64; inks.len()];
        for p in &calm.pixels {
            let k = nearest(*p, inks);
            let other =
                inks.iter().enumerate().filter(|(j, _)| *j != k).map(|(_, q)| distance2(*p, *q));
            loss[k] += f64::from(other.fold(f32::MAX, f32::min) - distance2(*p, inks[k]));
        }
        let least = (1..inks.len()).min_by(|a, b| loss[*a].total_cmp(&loss[*b])).unwrap_or(1);
        inks.remove(least);
    }
}
