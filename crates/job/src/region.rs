//! Where film is needed: ink that lands on the garment or its bleed, and the clear surround.

use crate::{InkMap, Job};
use ::shop::Align;
use bitmap::Bitmap;
use film::PxRect;
use garment::{Garment, Silhouette};
use measure::{Length, Point, Size};
use sheets::Region;

/// Where the job needs film.
pub(crate) fn region(job: &Job, ink: &InkMap) -> Region {
    let mut squares = ink.squares.clone();
    keep_on_garment(&mut squares, job, ink);
    let step = ink.resolution.length(f64::from(ink.step_px));
    let inked = Region { cell: step, origin: Point::default(), cells: squares };
    let needed = inked.surrounded(job.surround).cells;
    let print = cells(&needed, ink, Region::cell_for(job.overlap, ink.resolution));
    with_marks(print, job, ink)
}

/// The region with room for the marks outside the print, whole cells about it.
fn with_marks(print: Region, job: &Job, ink: &InkMap) -> Region {
    let size = (ink.film_width_px, ink.film_height_px);
    let marks = job.frame_marks.placed(ink.resolution, size);
    if marks.is_empty() {
        return print;
    }
    let cell = ink.resolution.whole_px(print.cell).max(1);
    let film = job.frame_marks.bounds(ink.resolution, size);
    let (left, top) = ((-film.x + cell - 1) / cell, (-film.y + cell - 1) / cell);
    let across = left + (film.right() + cell - 1) / cell;
    let down = top + (film.bottom() + cell - 1) / cell;
    let needs = |x: u32, y: u32| {
        let (x, y) = (i64::from(x) - left, i64::from(y) - top);
        let square = PxRect::new(x * cell, y * cell, cell, cell);
        let inside = x >= 0 && y >= 0 && print.cells.get(x as u32, y as u32);
        inside || marks.iter().any(|mark| mark.at.intersect(square).area() > 0)
    };
    let corner = |cells: i64| -print.cell * cells as f64;
    let size = (across.max(0) as u32, down.max(0) as u32);
    Region::from_fn(print.cell, Point::new(corner(left), corner(top)), size, needs)
}

/// Clears the squares that lie wholly off the garment and its bleed, erring outward by at
/// most a square.
fn keep_on_garment(squares: &mut Bitmap, job: &Job, ink: &InkMap) {
    let step = ink.resolution.length(f64::from(ink.step_px));
    // A square whose middle is within half its diagonal of the garment may touch it.
    let reach = job.bleed + step * std::f64::consts::FRAC_1_SQRT_2;
    let laid: Vec<(Silhouette, Point)> =
        sizes(job, ink.film_size()).iter().map(|(g, at)| (g.silhouette(reach), *at)).collect();
    if laid.is_empty() {
        return;
    }
    for j in 0..squares.height() {
        let mut spans = Vec::new();
        for (silhouette, at) in &laid {
            let spanned = silhouette.spans(at.y + step * (f64::from(j) + 0.5));
            spans.extend(spanned.iter().map(|(l, r)| (*l - at.x, *r - at.x)));
        }
        for i in 0..squares.width() {
            let x = step * (f64::from(i) + 0.5);
            if squares.get(i, j) && !spans.iter().any(|(l, r)| *l <= x && x <= *r) {
                squares.set(i, j, false);
            }
        }
    }
}

/// Every garment that the film prints, the job's own first, each with the film's top-left
/// corner in its own frame.
pub(crate) fn sizes(job: &Job, film: Size) -> Vec<(&Garment, Point)> {
    let (Some(first), Some(at)) = (&job.garment, film_corner(job, film)) else { return Vec::new() };
    let middle = |g: &Garment| g.silhouette(Length::ZERO).bounds().center();
    let place = |g| match job.align {
        Align::Collar => at,
        Align::Middle => at + middle(g) - middle(first),
    };
    std::iter::once((first, at)).chain(job.also.iter().map(|g| (g, place(g)))).collect()
}

/// Whole cells that any square of ink or surround reaches into.
fn cells(squares: &Bitmap, ink: &InkMap, cell: Length) -> Region {
    let cell_px = ink.resolution.whole_px(cell).max(1) as u32;
    let (nx, ny) = (ink.film_width_px.div_ceil(cell_px), ink.film_height_px.div_ceil(cell_px));
    let mut out = Bitmap::new(nx, ny);
    let reach = |i: u32, film_px: u32| {
        let (from, to) = (i * ink.step_px, ((i + 1) * ink.step_px).min(film_px));
        from / cell_px..=(to - 1) / cell_px
    };
    for j in 0..squares.height() {
        for i in 0..squares.width() {
            if squares.get(i, j) {
                for y in reach(j, ink.film_height_px) {
                    for x in reach(i, ink.film_width_px) {
                        out.set(x, y, true);
                    }
                }
            }
        }
    }
    Region { cell, origin: Point::default(), cells: out }
}

/// The garment's outline as it lies on a film of this size, from the film's top-left corner.
pub(crate) fn outline(job: &Job, film: Size) -> Option<Vec<Point>> {
    let corner = film_corner(job, film)?;
    Some(job.garment.as_ref()?.outline().into_iter().map(|p| p - corner).collect())
}

/// The film's top-left corner in the garment's frame: the artwork's middle lies on the
/// garment's, moved by the job's offset.
pub(crate) fn film_corner(job: &Job, film: Size) -> Option<Point> {
    let middle = job.garment.as_ref()?.silhouette(Length::ZERO).bounds().center() + job.offset;
    Some(Point::new(middle.x - film.width / 2.0, middle.y - film.height / 2.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::Resolution;
    use progress::Progress;

    fn speckled(width: u32, height: u32) -> Bitmap {
        Bitmap::from_fn(width, height, |x, y| (x / 7 + y / 11) % 9 == 0 && x > width / 3)
    }

    #[test]
    fn every_inked_pixel_lies_in_the_region_and_no_cell_without_ink_does() {
        let film = speckled(300, 200);
        let resolution = Resolution::ppi(40.0);
        let ink = InkMap::of(&film, resolution, &Progress::none()).unwrap();
        let job = Job { surround: Length::ZERO, resolution, ..Job::default() };
        let region = region(&job, &ink);
        let cell = resolution.whole_px(region.cell) as u32;
        let want = Bitmap::from_fn(region.cells.width(), region.cells.height(), |i, j| {
            (0..cell).any(|v| (0..cell).any(|u| film.get(i * cell + u, j * cell + v)))
        });
        assert_eq!(region.cells, want);
    }

    #[test]
    fn film_is_made_for_every_size_that_the_screen_prints() {
        let resolution = Resolution::ppi(20.0);
        let film = Bitmap::from_fn(1400, 900, |_, _| true);
        let ink = InkMap::of(&film, resolution, &Progress::none()).unwrap();
        let small = Job { garment: Garment::named("tee-s"), resolution, ..Job::default() };
        let large = Job { garment: Garment::named("tee-3xl"), ..small.clone() };
        for align in [Align::Collar, Align::Middle] {
            let also = large.garment.iter().cloned().collect();
            let both = Job { also, align, ..small.clone() };
            let laid = sizes(&both, ink.film_size());
            let cells = region(&both, &ink).cells;
            let shift = laid[1].1 - sizes(&large, ink.film_size())[0].1;
            assert_eq!(align == Align::Middle, shift.y.abs() < Length::mm(1e-9), "{shift:?}");
            assert!(cells.count() > region(&small, &ink).cells.count());
            if align == Align::Middle {
                // The larger size reaches past the smaller one everywhere but at its collar.
                assert!(cells.count() >= region(&large, &ink).cells.count());
            }
        }
    }

    #[test]
    fn all_ink_on_the_garment_or_its_bleed_is_in_the_region() {
        let resolution = Resolution::ppi(20.0);
        let film = speckled(840, 720);
        let ink = InkMap::of(&film, resolution, &Progress::none()).unwrap();
        let job = Job {
            garment: Garment::named("tee-l"),
            offset: Point::new(Length::mm(40.0), Length::mm(-25.0)),
            surround: Length::ZERO,
            resolution,
            ..Job::default()
        };
        let region = region(&job, &ink);
        let cell = resolution.whole_px(region.cell) as u32;
        let corner = film_corner(&job, ink.film_size()).unwrap();
        let silhouette = job.garment.as_ref().unwrap().silhouette(job.bleed);
        let mut off = 0;
        for y in 0..film.height() {
            for x in 0..film.width() {
                let at = |v: u32| resolution.length(f64::from(v) + 0.5);
                let needed =
                    film.get(x, y) && silhouette.contains(Point::new(at(x), at(y)) + corner);
                assert!(!needed || region.cells.get(x / cell, y / cell), "{x}, {y}");
                off += u32::from(film.get(x, y) && !region.cells.get(x / cell, y / cell));
            }
        }
        assert!(off > 1000, "ink off the garment needs no film");
    }
}
