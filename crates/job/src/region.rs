//! Where film is needed: ink that lands on the garment or its bleed, and the clear surround.

use crate::{InkMap, Job};
use bitmap::Bitmap;
use imageproc::distance_transform::euclidean_squared_distance_transform;
use imageproc::image::{GrayImage, Luma};
use measure::{Length, Point, Rect, Size};
use sheets::Region;

/// The largest cell the planner takes (it may waste up to one cell on each side).
const LARGEST_CELL: Length = Length::inches(0.25);
/// The smallest: finer ones cost time and gain nothing that tape can hold.
const SMALLEST_CELL: Length = Length::inches(0.1);

/// The planner's cell: half the overlap must be a whole number of cells.
pub(crate) fn cell_for(overlap: Length) -> Length {
    let half = overlap / 2.0;
    if half < SMALLEST_CELL {
        return if half.to_mm() <= 1e-9 { LARGEST_CELL } else { SMALLEST_CELL };
    }
    half / (half / LARGEST_CELL - 1e-9).ceil().max(1.0)
}

/// Where the job needs film.
pub(crate) fn region(job: &Job, ink: &InkMap) -> Region {
    let mut squares = ink.squares.clone();
    if let Some(on_garment) = garment_squares(job, ink) {
        for (word, mask) in squares.words_mut().iter_mut().zip(on_garment.words()) {
            *word &= mask;
        }
    }
    let step = ink.resolution.length(f64::from(ink.step_px));
    let squares = grown(&squares, job.surround / step);
    cells(&squares, ink, cell_for(job.overlap))
}

/// Whole cells that any square of ink or surround reaches into.
fn cells(squares: &Bitmap, ink: &InkMap, cell: Length) -> Region {
    let cell_px = ink.resolution.px(cell);
    let count = |px: u32| ((f64::from(px) / cell_px - 1e-6).ceil().max(1.0)) as u32;
    let (nx, ny) = (count(ink.film_width_px), count(ink.film_height_px));
    let mut out = Bitmap::new(nx, ny);
    // The first and last cell that the squares of index i reach into.
    let reach = |i: u32, film_px: u32, n: u32| {
        let from = f64::from(i * ink.step_px) / cell_px + 1e-6;
        let to = f64::from(((i + 1) * ink.step_px).min(film_px)) / cell_px - 1e-6;
        (from as u32).min(n - 1)..=(to.max(0.0) as u32).min(n - 1)
    };
    for j in 0..squares.height() {
        for i in 0..squares.width() {
            if squares.get(i, j) {
                for y in reach(j, ink.film_height_px, ny) {
                    for x in reach(i, ink.film_width_px, nx) {
                        out.set(x, y, true);
                    }
                }
            }
        }
    }
    Region { cell, origin: Point::default(), cells: out }
}

/// The squares that may touch the garment or its bleed, erring outward by half a square.
fn garment_squares(job: &Job, ink: &InkMap) -> Option<Bitmap> {
    let outline = outline_on_film(job, ink)?;
    let step = ink.resolution.length(f64::from(ink.step_px));
    // Squares beyond the film matter too: bleed reaches in from there.
    let pad = (job.bleed / step).ceil() as u32 + 2;
    let (nx, ny) = (ink.squares.width() + 2 * pad, ink.squares.height() + 2 * pad);
    let mut inside = Bitmap::new(nx, ny);
    let pad_length = step * f64::from(pad);
    for j in 0..ny {
        let y = step * (f64::from(j) + 0.5) - pad_length;
        for (from, to) in spans(&outline, y) {
            let column = |x: Length| ((x + pad_length) / step).clamp(0.0, f64::from(nx));
            // Any square the span touches, not only those whose middle it covers.
            for i in column(from).floor() as u32..(column(to).ceil() as u32).min(nx) {
                inside.set(i, j, true);
            }
        }
    }
    let all = grown(&inside, job.bleed / step + 0.5);
    Some(Bitmap::from_fn(ink.squares.width(), ink.squares.height(), |x, y| all.get(x + pad, y + pad)))
}

/// The garment's outline as it lies on the film, from the film's top-left corner.
pub(crate) fn outline_on_film(job: &Job, ink: &InkMap) -> Option<Vec<Point>> {
    let film = Size::new(
        ink.resolution.length(f64::from(ink.film_width_px)),
        ink.resolution.length(f64::from(ink.film_height_px)),
    );
    outline_for(job, film)
}

/// As [`outline_on_film`], for a film of a given size.
pub(crate) fn outline_for(job: &Job, film: Size) -> Option<Vec<Point>> {
    let outline = job.garment.as_ref()?.outline();
    let middle = bounds(&outline)?.center() + job.offset;
    let corner = Point::new(middle.x - film.width / 2.0, middle.y - film.height / 2.0);
    Some(outline.into_iter().map(|p| p - corner).collect())
}

/// The smallest rectangle around some points.
pub(crate) fn bounds(points: &[Point]) -> Option<Rect> {
    let first = *points.first()?;
    let corners = points.iter().fold((first, first), |(a, b), p| {
        (Point::new(a.x.min(p.x), a.y.min(p.y)), Point::new(b.x.max(p.x), b.y.max(p.y)))
    });
    Some(Rect::between(corners.0, corners.1))
}

/// Where a horizontal line runs inside a closed outline.
fn spans(outline: &[Point], y: Length) -> Vec<(Length, Length)> {
    let mut crossings: Vec<f64> = Vec::new();
    for (i, a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        if (a.y <= y) != (b.y <= y) {
            let t = (y - a.y) / (b.y - a.y);
            crossings.push((a.x + (b.x - a.x) * t).to_mm());
        }
    }
    crossings.sort_by(f64::total_cmp);
    crossings.chunks_exact(2).map(|c| (Length::mm(c[0]), Length::mm(c[1]))).collect()
}

/// A bitmap grown by a distance in pixels (exact Euclidean distance between pixel middles).
fn grown(squares: &Bitmap, by_px: f64) -> Bitmap {
    if by_px <= 0.0 || squares.width() == 0 || squares.height() == 0 || squares.count() == 0 {
        return squares.clone();
    }
    let image = GrayImage::from_fn(squares.width(), squares.height(), |x, y| {
        Luma([u8::from(squares.get(x, y)) * 255])
    });
    let distance = euclidean_squared_distance_transform(&image);
    let reach = by_px * by_px + 1e-9;
    Bitmap::from_fn(squares.width(), squares.height(), |x, y| distance.get_pixel(x, y)[0] <= reach)
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::Resolution;
    use progress::Progress;

    #[test]
    fn half_the_overlap_is_a_whole_number_of_cells() {
        for mm in [0.0, 1.0, 5.0, 10.0, 12.7, 15.0, 25.4, 40.0] {
            let overlap = Length::mm(mm);
            let cell = cell_for(overlap);
            assert!(cell.fits(LARGEST_CELL), "{mm} {cell:?}");
            if overlap / 2.0 >= SMALLEST_CELL {
                let n = overlap / 2.0 / cell;
                assert!((n - n.round()).abs() < 1e-6, "{mm}: {n}");
            }
        }
        assert_eq!(cell_for(Length::inches(0.5)).to_inches(), 0.25);
    }

    #[test]
    fn every_inked_pixel_lies_in_the_region_and_no_cell_without_ink_does() {
        let film = Bitmap::from_fn(300, 200, |x, y| (x / 7 + y / 11) % 9 == 0 && x > 130);
        let resolution = Resolution::ppi(40.0);
        let ink = InkMap::of(&film, resolution, &Progress::none()).unwrap();
        let job = Job { surround: Length::ZERO, resolution, ..Job::default() };
        let region = region(&job, &ink);
        let cell = resolution.px(region.cell) as u32;
        let want = Bitmap::from_fn(region.cells.width(), region.cells.height(), |i, j| {
            (0..cell).any(|v| (0..cell).any(|u| film.get(i * cell + u, j * cell + v)))
        });
        assert_eq!(region.cells, want);
    }

    #[test]
    fn growing_is_by_euclidean_distance() {
        let dot = Bitmap::from_fn(21, 21, |x, y| (x, y) == (10, 10));
        let disc = grown(&dot, 5.0);
        let want = (0..441).filter(|i| (i % 21 - 10_i32).pow(2) + (i / 21 - 10_i32).pow(2) <= 25);
        assert_eq!(disc.count(), want.count() as u64);
    }
}
