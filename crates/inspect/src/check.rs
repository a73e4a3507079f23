//! The check from start to end: pose, edges, spots, report.

use crate::bench::{BLUR, Bench, Checked};
use crate::camera::Camera;
use crate::input::validate;
use crate::layout::Layout;
use crate::levels::{Levels, cover, linear};
use crate::light::Look;
use crate::parts::Parts;
use crate::pose::{self, Pose};
use crate::rough::Ladder;
use crate::samples::FilmLevel;
use crate::weigh::{report, unseen};
use crate::{Film, InspectError, Options, Photo, Place, Report, spots};
use progress::Progress;

/// Finds the film in the photo and says how well it is taped; a film that is not made out in it is
/// one that the photo does not tell of.
///
/// # Errors
/// When the input makes no sense, or when cancelled.
pub fn check_film(
    film: &Film,
    photo: &Photo,
    options: &Options,
    progress: &Progress,
) -> Result<Report, InspectError> {
    validate(film, photo, options)?;
    progress.step("Reading the photo", 0, 4)?;
    let light = Levels::new(linear(photo), 40);
    let layout = Layout::new(film);
    progress.step("Finding the film", 1, 4)?;
    let Some(mut settled) = settled(film, &layout, &light, options, progress)? else {
        return Ok(unseen(film, &layout));
    };
    progress.step("Looking for spots", 3, 4)?;
    let checked = &mut settled.checked;
    let taking = checked.sheets();
    let look =
        Look { model: &checked.model, photo: &light, film: &settled.ladder[0], layout: &layout };
    let spots = look.light().map_or_else(Vec::new, |lamp| {
        spots::find(&checked.model, &light, &settled.level, &layout, &lamp, &taking)
    });
    checked.model.settle_frame(&taking);
    Ok(report(film, &layout, options, checked, spots))
}

/// A film whose place in the photo is known.
pub(crate) struct Settled {
    pub(crate) checked: Checked,
    /// The film, coarsely.
    pub(crate) ladder: Ladder,
    /// The film at the finest level, blurred as the photo is.
    pub(crate) level: FilmLevel,
}

/// Where everything is, unless the film is not made out in the photo.
pub(crate) fn settled(
    film: &Film,
    layout: &Layout,
    light: &Levels,
    options: &Options,
    progress: &Progress,
) -> Result<Option<Settled>, InspectError> {
    let ladder = ladder(film, layout);
    let Some((mut bench, camera, place)) = placed(film, layout, light, &ladder, options, progress)?
    else {
        return Ok(None);
    };
    progress.step("Measuring edges", 2, 4)?;
    let names: Vec<String> = film.sheets.iter().map(|s| s.name.clone()).collect();
    let mut checked = bench.run(camera, &ladder, &names, progress)?;
    checked.place = place;
    let mut level = bench.levels.swap_remove(0);
    // Where the photo is blurred more than the film was, light goes farther past its edges.
    if let Some(blur) = checked.spread.map(|s| s.blur).filter(|blur| *blur > BLUR) {
        let more = (blur * blur - BLUR * BLUR).sqrt() / BLUR;
        level.cover = level.cover.blurred(level.sigma * more);
    }
    Ok(Some(Settled { checked, ladder, level }))
}

/// The film's clearness, coarse and coarser.
fn ladder(film: &Film, layout: &Layout) -> Ladder {
    let long = f64::from(film.raster.width().max(film.raster.height()));
    let cell = (long / 1000.0).max(1.0);
    let mut clear = cover(film.raster, cell);
    for v in &mut clear.px {
        *v = 65535 - *v;
    }
    pose::ladder(clear, cell * layout.pixel)
}

/// The camera, and whether it is sure: from the corners given; or by the film as a
/// whole; or, where wrong sheets hide it, by those of its sheets that are seen.
fn placed<'a>(
    film: &'a Film<'a>,
    layout: &'a Layout,
    light: &'a Levels,
    ladder: &Ladder,
    options: &Options,
    progress: &Progress,
) -> Result<Option<(Bench<'a>, Camera, Place)>, InspectError> {
    let settle = |poses: Vec<Pose>| {
        let bench = Bench::new(film, layout, light, &poses.first()?.camera)?;
        let (camera, place) = bench.settle(poses)?;
        Some((bench, camera, place))
    };
    if let Some(corners) = &options.corners {
        let poses = pose::from_corners(light, ladder, layout, corners);
        return if poses.is_empty() { Err(InspectError::Corners) } else { Ok(settle(poses)) };
    }
    for parts in [Parts::whole(layout), Parts::sheets(layout)] {
        let found = settle(pose::find(light, ladder, layout, &parts, progress)?);
        if found.is_some() || layout.quads.len() == 1 {
            return Ok(found);
        }
    }
    Ok(None)
}
