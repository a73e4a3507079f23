use crate::image::decode;
use crate::pdf::Digest;
use crate::read_page::{AS_DRAWN, FAR, ReadPage, read_page, upright};
use crate::{FilmError, PlanFile, PlanPrinter, PlanSheet, Plans, PxRect, Screen};
use bitmap::{Bitmap, Raster};
use lopdf::{Document, Object};
use measure::{Length, Resolution, Size, Unit};
use progress::Progress;
use std::fs;
use std::path::Path;

/// What reading an export back came to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Proof {
    /// How many sheets were read.
    pub sheets: usize,
    /// Everything that is wrong, in the order it was found. Empty: the film is proved.
    pub faults: Vec<Fault>,
}

/// Something wrong with an export.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The sheet it is on, if it is on one.
    pub sheet: Option<String>,
    /// What is wrong, in one sentence without its full stop.
    pub what: String,
}

impl Proof {
    /// Whether nothing is wrong.
    pub fn good(&self) -> bool {
        self.faults.is_empty()
    }

    fn fault(&mut self, sheet: Option<&PlanSheet>, what: impl Into<String>) {
        let sheet = sheet.map(|sheet| sheet.name.clone());
        self.faults.push(Fault { sheet, what: what.into() });
    }
}

/// How far a place read back may lie from its pixel: a tenth of it. Images are drawn in by a
/// hundredth on purpose.
const NEAR: f64 = 0.1;

/// Reads the films of a folder and its `plan.json` back and proves that they are what they
/// should be: as many pages as sheets, of the right size and unscaled; each image at its
/// place, upright and at exact scale; overlapping sheets alike in every pixel, and equal to
/// `film` where that is given; ticks that meet; nothing else painted over an image but what
/// the plan lists; and everything in the files the export that the plan describes.
///
/// The reading shares no code with the writing but the code tables of Group 4. With several
/// films (one a screen) `film` is the one in the file named.
///
/// # Errors
/// When the plan or the file cannot be read at all, or the task is cancelled. What can be
/// read but is wrong comes back as faults.
pub fn prove(
    folder: &Path,
    name: &str,
    film: Option<&dyn Raster>,
    progress: &Progress,
) -> Result<Proof, FilmError> {
    crate::settle(folder)?;
    let plans = Plans::read(folder)?;
    let Some(plan) = plans.of(name) else { return Ok(Proof::default()) };
    let path = folder.join(name);
    let bytes = fs::read(&path).map_err(|why| FilmError::Read { path: path.clone(), why })?;
    let mut proof = Proof::default();
    check_plan(plan, film, &mut proof);
    if !plans.agree() {
        let what = "the plans of its screens differ in the film's size or the register targets";
        proof.fault(None, what);
    }
    let Ok(doc) = Document::load_mem(&bytes) else {
        proof.fault(None, format!("{name} is damaged or breaks off"));
        return Ok(proof);
    };
    drop(bytes);
    let screen = plan.files.iter().find(|file| file.name == name).and_then(|f| f.screen.as_ref());
    check_document(&doc, plan, screen, name, &mut proof);
    let pages: Vec<_> = doc.page_iter().collect();
    if pages.len() != plan.sheets.len() {
        let (pages, sheets) = (pages.len(), plan.sheets.len());
        proof.fault(None, format!("{name} has {pages} pages, and the plan {sheets} sheets"));
    }
    let profile = match plan.printer.as_ref().map(PlanPrinter::profile).transpose() {
        Ok(profile) => profile,
        Err(what) => {
            proof.fault(None, format!("the plan's printer is none: {what}"));
            return Ok(proof);
        }
    };
    let mut digest = Digest::default();
    let mut union = Union::new(plan, film);
    let mut ticks = Vec::new();
    for (n, (sheet, id)) in plan.sheets.iter().zip(&pages).enumerate() {
        progress.step("Proving sheets", n as u64, plan.sheets.len() as u64)?;
        let page = Size::new(Length::mm(sheet.page_width_mm), Length::mm(sheet.page_height_mm));
        let printed = profile.as_ref().map_or(AS_DRAWN, |p| p.true_from_drawn(page));
        match read_page(&doc, *id, printed) {
            Err(what) => proof.fault(Some(sheet), what),
            Ok(page) => {
                page.streams.iter().for_each(|stream| digest.add(stream));
                digest.add(&page.content);
                let large = Screen::large(screen, &sheet.name);
                check_page(plan, sheet, &large, &page, &mut union, &mut ticks, &mut proof);
                proof.sheets += 1;
            }
        }
    }
    check_ticks(plan, &ticks, &mut proof);
    check_identity(&doc, plan, name, digest, &mut proof);
    Ok(proof)
}

/// The plan agrees with itself and the film.
fn check_plan(plan: &PlanFile, film: Option<&dyn Raster>, proof: &mut Proof) {
    let mm = |px: i64| px as f64 * 25.4 / plan.film.ppi;
    let near = |a: f64, b: f64| (a - b).abs() < 1e-3;
    let whole = PxRect::new(0, 0, plan.film.width_px.into(), plan.film.height_px.into());
    if film.is_some_and(|f| (f.width(), f.height()) != (plan.film.width_px, plan.film.height_px)) {
        proof.fault(None, "the plan is of a film of another size");
    }
    let sane = plan.film.ppi.is_finite()
        && plan.film.ppi > 0.0
        && near(plan.film.width_mm, mm(whole.width))
        && near(plan.film.height_mm, mm(whole.height));
    if !sane {
        proof.fault(None, "the plan's film has millimetres that are not its pixels");
    }
    for (n, sheet) in plan.sheets.iter().enumerate() {
        let image = sheet.image();
        let told = [sheet.x_mm, sheet.y_mm, sheet.width_mm, sheet.height_mm];
        let meant = [image.x, image.y, image.width, image.height].map(mm);
        if !told.iter().zip(meant).all(|(a, b)| near(*a, b)) {
            proof.fault(Some(sheet), "the plan's millimetres are not its pixels");
        }
        if image.area() <= 0 || !whole.holds(image) {
            proof.fault(Some(sheet), "the plan's sheet reaches past the film");
        }
        if sheet.page as usize != n + 1 || plan.sheets[..n].iter().any(|s| s.name == sheet.name) {
            proof.fault(Some(sheet), "the plan's pages or names are out of order");
        }
    }
    let marked: i64 = plan.marks.iter().map(|mark| mark.place().area()).sum();
    if marked as f64 > 0.01 * whole.area() as f64 {
        proof.fault(None, "the marks cover more than a hundredth of the film");
    }
    for mark in &plan.marks {
        let sheet = plan.sheets.iter().find(|sheet| sheet.name == mark.sheet);
        if !sheet.is_some_and(|sheet| sheet.image().holds(mark.place())) {
            proof.fault(sheet, format!("a {} is listed outside its sheet", mark.kind));
        }
    }
}

/// The wishes to viewers, and the pages' labels.
fn check_document(
    doc: &Document,
    plan: &PlanFile,
    screen: Option<&Screen>,
    name: &str,
    proof: &mut Proof,
) {
    let Ok(catalog) = doc.catalog() else {
        return proof.fault(None, format!("{name} has no catalog"));
    };
    let wish = |key: &[u8]| {
        catalog.get(b"ViewerPreferences").and_then(Object::as_dict).and_then(|w| w.get(key)).ok()
    };
    if wish(b"PrintScaling").and_then(|o| o.as_name().ok()) != Some(b"None") {
        proof.fault(None, format!("{name} lets viewers scale it when printing"));
    }
    let labels = catalog
        .get(b"PageLabels")
        .and_then(Object::as_dict)
        .and_then(|l| l.get(b"Nums"))
        .and_then(Object::as_array);
    let labels = labels.map_or(&[][..], |l| l);
    for (n, sheet) in plan.sheets.iter().enumerate() {
        let label =
            labels.get(2 * n + 1).and_then(|l| l.as_dict().ok()).and_then(|l| l.get(b"P").ok());
        if label != Some(&crate::pdf::text(&Screen::label(screen, &sheet.name))) {
            proof.fault(Some(sheet), "its page is labelled otherwise");
        }
    }
}

/// The file is the one that the plan was written with, in every byte that is drawn.
fn check_identity(
    doc: &Document,
    plan: &PlanFile,
    name: &str,
    mut digest: Digest,
    proof: &mut Proof,
) {
    let title = doc
        .trailer
        .get(b"Info")
        .and_then(|info| doc.dereference(info))
        .and_then(|(_, info)| info.as_dict())
        .and_then(|info| info.get(b"Title"))
        .and_then(Object::as_str)
        .unwrap_or_default();
    digest.add(title);
    let told = plan.files.iter().find(|file| file.name == name).map(|file| &file.id[..]);
    if told != Some(&digest.hex()) {
        proof.fault(None, format!("{name} is not the file that plan.json was written with"));
    }
}

/// A tick read back: which sheet, where its middle is on the film, and its pixels.
struct ReadTick {
    sheet: usize,
    /// Whether it is a trim line's dots instead.
    trim: bool,
    place: PxRect,
    pixels: Bitmap,
}

/// One page against its sheet in the plan.
fn check_page(
    plan: &PlanFile,
    sheet: &PlanSheet,
    large: &str,
    page: &ReadPage,
    union: &mut Union,
    ticks: &mut Vec<ReadTick>,
    proof: &mut Proof,
) {
    let resolution = Resolution::ppi(plan.film.ppi);
    let pt = resolution.pixel().to_pt();
    let [left, bottom, right, top] = page.media;
    let size = [sheet.page_width_mm, sheet.page_height_mm].map(|mm| Length::mm(mm).to_pt());
    if left != 0.0
        || bottom != 0.0
        || (right - size[0]).abs() > 1e-3
        || (top - size[1]).abs() > 1e-3
    {
        proof.fault(Some(sheet), "its page is not as large as the sheet");
    }
    let stands = sheet.stands();
    let marks: Vec<PxRect> =
        plan.marks.iter().filter(|m| m.sheet == sheet.name).map(|m| m.place()).collect();
    if !page.texts.iter().any(|(_, text)| *text == crate::font::BOLD.glyphs(large)) {
        proof.fault(Some(sheet), "its page does not carry its name");
    }
    let top = size[1];
    let corrected = plan.printer.is_some();
    let mut films = 0;
    let mut shown = None;
    let mut targets: Vec<PxRect> = Vec::new();
    for image in &page.images {
        let m = image.matrix;
        if image.grey != 0.0 && !image.name.ends_with("Cut") {
            proof.fault(Some(sheet), "an image on its page is not black");
        }
        // A printer's lean is undone to a small part of a pixel.
        let turned = m[1].abs().max(m[2].abs()) > if corrected { 0.02 * pt } else { 0.0 };
        if turned || m[0] <= 0.0 || m[3] <= 0.0 {
            proof.fault(Some(sheet), "an image on its page is mirrored or turned");
            continue;
        }
        let edges = image.edges(top, pt);
        let found = image.place(top, pt);
        let Some(picture) = decode(image.stream) else {
            proof.fault(Some(sheet), "an image on its page is damaged or breaks off");
            continue;
        };
        let seen =
            PxRect { width: picture.width().into(), height: picture.height().into(), ..found };
        let off = edges.iter().map(|edge| (edge - edge.round()).abs()).fold(0.0, f64::max);
        if image.name == "Film" {
            films += 1;
            let meant = stands.on_page();
            if seen.width != meant.width || seen.height != meant.height {
                proof.fault(
                    Some(sheet),
                    "its image has another number of pixels than the plan says",
                );
            } else if found != seen || off > NEAR {
                proof.fault(Some(sheet), "its image is not at exact scale");
            } else if found != meant {
                let (dx, dy) = (found.x - meant.x, found.y - meant.y);
                proof.fault(
                    Some(sheet),
                    format!("its image stands {dx}, {dy} pixels from its place"),
                );
            } else {
                let upright = upright(picture, sheet.turned);
                union.check(sheet, &upright, proof);
                shown = Some(upright);
            }
            continue;
        }
        let trim = image.name.starts_with("Trim");
        let what = match image.name.starts_with("Target") {
            true => "register target",
            false if trim => "trim line",
            false => "tick",
        };
        if found != seen || off > NEAR {
            proof.fault(Some(sheet), format!("a {what} is not at exact scale"));
            continue;
        }
        let upright = upright(picture, sheet.turned);
        let at = stands.film_place(found);
        if image.name.starts_with("Target") {
            if !crossed(&upright) {
                proof.fault(Some(sheet), "a register target has no crossed hairlines");
            }
            targets.push(at);
            continue;
        }
        let listed = |x: u32, y: u32| {
            let (x, y) = (at.x + i64::from(x), at.y + i64::from(y));
            marks.iter().any(|mark| mark.has(x, y))
        };
        let all = (0..upright.height())
            .all(|y| (0..upright.width()).all(|x| !upright.get(x, y) || listed(x, y)));
        if !all {
            proof.fault(Some(sheet), format!("a {what} reaches past where the plan lists it"));
        }
        let number = sheet.page as usize - 1;
        let same =
            |tick: &&mut ReadTick| !trim && !tick.trim && tick.sheet == number && tick.place == at;
        match ticks.iter_mut().find(same) {
            Some(tick) => {
                for (word, more) in tick.pixels.words_mut().iter_mut().zip(upright.words()) {
                    *word |= more;
                }
            }
            None => ticks.push(ReadTick { sheet: number, trim, place: at, pixels: upright }),
        }
    }
    if films != 1 {
        proof.fault(Some(sheet), format!("its page has {films} film images instead of one"));
    }
    check_targets(plan, sheet, &targets, shown.as_ref(), proof);
    let on_page = stands.on_page();
    let marks: Vec<PxRect> = marks.iter().map(|mark| stands.page_place(*mark)).collect();
    for [left, bottom, right, up] in &page.painted {
        if left > right {
            continue;
        }
        let fine = if corrected { 1e2 } else { 1e3 };
        let inside = |n: f64| ((n * fine).round() / fine).clamp(-FAR, FAR);
        let painted = PxRect::between(
            inside(left / pt).floor() as i64,
            inside((top - up) / pt).floor() as i64,
            inside(right / pt).ceil() as i64,
            inside((top - bottom) / pt).ceil() as i64,
        );
        let over = painted.intersect(on_page);
        if over.area() > 0 && !marks.iter().any(|mark| mark.holds(over)) {
            proof.fault(
                Some(sheet),
                "something is drawn over its image that the plan does not list",
            );
            break;
        }
    }
}

/// The register targets are where the plan has them for every screen, and on no ink.
fn check_targets(
    plan: &PlanFile,
    sheet: &PlanSheet,
    found: &[PxRect],
    shown: Option<&Bitmap>,
    proof: &mut Proof,
) {
    let meant = plan.targets.iter().filter(|t| t.sheet == sheet.name).map(|t| t.place());
    let mut missed: Vec<PxRect> = meant.collect();
    for at in found {
        match missed.iter().position(|meant| meant == at) {
            Some(n) => drop(missed.remove(n)),
            None => proof.fault(Some(sheet), "a register target is out of its place"),
        }
        let part = at.intersect(sheet.image()).moved(-sheet.x_px, -sheet.y_px);
        let inked = |film: &Bitmap| {
            let PxRect { x, y, width, height } = part;
            let (right, bottom) = (i64::from(film.width()), i64::from(film.height()));
            (y..(y + height).min(bottom))
                .any(|y| (x..(x + width).min(right)).any(|x| film.get(x as u32, y as u32)))
        };
        if shown.is_some_and(inked) {
            proof.fault(Some(sheet), "a register target lies on ink");
        }
    }
    if !missed.is_empty() {
        proof.fault(Some(sheet), "a register target is missing");
    }
}

/// Whether a picture's middle row and column are all ink.
fn crossed(picture: &Bitmap) -> bool {
    let (width, height) = (picture.width(), picture.height());
    (0..width).all(|x| picture.get(x, height / 2)) && (0..height).all(|y| picture.get(width / 2, y))
}

/// Every tick lies on another sheet's tick, and their hairlines coincide; every trim line is
/// the same on another sheet.
fn check_ticks(plan: &PlanFile, ticks: &[ReadTick], proof: &mut Proof) {
    for (n, tick) in ticks.iter().enumerate() {
        let meets = ticks.iter().enumerate().any(|(m, other)| {
            m != n
                && other.sheet != tick.sheet
                && other.trim == tick.trim
                && other.place == tick.place
                && (!tick.trim || other.pixels == tick.pixels)
                && (tick.trim || hairlines(tick, other))
        });
        if !meets {
            let what = if tick.trim { "trim line" } else { "tick" };
            let what = format!("a {what} meets none on another sheet");
            proof.fault(plan.sheets.get(tick.sheet), what);
        }
    }
}

/// Whether two ticks of one size have their middle row and column in common.
fn hairlines(tick: &ReadTick, other: &ReadTick) -> bool {
    let (width, height) = (tick.pixels.width(), tick.pixels.height());
    let both = |x, y| tick.pixels.get(x, y) && other.pixels.get(x, y);
    (0..width).all(|x| both(x, height / 2)) && (0..height).all(|y| both(width / 2, y))
}

/// The sheets put together by their places.
struct Union<'a> {
    film: Option<&'a dyn Raster>,
    /// What the sheets so far show, where there is no film to compare with.
    shown: Bitmap,
    covered: Vec<(String, PxRect)>,
    unit: Resolution,
}

impl<'a> Union<'a> {
    fn new(plan: &PlanFile, film: Option<&'a dyn Raster>) -> Self {
        // A plan may say anything; nothing is held for sheets that cannot be.
        let sizes = plan.sheets.iter().map(PlanSheet::image);
        let sane = sizes.fold((0, 0), |(w, h), image| {
            (w.max(image.right().clamp(0, 1 << 20)), h.max(image.bottom().clamp(0, 1 << 20)))
        });
        let held = film.is_none() && sane.0 * sane.1 <= 1 << 34;
        let shown =
            if held { Bitmap::new(sane.0 as u32, sane.1 as u32) } else { Bitmap::new(0, 0) };
        Self { film, shown, covered: Vec::new(), unit: Resolution::ppi(plan.film.ppi) }
    }

    /// Compares a sheet with the film or with the sheets it overlaps, and names the first
    /// pixel that differs.
    fn check(&mut self, sheet: &PlanSheet, picture: &Bitmap, proof: &mut Proof) {
        let image = sheet.image();
        match self.film {
            Some(film) => {
                let window =
                    bitmap::Window::new(film, image.x, image.y, picture.width(), picture.height());
                let whole = PxRect::new(0, 0, image.width, image.height);
                let wrong = first_difference(&window, picture, whole);
                if let Some((x, y)) = wrong {
                    let (has, should) = words(picture.get(x, y));
                    let at = self.say(image.x + i64::from(x), image.y + i64::from(y));
                    proof.fault(Some(sheet), format!("{at} is {has} and should be {should}"));
                }
            }
            None => self.lay(sheet, picture, proof),
        }
    }

    fn lay(&mut self, sheet: &PlanSheet, picture: &Bitmap, proof: &mut Proof) {
        let image = sheet.image();
        if image.x < 0
            || image.right() > self.shown.width().into()
            || image.bottom() > self.shown.height().into()
        {
            return;
        }
        for (name, other) in &self.covered {
            let both = image.intersect(*other);
            if both.area() == 0 {
                continue;
            }
            let window = bitmap::Window::new(
                &self.shown,
                image.x,
                image.y,
                picture.width(),
                picture.height(),
            );
            let both = both.moved(-image.x, -image.y);
            let wrong = first_difference(&window, picture, both);
            if let Some((x, y)) = wrong {
                let (has, should) = words(picture.get(x, y));
                let at = self.say(image.x + i64::from(x), image.y + i64::from(y));
                proof
                    .fault(Some(sheet), format!("{at} is {has} here and {should} on sheet {name}"));
                return;
            }
        }
        let mut changes = Vec::new();
        let mut row = Bitmap::new(self.shown.width(), 1);
        for y in 0..picture.height() {
            changes.clear();
            picture.changes_of_row(y, 0, picture.width(), &mut changes);
            if changes.len() % 2 == 1 {
                changes.push(picture.width());
            }
            changes.iter_mut().for_each(|change| *change += image.x as u32);
            row.set_row_from_changes(0, &changes);
            let shown = self.shown.row_mut(image.y as u32 + y);
            shown.iter_mut().zip(row.row(0)).for_each(|(word, more)| *word |= more);
        }
        self.covered.push((sheet.name.clone(), image));
    }

    fn say(&self, x: i64, y: i64) -> String {
        let show = |px: i64| self.unit.length(px as f64).show(Unit::Mm);
        format!("pixel {x}, {y} of the film ({}, {} from its top-left corner)", show(x), show(y))
    }
}

fn words(ink: bool) -> (&'static str, &'static str) {
    if ink { ("ink", "clear") } else { ("clear", "ink") }
}

/// The first pixel of a part, row by row, that differs.
fn first_difference(meant: &dyn Raster, found: &Bitmap, part: PxRect) -> Option<(u32, u32)> {
    let (x0, x1) = (part.x as u32, part.right() as u32);
    let (mut a, mut b) = (Vec::new(), Vec::new());
    for y in part.y as u32..part.bottom() as u32 {
        a.clear();
        b.clear();
        meant.changes(y, x0, x1, &mut a);
        found.changes_of_row(y, x0, x1, &mut b);
        if a != b {
            // Both lists rise, so the first entry that only one of them has is the pixel.
            let same = a.iter().zip(&b).take_while(|(a, b)| a == b).count();
            let at = [a.get(same), b.get(same)].into_iter().flatten().min();
            return at.map(|x| (x0 + x, y));
        }
    }
    None
}
