//! What a JPEG file holds before it is decoded to pixels: its quantised coefficients.
//! ITU-T T.81 (1992), baseline and progressive, Huffman coded, 8 bits.
//!
//! Fitting an edge to these, rather than to the pixels they decode to, uses all that the
//! file knows: each coefficient says within half a quantiser step what the picture was.

mod bits;
mod dct;
mod grid;
mod scan;

pub use dct::Dct;
pub(crate) use grid::jpeg_grid;

use bits::Huffman;
use scan::Scan;

/// The quantised luma of a JPEG, or one plane of its colour differences.
pub struct JpegPlane {
    /// Blocks across, padding included.
    pub blocks_wide: usize,
    /// Blocks down, padding included.
    pub blocks_high: usize,
    /// 64 a block, in rows of rising horizontal frequency.
    pub coefficients: Vec<i16>,
    /// The size of a step of each coefficient, in the same order.
    pub steps: [u16; 64],
    /// How many picture pixels a sample spans, across and down.
    pub spans: (usize, usize),
}

/// A colour component as the frame header describes it.
#[derive(Clone, Copy, Default)]
struct Component {
    id: u8,
    across: usize,
    down: usize,
    table: usize,
    /// Blocks that hold picture, across and down.
    blocks: [usize; 2],
}

/// The most luma samples that are read: beyond, fitting to pixels is as good and lighter.
const MOST: usize = 60_000_000;

/// Reads the luma of a JPEG; none where it is of a kind not read here, or damaged.
pub(crate) fn luma(bytes: &[u8]) -> Option<JpegPlane> {
    planes(bytes)?.into_iter().next()
}

/// Reads the luma of a JPEG and, where it has colour, both planes of colour differences.
pub fn planes(bytes: &[u8]) -> Option<Vec<JpegPlane>> {
    let mut reader = Reader { bytes, at: 2, ..Reader::default() };
    if !bytes.starts_with(&[0xFF, 0xD8]) {
        return None;
    }
    while let Some(marker) = reader.marker() {
        match marker {
            0xD8 | 0x01 | 0xD0..=0xD7 => {}
            0xD9 => break,
            0xC0..=0xC2 => reader.frame(marker == 0xC2)?,
            0xC3 | 0xC5..=0xC7 | 0xC9..=0xCF => return None,
            0xC4 => reader.huffman_tables()?,
            0xDB => reader.quantisers()?,
            0xDD => reader.restart = usize::from(u16_at(reader.segment()?, 0)?),
            0xDA => reader.scan()?,
            0xEE => reader.adobe()?,
            _ => {
                reader.segment()?;
            }
        }
    }
    (reader.scans > 0).then_some(())?;
    let mut planes = reader.planes;
    for (plane, component) in planes.iter_mut().zip(&reader.components) {
        plane.steps = reader.quantisers[component.table]?;
    }
    Some(planes)
}

#[derive(Default)]
struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
    progressive: bool,
    components: Vec<Component>,
    quantisers: [Option<[u16; 64]>; 4],
    dc: [Option<Huffman>; 4],
    ac: [Option<Huffman>; 4],
    restart: usize,
    scans: usize,
    mcus: [usize; 2],
    planes: Vec<JpegPlane>,
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes([*bytes.get(at)?, *bytes.get(at + 1)?]))
}

impl<'a> Reader<'a> {
    /// Moves to the next marker and past it.
    fn marker(&mut self) -> Option<u8> {
        loop {
            let rest = self.bytes.get(self.at..)?;
            let skip = rest.iter().position(|b| *b == 0xFF)?;
            self.at += skip + 1;
            match self.bytes.get(self.at)? {
                0 => self.at += 1,
                0xFF => {}
                marker => {
                    self.at += 1;
                    return Some(*marker);
                }
            }
        }
    }

    /// The segment that follows a marker, without its length.
    fn segment(&mut self) -> Option<&'a [u8]> {
        let length = usize::from(u16_at(self.bytes, self.at)?);
        let segment = self.bytes.get(self.at + 2..self.at + length)?;
        self.at += length;
        Some(segment)
    }

    fn frame(&mut self, progressive: bool) -> Option<()> {
        let segment = self.segment()?;
        let (height, width) = (usize::from(u16_at(segment, 1)?), usize::from(u16_at(segment, 3)?));
        let count = usize::from(*segment.get(5)?);
        if segment[0] != 8
            || !(count == 1 || count == 3)
            || width * height == 0
            || !self.planes.is_empty()
        {
            return None;
        }
        for part in segment.get(6..6 + 3 * count)?.chunks_exact(3) {
            let (across, down) = (usize::from(part[1] >> 4), usize::from(part[1] & 15));
            if !(1..=4).contains(&across) || !(1..=4).contains(&down) || part[2] > 3 {
                return None;
            }
            let table = usize::from(part[2]);
            self.components.push(Component { id: part[0], across, down, table, blocks: [0; 2] });
        }
        let most = |f: fn(&Component) -> usize| self.components.iter().map(f).max().unwrap_or(1);
        let (across, down) = (most(|c| c.across), most(|c| c.down));
        // Red, green and blue kept as such have no luma; luma kept coarser than the picture
        // does not happen in practice.
        let is_rgb = count == 3 && self.components.iter().map(|c| c.id).eq(*b"RGB");
        let first = self.components[0];
        if is_rgb || (first.across, first.down) != (across, down) || width * height > MOST {
            return None;
        }
        if count == 1 {
            // A single component is never interleaved, whatever its sampling says.
            self.components[0].across = 1;
            self.components[0].down = 1;
        }
        let (across, down) = if count == 1 { (1, 1) } else { (across, down) };
        self.mcus = [width.div_ceil(8 * across), height.div_ceil(8 * down)];
        for c in &mut self.components {
            c.blocks =
                [(width * c.across).div_ceil(8 * across), (height * c.down).div_ceil(8 * down)];
        }
        self.progressive = progressive;
        self.planes = self
            .components
            .iter()
            .map(|c| {
                let (blocks_wide, blocks_high) = (self.mcus[0] * c.across, self.mcus[1] * c.down);
                let coefficients = vec![0; 64 * blocks_wide * blocks_high];
                let spans = (across / c.across.max(1), down / c.down.max(1));
                JpegPlane { blocks_wide, blocks_high, coefficients, steps: [0; 64], spans }
            })
            .collect();
        Some(())
    }

    fn huffman_tables(&mut self) -> Option<()> {
        let mut segment = self.segment()?;
        while !segment.is_empty() {
            let counts = segment.get(1..17)?;
            let symbols: usize = counts.iter().map(|c| usize::from(*c)).sum();
            let table = Huffman::new(counts, segment.get(17..17 + symbols)?)?;
            let slot = usize::from(segment[0] & 15);
            let tables = if segment[0] >> 4 == 0 { &mut self.dc } else { &mut self.ac };
            *tables.get_mut(slot)? = Some(table);
            segment = &segment[17 + symbols..];
        }
        Some(())
    }

    fn quantisers(&mut self) -> Option<()> {
        let mut segment = self.segment()?;
        while let Some(&head) = segment.first() {
            let wide = head >> 4 != 0;
            let size = if wide { 129 } else { 65 };
            let values = segment.get(1..size)?;
            let mut steps = [0; 64];
            for (i, place) in scan::ZIGZAG.iter().enumerate() {
                let step = if wide { u16_at(values, 2 * i)? } else { u16::from(values[i]) };
                steps[usize::from(*place)] = step.max(1);
            }
            *self.quantisers.get_mut(usize::from(head & 15))? = Some(steps);
            segment = &segment[size..];
        }
        Some(())
    }

    /// The segment in which some programs say that three components are not luma and chroma.
    fn adobe(&mut self) -> Option<()> {
        let segment = self.segment()?;
        if segment.starts_with(b"Adobe")
            && segment.get(11) == Some(&0)
            && self.components.len() != 1
        {
            return None;
        }
        Some(())
    }

    fn scan(&mut self) -> Option<()> {
        let segment = self.segment()?;
        let count = usize::from(*segment.first()?);
        let tail = segment.get(1 + 2 * count..4 + 2 * count)?;
        let mut parts = Vec::new();
        for part in segment[1..1 + 2 * count].chunks_exact(2) {
            let index = self.components.iter().position(|c| c.id == part[0])?;
            parts.push((index, usize::from(part[1] >> 4), usize::from(part[1] & 15)));
        }
        let (from, to) = (usize::from(tail[0]), usize::from(tail[1]));
        let (from, to) = if self.progressive { (from, to) } else { (0, 63) };
        if to > 63 || from > to || (self.progressive && from > 0 && parts.len() > 1) {
            return None;
        }
        (!self.planes.is_empty()).then_some(())?;
        let scan = Scan {
            components: &self.components,
            parts: &parts,
            dc: &self.dc,
            ac: &self.ac,
            progressive: self.progressive,
            from,
            to,
            high: tail[2] >> 4,
            low: tail[2] & 15,
            restart: self.restart,
            mcus: self.mcus,
        };
        self.at += scan.read(self.bytes.get(self.at..)?, &mut self.planes)?;
        self.scans += 1;
        Some(())
    }
}

/// The image crate's JPEG of a square of greys, for tests.
#[cfg(test)]
pub(crate) fn encoded(greys: &[u8], side: usize, quality: u8) -> Vec<u8> {
    let (mut file, side) = (Vec::new(), side as u32);
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut file, quality)
        .encode(greys, side, side, image::ExtendedColorType::L8)
        .unwrap();
    file
}

#[cfg(test)]
mod tests {
    use super::*;

    const SAMPLES: [&[u8]; 4] = [
        include_bytes!("samples/grey-baseline.jpg"),
        include_bytes!("samples/grey-progressive.jpg"),
        include_bytes!("samples/colour-420-restarts.jpg"),
        include_bytes!("samples/colour-420-progressive.jpg"),
    ];

    /// The luma that a file's coefficients stand for, cut to so many pixels.
    fn shown(plane: &JpegPlane, width: usize, height: usize) -> Vec<f32> {
        let dct = Dct::new();
        let mut out = vec![0.0; width * height];
        for (n, block) in plane.coefficients.chunks_exact(64).enumerate() {
            let mut scaled = [0.0; 64];
            for ((to, c), step) in scaled.iter_mut().zip(block).zip(&plane.steps) {
                *to = f32::from(*c) * f32::from(*step);
            }
            let (left, top) = (8 * (n % plane.blocks_wide), 8 * (n / plane.blocks_wide));
            for (i, v) in dct.inverse(&scaled).into_iter().enumerate() {
                let (x, y) = (left + i % 8, top + i / 8);
                if x < width && y < height {
                    out[y * width + x] = (v + 128.0).clamp(0.0, 255.0);
                }
            }
        }
        out
    }

    /// The `image` crate's decoder is an independent one. Luma is what its colours weigh by
    /// ITU-R BT.601 (T.871); colours are rounded and cut, which moves it by a little.
    #[test]
    fn coefficients_show_what_another_decoder_does() {
        for (n, sample) in SAMPLES.into_iter().enumerate() {
            let picture = image::load_from_memory(sample).unwrap();
            let (width, height) = (picture.width() as usize, picture.height() as usize);
            let luma = luma(sample).unwrap();
            let got = shown(&luma, width, height);
            let grey = picture.color().channel_count() == 1;
            let want: Vec<f32> = picture
                .to_rgb8()
                .pixels()
                .map(|p| {
                    let [r, g, b] = p.0.map(f32::from);
                    if grey { r } else { 0.299 * r + 0.587 * g + 0.114 * b }
                })
                .collect();
            let off = |bound: f32| {
                let far = got.iter().zip(&want).filter(|(a, b)| (*a - *b).abs() > bound);
                far.count() as f32 / got.len() as f32
            };
            // Clipped colours are off by more, a few in a hundred pixels.
            assert!(off(1.6) < if grey { 1e-9 } else { 0.05 }, "sample {n}: {}", off(1.6));
        }
    }

    #[test]
    fn a_broken_file_is_not_read_or_read_in_part() {
        for sample in SAMPLES {
            for cut in (2..sample.len()).step_by(37) {
                // Any answer will do but a panic.
                let _ = planes(&sample[..cut]);
            }
        }
    }
}
