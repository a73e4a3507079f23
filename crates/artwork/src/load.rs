//! From a file's bytes to a [`Picture`]. The format is told by the content, never by a name.

use crate::error::{MAX_PIXELS, MAX_SIDE};
use crate::picture::luma;
use crate::{ArtworkError, Picture};
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageError, ImageFormat, ImageReader, Limits};
use std::io::{BufRead, Cursor, Seek};
use std::sync::Arc;

mod preview;
mod svg;

pub use preview::preview;

/// Reads a picture from a file's bytes: PNG, JPEG, TIFF, WebP, BMP, GIF (its first frame) or
/// SVG, turned upright as its EXIF says, transparency laid on white, 8 bits a channel.
///
/// # Errors
/// Where the bytes are no picture that can be used.
pub fn load(bytes: &[u8]) -> Result<Picture, ArtworkError> {
    if bytes.is_empty() {
        return Err(ArtworkError::Empty);
    }
    if svg::is_svg(bytes) {
        return svg::load(bytes);
    }
    let Ok(format) = image::guess_format(bytes) else {
        return Err(ArtworkError::NotAPicture(guess(bytes)));
    };
    let name = name_of(format)
        .ok_or(ArtworkError::NotAPicture("a kind of picture that is not read here"))?;
    if format == ImageFormat::Jpeg && !ends_properly(bytes) {
        return Err(ArtworkError::Damaged { format: name, detail: "its end is missing".into() });
    }
    let fail = |e: ImageError| explain(name, &e);
    let mut decoder =
        ImageReader::with_format(Cursor::new(bytes), format).into_decoder().map_err(fail)?;
    let (width, height) = decoder.dimensions();
    check_size(width, height)?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(2 << 30);
    decoder.set_limits(limits).map_err(fail)?;
    let orientation = decoder.orientation().map_err(fail)?;
    let mut image = DynamicImage::from_decoder(decoder).map_err(fail)?;
    image.apply_orientation(orientation);
    let upright_jpeg = format == ImageFormat::Jpeg && orientation == Orientation::NoTransforms;
    let mut picture = flattened(image);
    picture.jpeg = upright_jpeg.then(|| Arc::from(bytes));
    Ok(picture)
}

/// How large a picture will be once it is loaded, read from the beginning of its file; none
/// where that does not say so.
pub fn size_of(bytes: &[u8]) -> Option<(u32, u32)> {
    let format = image::guess_format(bytes).ok()?;
    name_of(format)?;
    let mut decoder = ImageReader::with_format(Cursor::new(bytes), format).into_decoder().ok()?;
    let (width, height) = decoder.dimensions();
    check_size(width, height).ok()?;
    let lying = matches!(
        decoder.orientation().ok()?,
        Orientation::Rotate90
            | Orientation::Rotate270
            | Orientation::Rotate90FlipH
            | Orientation::Rotate270FlipH
    );
    Some(if lying { (height, width) } else { (width, height) })
}

/// Looks at the head of a picture's file, so that one that is too large is refused before any of
/// it is read. A file that is no picture, or a drawing, passes: [`load`] tells.
///
/// # Errors
/// [`ArtworkError::TooLarge`], or [`ArtworkError::NoPixels`].
pub fn head_fits(file: impl BufRead + Seek) -> Result<(), ArtworkError> {
    let reader = ImageReader::new(file).with_guessed_format().ok();
    match reader.and_then(|reader| reader.into_dimensions().ok()) {
        Some((width, height)) => check_size(width, height),
        None => Ok(()),
    }
}

/// Whether a picture of this size can be held.
fn check_size(width: u32, height: u32) -> Result<(), ArtworkError> {
    if width == 0 || height == 0 {
        return Err(ArtworkError::NoPixels { width, height });
    }
    if width.max(height) > MAX_SIDE || u64::from(width) * u64::from(height) > MAX_PIXELS {
        return Err(ArtworkError::TooLarge { width, height });
    }
    Ok(())
}

/// Any image as 8-bit grey or colour on white.
fn flattened(image: DynamicImage) -> Picture {
    let (width, height) = (image.width(), image.height());
    if !image.color().has_color() && !image.color().has_alpha() {
        return Picture::grey(width, height, image.into_luma8().into_raw());
    }
    let mut rgb = if image.color().has_alpha() {
        let rgba = image.into_rgba8().into_raw();
        rgba.chunks_exact(4).flat_map(|p| on_white([p[0], p[1], p[2]], p[3])).collect()
    } else {
        image.into_rgb8().into_raw()
    };
    // A picture saved in colour that has none is kept in a third of the room.
    if rgb.chunks_exact(3).all(|p| p[0] == p[1] && p[1] == p[2]) {
        let grey: Vec<u8> = rgb.chunks_exact(3).map(luma).collect();
        return Picture::grey(width, height, grey);
    }
    rgb.shrink_to_fit();
    Picture::rgb(width, height, rgb)
}

/// One pixel laid on white: each channel rounded to the nearest.
fn on_white(rgb: [u8; 3], alpha: u8) -> [u8; 3] {
    let a = u32::from(alpha);
    rgb.map(|c| ((u32::from(c) * a + 255 * (255 - a) + 127) / 255) as u8)
}

/// Whether a JPEG has the marker that ends it somewhere after its last scan begins. Decoders
/// fill what is missing with grey, which must not reach a film unnoticed.
fn ends_properly(bytes: &[u8]) -> bool {
    let last = |marker: u8| bytes.windows(2).rposition(|w| w == [0xFF, marker]);
    match (last(0xDA), last(0xD9)) {
        (Some(scan), Some(end)) => end > scan,
        _ => false,
    }
}

fn name_of(format: ImageFormat) -> Option<&'static str> {
    Some(match format {
        ImageFormat::Png => "PNG",
        ImageFormat::Jpeg => "JPEG",
        ImageFormat::Tiff => "TIFF",
        ImageFormat::WebP => "WebP",
        ImageFormat::Bmp => "BMP",
        ImageFormat::Gif => "GIF",
        _ => return None,
    })
}

/// What a file that is no picture seems to be.
fn guess(bytes: &[u8]) -> &'static str {
    let starts = |magic: &[u8]| bytes.starts_with(magic);
    if starts(b"%PDF") {
        "a PDF"
    } else if starts(b"%!PS") {
        "PostScript"
    } else if starts(b"PK\x03\x04") {
        "a ZIP archive or an office document"
    } else if starts(&[0x1F, 0x8B]) {
        "a compressed file"
    } else if bytes.get(4..8) == Some(b"ftyp") {
        "a video or a phone's HEIC or AVIF picture"
    } else if bytes.iter().take(4096).all(|b| matches!(b, 9 | 10 | 13 | 32..)) {
        "text"
    } else {
        "a file of an unknown kind"
    }
}

/// The image library's error in our words.
fn explain(format: &'static str, error: &ImageError) -> ArtworkError {
    let mut detail = error.to_string().replace('\n', " ");
    if detail.len() > 160 {
        detail = detail.chars().take(160).collect();
    }
    match error {
        ImageError::Unsupported(_) => ArtworkError::Unsupported { format, detail },
        ImageError::Limits(_) => ArtworkError::Unsupported {
            format,
            detail: "it needs more than 2 GiB of memory".into(),
        },
        _ => ArtworkError::Damaged { format, detail },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A JPEG of 40 x 24 pixels that lies on its side: EXIF 2.3, tag 0x0112, orientation 6.
    pub(super) fn lying_jpeg() -> Vec<u8> {
        let mut jpeg = Cursor::new(Vec::new());
        let grey = image::GrayImage::from_fn(40, 24, |x, y| image::Luma([(x * 5 + y) as u8]));
        grey.write_to(&mut jpeg, ImageFormat::Jpeg).unwrap();
        let mut exif = b"\xFF\xE1\x00\x22Exif\0\0MM\0\x2A\0\0\0\x08\0\x01".to_vec();
        exif.extend(b"\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0");
        let mut bytes = jpeg.into_inner();
        bytes.splice(2..2, exif);
        bytes
    }

    #[test]
    fn the_size_is_known_before_a_picture_is_decoded() {
        let bytes = lying_jpeg();
        let picture = load(&bytes).unwrap();
        assert_eq!((picture.width, picture.height), (24, 40));
        assert_eq!(size_of(&bytes), Some((24, 40)));
        assert_eq!(size_of(&bytes[..bytes.len() - 60]), Some((24, 40)), "without its end");
        assert_eq!(size_of(b"no picture"), None);
        assert_eq!(size_of(&[]), None);
    }
}
