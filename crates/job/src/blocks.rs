use artwork::{Crop, Picture};
use bitmap::{Bitmap, Raster, Turned};

/// A black-and-white picture enlarged as it is, each pixel a block with sharp corners: a region
/// to cover, not artwork to smooth. A film pixel has the colour at its middle.
pub(crate) struct Blocks {
    pixels: Bitmap,
    laid: Turned,
}

impl Blocks {
    /// The picture's part `crop` as it is laid on the film, dark as ink unless inverted.
    pub(crate) fn new(picture: &Picture, crop: Crop, invert: bool, laid: Turned) -> Self {
        let greys = picture.greys();
        let pixels = Bitmap::from_fn(crop.width, crop.height, |x, y| {
            let at = (crop.y + y) as usize * picture.width as usize + (crop.x + x) as usize;
            (greys[at] < 128) != invert
        });
        Self { pixels, laid }
    }
}

impl Raster for Blocks {
    fn width(&self) -> u32 {
        self.laid.film().0
    }
    fn height(&self) -> u32 {
        self.laid.film().1
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        if !self.laid.is_upright() {
            return self.turned(y, x0, x1, out);
        }
        let source = u64::from(self.pixels.width());
        let film = u64::from(self.width());
        let row = (2 * u64::from(y) + 1) * u64::from(self.pixels.height())
            / (2 * u64::from(self.height()));
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

impl Blocks {
    fn turned(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let (wide, high) = self.laid.picture();
        let (w, h) = (self.pixels.width(), self.pixels.height());
        let across = |u: f64| u * f64::from(w) / wide;
        let down = |v: f64| v * f64::from(h) / high;
        let (mut ink, mut end) = (false, x0);
        self.laid.cells(y, x0, x1, across, down, |xs, x, y| {
            if self.pixels.get((x as u32).min(w - 1), (y as u32).min(h - 1)) != ink {
                ink = !ink;
                out.push(xs.start - x0);
            }
            end = xs.end;
        });
        if ink && end < x1 {
            out.push(end - x0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bitmap::collect;
    use measure::Angle;

    #[test]
    fn every_film_pixel_is_what_lies_at_its_middle() {
        let greys: Vec<u8> =
            (0..7 * 5).map(|i: u32| if i * i % 11 < 5 { 0 } else { 255 }).collect();
        let picture = Picture::grey(7, 5, greys.clone());
        for (width, height) in [(7, 5), (70, 50), (33, 24), (3, 2)] {
            let crop = Crop { x: 0, y: 0, width: 7, height: 5 };
            let laid = Turned::upright(width, height);
            let blocks = Blocks::new(&picture, crop, false, laid);
            let around =
                Blocks::new(&picture, crop, false, Turned::by(width, height, Angle::deg(90.0)));
            assert_eq!(collect(&blocks).turned_clockwise(), collect(&around));
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
