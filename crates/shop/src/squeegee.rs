use crate::figure::show_length;
use crate::settings::{choice, settings};
use crate::{Drawing, Pen, Quantity, Section, Source};
use measure::{Length, Point, Rect, Size, Unit};

choice! {
    /// Which way the blade travels over the garment.
    pub enum Stroke {
        /// From collar to hem or back.
        #[default]
        Along = "along the garment",
        /// From side to side.
        Across = "across the garment",
    }
}

settings! {
    /// The squeegee and its strokes.
    pub struct SqueegeeSettings {
        /// The length of the blade.
        blade: Length = Length::inches(18.0), "", Length::mm(50.0)..=Length::mm(2500.0), Source::Shop;
        /// How far the strokes reach past the print on each side.
        past: Length = Length::inches(0.75), "", Length::ZERO..=Length::mm(150.0),
            Source::Trade("1/2 to 1 in past the image on each side");
        /// How far neighbouring strokes overlap.
        overlap: Length = Length::inches(1.0), "", Length::ZERO..=Length::mm(300.0), Source::Practice;
        /// Which way the blade travels.
        direction: Stroke = Stroke::Along, "", (), Source::Practice;
        /// Printing strokes over the same place.
        passes: u32 = 1, "passes", 1..=10, Source::Practice;
    }
}

/// The lanes of a blade over a print: where each begins, from the print's edge, and all
/// as wide as the blade.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Strokes {
    /// Where each lane begins; the first may begin before the print.
    pub starts: Vec<Length>,
    /// How far neighbouring lanes really overlap.
    pub overlap: Length,
}

/// The fewest strokes that cover a width: ⌈(W − o)/(L − o)⌉, spread evenly about its middle.
/// None if the overlap is not smaller than the blade.
pub fn strokes(width: Length, blade: Length, overlap: Length) -> Option<Strokes> {
    let finite = [width, blade, overlap].iter().all(|l| l.is_finite());
    if !finite || blade <= overlap || width <= Length::ZERO {
        return None;
    }
    let n = (((width - overlap) / (blade - overlap)) - 1e-9).ceil().clamp(1.0, 1000.0);
    let step = if n > 1.0 { (width - blade) / (n - 1.0) } else { Length::ZERO };
    let first = if n > 1.0 { Length::ZERO } else { (width - blade) / 2.0 };
    let starts = (0..n as u32).map(|i| first + step * f64::from(i)).collect();
    Some(Strokes { starts, overlap: if n > 1.0 { blade - step } else { Length::ZERO } })
}

/// The squeegee section of the plan. Seams are given on the film.
pub(crate) fn section(
    film: Size,
    seams: &[Rect],
    settings: &SqueegeeSettings,
    unit: Unit,
) -> Section {
    let show = |l: Length| show_length(l, unit);
    let mut s = Section::new("strokes", "Squeegee strokes");
    let along = settings.direction == Stroke::Along;
    let (wide, long) = if along { (film.width, film.height) } else { (film.height, film.width) };
    let width = wide + settings.past * 2.0;
    let direction = Quantity::Words(settings.direction.name().into());
    s.add("direction", direction, "chosen", Source::Shop);
    let how = format!("print {} + 2 \u{d7} {}", show(wide), show(settings.past));
    let trade = Source::Trade("1/2 to 1 in past the image on each side");
    s.add("width to cover", Quantity::Length(width), how, trade);
    let Some(lanes) = strokes(width, settings.blade, settings.overlap) else {
        s.warn("The strokes' overlap is not smaller than the blade; choose a smaller overlap.");
        return s;
    };
    let n = lanes.starts.len();
    let how = format!(
        "({} - {}) / ({} - {}), rounded up",
        show(width),
        show(settings.overlap),
        show(settings.blade),
        show(settings.overlap)
    );
    s.add("lanes", Quantity::Count(n as u64), how, Source::Arithmetic);
    let total = n as u64 * u64::from(settings.passes);
    let how = format!("{n} lanes \u{d7} {} passes", settings.passes);
    s.add("strokes for a garment", Quantity::Count(total), how, Source::Arithmetic);
    let how = format!("print {} + 2 \u{d7} {}", show(long), show(settings.past));
    let length = Quantity::Length(long + settings.past * 2.0);
    s.add("length of a stroke", length, how, Source::Practice);
    if n > 1 {
        let how = "lanes spread evenly over the width";
        s.add("overlap of lanes", Quantity::Length(lanes.overlap), how, Source::Arithmetic);
        let starts: Vec<String> = lanes.starts.iter().map(|&x| show(x - settings.past)).collect();
        let how = "from the print's edge; a minus lies before it";
        s.add("lanes begin at", Quantity::Words(starts.join(", ")), how, Source::Arithmetic);
        let on_seams = lanes_on_seams(&lanes, seams, along, settings);
        if on_seams > 0 {
            s.warn(format!(
                "{} of {} lane overlaps lie on a film seam, where a faint line could show twice; shift the lanes or change the overlap.",
                on_seams,
                n - 1
            ));
        }
        s.note("Wipe the blade's ends between lanes: where lanes overlap the ink lies twice.");
    }
    let run = if along { "along" } else { "across" };
    s.note(format!(
        "The blade runs {run} the garment: it rides over sewn seams that lie {} its way; lay them flat or pad beside them.",
        if along { "across" } else { "along the garment, across" }
    ));
    s.drawings.push(drawing(film, &lanes, seams, settings));
    s
}

/// The film with its seams, and over it the lanes, darker where two of them overlap.
fn drawing(film: Size, lanes: &Strokes, seams: &[Rect], settings: &SqueegeeSettings) -> Drawing {
    let mut d = Drawing::new("Lanes of the squeegee over the film and its seams", film);
    let along = settings.direction == Stroke::Along;
    // As if the blade ran down; turned where it runs across.
    let turned = |r: Rect| match along {
        true => r,
        false => Rect::new(Point::new(r.top(), r.left()), r.size.turned()),
    };
    let long = if along { film.height } else { film.width } + settings.past * 2.0;
    let lane = |start: Length, width: Length| {
        let origin = Point::new(start - settings.past, -settings.past);
        turned(Rect::new(origin, Size::new(width, long)))
    };
    let all: Vec<Rect> = lanes.starts.iter().map(|&s| lane(s, settings.blade)).collect();
    for rect in &all {
        d.fill(*rect, 0.10);
    }
    for &start in lanes.starts.iter().skip(1) {
        d.fill(lane(start, lanes.overlap), 0.25);
    }
    for (i, rect) in all.iter().enumerate() {
        d.outline(*rect, Pen::Thin);
        let c = rect.center();
        let (from, to) = if along {
            let reach = rect.size.height * 0.4;
            (Point::new(c.x, c.y - reach), Point::new(c.x, c.y + reach))
        } else {
            let reach = rect.size.width * 0.4;
            (Point::new(c.x - reach, c.y), Point::new(c.x + reach, c.y))
        };
        d.measure(from, to, format!("lane {}", i + 1));
    }
    for seam in seams {
        d.outline(*seam, Pen::Dashed);
    }
    d.outline(Rect::new(Point::default(), film), Pen::Bold);
    let corners = all.iter().flat_map(|r| [r.origin, Point::new(r.right(), r.bottom())]);
    let (mut low, mut high) = (Point::default(), Point::new(film.width, film.height));
    for p in corners {
        low = Point::new(low.x.min(p.x), low.y.min(p.y));
        high = Point::new(high.x.max(p.x), high.y.max(p.y));
    }
    d.area = Rect::between(low, high);
    d
}

fn lanes_on_seams(
    lanes: &Strokes,
    seams: &[Rect],
    along: bool,
    settings: &SqueegeeSettings,
) -> usize {
    let blade = settings.blade;
    lanes
        .starts
        .iter()
        .skip(1)
        .filter(|&&start| {
            let (low, high) = (start - settings.past, start - settings.past + lanes.overlap);
            seams.iter().any(|seam| {
                let upright = seam.size.height >= seam.size.width;
                let (a, b) =
                    if along { (seam.left(), seam.right()) } else { (seam.top(), seam.bottom()) };
                upright == along && a < high && b > low && b - a < blade
            })
        })
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::Point;

    fn mm(v: f64) -> Length {
        Length::mm(v)
    }

    #[test]
    fn the_fewest_strokes_cover_all() {
        for (w, l, o, n) in [
            (900.0, 500.0, 50.0, 2),
            (950.0, 500.0, 50.0, 2),
            (951.0, 500.0, 50.0, 3),
            (400.0, 500.0, 50.0, 1),
        ] {
            let s = strokes(mm(w), mm(l), mm(o)).unwrap();
            assert_eq!(s.starts.len(), n, "{w}");
            let last = *s.starts.last().unwrap() + mm(l);
            assert!(s.starts[0] <= mm(1e-9) && last >= mm(w - 1e-9), "{w}");
            assert!(n == 1 || s.overlap >= mm(o - 1e-9), "{w}");
        }
        assert_eq!(strokes(mm(900.0), mm(50.0), mm(50.0)), None);
        assert_eq!(strokes(mm(f64::NAN), mm(50.0), mm(5.0)), None);
    }

    #[test]
    fn lanes_on_film_seams_are_counted() {
        let settings = SqueegeeSettings {
            blade: mm(500.0),
            overlap: mm(50.0),
            past: mm(0.0),
            ..SqueegeeSettings::default()
        };
        let film = Size::new(mm(900.0), mm(700.0));
        // The lanes overlap from 400 to 500 of the width.
        let upright =
            |x: f64| Rect::new(Point::new(mm(x), mm(0.0)), Size::new(mm(12.0), mm(700.0)));
        let lying = Rect::new(Point::new(mm(0.0), mm(420.0)), Size::new(mm(900.0), mm(12.0)));
        let warned = |seam| !section(film, &[seam], &settings, Unit::Mm).warnings.is_empty();
        assert!(warned(upright(450.0)));
        assert!(!warned(upright(300.0)) && !warned(lying));
    }
}
