use crate::image::decode;
use crate::read_page::{AS_DRAWN, read_page, upright};
use crate::{FilmError, PlanFile, PlanPrinter, Plans, PxRect};
use bitmap::{Bitmap, Window, collect};
use lopdf::Document;
use measure::{Length, Resolution};
use progress::Progress;
use std::fs;
use std::path::Path;

/// A film put together from its pages.
pub struct ReadFilm {
    /// What the pages were put together by.
    pub plan: PlanFile,
    /// The ink of all pages, without their marks.
    pub drawing: Bitmap,
    /// The registration ticks that exactly two sheets share.
    pub ticks: Vec<ReadTick>,
}

/// What two sheets' pages show around a registration tick that both carry.
pub struct ReadTick {
    /// The sheets, by their places in the plan.
    pub sheets: [usize; 2],
    /// Which part of the film it is.
    pub place: PxRect,
    /// Either sheet's own ink there.
    pub drawn: [Bitmap; 2],
}

/// So much is read around a tick, to have in view what lies beside it if its sheet slipped.
const AROUND: Length = Length::mm(1.0);

/// More ticks than any film of ours has are not read.
const MOST_TICKS: usize = 1000;

/// The film of a folder, put together from its pages by its `plan.json`: for whoever has only
/// the export, such as a check of the taped film. Without a name it is the first that the plan
/// lists. [`crate::prove`] says whether it is right.
///
/// # Errors
/// When plan or film cannot be read, or do not fit each other.
pub fn read_film(
    folder: &Path,
    name: Option<&str>,
    progress: &Progress,
) -> Result<ReadFilm, FilmError> {
    crate::settle(folder)?;
    let plans = Plans::read(folder)?;
    let name = name.or(plans.films().next()).unwrap_or("film.pdf").to_owned();
    let path = folder.join(&name);
    let bytes = fs::read(&path).map_err(|why| FilmError::Read { path: path.clone(), why })?;
    let foreign =
        |why: &str| FilmError::Foreign { path: path.clone(), what: "film", why: why.into() };
    let doc = Document::load_mem(&bytes).map_err(|_| foreign("it is damaged or breaks off"))?;
    drop(bytes);
    let Some(plan) = plans.of(&name).cloned() else { return Err(foreign("it has no plan")) };
    let (width, height) = (plan.film.width_px, plan.film.height_px);
    if u64::from(width) * u64::from(height) > 1 << 35 {
        return Err(foreign("its plan is of a film larger than any"));
    }
    let profile = plan.printer.as_ref().map(PlanPrinter::profile).transpose();
    let profile = profile.map_err(|why| foreign(&format!("the plan's printer is none: {why}")))?;
    let resolution = Resolution::ppi(plan.film.ppi);
    let mut film = Bitmap::new(width, height);
    let mut ticks = ticks(&plan);
    for (n, (sheet, id)) in plan.sheets.iter().zip(doc.page_iter()).enumerate() {
        progress.step("Reading the film", n as u64, plan.sheets.len() as u64)?;
        let stands = sheet.stands();
        let printed = profile.as_ref().map_or(AS_DRAWN, |p| p.true_from_drawn(stands.page));
        let page = read_page(&doc, id, printed).map_err(|why| foreign(&why))?;
        let image = page.images.iter().find(|image| image.name == "Film");
        let picture = image.and_then(|image| decode(image.stream));
        let Some(picture) = picture else {
            return Err(foreign("a page's image is missing or damaged"));
        };
        let picture = upright(picture, sheet.turned);
        let place = sheet.image();
        let fits = i64::from(picture.width()) == place.width
            && i64::from(picture.height()) == place.height;
        let whole = crate::PxRect::new(0, 0, width.into(), height.into());
        if !fits || !whole.holds(place) {
            return Err(foreign("a page's image is not as large as the plan says"));
        }
        let lines: Vec<Lines> = page
            .images
            .iter()
            .filter(|image| image.name.starts_with("Tick"))
            .filter_map(|image| {
                let at = image.place(stands.page.height.to_pt(), resolution.pixel().to_pt());
                let lines = upright(decode(image.stream)?, sheet.turned);
                Some(Lines { at: stands.film_place(at), lines, ink: image.grey < 0.5 })
            })
            .collect();
        for tick in &mut ticks {
            let Some(side) = tick.sheets.iter().position(|sheet| *sheet == n) else { continue };
            let PxRect { x, y, width, height } = tick.place.moved(-place.x, -place.y);
            let mut drawn = collect(&Window::new(&picture, x, y, width as u32, height as u32));
            lines.iter().for_each(|lines| lines.draw(&mut drawn, tick.place));
            tick.drawn[side] = drawn;
        }
        let (x0, y0) = (place.x as u32, place.y as u32);
        let mut changes = Vec::new();
        for y in 0..picture.height() {
            changes.clear();
            picture.changes_of_row(y, 0, picture.width(), &mut changes);
            for run in bitmap::runs(&changes, picture.width()) {
                film.fill(x0 + run.start, x0 + run.end, y0 + y);
            }
        }
    }
    Ok(ReadFilm { plan, drawing: film, ticks })
}

/// Where two sheets, and no third, carry a tick at the same place; nothing is drawn yet.
fn ticks(plan: &PlanFile) -> Vec<ReadTick> {
    let mut found: Vec<(PxRect, Vec<usize>)> = Vec::new();
    for (n, sheet) in plan.sheets.iter().enumerate() {
        let boxes: Vec<PxRect> = plan
            .marks
            .iter()
            .filter(|mark| mark.kind == "tick" && mark.sheet == sheet.name)
            .map(|mark| mark.place())
            .collect();
        // Each tick is listed as the boxes along its two hairlines, three in all.
        for three in boxes.chunks_exact(3) {
            let place = three[0].around(three[1]).around(three[2]);
            match found.iter_mut().find(|(at, _)| *at == place) {
                Some((_, sheets)) => sheets.push(n),
                None => found.push((place, vec![n])),
            }
        }
    }
    let margin = Resolution::ppi(plan.film.ppi).whole_px(AROUND);
    let whole = PxRect::new(0, 0, plan.film.width_px.into(), plan.film.height_px.into());
    let tick = |(place, sheets): (PxRect, Vec<usize>)| {
        let sheets: [usize; 2] = sheets.try_into().ok()?;
        let place = place.grown(margin).intersect(whole);
        let mut others = plan.sheets.iter().enumerate().filter(|(n, _)| !sheets.contains(n));
        let alone = others.all(|(_, s)| s.image().intersect(place).area() == 0);
        // A damaged plan may list boxes of any size.
        let sane = (1..1 << 19).contains(&place.area());
        let drawn = [(); 2].map(|()| Bitmap::new(1, 1));
        (alone && sane).then_some(ReadTick { sheets, place, drawn })
    };
    found.into_iter().filter_map(tick).take(MOST_TICKS).collect()
}

/// A tick's lines as a page has them: black, or cut out of the ink.
struct Lines {
    /// On the film.
    at: PxRect,
    lines: Bitmap,
    ink: bool,
}

impl Lines {
    /// Draws them into what is seen of the film at `place`.
    fn draw(&self, drawn: &mut Bitmap, place: PxRect) {
        let both = self.at.intersect(place);
        for y in both.y..both.bottom() {
            for x in both.x..both.right() {
                if self.lines.get((x - self.at.x) as u32, (y - self.at.y) as u32) {
                    drawn.set((x - place.x) as u32, (y - place.y) as u32, self.ink);
                }
            }
        }
    }
}
