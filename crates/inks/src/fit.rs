use crate::Damage;
use crate::band::Band;
use crate::cover::{Cover, blur};
use crate::image::Image;
use crate::jpeg::Fit;
use artwork::JpegPlane;
use progress::{Cancelled, Progress};

/// Level functions whose greatest, cut at any size, covers each pixel as measured, and
/// the coverage that they give.
///
/// Many labels as in Vese and Chan 2002; the coverage constraint is solved by iterative
/// back-projection, kept smooth by a little curvature motion.
pub(crate) fn fit(
    measured: &Cover,
    damage: Damage,
    progress: &Progress,
) -> Result<(Cover, Cover), Cancelled> {
    let (rounds, step, mu, soften) = match damage {
        Damage::Clean => (8, 1.0, 0.06, None),
        Damage::Noisy(_) | Damage::Jpeg => (12, 0.8, 0.08, Some(0.8)),
    };
    let band = Band::of(measured);
    let mut levels = measured.clone();
    for _ in 0..rounds {
        progress.check()?;
        let got = band.coverage(&levels);
        let mut rest = Cover::new(measured.width, measured.height, measured.inks);
        for (pixel, inks, range) in band.iter() {
            for (k, got) in inks.iter().zip(&got[range]) {
                let k = *k as usize;
                rest.plane_mut(k)[pixel] = measured.plane(k)[pixel] - got;
            }
        }
        if let Some(sigma) = soften {
            for k in 0..rest.inks {
                blur(rest.plane_mut(k), measured.width, measured.height, sigma);
            }
        }
        for (pixel, inks, _) in band.iter() {
            for k in inks.iter().map(|k| *k as usize) {
                levels.plane_mut(k)[pixel] += step * rest.plane(k)[pixel];
            }
        }
        band.shorten(&mut levels, mu);
    }
    let mut cover = measured.clone();
    band.put(&band.coverage(&levels), &mut cover);
    Ok((levels, cover))
}

/// The same for art whose JPEG coefficients are known: the film's edges, put through the
/// same JPEG, must fall into the same steps (Zakhor 1992, for labels instead of pixels).
pub(crate) fn fit_jpeg(
    measured: &Cover,
    image: &Image,
    inks: &[[f32; 3]],
    file: &[JpegPlane],
    rounds: usize,
    progress: &Progress,
) -> Result<(Cover, Cover), Cancelled> {
    let band = Band::of(measured);
    let mut levels = measured.blurred(0.7);
    let mut cover = measured.clone();
    let colours: Vec<[f32; 3]> = inks.iter().map(|p| crate::jpeg::ycc(*p)).collect();
    let fit = Fit::new(file, image.width, image.height).only(band.iter().map(|(pixel, ..)| pixel));
    let mut made = mix(measured, &colours);
    for round in 0..=rounds {
        progress.check()?;
        band.put(&band.coverage(&levels), &mut cover);
        if round == rounds {
            break;
        }
        for (pixel, near, _) in band.iter() {
            for (c, made) in made.iter_mut().enumerate() {
                made[pixel] = near
                    .iter()
                    .map(|k| cover.plane(*k as usize)[pixel] * colours[*k as usize][c])
                    .sum();
            }
        }
        let rest = fit.residual(&made);
        for (pixel, near, _) in band.iter() {
            let Some((a, b)) = top_two(&levels, near, pixel) else { continue };
            let weigh = |p: [f32; 3], q: [f32; 3]| p[0] * q[0] + 0.1 * (p[1] * q[1] + p[2] * q[2]);
            let apart = crate::image::sub(colours[a], colours[b]);
            let r = [0, 1, 2].map(|c| rest[c][pixel]);
            let d = (weigh(apart, r) / (weigh(apart, apart) + 25.0)).clamp(-0.5, 0.5);
            levels.plane_mut(a)[pixel] += 0.8 * d;
            levels.plane_mut(b)[pixel] -= 0.8 * d;
        }
        band.shorten(&mut levels, 0.08);
    }
    Ok((levels, cover))
}

/// The two inks with the greatest levels.
fn top_two(levels: &Cover, near: &[u8], pixel: usize) -> Option<(usize, usize)> {
    let level = |k: usize| levels.plane(k)[pixel];
    let mut top: Option<usize> = None;
    let mut second: Option<usize> = None;
    for k in near.iter().map(|k| *k as usize) {
        if top.is_none_or(|t| level(k) > level(t)) {
            second = top;
            top = Some(k);
        } else if second.is_none_or(|s| level(k) > level(s)) {
            second = Some(k);
        }
    }
    top.zip(second)
}

/// The picture that inks of these colours would make.
pub(crate) fn mix(cover: &Cover, colours: &[[f32; 3]]) -> [Vec<f32>; 3] {
    let mut out = [0, 1, 2].map(|_| vec![0.0; cover.width * cover.height]);
    for (k, colour) in colours.iter().enumerate() {
        for (i, share) in cover.plane(k).iter().enumerate().filter(|(_, s)| **s != 0.0) {
            for c in 0..3 {
                out[c][i] += share * colour[c];
            }
        }
    }
    out
}

/// The inks' colours that best explain the picture, given what each covers: least squares,
/// held to the colours so far by a ridge of two pixels.
pub(crate) fn recolour(
    image: &Image,
    cover: &Cover,
    damage: Damage,
    file: Option<&[JpegPlane]>,
    inks: &[[f32; 3]],
) -> Vec<[f32; 3]> {
    if damage != Damage::Jpeg {
        return solve(image, cover, inks);
    }
    let mut colours: Vec<_> = inks.iter().map(|p| crate::jpeg::ycc(*p)).collect();
    if let Some(file) = file {
        let fit = Fit::new(file, image.width, image.height);
        for c in 0..3 {
            let values: Vec<f32> = colours.iter().map(|p| p[c]).collect();
            let solved = fit.solve(c, cover, &values);
            colours.iter_mut().zip(solved).for_each(|(p, v)| p[c] = v);
        }
    } else {
        // Colour differences are kept on a grid of half the size, so they are solved there.
        let ycc = image.map(|x, y| crate::jpeg::ycc(image.at(x, y)));
        let bright = solve(&ycc, cover, &colours);
        let chroma = solve(&halved_image(&ycc), &halved_cover(cover), &colours);
        colours = bright.iter().zip(chroma).map(|(y, c)| [y[0], c[1], c[2]]).collect();
    }
    colours.into_iter().map(crate::jpeg::rgb).collect()
}

fn solve(image: &Image, cover: &Cover, inks: &[[f32; 3]]) -> Vec<[f32; 3]> {
    const RIDGE: f64 = 2.0;
    let n = inks.len();
    let mut normal = vec![vec![0_f64; n]; n];
    let mut pull = [0, 1, 2].map(|_| vec![0_f64; n]);
    for (i, p) in image.pixels.iter().enumerate() {
        let shares: Vec<(usize, f32)> =
            (0..n).map(|k| (k, cover.plane(k)[i])).filter(|(_, s)| *s > 1e-4).collect();
        let mut rest = *p;
        for (k, s) in &shares {
            for c in 0..3 {
                rest[c] -= s * inks[*k][c];
            }
        }
        for (k, s) in &shares {
            for (l, t) in &shares {
                normal[*k][*l] += f64::from(s * t);
            }
            for c in 0..3 {
                pull[c][*k] += f64::from(s * rest[c]);
            }
        }
    }
    (0..n).for_each(|k| normal[k][k] += RIDGE);
    let steps = pull.map(|pull| eliminate(&normal, &pull));
    inks.iter()
        .enumerate()
        .map(|(k, ink)| [0, 1, 2].map(|c| (ink[c] + steps[c][k] as f32).clamp(0.0, 255.0)))
        .collect()
}

/// Solves a symmetric, positive definite system, which needs no pivoting.
pub(crate) fn eliminate(matrix: &[Vec<f64>], right: &[f64]) -> Vec<f64> {
    let n = right.len();
    let mut rows: Vec<Vec<f64>> = matrix
        .iter()
        .zip(right)
        .map(|(row, v)| row.iter().copied().chain([*v]).collect())
        .collect();
    for k in 0..n {
        let pivot = rows[k].clone();
        for (_, row) in rows.iter_mut().enumerate().filter(|(l, _)| *l != k) {
            let ratio = row[k] / pivot[k];
            for (v, p) in row.iter_mut().zip(&pivot).skip(k) {
                *v -= ratio * p;
            }
        }
    }
    rows.iter().enumerate().map(|(k, row)| row[n] / row[k]).collect()
}

fn halved_image(image: &Image) -> Image {
    let (width, height) = ((image.width / 2).max(1), (image.height / 2).max(1));
    let half = Image { width, height, pixels: vec![[0.0; 3]; width * height] };
    half.map(|x, y| {
        let at = |dx, dy| image.at(2 * x + dx, 2 * y + dy);
        let four = [at(0, 0), at(1, 0), at(0, 1), at(1, 1)];
        [0, 1, 2].map(|c| four.iter().map(|p| p[c]).sum::<f32>() / 4.0)
    })
}

fn halved_cover(cover: &Cover) -> Cover {
    let (w, h) = (cover.width, cover.height);
    let mut half = Cover::new((w / 2).max(1), (h / 2).max(1), cover.inks);
    for k in 0..cover.inks {
        let width = half.width as isize;
        let plane = cover.plane(k);
        for (i, v) in half.plane_mut(k).iter_mut().enumerate() {
            let (x, y) = (i as isize % width * 2, i as isize / width * 2);
            let at = |dx, dy| plane[crate::image::index(w, h, x + dx, y + dy)];
            *v = (at(0, 0) + at(1, 0) + at(0, 1) + at(1, 1)) / 4.0;
        }
    }
    half
}
