//! How much of a sheet each demand takes: weights of which no sheet can hold more than one in
//! all, so that their sum is a number of sheets needed at least. This is the dual of the
//! fractional cover, approached by multiplicative weights (Plotkin, Shmoys & Tardos 1995).

use crate::model::{Cells, Kind};
use crate::work::Work;
use progress::Cancelled;

/// The weights, kept from one set of demands to the next larger one.
#[derive(Clone, Debug, Default)]
pub(crate) struct Shares {
    weight: Vec<f64>,
}

/// The whole of a sheet.
pub(crate) const ONE: u32 = 1 << 16;

impl Shares {
    /// Weights for `demands`, in parts of [`ONE`].
    pub(crate) fn improve(
        &mut self,
        demands: &[Cells],
        kinds: &[Kind],
        rounds: usize,
        work: &mut Work<'_>,
    ) -> Result<Vec<u32>, Cancelled> {
        let n = demands.len();
        let mean = self.weight.iter().sum::<f64>() / self.weight.len().max(1) as f64;
        self.weight.resize(n, if mean > 0.0 { mean } else { 1.0 });
        let heaviest = Heaviest::new(demands, kinds);
        let mut best: (f64, Vec<f64>) = (0.0, Vec::new());
        let mut held = Vec::new();
        for round in 0..rounds {
            work.spend(heaviest.cost())?;
            let most = heaviest.find(&self.weight, &mut held);
            let bound = self.weight.iter().sum::<f64>() / most;
            if bound > best.0 {
                best = (bound, self.weight.iter().map(|w| w / most).collect());
            }
            let step = 1.0 - 0.3 / (1.0 + round as f64 * 0.03);
            for d in &held {
                self.weight[*d as usize] *= step;
            }
            // Keep the numbers near one.
            if most < 1e-6 {
                self.weight.iter_mut().for_each(|w| *w /= most);
            }
        }
        if !best.1.is_empty() {
            self.weight.clone_from(&best.1);
        }
        // Rounded down, so that what fits still fits.
        Ok(best.1.iter().map(|w| (w * f64::from(ONE) * (1.0 - 1e-9)) as u32).collect())
    }
}

/// Finds the sheet that holds the most weight.
struct Heaviest {
    nx: usize,
    ny: usize,
    /// For each kind and demand the first and last left edge and top edge, by number, from which
    /// a sheet holds it.
    reach: Vec<Vec<[usize; 4]>>,
}

impl Heaviest {
    fn new(demands: &[Cells], kinds: &[Kind]) -> Self {
        let distinct = |f: fn(&Cells) -> i32| {
            let mut at: Vec<i32> = demands.iter().map(f).collect();
            at.sort_unstable();
            at.dedup();
            at
        };
        let (xs, ys) = (distinct(|d| d.x0), distinct(|d| d.y0));
        let reach = |k: &Kind| {
            let one = |d: &Cells| {
                [
                    xs.partition_point(|x| *x < d.x1 - k.w),
                    xs.partition_point(|x| *x <= d.x0),
                    ys.partition_point(|y| *y < d.y1 - k.h),
                    ys.partition_point(|y| *y <= d.y0),
                ]
            };
            demands.iter().map(one).collect()
        };
        let reach = kinds.iter().map(reach).collect();
        Self { nx: xs.len(), ny: ys.len(), reach }
    }

    /// The work of one look.
    fn cost(&self) -> u64 {
        (self.reach.len() * self.nx * self.ny) as u64 / 800
    }

    /// The most weight in one sheet; `held` receives the demands in it.
    fn find(&self, weight: &[f64], held: &mut Vec<u32>) -> f64 {
        let stride = self.nx + 1;
        let mut map = vec![0.0; stride * (self.ny + 1)];
        let (mut most, mut at) = (0.0, (0, 0, 0));
        for (kind, reach) in self.reach.iter().enumerate() {
            map.fill(0.0);
            for ([l, r, t, b], w) in reach.iter().zip(weight) {
                map[t * stride + l] += w;
                map[t * stride + r] -= w;
                map[b * stride + l] -= w;
                map[b * stride + r] += w;
            }
            for y in 0..self.ny {
                let mut run = 0.0;
                for x in 0..self.nx {
                    run += map[y * stride + x];
                    let above = if y > 0 { map[(y - 1) * stride + x] } else { 0.0 };
                    let sum = run + above;
                    map[y * stride + x] = sum;
                    if sum > most {
                        most = sum;
                        at = (kind, x, y);
                    }
                }
            }
        }
        held.clear();
        let (kind, x, y) = at;
        let holds = |r: &[usize; 4]| r[0] <= x && x < r[1] && r[2] <= y && y < r[3];
        held.extend((0..weight.len() as u32).filter(|d| holds(&self.reach[kind][*d as usize])));
        // The differences round; the sum of what is held does not.
        most.max(held.iter().map(|d| weight[*d as usize]).sum())
    }
}
