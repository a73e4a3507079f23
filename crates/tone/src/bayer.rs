/// Bayer's ordered-dither ranks for a square of `2^power` (Bayer 1973), row by row.
pub fn bayer(power: u32) -> Vec<u16> {
    let side = 1_u32 << power.min(8);
    let mut ranks = Vec::with_capacity((side * side) as usize);
    for y in 0..side {
        for x in 0..side {
            // Each halving of the square takes two bits, the finest halving the highest two.
            let rank = (0..power.min(8)).fold(0, |rank, bit| {
                let (x, y) = (x >> bit & 1, y >> bit & 1);
                rank << 2 | (x ^ y) << 1 | y
            });
            ranks.push(rank as u16);
        }
    }
    ranks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_bayer() {
        // Bayer 1973, figure for 4 x 4; row 0 of 8 x 8.
        assert_eq!(bayer(2), [0, 8, 2, 10, 12, 4, 14, 6, 3, 11, 1, 9, 15, 7, 13, 5]);
        assert_eq!(bayer(3)[..8], [0, 32, 8, 40, 2, 34, 10, 42]);
        let mut all = bayer(4);
        all.sort_unstable();
        assert!(all.iter().enumerate().all(|(i, v)| i == *v as usize));
    }
}
