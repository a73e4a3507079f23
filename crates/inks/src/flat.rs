use crate::Damage;
use crate::image::{Image, distance2};
use rayon::prelude::*;

/// The picture with its damage calmed, for finding colours in; edges are made from the
/// picture itself.
pub(crate) fn calmed(image: &Image, damage: Damage) -> Image {
    match damage {
        Damage::Clean => image.clone(),
        Damage::Noisy(sigma) => bilateral(image, sigma),
        Damage::Jpeg => image.map(|x, y| {
            let mut out = [0.0; 3];
            for (channel, out) in out.iter_mut().enumerate() {
                let mut around = [0.0; 9];
                for (i, v) in around.iter_mut().enumerate() {
                    *v = image.at(x + i as isize % 3 - 1, y + i as isize / 3 - 1)[channel];
                }
                around.sort_unstable_by(f32::total_cmp);
                *out = around[4];
            }
            out
        }),
    }
}

/// Which pixels of a calmed picture lie in a flat patch of 3 x 3.
pub(crate) fn flat(calm: &Image, damage: Damage) -> Vec<bool> {
    let tolerance = match damage {
        Damage::Clean => 4.0,
        Damage::Noisy(sigma) => (2.2 * sigma).max(6.0),
        Damage::Jpeg => 10.0_f32,
    };
    let (w, h) = (calm.width as isize, calm.height as isize);
    let near = |x: isize, y: isize| {
        let middle = calm.at(x, y);
        (-1..=1).all(|dy| {
            (-1..=1).all(|dx| distance2(calm.at(x + dx, y + dy), middle) < tolerance * tolerance)
        })
    };
    (0..h).flat_map(|y| (0..w).map(move |x| (x, y))).map(|(x, y)| near(x, y)).collect()
}

/// A bilateral filter (Tomasi, Manduchi 1998): the mean of those around that look alike.
/// Run twice, so that the second pass judges likeness by the first's calmer colours.
fn bilateral(image: &Image, sigma: f32) -> Image {
    let first = weigh(image, image, 4.5 * sigma);
    weigh(image, &first, 2.2 * sigma)
}

fn weigh(image: &Image, guide: &Image, range: f32) -> Image {
    let (w, h) = (image.width as isize, image.height as isize);
    let near: Vec<(isize, isize, f32)> = (-3..=3_isize)
        .flat_map(|dy| (-3..=3_isize).map(move |dx| (dx, dy)))
        .map(|(dx, dy)| (dx, dy, (-((dx * dx + dy * dy) as f32) / (2.0 * 1.8 * 1.8)).exp()))
        .collect();
    let pixels = (0..h)
        .into_par_iter()
        .flat_map_iter(|y| {
            let near = &near;
            (0..w).map(move |x| {
                let middle = guide.at(x, y);
                let mut total = 0.0;
                let mut sum = [0.0; 3];
                for &(dx, dy, weight) in near {
                    let unlike = distance2(guide.at(x + dx, y + dy), middle);
                    let weight = weight * (-unlike / (2.0 * range * range)).exp();
                    let p = image.at(x + dx, y + dy);
                    total += weight;
                    for c in 0..3 {
                        sum[c] += weight * p[c];
                    }
                }
                sum.map(|v| v / total)
            })
        })
        .collect();
    Image { width: image.width, height: image.height, pixels }
}
