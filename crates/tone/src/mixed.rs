use crate::TonalMask;
use bitmap::Raster;

/// A film with dots in tonal areas and hard edges elsewhere, from two films of one size.
pub struct Mixed<L, S> {
    lines: L,
    screened: S,
    mask: TonalMask,
}

impl<L: Raster, S: Raster> Mixed<L, S> {
    /// `screened` where the mask says tone, `lines` elsewhere. None where their sizes differ.
    pub fn new(lines: L, screened: S, mask: TonalMask) -> Option<Self> {
        let same = (lines.width(), lines.height()) == (screened.width(), screened.height());
        same.then_some(Self { lines, screened, mask })
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
        let (w, h) = self.mask.size();
        let row = (u64::from(y) * u64::from(h) / u64::from(self.height())) as u32;
        let mut column = (u64::from(x0) * u64::from(w) / u64::from(self.width())) as u32;
        let mut inside = false;
        let mut piece = Vec::new();
        let mut from = x0;
        while from < x1 && column < w {
            let tonal = self.mask.get(column, row);
            while column < w && self.mask.get(column, row) == tonal {
                column += 1;
            }
            let to = self.starts(column).min(x1);
            piece.clear();
            if tonal {
                self.screened.changes(y, from, to, &mut piece);
            } else {
                self.lines.changes(y, from, to, &mut piece);
            }
            // Each piece starts from clear; the row goes on from what it was.
            let begins = piece.first() == Some(&0);
            if begins != inside {
                out.push(from - x0);
            }
            out.extend(piece.iter().skip(usize::from(begins)).map(|x| x + from - x0));
            inside = piece.len() % 2 == 1;
            from = to;
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
        let mixed = collect(&Mixed::new(lines.clone(), dots.clone(), mask.clone()).unwrap());
        for y in 0..200 {
            for x in 0..333 {
                let tonal = mask.get(x * 40 / 333, y * 30 / 200);
                let expected = if tonal { dots.get(x, y) } else { lines.get(x, y) };
                assert_eq!(mixed.get(x, y), expected, "{x} {y}");
            }
        }
        let share = mask.share();
        assert!(share > 0.4 && share < 0.6, "{share}");
        assert!(Mixed::new(lines, Bitmap::new(1, 1), mask).is_none());
    }
}
