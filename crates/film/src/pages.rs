use crate::bands::Steps;
use crate::canvas::Canvas;
use crate::font::BOLD;
use crate::image::{SheetImage, encode_sheet, mask_of};
use crate::ink::Ink;
use crate::legend::{Notes, Up};
use crate::marks::{PlacedLegend, SheetMarks, lay_marks};
use crate::pdf::{Page, Pdf};
use crate::target::{Layer, lay_targets};
use crate::trim::lay_trims;
use crate::{FilmError, FilmJob, FilmSheet, PlanFile, PlanMark, PlanPdf, Plans, PxRect, Screen};
use bitmap::{Bitmap, Window, collect};
use lopdf::Stream;
use measure::{Length, Resolution};
use progress::Progress;
use rayon::prelude::*;
use std::io::Write;

/// The films of one print's screens, encoded and with their marks laid out: ready to be
/// written. They share their sheets, or each has its own; register targets stand at the same
/// places of all.
pub struct Films<'a> {
    jobs: &'a [FilmJob<'a>],
    images: Vec<Vec<SheetImage>>,
    /// The marks of the sheets that all share, or of each film's sheets.
    marks: Vec<Vec<SheetMarks>>,
}

impl<'a> Films<'a> {
    /// Works the films out. All must have the same resolution and size; the marks keep clear
    /// of the ink of all films that share their sheets, the register targets of all ink.
    ///
    /// # Errors
    /// When a sheet reaches past the film or its page, or the task is cancelled.
    pub fn new(jobs: &'a [FilmJob<'a>], progress: &Progress) -> Result<Self, FilmError> {
        let mut images = Vec::with_capacity(jobs.len());
        for job in jobs {
            for (n, sheet) in job.sheets.iter().enumerate() {
                check(job, sheet)?;
                if job.sheets[..n].iter().any(|s| s.name == sheet.name) {
                    return Err(FilmError::Page(sheet.name.clone()));
                }
            }
            images.push(encode(job, progress)?);
        }
        let Some(first) = jobs.first() else {
            return Ok(Self { jobs, images, marks: Vec::new() });
        };
        let groups = if share(jobs) { jobs.chunks(jobs.len()) } else { jobs.chunks(1) };
        let each = groups.len() > 1;
        let inks: Vec<Vec<Ink>> = if each {
            images.iter().map(|film| film.iter().map(|image| image.ink.clone()).collect()).collect()
        } else {
            vec![merged(&images)]
        };
        let screens = jobs.iter().any(|job| job.screen.is_some());
        let mut marks = Vec::with_capacity(groups.len());
        for (group, inks) in groups.clone().zip(&inks) {
            let sheets = &group[0].sheets;
            let names: Vec<String> = sheets.iter().map(|s| widest(group, &s.name)).collect();
            let job = &group[0];
            marks.push(lay_marks(sheets, &names, inks, film_px(job), job.resolution, screens));
        }
        if screens {
            let counts: Vec<Vec<_>> =
                inks.iter().map(|all| all.iter().map(Ink::counts).collect()).collect();
            let taken: Vec<Vec<Vec<PxRect>>> = marks
                .iter()
                .map(|all: &Vec<SheetMarks>| all.iter().map(SheetMarks::places).collect())
                .collect();
            let layers: Vec<Layer> = groups
                .clone()
                .zip(counts.iter().zip(&taken))
                .map(|(group, (inks, taken))| Layer { sheets: &group[0].sheets, inks, taken })
                .collect();
            for (on, target) in lay_targets(&layers, film_px(first), first.resolution) {
                for (marks, sheet) in marks.iter_mut().zip(on) {
                    marks[sheet].targets.push(target);
                }
            }
        }
        for (group, marks) in groups.zip(&mut marks).filter(|(group, _)| group[0].trim_lines) {
            let taken: Vec<_> = marks.iter().map(SheetMarks::places).collect();
            let clear = |part| group.iter().all(|job| clear(job, part));
            for (a, b, trim) in lay_trims(&group[0], &taken, clear) {
                marks[a].trims.push(trim.clone());
                marks[b].trims.push(trim);
            }
        }
        Ok(Self { jobs, images, marks })
    }

    /// The marks of a film's sheets.
    fn marks_of(&self, film: usize) -> &[SheetMarks] {
        self.marks.get(film).or(self.marks.first()).map_or(&[], |marks| marks)
    }

    /// Writes the film of the job numbered `film` as PDF, one page a sheet, and says the
    /// file's identity. Its images are then given up, since they may be large.
    ///
    /// # Errors
    /// When `out` fails.
    pub fn write_pdf(&mut self, film: usize, out: &mut impl Write) -> Result<String, FilmError> {
        let job = &self.jobs[film];
        let mut pdf = Pdf::new(job.title);
        let images = std::mem::take(&mut self.images[film]);
        for (n, image) in images.into_iter().enumerate() {
            pdf.add(page(job, self.jobs.len(), n, image, &self.marks_of(film)[n]));
        }
        Ok(pdf.finish(out)?)
    }

    /// The plans of the films whose files are `written`: one that all share, or one for each.
    pub(crate) fn plans(&self, written: Vec<PlanPdf>) -> Plans {
        if self.marks.len() < 2 {
            let plan = |job| PlanFile::new(job, self.marks(0), self.targets(0), written);
            return Plans::new(self.jobs.first().map(plan).into_iter().collect());
        }
        let each = self.jobs.iter().zip(written).enumerate();
        Plans::new(
            each.map(|(n, (job, file))| {
                PlanFile::new(job, self.marks(n), self.targets(n), vec![file])
            })
            .collect(),
        )
    }

    /// Every place where a film's pages differ from its image.
    fn marks(&self, film: usize) -> Vec<PlanMark> {
        let sheets = self.jobs.get(film).map_or(&[][..], |job| &job.sheets).iter();
        sheets.zip(self.marks_of(film)).flat_map(|(sheet, marks)| marks.listed(sheet)).collect()
    }

    /// The register targets that films of several screens have in common, on a film's sheets.
    fn targets(&self, film: usize) -> Vec<PlanMark> {
        let sheets = self.jobs.get(film).map_or(&[][..], |job| &job.sheets).iter();
        let whole = |(sheet, marks): (&FilmSheet, &SheetMarks)| marks.whole_targets(sheet);
        sheets.zip(self.marks_of(film)).flat_map(whole).collect()
    }
}

/// Whether films are cut into the same sheets along the same seams.
fn share(jobs: &[FilmJob]) -> bool {
    jobs.windows(2).all(|pair| pair[0].sheets == pair[1].sheets && pair[0].seams == pair[1].seams)
}

/// Where each sheet that all films share has ink of any.
fn merged(images: &[Vec<SheetImage>]) -> Vec<Ink> {
    let mut films = images.iter();
    let mut inks: Vec<Ink> =
        films.next().into_iter().flatten().map(|image| image.ink.clone()).collect();
    for film in films {
        inks.iter_mut().zip(film).for_each(|(ink, image)| ink.merge(&image.ink));
    }
    inks
}

/// What a sheet is called in large letters on the film where that is widest.
fn widest(jobs: &[FilmJob], sheet: &str) -> String {
    let names = jobs.iter().map(|job| Screen::large(job.screen.as_ref(), sheet));
    let width = |name: &String| BOLD.width(name, 1.0);
    names.max_by(|a, b| width(a).total_cmp(&width(b))).unwrap_or_default()
}

/// One page of a film of `screens`: the image, then the marks over and beside it.
fn page(job: &FilmJob, screens: usize, n: usize, image: SheetImage, marks: &SheetMarks) -> Page {
    let sheet = &job.sheets[n];
    let (drawn, images) = draw(job, screens, n, image, marks);
    let canvas = match &job.printer {
        None => drawn,
        Some(profile) => {
            let mut canvas = Canvas::default();
            let matrix = profile.drawn_from_true(sheet.page);
            canvas.finely_within(matrix, |canvas| canvas.extend(drawn));
            canvas
        }
    };
    let label = Screen::label(job.screen.as_ref(), &sheet.name);
    Page { size: sheet.page, label, content: canvas.finish(), images }
}

/// Draws a page as it should come out.
fn draw(
    job: &FilmJob,
    screens: usize,
    n: usize,
    image: SheetImage,
    marks: &SheetMarks,
) -> (Canvas, Vec<(String, Stream)>) {
    let sheet = &job.sheets[n];
    let mut canvas = Canvas::default();
    let mut images = vec![("Film".to_owned(), image.stream)];
    canvas.grey(0.0);
    place(&mut canvas, "Film", sheet, sheet.image, job.resolution);
    for (n, tick) in marks.ticks.iter().enumerate() {
        // Black where the film is clear, and cut out of it where there is ink.
        let (lines, at) = (tick.drawn(), tick.place());
        let (width, height) = (lines.width(), lines.height());
        let film = collect(&Window::new(job.raster, at.x, at.y, width, height));
        for ink in [false, true] {
            let part =
                Bitmap::from_fn(width, height, |x, y| lines.get(x, y) && film.get(x, y) == ink);
            if part.count() > 0 {
                let name = format!("Tick{n}{}", if ink { "Cut" } else { "" });
                canvas.grey(if ink { 1.0 } else { 0.0 });
                place(&mut canvas, &name, sheet, at, job.resolution);
                images.push((name, mask_of(&part, sheet.turned)));
            }
        }
    }
    canvas.grey(0.0);
    for (n, trim) in marks.trims.iter().enumerate() {
        let name = format!("Trim{n}");
        place(&mut canvas, &name, sheet, trim.place(), job.resolution);
        images.push((name, mask_of(&trim.drawn(), sheet.turned)));
    }
    for (n, target) in marks.targets.iter().enumerate() {
        let name = format!("Target{n}");
        place(&mut canvas, &name, sheet, target.place(), job.resolution);
        images.push((name, mask_of(&target.drawn(), sheet.turned)));
    }
    let screen = job.screen.as_ref();
    let large = Screen::large(screen, &sheet.name);
    let told = screen.map(|s| format!("{} of {screens} {}", s.order, s.name));
    let notes = Notes {
        name: &large,
        screen: told.as_deref(),
        title: job.title,
        number: (n + 1, job.sheets.len()),
    };
    for legend in &marks.legends {
        draw_legend(&mut canvas, sheet, legend, &notes, job.resolution);
    }
    (canvas, images)
}

/// Draws a legend into its place.
fn draw_legend(
    canvas: &mut Canvas,
    sheet: &FilmSheet,
    placed: &PlacedLegend,
    notes: &Notes,
    resolution: Resolution,
) {
    let PxRect { x, y, width, height } = placed.place;
    let [x, y, width, height] = [x, y, width, height].map(|px| px as f64);
    let (long, deep) = if placed.upward { (height, width) } else { (width, height) };
    // Millimetres at full scale to film pixels.
    let full = placed.legend.size(notes.name);
    let px = deep / full.height.to_mm();
    let scale = px / resolution.px(Length::mm(1.0));
    let (frame, up) = if placed.upward {
        ([0.0, -px, px, 0.0, x, y + height], Up::Right)
    } else {
        ([px, 0.0, 0.0, px, x, y], Up::Above)
    };
    canvas.within(sheet.page_from_film(resolution), |canvas| {
        if placed.over_ink {
            canvas.grey(1.0);
            // A pixel in, so that even where a reader puts the page half a pixel aside it
            // touches nothing outside its place.
            canvas.rect(x + 1.0, y + 1.0, width - 2.0, height - 2.0);
        }
        canvas.grey(0.0);
        canvas.within(frame, |canvas| {
            placed.legend.draw(canvas, long / px, scale, up, notes);
        });
    });
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
    let px = |length| job.resolution.px(length).ceil() as i64;
    let page = PxRect::new(0, 0, px(sheet.page.width), px(sheet.page.height));
    if sheet.image.area() > 0 && film_px(job).holds(sheet.image) && page.holds(sheet.on_page()) {
        Ok(())
    } else {
        Err(FilmError::Page(sheet.name.clone()))
    }
}

/// Whether a part of the film, as far as it lies on it, has no ink.
fn clear(job: &FilmJob, part: PxRect) -> bool {
    let PxRect { x, y, width, height } = part.intersect(film_px(job));
    collect(&Window::new(job.raster, x, y, width as u32, height as u32)).count() == 0
}

fn film_px(job: &FilmJob) -> PxRect {
    PxRect::new(0, 0, job.raster.width().into(), job.raster.height().into())
}

/// How far an image's rectangle is drawn in on each side, in pixels. Readers disagree about
/// an edge that lies exactly between two pixels: some round it outward and show a row too
/// many. Drawn in by a hundredth of a pixel, every pixel still lies under its own sample,
/// and poppler, mupdf and ghostscript all show the image exactly.
const DRAWN_IN: f64 = 0.01;

/// Paints the image of a part of the film at its place on the page.
fn place(canvas: &mut Canvas, name: &str, sheet: &FilmSheet, part: PxRect, resolution: Resolution) {
    let pt = resolution.pixel().to_pt();
    let PxRect { x, y, width, height } = sheet.page_place(part);
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
