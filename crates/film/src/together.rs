use crate::FilmError;
use crate::beside::{Part, sync_folder};
use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::path::{Component, Path, PathBuf};

/// Files of one export, which take their names together: written beside, all of them on the
/// disk, and only then renamed. A file system renames one file at a time; so that a stop
/// between two of them is noticed, a list of the files stands in the folder meanwhile, and
/// whoever next looks into the folder ([`settle`]) renames the rest.
pub struct Together {
    folder: PathBuf,
    parts: Vec<(String, Part)>,
    /// The folders made for this export, innermost first.
    made: Vec<PathBuf>,
}

/// The list's name.
const LIST: &str = "export-unfinished.txt";
/// Its first line; the files' names follow, one a line.
const LIST_SAYS: &str = "These files were taking their places when Filmquilt stopped; NAME.part is \
                         whole. \"filmquilt check\" on this folder finishes it.";

impl Together {
    /// Begins files of these names in a folder, which is made where it is missing; they
    /// appear in this order. An export that stopped while its files took their names is
    /// finished first.
    ///
    /// # Errors
    /// When the folder cannot be written to, or another export is at it.
    pub fn begin(folder: &Path, names: &[&str]) -> Result<Self, FilmError> {
        let mut out = Self { folder: folder.to_owned(), parts: Vec::new(), made: missing(folder) };
        fs::create_dir_all(folder)
            .map_err(|why| FilmError::Write { path: folder.to_owned(), why })?;
        settle(folder)?;
        for name in names {
            out.parts.push(((*name).to_owned(), Part::begin(&folder.join(name))?));
        }
        Ok(out)
    }

    /// Begins one more file, which appears before the others.
    ///
    /// # Errors
    /// When the folder cannot be written to.
    pub fn add(&mut self, name: &str) -> Result<(), FilmError> {
        self.parts.insert(0, (name.to_owned(), Part::begin(&self.folder.join(name))?));
        Ok(())
    }

    /// Writes what is in one of the files; it goes to the disk itself while other work goes on.
    ///
    /// # Errors
    /// When it cannot be written, or was not begun.
    pub fn fill(
        &mut self,
        name: &str,
        write: impl FnOnce(&mut File) -> Result<(), FilmError>,
    ) -> Result<(), FilmError> {
        let part = self.parts.iter_mut().find(|(begun, _)| begun == name);
        let (_, part) = part.ok_or_else(|| FilmError::Write {
            path: self.folder.join(name),
            why: ErrorKind::InvalidInput.into(),
        })?;
        part.fill(write)
    }

    /// Puts all files in the old ones' places.
    ///
    /// # Errors
    /// When the first cannot be renamed: then the old files stand. When a later one cannot,
    /// the new ones stay beside, and [`settle`] puts them in place.
    pub fn appear(mut self) -> Result<(), FilmError> {
        self.parts.iter_mut().try_for_each(|(_, part)| part.sync())?;
        let mut list = Part::begin(&self.folder.join(LIST))?;
        list.fill(|file| {
            let names: Vec<&str> = self.parts.iter().map(|(name, _)| &name[..]).collect();
            Ok(write!(file, "{LIST_SAYS}\n{}\n", names.join("\n"))?)
        })?;
        list.place()?;
        // From here on this export counts, whatever comes. The list stays locked, so that
        // nobody settles what is under way.
        let mut parts = std::mem::take(&mut self.parts);
        for n in 0..parts.len() {
            let Err(error) = parts[n].1.place() else { continue };
            if n == 0 {
                remove(&self.folder)?;
                return Err(error);
            }
            parts[n..].iter_mut().for_each(|(_, part)| part.keep());
            self.made.clear();
            return Err(error);
        }
        self.made.clear();
        sync_folder(&self.folder.join(LIST));
        remove(&self.folder)
    }
}

impl Drop for Together {
    fn drop(&mut self) {
        // The files first, or the folder is not empty. A folder with others' files stays.
        self.parts.clear();
        for folder in &self.made {
            let _ = fs::remove_dir(folder);
        }
    }
}

/// Finishes an export into a folder that was stopped while its files took their names; there
/// is nothing to do where none was.
///
/// # Errors
/// When an export is at it now, or a file cannot be renamed.
pub fn settle(folder: &Path) -> Result<(), FilmError> {
    let path = folder.join(LIST);
    let failed = |path: &Path| {
        let path = path.to_owned();
        move |why| FilmError::Write { path, why }
    };
    let list = match File::open(&path) {
        Ok(list) => list,
        Err(_) => return Ok(()),
    };
    if let Err(fs::TryLockError::WouldBlock) = list.try_lock() {
        return Err(failed(&path)(ErrorKind::ResourceBusy.into()));
    }
    // Whoever held the lock before may have finished meanwhile.
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(why) if why.kind() == ErrorKind::NotFound => return Ok(()),
        Err(why) => return Err(FilmError::Read { path, why }),
    };
    for name in text.lines().skip(1).filter(|name| plain(name)) {
        let (from, to) = (folder.join(format!("{name}.part")), folder.join(name));
        match fs::rename(&from, &to) {
            Err(why) if why.kind() != ErrorKind::NotFound => return Err(failed(&to)(why)),
            // Renamed already.
            _ => {}
        }
    }
    sync_folder(&path);
    remove(folder)
}

/// A list that comes back after a power cut does no harm: there is nothing left to rename.
fn remove(folder: &Path) -> Result<(), FilmError> {
    let path = folder.join(LIST);
    fs::remove_file(&path).map_err(|why| FilmError::Write { path, why })
}

/// Whether it is a file's name and no path.
fn plain(name: &str) -> bool {
    let mut parts = Path::new(name).components();
    matches!((parts.next(), parts.next()), (Some(Component::Normal(_)), None))
}

/// The folders on the way that are not there, innermost first.
fn missing(folder: &Path) -> Vec<PathBuf> {
    // What cannot be looked at may well be there.
    let there = |path: &Path| path.try_exists().unwrap_or(true);
    let ancestors = folder.ancestors().filter(|path| !path.as_os_str().is_empty());
    ancestors.take_while(|path| !there(path)).map(Path::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NAMES: [&str; 3] = ["film.pdf", "guide.pdf", "plan.json"];

    fn filled(folder: &Path, with: &str) -> Together {
        let mut files = Together::begin(folder, &NAMES).unwrap();
        for name in NAMES {
            files.fill(name, |file| Ok(file.write_all(with.as_bytes())?)).unwrap();
        }
        files
    }

    fn told(folder: &Path) -> Vec<String> {
        NAMES.iter().map(|name| fs::read_to_string(folder.join(name)).unwrap()).collect()
    }

    fn names(folder: &Path) -> usize {
        fs::read_dir(folder).unwrap().count()
    }

    #[test]
    fn an_export_that_fails_leaves_no_folder_of_its_own() {
        let root = tempfile::tempdir().unwrap();
        let folder = root.path().join("a/b/c");
        drop(filled(&folder, "new"));
        assert_eq!(names(root.path()), 0);
        // A folder with something else in it stays, and so does one that was there.
        fs::create_dir(root.path().join("a")).unwrap();
        let files = filled(&folder, "new");
        fs::write(root.path().join("a/b/note"), "").unwrap();
        drop(files);
        assert!(root.path().join("a/b/note").exists() && !folder.exists());
    }

    /// Every state that a stop between two steps can leave behind is made by hand: up to the
    /// list all old, from it on all new.
    #[test]
    fn a_stop_at_any_step_leaves_the_old_files_or_the_new() {
        for steps in 0..=NAMES.len() {
            for listed in [false, true] {
                let root = tempfile::tempdir().unwrap();
                filled(root.path(), "old").appear().unwrap();
                let mut files = filled(root.path(), "new");
                for (_, part) in &mut files.parts {
                    part.keep();
                }
                drop(files);
                if listed {
                    let list = format!("{LIST_SAYS}\n{}\n../x\n", NAMES.join("\n"));
                    fs::write(root.path().join(LIST), list).unwrap();
                    for name in &NAMES[..steps] {
                        let part = root.path().join(format!("{name}.part"));
                        fs::rename(part, root.path().join(name)).unwrap();
                    }
                }
                settle(root.path()).unwrap();
                assert_eq!(told(root.path()), [if listed { "new" } else { "old" }; 3]);
                assert!(!root.path().join(LIST).exists());
                // The next export takes over what was left behind.
                filled(root.path(), "next").appear().unwrap();
                assert_eq!((told(root.path()), names(root.path())), (vec!["next".into(); 3], 3));
            }
        }
    }

    #[test]
    fn a_place_that_is_taken_leaves_the_old_files() {
        let root = tempfile::tempdir().unwrap();
        let files = filled(root.path(), "new");
        fs::create_dir_all(root.path().join("film.pdf/full")).unwrap();
        let error = files.appear().unwrap_err().to_string();
        assert!(error.contains("film.pdf could not be written"), "{error}");
        assert_eq!(names(root.path()), 1);
        // Taken later on: what is whole waits beside until there is room for it.
        let root = tempfile::tempdir().unwrap();
        let files = filled(root.path(), "new");
        fs::create_dir_all(root.path().join("guide.pdf/full")).unwrap();
        files.appear().unwrap_err();
        assert!(settle(root.path()).is_err());
        fs::remove_dir_all(root.path().join("guide.pdf")).unwrap();
        settle(root.path()).unwrap();
        assert_eq!((told(root.path()), names(root.path())), (vec!["new".into(); 3], 3));
    }
}
