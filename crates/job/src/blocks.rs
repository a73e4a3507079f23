use artwork::{Crop, Picture};
use bitmap::{Bitmap, Raster};

/// A black-and-white picture enlarged as it is, each pixel a block with sharp corners: a region
/// to cover, not artwork to smooth. A film pixel has the colour at its middle.
pub(crate) struct Blocks {
    pixels: Bitmap,
    width: u32,
    height: u32,
}

impl Blocks {
    /// The picture's part `crop` at `width` x `height` film pixels, dark as ink unless inverted.
    pub(crate) fn new(
        picture: &Picture,
        crop: Crop,
        invert: bool,
        width: u32,
        height: u32,
    ) -> Self {
        let greys = picture.greys();
        let pixels = Bitmap::from_fn(crop.width, crop.height, |x, y| {
            let at = (crop.y + y) as usize * picture.width as usize + (crop.x + x) as usize;
            (greys[at] < 128) != invert
        });
        Self { pixels, width, height }
    }
}

impl Raster for Blocks {
    fn width(&self) -> u32 {
        self.width
    }
    fn height(&self) -> u32 {
        self.height
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let source = u64::from(self.pixels.width());
        let film = u64::from(self.width);
        let row =
            (2 * u64::from(y) + 1) * u64::from(self.pixels.height()) / (2 * u64::from(self.height));
        let start = out.len();
        self.pixels.changes_of_row(row as u32, 0, self.pixels.width(), out);
        // The first film pixel whose middle lies in source pixel c or beyond.
        let middle = |c: u32| {
            let i = (2 * u64::from(c) * film).saturating_sub(source).div_ceil(2 * source);
            i.min(film) as u32
        };
        let mut ink_at_start = false;
        let mut kept = start;
        for i in start..out.len() {
            let at = middle(out[i]);
            if at <= x0 {
                ink_at_start = !ink_at_start;
            } else if at < x1 {
                out[kept] = at - x0;
                kept += 1;
            }
        }
        out.truncate(kept);
        if ink_at_start {
            out.insert(start, 0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_film_pixel_is_what_lies_at_its_middle() {
        let greys: Vec<u8> =
            (0..7 * 5).map(|i: u32| if i * i % 11 < 5 { 0 } else { 255 }).collect();
        let picture = Picture::grey(7, 5, greys.clone());
        for (width, height) in [(7, 5), (70, 50), (33, 24), (3, 2)] {
            let crop = Crop { x: 0, y: 0, width: 7, height: 5 };
            let blocks = Blocks::new(&picture, crop, false, width, height);
            for (x0, x1) in [(0, width), (width / 3, width), (1, width - 1)] {
                for y in 0..height {
                    let mut changes = Vec::new();
                    blocks.changes(y, x0, x1, &mut changes);
                    let mut row = Bitmap::new(x1 - x0, 1);
                    row.set_row_from_changes(0, &changes);
                    for x in x0..x1 {
                        let (sx, sy) =
                            ((2 * x + 1) * 7 / (2 * width), (2 * y + 1) * 5 / (2 * height));
                        let ink = greys[(sy * 7 + sx) as usize] == 0;
                        assert_eq!(row.get(x - x0, 0), ink, "{width}x{height} {x},{y}");
                    }
                }
            }
        }
    }
}
