//! What a photo showed, laid over the film: sheets with their slips, seams with their jogs, and
//! rings about the places to look at.

use super::fine::mark;
use super::layout::Scene;
use super::paint::tag;
use crate::desk::Desk;
use crate::panels::{found_words, jog_words, rail_mark, verdict_state};
use crate::photo::{Checked, Found};
use crate::step::State;
use crate::theme::Palette;
use eframe::egui::{Align2, Painter, Pos2, Shape, Stroke, vec2};
use inspect::{Report, Verdict};
use measure::{Length, Point};

/// How long a slip is drawn, in points a mm: as it is, it would not be seen.
const SLIP: f64 = 70.0;
/// The longest arrow, in points.
const LONGEST: f32 = 90.0;
/// Slips shorter than this have no arrow, mm.
const STILL: f64 = 0.05;
/// How large the ring of the place looked at is at least, and that of any other, in points.
const LEAST: (f32, f32) = (22.0, 7.0);

pub(crate) fn paint(desk: &Desk, scene: &Scene, painter: &Painter, p: &Palette) {
    if desk.canvas.cropping {
        return;
    }
    let (Some(checked), Some(film)) = (desk.photo.at_step(desk.step), desk.film_rect()) else {
        return;
    };
    let on_screen = |at: Point| scene.view.screen_from_table(at + film.origin, scene.canvas);
    if let Found::Film(report) = &checked.found {
        seams(checked, report, &on_screen, painter, p);
        sheets(checked, report, &on_screen, painter, p);
    }
    for i in 0..checked.count() {
        let Some(place) = checked.place(i) else { continue };
        let (at, chosen) = (on_screen(place.at), desk.photo.at == Some(i));
        if !scene.canvas.contains(at) {
            continue;
        }
        let (least, width) = if chosen { (LEAST.0, 2.5) } else { (LEAST.1, 1.5) };
        let radius = least.max((place.size.to_mm() * scene.view.points_per_mm) as f32 * 0.8);
        mark(painter, at, radius, place.dark, width, p);
        if chosen {
            tag(painter, at + vec2(radius + 8.0, 0.0), Align2::LEFT_CENTER, &place.words, p);
        }
    }
}

fn seams(
    checked: &Checked,
    report: &Report,
    on_screen: &dyn Fn(Point) -> Pos2,
    painter: &Painter,
    p: &Palette,
) {
    for seam in &report.seams {
        let pixel = |v: f64| checked.pixel * v;
        let ends = seam.ends.map(|[x, y]| on_screen(Point::new(pixel(x), pixel(y))));
        // Good seams are thin lines, faults thick ones, and unsure ones broken.
        painter.line_segment(ends, Stroke::new(6.0, p.paper));
        match seam.verdict {
            Verdict::Good => _ = painter.line_segment(ends, Stroke::new(1.5, p.accent)),
            Verdict::Fault => _ = painter.line_segment(ends, Stroke::new(4.0, p.wrong)),
            Verdict::NotSure => {
                painter.extend(Shape::dashed_line(&ends, Stroke::new(2.5, p.look), 8.0, 6.0));
            }
        }
        if ends[0].distance(ends[1]) > 60.0 {
            let at = ends[0].lerp(ends[1], 0.35);
            rail_mark(painter, at, 0.75, verdict_state(seam.verdict), p.paper, p);
            tag(painter, at + vec2(11.0, 0.0), Align2::LEFT_CENTER, &jog_words(seam), p);
        }
    }
}

fn sheets(
    checked: &Checked,
    report: &Report,
    on_screen: &dyn Fn(Point) -> Pos2,
    painter: &Painter,
    p: &Palette,
) {
    for (sheet, rect) in report.sheets.iter().zip(&checked.sheets) {
        let corner = on_screen(rect.origin);
        let across = on_screen(Point::new(rect.right(), rect.origin.y)).x - corner.x;
        if across < 60.0 {
            continue;
        }
        // Below the sheet's name, which stands in its middle.
        let half = Length::mm(rect.size.height.to_mm() / 2.0);
        let middle = on_screen(Point::new(rect.center().x, rect.origin.y + half));
        let at = middle + vec2(0.0, 34.0);
        let in_place = sheet.found == inspect::Found::InPlace;
        match (sheet.dx_mm, sheet.dy_mm) {
            (Some(x), Some(y)) if in_place => {
                let slip = x.hypot(y);
                tag(painter, at, Align2::CENTER_CENTER, &format!("slip {slip:.2} mm"), p);
                if slip > STILL {
                    let arrow = vec2((x * SLIP) as f32, (y * SLIP) as f32);
                    let arrow = arrow * (LONGEST / arrow.length()).min(1.0);
                    let from = middle - vec2(0.0, 40.0);
                    for stroke in [Stroke::new(6.0, p.paper), Stroke::new(2.5, p.wrong)] {
                        painter.arrow(from, arrow, stroke);
                    }
                }
            }
            _ => {
                let state = match sheet.found {
                    inspect::Found::NotSure | inspect::Found::InPlace => State::Look,
                    _ => State::Wrong,
                };
                tag(painter, at, Align2::CENTER_CENTER, &found_words(&sheet.found), p);
                rail_mark(painter, at + vec2(0.0, 26.0), 1.0, state, p.paper, p);
            }
        }
    }
}
