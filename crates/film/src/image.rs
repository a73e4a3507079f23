use crate::bands::{Steps, each_row};
use crate::ink::Ink;
use crate::ungroup4::Ungroup4;
use crate::{FilmError, FilmSheet, Group4, PxRect};
use bitmap::{Bitmap, Raster, Window};
use flate2::{Compression, write::ZlibEncoder};
use lopdf::{Dictionary, Object, Stream, dictionary};
use std::io::{self, Write};

/// A sheet's image, encoded as it stands on its page, and where it has ink.
pub(crate) struct SheetImage {
    pub(crate) stream: Stream,
    pub(crate) ink: Ink,
}

/// Above this share of the raw size Group 4 does badly, as with halftones and noise, and
/// Flate is tried too.
const DENSE: f64 = 0.15;

/// Encodes a sheet's part of the film. Where `spread`, its rows are worked out by all
/// threads.
pub(crate) fn encode_sheet(
    raster: &dyn Raster,
    sheet: &FilmSheet,
    ink_cell: u32,
    spread: bool,
    steps: &Steps,
) -> Result<SheetImage, FilmError> {
    let PxRect { x, y, width, height } = sheet.image;
    let window = Window::new(raster, x, y, width as u32, height as u32);
    let mut ink = Ink::new(sheet.image, ink_cell);
    let group4 = if sheet.turned {
        let mut upright = Bitmap::new(window.width(), window.height());
        each_row(&window, spread, steps, |y, changes| {
            ink.add_row(y, changes);
            upright.set_row_from_changes(y, changes);
        })?;
        let turned = upright.turned_clockwise();
        let mut encoder = Group4::new(turned.width());
        for y in 0..turned.height() {
            encoder.packed(turned.row(y));
        }
        encoder.finish()
    } else {
        let mut encoder = Group4::new(window.width());
        each_row(&window, spread, steps, |y, changes| {
            ink.add_row(y, changes);
            encoder.changes(changes);
        })?;
        encoder.finish()
    };
    let (width, height) = sheet.seen();
    Ok(SheetImage { stream: smallest(group4, width as u32, height as u32)?, ink })
}

/// A small picture as a mask, as it stands on a page.
pub(crate) fn mask_of(picture: &Bitmap, turned: bool) -> Stream {
    let seen = if turned { &picture.turned_clockwise() } else { picture };
    let mut encoder = Group4::new(seen.width());
    for y in 0..seen.height() {
        encoder.packed(seen.row(y));
    }
    group4_mask(encoder.finish(), seen.width(), seen.height())
}

/// A mask that paints ink and leaves the rest as it is, by Group 4.
fn group4_mask(group4: Vec<u8>, width: u32, height: u32) -> Stream {
    let mut dict = mask(width, height);
    dict.set("Filter", "CCITTFaxDecode");
    let parms = dictionary! {
        "K" => -1, "Columns" => i64::from(width), "Rows" => i64::from(height),
    };
    dict.set("DecodeParms", parms);
    Stream::new(dict, group4).with_compression(false)
}

/// The image by Group 4 or, where that is smaller, by Flate.
fn smallest(group4: Vec<u8>, width: u32, height: u32) -> io::Result<Stream> {
    let row_bytes = (width as usize).div_ceil(8);
    let raw = row_bytes as f64 * f64::from(height);
    if (group4.len() as f64) <= DENSE * raw {
        return Ok(group4_mask(group4, width, height));
    }
    let mut flate = ZlibEncoder::new(Vec::with_capacity(group4.len()), Compression::default());
    let mut rows = Ungroup4::new(&group4, width);
    let mut packed = Bitmap::new(width, 1);
    let mut bytes = Vec::with_capacity(row_bytes + 8);
    for _ in 0..height {
        let changes = rows.next_row().map_err(|_| io::Error::other("an encoder's own stream"))?;
        packed.set_row_from_changes(0, changes);
        bytes.clear();
        bytes.extend(packed.row(0).iter().flat_map(|word| word.to_be_bytes()));
        flate.write_all(&bytes[..row_bytes])?;
    }
    let flate = flate.finish()?;
    if flate.len() >= group4.len() {
        return Ok(group4_mask(group4, width, height));
    }
    let mut dict = mask(width, height);
    dict.set("Filter", "FlateDecode");
    // A mask paints where a sample is nought; ink is one here.
    dict.set("Decode", vec![Object::Integer(1), Object::Integer(0)]);
    Ok(Stream::new(dict, flate).with_compression(false))
}

fn mask(width: u32, height: u32) -> Dictionary {
    dictionary! {
        "Type" => "XObject",
        "Subtype" => "Image",
        "Width" => i64::from(width),
        "Height" => i64::from(height),
        "BitsPerComponent" => 1,
        "ImageMask" => true,
    }
}

/// Reads an image back, as its page shows it; nothing where it is not one that films have,
/// is damaged, breaks off or goes on too long.
pub(crate) fn decode(stream: &Stream) -> Option<Bitmap> {
    let number =
        |key: &[u8]| stream.dict.get(key).ok()?.as_i64().ok().and_then(|n| u32::try_from(n).ok());
    let (width, height) = (number(b"Width")?, number(b"Height")?);
    let mask = stream.dict.get(b"ImageMask").and_then(Object::as_bool).ok()?;
    // No film has a page of more than 16 Gpx.
    if !mask
        || number(b"BitsPerComponent") != Some(1)
        || u64::from(width) * u64::from(height) > 1 << 34
    {
        return None;
    }
    match stream.dict.get(b"Filter").and_then(Object::as_name).ok()? {
        b"CCITTFaxDecode" => decode_group4(stream, width, height),
        b"FlateDecode" => decode_flate(stream, width, height),
        _ => None,
    }
}

fn decode_group4(stream: &Stream, width: u32, height: u32) -> Option<Bitmap> {
    let parms = stream.dict.get(b"DecodeParms").and_then(Object::as_dict).ok()?;
    let number = |key: &[u8]| parms.get(key).ok()?.as_i64().ok();
    let told = (number(b"K")?, number(b"Columns")?, number(b"Rows")?);
    if told != (-1, width.into(), height.into()) || stream.dict.has(b"Decode") {
        return None;
    }
    let mut rows = Ungroup4::new(&stream.content, width);
    let mut out = Bitmap::new(width, height);
    for y in 0..height {
        let changes = rows.next_row().ok()?;
        out.set_row_from_changes(y, changes);
    }
    rows.ends().then_some(out)
}

fn decode_flate(stream: &Stream, width: u32, height: u32) -> Option<Bitmap> {
    use std::io::Read;
    let turned_over = stream.dict.get(b"Decode").and_then(Object::as_array).ok()?;
    if *turned_over != [Object::Integer(1), Object::Integer(0)] {
        return None;
    }
    let mut rows = flate2::read::ZlibDecoder::new(&stream.content[..]);
    let mut out = Bitmap::new(width, height);
    let mut bytes = vec![0; out.stride() * 8];
    let row_bytes = (width as usize).div_ceil(8);
    let last = u64::MAX << ((64 - width % 64) % 64);
    for y in 0..height {
        rows.read_exact(&mut bytes[..row_bytes]).ok()?;
        for (word, eight) in out.row_mut(y).iter_mut().zip(bytes.chunks_exact(8)) {
            *word = eight.iter().fold(0, |word, byte| word << 8 | u64::from(*byte));
        }
        if let Some(word) = out.row_mut(y).last_mut() {
            *word &= last;
        }
    }
    (rows.read(&mut [0]).ok()? == 0).then_some(out)
}
