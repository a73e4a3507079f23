//! Picking an ink: the colour of a place of the artwork becomes one.

use super::drag::take;
use super::laid::Laid;
use super::layout::Scene;
use crate::action::Action;
use crate::desk::Desk;
use artwork::{Picture, Pixels};
use eframe::egui::{CursorIcon, Pos2, Ui};
use inks::Rgb;

pub(crate) const LABEL: &str = "A place of the artwork, to pick an ink from";

pub(super) fn hands(desk: &mut Desk, scene: &Scene, ui: &Ui) {
    let (Some(film), Some(laid)) = (scene.film, scene.laid) else { return };
    let place = film.intersect(scene.canvas);
    let response = take(desk, ui, place, "pick", LABEL, CursorIcon::Crosshair);
    let at = response.interact_pointer_pos().filter(|_| response.clicked());
    if let Some(colour) = at.and_then(|at| colour(desk, &laid, at)) {
        desk.ask(Action::PickInk(colour));
    }
}

/// The colour that the artwork has where it is seen at a place of the screen.
fn colour(desk: &Desk, laid: &Laid, at: Pos2) -> Option<Rgb> {
    let picture = desk.stages.picture()?;
    let upright = laid.middle() + laid.along(at - laid.middle());
    let share = (upright - laid.upright.min) / laid.upright.size();
    let crop = desk.job().art.crop;
    let (x, y) = crop.map_or((0, 0), |c| (c.x, c.y));
    let (width, height) = crop.map_or((picture.width, picture.height), |c| (c.width, c.height));
    let inside = |share: f32| (0.0..1.0).contains(&share);
    if !inside(share.x) || !inside(share.y) {
        return None;
    }
    let px = |from: u32, share: f32, size: u32| from + (share * size as f32) as u32;
    Some(middle_colour(picture, px(x, share.x, width), px(y, share.y, height)))
}

/// The middle of each part of the colours of a pixel and its neighbours: a lone speck says
/// nothing.
fn middle_colour(picture: &Picture, x: u32, y: u32) -> Rgb {
    let near = |v: u32, size: u32| {
        let last = size.saturating_sub(1);
        [v.saturating_sub(1), v, v + 1].map(|v| v.min(last))
    };
    let places = near(y, picture.height)
        .map(|y| near(x, picture.width).map(|x| y as usize * picture.width as usize + x as usize));
    let middle = |part: usize| {
        let mut values: Vec<u8> = places
            .as_flattened()
            .iter()
            .map(|at| match &picture.pixels {
                Pixels::Grey(grey) => grey[*at],
                Pixels::Rgb(rgb) => rgb[3 * at + part],
            })
            .collect();
        values.sort_unstable();
        values[values.len() / 2]
    };
    Rgb([middle(0), middle(1), middle(2)])
}
