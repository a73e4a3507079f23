//! A colour picture made into plates, one for each ink.

use crate::build::{film_px, picture};
use crate::{Job, JobError};
use artwork::{ArtworkError, Crop, Picture, Pixels};
use inks::{Inks, Plates, Rgb};
use measure::{Length, Unit};
use progress::Progress;
use serde::Serialize;
use std::borrow::Cow;
use std::path::{Path, PathBuf};

/// Which inks a job's picture is separated into, and on what.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wanted {
    /// The inks.
    pub inks: Inks,
    /// The garment's colour, left open; that of the picture's rim where none.
    pub garment: Option<Rgb>,
}

/// Separates the part of the picture that the job uses.
///
/// # Errors
/// As [`inks::separate`], or where the part is not inside the picture.
pub fn separate(
    job: &Job,
    picture: &Picture,
    wanted: &Wanted,
    progress: &Progress,
) -> Result<Plates, JobError> {
    let settings = inks::Settings {
        inks: wanted.inks.clone(),
        garment: wanted.garment,
        source: job.art.source,
    };
    Ok(inks::separate(&*part(picture, job.art.crop)?, &settings, progress)?)
}

/// Writes each plate as a one-bit PNG, black where it prints, at the job's width and
/// resolution, and `plates.json` which lists them, into a folder, which is made where it does
/// not exist. Lighter inks spread by `trap` under darker ones; without, plates tile.
///
/// # Errors
/// Any stage's; no file is left half-written.
pub fn export(
    job: &Job,
    wanted: &Wanted,
    trap: Length,
    dir: &Path,
    progress: &Progress,
) -> Result<PathBuf, JobError> {
    if !(trap.is_finite() && trap >= Length::ZERO && trap <= LONGEST_TRAP) {
        return Err(JobError::BadNumber {
            what: "the trap",
            given: trap.show(Unit::Mm),
            range: format!("a length from 0 to {}", LONGEST_TRAP.show(Unit::Mm)),
        });
    }
    let picture = picture(job)?;
    let (width, height) = film_px(job, &picture)?;
    // The folder first: the wait for the plates would be for nothing.
    std::fs::create_dir_all(dir).map_err(|source| JobError::Disk {
        path: dir.into(),
        action: "made",
        source,
    })?;
    let plates = separate(job, &picture, wanted, progress)?;
    drop(picture);
    let area = f64::from(width) * f64::from(height);
    let mut listed = Vec::new();
    for (n, ink) in plates.inks().iter().enumerate() {
        let plate = plates.trapped(n, width, job.resolution, trap, progress)?;
        let file = format!("{}-{}.png", n + 1, file_name(&ink.name));
        film::write_beside(&dir.join(&file), |out| {
            film::write_png(&plate, job.resolution, out, progress)
        })?;
        let set: u64 = (0..plate.height())
            .flat_map(|y| plate.row(y))
            .map(|word| u64::from(word.count_ones()))
            .sum();
        let (name, colour) = (ink.name.clone(), ink.colour);
        listed.push(Listed { file, name, colour, order: n + 1, share: set as f64 / area });
    }
    let list = List { garment: plates.garment, plates: listed };
    let path = dir.join("plates.json");
    film::write_beside(&path, |out| {
        Ok(serde_json::to_writer_pretty(out, &list).map_err(std::io::Error::from)?)
    })?;
    Ok(path)
}

/// Far more than any screen is out of place.
const LONGEST_TRAP: Length = Length::mm(20.0);

#[derive(Serialize)]
struct List {
    garment: Rgb,
    plates: Vec<Listed>,
}

#[derive(Serialize)]
struct Listed {
    file: String,
    name: String,
    colour: Rgb,
    /// Which prints first, counted from 1.
    order: usize,
    /// The share of the plate that is ink.
    share: f64,
}

/// An ink's name as a part of a file's name that any system takes.
fn file_name(name: &str) -> String {
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
