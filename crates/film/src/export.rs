use crate::pages::Films;
use crate::{FilmError, FilmJob, PlanPdf, Plans, Together};
use progress::Progress;

/// Fills the films of one print, each under its name, and their `plan.json` in, among the files
/// of an export that were begun.
///
/// # Errors
/// When a file cannot be written, a sheet does not fit, or the task is cancelled.
pub fn export(
    files: &mut Together,
    names: &[&str],
    jobs: &[FilmJob],
    progress: &Progress,
) -> Result<Plans, FilmError> {
    let mut films = Films::new(jobs, progress)?;
    let mut written = Vec::with_capacity(jobs.len());
    for (n, name) in names.iter().enumerate() {
        files.fill(name, |file| {
            let id = films.write_pdf(n, file)?;
            written.push(PlanPdf { name: (*name).to_owned(), id, screen: jobs[n].screen.clone() });
            Ok(())
        })?;
    }
    let plans = films.plans(written);
    files.fill("plan.json", |file| plans.write(file))?;
    progress.check()?;
    Ok(plans)
}
