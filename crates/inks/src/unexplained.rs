use crate::Damage;
use crate::image::{Image, distance2, index, on_segment};
use crate::unmix::{NONE, in_triangle, nearness, pure};

/// How far each pixel is from the best mix of two of `inks`, and how far is too far.
pub(crate) fn residuals(image: &Image, damage: Damage, inks: &[[f32; 3]]) -> (Vec<f32>, f32) {
    let limit = match damage {
        Damage::Clean => 14.0,
        Damage::Noisy(sigma) => (4.0 * sigma).max(14.0),
        Damage::Jpeg => 40.0,
    };
    (image.pixels.iter().map(|p| residual(*p, inks)).collect(), limit)
}

/// Which inks are plainly there about each pixel.
struct Meet<'a> {
    inks: &'a [[f32; 3]],
    pure: Vec<u8>,
    width: usize,
    height: usize,
}

impl<'a> Meet<'a> {
    fn new(image: &Image, damage: Damage, inks: &'a [[f32; 3]]) -> Self {
        let (width, height) = (image.width, image.height);
        Self {
            inks,
            pure: pure(width, height, &image.pixels, inks, nearness(damage)),
            width,
            height,
        }
    }

    /// How far a colour is from the best mix of up to three inks that lie within `reach` pixels.
    fn residual(&self, i: usize, p: [f32; 3], reach: isize) -> f32 {
        let inks = self.inks;
        let (x, y) = ((i % self.width) as isize, (i / self.width) as isize);
        let mut near = vec![false; inks.len()];
        for dy in -reach..=reach {
            for dx in -reach..=reach {
                let k = self.pure[index(self.width, self.height, x + dx, y + dy)];
                if k != NONE {
                    near[k as usize] = true;
                }
            }
        }
        let near: Vec<_> =
            inks.iter().zip(near).filter(|(_, near)| *near).map(|(ink, _)| *ink).collect();
        let mut least = if near.is_empty() { f32::MAX } else { residual(p, &near).powi(2) };
        for (a, ink_a) in near.iter().enumerate() {
            for (b, ink_b) in near.iter().enumerate().skip(a + 1) {
                for ink_c in &near[b + 1..] {
                    if let Some((_, _, d2)) = in_triangle(p, *ink_a, *ink_b, *ink_c) {
                        least = least.min(d2);
                    }
                }
            }
        }
        least.sqrt()
    }
}

/// A blob of pixels that wants an ink of its own.
pub(crate) struct Blob {
    pub(crate) pixels: Vec<usize>,
    pub(crate) colour: [f32; 3],
}

/// The plainest blob of pixels whose `rest` is above `limit`, and `least` in all: a dot or
/// line too small to have a flat patch. None when every pixel is explained.
pub(crate) fn unexplained(
    rest: &[f32],
    (limit, least): (f32, f32),
    colours: &Image,
    damage: Damage,
    inks: &[[f32; 3]],
) -> Option<Blob> {
    let meet = Meet::new(colours, damage, inks);
    let mixed = match damage {
        Damage::Clean => 14.0,
        Damage::Noisy(sigma) => (4.0 * sigma).max(14.0),
        Damage::Jpeg => 28.0,
    };
    let (w, h) = (colours.width, colours.height);
    let around = |i: usize| {
        let (x, y) = ((i % w) as isize, (i / w) as isize);
        let at = |k: isize| rest[index(w, h, x + k % 3 - 1, y + k / 3 - 1)];
        (0..9).map(at).sum::<f32>() / 9.0
    };
    let high: Vec<bool> = rest.iter().map(|r| *r > limit).collect();
    let mut seen = vec![false; high.len()];
    let mut best: Option<(f32, Blob)> = None;
    for start in 0..high.len() {
        if !high[start] || seen[start] {
            continue;
        }
        let blob = blob(&high, &mut seen, w, h, start);
        let total: f32 = blob.iter().map(|&i| rest[i]).sum();
        let Some(&peak) = blob.iter().max_by(|&&a, &&b| around(a).total_cmp(&around(b))) else {
            continue;
        };
        let solid = blob.len() >= 4 && around(peak) > 0.75 * limit && total > least;
        if !solid {
            continue;
        }
        // In a sliver where three inks meet, or along a rim, the colours about it explain the
        // blob after all. Neither is so wide that it has an inside.
        let inside = |i: usize| {
            (0..9).all(|k| {
                let (x, y) = ((i % w) as isize, (i / w) as isize);
                high[index(w, h, x + k % 3 - 1, y + k / 3 - 1)]
            })
        };
        // A sliver's own ink may be plain only far along it.
        let reach = if blob.len() <= 12 { 24 } else { 8 };
        let explained =
            blob.iter().filter(|i| meet.residual(**i, colours.pixels[**i], reach) < mixed).count();
        if 2 * explained > blob.len() && !blob.iter().any(|i| inside(*i)) {
            continue;
        }
        if best.as_ref().is_none_or(|(most, _)| total > *most) {
            let peak =
                blob.iter().copied().max_by(|&a, &b| rest[a].total_cmp(&rest[b])).unwrap_or(start);
            best = Some((total, Blob { colour: colours.pixels[peak], pixels: blob }));
        }
    }
    best.map(|(_, blob)| blob)
}

/// How far a colour is from the best mix of any two inks.
fn residual(p: [f32; 3], inks: &[[f32; 3]]) -> f32 {
    let mut least = f32::MAX;
    for (i, a) in inks.iter().enumerate() {
        least = least.min(distance2(p, *a));
        for b in &inks[i + 1..] {
            least = least.min(on_segment(p, *a, *b).1);
        }
    }
    least.sqrt()
}

/// The pixels joined to `start`, sides and corners.
fn blob(high: &[bool], seen: &mut [bool], w: usize, h: usize, start: usize) -> Vec<usize> {
    let mut found = vec![start];
    seen[start] = true;
    let mut next = 0;
    while next < found.len() {
        let (x, y) = ((found[next] % w) as isize, (found[next] / w) as isize);
        next += 1;
        for dy in -1..=1 {
            for dx in -1..=1 {
                let i = index(w, h, x + dx, y + dy);
                if high[i] && !seen[i] {
                    seen[i] = true;
                    found.push(i);
                }
            }
        }
    }
    found
}
