//! A first look at a large picture, while all of it is being read.

use super::{flattened, name_of, size_of};
use crate::Picture;
use image::{DynamicImage, GrayImage, ImageDecoder, ImageFormat, ImageReader, RgbImage};
use jpeg_decoder::{Decoder, PixelFormat};
use std::io::Cursor;

/// A picture much smaller than the file's, at least `least` pixels on its longer side, which is
/// there several times sooner: a JPEG is read at down to an eighth of its size. None for other
/// files, and for those that cannot be read so.
pub fn preview(bytes: &[u8], least: u16) -> Option<Picture> {
    let format = image::guess_format(bytes).ok().filter(|f| *f == ImageFormat::Jpeg)?;
    name_of(format)?;
    let (width, height) = size_of(bytes)?;
    let mut decoder = Decoder::new(bytes);
    decoder.read_info().ok()?;
    let shorter = u64::from(least) * u64::from(width.min(height));
    let side = (shorter / u64::from(width.max(height))).max(1) as u16;
    decoder.scale(side, side).ok()?;
    let pixels = decoder.decode().ok()?;
    let info = decoder.info()?;
    let (w, h) = (u32::from(info.width), u32::from(info.height));
    let mut image = match info.pixel_format {
        PixelFormat::L8 => DynamicImage::ImageLuma8(GrayImage::from_raw(w, h, pixels)?),
        PixelFormat::RGB24 => DynamicImage::ImageRgb8(RgbImage::from_raw(w, h, pixels)?),
        PixelFormat::L16 | PixelFormat::CMYK32 => return None,
    };
    let head = ImageReader::with_format(Cursor::new(bytes), format).into_decoder();
    image.apply_orientation(head.ok()?.orientation().ok()?);
    Some(flattened(image))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Pixels, load};

    #[test]
    fn a_first_look_is_the_picture_small() {
        let photo = RgbImage::from_fn(1600, 1000, |x, y| {
            image::Rgb([(x / 8) as u8, (y / 5) as u8, ((x + y) / 16) as u8])
        });
        let mut jpeg = Cursor::new(Vec::new());
        photo.write_to(&mut jpeg, ImageFormat::Jpeg).unwrap();
        let bytes = jpeg.into_inner();
        let small = preview(&bytes, 200).unwrap();
        assert_eq!((small.width, small.height), (200, 125));
        let whole = load(&bytes).unwrap().thumbnail(200);
        let (Pixels::Rgb(a), Pixels::Rgb(b)) = (&small.pixels, &whole.pixels) else {
            panic!("colour stays colour")
        };
        let off: u64 = a.iter().zip(b.iter()).map(|(a, b)| u64::from(a.abs_diff(*b))).sum();
        assert!(off < 4 * a.len() as u64, "{off} over {} values", a.len());
        assert!(preview(&bytes[..100], 200).is_none() && preview(b"no picture", 200).is_none());
    }

    #[test]
    fn a_first_look_lies_as_its_picture_does() {
        let small = preview(&super::super::tests::lying_jpeg(), 5).unwrap();
        assert!(small.width < small.height, "{} x {}", small.width, small.height);
    }
}
