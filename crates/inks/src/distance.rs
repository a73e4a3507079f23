//! Exact distances on a grid (Felzenszwalb, Huttenlocher 2012: lower envelopes of parabolas).

/// The squared distance of each pixel's middle to the nearest set one's, in pixels; `FAR`
/// where none is set.
pub(crate) fn squared(set: &[bool], width: usize, height: usize) -> Vec<f32> {
    let mut out: Vec<f32> = set.iter().map(|s| if *s { 0.0 } else { FAR }).collect();
    let mut line = Envelope::new(width.max(height));
    let mut column = vec![0.0; height];
    for x in 0..width {
        // Down a column the nearest set pixel is found by two sweeps.
        let mut last = FAR;
        for y in 0..height {
            last = if out[y * width + x] == 0.0 { 0.0 } else { last + 1.0 };
            column[y] = last;
        }
        last = FAR;
        for y in (0..height).rev() {
            last = if out[y * width + x] == 0.0 { 0.0 } else { last + 1.0 };
            let d = column[y].min(last);
            out[y * width + x] = if d >= FAR { FAR } else { d * d };
        }
    }
    for row in out.chunks_exact_mut(width.max(1)) {
        line.lower(row);
    }
    out
}

/// Farther than any film is wide, squared.
pub(crate) const FAR: f32 = 1e12;

/// The lower envelope of parabolas rooted at a row's values.
struct Envelope {
    values: Vec<f32>,
    roots: Vec<usize>,
    starts: Vec<f32>,
}

impl Envelope {
    fn new(length: usize) -> Self {
        Self { values: vec![0.0; length], roots: vec![0; length], starts: vec![0.0; length + 1] }
    }

    /// Replaces each value by the least of value + squared distance over the row.
    fn lower(&mut self, row: &mut [f32]) {
        self.values[..row.len()].copy_from_slice(row);
        let values = &self.values;
        let mut count = 0;
        for q in 0..row.len() {
            if values[q] >= FAR {
                continue;
            }
            let meet = |p: usize| {
                let (pf, qf) = (p as f64, q as f64);
                let d = f64::from(values[q]) - f64::from(values[p]) + qf * qf - pf * pf;
                (d / (2.0 * (qf - pf))) as f32
            };
            while count > 0 && meet(self.roots[count - 1]) <= self.starts[count - 1] {
                count -= 1;
            }
            self.starts[count] = if count == 0 { f32::MIN } else { meet(self.roots[count - 1]) };
            self.roots[count] = q;
            count += 1;
        }
        if count == 0 {
            return;
        }
        let mut k = 0;
        for (x, out) in row.iter_mut().enumerate() {
            while k + 1 < count && self.starts[k + 1] < x as f32 {
                k += 1;
            }
            let root = self.roots[k];
            *out = values[root] + (x as f32 - root as f32).powi(2);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_agree_with_looking_everywhere() {
        for (w, h, every) in [(1, 1, 1), (17, 9, 7), (40, 31, 53), (12, 30, 1000)] {
            let set: Vec<bool> = (0..w * h).map(|i| (i * 29 + 5) % every == 0).collect();
            let got = squared(&set, w, h);
            for (i, got) in got.iter().enumerate() {
                let (x, y) = ((i % w) as f32, (i / w) as f32);
                let to = |j: usize| (x - (j % w) as f32).powi(2) + (y - (j / w) as f32).powi(2);
                let least = (0..w * h).filter(|j| set[*j]).map(to).fold(FAR, f32::min);
                assert_eq!(*got, least, "{w} x {h}, {i}");
            }
        }
    }
}
