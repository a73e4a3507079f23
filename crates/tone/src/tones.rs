use crate::{Curve, ToneError};
use bitmap::Turned;
use std::ops::Range;
use std::sync::Arc;

/// A grey picture as shares of ink, 0 bare to 1 solid, read smoothly between its pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct Tones {
    width: usize,
    height: usize,
    shares: Arc<[f32]>,
}

impl Tones {
    /// A picture of shares of ink, row by row; what lies outside 0..=1 is brought inside.
    ///
    /// # Errors
    /// Where the number of shares is not `width` x `height`, or nought.
    pub fn new(width: u32, height: u32, shares: &[f32]) -> Result<Self, ToneError> {
        if shares.is_empty() || u64::from(width) * u64::from(height) != shares.len() as u64 {
            return Err(ToneError::Size(width, height, shares.len()));
        }
        let inside = |v: &f32| if v.is_nan() { 0.0 } else { v.clamp(0.0, 1.0) };
        Ok(Self {
            width: width as usize,
            height: height as usize,
            shares: shares.iter().map(inside).collect(),
        })
    }

    /// A picture of grey bytes, 0 black: a share is 1 - grey / 255.
    ///
    /// # Errors
    /// Where the number of bytes is not `width` x `height`, or nought.
    pub fn of_grey(width: u32, height: u32, grey: &[u8]) -> Result<Self, ToneError> {
        let shares: Vec<f32> = grey.iter().map(|v| f32::from(255 - v) / 255.0).collect();
        Self::new(width, height, &shares)
    }

    /// Pixels across.
    pub fn width(&self) -> u32 {
        self.width as u32
    }
    /// Pixels down.
    pub fn height(&self) -> u32 {
        self.height as u32
    }
    /// The shares, row by row.
    pub fn shares(&self) -> &[f32] {
        &self.shares
    }

    /// The shares that film must carry for these to come out in print.
    pub fn through(&self, curve: &Curve) -> Self {
        let shares = self.shares.iter().map(|v| curve.film_for(f64::from(*v)) as f32).collect();
        Self { shares, ..*self }
    }

    /// The picture made smaller where a film has fewer pixels than it, each new pixel the
    /// mean of what it spans: interpolation alone would skip pixels.
    pub(crate) fn no_finer_than(&self, width: u32, height: u32) -> Self {
        let (w, h) =
            (self.width.min((width as usize).max(1)), self.height.min((height as usize).max(1)));
        if (w, h) == (self.width, self.height) {
            return self.clone();
        }
        let columns = spans(self.width, w);
        let mut narrow = vec![0.0; w * self.height];
        for (row, out) in self.shares.chunks_exact(self.width).zip(narrow.chunks_exact_mut(w)) {
            for (out, span) in out.iter_mut().zip(&columns) {
                *out = span.iter().map(|(x, weight)| weight * row[*x]).sum();
            }
        }
        let mut shares = vec![0.0; w * h];
        for (out, span) in shares.chunks_exact_mut(w).zip(spans(self.height, h)) {
            for (y, weight) in span {
                for (out, v) in out.iter_mut().zip(&narrow[y * w..][..w]) {
                    *out += weight * v;
                }
            }
        }
        Self { width: w, height: h, shares: shares.into() }
    }
}

/// The source pixels that each of `to` pixels spans, and their weights.
fn spans(from: usize, to: usize) -> Vec<Vec<(usize, f32)>> {
    let ratio = from as f64 / to as f64;
    (0..to)
        .map(|i| {
            let (start, end) = (i as f64 * ratio, (i + 1) as f64 * ratio);
            let cells = start as usize..(end.ceil() as usize).min(from);
            cells
                .map(|x| (x, ((end.min(x as f64 + 1.0) - start.max(x as f64)) / ratio) as f32))
                .filter(|(_, weight)| *weight > 0.0)
                .collect()
        })
        .collect()
}

/// Reads rows of a picture at film size by cubic convolution (Keys 1981, a = -1/2), which
/// goes through every pixel's share and keeps straight slopes straight.
pub(crate) struct Reader {
    tones: Tones,
    turned: Turned,
    /// The first film column in each stretch between two pixels' middles, and one past the last.
    starts: Vec<u32>,
    /// How far along its stretch each film column is.
    across: Vec<f32>,
}

/// A piece of a film row between source pixels' middles.
pub(crate) struct Stretch<'a> {
    /// Its columns.
    pub(crate) columns: Range<u32>,
    pub(crate) shares: Shares<'a>,
}

/// The shares of ink along a stretch.
pub(crate) enum Shares<'a> {
    /// The same all along.
    Flat(f32),
    /// A cubic of how far along a column is.
    Cubic([f32; 4]),
    /// Each column's own.
    Each(&'a [f32]),
}

impl Reader {
    pub(crate) fn new(tones: &Tones, turned: Turned) -> Self {
        let (wide, high) = turned.picture();
        let tones = tones.no_finer_than(wide as u32, high as u32);
        // A picture turned is not read by columns.
        let width = if turned.is_upright() { turned.film().0 } else { 0 };
        let mut starts = Vec::with_capacity(tones.width + 2);
        let mut across = Vec::with_capacity(width as usize);
        for x in 0..width {
            let (cell, t) = place(x, tones.width, width);
            while starts.len() <= cell {
                starts.push(x);
            }
            across.push(t);
        }
        starts.resize(tones.width + 2, width);
        Self { tones, turned, starts, across }
    }

    /// How far along their stretches an upright film's columns are.
    pub(crate) fn across(&self) -> &[f32] {
        &self.across
    }

    /// Calls `put` for each stretch of columns `x0..x1` of row `y`, in order.
    pub(crate) fn row(&self, y: u32, x0: u32, x1: u32, mut put: impl FnMut(Stretch<'_>)) {
        if x0 >= x1 {
            return;
        }
        if !self.turned.is_upright() {
            return self.turned_row(y, x0, x1, put);
        }
        let (w, h) = (self.tones.width, self.tones.height);
        let (cell, t) = place(y, h, self.turned.film().1);
        let weights = keys(t);
        let row = |d: usize| {
            let y = (cell + d).saturating_sub(2).min(h - 1);
            &self.tones.shares[y * w..][..w]
        };
        let rows = [row(0), row(1), row(2), row(3)];
        let column = |x: usize, d: usize| {
            let x = (x + d).saturating_sub(2).min(w - 1);
            [rows[0][x], rows[1][x], rows[2][x], rows[3][x]]
        };
        let mix = |v: [f32; 4]| v.iter().zip(&weights).map(|(v, w)| v * w).sum::<f32>();
        let first = self.starts.partition_point(|s| *s <= x0).saturating_sub(1);
        // Four neighbouring columns, moved along by one at each stretch.
        let mut four = [0, 1, 2, 3].map(|d| column(first, d));
        for cx in first..=w {
            let columns = self.starts[cx].max(x0)..self.starts[cx + 1].min(x1);
            if self.starts[cx] >= x1 {
                break;
            }
            let level = four[0][0];
            if four.iter().flatten().all(|v| *v == level) {
                put(Stretch { columns, shares: Shares::Flat(level) });
            } else if !columns.is_empty() {
                let [a, b, c, d] = four.map(mix);
                let cubic = [
                    b,
                    (c - a) / 2.0,
                    a - 2.5 * b + 2.0 * c - d / 2.0,
                    1.5 * (b - c) + (d - a) / 2.0,
                ];
                put(Stretch { columns, shares: Shares::Cubic(cubic) });
            }
            four = [four[1], four[2], four[3], column(cx, 4)];
        }
    }

    /// A row that runs across the picture at a slant; what lies past its sides is bare.
    fn turned_row(&self, y: u32, x0: u32, x1: u32, mut put: impl FnMut(Stretch<'_>)) {
        let (w, h) = (self.tones.width, self.tones.height);
        let (wide, high) = self.turned.picture();
        let across = |u: f64| u * w as f64 / wide + 0.5;
        let down = |v: f64| v * h as f64 / high + 0.5;
        let bare = |columns| Stretch { columns, shares: Shares::Flat(0.0) };
        let mut each = Vec::new();
        let mut end = x0;
        self.turned.cells(y, x0, x1, across, down, |columns, cx, cy| {
            if end < columns.start {
                put(bare(end..columns.start));
            }
            end = columns.end;
            let rows: [[f32; 4]; 4] = std::array::from_fn(|dy| {
                let y = (cy + dy).saturating_sub(2).min(h - 1);
                let row = &self.tones.shares[y * w..][..w];
                std::array::from_fn(|dx| row[(cx + dx).saturating_sub(2).min(w - 1)])
            });
            let level = rows[0][0];
            if rows.iter().flatten().all(|v| *v == level) {
                return put(Stretch { columns, shares: Shares::Flat(level) });
            }
            each.clear();
            each.extend(columns.clone().map(|x| {
                let (u, v) = self.turned.at(x, y);
                let (tu, tv) =
                    (keys((across(u) - cx as f64) as f32), keys((down(v) - cy as f64) as f32));
                let mix = |v: &[f32; 4]| v.iter().zip(&tu).map(|(v, w)| v * w).sum::<f32>();
                rows.iter().zip(&tv).map(|(row, w)| mix(row) * w).sum::<f32>()
            }));
            put(Stretch { columns, shares: Shares::Each(&each) });
        });
        if end < x1 {
            put(bare(end..x1));
        }
    }
}

/// Which stretch between pixels' middles a film pixel's middle lies in, counted from the
/// one before the first, and how far along.
fn place(x: u32, source: usize, film: u32) -> (usize, f32) {
    let at = (f64::from(x) + 0.5) * source as f64 / f64::from(film) + 0.5;
    (at.floor() as usize, (at - at.floor()) as f32)
}

/// The weights of four pixels about a place `t` of the way from the second to the third.
fn keys(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        -0.5 * t3 + t2 - 0.5 * t,
        1.5 * t3 - 2.5 * t2 + 1.0,
        -1.5 * t3 + 2.0 * t2 + 0.5 * t,
        0.5 * t3 - 0.5 * t2,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::Angle;

    #[test]
    fn cubic_weights_agree_with_the_published_kernel() {
        // Keys 1981 / Mitchell and Netravali 1988 with B 0, C 1/2: .5625 at .5, -.0625 at 1.5.
        let w = keys(0.5);
        for (got, expected) in w.iter().zip([-0.0625, 0.5625, 0.5625, -0.0625]) {
            assert!((got - expected).abs() < 1e-6);
        }
    }

    fn read(reader: &Reader, y: u32, x0: u32, x1: u32) -> Vec<f32> {
        let mut out = Vec::new();
        reader.row(y, x0, x1, |s| match s.shares {
            Shares::Flat(share) => out.extend(s.columns.map(|_| share)),
            Shares::Each(each) => out.extend(each),
            Shares::Cubic([a, b, c, d]) => out.extend(s.columns.map(|x| {
                let t = reader.across()[x as usize];
                a + t * (b + t * (c + t * d))
            })),
        });
        out
    }

    #[test]
    fn a_slope_stays_straight_and_parts_agree() {
        let shares: Vec<f32> = (0..80).map(|i| (i % 10) as f32 / 10.0).collect();
        let reader = Reader::new(&Tones::new(10, 8, &shares).unwrap(), Turned::upright(130, 64));
        let read = |x0, x1| read(&reader, 31, x0, x1);
        let whole = read(0, 130);
        assert_eq!(whole.len(), 130);
        for (x, v) in whole.iter().enumerate().skip(26).take(78) {
            let expected = ((x as f32 + 0.5) / 13.0 - 0.5) / 10.0;
            assert!((v - expected).abs() < 1e-5, "{x}: {v} {expected}");
        }
        assert_eq!(whole[37..101], read(37, 101));
    }

    #[test]
    fn a_bigger_picture_is_averaged_down() {
        let tones = Tones::new(4, 2, &[0.0, 1.0, 0.5, 0.5, 0.0, 1.0, 1.0, 1.0]).unwrap();
        assert_eq!(tones.no_finer_than(2, 1).shares(), [0.5, 0.75]);
    }

    #[test]
    fn a_turned_picture_is_read_along_a_slant() {
        let shares: Vec<f32> = (0..12 * 9).map(|i| (i * 37 % 101) as f32 / 100.0).collect();
        let tones = Tones::new(12, 9, &shares).unwrap();
        let upright = Reader::new(&tones, Turned::upright(120, 90));
        let rows: Vec<Vec<f32>> = (0..90).map(|y| read(&upright, y, 0, 120)).collect();
        for degrees in [90.0, 180.0, -90.0] {
            let turned = Turned::by(120, 90, Angle::deg(degrees));
            let reader = Reader::new(&tones, turned);
            let (w, h) = turned.film();
            for y in 0..h {
                for (x, got) in (0..).zip(read(&reader, y, 0, w)) {
                    let (u, v) = turned.at(x, y);
                    let want = rows[v as usize][u as usize];
                    assert!((got - want).abs() < 1e-5, "{degrees} {x} {y}: {got} {want}");
                }
            }
        }
        // A slope goes on straight at any turn, and what lies past the picture is bare.
        let slope: Vec<f32> = (0..20 * 20).map(|i| (i % 20) as f32 / 20.0).collect();
        let turned = Turned::by(100, 100, Angle::deg(33.0));
        let reader = Reader::new(&Tones::new(20, 20, &slope).unwrap(), turned);
        let (w, h) = turned.film();
        for y in 0..h {
            let row = read(&reader, y, 0, w);
            assert_eq!(row[10..60], read(&reader, y, 10, 60));
            for (x, got) in (0..).zip(row) {
                let (u, v) = turned.at(x, y);
                if !((0.0..100.0).contains(&u) && (0.0..100.0).contains(&v)) {
                    assert_eq!(got, 0.0);
                } else if (10.0..90.0).contains(&u) {
                    let want = (u / 5.0 - 0.5) as f32 / 20.0;
                    assert!((got - want).abs() < 1e-5, "{x} {y}: {got} {want}");
                }
            }
        }
    }
}
