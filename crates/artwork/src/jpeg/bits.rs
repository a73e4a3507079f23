//! Bits and Huffman codes of an entropy-coded segment (T.81, annex F.2.2).

/// Reads bits, skipping stuffed noughts; past the segment's end it gives noughts.
pub(super) struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    held: u64,
    count: u32,
    /// Bits given past the end.
    past: u32,
}

impl<'a> Bits<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0, held: 0, count: 0, past: 0 }
    }

    fn fill(&mut self) {
        while self.count <= 48 {
            let byte = match self.bytes.get(self.at) {
                Some(0xFF) if self.bytes.get(self.at + 1) == Some(&0) => {
                    self.at += 2;
                    0xFF
                }
                Some(0xFF) | None => {
                    self.past += 8;
                    0
                }
                Some(byte) => {
                    self.at += 1;
                    *byte
                }
            };
            self.held = self.held << 8 | u64::from(byte);
            self.count += 8;
        }
    }

    /// Whether more bits were taken than there were.
    pub(super) fn ran_out(&self) -> bool {
        self.past > self.count
    }

    /// The next `n` bits, at most 16.
    pub(super) fn take(&mut self, n: u32) -> i32 {
        if n == 0 {
            return 0;
        }
        if self.count < n {
            self.fill();
        }
        self.count -= n;
        (self.held >> self.count) as i32 & ((1 << n) - 1)
    }

    pub(super) fn bit(&mut self) -> bool {
        self.take(1) == 1
    }

    /// A signed number of `n` bits, the leading bit telling its sign (T.81, F.2.2.1).
    pub(super) fn signed(&mut self, n: u32) -> i32 {
        let value = self.take(n);
        if n > 0 && value < 1 << (n - 1) { value - (1 << n) + 1 } else { value }
    }

    pub(super) fn symbol(&mut self, table: &Huffman) -> Option<u8> {
        if self.count < 16 {
            self.fill();
        }
        let next = (self.held >> (self.count - 16)) as u16;
        let (length, symbol) = table.codes[usize::from(next)];
        if length == 0 {
            return None;
        }
        self.count -= u32::from(length);
        Some(symbol)
    }

    /// Drops what is left of the interval and steps over the restart marker that ends it.
    pub(super) fn restart(&mut self) -> Option<()> {
        (self.held, self.count, self.past) = (0, 0, 0);
        let rest = self.bytes.get(self.at..)?;
        let marker = rest.windows(2).position(|w| w[0] == 0xFF && (0xD0..=0xD7).contains(&w[1]))?;
        self.at += marker + 2;
        Some(())
    }

    /// Bytes read so far; the marker that ends the segment is not among them.
    pub(super) const fn read(&self) -> usize {
        self.at
    }
}

/// A Huffman table: what any sixteen bits begin with.
pub(super) struct Huffman {
    codes: Vec<(u8, u8)>,
}

impl Huffman {
    /// The table with `counts[i]` codes of length `i + 1` (T.81, annex C).
    pub(super) fn new(counts: &[u8], symbols: &[u8]) -> Option<Self> {
        let mut codes = vec![(0, 0); 1 << 16];
        let (mut code, mut next) = (0_usize, symbols.iter());
        for (length, count) in (1..=16_u8).zip(counts) {
            for _ in 0..*count {
                let shift = 16 - u32::from(length);
                codes.get_mut(code << shift..(code + 1) << shift)?.fill((length, *next.next()?));
                code += 1;
            }
            code <<= 1;
        }
        Some(Self { codes })
    }
}
