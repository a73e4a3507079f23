use crate::beside::Part;
use crate::pages::Films;
use crate::{FilmError, FilmJob, PlanFile, PlanPdf};
use progress::Progress;
use std::fs;
use std::io::ErrorKind;
use std::path::Path;

/// Writes films that share their sheets, each under its name, and one `plan.json`, into a
/// folder, which is made where it is missing. All files are complete on the disk before the
/// first takes its name, so that films and plan of one export stay together.
///
/// # Errors
/// When the folder cannot be written to, a sheet does not fit, or the task is cancelled;
/// then the folder is as it was.
pub fn export(
    folder: &Path,
    names: &[&str],
    jobs: &[FilmJob],
    progress: &Progress,
) -> Result<PlanFile, FilmError> {
    let failed = |why| FilmError::Write { path: folder.to_owned(), why };
    let Some(job) = jobs.first() else {
        return Err(failed(ErrorKind::InvalidInput.into()));
    };
    // The folder first: the wait for the films would be for nothing.
    fs::create_dir_all(folder).map_err(failed)?;
    let mut parts = Vec::with_capacity(jobs.len() + 1);
    for name in names {
        parts.push(Part::begin(&folder.join(name))?);
    }
    let mut plan_part = Part::begin(&folder.join("plan.json"))?;
    let mut films = Films::new(jobs, progress)?;
    let mut files = Vec::with_capacity(jobs.len());
    for (n, (part, name)) in parts.iter_mut().zip(names).enumerate() {
        part.fill(|file| {
            let id = films.write_pdf(n, file)?;
            files.push(PlanPdf { name: (*name).to_owned(), id });
            Ok(())
        })?;
    }
    let plan = PlanFile::new(job, films.marks(), files);
    plan_part.fill(|file| plan.write(file))?;
    progress.check()?;
    for part in parts {
        part.rename()?;
    }
    plan_part.rename()?;
    Ok(plan)
}
