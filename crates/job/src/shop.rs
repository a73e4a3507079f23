//! The job's shop plan: what the film and the garment say, given to the shop's reckoning.

use crate::build::{Built, Film, build};
use crate::region::film_corner;
use crate::seams::rect;
use crate::{Job, JobError};
use ::shop::{GarmentSize, JobFacts, Reckoning, ShopSettings};
use garment::{Garment, Measurement};
use measure::{Length, Point, Rect};
use progress::Progress;
use std::path::{Path, PathBuf};
pub use ticket::Paper;

/// Reckons the whole shop plan of a job.
///
/// # Errors
/// Any stage's, or a number out of all reason.
pub fn reckon(
    job: &Job,
    settings: &ShopSettings,
    quantity: u32,
    progress: &Progress,
) -> Result<Reckoning, JobError> {
    let built = build(job, progress)?;
    let settings = ShopSettings { unit: job.unit, ..settings.clone() };
    Ok(::shop::reckon(&settings, &facts(job, &built, quantity, progress)?)?)
}

/// Writes `ticket.pdf` into a folder, which is made where it does not exist.
///
/// # Errors
/// Any stage's; nothing is left half-written.
pub fn ticket(
    job: &Job,
    settings: &ShopSettings,
    quantity: u32,
    paper: Paper,
    dir: &Path,
    progress: &Progress,
) -> Result<PathBuf, JobError> {
    let plan = reckon(job, settings, quantity, progress)?;
    std::fs::create_dir_all(dir).map_err(|source| JobError::Disk {
        path: dir.into(),
        action: "made",
        source,
    })?;
    let path = dir.join("ticket.pdf");
    film::write_beside(&path, |out| Ok(ticket::write_ticket(&plan, paper, out)?))?;
    Ok(path)
}

fn facts(
    job: &Job,
    built: &Built,
    quantity: u32,
    progress: &Progress,
) -> Result<JobFacts, JobError> {
    let film = &built.film;
    let size = film.size();
    let pages = &built.layout.pages;
    let sheets: Vec<Rect> = pages.iter().map(|page| rect(page, film.resolution)).collect();
    let overlaps = sheets
        .iter()
        .enumerate()
        .flat_map(|(i, a)| sheets[i + 1..].iter().filter_map(move |b| a.intersect(*b)));
    let corner = film_corner(job, size);
    Ok(JobFacts {
        name: job.title.clone(),
        film: size,
        // Without a garment the artwork's middle stands for the collar's.
        film_at: corner.unwrap_or(Point::new(-size.width / 2.0, Length::ZERO)),
        resolution: film.resolution,
        overlaps: overlaps.collect(),
        sheets: sheets.clone(),
        stock: stock_names(job, built),
        ink_area_m2: ink_area_m2(job, film, corner, progress)?,
        finest: None,
        halftone: None,
        garments: job.garment.iter().map(garment_size).collect(),
        quantity,
    })
}

fn stock_names(job: &Job, built: &Built) -> String {
    let mut names: Vec<&str> = Vec::new();
    for sheet in &built.layout.plan.sheets {
        let name = job.stocks.get(sheet.placed.stock).map_or("", |stock| &stock.name);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names.join(" and ")
}

fn garment_size(garment: &Garment) -> GarmentSize {
    let widths = [Measurement::Chest, Measurement::Width, Measurement::Thigh];
    GarmentSize {
        name: garment.name.clone(),
        half_chest: widths.map(|m| garment.get(m)).into_iter().fold(Length::ZERO, Length::max),
        length: garment.hem().y,
        outline: garment.outline(),
    }
}

/// The film's black that falls on the garment.
fn ink_area_m2(
    job: &Job,
    film: &Film,
    corner: Option<Point>,
    progress: &Progress,
) -> Result<f64, JobError> {
    let silhouette = job.garment.as_ref().map(|g| g.silhouette(Length::ZERO));
    let (raster, resolution) = (&*film.raster, film.resolution);
    let mut changes = Vec::new();
    let mut pixels = 0.0;
    for y in 0..raster.height() {
        if y % 256 == 0 {
            progress.step("Measuring ink", y.into(), raster.height().into())?;
        }
        changes.clear();
        raster.changes(y, 0, raster.width(), &mut changes);
        let spans: Vec<(f64, f64)> = match (&silhouette, corner) {
            (Some(silhouette), Some(corner)) => silhouette
                .spans(corner.y + resolution.length(f64::from(y) + 0.5))
                .iter()
                .map(|(l, r)| (resolution.px(*l - corner.x), resolution.px(*r - corner.x)))
                .collect(),
            _ => vec![(0.0, f64::from(raster.width()))],
        };
        for run in changes.chunks(2) {
            let from = f64::from(run[0]);
            let to = f64::from(run.get(1).copied().unwrap_or(raster.width()));
            pixels += spans.iter().map(|(l, r)| (to.min(*r) - from.max(*l)).max(0.0)).sum::<f64>();
        }
    }
    let side_m = resolution.pixel().to_mm() / 1000.0;
    Ok(pixels * side_m * side_m)
}

#[cfg(test)]
mod tests {
    use super::*;
    use bitmap::Bitmap;
    use measure::Resolution;
    use std::sync::Arc;

    /// Solid ink over a 1 m square panel: what falls on it is 1 m2 of the film's 1.21.
    #[test]
    fn only_ink_on_the_garment_counts() {
        let mut panel = Garment::named("panel").unwrap();
        panel.set(Measurement::Width, Length::cm(100.0));
        panel.set(Measurement::Height, Length::cm(100.0));
        let job = Job { garment: Some(panel), ..Job::default() };
        let resolution = Resolution::ppi(25.4);
        let raster = Arc::new(Bitmap::from_fn(1100, 1100, |_, _| true));
        let film = Film { raster, resolution };
        let corner = film_corner(&job, film.size());
        let on_garment = ink_area_m2(&job, &film, corner, &Progress::none()).unwrap();
        assert!((on_garment - 1.0).abs() < 1e-3, "{on_garment}");
        let all = ink_area_m2(&Job::default(), &film, None, &Progress::none()).unwrap();
        assert!((all - 1.21).abs() < 1e-6, "{all}");
    }
}
