//! Checking what was exported: the files against their plan, the taped film against a photo.

use crate::JobError;
use film::{PlanFile, Plans, Proof};
use inspect::{Film, Mark, Options, Photo, Report, ScreenReport, Sheet};
use measure::Resolution;
use progress::Progress;
use std::path::Path;

/// Reads every film of a folder back and proves it against `plan.json`.
///
/// # Errors
/// When the plan or a film cannot be read at all. What is wrong comes back as faults.
pub fn proof(dir: &Path, progress: &Progress) -> Result<Vec<(String, Proof)>, JobError> {
    film::settle(dir)?;
    let plans = Plans::read(dir)?;
    let proved = plans.films().map(|name| {
        let proof = film::prove(dir, name, None, progress)?;
        Ok((name.to_owned(), proof))
    });
    proved.collect()
}

/// Finds a folder's film in a photograph of it, taped, and says how well it is taped. `film` is
/// its file's name, which is not needed where the folder holds only one.
///
/// # Errors
/// When the film or the photograph cannot be read, when it is not said which of several films
/// the photograph shows, or when that is not found in it.
pub fn photo(
    dir: &Path,
    film: Option<&str>,
    photo: &Path,
    options: &Options,
    progress: &Progress,
) -> Result<Report, JobError> {
    let film::ReadFilm { plan, drawing, ticks } = read_film(dir, film, progress)?;
    let photo = read_photo(photo)?;
    let sheet = |s: &film::PlanSheet| {
        let side = |px: i64| px as f64;
        let [x, y, w, h] = [s.x_px, s.y_px, s.width_px, s.height_px].map(side);
        Sheet::upright(s.name.clone(), x, y, w, h)
    };
    let resolution = Resolution::ppi(plan.film.ppi);
    let marks = ticks.into_iter().map(|tick| Mark {
        sheets: tick.sheets,
        corner: [tick.place.x, tick.place.y],
        drawn: tick.drawn,
    });
    let film = Film {
        raster: &drawing,
        resolution,
        sheets: plan.sheets.iter().map(sheet).collect(),
        seams: seams(&plan),
        marks: marks.collect(),
    };
    let mut report = inspect::check_film(&film, &photo, options, progress)?;
    // Where its sheet has slipped a mark lies off its place.
    report.spots.retain(|spot| !by_a_mark(&plan, resolution, 2.0, [spot.x_mm, spot.y_mm]));
    Ok(report)
}

/// Whether a place, in mm, is on a mark or so near to one: ticks, names and rulers are on the
/// film but no part of the drawing.
fn by_a_mark(plan: &PlanFile, resolution: Resolution, near_mm: f64, [x, y]: [f64; 2]) -> bool {
    plan.marks.iter().any(|mark| {
        let side = |at: f64, from: i64, size: i64| {
            let mm = |px: i64| resolution.length(px as f64).to_mm();
            (mm(from) - near_mm..mm(from + size) + near_mm).contains(&at)
        };
        side(x, mark.x_px, mark.width_px) && side(y, mark.y_px, mark.height_px)
    })
}

/// Finds a folder's film in a photograph of the screen washed out with it, and lists what is
/// closed and what should be blocked out. `film` is as for [`photo()`].
///
/// # Errors
/// As for [`photo()`].
pub fn screen(
    dir: &Path,
    film: Option<&str>,
    photo: &Path,
    options: &Options,
    progress: &Progress,
) -> Result<ScreenReport, JobError> {
    let film::ReadFilm { plan, drawing, .. } = read_film(dir, film, progress)?;
    let resolution = Resolution::ppi(plan.film.ppi);
    let film = Film {
        raster: &drawing,
        resolution,
        sheets: Vec::new(),
        seams: Vec::new(),
        marks: Vec::new(),
    };
    let mut report = inspect::check_screen(&film, &read_photo(photo)?, options, progress)?;
    report.leave_out(|place| by_a_mark(&plan, resolution, 1.0, place));
    Ok(report)
}

/// The film of that name, or the only one.
fn read_film(
    dir: &Path,
    name: Option<&str>,
    progress: &Progress,
) -> Result<film::ReadFilm, JobError> {
    film::settle(dir)?;
    let plans = Plans::read(dir)?;
    let films: Vec<String> = plans.films().map(str::to_owned).collect();
    let known = name.is_none_or(|name| films.iter().any(|film| film == name));
    if !known || (name.is_none() && films.len() > 1) {
        return Err(JobError::WhichFilm { films });
    }
    Ok(film::read_film(dir, name, progress)?)
}

/// Which sheets meet, each pair once.
fn seams(plan: &PlanFile) -> Vec<[usize; 2]> {
    let mut out: Vec<[usize; 2]> = Vec::new();
    for seam in &plan.seams {
        let number = |name: &String| plan.sheets.iter().position(|s| s.name == *name);
        if let [Some(a), Some(b)] = [number(&seam.between[0]), number(&seam.between[1])]
            && !out.contains(&[a, b])
            && !out.contains(&[b, a])
        {
            out.push([a, b]);
        }
    }
    out
}

/// A photograph's green, which has the most pixels behind it in a camera's mosaic.
fn read_photo(path: &Path) -> Result<Photo, JobError> {
    let bytes = std::fs::read(path).map_err(|source| JobError::Disk {
        path: path.into(),
        action: "read",
        source,
    })?;
    let picture = artwork::load(&bytes)?;
    let grey = match &picture.pixels {
        artwork::Pixels::Grey(grey) => grey.to_vec(),
        artwork::Pixels::Rgb(rgb) => rgb.iter().skip(1).step_by(3).copied().collect(),
    };
    Ok(Photo { width: picture.width, height: picture.height, grey, tone: inspect::Tone::Srgb })
}
