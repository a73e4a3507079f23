//! One scan of a JPEG: entropy-coded blocks (T.81, annexes F and G).

use super::bits::{Bits, Huffman};
use super::{Component, JpegPlane};

/// Where the coefficients of a block come in the file, as places in rows of rising
/// horizontal frequency (T.81, figure 5).
pub(super) const ZIGZAG: [u8; 64] = [
    0, 1, 8, 16, 9, 2, 3, 10, 17, 24, 32, 25, 18, 11, 4, 5, 12, 19, 26, 33, 40, 48, 41, 34, 27, 20,
    13, 6, 7, 14, 21, 28, 35, 42, 49, 56, 57, 50, 43, 36, 29, 22, 15, 23, 30, 37, 44, 51, 58, 59,
    52, 45, 38, 31, 39, 46, 53, 60, 61, 54, 47, 55, 62, 63,
];

/// What a scan's header says, and the tables in force.
pub(super) struct Scan<'a> {
    pub(super) components: &'a [Component],
    /// Component, DC table and AC table of each part of the scan.
    pub(super) parts: &'a [(usize, usize, usize)],
    pub(super) dc: &'a [Option<Huffman>; 4],
    pub(super) ac: &'a [Option<Huffman>; 4],
    pub(super) progressive: bool,
    /// The first and last coefficient, in the file's order.
    pub(super) from: usize,
    pub(super) to: usize,
    /// The bits known before and after this scan refines them.
    pub(super) high: u8,
    pub(super) low: u8,
    pub(super) restart: usize,
    pub(super) mcus: [usize; 2],
}

/// What is carried from block to block and dropped at a restart.
#[derive(Default)]
struct Carry {
    dc: [i32; 4],
    /// Blocks still to come in a run that has no more coefficients.
    ended: u32,
}

impl Scan<'_> {
    /// Reads the scan into the planes' coefficients; gives the bytes read.
    pub(super) fn read(&self, bytes: &[u8], planes: &mut [JpegPlane]) -> Option<usize> {
        let mut bits = Bits::new(bytes);
        let mut carry = Carry::default();
        let alone = self.parts.len() == 1;
        let [wide, high] = if alone { self.components[self.parts[0].0].blocks } else { self.mcus };
        for unit in 0..wide * high {
            if self.restart > 0 && unit > 0 && unit % self.restart == 0 {
                bits.restart()?;
                carry = Carry::default();
            }
            let (x, y) = (unit % wide, unit / wide);
            for &(index, dc, ac) in self.parts {
                let component = self.components[index];
                let (across, down) =
                    if alone { (1, 1) } else { (component.across, component.down) };
                for v in 0..down {
                    for u in 0..across {
                        let plane = planes.get_mut(index)?;
                        let at = (y * down + v) * plane.blocks_wide + x * across + u;
                        let block =
                            plane.coefficients.get_mut(64 * at..64 * at + 64)?.try_into().ok()?;
                        self.block(&mut bits, block, &mut carry, index, [dc, ac])?;
                    }
                }
            }
            if bits.ran_out() {
                return None;
            }
        }
        Some(bits.read())
    }

    fn block(
        &self,
        bits: &mut Bits<'_>,
        block: &mut [i16; 64],
        carry: &mut Carry,
        index: usize,
        [dc, ac]: [usize; 2],
    ) -> Option<()> {
        if self.from == 0 {
            if self.high > 0 {
                if bits.bit() {
                    block[0] |= 1 << self.low;
                }
            } else {
                let length = bits.symbol(self.dc.get(dc)?.as_ref()?)?;
                let before = carry.dc.get_mut(index)?;
                *before = before.wrapping_add(bits.signed(u32::from(length.min(16))));
                block[0] = (*before << self.low) as i16;
            }
            if self.progressive {
                return Some(());
            }
        }
        let table = self.ac.get(ac)?.as_ref()?;
        if self.high > 0 {
            self.refine(bits, block, carry, table)
        } else {
            self.first(bits, block, carry, table)
        }
    }

    /// Coefficients seen for the first time (T.81, F.2.2.2 and G.1.2.2).
    fn first(
        &self,
        bits: &mut Bits<'_>,
        block: &mut [i16; 64],
        carry: &mut Carry,
        table: &Huffman,
    ) -> Option<()> {
        if carry.ended > 0 {
            carry.ended -= 1;
            return Some(());
        }
        let mut k = self.from.max(1);
        while k <= self.to {
            let symbol = bits.symbol(table)?;
            let (run, size) = (usize::from(symbol >> 4), u32::from(symbol & 15));
            if size == 0 {
                if run < 15 {
                    carry.ended = (1 << run) - 1 + bits.take(run as u32) as u32;
                    if !self.progressive {
                        carry.ended = 0;
                    }
                    break;
                }
                k += 16;
                continue;
            }
            k += run;
            let place = *ZIGZAG.get(k)?;
            block[usize::from(place)] = (bits.signed(size) << self.low) as i16;
            k += 1;
        }
        Some(())
    }

    /// One more bit of coefficients seen before, and new ones of that size (T.81, G.1.2.3).
    fn refine(
        &self,
        bits: &mut Bits<'_>,
        block: &mut [i16; 64],
        carry: &mut Carry,
        table: &Huffman,
    ) -> Option<()> {
        let bit = 1_i16 << self.low;
        let more = |bits: &mut Bits<'_>, value: &mut i16| {
            if bits.bit() && *value & bit == 0 {
                *value += if *value > 0 { bit } else { -bit };
            }
        };
        let mut k = self.from.max(1);
        if carry.ended == 0 {
            while k <= self.to {
                let symbol = bits.symbol(table)?;
                let (mut run, size) = (symbol >> 4, symbol & 15);
                let mut new = 0;
                if size == 0 {
                    if run < 15 {
                        carry.ended = (1 << run) + bits.take(u32::from(run)) as u32;
                        break;
                    }
                } else {
                    new = if bits.bit() { bit } else { -bit };
                }
                while k <= self.to {
                    let value = &mut block[usize::from(ZIGZAG[k])];
                    k += 1;
                    if *value != 0 {
                        more(bits, value);
                    } else if run == 0 {
                        *value = new;
                        break;
                    } else {
                        run -= 1;
                    }
                }
            }
        }
        if carry.ended > 0 {
            for place in &ZIGZAG[k.min(64)..=self.to] {
                let value = &mut block[usize::from(*place)];
                if *value != 0 {
                    more(bits, value);
                }
            }
            carry.ended -= 1;
        }
        Some(())
    }
}
