use crate::ArtworkError;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::sync::Arc;

/// A picture as loaded: upright (EXIF honoured), transparency laid on white, 8 bits a channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// The pixels, row by row.
    pub pixels: Pixels,
    /// The file's own bytes where it is a JPEG that needed no turning: edges are then fitted
    /// to what the file holds, not only to the pixels that it decodes to.
    pub jpeg: Option<Arc<[u8]>>,
}

/// A picture's pixels.
#[derive(Clone, Debug, PartialEq)]
pub enum Pixels {
    /// One byte a pixel, 0 black.
    Grey(Arc<[u8]>),
    /// Red, green and blue bytes, sRGB.
    Rgb(Arc<[u8]>),
}

/// A part of a picture in source pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Crop {
    /// Pixels cut off at the left.
    pub x: u32,
    /// Pixels cut off at the top.
    pub y: u32,
    /// Pixels kept across.
    pub width: u32,
    /// Pixels kept down.
    pub height: u32,
}

impl Picture {
    /// A grey picture of one byte a pixel, 0 black.
    ///
    /// # Panics
    /// Where the bytes are not `width` x `height`.
    pub fn grey(width: u32, height: u32, bytes: impl Into<Arc<[u8]>>) -> Self {
        let bytes = bytes.into();
        assert_eq!(bytes.len(), width as usize * height as usize, "one byte a pixel");
        Self { width, height, pixels: Pixels::Grey(bytes), jpeg: None }
    }

    /// A colour picture of three bytes a pixel.
    ///
    /// # Panics
    /// Where the bytes are not three times `width` x `height`.
    pub fn rgb(width: u32, height: u32, bytes: impl Into<Arc<[u8]>>) -> Self {
        let bytes = bytes.into();
        assert_eq!(bytes.len(), 3 * width as usize * height as usize, "three bytes a pixel");
        Self { width, height, pixels: Pixels::Rgb(bytes), jpeg: None }
    }

    /// All of the picture.
    pub const fn whole(&self) -> Crop {
        Crop { x: 0, y: 0, width: self.width, height: self.height }
    }

    /// The picture in grey, one byte a pixel: the luma of ITU-R BT.601, which is also what a
    /// JPEG stores.
    pub fn greys(&self) -> Cow<'_, [u8]> {
        match &self.pixels {
            Pixels::Grey(bytes) => Cow::Borrowed(bytes),
            Pixels::Rgb(bytes) => Cow::Owned(bytes.chunks_exact(3).map(luma).collect()),
        }
    }

    /// How many pixels of the part have each grey, black first.
    ///
    /// # Errors
    /// Where the part is not inside the picture.
    pub fn histogram(&self, crop: Option<Crop>) -> Result<[u64; 256], ArtworkError> {
        let crop = self.part(crop)?;
        let mut counts = [0; 256];
        for y in crop.y..crop.y + crop.height {
            let from = y as usize * self.width as usize + crop.x as usize;
            let to = from + crop.width as usize;
            match &self.pixels {
                Pixels::Grey(bytes) => {
                    bytes[from..to].iter().for_each(|g| counts[*g as usize] += 1)
                }
                Pixels::Rgb(bytes) => {
                    for rgb in bytes[3 * from..3 * to].chunks_exact(3) {
                        counts[luma(rgb) as usize] += 1;
                    }
                }
            }
        }
        Ok(counts)
    }

    /// The picture made smaller by a whole number, each pixel the mean of those it stands for,
    /// until it is at most `longest` on its longer side.
    pub fn thumbnail(&self, longest: u32) -> Self {
        let by = self.width.max(self.height).div_ceil(longest.max(1)).max(1);
        if by == 1 {
            return self.clone();
        }
        let (width, height) = (self.width.div_ceil(by), self.height.div_ceil(by));
        let shrunk = |bytes: &[u8], channels: usize| -> Arc<[u8]> {
            let mut out = Vec::with_capacity(width as usize * height as usize * channels);
            for y in 0..height {
                for x in 0..width {
                    let (x1, y1) =
                        (((x + 1) * by).min(self.width), ((y + 1) * by).min(self.height));
                    let count = (x1 - x * by) * (y1 - y * by);
                    for channel in 0..channels {
                        let mut sum = u64::from(count / 2);
                        for v in y * by..y1 {
                            let row = v as usize * self.width as usize;
                            let from = (row + (x * by) as usize) * channels + channel;
                            let to = (row + x1 as usize) * channels;
                            sum += bytes[from..to]
                                .iter()
                                .step_by(channels)
                                .map(|b| u64::from(*b))
                                .sum::<u64>();
                        }
                        out.push((sum / u64::from(count)) as u8);
                    }
                }
            }
            out.into()
        };
        match &self.pixels {
            Pixels::Grey(bytes) => Self::grey(width, height, shrunk(bytes, 1)),
            Pixels::Rgb(bytes) => Self::rgb(width, height, shrunk(bytes, 3)),
        }
    }

    /// The part asked for, checked; all of the picture when none.
    pub(crate) fn part(&self, crop: Option<Crop>) -> Result<Crop, ArtworkError> {
        let Some(crop) = crop else { return Ok(self.whole()) };
        let fits = |at: u32, size: u32, room: u32| size > 0 && at < room && size <= room - at;
        if fits(crop.x, crop.width, self.width) && fits(crop.y, crop.height, self.height) {
            Ok(crop)
        } else {
            Err(ArtworkError::CropOutside { width: self.width, height: self.height })
        }
    }
}

/// The luma of a red, green and blue byte, ITU-R BT.601 in 16-bit fixed point, rounded.
pub(crate) fn luma(rgb: &[u8]) -> u8 {
    let [r, g, b] = [u32::from(rgb[0]), u32::from(rgb[1]), u32::from(rgb[2])];
    ((r * 19_595 + g * 38_470 + b * 7_471 + 0x8000) >> 16) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pillow 13: `Image.new("RGB", (1, 1), c).convert("L").getpixel((0, 0))`.
    #[test]
    fn grey_is_what_pillow_makes() {
        for (rgb, grey) in [
            ([255, 0, 0], 76),
            ([0, 255, 0], 150),
            ([0, 0, 255], 29),
            ([12, 200, 77], 130),
            ([250, 128, 114], 163),
            ([255, 255, 255], 255),
        ] {
            assert_eq!(luma(&rgb), grey, "{rgb:?}");
        }
    }

    #[test]
    fn a_crop_is_inside_or_refused() {
        let picture = Picture::grey(4, 3, vec![0; 12]);
        for (x, y, width, height, fits) in [
            (0, 0, 4, 3, true),
            (3, 2, 1, 1, true),
            (0, 0, 0, 3, false),
            (4, 0, 1, 1, false),
            (1, 0, 4, 1, false),
            (u32::MAX, 0, u32::MAX, 1, false),
        ] {
            assert_eq!(
                picture.part(Some(Crop { x, y, width, height })).is_ok(),
                fits,
                "{x} {y} {width} {height}"
            );
        }
    }

    #[test]
    fn a_thumbnail_keeps_the_mean() {
        let picture = Picture::grey(4, 2, vec![0, 100, 10, 10, 100, 200, 10, 30]);
        let Pixels::Grey(small) = picture.thumbnail(2).pixels else { panic!("grey stays grey") };
        assert_eq!(&small[..], &[100, 15]);
    }
}
