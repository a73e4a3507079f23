//! The check from start to end: pose, edges, spots, report.

use crate::bench::{BLUR, Bench, Checked};
use crate::input::validate;
use crate::layout::Layout;
use crate::levels::{Levels, cover, linear};
use crate::light::Look;
use crate::pose::{self, Pose};
use crate::rough::Ladder;
use crate::samples::FilmLevel;
use crate::weigh::report;
use crate::{Film, InspectError, Options, Photo, Report, Spot, spots};
use progress::Progress;

/// Finds the film in the photo and says how well it is taped.
///
/// # Errors
/// When the input makes no sense, when the film is not found, or when cancelled.
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
    let (checked, spots) = seen(film, &layout, &light, options, progress)?;
    Ok(report(film, &layout, options, &checked, spots))
}

/// What the photo shows of the film.
fn seen(
    film: &Film,
    layout: &Layout,
    light: &Levels,
    options: &Options,
    progress: &Progress,
) -> Result<(Checked, Vec<Spot>), InspectError> {
    progress.step("Finding the film", 1, 4)?;
    let (ladder, poses) = find_pose(film, layout, light, options, progress)?;
    let (mut checked, level) = settled(film, layout, light, &ladder, poses, progress)?;
    progress.step("Looking for spots", 3, 4)?;
    let taking = checked.sheets();
    let look = Look { model: &checked.model, photo: light, film: &ladder[0], layout };
    let spots = look.light().map_or_else(Vec::new, |lamp| {
        spots::find(&checked.model, light, &level, layout, &lamp, &taking)
    });
    checked.model.settle_frame(&taking);
    Ok((checked, spots))
}

/// Where everything is, from the poses it may have; and the film at the finest level, blurred as
/// the photo is.
pub(crate) fn settled(
    film: &Film,
    layout: &Layout,
    light: &Levels,
    ladder: &Ladder,
    poses: Vec<Pose>,
    progress: &Progress,
) -> Result<(Checked, FilmLevel), InspectError> {
    progress.step("Measuring edges", 2, 4)?;
    let names: Vec<String> = film.sheets.iter().map(|s| s.name.clone()).collect();
    let mut bench = Bench::new(film, layout, light, &poses[0].camera)?;
    let (camera, tie) = bench.settle(poses)?;
    let mut checked = bench.run(camera, ladder, &names, progress)?;
    checked.tie = tie;
    let mut level = bench.levels.swap_remove(0);
    // Where the photo is blurred more than the film was, light goes farther past its edges.
    if let Some(blur) = checked.spread.map(|s| s.blur).filter(|blur| *blur > BLUR) {
        let more = (blur * blur - BLUR * BLUR).sqrt() / BLUR;
        level.cover = level.cover.blurred(level.sigma * more);
    }
    Ok((checked, level))
}

pub(crate) fn find_pose(
    film: &Film,
    layout: &Layout,
    light: &Levels,
    options: &Options,
    progress: &Progress,
) -> Result<(Ladder, Vec<Pose>), InspectError> {
    let long = f64::from(film.raster.width().max(film.raster.height()));
    let cell = (long / 1000.0).max(1.0);
    let mut clear = cover(film.raster, cell);
    for v in &mut clear.px {
        *v = 65535 - *v;
    }
    let ladder = pose::ladder(clear, cell * layout.pixel);
    let poses = match &options.corners {
        Some(corners) => pose::from_corners(light, &ladder, layout, corners),
        None => pose::find(light, &ladder, layout, progress)?,
    };
    if poses.is_empty() {
        return Err(match options.corners {
            Some(_) => InspectError::Corners,
            None => InspectError::NotFound,
        });
    }
    Ok((ladder, poses))
}
