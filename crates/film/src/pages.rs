use crate::bands::Steps;
use crate::canvas::Canvas;
use crate::image::{SheetImage, encode_sheet};
use crate::pdf::{Page, Pdf};
use crate::{FilmError, FilmJob, FilmSheet, PxRect};
use measure::{Length, Resolution};
use progress::Progress;
use rayon::prelude::*;
use std::io::Write;

/// Writes the film as PDF, one page a sheet, at exact scale.
///
/// # Errors
/// When a sheet reaches past the film or its page, `out` fails, or the task is cancelled.
pub fn write_pdf(
    job: &FilmJob,
    out: &mut impl Write,
    progress: &Progress,
) -> Result<(), FilmError> {
    for sheet in &job.sheets {
        check(job, sheet)?;
    }
    let images = encode(job, progress)?;
    let mut pdf = Pdf::new(job.title);
    for (sheet, image) in job.sheets.iter().zip(images) {
        let mut canvas = Canvas::default();
        canvas.grey(0.0);
        place(&mut canvas, "Film", sheet, job.resolution);
        pdf.add(Page {
            size: sheet.page,
            label: sheet.name.clone(),
            content: canvas.finish(),
            images: vec![("Film".into(), image.stream)],
        });
    }
    Ok(pdf.finish(out)?)
}

/// Encodes all sheets: as many at a time as there are threads or, where sheets are fewer
/// than threads, one after the other with all threads at its rows.
fn encode(job: &FilmJob, progress: &Progress) -> Result<Vec<SheetImage>, FilmError> {
    let rows = job.sheets.iter().map(|s| s.image.height as u64).sum();
    let steps = Steps::new(progress, "Writing sheets", rows);
    // Fine enough to find a gap of a few millimetres.
    let cell = job.resolution.whole_px(Length::mm(1.5)).max(1) as u32;
    let spread = job.sheets.len() < rayon::current_num_threads();
    let one = |sheet| encode_sheet(job.raster, sheet, cell, spread, &steps);
    if spread {
        job.sheets.iter().map(one).collect()
    } else {
        job.sheets.par_iter().map(one).collect()
    }
}

fn check(job: &FilmJob, sheet: &FilmSheet) -> Result<(), FilmError> {
    let film = PxRect::new(0, 0, job.raster.width().into(), job.raster.height().into());
    let px = |length| job.resolution.px(length).ceil() as i64;
    let page = PxRect::new(0, 0, px(sheet.page.width), px(sheet.page.height));
    if sheet.image.area() > 0 && film.holds(sheet.image) && page.holds(sheet.on_page()) {
        Ok(())
    } else {
        Err(FilmError::Page(sheet.name.clone()))
    }
}

/// How far an image's rectangle is drawn in on each side, in pixels. Readers disagree about
/// an edge that lies exactly between two pixels: some round it outward and show a row too
/// many. Drawn in by a hundredth of a pixel, every pixel still lies under its own sample,
/// and poppler, mupdf and ghostscript all show the image exactly.
const DRAWN_IN: f64 = 0.01;

/// Paints a sheet's image at its place on the page.
fn place(canvas: &mut Canvas, name: &str, sheet: &FilmSheet, resolution: Resolution) {
    let pt = resolution.pixel().to_pt();
    let PxRect { x, y, width, height } = sheet.on_page();
    let bottom = sheet.page.height.to_pt() - (y + height) as f64 * pt;
    let matrix = [
        (width as f64 - 2.0 * DRAWN_IN) * pt,
        0.0,
        0.0,
        (height as f64 - 2.0 * DRAWN_IN) * pt,
        (x as f64 + DRAWN_IN) * pt,
        bottom + DRAWN_IN * pt,
    ];
    canvas.within(matrix, |canvas| canvas.image(name));
}
