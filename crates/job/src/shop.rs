//! The job's shop plan: what the film and the garment say, given to the shop's reckoning.

use crate::build::{Film, Layout};
use crate::region::sizes;
use crate::seams::rect;
use crate::{Job, JobError, Tone, file};
use ::shop::{GarmentSize, JobFacts, Notebook, Shop, ShopSettings, Strip, Tones};
use garment::{Garment, Measurement, Silhouette};
use measure::{Length, Point, Rect};
use progress::Progress;
use rayon::prelude::*;
use std::path::{Path, PathBuf};
pub use ticket::Paper;

/// Columns of the plan's small picture of the film.
const COLUMNS: usize = 96;
/// Rows of film measured in one go.
const BAND: u32 = 512;

/// The shop's settings, in the job's unit.
pub(crate) fn settings(job: &Job, shop: &Shop) -> Result<ShopSettings, JobError> {
    shop.settings.check()?;
    Ok(ShopSettings { unit: job.unit, ..shop.settings.clone() })
}

/// The settings with what the notebook knows better.
pub(crate) fn as_noted(mut settings: ShopSettings, notebook: &Notebook) -> ShopSettings {
    for proposal in notebook.proposals(&settings) {
        proposal.apply(&mut settings);
    }
    settings
}

/// Writes the exposure test strip as `strip.pdf` into a folder, which is made where it does
/// not exist.
///
/// # Errors
/// Where the disk says no; nothing is left half-written.
pub fn write_strip(strip: &Strip, dir: &Path) -> Result<PathBuf, JobError> {
    write(dir, "strip.pdf", |out| ticket::write_strip(strip, out))
}

pub(crate) fn write(
    dir: &Path,
    name: &str,
    pages: impl FnOnce(&mut std::fs::File) -> std::io::Result<()>,
) -> Result<PathBuf, JobError> {
    file::make_folder(dir)?;
    let path = dir.join(name);
    film::write_beside(&path, |out| Ok(pages(out)?))?;
    Ok(path)
}

/// What the film as it is printed, its sheets and the garments say to the shop's reckoning. Lines
/// and gaps finer than `finest` are looked for.
///
/// # Errors
/// Only when cancelled.
pub(crate) fn facts(
    job: &Job,
    film: &Film,
    layout: &Layout,
    finest: Length,
    progress: &Progress,
) -> Result<JobFacts, JobError> {
    let film = &film.as_printed(job);
    let sheets: Vec<Rect> = layout.pages.iter().map(|p| rect(p, film.resolution)).collect();
    let overlaps = sheets
        .iter()
        .enumerate()
        .flat_map(|(i, a)| sheets[i + 1..].iter().filter_map(move |b| a.intersect(*b)));
    let laid = sizes(job, film.size());
    let measured = measure(film, &laid, progress)?;
    let garments: Vec<GarmentSize> = laid
        .iter()
        .zip(&measured.areas_m2)
        .map(|((garment, at), ink)| garment_size(garment, *at, *ink))
        .collect();
    let most = measured.areas_m2.iter().copied().reduce(f64::max);
    Ok(JobFacts {
        name: job.title.clone(),
        film: film.size(),
        resolution: film.resolution,
        overlaps: overlaps.collect(),
        sheets: sheets.clone(),
        stock: stock_names(job, layout),
        ink_area_m2: most.unwrap_or(measured.all_m2),
        finest: finest_detail(job, film, finest, progress)?,
        halftone: job.tone.dots(),
        garments,
        quantity: 0,
        screen: 1,
        screens: 1,
        tones: measured.tones,
    })
}

fn stock_names(job: &Job, layout: &Layout) -> String {
    let mut names: Vec<&str> = Vec::new();
    for sheet in &layout.plan.sheets {
        let name = job.stocks.get(sheet.placed.stock).map_or("", |stock| &stock.name);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names.join(" and ")
}

fn garment_size(garment: &Garment, film_at: Point, ink_area_m2: f64) -> GarmentSize {
    let widths = [Measurement::Chest, Measurement::Width, Measurement::Thigh];
    GarmentSize {
        name: garment.name.clone(),
        half_chest: widths.map(|m| garment.get(m)).into_iter().fold(Length::ZERO, Length::max),
        length: garment.hem().y,
        outline: garment.outline(),
        film_at,
        ink_area_m2,
    }
}

/// The thinnest line or gap finer than `finest` that is at least as long as `finest`: shorter
/// ones are the tips and corners of shapes. Grains are as fine as they are made, and dots are
/// judged by their ruling.
fn finest_detail(
    job: &Job,
    film: &Film,
    finest: Length,
    progress: &Progress,
) -> Result<Option<Length>, JobError> {
    match job.tone {
        Tone::Cut => {
            let found = artwork::printability(&*film.raster, film.resolution, finest, progress)?;
            let lines = found.places.iter().filter(|p| finest.fits(p.length)).map(|p| p.width);
            Ok(lines.reduce(Length::min))
        }
        Tone::Noise { grain } | Tone::Diffuse { grain } => Ok(Some(grain)),
        Tone::Dots { .. } => Ok(None),
    }
}

/// How much of a film is black.
struct Inked {
    all_m2: f64,
    /// On each garment.
    areas_m2: Vec<f64>,
    tones: Tones,
}

fn measure(
    film: &Film,
    laid: &[(&Garment, Point)],
    progress: &Progress,
) -> Result<Inked, JobError> {
    let (raster, resolution) = (&*film.raster, film.resolution);
    let (width, height) = (raster.width(), raster.height());
    let silhouettes: Vec<(Silhouette, Point)> =
        laid.iter().map(|(g, at)| (g.silhouette(Length::ZERO), *at)).collect();
    let columns = COLUMNS.min(width as usize).max(1);
    let cell_px = f64::from(width) / columns as f64;
    let rows = (f64::from(height) / cell_px).round().max(1.0);
    let mut out = Inked {
        all_m2: 0.0,
        areas_m2: vec![0.0; laid.len()],
        tones: Tones { columns, inked: vec![0.0; columns * rows as usize] },
    };
    let cell_rows = f64::from(height) / rows;
    let mut rows_in = vec![0_u32; rows as usize];
    for band in (0..height).step_by(BAND as usize) {
        progress.step("Measuring ink", band.into(), height.into())?;
        let measured: Vec<(Vec<f64>, Vec<f64>)> = (band..(band + BAND).min(height))
            .into_par_iter()
            .map(|y| {
                let runs = black(raster, y);
                let on = silhouettes.iter().map(|(silhouette, at)| {
                    let spans = silhouette.spans(at.y + resolution.length(f64::from(y) + 0.5));
                    spans.iter().fold(0.0, |sum, (l, r)| {
                        sum + within(&runs, resolution.px(*l - at.x), resolution.px(*r - at.x))
                    })
                });
                let cell = |i| within(&runs, cell_px * i as f64, cell_px * (i + 1) as f64);
                (on.collect(), (0..columns).map(cell).collect())
            })
            .collect();
        // Added in the order of the rows, so that the sum is the same on any machine.
        for (y, (on, cells)) in (band..).zip(measured) {
            out.areas_m2.iter_mut().zip(on).for_each(|(sum, px)| *sum += px);
            out.all_m2 += cells.iter().sum::<f64>();
            let row = ((f64::from(y) / cell_rows) as usize).min(rows as usize - 1);
            rows_in[row] += 1;
            let inked = &mut out.tones.inked[row * columns..(row + 1) * columns];
            inked.iter_mut().zip(cells).for_each(|(sum, px)| *sum += px);
        }
    }
    let side_m = resolution.pixel().to_mm() / 1000.0;
    out.all_m2 *= side_m * side_m;
    out.areas_m2.iter_mut().for_each(|px| *px *= side_m * side_m);
    for (cells, rows) in out.tones.inked.chunks_mut(columns).zip(rows_in) {
        cells.iter_mut().for_each(|px| *px /= cell_px * f64::from(rows.max(1)));
    }
    Ok(out)
}

/// The black runs of a row.
fn black(raster: &dyn bitmap::Raster, y: u32) -> Vec<(f64, f64)> {
    let mut changes = Vec::new();
    raster.changes(y, 0, raster.width(), &mut changes);
    let runs = bitmap::runs(&changes, raster.width());
    runs.map(|run| (f64::from(run.start), f64::from(run.end))).collect()
}

/// How many black pixels lie between two places of a row.
fn within(runs: &[(f64, f64)], from: f64, to: f64) -> f64 {
    let first = runs.partition_point(|r| r.1 <= from);
    let near = runs[first..].iter().take_while(|r| r.0 < to);
    near.map(|r| (to.min(r.1) - from.max(r.0)).max(0.0)).sum()
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
        let panel = |cm| {
            let mut panel = Garment::named("panel").unwrap();
            panel.set(Measurement::Width, Length::cm(cm));
            panel.set(Measurement::Height, Length::cm(cm));
            panel
        };
        let job = Job { garment: Some(panel(100.0)), also: vec![panel(50.0)], ..Job::default() };
        let raster = Arc::new(Bitmap::from_fn(1100, 1100, |_, _| true));
        let film = Film::new(raster, Resolution::ppi(25.4));
        let laid = sizes(&job, film.size());
        let ink = measure(&film, &laid, &Progress::none()).unwrap();
        assert!((ink.areas_m2[0] - 1.0).abs() < 1e-3, "{:?}", ink.areas_m2);
        assert!((ink.areas_m2[1] - 0.25).abs() < 1e-3, "{:?}", ink.areas_m2);
        assert!((ink.all_m2 - 1.21).abs() < 1e-6, "{}", ink.all_m2);
        assert!(ink.tones.inked.iter().all(|t| (t - 1.0).abs() < 1e-9));
    }

    /// The share of ink in each cell of the small picture is that of the film under it.
    #[test]
    fn the_small_picture_shows_the_film() {
        let raster = Arc::new(Bitmap::from_fn(960, 480, |x, y| x < 480 && y >= 240));
        let film = Film::new(raster, Resolution::ppi(300.0));
        let tones = measure(&film, &[], &Progress::none()).unwrap().tones;
        assert_eq!((tones.columns, tones.inked.len()), (96, 96 * 48));
        for (i, inked) in tones.inked.iter().enumerate() {
            let want = i % 96 < 48 && i / 96 >= 24;
            assert!((inked - f64::from(u8::from(want))).abs() < 1e-9, "{i}: {inked}");
        }
    }

    #[test]
    fn the_finest_line_is_the_thinnest_long_one() {
        // Bars of 2, 4 and 30 pixels, and one black pixel, which is no line.
        let bars = |x: u32, y: u32| {
            (40..240).contains(&y) && matches!(x, 20..22 | 60..64 | 100..130) || (x, y) == (200, 9)
        };
        let film = Film::new(Arc::new(Bitmap::from_fn(300, 280, bars)), Resolution::ppi(254.0));
        let look = |tone, mm| {
            let job = Job { tone, ..Job::default() };
            finest_detail(&job, &film, Length::mm(mm), &Progress::none()).unwrap()
        };
        let line = look(Tone::Cut, 0.7).unwrap();
        assert!((line - Length::mm(0.2)).abs() <= Length::mm(0.05 + 1e-9), "{line:?}");
        assert_eq!(look(Tone::Cut, 0.1), None);
        assert_eq!(look(Tone::DOTS, 0.7), None);
    }
}
