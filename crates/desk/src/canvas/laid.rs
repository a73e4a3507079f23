//! Where the artwork lies on the screen: a rectangle turned about its middle.

use super::model::View;
use crate::desk::Desk;
use crate::films::FilmView;
use eframe::egui::{
    Color32, Painter, Pos2, Rect, Shape, TextureId, Vec2, emath::Rot2, epaint::Mesh, pos2, vec2,
};
use measure::Angle;

/// How far the handle for turning stands off the artwork's upper edge, in points.
const STAND: f32 = 34.0;

/// The artwork's place, as it would lie upright, and its turn about the middle of that.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Laid {
    pub(crate) upright: Rect,
    pub(crate) turn: Angle,
}

impl Laid {
    pub(crate) fn of(desk: &Desk, view: &View, canvas: Rect) -> Option<Self> {
        let (film, size) = (desk.film_rect()?, desk.artwork_size()?);
        let middle = view.screen_from_table(film.center(), canvas);
        let points = |l: measure::Length| (l.to_mm() * view.points_per_mm) as f32;
        let upright = Rect::from_center_size(middle, vec2(points(size.width), points(size.height)));
        Some(Self { upright, turn: desk.job().turn })
    }

    pub(crate) fn middle(&self) -> Pos2 {
        self.upright.center()
    }

    /// Where a place of the upright rectangle is seen.
    pub(crate) fn seen(&self, at: Pos2) -> Pos2 {
        self.middle() + rotation(self.turn) * (at - self.middle())
    }

    /// A movement of the hand along the artwork's own sides.
    pub(crate) fn along(&self, by: Vec2) -> Vec2 {
        rotation(self.turn).inverse() * by
    }

    /// Its corners as they are seen, from the top left on clockwise.
    pub(crate) fn corners(&self) -> [Pos2; 4] {
        let r = self.upright;
        [r.left_top(), r.right_top(), r.right_bottom(), r.left_bottom()].map(|p| self.seen(p))
    }

    /// The handle for turning, and the place of the upper edge it stands off from. It is kept on
    /// the canvas where the artwork itself reaches past it.
    pub(crate) fn handle(&self, canvas: Rect) -> (Pos2, Pos2) {
        let top = self.upright.center_top();
        let at = self.seen(pos2(top.x, top.y - STAND));
        let room = canvas.shrink2((canvas.size() / 2.0).min(Vec2::splat(18.0)));
        (at.clamp(room.min, room.max), self.seen(top))
    }

    /// Where a film lies that was made for the artwork as it lay then: its rectangle, and how far
    /// that has been turned since.
    pub(crate) fn of_film(&self, film: &FilmView) -> (Rect, Angle) {
        let (wide, high) = film.laid.picture();
        let scale = vec2(
            self.upright.width() / wide.max(1.0) as f32,
            self.upright.height() / high.max(1.0) as f32,
        );
        let size = vec2(film.levels.width() as f32, film.levels.height() as f32) * scale;
        let since = self.turn.to_deg() - film.turn.to_deg();
        (Rect::from_center_size(self.middle(), size), Angle::deg(since))
    }
}

/// Paints a part of a picture into a rectangle that is turned about a place.
pub(crate) fn image(
    painter: &Painter,
    texture: TextureId,
    (place, uv): (Rect, Rect),
    tint: Color32,
    (about, turn): (Pos2, Angle),
) {
    if turn == Angle::ZERO {
        painter.image(texture, place, uv, tint);
        return;
    }
    let mut mesh = Mesh::with_texture(texture);
    mesh.add_rect_with_uv(place, uv, tint);
    mesh.rotate(rotation(turn), about);
    painter.add(Shape::mesh(mesh));
}

/// What of a rectangle, turned about a place, is seen in an upright one: an upright rectangle
/// that holds all of that before the turn.
pub(crate) fn seen_of(clip: Rect, (about, turn): (Pos2, Angle)) -> Rect {
    if turn == Angle::ZERO {
        return clip;
    }
    let back = rotation(turn).inverse();
    let corners = [clip.left_top(), clip.right_top(), clip.right_bottom(), clip.left_bottom()];
    Rect::from_points(&corners.map(|p| about + back * (p - about)))
}

fn rotation(turn: Angle) -> Rot2 {
    Rot2::from_angle(turn.to_rad() as f32)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A quarter clockwise takes the top edge's middle to the right.
    #[test]
    fn the_artwork_turns_clockwise_about_its_middle() {
        let upright = Rect::from_center_size(pos2(100.0, 100.0), vec2(80.0, 40.0));
        let laid = Laid { upright, turn: Angle::deg(90.0) };
        assert!(laid.seen(upright.center_top()).distance(pos2(120.0, 100.0)) < 1e-3);
        assert!((laid.along(vec2(0.0, 5.0)) - vec2(5.0, 0.0)).length() < 1e-3);
        let (at, _) = laid.handle(Rect::from_min_max(pos2(0.0, 0.0), pos2(130.0, 300.0)));
        assert!(at.distance(pos2(112.0, 100.0)) < 1e-3, "{at:?} is kept on the canvas");
        let clip = Rect::from_min_max(pos2(110.0, 90.0), pos2(130.0, 110.0));
        let seen = seen_of(clip, (laid.middle(), laid.turn));
        // A canvas with hardly any room, as large text leaves in a narrow window, still has one.
        let slit = Rect::from_min_max(pos2(0.0, 0.0), pos2(30.0, 300.0));
        assert!(slit.contains(laid.handle(slit).0));
        assert!(seen.contains(pos2(100.0, 85.0)) && !seen.contains(pos2(120.0, 100.0)));
    }
}
