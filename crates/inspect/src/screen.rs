//! The check of a washed-out screen.

use crate::bench::Checked;
use crate::camera::Xy;
use crate::check::{Settled, settled};
use crate::input::validate;
use crate::layout::Layout;
use crate::levels::{Levels, linear};
use crate::light::Look;
use crate::weigh::corners;
use crate::{Film, InspectError, Options, Photo, Place, Sheet, SpotKind, Verdict, spots};
use progress::Progress;
use serde::Serialize;

/// What a check of a screen found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScreenReport {
    /// Good where nothing is listed; not sure where the drawing may lie otherwise or is not made
    /// out.
    pub verdict: Verdict,
    /// Whether it is known where in the photo the drawing lies.
    #[serde(skip)]
    pub place: Place,
    /// Whether the photo shows the film's drawing mirrored.
    pub mirrored: bool,
    /// Where the photo shows the film's corners, in photo pixels.
    #[serde(skip)]
    pub corners: [[f64; 2]; 4],
    /// Closed details and pinholes, largest first; at most 500.
    pub spots: Vec<ScreenSpot>,
}

/// What is wrong at a place on a screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ScreenSpotKind {
    /// Closed where the film is black: a detail that was not washed out.
    Closed,
    /// Open where the film is clear: a pinhole to block out.
    Pinhole,
}

/// A place on a screen to look at.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ScreenSpot {
    /// What is wrong.
    pub kind: ScreenSpotKind,
    /// How far right of the film's left edge its middle is, as the film is planned.
    pub x_mm: f64,
    /// How far below the film's top edge.
    pub y_mm: f64,
    /// The diameter of a circle as large.
    pub size_mm: f64,
    /// The drawing's corner that it is nearest to, as the photo shows the screen.
    pub corner: &'static str,
    /// How far it is from there along the photo's more level edge of the drawing.
    pub aside_mm: f64,
    /// How far it is from there along the more upright edge.
    pub upward_mm: f64,
}

impl ScreenReport {
    /// The drawing was not made out in the photo.
    const UNSEEN: Self = Self {
        verdict: Verdict::NotSure,
        place: Place::Unseen,
        mirrored: false,
        corners: [[0.0; 2]; 4],
        spots: Vec::new(),
    };

    /// Leaves out the spots at places that are known to differ, in the film's mm.
    pub fn leave_out(&mut self, known: impl Fn([f64; 2]) -> bool) {
        self.spots.retain(|spot| !known([spot.x_mm, spot.y_mm]));
        if self.spots.is_empty() && self.verdict == Verdict::Fault {
            self.verdict = Verdict::Good;
        }
    }
}

/// Finds the film's drawing in a photo of a washed-out screen, held against a light so that
/// open mesh is brighter than emulsion, and lists where they differ. The film's sheets and
/// seams do not matter.
///
/// # Errors
/// When the input makes no sense, or when cancelled.
pub fn check_screen(
    film: &Film,
    photo: &Photo,
    options: &Options,
    progress: &Progress,
) -> Result<ScreenReport, InspectError> {
    let [width, height] = [film.raster.width(), film.raster.height()].map(f64::from);
    let whole = Film {
        raster: film.raster,
        resolution: film.resolution,
        sheets: vec![Sheet::upright("screen", 0.0, 0.0, width, height)],
        seams: Vec::new(),
        marks: Vec::new(),
    };
    validate(&whole, photo, options)?;
    progress.step("Reading the photo", 0, 4)?;
    // A screen opens where the film is black. As a negative its photo is that of a film, which
    // is how the drawing is found in it; but only as it is does light add up.
    let picture = linear(photo);
    let mut negative = picture.clone();
    negative.px.iter_mut().for_each(|v| *v = 65535 - *v);
    let negative = Levels::new(negative, 40);
    let layout = Layout::new(&whole);
    progress.step("Finding the drawing", 1, 4)?;
    let settled = settled(&whole, &layout, &negative, options, progress)?;
    let Some(mut settled) = settled.filter(|s| s.checked.sheets()[0]) else {
        return Ok(ScreenReport::UNSEEN);
    };
    drop(negative);
    progress.step("Looking for spots", 3, 4)?;
    let light = Levels::new(picture, 40);
    let spots = spots_of(&mut settled, &light, &layout);
    let checked = &mut settled.checked;
    checked.model.settle_frame(&checked.sheets());
    let corners = corners(&layout, &checked.model);
    let size = [width, height].map(|px| px * layout.pixel);
    let spots: Vec<ScreenSpot> =
        spots.into_iter().map(|spot| placed(spot, corners, size)).collect();
    let place = checked.place;
    let verdict = match (place, spots.is_empty()) {
        (Place::Known, true) => Verdict::Good,
        (Place::Known, false) => Verdict::Fault,
        _ => Verdict::NotSure,
    };
    Ok(ScreenReport { verdict, place, mirrored: checked.model.camera.mirrored(), corners, spots })
}

/// The spots of what the screen is: clear where the film is black.
fn spots_of(settled: &mut Settled, light: &Levels, layout: &Layout) -> Vec<crate::Spot> {
    let Settled { checked: Checked { model, .. }, ladder, level } = settled;
    let film = &mut ladder[0];
    for cover in [&mut film.0, &mut level.cover] {
        cover.px.iter_mut().for_each(|v| *v = 65535 - *v);
    }
    let look = Look { model, photo: light, film, layout };
    let whole = vec![true; layout.quads.len()];
    let found = look
        .light()
        .map_or_else(Vec::new, |lamp| spots::find(model, light, level, layout, &lamp, &whole));
    // Emulsion is as thick as it was coated: that it lets light through is no fault.
    found.into_iter().filter(|spot| spot.kind != SpotKind::ThinBlack).collect()
}

/// A spot with its place from a corner as the photo shows it.
fn placed(spot: crate::Spot, corners: [Xy; 4], [width, height]: [f64; 2]) -> ScreenSpot {
    let right = spot.x_mm > width / 2.0;
    let below = spot.y_mm > height / 2.0;
    // Corners go round from the top left.
    let corner = match (right, below) {
        (false, false) => 0,
        (true, false) => 1,
        (true, true) => 2,
        (false, true) => 3,
    };
    let middle: Xy = [0, 1].map(|k| corners.iter().map(|c| c[k]).sum::<f64>() / 4.0);
    let [u, v] = [0, 1].map(|k| corners[corner][k] - middle[k]);
    let name = match (u > 0.0, v > 0.0) {
        (false, false) => "top left",
        (true, false) => "top right",
        (false, true) => "bottom left",
        (true, true) => "bottom right",
    };
    let along = if right { width - spot.x_mm } else { spot.x_mm };
    let down = if below { height - spot.y_mm } else { spot.y_mm };
    // Where the photo shows the film a quarter turned, its width stands upright.
    let edge = [0, 1].map(|k| corners[1][k] - corners[0][k]);
    let level = edge[0].abs() >= edge[1].abs();
    let (aside_mm, upward_mm) = if level { (along, down) } else { (down, along) };
    ScreenSpot {
        kind: match spot.kind {
            SpotKind::Dark => ScreenSpotKind::Closed,
            _ => ScreenSpotKind::Pinhole,
        },
        x_mm: spot.x_mm,
        y_mm: spot.y_mm,
        size_mm: spot.size_mm,
        corner: name,
        aside_mm,
        upward_mm,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_told_from_the_corner_one_sees() {
        let spot = crate::Spot { kind: SpotKind::Dark, x_mm: 10.0, y_mm: 30.0, size_mm: 1.0 };
        let size = [300.0, 200.0];
        let upright = [[0.0, 0.0], [90.0, 0.0], [90.0, 60.0], [0.0, 60.0]];
        let seen = placed(spot, upright, size);
        assert_eq!((seen.corner, seen.aside_mm, seen.upward_mm), ("top left", 10.0, 30.0));
        // Mirrored: the film's left is at the photo's right.
        let mirrored = [[90.0, 0.0], [0.0, 0.0], [0.0, 60.0], [90.0, 60.0]];
        let seen = placed(spot, mirrored, size);
        assert_eq!((seen.corner, seen.aside_mm, seen.upward_mm), ("top right", 10.0, 30.0));
        // Turned a quarter clockwise: the film's top is at the photo's right.
        let turned = [[60.0, 0.0], [60.0, 90.0], [0.0, 90.0], [0.0, 0.0]];
        let seen = placed(spot, turned, size);
        assert_eq!((seen.corner, seen.aside_mm, seen.upward_mm), ("top right", 30.0, 10.0));
        assert_eq!(seen.kind, ScreenSpotKind::Closed);
    }
}
