use crate::pages::Films;
use crate::{FilmError, FilmJob, PlanFile, PlanPdf, Together};
use progress::Progress;
use std::io::ErrorKind;

/// Fills films that share their sheets, each under its name, and their `plan.json` in, among
/// the files of an export that were begun.
///
/// # Errors
/// When a file cannot be written, a sheet does not fit, or the task is cancelled.
pub fn export(
    files: &mut Together,
    names: &[&str],
    jobs: &[FilmJob],
    progress: &Progress,
) -> Result<PlanFile, FilmError> {
    let job = jobs.first().ok_or(FilmError::Output(ErrorKind::InvalidInput.into()))?;
    let mut films = Films::new(jobs, progress)?;
    let mut written = Vec::with_capacity(jobs.len());
    for (n, name) in names.iter().enumerate() {
        files.fill(name, |file| {
            let id = films.write_pdf(n, file)?;
            written.push(PlanPdf { name: (*name).to_owned(), id, screen: jobs[n].screen.clone() });
            Ok(())
        })?;
    }
    let plan = PlanFile::new(job, films.marks(), films.targets(), written);
    files.fill("plan.json", |file| plan.write(file))?;
    progress.check()?;
    Ok(plan)
}
