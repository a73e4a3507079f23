//! Small files that must never be lost: written beside, renamed, the former kept as a backup.

use crate::Error;
use std::fs;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// No file of this kind that a person reads is larger.
const MOST_BYTES: u64 = 64 << 20;

/// The text of a file; of its backup where it is missing; nothing where that is missing too.
pub(crate) fn read(path: &Path) -> Result<Option<String>, Error> {
    for path in [path.to_owned(), backup(path)] {
        match fs::metadata(&path) {
            Ok(data) if data.len() > MOST_BYTES => {
                let why = format!("it holds {} bytes, too many for such a file", data.len());
                return Err(failed(&path, "read", why));
            }
            Ok(_) => {
                let bytes = fs::read(&path).map_err(|e| failed(&path, "read", e))?;
                return Ok(Some(String::from_utf8_lossy(&bytes).into_owned()));
            }
            Err(e) if e.kind() == ErrorKind::NotFound => {}
            Err(e) => return Err(failed(&path, "read", e)),
        }
    }
    Ok(None)
}

/// Writes a file, so that a crash leaves the old or the new one whole; the old one stays as
/// a backup ending in `.bak`.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    match fs::read(path) {
        Ok(old) => replace(&backup(path), &old)?,
        Err(e) if e.kind() == ErrorKind::NotFound => {}
        Err(e) => return Err(failed(path, "read", e)),
    }
    replace(path, bytes)
}

/// The file's name with an ending added to its own.
pub(crate) fn named(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

pub(crate) fn backup(path: &Path) -> PathBuf {
    named(path, ".bak")
}

pub(crate) fn failed(path: &Path, done: &'static str, why: impl ToString) -> Error {
    Error::File { path: path.display().to_string(), done, why: why.to_string() }
}

fn replace(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let write = || -> std::io::Result<()> {
        let mut file = tempfile::NamedTempFile::new_in(folder)?;
        file.write_all(bytes)?;
        file.as_file().sync_all()?;
        file.persist(path)?;
        Ok(())
    };
    write().map_err(|e| failed(path, "written", e))
}
