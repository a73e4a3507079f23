use crate::TonalMask;
use bitmap::{Raster, Turned};
use std::ops::Range;

/// A film with dots in tonal areas and hard edges elsewhere, from two films of one size.
pub struct Mixed<L, S> {
    lines: L,
    screened: S,
    mask: TonalMask,
    turned: Turned,
}

impl<L: Raster, S: Raster> Mixed<L, S> {
    /// `screened` where the mask says tone, `lines` elsewhere; the mask lies as the picture of
    /// the two films does. None where sizes differ.
    pub fn new(lines: L, screened: S, mask: TonalMask, turned: Turned) -> Option<Self> {
        let same = (lines.width(), lines.height()) == turned.film()
            && (screened.width(), screened.height()) == turned.film();
        same.then_some(Self { lines, screened, mask, turned })
    }

    /// The first film column of a mask column.
    fn starts(&self, column: u32) -> u32 {
        let (w, _) = self.mask.size();
        (u64::from(column) * u64::from(self.lines.width())).div_ceil(u64::from(w)) as u32
    }
}

impl<L: Raster, S: Raster> Raster for Mixed<L, S> {
    fn width(&self) -> u32 {
        self.lines.width()
    }
    fn height(&self) -> u32 {
        self.lines.height()
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let mut inside = false;
        let mut changes = Vec::new();
        self.pieces(y, x0, x1, |piece, tonal| {
            changes.clear();
            if tonal {
                self.screened.changes(y, piece.start, piece.end, &mut changes);
            } else {
                self.lines.changes(y, piece.start, piece.end, &mut changes);
            }
            // Each piece starts from clear; the row goes on from what it was.
            let begins = changes.first() == Some(&0);
            if begins != inside {
                out.push(piece.start - x0);
            }
            out.extend(changes.iter().skip(usize::from(begins)).map(|x| x + piece.start - x0));
            inside = changes.len() % 2 == 1;
        });
    }
}

impl<L: Raster, S: Raster> Mixed<L, S> {
    /// Calls `put` for each piece of a row, and whether it is tone, in order.
    fn pieces(&self, y: u32, x0: u32, x1: u32, mut put: impl FnMut(Range<u32>, bool)) {
        let (w, h) = self.mask.size();
        let (mut from, mut now) = (x0, false);
        let mut change = |at: u32, tonal: bool| {
            if tonal != now {
                if from < at {
                    put(from..at, now);
                }
                (from, now) = (at, tonal);
            }
        };
        if self.turned.is_upright() {
            let row = (u64::from(y) * u64::from(h) / u64::from(self.height())) as u32;
            let first = (u64::from(x0) * u64::from(w) / u64::from(self.width())) as u32;
            for column in first..w {
                let at = self.starts(column).max(x0);
                if at >= x1 {
                    break;
                }
                change(at, self.mask.get(column, row));
            }
        } else {
            let (wide, high) = self.turned.picture();
            let across = |u: f64| u * f64::from(w) / wide;
            let down = |v: f64| v * f64::from(h) / high;
            let mut end = x0;
            self.turned.cells(y, x0, x1, across, down, |columns, cx, cy| {
                change(
                    columns.start,
                    self.mask.get((cx as u32).min(w - 1), (cy as u32).min(h - 1)),
                );
                end = columns.end;
            });
            change(end, false);
        }
        if from < x1 {
            put(from..x1, now);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Tones;
    use bitmap::{Bitmap, collect};

    #[test]
    fn each_pixel_comes_from_its_own_film() {
        let shares: Vec<f32> = (0..40 * 30).map(|i| if i % 40 < 20 { 1.0 } else { 0.5 }).collect();
        let mask = TonalMask::of(&Tones::new(40, 30, &shares).unwrap());
        let lines = Bitmap::from_fn(333, 200, |x, y| (x / 7 + y / 5) % 2 == 0);
        let dots = Bitmap::from_fn(333, 200, |x, y| (x * 3 + y * 5) % 4 == 0);
        let laid = Turned::upright(333, 200);
        let mixed = collect(&Mixed::new(lines.clone(), dots.clone(), mask.clone(), laid).unwrap());
        for y in 0..200 {
            for x in 0..333 {
                let tonal = mask.get(x * 40 / 333, y * 30 / 200);
                let expected = if tonal { dots.get(x, y) } else { lines.get(x, y) };
                assert_eq!(mixed.get(x, y), expected, "{x} {y}");
            }
        }
        let share = mask.share();
        assert!(share > 0.4 && share < 0.6, "{share}");
        assert!(Mixed::new(lines, Bitmap::new(1, 1), mask, laid).is_none());
    }

    #[test]
    fn a_mask_turns_with_its_picture() {
        let shares: Vec<f32> = (0..40 * 30).map(|i| if i % 40 < 20 { 1.0 } else { 0.5 }).collect();
        let mask = TonalMask::of(&Tones::new(40, 30, &shares).unwrap());
        for degrees in [25.0, 90.0, 200.0] {
            let laid = Turned::by(333, 200, measure::Angle::deg(degrees));
            let (w, h) = laid.film();
            let lines = Bitmap::from_fn(w, h, |x, y| (x / 7 + y / 5) % 2 == 0);
            let dots = Bitmap::from_fn(w, h, |x, y| (x * 3 + y * 5) % 4 == 0);
            let mixed = Mixed::new(lines.clone(), dots.clone(), mask.clone(), laid).unwrap();
            let film = collect(&mixed);
            for y in 0..h {
                for x in 0..w {
                    let (u, v) = laid.at(x, y);
                    let inside = (0.0..333.0).contains(&u) && (0.0..200.0).contains(&v);
                    let at = |place: f64, n: f64, film: f64| (place * n / film) as u32;
                    let tonal = inside && mask.get(at(u, 40.0, 333.0), at(v, 30.0, 200.0));
                    let expected = if tonal { dots.get(x, y) } else { lines.get(x, y) };
                    assert_eq!(film.get(x, y), expected, "{degrees} {x} {y}");
                }
            }
            let part = collect(&bitmap::Window::new(&mixed, 51, 0, 99, h));
            assert!((0..99).all(|x| part.get(x, h / 2) == film.get(x + 51, h / 2)));
        }
    }
}
