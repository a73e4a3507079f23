use crate::codes::{BLACK, Code, MAKE_UP, WHITE};
use std::sync::LazyLock;

/// Reads an ITU-T T.6 (Group 4) stream row by row. Written apart from the encoder, from
/// the standard, so that the one can check the other; only the code tables are shared.
pub(crate) struct Ungroup4<'a> {
    stream: &'a [u8],
    /// The next bit to read.
    at: usize,
    width: u32,
    above: Vec<u32>,
    row: Vec<u32>,
}

/// The stream is no Group 4 stream, or breaks off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Damaged;

/// For every 13 bits that begin with a run's code: which code, and its length in bits
/// (nought where no code begins so).
type Lookup = Vec<(u8, u8)>;
static WHITE_CODES: LazyLock<Lookup> = LazyLock::new(|| lookup(&WHITE));
static BLACK_CODES: LazyLock<Lookup> = LazyLock::new(|| lookup(&BLACK));

impl<'a> Ungroup4<'a> {
    pub(crate) fn new(stream: &'a [u8], width: u32) -> Self {
        Self { stream, at: 0, width, above: Vec::new(), row: Vec::new() }
    }

    /// The colour changes of the next row, starting from clear.
    pub(crate) fn next_row(&mut self) -> Result<&[u32], Damaged> {
        std::mem::swap(&mut self.above, &mut self.row);
        self.row.clear();
        // Where the decoder stands, and how many changes above lie left of it.
        let (mut here, mut passed, mut started) = (0_u32, 0_usize, false);
        while here < self.width {
            // The first change above, right of here, to the colour that here is not.
            while passed < self.above.len()
                && (self.above[passed] < here || (self.above[passed] == here && started))
            {
                passed += 1;
            }
            let next = passed + (passed + self.row.len()) % 2;
            let change = |n: usize| self.above.get(n).copied().unwrap_or(self.width);
            let (first, second) = (change(next), change(next + 1));
            let bits = self.peek();
            let vertical = |offset: i64, len| (Some(i64::from(first) + offset), len);
            let (to, len) = match bits.leading_zeros() {
                0 => vertical(0, 1),
                1 if bits >> 29 & 1 == 1 => vertical(1, 3),
                1 => vertical(-1, 3),
                2 => (None, 3),
                3 => {
                    self.at += 4;
                    (here, started) = (second, true);
                    if second >= self.width {
                        return Err(Damaged);
                    }
                    continue;
                }
                4 => vertical(if bits >> 26 & 1 == 1 { 2 } else { -2 }, 6),
                5 => vertical(if bits >> 25 & 1 == 1 { 3 } else { -3 }, 7),
                _ => return Err(Damaged),
            };
            self.at += len;
            if let Some(to) = to {
                self.change(&mut here, to)?;
            } else {
                for _ in 0..2 {
                    let run = self.run(self.row.len() % 2 == 1)?;
                    let to = i64::from(here) + i64::from(run);
                    self.change(&mut here, to)?;
                }
            }
            started = true;
            // A mark left of the last one uncovers a change above again.
            passed = passed.saturating_sub(2);
        }
        // The edge is no change; several codes may have ended there.
        while self.row.last() == Some(&self.width) {
            self.row.pop();
        }
        if self.at > self.stream.len() * 8 { Err(Damaged) } else { Ok(&self.row) }
    }

    /// Whether the stream ends here as it should: the end-of-block code, and nothing more.
    pub(crate) fn ends(&self) -> bool {
        self.peek() >> 8 == 0x00_1001 && (self.at + 24).div_ceil(8) == self.stream.len()
    }

    fn change(&mut self, here: &mut u32, to: i64) -> Result<(), Damaged> {
        if to < i64::from(*here) || to > i64::from(self.width) {
            return Err(Damaged);
        }
        *here = to as u32;
        self.row.push(*here);
        Ok(())
    }

    /// A run's length: any number of make-up codes, then a terminating one.
    fn run(&mut self, black: bool) -> Result<u32, Damaged> {
        let codes = if black { &BLACK_CODES } else { &WHITE_CODES };
        let mut length = 0_u32;
        loop {
            let (code, len) = codes[(self.peek() >> 19) as usize];
            if len == 0 || length > self.width {
                return Err(Damaged);
            }
            self.at += usize::from(len);
            let code = usize::from(code);
            if code < MAKE_UP {
                return Ok(length + code as u32);
            }
            length += (code - MAKE_UP + 1) as u32 * 64;
        }
    }

    /// The next 32 bits, noughts past the end.
    fn peek(&self) -> u32 {
        let byte = self.at / 8;
        let mut eight = [0; 8];
        if let Some(rest) = self.stream.get(byte..) {
            let n = rest.len().min(8);
            eight[..n].copy_from_slice(&rest[..n]);
        }
        (u64::from_be_bytes(eight) << (self.at % 8) >> 32) as u32
    }
}

fn lookup(codes: &[Code; 104]) -> Lookup {
    let mut out = vec![(0, 0); 1 << 13];
    for (n, &(bits, len)) in codes.iter().enumerate() {
        let room = 13 - len;
        let first = usize::from(bits) << room;
        out[first..first + (1 << room)].fill((n as u8, len));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn damage_is_an_error_and_no_panic() {
        let good = [0x9B, 0x3A, 0xC6, 0x00, 0x20, 0x02];
        let mut rows = Ungroup4::new(&good, 16);
        for expected in [&[][..], &[4, 9], &[3, 9], &[]] {
            assert_eq!(rows.next_row(), Ok(expected));
        }
        assert!(rows.ends());
        assert_eq!(rows.next_row(), Err(Damaged));
        for cut in 0..good.len() {
            let mut rows = Ungroup4::new(&good[..cut], 16);
            while rows.next_row().is_ok() {}
            assert!(!rows.ends());
        }
        for seed in 0..2000_u32 {
            let noise: Vec<u8> = (0..40)
                .map(|i| (seed * 40 + i).wrapping_mul(0x9E37_79B1).to_be_bytes()[1])
                .collect();
            let mut rows = Ungroup4::new(&noise, 1 + seed * 7);
            // Every row takes at least one bit, so this ends.
            while rows.next_row().is_ok() {}
        }
    }
}
