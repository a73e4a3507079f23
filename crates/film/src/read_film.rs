use crate::image::decode;
use crate::read_page::{AS_DRAWN, read_page};
use crate::{FilmError, PlanFile, Plans};
use bitmap::Bitmap;
use lopdf::Document;
use progress::Progress;
use std::fs;
use std::path::Path;

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
) -> Result<(PlanFile, Bitmap), FilmError> {
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
    let mut film = Bitmap::new(width, height);
    for (n, (sheet, id)) in plan.sheets.iter().zip(doc.page_iter()).enumerate() {
        progress.step("Reading the film", n as u64, plan.sheets.len() as u64)?;
        let page = read_page(&doc, id, AS_DRAWN).map_err(|why| foreign(&why))?;
        let image = page.images.iter().find(|image| image.name == "Film");
        let picture = image.and_then(|image| decode(image.stream));
        let Some(mut picture) = picture else {
            return Err(foreign("a page's image is missing or damaged"));
        };
        if sheet.turned {
            // A quarter turn back is three quarters on.
            picture = picture.turned_clockwise().turned_clockwise().turned_clockwise();
        }
        let place = sheet.image();
        let fits = i64::from(picture.width()) == place.width
            && i64::from(picture.height()) == place.height;
        let whole = crate::PxRect::new(0, 0, width.into(), height.into());
        if !fits || !whole.holds(place) {
            return Err(foreign("a page's image is not as large as the plan says"));
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
    Ok((plan, film))
}
