use super::Dct;

/// Blocks looked at for each place that the grid may begin.
const MOST_SEEN: usize = 4_000;
/// Blocks with an edge in them that are transformed for each place.
const MOST_KEPT: usize = 500;
/// Fewer of these say nothing.
const FEWEST_KEPT: usize = 24;
/// A block whose greys span no more is flat: its coefficients vanish on any grid.
const FLAT: u8 = 24;
/// Coefficients below this vanish: what rounding pixels to whole greys leaves of nought.
const NOUGHT: f32 = 0.75;

/// Where the blocks of 8 x 8 of a picture that was a JPEG once begin, as column and row from its
/// corner; none where it shows none.
///
/// A JPEG's coefficients are whole steps, many of them nought (T.81, A.3.4). So on the grid it
/// was packed with far more of them vanish than on the 63 others, and as many on every grid
/// where it never was one.
pub(crate) fn jpeg_grid(greys: &[u8], width: usize, height: usize) -> Option<[usize; 2]> {
    let dct = Dct::new();
    let mut shares = Vec::with_capacity(64);
    for place in 0..64 {
        shares.push((vanishing(&dct, greys, width, height, [place % 8, place / 8])?, place));
    }
    shares.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let (best, place) = shares[0];
    let (next, least) = (shares[1].0, shares[63].0);
    let stands_out = best - next > 0.012 && best - next > 0.35 * (next - least);
    stands_out.then_some([place % 8, place / 8])
}

/// The share of coefficients that vanish, of blocks with an edge in them, on the grid that
/// begins at `from`; none where there are too few such blocks.
fn vanishing(
    dct: &Dct,
    greys: &[u8],
    width: usize,
    height: usize,
    from: [usize; 2],
) -> Option<f32> {
    let across = width.checked_sub(from[0])? / 8;
    let down = height.checked_sub(from[1])? / 8;
    let every = (across * down).div_ceil(MOST_SEEN).max(1);
    let edged: Vec<[f32; 64]> = (0..across * down)
        .step_by(every)
        .filter_map(|n| {
            let (x, y) = (from[0] + n % across * 8, from[1] + n / across * 8);
            let pixel = |i: usize| greys[(y + i / 8) * width + x + i % 8];
            let span = (0..64)
                .fold((u8::MAX, 0), |(low, high), i| (low.min(pixel(i)), high.max(pixel(i))));
            (span.1 - span.0 > FLAT).then(|| std::array::from_fn(|i| f32::from(pixel(i)) - 128.0))
        })
        .collect();
    let every = edged.len().div_ceil(MOST_KEPT).max(1);
    let kept = edged.iter().step_by(every);
    let blocks = kept.len();
    let noughts: usize =
        kept.map(|block| dct.forward(block)[1..].iter().filter(|c| c.abs() < NOUGHT).count()).sum();
    (blocks >= FEWEST_KEPT).then(|| noughts as f32 / (63 * blocks) as f32)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIDE: usize = 200;

    /// Rings and spokes, smooth-edged.
    fn drawing() -> Vec<u8> {
        (0..SIDE * SIDE)
            .map(|i| {
                let (x, y) = ((i % SIDE) as f32 - 90.3, (i / SIDE) as f32 - 104.8);
                let wave = (x.hypot(y) / 5.1).sin() + (5.0 * y.atan2(x)).sin();
                (127.5 + 127.5 * (3.0 * wave).clamp(-1.0, 1.0)) as u8
            })
            .collect()
    }

    fn packed(greys: &[u8], quality: u8) -> Vec<u8> {
        let file = crate::jpeg::encoded(greys, SIDE, quality);
        image::load_from_memory(&file).unwrap().to_luma8().into_raw()
    }

    #[test]
    fn the_blocks_of_an_earlier_jpeg_are_found_wherever_the_picture_was_cut() {
        for quality in [40, 70, 92] {
            let whole = packed(&drawing(), quality);
            for (left, top) in [(0, 0), (3, 6), (13, 1), (8, 15)] {
                let (w, h) = (SIDE - left, SIDE - top);
                let cut: Vec<u8> =
                    (0..w * h).map(|i| whole[(top + i / w) * SIDE + left + i % w]).collect();
                let begins = [(8 - left % 8) % 8, (8 - top % 8) % 8];
                assert_eq!(jpeg_grid(&cut, w, h), Some(begins), "{quality} {left} {top}");
            }
        }
    }

    #[test]
    fn a_picture_that_never_was_a_jpeg_shows_no_blocks() {
        let plain = drawing();
        assert_eq!(jpeg_grid(&plain, SIDE, SIDE), None);
        let hard: Vec<u8> = plain.iter().map(|g| if *g > 127 { 255 } else { 0 }).collect();
        assert_eq!(jpeg_grid(&hard, SIDE, SIDE), None);
        assert_eq!(jpeg_grid(&[0; 49], 7, 7), None);
        assert_eq!(jpeg_grid(&[], 0, 0), None);
        assert_eq!(jpeg_grid(&[255; SIDE * SIDE], SIDE, SIDE), None);
    }
}
