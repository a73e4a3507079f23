//! Where everything lies on the screen in this frame. Nothing is drawn here.

use super::laid::Laid;
use super::model::View;
use crate::desk::Desk;
use crate::step::Step;
use eframe::egui::{Pos2, Rect};
use job::HandSeam;
use measure::Point;

/// A sheet on the screen.
pub(crate) struct SheetSeen {
    pub(crate) index: usize,
    pub(crate) name: String,
    pub(crate) rect: Rect,
    pub(crate) pinned: bool,
    pub(crate) turned: bool,
}

/// A seam on the screen.
pub(crate) struct SeamSeen {
    pub(crate) index: usize,
    pub(crate) between: [String; 2],
    /// Which of the seams between those two.
    pub(crate) strip: usize,
    /// On the film.
    pub(crate) points: Vec<Point>,
    pub(crate) seen: Vec<Pos2>,
}

/// Which way a strip of overlap runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Strip {
    Upright,
    Level,
}

/// The frame's picture.
pub(crate) struct Scene {
    pub(crate) canvas: Rect,
    pub(crate) view: View,
    pub(crate) garment: Vec<Pos2>,
    /// Other sizes that the same screen prints.
    pub(crate) also: Vec<Vec<Pos2>>,
    /// From collar to hem.
    pub(crate) centre_line: Option<(Pos2, Pos2)>,
    pub(crate) film: Option<Rect>,
    /// The artwork, which lies turned on the film.
    pub(crate) laid: Option<Laid>,
    /// The whole picture before its turn, where the artwork is only a part of it.
    pub(crate) whole_picture: Option<Rect>,
    pub(crate) sheets: Vec<SheetSeen>,
    /// Where overlapping sheets are cut and joined.
    pub(crate) seams: Vec<SeamSeen>,
    /// Pin and tape marks outside the print.
    pub(crate) frame_marks: Vec<Rect>,
    /// Where two sheets lie over each other.
    pub(crate) overlaps: Vec<Rect>,
    /// The overlap whose width can be dragged.
    pub(crate) overlap_handle: Option<(Rect, Strip)>,
    /// The corner by which the sheet's size is dragged.
    pub(crate) size_handle: Option<Pos2>,
    /// Whether sheets and seams lie in front.
    pub(crate) shows_sheets: bool,
    /// Whether the hand moves the artwork, or the sheets.
    pub(crate) moves_artwork: bool,
    pub(crate) moves_sheets: bool,
}

impl Scene {
    pub(crate) fn of(desk: &Desk, canvas: Rect) -> Self {
        let view = desk.canvas.eye();
        let at = |p: Point| view.screen_from_table(p, canvas);
        let outline = desk.garment_outline().unwrap_or_default();
        let film_table = desk.film_rect();
        let film = film_table.map(|r| view.screen_rect(r, canvas));
        let laid = Laid::of(desk, &view, canvas);
        let mut sheets = Vec::new();
        if let (Some(layout), Some(film)) = (desk.stages.layout(), film_table) {
            for (index, sheet) in layout.plan.sheets.iter().enumerate() {
                let mut on_table = sheet.placed.rect;
                on_table.origin = on_table.origin + film.origin;
                sheets.push(SheetSeen {
                    index,
                    name: sheet.name.clone(),
                    rect: view.screen_rect(on_table, canvas),
                    pinned: sheet.pinned,
                    turned: sheet.placed.turned,
                });
            }
        }
        let seams = seams_seen(desk, &view, canvas);
        let overlaps = overlaps(&sheets);
        let cropping = desk.canvas.cropping && film.is_some();
        let shows_sheets = matches!(desk.step, Step::Sheets | Step::Print) && !sheets.is_empty();
        // Sheets of one screen's own plan are the planner's.
        let moves_sheets = shows_sheets && desk.stages.planned_screen().is_none();
        let (overlap_handle, size_handle) = if moves_sheets {
            (widest(&overlaps, canvas), sheets.first().map(|s| s.rect.max))
        } else {
            (None, None)
        };
        Self {
            canvas,
            view,
            garment: outline.iter().map(|p| at(*p)).collect(),
            also: desk
                .other_outlines()
                .iter()
                .map(|outline| outline.iter().map(|p| at(*p)).collect())
                .collect(),
            centre_line: centre_line(&outline).map(|(a, b)| (at(a), at(b))),
            film,
            laid,
            whole_picture: laid.and_then(|l| whole_picture(desk, l.upright)),
            sheets,
            seams,
            overlaps,
            frame_marks: frame_marks(desk, &view, canvas),
            overlap_handle,
            size_handle,
            moves_artwork: film.is_some()
                && !cropping
                && matches!(desk.step, Step::Artwork | Step::Garment | Step::Film),
            shows_sheets,
            moves_sheets,
        }
    }
}

/// The seams, those moved by hand as the hand left them even before they are weighed anew.
fn seams_seen(desk: &Desk, view: &View, canvas: Rect) -> Vec<SeamSeen> {
    let (Some(seams), Some(layout), Some(film)) =
        (desk.stages.seams(), desk.stages.layout(), desk.film_rect())
    else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for (index, seam) in seams.seams().iter().enumerate() {
        let name = |i: usize| layout.plan.sheets.get(i).map(|s| s.name.clone());
        let (Some(a), Some(b)) = (name(seam.between[0]), name(seam.between[1])) else {
            return Vec::new();
        };
        let (between, strip) = ([a, b], seams.strip(index));
        let in_hand = matches!(desk.canvas.held, Some(super::model::Held::Seam { .. }));
        let same = |h: &&HandSeam| in_hand && h.between == between && h.strip == strip;
        let moved = desk.job().hand_seams.iter().find(same);
        let points = moved.map_or_else(|| seam.points.clone(), |h| h.points.clone());
        let seen =
            points.iter().map(|p| view.screen_from_table(*p + film.origin, canvas)).collect();
        out.push(SeamSeen { index, between, strip, points, seen });
    }
    out
}

fn frame_marks(desk: &Desk, view: &View, canvas: Rect) -> Vec<Rect> {
    let (job, Some(film)) = (desk.job(), desk.film_rect()) else { return Vec::new() };
    let px = |l| job.resolution.whole_px(l).clamp(0, job::LIMITS.film_px) as u32;
    let places =
        job.frame_marks.places(job.resolution, (px(film.size.width), px(film.size.height)));
    let seen = |place: measure::Rect| {
        let on_table = measure::Rect::new(place.origin + film.origin, place.size);
        view.screen_rect(on_table, canvas)
    };
    places.into_iter().map(seen).collect()
}

fn overlaps(sheets: &[SheetSeen]) -> Vec<Rect> {
    let mut out = Vec::new();
    for (i, a) in sheets.iter().enumerate() {
        for b in &sheets[i + 1..] {
            let both = a.rect.intersect(b.rect);
            if both.width() > 0.5 && both.height() > 0.5 {
                out.push(both);
            }
        }
    }
    out
}

/// The longest strip that is on the screen.
fn widest(overlaps: &[Rect], canvas: Rect) -> Option<(Rect, Strip)> {
    let seen = overlaps.iter().filter(|r| canvas.contains(r.center()));
    let longest = seen.max_by(|a, b| {
        let length = |r: &Rect| r.width().max(r.height()) / r.width().min(r.height()).max(1.0);
        length(a).total_cmp(&length(b))
    })?;
    let strip = if longest.width() <= longest.height() { Strip::Upright } else { Strip::Level };
    Some((*longest, strip))
}

/// The garment's upright middle line.
fn centre_line(outline: &[Point]) -> Option<(Point, Point)> {
    let xs = outline.iter().map(|p| p.x.to_mm());
    let middle = (xs.clone().fold(f64::MAX, f64::min) + xs.fold(f64::MIN, f64::max)) / 2.0;
    let mut ys: Vec<f64> = Vec::new();
    for (i, a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        let (ax, bx) = (a.x.to_mm(), b.x.to_mm());
        if (ax <= middle) != (bx <= middle) {
            ys.push(a.y.to_mm() + (b.y - a.y).to_mm() * ((middle - ax) / (bx - ax)));
        }
    }
    let (top, bottom) =
        (ys.iter().copied().fold(f64::MAX, f64::min), ys.iter().copied().fold(f64::MIN, f64::max));
    let at = |y| Point::new(measure::Length::mm(middle), measure::Length::mm(y));
    (top < bottom).then(|| (at(top), at(bottom)))
}

/// Where the whole picture would lie, given where its crop does.
fn whole_picture(desk: &Desk, part: Rect) -> Option<Rect> {
    let picture = desk.stages.picture()?;
    let Some(c) = desk.job().art.crop else { return Some(part) };
    let px = part.width() / c.width.max(1) as f32;
    let min = part.min - eframe::egui::vec2(c.x as f32 * px, c.y as f32 * px);
    Some(Rect::from_min_size(
        min,
        eframe::egui::vec2(picture.width as f32 * px, picture.height as f32 * px),
    ))
}
