/// A one-bit picture, 64 pixels to a word, leftmost pixel in the highest bit.
/// Bits past the right edge are always clear.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bitmap {
    width: u32,
    height: u32,
    stride: usize,
    words: Vec<u64>,
}

impl Bitmap {
    /// A clear picture.
    pub fn new(width: u32, height: u32) -> Self {
        let stride = (width as usize).div_ceil(64);
        Self { width, height, stride, words: vec![0; stride * height as usize] }
    }

    /// A picture whose pixel at `x, y` is ink where `ink(x, y)`.
    pub fn from_fn(width: u32, height: u32, ink: impl Fn(u32, u32) -> bool) -> Self {
        let mut out = Self::new(width, height);
        for y in 0..height {
            for x in 0..width {
                if ink(x, y) {
                    out.set(x, y, true);
                }
            }
        }
        out
    }

    /// Pixels across.
    pub const fn width(&self) -> u32 {
        self.width
    }
    /// Pixels down.
    pub const fn height(&self) -> u32 {
        self.height
    }
    /// Words in a row.
    pub const fn stride(&self) -> usize {
        self.stride
    }
    /// The words of row `y`.
    pub fn row(&self, y: u32) -> &[u64] {
        &self.words[y as usize * self.stride..][..self.stride]
    }
    /// The words of row `y`, to change. Bits past the right edge must stay clear.
    pub fn row_mut(&mut self, y: u32) -> &mut [u64] {
        &mut self.words[y as usize * self.stride..][..self.stride]
    }
    /// All words, row by row.
    pub fn words(&self) -> &[u64] {
        &self.words
    }
    /// All words, row by row, to change. Bits past the right edge must stay clear.
    pub fn words_mut(&mut self) -> &mut [u64] {
        &mut self.words
    }
    /// Whether the pixel is ink; outside the picture it is not.
    pub fn get(&self, x: u32, y: u32) -> bool {
        x < self.width
            && y < self.height
            && self.words[y as usize * self.stride + x as usize / 64] >> (63 - x % 64) & 1 == 1
    }
    /// Makes one pixel ink or clear.
    ///
    /// # Panics
    /// Outside the picture.
    pub fn set(&mut self, x: u32, y: u32, ink: bool) {
        assert!(x < self.width && y < self.height, "pixel {x}, {y} is outside the picture");
        let word = &mut self.words[y as usize * self.stride + x as usize / 64];
        let bit = 1 << (63 - x % 64);
        if ink { *word |= bit } else { *word &= !bit }
    }
    /// Makes columns `x0..x1` of row `y` ink.
    ///
    /// # Panics
    /// Outside the picture.
    pub fn fill(&mut self, x0: u32, x1: u32, y: u32) {
        assert!(x1 <= self.width && y < self.height, "columns to {x1} of row {y} are outside");
        fill(self.row_mut(y), x0, x1);
    }
    /// How many pixels are ink.
    pub fn count(&self) -> u64 {
        self.words.iter().map(|w| u64::from(w.count_ones())).sum()
    }

    /// Writes a row from its changes (see [`crate::Raster::changes`]).
    pub fn set_row_from_changes(&mut self, y: u32, changes: &[u32]) {
        let width = self.width;
        let row = self.row_mut(y);
        row.fill(0);
        for run in crate::runs(changes, width) {
            fill(row, run.start, run.end);
        }
    }

    /// Appends the changes of columns `x0..x1` of row `y`, counted from `x0`.
    pub fn changes_of_row(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        changes_of_words(self.row(y), x0, x1, out);
    }

    /// The picture turned a quarter clockwise: its top becomes the right edge.
    pub fn turned_clockwise(&self) -> Self {
        let mut out = Self::new(self.height, self.width);
        // Blocks of 64 x 64, so that both sides stay in the cache.
        let mut block = [0_u64; 64];
        for by in 0..self.height.div_ceil(64) {
            for bx in 0..self.stride {
                for (i, word) in block.iter_mut().enumerate() {
                    let y = by as usize * 64 + i;
                    *word =
                        if y < self.height as usize { self.words[y * self.stride + bx] } else { 0 };
                }
                transpose(&mut block);
                // Column x of the source, read upwards, is row x of the result.
                for (i, word) in block.iter().enumerate() {
                    let x = bx * 64 + i;
                    if x < self.width as usize && *word != 0 {
                        out.or_reversed(x as u32, by * 64, *word);
                    }
                }
            }
        }
        out
    }

    /// Sets the bits of `word`, whose bit `i` from the left stands for source row `y0 + i`,
    /// at columns `height - 1 - (y0 + i)` of row `y`.
    fn or_reversed(&mut self, y: u32, y0: u32, word: u64) {
        let reversed = word.reverse_bits();
        // Bit i from the left of `reversed` belongs at column width - 64 - y0 + i.
        let start = i64::from(self.width) - 64 - i64::from(y0);
        let row = self.row_mut(y);
        if start >= 0 {
            let (at, shift) = (start as usize / 64, start as u32 % 64);
            row[at] |= reversed >> shift;
            if shift > 0 && at + 1 < row.len() {
                row[at + 1] |= reversed << (64 - shift);
            }
        } else {
            row[0] |= reversed << (-start) as u32;
        }
    }
}

/// Sets columns `x0..x1` of a row.
fn fill(row: &mut [u64], x0: u32, x1: u32) {
    if x0 >= x1 {
        return;
    }
    let (first, last) = (x0 as usize / 64, (x1 as usize - 1) / 64);
    let head = u64::MAX >> (x0 % 64);
    let tail = u64::MAX << (63 - (x1 - 1) % 64);
    if first == last {
        row[first] |= head & tail;
    } else {
        row[first] |= head;
        row[first + 1..last].fill(u64::MAX);
        row[last] |= tail;
    }
}

/// Appends the colour changes of columns `x0..x1`, counted from `x0`, starting from clear.
fn changes_of_words(row: &[u64], x0: u32, x1: u32, out: &mut Vec<u32>) {
    if x0 >= x1 {
        return;
    }
    let (first, last) = (x0 as usize / 64, (x1 as usize - 1) / 64);
    let mut carry = 0_u64;
    for (at, word) in row.iter().enumerate().take(last + 1).skip(first) {
        let mut word = *word;
        if at == first {
            word &= u64::MAX >> (x0 % 64);
        }
        let mut flips = word ^ (word >> 1 | carry << 63);
        carry = word & 1;
        while flips != 0 {
            let bit = flips.leading_zeros();
            let x = at as u32 * 64 + bit;
            if x >= x1 {
                return;
            }
            out.push(x - x0);
            flips &= !(1 << (63 - bit));
        }
    }
}

/// Transposes 64 x 64 bits in place (Hacker's Delight, 7-3, widened to 64).
fn transpose(block: &mut [u64; 64]) {
    let mut mask = 0x0000_0000_FFFF_FFFF_u64;
    let mut width = 32;
    while width != 0 {
        let mut k = 0;
        while k < 64 {
            let t = (block[k] ^ (block[k + width] >> width)) & mask;
            block[k] ^= t;
            block[k + width] ^= t << width;
            k = (k + width + 1) & !width;
        }
        width >>= 1;
        mask ^= mask << width;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture without any regularity, the same every time.
    fn speckled(width: u32, height: u32, sparse: u32) -> Bitmap {
        Bitmap::from_fn(width, height, |x, y| {
            let h = (x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77))
                .wrapping_mul(0xC2B2_AE3D);
            (h >> 16) % sparse == 0
        })
    }

    #[test]
    fn changes_and_rows_agree() {
        for (width, sparse) in [(1, 1), (63, 2), (64, 3), (65, 2), (200, 7), (1000, 90)] {
            let picture = speckled(width, 9, sparse);
            for (x0, x1) in [(0, width), (width / 3, width), (width / 3, width / 2 + 1)] {
                for y in 0..9 {
                    let mut changes = Vec::new();
                    picture.changes_of_row(y, x0, x1, &mut changes);
                    let mut back = Bitmap::new(x1 - x0, 1);
                    back.set_row_from_changes(0, &changes);
                    for x in x0..x1 {
                        assert_eq!(
                            back.get(x - x0, 0),
                            picture.get(x, y),
                            "{width} {x0} {x1} {x} {y}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_quarter_turn_moves_every_pixel() {
        for (width, height) in [(1, 1), (64, 64), (65, 3), (130, 70), (63, 129), (5, 200)] {
            let picture = speckled(width, height, 3);
            let turned = picture.turned_clockwise();
            assert_eq!((turned.width(), turned.height()), (height, width));
            for y in 0..height {
                for x in 0..width {
                    assert_eq!(
                        picture.get(x, y),
                        turned.get(height - 1 - y, x),
                        "{width}x{height} {x},{y}"
                    );
                }
            }
            assert_eq!(picture.count(), turned.count());
        }
    }
}
