//! The saved job: a zip archive, not compressed, that holds `job.json` and the artwork's
//! own file under `artwork/`. Any unzip program can get the picture out again.

use crate::{Job, JobError, PictureFile};
use serde::{Deserialize, Serialize};
use std::fs::File;
use std::io::{BufReader, Cursor, Read, Seek, Write};
use std::path::Path;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

/// The file name's ending.
pub const ENDING: &str = "quilt";
/// The format this build writes, and the newest it reads.
pub const FORMAT: u32 = 1;
/// `job.json` may not be larger than this.
const MOST_JSON: u64 = 16 << 20;
/// The artwork's file may not be larger than this.
const MOST_PICTURE: u64 = 4 << 30;

#[derive(Serialize, Deserialize)]
struct Saved {
    format: u32,
    artwork: Option<String>,
    job: Job,
}

/// Only the version, which is read first.
#[derive(Deserialize)]
struct Version {
    format: u32,
}

/// The bytes of a saved job. The same job always gives the same bytes.
///
/// # Errors
/// Where the archive cannot be made, which only a lack of memory causes.
pub fn to_bytes(job: &Job) -> std::io::Result<Vec<u8>> {
    let mut out = Cursor::new(Vec::new());
    write(job, &mut out)?;
    Ok(out.into_inner())
}

fn write(job: &Job, out: impl Write + Seek) -> std::io::Result<()> {
    let artwork = job.picture.as_ref().map(|p| p.name.clone());
    let saved = Saved { format: FORMAT, artwork, job: job.clone() };
    let json = serde_json::to_vec_pretty(&saved).map_err(std::io::Error::other)?;
    let mut zip = ZipWriter::new(out);
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .last_modified_time(zip::DateTime::default());
    zip.start_file("job.json", options).map_err(std::io::Error::other)?;
    zip.write_all(&json)?;
    if let Some(picture) = &job.picture {
        let large = picture.bytes.len() as u64 > u64::from(u32::MAX) / 2;
        let name = format!("artwork/{}", picture.name);
        zip.start_file(name, options.large_file(large)).map_err(std::io::Error::other)?;
        zip.write_all(&picture.bytes)?;
    }
    zip.finish().map_err(std::io::Error::other)?;
    Ok(())
}

/// Saves a job: written beside, then renamed, so that a crash leaves the old file or the new one.
///
/// # Errors
/// [`JobError::Disk`] when the disk says no.
pub fn save(job: &Job, path: &Path) -> Result<(), JobError> {
    film::write_beside(path, |out| Ok(write(job, out)?)).map_err(JobError::from)
}

/// Whether the bytes begin as a saved job does.
pub fn is_job(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04")
}

/// Opens a job from the bytes of its file. `path` is only for messages.
///
/// # Errors
/// Where the bytes are no job, are damaged, or come from a newer Filmquilt.
pub fn from_bytes(bytes: &[u8], path: &Path) -> Result<Job, JobError> {
    let no = |why: String| JobError::NotAJob { path: path.into(), why };
    let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(|e| no(e.to_string()))?;
    let json = entry(&mut zip, "job.json", MOST_JSON).map_err(no)?;
    let version: Version = serde_json::from_slice(&json).map_err(|e| no(e.to_string()))?;
    if version.format > FORMAT {
        let (format, newest) = (version.format, FORMAT);
        return Err(JobError::TooNew { path: path.into(), format, newest });
    }
    let saved: Saved = serde_json::from_slice(&json).map_err(|e| no(e.to_string()))?;
    let mut job = saved.job;
    if let Some(name) = saved.artwork {
        let bytes = entry(&mut zip, &format!("artwork/{name}"), MOST_PICTURE).map_err(no)?;
        job.picture = Some(PictureFile { name, bytes: bytes.into() });
    }
    job.check()?;
    Ok(job)
}

fn entry(zip: &mut ZipArchive<Cursor<&[u8]>>, name: &str, most: u64) -> Result<Vec<u8>, String> {
    let file = zip.by_name(name).map_err(|e| format!("{name}: {e}"))?;
    if file.size() > most {
        return Err(format!("{name} is {} bytes, too large to be right", file.size()));
    }
    let mut out = Vec::new();
    file.take(most).read_to_end(&mut out).map_err(|e| format!("{name}: {e}"))?;
    Ok(out)
}

/// Makes a folder that files go into, where it does not exist.
///
/// # Errors
/// Where the disk says no.
pub fn make_folder(dir: &Path) -> Result<(), JobError> {
    std::fs::create_dir_all(dir).map_err(|source| JobError::Disk {
        path: dir.into(),
        action: "made",
        source,
    })
}

/// Opens a job, or starts one on a picture, from a file on disk.
///
/// # Errors
/// Where the file cannot be read, or is neither a job nor a picture.
pub fn open(path: &Path) -> Result<Job, JobError> {
    let disk = |source| JobError::Disk { path: path.into(), action: "read", source };
    artwork::head_fits(BufReader::new(File::open(path).map_err(disk)?))?;
    let bytes = std::fs::read(path).map_err(disk)?;
    if is_job(&bytes) {
        return from_bytes(&bytes, path);
    }
    let named = |part: Option<&std::ffi::OsStr>| part.map(|n| n.to_string_lossy().into_owned());
    let name = named(path.file_name()).unwrap_or_else(|| "artwork".into());
    Ok(Job {
        title: named(path.file_stem()).unwrap_or_else(|| "Untitled".into()),
        picture: Some(PictureFile { name, bytes: bytes.into() }),
        ..Job::default()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::{Length, Resolution};

    fn sample() -> Job {
        Job {
            title: "Lantern stall".into(),
            picture: Some(PictureFile {
                name: "art.png".into(),
                bytes: Arc::from(&b"not decoded here"[..]),
            }),
            width: Length::mm(0.1 + 0.2 + 900.0),
            resolution: Resolution::ppi(1.0 / 3.0 + 300.0),
            garment: garment::Garment::named("tee-2xl"),
            ..Job::default()
        }
    }
    use std::sync::Arc;

    #[test]
    fn what_is_saved_is_opened() {
        let job = sample();
        let bytes = to_bytes(&job).unwrap();
        assert_eq!(bytes, to_bytes(&job).unwrap());
        assert_eq!(from_bytes(&bytes, Path::new("x.quilt")).unwrap(), job);
    }

    #[test]
    fn damaged_jobs_are_refused() {
        let bytes = to_bytes(&sample()).unwrap();
        for cut in [0, 3, 4, 30, bytes.len() / 2, bytes.len() - 1] {
            assert!(from_bytes(&bytes[..cut], Path::new("x.quilt")).is_err(), "cut at {cut}");
        }
    }
    /// A picture of a gigabyte is refused by its head: the rest is not even there.
    #[test]
    fn a_picture_too_large_is_refused_by_its_head() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("huge.bmp");
        // A BMP of 18,918 x 18,918 pixels of three bytes: its two headers.
        let mut head = b"BM".to_vec();
        head.extend([0, 0, 0, 0, 0, 0, 0, 0, 54, 0, 0, 0, 40, 0, 0, 0]);
        head.extend(18_918_u32.to_le_bytes());
        head.extend(18_918_u32.to_le_bytes());
        head.extend([1, 0, 24, 0]);
        head.extend([0; 24]);
        std::fs::write(&path, head).unwrap();
        let error = open(&path).unwrap_err();
        assert!(error.to_string().contains("18918 x 18918 pixels"), "{error}");
    }

    /// `job.json` as the first build that saved jobs wrote it.
    #[test]
    fn a_job_of_the_first_format_opens() {
        let json = include_bytes!("../../../tests/art/job-format-1.json");
        let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        for (name, bytes) in [("job.json", &json[..]), ("artwork/art.png", b"not decoded here")] {
            zip.start_file(name, options).unwrap();
            zip.write_all(bytes).unwrap();
        }
        let bytes = zip.finish().unwrap().into_inner();
        let job = from_bytes(&bytes, Path::new("early.quilt")).unwrap();
        assert_eq!(job.title, "An early job");
        assert_eq!((job.width, job.overlap), (Length::inches(42.0), Length::mm(9.525)));
        assert_eq!(job.garment.as_ref().map(|g| &g.name[..]), Some("tee-2xl"));
        assert_eq!(job.picture.as_ref().map(|p| p.bytes.len()), Some(16));
        // What came later is as it was before it came.
        let now = Job::default();
        assert_eq!((&job.tone, job.trim_lines, &job.printer), (&now.tone, false, &None));
        // Its films were drawn by the first learned model, and will be again.
        assert_eq!(
            (job.art.model.to_string(), now.art.model.to_string()),
            ("1".into(), "3".into())
        );
    }
}
