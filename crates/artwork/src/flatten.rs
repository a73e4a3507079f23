//! Flattening: a photographed or faded drawing as if lit evenly on white paper.

use crate::fit::blurred;
use crate::plane::Plane;

/// Squares of this share of the longer side are looked at for paper.
const SQUARES: usize = 24;

/// Divides every grey by that of the paper about it. Paper is what is light in each square
/// of the picture; squares that are all ink take the paper of their neighbours.
pub(crate) fn flatten(greys: &mut [u8], width: usize, height: usize) {
    let side = width.max(height).div_ceil(SQUARES).max(8);
    let (across, down) = (width.div_ceil(side), height.div_ceil(side));
    let mut paper = Plane::new(across, down);
    for (at, paper) in paper.data.iter_mut().enumerate() {
        let (x, y) = (at % across * side, at / across * side);
        let mut counts = [0_usize; 256];
        for y in y..(y + side).min(height) {
            greys[y * width..][x..(x + side).min(width)]
                .iter()
                .for_each(|g| counts[*g as usize] += 1);
        }
        let least = counts.iter().sum::<usize>() / 8;
        let mut sum = 0;
        let light = counts.iter().rposition(|n| {
            sum += n;
            sum > least
        });
        *paper = light.unwrap_or(255) as f32;
    }
    let mut sorted = paper.data.clone();
    sorted.sort_by(f32::total_cmp);
    let usual = sorted[sorted.len() / 2];
    // A square much darker than most holds no paper.
    let mut weight = paper.clone();
    for (paper, weight) in paper.data.iter_mut().zip(&mut weight.data) {
        *weight = if *paper > 0.5 * usual { 1.0 } else { 0.0 };
        *paper *= *weight;
    }
    let (sum, weight) = (blurred(&paper, 1.0), blurred(&weight, 1.0));
    let paper: Vec<f32> =
        sum.data.iter().zip(&weight.data).map(|(s, w)| (s + 1e-3 * usual) / (w + 1e-3)).collect();
    let place = |i: usize, count: usize| {
        let at = ((i as f32 + 0.5) / side as f32 - 0.5).clamp(0.0, (count - 1) as f32);
        let before = (at as usize).min(count.saturating_sub(2));
        (before, (before + 1).min(count - 1), at - before as f32)
    };
    for (y, row) in greys.chunks_exact_mut(width).enumerate() {
        let (above, below, down) = place(y, paper.len() / across);
        for (x, grey) in row.iter_mut().enumerate() {
            let (left, right, over) = place(x, across);
            let mixed = |row: usize| {
                let row = &paper[row * across..];
                row[left] + over * (row[right] - row[left])
            };
            let light = mixed(above) + down * (mixed(below) - mixed(above));
            *grey = (f32::from(*grey) * 255.0 / light.max(1.0)).round().min(255.0) as u8;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Paper that fades from 240 to 90, ink at a fifth of it: after flattening one level
    /// parts them everywhere, which no level did before.
    #[test]
    fn a_fading_drawing_becomes_even() {
        let (width, height) = (300, 200);
        let is_ink = |x: usize, y: usize| (x / 9 + y / 7).is_multiple_of(4);
        let mut greys: Vec<u8> = (0..width * height)
            .map(|i| {
                let (x, y) = (i % width, i / width);
                let paper = 240.0 - 0.5 * x as f32;
                if is_ink(x, y) { (0.5 * paper) as u8 } else { paper as u8 }
            })
            .collect();
        let parts = |greys: &[u8]| {
            let of = |ink: bool| {
                greys
                    .iter()
                    .enumerate()
                    .filter(move |(i, _)| is_ink(i % width, i / width) == ink)
                    .map(|(_, g)| *g)
            };
            of(true).max() < of(false).min()
        };
        assert!(!parts(&greys));
        flatten(&mut greys, width, height);
        assert!(parts(&greys));
    }
}
