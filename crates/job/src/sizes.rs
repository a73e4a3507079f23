//! One job on garments of several sizes, each with films of its own.

use crate::build::{self, Exported};
use crate::{Edit, Job, JobError};
use garment::Garment;
use measure::{Length, Point};
use progress::Progress;
use std::path::Path;

/// What was written for one garment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SizeWritten {
    /// The garment's name.
    pub garment: String,
    /// Its films.
    pub exported: Exported,
}

/// Writes the films of a job for each of several garments, the artwork scaled with the
/// garment's width, each into a folder of the garment's name.
///
/// # Errors
/// Any stage's; the folders written before stay.
pub fn export(
    job: &Job,
    garments: &[Garment],
    dir: &Path,
    progress: &Progress,
) -> Result<Vec<SizeWritten>, JobError> {
    let write = |garment: &Garment| {
        let sized = for_garment(job, garment)?;
        let exported = build::export(&sized, &dir.join(&garment.name), progress)?;
        Ok(SizeWritten { garment: garment.name.clone(), exported })
    };
    garments.iter().map(write).collect()
}

/// A job on another garment: artwork and its place grow with the garment's width. Sheets
/// placed by hand are let go.
///
/// # Errors
/// Where the artwork would grow past what a job may be.
pub fn for_garment(job: &Job, garment: &Garment) -> Result<Job, JobError> {
    let scale = match &job.garment {
        Some(before) => width(garment) / width(before).max(Length::mm(1.0)),
        None => 1.0,
    };
    let offset = Point::new(job.offset.x * scale, job.offset.y * scale);
    let edits = [
        Edit::Title(format!("{} {}", job.title, garment.name)),
        Edit::Pinned(Vec::new()),
        Edit::HandSeams(Vec::new()),
        Edit::Also(Vec::new()),
        Edit::Garment(Some(garment.clone())),
        Edit::Scale(job.width * scale, offset),
    ];
    edits.into_iter().try_fold(job.clone(), |job, edit| job.apply(edit))
}

fn width(garment: &Garment) -> Length {
    garment.silhouette(Length::ZERO).bounds().size.width
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn artwork_grows_with_the_garment() {
        let named = |name| Garment::named(name).unwrap();
        let job = Job {
            title: "Boats".into(),
            garment: Some(named("tee-m")),
            width: Length::inches(30.0),
            offset: Point::new(Length::ZERO, Length::inches(2.0)),
            ..Job::default()
        };
        let large = for_garment(&job, &named("tee-3xl")).unwrap();
        let ratio = width(&named("tee-3xl")) / width(&named("tee-m"));
        assert!(ratio > 1.1 && (large.width / job.width - ratio).abs() < 1e-12);
        assert!((large.offset.y / job.offset.y - ratio).abs() < 1e-12);
        assert_eq!(large.title, "Boats tee-3xl");
        // There and back.
        let back = for_garment(&large, &named("tee-m")).unwrap();
        assert!((back.width - job.width).abs() < Length::mm(1e-9));
    }
}
