//! What stands where something is to be written.

use std::path::{Path, PathBuf};

/// Whether a path is a job's, by its ending.
pub(crate) fn is_job(path: &Path) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case(job::file::ENDING))
}

/// A job's file with its ending, which a printer may leave out.
pub(crate) fn with_ending(path: PathBuf) -> PathBuf {
    if is_job(&path) {
        return path;
    }
    let mut name = path.into_os_string();
    name.push(format!(".{}", job::file::ENDING));
    name.into()
}

/// The files of written films in a folder, by name.
pub(crate) fn films_in(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let names = entries.filter_map(|entry| entry.file_name().into_string().ok());
    let mut films: Vec<String> = names.filter(|name| is_of_films(name)).collect();
    films.sort();
    films
}

/// Whether writing films may put another file in this one's place.
fn is_of_films(name: &str) -> bool {
    let Some(stem) = name.strip_suffix(".pdf") else { return name == "plan.json" };
    let of =
        |what| stem.strip_prefix(what).is_some_and(|rest| rest.is_empty() || is_numbered(rest));
    of("film") || of("guide")
}

/// Whether a name goes on with a screen's order and ink.
fn is_numbered(rest: &str) -> bool {
    let order = rest.strip_prefix('-').and_then(|rest| rest.split_once('-'));
    order.is_some_and(|(order, _)| order.parse::<u32>().is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn films_are_told_from_what_else_lies_in_a_folder() {
        let dir = tempfile::tempdir().unwrap();
        assert!(films_in(&dir.path().join("none")).is_empty());
        for name in [
            "film.pdf",
            "film-1-red.pdf",
            "plan.json",
            "films.pdf",
            "film-1-red.txt",
            "film-a-b.pdf",
        ] {
            std::fs::write(dir.path().join(name), name).unwrap();
        }
        assert_eq!(films_in(dir.path()), ["film-1-red.pdf", "film.pdf", "plan.json"]);
    }

    #[test]
    fn the_ending_is_added_where_it_is_left_out() {
        for (typed, whole) in
            [("moth", "moth.quilt"), ("moth.QUILT", "moth.QUILT"), ("a.b", "a.b.quilt")]
        {
            assert_eq!(with_ending(typed.into()), PathBuf::from(whole));
        }
    }
}
