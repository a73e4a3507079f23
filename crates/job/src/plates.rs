//! A colour picture made into plates, one for each ink.

use crate::build::{laid, picture};
use crate::{Job, JobError, file, screens};
use artwork::{ArtworkError, Crop, Picture, Pixels};
use inks::Rgb;
use progress::Progress;
use serde::Serialize;
use std::borrow::Cow;
use std::path::{Path, PathBuf};

/// Writes each screen's plate as a one-bit PNG, black where it prints, at the job's width and
/// resolution, and `plates.json` which lists them, into a folder, which is made where it does
/// not exist. Without a trap, cut plates tile.
///
/// # Errors
/// Any stage's; no file is left half-written.
pub fn export(job: &Job, dir: &Path, progress: &Progress) -> Result<PathBuf, JobError> {
    job.check()?;
    let picture = picture(job)?;
    let laid = laid(job, &picture)?;
    // The folder first: the wait for the plates would be for nothing.
    file::make_folder(dir)?;
    let plates = crate::separate(job, &picture, progress)?;
    let (width, height) = laid.film();
    let area = f64::from(width) * f64::from(height);
    let mut listed = Vec::new();
    for film in screens::of_plates(job, &picture, &plates, laid, progress)? {
        let film::Screen { order, name, colour } = film.screen;
        let file = format!("{order}-{}.png", file_name(&name));
        let plate = bitmap::collect(&*film.raster);
        film::write_beside(&dir.join(&file), |out| {
            film::write_png(&plate, job.resolution, out, progress)
        })?;
        listed.push(Listed { file, name, colour, order, share: plate.count() as f64 / area });
    }
    let list = List { garment: plates.garment, plates: listed };
    let path = dir.join("plates.json");
    film::write_beside(&path, |out| {
        Ok(serde_json::to_writer_pretty(out, &list).map_err(std::io::Error::from)?)
    })?;
    Ok(path)
}

#[derive(Serialize)]
struct List {
    garment: Rgb,
    plates: Vec<Listed>,
}

#[derive(Serialize)]
struct Listed {
    file: String,
    name: String,
    colour: String,
    /// Which prints first, counted from 1.
    order: u32,
    /// The share of the plate that is ink.
    share: f64,
}

/// An ink's name as a part of a file's name that any system takes.
pub(crate) fn file_name(name: &str) -> String {
    let words = name.split(|c: char| !c.is_ascii_alphanumeric()).filter(|w| !w.is_empty());
    let joined = words.collect::<Vec<_>>().join("-").to_lowercase();
    if joined.is_empty() { "ink".into() } else { joined.chars().take(60).collect() }
}

/// The part of a picture that is used, as a picture of its own.
pub(crate) fn part(picture: &Picture, crop: Option<Crop>) -> Result<Cow<'_, Picture>, JobError> {
    let Some(crop) = crop.filter(|crop| *crop != picture.whole()) else {
        return Ok(Cow::Borrowed(picture));
    };
    let fits = |at: u32, size: u32, room: u32| size > 0 && at < room && size <= room - at;
    if !(fits(crop.x, crop.width, picture.width) && fits(crop.y, crop.height, picture.height)) {
        let (width, height) = (picture.width, picture.height);
        return Err(ArtworkError::CropOutside { width, height }.into());
    }
    let cut = |bytes: &[u8], channels: usize| -> Vec<u8> {
        bytes
            .chunks_exact(picture.width as usize * channels)
            .skip(crop.y as usize)
            .take(crop.height as usize)
            .flat_map(|row| &row[crop.x as usize * channels..][..crop.width as usize * channels])
            .copied()
            .collect()
    };
    Ok(Cow::Owned(match &picture.pixels {
        Pixels::Grey(bytes) => Picture::grey(crop.width, crop.height, cut(bytes, 1)),
        Pixels::Rgb(bytes) => Picture::rgb(crop.width, crop.height, cut(bytes, 3)),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_is_cut_out_row_by_row() {
        let picture = Picture::rgb(3, 2, (0..18).collect::<Vec<u8>>());
        let crop = Crop { x: 1, y: 1, width: 2, height: 1 };
        let cut = part(&picture, Some(crop)).unwrap();
        assert_eq!(*cut, Picture::rgb(2, 1, vec![12, 13, 14, 15, 16, 17]));
        assert!(part(&picture, Some(Crop { x: 2, ..crop })).is_err());
    }

    #[test]
    fn file_names_are_plain() {
        assert_eq!(file_name("Night Blue / 2"), "night-blue-2");
        assert_eq!(file_name("../\u{1F319}"), "ink");
    }
}
