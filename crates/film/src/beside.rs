use crate::FilmError;
use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::thread::{self, JoinHandle};

/// Writes a file so that under its name there is always either the old one or the new one,
/// whole: writes beside it, makes sure the bytes are on the disk, then renames.
///
/// # Errors
/// When the folder cannot be written to, or `write` fails; then nothing is left behind.
pub fn write_beside(
    path: &Path,
    write: impl FnOnce(&mut File) -> Result<(), FilmError>,
) -> Result<(), FilmError> {
    let mut part = Part::begin(path)?;
    part.fill(write)?;
    part.rename()
}

/// A file being written beside the one it will replace.
pub(crate) struct Part {
    file: File,
    path: PathBuf,
    /// The same name and folder, with `.part` after it. The name is always the same, so
    /// that what a killed export left behind is taken over by the next one.
    beside: PathBuf,
    kept: bool,
    /// Brings what was written to the disk itself while other work goes on.
    syncing: Option<JoinHandle<io::Result<()>>>,
}

impl Part {
    pub(crate) fn begin(path: &Path) -> Result<Self, FilmError> {
        let failed = |why| FilmError::Write { path: path.to_owned(), why };
        let Some(name) = path.file_name() else {
            return Err(failed(ErrorKind::IsADirectory.into()));
        };
        if path.is_dir() {
            return Err(failed(ErrorKind::IsADirectory.into()));
        }
        let mut beside = name.to_owned();
        beside.push(".part");
        let beside = path.with_file_name(beside);
        let file = OpenOptions::new().create(true).truncate(false).write(true).open(&beside);
        let file = file.map_err(failed)?;
        // Two exports into one folder must not write over each other. Where the system has
        // no locks there is nothing to wait for.
        if let Err(fs::TryLockError::WouldBlock) = file.try_lock() {
            return Err(failed(ErrorKind::ResourceBusy.into()));
        }
        file.set_len(0).map_err(failed)?;
        Ok(Self { file, path: path.to_owned(), beside, kept: false, syncing: None })
    }

    /// Writes what is in the file.
    pub(crate) fn fill(
        &mut self,
        write: impl FnOnce(&mut File) -> Result<(), FilmError>,
    ) -> Result<(), FilmError> {
        let named = |why| FilmError::Write { path: self.path.clone(), why };
        write(&mut self.file).map_err(|error| match error {
            FilmError::Output(why) => named(why),
            other => other,
        })?;
        let file = self.file.try_clone().map_err(named)?;
        self.syncing = Some(thread::spawn(move || file.sync_all()));
        Ok(())
    }

    /// Waits until what was written is on the disk itself.
    pub(crate) fn sync(&mut self) -> Result<(), FilmError> {
        let Some(syncing) = self.syncing.take() else { return Ok(()) };
        let synced = syncing.join().unwrap_or_else(|_| Err(ErrorKind::Other.into()));
        synced.map_err(|why| FilmError::Write { path: self.path.clone(), why })
    }

    /// Puts the new file in the old one's place, for good.
    fn rename(mut self) -> Result<(), FilmError> {
        self.place()?;
        sync_folder(&self.path);
        Ok(())
    }

    /// Puts the new file in the old one's place and keeps it locked.
    pub(crate) fn place(&mut self) -> Result<(), FilmError> {
        self.sync()?;
        fs::rename(&self.beside, &self.path)
            .map_err(|why| FilmError::Write { path: self.path.clone(), why })?;
        self.keep();
        Ok(())
    }

    /// Leaves the file beside where it is.
    pub(crate) fn keep(&mut self) {
        self.kept = true;
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        if let Some(syncing) = self.syncing.take() {
            // A file that is given up need not be whole.
            let _ = syncing.join();
        }
        if !self.kept {
            // Best effort: there is nobody left to tell.
            let _ = fs::remove_file(&self.beside);
        }
    }
}

/// Makes a rename last through a power cut, where the system can.
pub(crate) fn sync_folder(path: &Path) {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let _: io::Result<()> = File::open(folder).and_then(|folder| folder.sync_all());
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn names(folder: &Path) -> Vec<String> {
        let mut out: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        out.sort();
        out
    }

    #[test]
    fn a_failed_write_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("film.pdf");
        let write = |text: &'static [u8]| move |file: &mut File| Ok(file.write_all(text)?);
        write_beside(&path, write(b"first")).unwrap();
        let error = write_beside(&path, |file| {
            file.write_all(b"half")?;
            Err(io::Error::from(ErrorKind::StorageFull).into())
        });
        let error = error.unwrap_err();
        assert!(error.to_string().ends_with("film.pdf could not be written: the disk is full"));
        assert_eq!(error.hint(), "make room on the disk, or choose another one");
        assert_eq!(fs::read(&path).unwrap(), b"first");
        assert_eq!(names(folder.path()), ["film.pdf"]);
        // What a killed export left behind is taken over.
        fs::write(folder.path().join("film.pdf.part"), b"left behind, and longer").unwrap();
        write_beside(&path, write(b"second")).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"second");
        assert_eq!(names(folder.path()), ["film.pdf"]);
    }

    #[test]
    fn hopeless_places_are_refused_in_plain_words() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a file");
        fs::write(&file, b"").unwrap();
        let cases = [
            (folder.path().join("missing/film.pdf"), "the folder or file is not there"),
            (file.join("film.pdf"), "a part of its path is a file, not a folder"),
            (folder.path().to_owned(), "it is a folder"),
        ];
        for (path, reason) in cases {
            let error = write_beside(&path, |_| Ok(())).unwrap_err().to_string();
            assert!(error.ends_with(reason), "{error}");
        }
        let held = Part::begin(&folder.path().join("film.pdf")).unwrap();
        let error = write_beside(&folder.path().join("film.pdf"), |_| Ok(())).unwrap_err();
        assert!(error.to_string().ends_with("another export is writing it now"), "{error}");
        drop(held);
        assert_eq!(names(folder.path()), ["a file"]);
    }
}
