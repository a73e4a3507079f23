use crate::codes::{BLACK, Code, LONGEST, MAKE_UP, WHITE};

/// Encodes rows of a one-bit picture by ITU-T T.6 (Group 4), set bits black.
///
/// The same bytes serve TIFF (Compression 4) and PDF (CCITTFaxDecode with K -1). Rows may
/// be of any width; runs beyond 2560 pixels repeat the longest make-up code.
pub struct Group4 {
    width: u32,
    /// The changes of the row above and of the row being coded, each ended by `END`
    /// entries of `width`, so that the coder never asks whether there is another change.
    above: Vec<u32>,
    row: Vec<u32>,
    /// The packed row above, where rows come packed.
    words: Vec<u64>,
    bits: Bits,
}

/// How many entries of `width` end a row's changes: the coder looks this far past them.
const END: usize = 4;

const PASS: Code = (0b0001, 4);
const HORIZONTAL: Code = (0b001, 3);
/// From three pixels left of the change above to three pixels right of it.
const VERTICAL: [Code; 7] = [
    (0b0000010, 7),
    (0b000010, 6),
    (0b010, 3),
    (0b1, 1),
    (0b011, 3),
    (0b000011, 6),
    (0b0000011, 7),
];

impl Group4 {
    /// An encoder of rows `width` pixels wide, below an imagined clear row.
    pub fn new(width: u32) -> Self {
        let clear = vec![width; END];
        let words = vec![0; (width as usize).div_ceil(64)];
        Self { width, above: clear.clone(), row: clear, words, bits: Bits::default() }
    }

    /// Encodes a row given by its colour changes, as [`bitmap::Raster::changes`] gives them.
    pub fn changes(&mut self, changes: &[u32]) {
        let known = self.above.len() - END;
        if self.above[..known] == *changes {
            self.bits.ones(known + 1);
            return;
        }
        self.row.clear();
        self.row.extend_from_slice(changes);
        self.code();
    }

    /// Encodes a row given as packed words, leftmost pixel highest, as
    /// [`bitmap::Bitmap::row`] gives it. All rows of one picture come the same way.
    pub fn packed(&mut self, words: &[u64]) {
        if self.words == words {
            self.bits.ones(self.above.len() - END + 1);
            return;
        }
        self.words.copy_from_slice(words);
        self.row.clear();
        let mut carry = 0;
        for (at, &word) in words.iter().enumerate() {
            let mut flips = word ^ (word >> 1 | carry << 63);
            carry = word & 1;
            while flips != 0 {
                let bit = flips.leading_zeros();
                self.row.push(at as u32 * 64 + bit);
                flips ^= 1 << (63 - bit);
            }
        }
        // The clear padding after a row that ends in ink shows as a change at its edge.
        while self.row.last().is_some_and(|&x| x >= self.width) {
            self.row.pop();
        }
        self.code();
    }

    /// The whole stream, closed by the end-of-block code.
    pub fn finish(mut self) -> Vec<u8> {
        for _ in 0..2 {
            self.bits.put((1, 12));
        }
        self.bits.finish()
    }

    /// How many bytes there are so far.
    pub fn len(&self) -> usize {
        self.bits.bytes.len()
    }

    /// Whether nothing was encoded yet.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Codes `row` against `above`, and makes it the row above. The names are T.6's: `a0`
    /// is where coding stands, `a1` the next change here, `b1` the next change above of
    /// the same kind right of `a0`, `b2` the one after it.
    fn code(&mut self) {
        self.row.extend_from_slice(&[self.width; END]);
        let (row, above, bits) = (&self.row[..], &self.above[..], &mut self.bits);
        let (mut a0, mut i, mut j) = (0, 0, 0);
        while a0 < self.width {
            // Changes to black have even places in both rows, so b1 has the evenness of a1.
            // At the very start a change at nought counts as right of a0.
            while above[j] <= a0 && above[j] < self.width && (a0 > 0 || i > 0) {
                j += 2;
            }
            let (a1, b1, b2) = (row[i], above[j], above[j + 1]);
            if b2 < a1 {
                bits.put(PASS);
                a0 = b2;
                j += 2;
                continue;
            }
            let shift = a1.wrapping_sub(b1).wrapping_add(3);
            if shift < 7 {
                bits.put(VERTICAL[shift as usize]);
                a0 = a1;
                i += 1;
                // The other evenness: one back may still lie right of a0.
                j = if j > 0 { j - 1 } else { 1 };
            } else {
                let a2 = row[i + 1];
                let (first, second) = if i % 2 == 0 { (&WHITE, &BLACK) } else { (&BLACK, &WHITE) };
                bits.put(HORIZONTAL);
                bits.run(first, a1 - a0);
                bits.run(second, a2 - a1);
                a0 = a2;
                i += 2;
            }
        }
        std::mem::swap(&mut self.row, &mut self.above);
    }
}

/// Bits gathered into bytes, first bit highest.
#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    /// Bits not yet written, right-aligned; at most 31 between calls.
    held: u64,
    count: u32,
}

impl Bits {
    fn put(&mut self, (code, len): Code) {
        self.held = self.held << len | u64::from(code);
        self.count += u32::from(len);
        if self.count >= 32 {
            self.count -= 32;
            self.bytes.extend_from_slice(&((self.held >> self.count) as u32).to_be_bytes());
        }
    }

    fn ones(&mut self, mut n: usize) {
        while n > 0 {
            let len = n.min(16);
            self.put(((1_u32 << len).wrapping_sub(1) as u16, len as u8));
            n -= len;
        }
    }

    fn run(&mut self, table: &[Code; 104], mut length: u32) {
        while length >= LONGEST {
            self.put(table[MAKE_UP + (LONGEST / 64) as usize - 1]);
            length -= LONGEST;
        }
        if length >= 64 {
            self.put(table[MAKE_UP + (length / 64) as usize - 1]);
        }
        self.put(table[(length % 64) as usize]);
    }

    fn finish(mut self) -> Vec<u8> {
        let last = (self.held << (32 - self.count)) as u32;
        self.bytes.extend_from_slice(&last.to_be_bytes()[..(self.count as usize).div_ceil(8)]);
        self.bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bitmap::Bitmap;
    use fax::{Color, VecWriter, encoder::Encoder};

    /// Encodes by both entries, which must agree.
    fn encode(picture: &Bitmap) -> Vec<u8> {
        let (mut packed, mut listed) = (Group4::new(picture.width()), Group4::new(picture.width()));
        let mut changes = Vec::new();
        for y in 0..picture.height() {
            packed.packed(picture.row(y));
            changes.clear();
            picture.changes_of_row(y, 0, picture.width(), &mut changes);
            listed.changes(&changes);
        }
        let packed = packed.finish();
        assert_eq!(packed, listed.finish());
        packed
    }

    /// The `fax` crate's encoder, an independent one; version 0.3 reads widths as `u32`.
    fn encode_by_fax(picture: &Bitmap) -> Vec<u8> {
        let mut encoder = Encoder::new(VecWriter::new());
        for y in 0..picture.height() {
            let row = (0..picture.width())
                .map(|x| if picture.get(x, y) { Color::Black } else { Color::White });
            encoder.encode_line(row, picture.width()).unwrap();
        }
        encoder.finish().unwrap().finish()
    }

    fn hash(x: u32, y: u32) -> u32 {
        let h =
            (x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77)).wrapping_mul(0xC2B2_AE3D);
        (h ^ h >> 15).wrapping_mul(0x27D4_EB2F) >> 16
    }

    /// Pictures of every temper: empty, full, lines, dots, slanted edges, no order at all.
    fn pictures(width: u32, height: u32) -> Vec<Bitmap> {
        let make = |f: &dyn Fn(u32, u32) -> bool| Bitmap::from_fn(width, height, f);
        vec![
            make(&|_, _| false),
            make(&|_, _| true),
            make(&|x, _| x % 2 == 0),
            make(&|x, y| (x + y) % 2 == 1),
            make(&|x, y| hash(x, y).is_multiple_of(2)),
            make(&|x, y| hash(x, y).is_multiple_of(97)),
            make(&|x, y| hash(x / 9, y / 3).is_multiple_of(3)),
            make(&|x, y| (x + 2 * y) / 37 % 2 == 0),
            make(&|x, y| (x + 5000 - 3 * y.min(900)) / 700 % 2 == 0),
            make(&|x, y| x + y + 1 >= width),
            make(&|x, y| (x % 24).pow(2) + (y % 24).pow(2) < 160 + hash(x / 24, y / 24) % 60),
        ]
    }

    #[test]
    fn equals_an_independent_encoder_byte_for_byte() {
        for width in [1, 2, 7, 31, 63, 64, 65, 128, 700, 2559, 2560, 2561, 2623, 5121, 9360, 32_767]
        {
            for (n, picture) in pictures(width, 13).iter().enumerate() {
                assert_eq!(encode(picture), encode_by_fax(picture), "width {width}, picture {n}");
            }
        }
    }

    /// Encoded by hand from the modes and run codes of T.6 and T.4; libtiff encodes and
    /// decodes both streams identically.
    #[test]
    fn equals_streams_worked_by_hand() {
        let rows = [0..0, 4..9, 3..9, 0..0];
        let picture = Bitmap::from_fn(16, 4, |x, y| rows[y as usize].contains(&x));
        assert_eq!(encode(&picture), [0x9B, 0x3A, 0xC6, 0x00, 0x20, 0x02]);
        assert_eq!(
            encode(&Bitmap::from_fn(16, 1, |_, _| true)),
            [0x26, 0xA0, 0xB8, 0x00, 0x80, 0x08]
        );
        assert_eq!(encode(&Bitmap::new(16, 1)), [0x80, 0x08, 0x00, 0x80]);
    }

    #[test]
    fn widths_beyond_a_fax_round_trip() {
        for width in [32_768, 65_536, 100_003] {
            for (n, picture) in pictures(width, 7).iter().enumerate() {
                let stream = encode(picture);
                let mut back = Bitmap::new(width, 7);
                let mut rows = crate::ungroup4::Ungroup4::new(&stream, width);
                for y in 0..7 {
                    back.set_row_from_changes(y, rows.next_row().unwrap());
                }
                assert!(back == *picture, "width {width}, picture {n}");
            }
        }
    }
}
