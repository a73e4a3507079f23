use crate::bands::{Steps, in_bands};
use crate::{FilmError, Group4};
use bitmap::{Bitmap, Raster};
use measure::Resolution;
use progress::Progress;
use std::io::{self, Seek, Write};
use tiff::encoder::{Rational, TiffEncoder};
use tiff::tags::Tag;

/// Rows of a TIFF strip, and of a PNG's band: each is worked out by one thread.
const STRIP: u32 = 256;
/// What a printer sees while either is written.
const WHAT: &str = "Writing the film image";

/// Writes the film as a one-bit grey PNG, ink black, with its resolution.
///
/// PNG counts pixels a metre in whole numbers, so 300 ppi reads back as 299.9994.
///
/// # Errors
/// When `out` fails, the film has no pixels, or the task is cancelled.
pub fn write_png(
    raster: &dyn Raster,
    resolution: Resolution,
    out: impl Write + Send,
    progress: &Progress,
) -> Result<(), FilmError> {
    let (width, height) = checked_size(raster)?;
    let mut encoder = png::Encoder::new(out, width, height);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::One);
    encoder.set_filter(png::Filter::NoFilter);
    encoder.set_compression(png::Compression::Fast);
    let a_metre = (resolution.to_ppi() / 0.0254).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: a_metre,
        yppu: a_metre,
        unit: png::Unit::Meter,
    }));
    let mut writer = encoder.write_header().map_err(from_png)?;
    let mut stream = writer.stream_writer().map_err(from_png)?;
    in_bands(
        height,
        STRIP,
        &Steps::new(progress, WHAT, height.into()),
        |rows| {
            // PNG's grey is light, so ink is nought.
            let mut bytes = packed_bytes(&rows_of(raster, rows));
            bytes.iter_mut().for_each(|byte| *byte = !*byte);
            bytes
        },
        |bytes| Ok(stream.write_all(&bytes)?),
    )?;
    stream.finish().map_err(from_png)?;
    writer.finish().map_err(from_png)
}

/// Writes the film as a one-bit TIFF, Group 4, ink black (white is zero), with its
/// resolution, by TIFF 6.0, section 11.
///
/// # Errors
/// When `out` fails, the film has no pixels, or the task is cancelled.
pub fn write_tif(
    raster: &dyn Raster,
    resolution: Resolution,
    out: impl Write + Seek + Send,
    progress: &Progress,
) -> Result<(), FilmError> {
    const T6_OPTIONS: Tag = Tag::Unknown(293);
    let (width, height) = checked_size(raster)?;
    let mut encoder = TiffEncoder::new(out).map_err(from_tiff)?;
    let mut directory = encoder.image_directory().map_err(from_tiff)?;
    let (mut offsets, mut counts) = (Vec::new(), Vec::new());
    in_bands(
        height,
        STRIP,
        &Steps::new(progress, WHAT, height.into()),
        |rows| {
            let mut strip = Group4::new(width);
            let mut changes = Vec::new();
            for y in rows {
                changes.clear();
                raster.changes(y, 0, width, &mut changes);
                strip.changes(&changes);
            }
            strip.finish()
        },
        |strip| {
            let at = directory.write_data(&strip[..]).map_err(from_tiff)?;
            let narrow = |n: u64| u32::try_from(n).map_err(|_| FilmError::Size { width, height });
            offsets.push(narrow(at)?);
            counts.push(narrow(strip.len() as u64)?);
            Ok(())
        },
    )?;
    let ppi = Rational { n: (resolution.to_ppi() * 1000.0).round() as u32, d: 1000 };
    let tags = || {
        directory.write_tag(Tag::ImageWidth, width)?;
        directory.write_tag(Tag::ImageLength, height)?;
        directory.write_tag(Tag::BitsPerSample, 1_u16)?;
        directory.write_tag(Tag::Compression, 4_u16)?;
        directory.write_tag(Tag::PhotometricInterpretation, 0_u16)?;
        directory.write_tag(Tag::FillOrder, 1_u16)?;
        directory.write_tag(Tag::StripOffsets, &offsets[..])?;
        directory.write_tag(Tag::SamplesPerPixel, 1_u16)?;
        directory.write_tag(Tag::RowsPerStrip, STRIP)?;
        directory.write_tag(Tag::StripByteCounts, &counts[..])?;
        directory.write_tag(Tag::XResolution, ppi.clone())?;
        directory.write_tag(Tag::YResolution, ppi)?;
        directory.write_tag(T6_OPTIONS, 0_u32)?;
        directory.write_tag(Tag::ResolutionUnit, 2_u16)
    };
    tags().map_err(from_tiff)?;
    directory.finish().map_err(from_tiff)
}

fn checked_size(raster: &dyn Raster) -> Result<(u32, u32), FilmError> {
    let (width, height) = (raster.width(), raster.height());
    let most = i32::MAX as u32;
    if width == 0 || height == 0 || width > most || height > most {
        return Err(FilmError::Size { width, height });
    }
    Ok((width, height))
}

fn rows_of(raster: &dyn Raster, rows: std::ops::Range<u32>) -> Bitmap {
    let mut out = Bitmap::new(raster.width(), rows.len() as u32);
    let mut changes = Vec::new();
    for (row, y) in rows.enumerate() {
        changes.clear();
        raster.changes(y, 0, raster.width(), &mut changes);
        out.set_row_from_changes(row as u32, &changes);
    }
    out
}

/// The rows as bytes, each row beginning on a whole byte, first pixel highest.
fn packed_bytes(rows: &Bitmap) -> Vec<u8> {
    let row_bytes = (rows.width() as usize).div_ceil(8);
    let mut out = Vec::with_capacity((row_bytes + 8) * rows.height() as usize);
    for y in 0..rows.height() {
        out.extend(rows.row(y).iter().flat_map(|word| word.to_be_bytes()));
        out.truncate(row_bytes * (y as usize + 1));
    }
    out
}

fn from_png(error: png::EncodingError) -> FilmError {
    FilmError::Output(match error {
        png::EncodingError::IoError(why) => why,
        other => io::Error::other(other),
    })
}

fn from_tiff(error: tiff::TiffError) -> FilmError {
    FilmError::Output(match error {
        tiff::TiffError::IoError(why) => why,
        other => io::Error::other(other),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn picture() -> Bitmap {
        Bitmap::from_fn(203, 700, |x, y| (x * x + 3 * y * y) / 900 % 2 == 0 || x == 202)
    }

    #[test]
    fn a_png_reads_back_pixel_for_pixel() {
        let (picture, mut bytes) = (picture(), Vec::new());
        write_png(&picture, Resolution::ppi(300.0), &mut bytes, &Progress::none()).unwrap();
        let mut reader = png::Decoder::new(Cursor::new(&bytes)).read_info().unwrap();
        let mut grey = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut grey).unwrap();
        assert_eq!((info.width, info.height, info.bit_depth), (203, 700, png::BitDepth::One));
        assert_eq!(reader.info().pixel_dims.unwrap().xppu, 11_811);
        for y in 0..700 {
            for x in 0..203 {
                let light =
                    grey[y as usize * info.line_size + x as usize / 8] >> (7 - x % 8) & 1 == 1;
                assert_eq!(light, !picture.get(x, y), "pixel {x}, {y}");
            }
        }
    }

    #[test]
    fn a_tiff_reads_back_pixel_for_pixel() {
        let (picture, mut bytes) = (picture(), Cursor::new(Vec::new()));
        write_tif(&picture, Resolution::ppi(720.0), &mut bytes, &Progress::none()).unwrap();
        bytes.set_position(0);
        let mut reader = tiff::decoder::Decoder::new(bytes).unwrap();
        assert_eq!(reader.dimensions().unwrap(), (203, 700));
        assert_eq!(reader.get_tag_u32(Tag::ResolutionUnit).unwrap(), 2);
        assert_eq!(reader.get_tag_u32_vec(Tag::XResolution).unwrap(), [720_000, 1000]);
        assert_eq!(reader.get_tag_u32(Tag::Compression).unwrap(), 4);
        let offsets = reader.get_tag_u32_vec(Tag::StripOffsets).unwrap();
        let counts = reader.get_tag_u32_vec(Tag::StripByteCounts).unwrap();
        let bytes = reader.inner().get_ref().clone();
        let mut y = 0;
        for (at, len) in offsets.iter().zip(&counts) {
            let mut rows =
                crate::ungroup4::Ungroup4::new(&bytes[*at as usize..][..*len as usize], 203);
            while !rows.ends() {
                let mut expected = Vec::new();
                picture.changes_of_row(y, 0, 203, &mut expected);
                assert_eq!(rows.next_row(), Ok(&expected[..]), "row {y}");
                y += 1;
            }
        }
        assert_eq!(y, 700);
    }

    #[test]
    fn a_film_without_pixels_is_refused() {
        let error =
            write_png(&Bitmap::new(0, 4), Resolution::ppi(300.0), Vec::new(), &Progress::none());
        assert_eq!(error.unwrap_err().to_string(), "a film of 0 x 4 pixels cannot be written");
    }
}
