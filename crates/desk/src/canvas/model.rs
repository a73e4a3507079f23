//! Where the eye is, and what the hand holds.

use eframe::egui::{Pos2, Rect, Vec2, pos2, vec2};
use measure::{Length, Point};
use sheets::Placed;

/// What part of the table is seen. The table's origin is the garment's middle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct View {
    /// The place on the table in the middle of the canvas, in millimetres.
    pub(crate) middle_mm: (f64, f64),
    /// Screen points to a millimetre.
    pub(crate) points_per_mm: f64,
}

/// The nearest and the furthest one can look.
const ZOOM: (f64, f64) = (0.02, 400.0);

impl View {
    /// A view that shows a rectangle of the table, with some room around it.
    pub(crate) fn of(table: measure::Rect, canvas: Rect) -> Self {
        let middle = table.center();
        let across = f64::from(canvas.width()) / table.size.width.to_mm().max(1.0);
        let down = f64::from(canvas.height()) / table.size.height.to_mm().max(1.0);
        let points_per_mm = (across.min(down) * 0.9).clamp(ZOOM.0, ZOOM.1);
        Self { middle_mm: (middle.x.to_mm(), middle.y.to_mm()), points_per_mm }
    }

    /// Where a place on the table is on the screen.
    pub(crate) fn screen_from_table(&self, p: Point, canvas: Rect) -> Pos2 {
        let c = canvas.center();
        pos2(
            c.x + ((p.x.to_mm() - self.middle_mm.0) * self.points_per_mm) as f32,
            c.y + ((p.y.to_mm() - self.middle_mm.1) * self.points_per_mm) as f32,
        )
    }

    /// Which place on the table a point of the screen shows.
    pub(crate) fn table_from_screen(&self, p: Pos2, canvas: Rect) -> Point {
        let d = p - canvas.center();
        Point::new(
            Length::mm(self.middle_mm.0 + f64::from(d.x) / self.points_per_mm),
            Length::mm(self.middle_mm.1 + f64::from(d.y) / self.points_per_mm),
        )
    }

    /// A rectangle of the table on the screen.
    pub(crate) fn screen_rect(&self, r: measure::Rect, canvas: Rect) -> Rect {
        Rect::from_two_pos(
            self.screen_from_table(r.origin, canvas),
            self.screen_from_table(Point::new(r.right(), r.bottom()), canvas),
        )
    }

    /// How long a distance on the screen is on the table.
    pub(crate) fn length(&self, points: f32) -> Length {
        Length::mm(f64::from(points) / self.points_per_mm)
    }

    /// A movement on the screen as one on the table.
    pub(crate) fn movement(&self, by: Vec2) -> Point {
        Point::new(self.length(by.x), self.length(by.y))
    }

    /// Moves the table along with the hand.
    pub(crate) fn pan(&mut self, by: Vec2) {
        self.middle_mm.0 -= f64::from(by.x) / self.points_per_mm;
        self.middle_mm.1 -= f64::from(by.y) / self.points_per_mm;
    }

    /// Zooms; the place under `at` stays there.
    pub(crate) fn zoom(&mut self, by: f64, at: Pos2, canvas: Rect) {
        let held = self.table_from_screen(at, canvas);
        self.points_per_mm = (self.points_per_mm * by).clamp(ZOOM.0, ZOOM.1);
        let now = self.table_from_screen(at, canvas);
        self.middle_mm.0 += (held.x - now.x).to_mm();
        self.middle_mm.1 += (held.y - now.y).to_mm();
    }
}

/// What was as it was when a drag began, so that the whole way dragged counts.
#[derive(Clone, Debug)]
pub(crate) enum Held {
    Artwork {
        offset: Point,
    },
    Corner {
        width: Length,
        offset: Point,
        corner: Vec2,
    },
    Turn {
        turn: measure::Angle,
    },
    Sheet {
        index: usize,
        placed: Placed,
        others: Vec<Placed>,
    },
    Overlap {
        overlap: Length,
        way: super::layout::Strip,
    },
    SheetSize {
        size: measure::Size,
    },
    /// Which edges of the crop move: left, top, right, bottom.
    Crop {
        crop: artwork::Crop,
        edges: [bool; 4],
        width: Length,
        offset: Point,
    },
    /// A node of a seam: all its points as they were.
    Seam {
        seam: job::HandSeam,
        node: usize,
    },
    Wipe,
}

/// A line that something caught on, for the eye.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Caught {
    /// An upright line at this place of the table.
    Upright(Length),
    /// A level line at this place of the table.
    Level(Length),
}

/// Sheets slipped to see what would happen; the job knows nothing of it.
pub(crate) struct WhatIf {
    pub(crate) slips: Vec<sheets::Slip>,
    /// How large the slips are among which the worst is sought.
    pub(crate) size: Length,
    pub(crate) seeking_worst: bool,
    /// Whether the composed film is shown.
    pub(crate) shown: bool,
}

impl Default for WhatIf {
    fn default() -> Self {
        Self { slips: Vec::new(), size: Length::mm(0.5), seeking_worst: false, shown: false }
    }
}

/// The canvas between frames.
pub(crate) struct Model {
    /// None until the first frame, which fits the view.
    pub(crate) view: Option<View>,
    pub(crate) held: Option<Held>,
    pub(crate) caught: Vec<Caught>,
    /// The chosen sheet, by its place in the plan.
    pub(crate) sheet: Option<usize>,
    /// The chosen seam, by its place among the seams.
    pub(crate) seam: Option<usize>,
    pub(crate) slips: crate::canvas::WhatIf,
    /// Where the wiping line is, as a share of the canvas; none shows only the film.
    pub(crate) wipe: Option<f32>,
    pub(crate) cropping: bool,
    /// Whether a click on the artwork picks an ink.
    pub(crate) picking: bool,
    pub(crate) rulers: bool,
    pub(crate) snapping: bool,
    /// Where the canvas was drawn last.
    pub(crate) rect: Rect,
    pub(crate) tiles: super::tiles::Tiles,
    /// The screens' films, of a job with several.
    pub(crate) screens: super::screens::ScreensLook,
    pub(crate) source: Option<crate::source::SourceTexture>,
    pub(crate) slipped: Option<crate::source::SourceTexture>,
    pub(crate) recut: Option<crate::source::SourceTexture>,
    /// The whole film, small, and which film it is of.
    pub(crate) small: Option<(u64, eframe::egui::TextureHandle)>,
}

impl Model {
    pub(crate) fn new() -> Self {
        Self {
            view: None,
            held: None,
            caught: Vec::new(),
            sheet: None,
            seam: None,
            slips: crate::canvas::WhatIf::default(),
            wipe: None,
            cropping: false,
            picking: false,
            rulers: true,
            snapping: true,
            rect: Rect::from_min_size(pos2(0.0, 0.0), vec2(800.0, 600.0)),
            tiles: super::tiles::Tiles::new(),
            screens: super::screens::ScreensLook::new(),
            source: None,
            slipped: None,
            recut: None,
            small: None,
        }
    }

    /// The view, or a plain one before the first frame.
    pub(crate) fn eye(&self) -> View {
        self.view.unwrap_or(View { middle_mm: (0.0, 0.0), points_per_mm: 0.5 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CANVAS: Rect = Rect { min: pos2(100.0, 50.0), max: pos2(900.0, 650.0) };

    #[test]
    fn zooming_keeps_the_place_under_the_pointer() {
        let mut view = View { middle_mm: (120.0, -40.0), points_per_mm: 0.7 };
        let at = pos2(333.0, 444.0);
        let before = view.table_from_screen(at, CANVAS);
        for by in [1.5, 1.5, 0.2, 7.0] {
            view.zoom(by, at, CANVAS);
        }
        let after = view.table_from_screen(at, CANVAS);
        assert!(
            (before.x - after.x).abs() < Length::mm(1e-6)
                && (before.y - after.y).abs() < Length::mm(1e-6)
        );
    }

    #[test]
    fn a_fitted_rectangle_lies_inside_the_canvas() {
        let table = measure::Rect::new(
            Point::new(Length::inches(-30.0), Length::inches(2.0)),
            measure::Size::new(Length::inches(60.0), Length::inches(20.0)),
        );
        let seen = View::of(table, CANVAS).screen_rect(table, CANVAS);
        assert!(CANVAS.contains_rect(seen));
        assert!((seen.width() / CANVAS.width() - 0.9).abs() < 1e-3);
    }
}
