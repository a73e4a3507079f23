use std::sync::OnceLock;

/// The side of the blue-noise tile.
pub(crate) const SIDE: usize = 128;

/// Ranks 0 to 16383 of a square of 128 x 128 that tiles: at any share the pixels below it
/// lie as evenly as can be, without a pattern (void-and-cluster, Ulichney 1993,
/// doi:10.1117/12.152707; toroidal Gaussian of standard deviation 1.5). Made at first use,
/// the same every time.
pub fn blue_noise() -> &'static [u16] {
    static RANKS: OnceLock<Vec<u16>> = OnceLock::new();
    RANKS.get_or_init(|| void_and_cluster(SIDE))
}

fn void_and_cluster(side: usize) -> Vec<u16> {
    let count = side * side;
    let mut ranks = vec![0; count];
    let first = initial(side);
    let ones = first.set.iter().filter(|s| **s).count();
    // Phase 1: take the tightest clusters away, giving the lowest ranks from the top down.
    let mut field = first.clone();
    for rank in (0..ones).rev() {
        let at = field.tightest();
        field.turn(at, false);
        ranks[at] = rank as u16;
    }
    // Phases 2 and 3: fill the largest voids. Past the half the tightest cluster of zeros is
    // the place where the ones weigh least, so that both phases look for the same place.
    let mut field = first;
    for rank in ones..count {
        let at = field.emptiest();
        field.turn(at, true);
        ranks[at] = rank as u16;
    }
    ranks
}

/// A tenth of the places, moved from clusters to voids until none gains by moving.
fn initial(side: usize) -> Field {
    let mut field = Field::new(side);
    let mut state = 0x2545_F491_4F6C_DD1D_u64;
    let mut placed = 0;
    while placed < side * side / 10 {
        // A fixed xorshift sequence (Marsaglia 2003): any start does, as long as it is the same.
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        let at = (state >> 32) as usize % (side * side);
        if !field.set[at] {
            field.turn(at, true);
            placed += 1;
        }
    }
    // Each move lowers the field's energy; the bound is for rounding alone.
    for _ in 0..side * side {
        let cluster = field.tightest();
        field.turn(cluster, false);
        let void = field.emptiest();
        field.turn(void, true);
        if void == cluster {
            break;
        }
    }
    field
}

/// Places that are set, and how closely set places crowd about each.
#[derive(Clone)]
struct Field {
    side: usize,
    set: Vec<bool>,
    crowd: Vec<f32>,
    /// In each row, the most crowded set place and the least crowded open one.
    best: Vec<(Option<usize>, Option<usize>)>,
    kernel: Vec<f32>,
}

const REACH: usize = 7;

impl Field {
    fn new(side: usize) -> Self {
        let weight = |d: usize| (-((d * d) as f32) / (2.0 * 1.5 * 1.5)).exp();
        let kernel = (0..=REACH).map(weight).collect();
        let mut field = Self {
            side,
            set: vec![false; side * side],
            crowd: vec![0.0; side * side],
            best: vec![(None, None); side],
            kernel,
        };
        (0..side).for_each(|y| field.look(y));
        field
    }

    fn turn(&mut self, at: usize, set: bool) {
        self.set[at] = set;
        let sign = if set { 1.0 } else { -1.0 };
        let (x, y) = (at % self.side, at / self.side);
        for dy in 0..=2 * REACH {
            let row = (y + self.side + dy - REACH) % self.side;
            for dx in 0..=2 * REACH {
                let column = (x + self.side + dx - REACH) % self.side;
                let weight = self.kernel[dx.abs_diff(REACH)] * self.kernel[dy.abs_diff(REACH)];
                self.crowd[row * self.side + column] += sign * weight;
            }
            self.look(row);
        }
    }

    fn look(&mut self, row: usize) {
        let places = row * self.side..(row + 1) * self.side;
        let (mut most, mut least) = ((f32::MIN, None), (f32::MAX, None));
        for at in places {
            if self.set[at] && self.crowd[at] > most.0 {
                most = (self.crowd[at], Some(at));
            } else if !self.set[at] && self.crowd[at] < least.0 {
                least = (self.crowd[at], Some(at));
            }
        }
        self.best[row] = (most.1, least.1);
    }

    fn tightest(&self) -> usize {
        let all = self.best.iter().filter_map(|b| b.0);
        all.max_by(|a, b| self.crowd[*a].total_cmp(&self.crowd[*b])).unwrap_or(0)
    }

    fn emptiest(&self) -> usize {
        let all = self.best.iter().filter_map(|b| b.1);
        all.min_by(|a, b| self.crowd[*a].total_cmp(&self.crowd[*b])).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The power of a 0/1 pattern at frequency (u, v), over that of white noise.
    fn power(ranks: &[u16], side: usize, share: f64, u: usize, v: usize) -> f64 {
        let (mut re, mut im) = (0.0, 0.0);
        for (at, rank) in ranks.iter().enumerate() {
            let on = f64::from(u8::from(f64::from(*rank) < share * ranks.len() as f64)) - share;
            let turn =
                std::f64::consts::TAU * (u * (at % side) + v * (at / side)) as f64 / side as f64;
            re += on * turn.cos();
            im += on * turn.sin();
        }
        (re * re + im * im) / (ranks.len() as f64 * share * (1.0 - share))
    }

    #[test]
    fn ranks_are_a_permutation_with_little_low_frequency_power() {
        // The properties that Ulichney 1993 builds the array for; white noise has power 1.
        let ranks = void_and_cluster(32);
        let mut sorted = ranks.clone();
        sorted.sort_unstable();
        assert!(sorted.iter().enumerate().all(|(i, v)| i == *v as usize));
        for share in [0.1, 0.3, 0.5, 0.8] {
            let low = [(1, 0), (0, 1), (1, 1), (2, 0), (0, 2), (2, 1), (1, 2)];
            let mean = low.iter().map(|(u, v)| power(&ranks, 32, share, *u, *v)).sum::<f64>() / 7.0;
            assert!(mean < 0.1, "share {share}: low-frequency power {mean}");
        }
    }

    #[test]
    fn the_tile_repeats_without_a_seam() {
        // Pairs of neighbours across the wrap are no more alike than inside.
        let ranks = void_and_cluster(32);
        let apart = |a: usize, b: usize| (f64::from(ranks[a]) - f64::from(ranks[b])).abs();
        let inside: f64 = (0..32 * 31).map(|i| apart(i, i + 32)).sum::<f64>() / (32.0 * 31.0);
        let across: f64 = (0..32).map(|x| apart(x, 31 * 32 + x)).sum::<f64>() / 32.0;
        assert!((across / inside - 1.0).abs() < 0.25, "{across} {inside}");
    }
}
