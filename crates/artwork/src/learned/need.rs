//! Which pixels the network must be asked about: all near an edge. Elsewhere the picture is
//! flat, and enlarging it smoothly gives the same film.

use super::model::REACHES;

/// Shares that differ by more than this within two pixels may hold an edge.
const CONTRAST: f32 = 0.1;
/// So may shares this near the middle.
const MIDDLE: f32 = 0.15;

/// Marks the pixels of a square tile of `side` whose output is needed: those of `share` with an
/// edge within two pixels.
pub(crate) fn near_edges(share: &[f32], side: usize) -> Vec<bool> {
    let (mut low, mut high) = (share.to_vec(), share.to_vec());
    spread(&mut low, side, 2, f32::min);
    spread(&mut high, side, 2, f32::max);
    let edge = |(low, high): (&f32, &f32)| {
        high - low > CONTRAST || (*high > 0.5 - MIDDLE && *low < 0.5 + MIDDLE)
    };
    let mut out: Vec<bool> = low.iter().zip(&high).map(edge).collect();
    spread(&mut out, side, 2, |a, b| a || b);
    out
}

/// For each layer, which pixels it must compute so that the last gives what is needed.
pub(crate) fn by_layer(needed: Vec<bool>, side: usize) -> Vec<Vec<bool>> {
    let mut out = vec![needed];
    for reach in REACHES.iter().skip(1).rev() {
        let mut before = out[out.len() - 1].clone();
        spread(&mut before, side, *reach, |a, b| a || b);
        out.push(before);
    }
    out.reverse();
    out
}

/// Gives every pixel the least, greatest or any of the square of pixels within `reach`.
fn spread<T: Copy>(map: &mut [T], side: usize, reach: usize, join: impl Fn(T, T) -> T) {
    let mut line = Vec::with_capacity(side);
    for (lines, step, next) in [(side, 1, side), (side, side, 1)] {
        for l in 0..lines {
            line.clear();
            line.extend((0..side).map(|i| map[l * next + i * step]));
            for i in 0..side {
                let (from, to) = (i.saturating_sub(reach), (i + reach).min(side - 1));
                let joined = line[from + 1..=to].iter().fold(line[from], |a, b| join(a, *b));
                map[l * next + i * step] = joined;
            }
        }
    }
}

/// The runs of needed pixels in columns `from..to` of a row; runs a few pixels apart are one.
pub(crate) fn runs(row: &[bool], from: usize, to: usize) -> Vec<(usize, usize)> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    let mut x = from;
    while x < to {
        if row[x] {
            let start = x;
            while x < to && row[x] {
                x += 1;
            }
            match out.last_mut() {
                Some(last) if start - last.1 < 4 => last.1 = x,
                _ => out.push((start, x)),
            }
        } else {
            x += 1;
        }
    }
    out
}
