use crate::image::{Image, distance2, dot, index, sub};
use crate::{Damage, cover::Cover};
use rayon::prelude::*;

/// How much of each pixel each ink covers, judged from the pixel's colour and from which
/// inks lie about it: the mix of one, two or three inks that explains the colour best,
/// where each further ink, and each ink not seen near, must earn its place.
pub(crate) fn unmix(image: &Image, damage: Damage, inks: &[[f32; 3]]) -> Cover {
    // JPEG keeps brightness far better than colour, so colour differences count little.
    let space = if damage == Damage::Jpeg { dim_chroma } else { |p| p };
    let (near, spread) = (
        nearness(damage),
        match damage {
            Damage::Clean => 2.0,
            Damage::Noisy(sigma) => (1.17 * sigma).max(2.0),
            Damage::Jpeg => 14.0,
        },
    );
    let pixels: Vec<[f32; 3]> = image.pixels.iter().map(|p| space(*p)).collect();
    let inks: Vec<[f32; 3]> = inks.iter().map(|p| space(*p)).collect();
    let pure = pure(image.width, image.height, &pixels, &inks, near);
    let (w, h) = (image.width, image.height);
    let mut cover = Cover::new(w, h, inks.len());
    let rows: Vec<Vec<(usize, usize, f32)>> = (0..h)
        .into_par_iter()
        .map(|y| {
            let mut out = Vec::new();
            for x in 0..w {
                let i = y * w + x;
                if pure[i] != NONE {
                    out.push((pure[i] as usize, i, 1.0));
                    continue;
                }
                let locals = locals(&pure, w, h, x as isize, y as isize, inks.len());
                for (k, share) in best_mix(pixels[i], &inks, &locals, spread) {
                    if share > 0.0 {
                        out.push((k, i, share));
                    }
                }
            }
            out
        })
        .collect();
    for (k, i, share) in rows.into_iter().flatten() {
        cover.plane_mut(k)[i] = share;
    }
    cover
}

/// How near to an ink's colour a pixel that is all of that ink may be.
pub(crate) fn nearness(damage: Damage) -> f32 {
    match damage {
        Damage::Clean => 6.0,
        Damage::Noisy(sigma) => (3.5 * sigma).max(6.0),
        Damage::Jpeg => 12.0,
    }
}

/// JPEG's brightness and colour differences (ITU-T T.871), the latter at a fifth.
fn dim_chroma(p: [f32; 3]) -> [f32; 3] {
    let [y, cb, cr] = crate::jpeg::ycc(p);
    [y, 0.2 * cb, 0.2 * cr]
}

pub(crate) const NONE: u8 = u8::MAX;

/// The ink of each pixel that is plainly one ink: near its colour, and so are its neighbours.
pub(crate) fn pure(
    w: usize,
    h: usize,
    pixels: &[[f32; 3]],
    inks: &[[f32; 3]],
    near: f32,
) -> Vec<u8> {
    let nearest: Vec<u8> = pixels
        .iter()
        .map(|p| {
            let mut best = (near * near, NONE);
            for (k, ink) in inks.iter().enumerate() {
                let d = distance2(*p, *ink);
                if d < best.0 {
                    best = (d, k as u8);
                }
            }
            best.1
        })
        .collect();
    (0..nearest.len())
        .map(|i| {
            let (x, y) = ((i % w) as isize, (i / w) as isize);
            let mut same = 0;
            for dy in -1..=1 {
                for dx in -1..=1 {
                    same += usize::from(nearest[index(w, h, x + dx, y + dy)] == nearest[i]);
                }
            }
            // The pixel itself was counted too.
            if same > 5 { nearest[i] } else { NONE }
        })
        .collect()
}

/// Which inks are pure within two pixels, or within three where fewer than two are.
fn locals(pure: &[u8], w: usize, h: usize, x: isize, y: isize, count: usize) -> Vec<bool> {
    let mut local = vec![false; count];
    for reach in [2, 3] {
        for dy in -reach..=reach {
            for dx in -reach..=reach {
                let k = pure[index(w, h, x + dx, y + dy)];
                if k != NONE {
                    local[k as usize] = true;
                }
            }
        }
        if local.iter().filter(|l| **l).count() >= 2 {
            break;
        }
    }
    local
}

/// The cost of a second ink, of a third, and of each ink not seen near.
const PAIR: f32 = 1.0;
const TRIPLE: f32 = 4.0;
const STRANGER: f32 = 20.0;

fn best_mix(p: [f32; 3], inks: &[[f32; 3]], local: &[bool], spread: f32) -> [(usize, f32); 3] {
    let scale = 1.0 / (spread * spread);
    let stranger = |k: usize| if local[k] { 0.0 } else { STRANGER };
    let mut best = (f32::MAX, [(0, 0.0); 3]);
    let mut offer = |cost: f32, mix: [(usize, f32); 3]| {
        if cost < best.0 {
            best = (cost, mix);
        }
    };
    for (a, ink_a) in inks.iter().enumerate() {
        offer(distance2(p, *ink_a) * scale + stranger(a), [(a, 1.0), (0, 0.0), (0, 0.0)]);
        for (b, ink_b) in inks.iter().enumerate().skip(a + 1) {
            let (t, d2) = crate::image::on_segment(p, *ink_a, *ink_b);
            let cost = d2 * scale + PAIR + stranger(a) + stranger(b);
            offer(cost, [(a, t), (b, 1.0 - t), (0, 0.0)]);
            if !local[a] || !local[b] {
                continue;
            }
            for c in (b + 1..inks.len()).filter(|c| local[*c]) {
                if let Some((s, t, d2)) = in_triangle(p, *ink_a, *ink_b, inks[c]) {
                    offer(d2 * scale + TRIPLE, [(a, s), (b, t), (c, 1.0 - s - t)]);
                }
            }
        }
    }
    best.1
}

/// The shares of `a` and `b` in the mix of three nearest to `p`, where it lies among them.
pub(crate) fn in_triangle(
    p: [f32; 3],
    a: [f32; 3],
    b: [f32; 3],
    c: [f32; 3],
) -> Option<(f32, f32, f32)> {
    let (u, v, q) = (sub(a, c), sub(b, c), sub(p, c));
    let (uu, uv, vv, uq, vq) = (dot(u, u), dot(u, v), dot(v, v), dot(u, q), dot(v, q));
    let det = uu * vv - uv * uv;
    if det < 1e-3 * uu * vv {
        return None;
    }
    let (s, t) = ((uq * vv - vq * uv) / det, (vq * uu - uq * uv) / det);
    if s < 0.0 || t < 0.0 || s + t > 1.0 {
        return None;
    }
    let rest = [0, 1, 2].map(|i| q[i] - s * u[i] - t * v[i]);
    Some((s, t, dot(rest, rest)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mix_of_near_inks_is_read_back() {
        let inks = [[255.0, 0.0, 0.0], [0.0, 255.0, 0.0], [0.0, 0.0, 255.0], [128.0, 128.0, 0.0]];
        let local = [true, true, true, false];
        // Half red, half green is also the fourth ink's colour, but that ink is not near.
        let mix = best_mix([127.5, 127.5, 0.0], &inks, &local, 2.0);
        assert!((mix[0].1 - 0.5).abs() < 1e-3 && mix[0].0 == 0 && mix[1].0 == 1, "{mix:?}");
        let mix = best_mix([51.0, 102.0, 102.0], &inks, &local, 2.0);
        for ((_, share), expected) in mix.iter().zip([0.2, 0.4, 0.4]) {
            assert!((share - expected).abs() < 1e-3, "{mix:?}");
        }
    }
}
