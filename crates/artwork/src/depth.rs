/// How far each pixel is from one on the other side, counted in steps of a chess king, 1
/// beside it; at most 255.
pub(crate) fn depths(side: &[bool], width: usize, height: usize) -> Vec<u8> {
    let mut depth = vec![255_u8; side.len()];
    let next = |depth: &[u8], at: usize, other: usize| {
        if side[other] == side[at] { depth[other].saturating_add(1) } else { 1 }
    };
    for y in 0..height {
        for x in 0..width {
            let at = y * width + x;
            let mut best = 255;
            if x > 0 {
                best = best.min(next(&depth, at, at - 1));
            }
            if y > 0 {
                for other in
                    at - width - usize::from(x > 0)..=at - width + usize::from(x + 1 < width)
                {
                    best = best.min(next(&depth, at, other));
                }
            }
            depth[at] = best;
        }
    }
    for y in (0..height).rev() {
        for x in (0..width).rev() {
            let at = y * width + x;
            let mut best = depth[at];
            if x + 1 < width {
                best = best.min(next(&depth, at, at + 1));
            }
            if y + 1 < height {
                for other in
                    at + width - usize::from(x > 0)..=at + width + usize::from(x + 1 < width)
                {
                    best = best.min(next(&depth, at, other));
                }
            }
            depth[at] = best;
        }
    }
    depth
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17: `distance_transform_cdt(a, "chessboard")` of each side, of a lone pixel of
    /// ink at 2, 1 in a picture of 6 x 4.
    #[test]
    fn depths_are_chessboard_distances() {
        let side: Vec<bool> = (0..24).map(|i| i == 8).collect();
        #[rustfmt::skip]
        let want = [
            2, 1, 1, 1, 2, 3,
            2, 1, 1, 1, 2, 3,
            2, 1, 1, 1, 2, 3,
            2, 2, 2, 2, 2, 3,
        ];
        assert_eq!(depths(&side, 6, 4), want);
    }
}
