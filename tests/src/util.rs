//! Running the binary, and the outside tools it is judged by.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// The files of `tests/` and `assets/`.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// A folder that goes away with the test.
pub(crate) fn folder() -> TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

/// Runs `filmquilt` with these words.
pub(crate) fn filmquilt<I: AsRef<std::ffi::OsStr>>(words: impl IntoIterator<Item = I>) -> Output {
    Command::new(env!("CARGO_BIN_EXE_filmquilt")).args(words).output().expect("filmquilt runs")
}

/// Runs `filmquilt` and expects it to be done without complaint.
pub(crate) fn done<I: AsRef<std::ffi::OsStr>>(words: impl IntoIterator<Item = I>) -> String {
    let out = filmquilt(words);
    let errors = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "exit {:?}: {errors}", out.status.code());
    assert!(!errors.contains("panicked"), "{errors}");
    String::from_utf8(out.stdout).expect("text")
}

/// Runs an outside tool and expects success. A missing tool is a failure that names it:
/// `.ci/set-up tests` installs them all.
pub(crate) fn tool(name: &str, words: &[&str]) -> String {
    let out = Command::new(name)
        .args(words)
        .output()
        .unwrap_or_else(|e| panic!("{name} is needed ({e}); run: sh .ci/set-up tests"));
    let (said, errors) =
        (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    assert!(out.status.success(), "{name} {words:?}: {said}{errors}");
    said.into_owned()
}

/// Runs a script of `tests/tools/` under the Python that `.ci/set-up tests` made.
pub(crate) fn python(script: &str, words: &[&str]) -> String {
    let ours = root().join("target/python/bin/python");
    let python = if ours.exists() { ours.to_string_lossy().into_owned() } else { "python3".into() };
    let script = root().join("tests/tools").join(script);
    let mut all = vec![script.to_str().expect("a path in UTF-8")];
    all.extend(words);
    tool(&python, &all)
}

/// A path as text.
pub(crate) fn text(path: impl AsRef<Path>) -> String {
    path.as_ref().to_str().expect("a path in UTF-8").to_owned()
}
