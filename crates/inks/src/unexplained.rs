use crate::Damage;
use crate::image::{Image, distance2, index, on_segment};

/// A colour that no mix of two of `inks` explains: a dot or line too small to have a flat
/// patch. None when every pixel is explained.
pub(crate) fn unexplained(image: &Image, calm: &Image, damage: Damage, inks: &[[f32; 3]]) -> Option<[f32; 3]> {
    let limit = match damage {
        Damage::Clean => 14.0,
        Damage::Noisy(sigma) => (4.0 * sigma).max(14.0),
        Damage::Jpeg => 28.0,
    };
    let (w, h) = (image.width, image.height);
    let rest: Vec<f32> = image.pixels.iter().map(|p| residual(*p, inks)).collect();
    let around = |i: usize| {
        let (x, y) = ((i % w) as isize, (i / w) as isize);
        let at = |k: isize| rest[index(w, h, x + k % 3 - 1, y + k / 3 - 1)];
        (0..9).map(at).sum::<f32>() / 9.0
    };
    let high: Vec<bool> = rest.iter().map(|r| *r > limit).collect();
    let mut seen = vec![false; high.len()];
    let mut best: Option<(f32, [f32; 3])> = None;
    for start in 0..high.len() {
        if !high[start] || seen[start] {
            continue;
        }
        let blob = blob(&high, &mut seen, w, h, start);
        let total: f32 = blob.iter().map(|&i| rest[i]).sum();
        let Some(&peak) = blob.iter().max_by(|&&a, &&b| around(a).total_cmp(&around(b))) else { continue };
        let solid = blob.len() >= 4 && around(peak) > 0.75 * limit;
        if solid && best.is_none_or(|(most, _)| total > most) {
            let source = if damage == Damage::Clean { image } else { calm };
            let peak = blob.iter().copied().max_by(|&a, &b| {
                residual(source.pixels[a], inks).total_cmp(&residual(source.pixels[b], inks))
            });
            best = peak.map(|peak| (total, source.pixels[peak]));
        }
    }
    best.map(|(_, colour)| colour)
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
