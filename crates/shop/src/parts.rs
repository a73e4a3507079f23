use crate::drawing::Anchor;
use crate::figure::{number, show_length, show_time};
use crate::settings::{choice, settings};
use crate::{Drawing, Error, Lamp, Pen, Quantity, Section, Source};
use measure::{Length, Point, Rect, Size, Unit};
use serde::{Deserialize, Serialize};

choice! {
    /// What happens to the rest of the screen while one part is exposed.
    pub enum Rest {
        /// The rest is covered, so that only overlap strips get light twice.
        #[default]
        Covered = "covered",
        /// The rest stays open and gets what stray light there is.
        Open = "open",
    }
}

settings! {
    /// How a screen larger than the lamp's even light is exposed.
    pub struct PartsSettings {
        /// The least light at a part's corner, as a part of that in its middle.
        even_share: f64 = 0.7, "of one", 0.2..=0.98, Source::Practice;
        /// How far neighbouring parts overlap.
        overlap: Length = Length::mm(50.0), "", Length::ZERO..=Length::mm(500.0), Source::Practice;
        /// What happens to the rest of the screen while one part is exposed.
        rest: Rest = Rest::Covered, "", (), Source::Practice;
    }
}

/// One exposure: where the lamp stands and which part of the screen is open.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Exposure {
    /// Where the lamp's axis meets the screen.
    pub lamp: Point,
    /// The open part of the screen.
    pub open: Rect,
}

/// An exposure in parts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Parts {
    /// How many parts lie across.
    pub across: u32,
    /// How many parts lie along.
    pub along: u32,
    /// The exposures, row by row from the top left.
    pub exposures: Vec<Exposure>,
    /// The light at each point of the screen.
    pub doses: DoseMap,
}

/// The light over a screen, in exposures of the lamp on its axis: 1 is what the
/// tested time gives straight under the lamp.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DoseMap {
    /// Points across.
    pub columns: usize,
    /// Points along.
    pub rows: usize,
    /// The doses, row by row; point (i, j) is the middle of its cell.
    pub doses: Vec<f64>,
}

impl DoseMap {
    /// The least dose.
    pub fn least(&self) -> f64 {
        self.doses.iter().copied().fold(f64::INFINITY, f64::min)
    }
    /// The largest dose.
    pub fn most(&self) -> f64 {
        self.doses.iter().copied().fold(0.0, f64::max)
    }
    /// The mean dose.
    pub fn mean(&self) -> f64 {
        self.doses.iter().sum::<f64>() / self.doses.len() as f64
    }
}

/// How many parts of length `part` cover `whole`, each overlapping the next by `overlap`:
/// ⌈(L − o)/(A − o)⌉.
pub fn parts_along(whole: Length, part: Length, overlap: Length) -> u32 {
    if whole.fits(part) {
        return 1;
    }
    let n = ((whole - overlap) / (part - overlap) - 1e-9).ceil();
    n.clamp(1.0, 1000.0) as u32
}

/// The light over a screen from a number of exposures.
pub fn dose_map(
    screen: Size,
    lamp: &Lamp,
    exposures: &[Exposure],
    columns: usize,
    rows: usize,
) -> DoseMap {
    let cell = |whole: Length, i: usize, n: usize| whole * ((i as f64 + 0.5) / n as f64);
    let mut doses = Vec::with_capacity(columns * rows);
    for j in 0..rows {
        for i in 0..columns {
            let p = Point::new(cell(screen.width, i, columns), cell(screen.height, j, rows));
            let lit = exposures.iter().filter(|e| e.open.contains(p));
            doses.push(lit.map(|e| lamp.relative(p.x - e.lamp.x, p.y - e.lamp.y)).sum());
        }
    }
    DoseMap { columns, rows, doses }
}

/// Divides a screen's printed area into parts that the lamp lights evenly enough.
///
/// # Errors
/// [`Error::Range`] if the overlap is not smaller than a part, or parts are too many.
pub fn plan_parts(screen: Size, lamp: &Lamp, settings: &PartsSettings) -> Result<Parts, Error> {
    let part = lamp.even_side(settings.even_share);
    if part <= settings.overlap * 1.05 {
        return Err(Error::Range {
            what: "overlap of the parts".into(),
            got: settings.overlap.show(Unit::Mm),
            low: "0 mm".into(),
            high: (part * 0.95).show(Unit::Mm),
        });
    }
    let across = parts_along(screen.width, part, settings.overlap);
    let along = parts_along(screen.height, part, settings.overlap);
    if across * along > 400 {
        return Err(Error::TooMany { count: format!("{across} \u{d7} {along} parts"), most: 400 });
    }
    let mut exposures = Vec::new();
    for j in 0..along {
        let (top, height) = span(screen.height, along, j, settings.overlap);
        for i in 0..across {
            let (left, width) = span(screen.width, across, i, settings.overlap);
            let part = Rect::new(Point::new(left, top), Size::new(width, height));
            let open = match settings.rest {
                Rest::Covered => part,
                Rest::Open => Rect::new(Point::default(), screen),
            };
            exposures.push(Exposure { lamp: part.center(), open });
        }
    }
    let doses = dose_map(screen, lamp, &exposures, 60, 60);
    Ok(Parts { across, along, exposures, doses })
}

/// Equal parts that overlap and end with the whole: the start and length of part `i`.
fn span(whole: Length, n: u32, i: u32, overlap: Length) -> (Length, Length) {
    let part = (whole + overlap * f64::from(n - 1)) / f64::from(n);
    ((part - overlap) * f64::from(i), part)
}

/// The section of the plan on exposing in parts.
pub(crate) fn section(
    screen: Size,
    parts: &Parts,
    lamp: &Lamp,
    time_secs: f64,
    latitude: f64,
    settings: &PartsSettings,
    unit: Unit,
) -> Section {
    let show = |l: Length| show_length(l, unit);
    let mut s = Section::new("parts", "Exposure in parts");
    let side = lamp.even_side(settings.even_share);
    let how = format!(
        "square whose corners get {} of the light on the axis of a {} at {}",
        number(settings.even_share),
        lamp.kind.name(),
        show(lamp.distance)
    );
    let law = Source::Recalled("inverse square and cosine laws; Howell's configuration factors");
    s.add("evenly lit square", Quantity::Length(side), how, law);
    for (name, n, whole) in
        [("parts across", parts.across, screen.width), ("parts along", parts.along, screen.height)]
    {
        let how = format!(
            "\u{2308}({} - {}) / ({} - {})\u{2309}",
            show(whole),
            show(settings.overlap),
            show(side),
            show(settings.overlap)
        );
        s.add(name, Quantity::Count(n.into()), how, Source::Arithmetic);
    }
    let (least, most) = (parts.doses.least(), parts.doses.most());
    let how = "least and largest of 60 \u{d7} 60 points, in exposures straight under the lamp";
    s.add("least dose", Quantity::Factor(least), how, law);
    s.add("largest dose", Quantity::Factor(most), how, law);
    let ratio = most / least;
    let how = format!("{} / {}", number(most), number(least));
    s.add("largest over least", Quantity::Factor(ratio), how, Source::Arithmetic);
    // The middle of the doses, on the scale of factors, gets the tested time's dose.
    let each = time_secs / (least * most).sqrt();
    let how =
        format!("{} / \u{221a}({} \u{d7} {})", show_time(time_secs), number(least), number(most));
    s.add("time of each exposure", Quantity::Time(each), how, Source::Arithmetic);
    let n = parts.exposures.len() as f64;
    let how = format!("{n} \u{d7} {}", show_time(each));
    s.add("time of all exposures", Quantity::Time(each * n), how, Source::Arithmetic);
    if ratio > latitude {
        s.warn(format!(
            "The doses differ by {} times, more than the emulsion's latitude of {}: raise the lamp, make smaller parts{} or spread them by moving the cover slowly.",
            number(ratio),
            number(latitude),
            if settings.rest == Rest::Covered && parts.exposures.len() > 1 {
                ", narrow the overlap strips"
            } else {
                ""
            }
        ));
    }
    if parts.exposures.len() > 1 && settings.rest == Rest::Covered {
        s.note("Overlap strips get light twice, where four parts meet even four times; keep fine detail and film seams off them.");
    }
    s.drawings.push(drawing(screen, parts, unit));
    s
}

fn drawing(screen: Size, parts: &Parts, unit: Unit) -> Drawing {
    let mut d = Drawing::new("Dose over the screen and lamp positions", screen);
    let map = &parts.doses;
    let (w, h) = (screen.width / map.columns as f64, screen.height / map.rows as f64);
    let (least, most) = (map.least(), map.most());
    for (k, dose) in map.doses.iter().enumerate() {
        let (i, j) = ((k % map.columns) as f64, (k / map.columns) as f64);
        let tone = if most > least { 0.4 * (most - dose) / (most - least) } else { 0.0 };
        d.fill(Rect::new(Point::new(w * i, h * j), Size::new(w, h)), tone);
    }
    d.outline(d.area, Pen::Bold);
    for (k, e) in parts.exposures.iter().enumerate() {
        d.outline(e.open, Pen::Dashed);
        let words = format!(
            "{}: {} \u{d7} {}",
            k + 1,
            show_length(e.lamp.x, unit),
            show_length(e.lamp.y, unit)
        );
        d.label(e.lamp, words, Anchor::Middle);
    }
    let share = |i: usize, j: usize| number(map.doses[j * map.columns + i]);
    let (c, r) = (map.columns, map.rows);
    for (i, j) in [(2, 1), (c - 3, 1), (2, r - 2), (c - 3, r - 2)] {
        let p = Point::new(w * (i as f64 + 0.5), h * (j as f64 + 0.5));
        let anchor = if i < c / 2 { Anchor::Left } else { Anchor::Right };
        d.label(p, share(i, j), anchor);
    }
    // The dose where the first two parts overlap.
    if parts.across > 1 {
        let (a, b) = (parts.exposures[0], parts.exposures[1]);
        let x = (a.open.right().min(b.open.right()) + b.open.left().max(a.open.left())) / 2.0;
        let i = ((x / w) as usize).min(c - 1);
        d.label(Point::new(x, h * 3.0), share(i, 3), Anchor::Middle);
    }
    d
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::LampKind;

    const MM: fn(f64) -> Length = Length::mm;

    #[test]
    fn parts_cover_the_whole() {
        // 900 from parts of 500 with 50 of overlap: 2.
        assert_eq!(parts_along(MM(900.0), MM(500.0), MM(50.0)), 2);
        assert_eq!(parts_along(MM(950.0), MM(500.0), MM(50.0)), 2);
        assert_eq!(parts_along(MM(951.0), MM(500.0), MM(50.0)), 3);
        assert_eq!(parts_along(MM(500.0), MM(500.0), MM(50.0)), 1);
        let (start, length) = span(MM(900.0), 2, 1, MM(50.0));
        assert_eq!((start.to_mm(), length.to_mm()), (425.0, 475.0));
    }

    fn two_open(xs: [f64; 2]) -> Vec<Exposure> {
        let open = Rect::new(Point::default(), Size::new(MM(900.0), MM(700.0)));
        xs.map(|x| Exposure { lamp: Point::new(MM(x), MM(350.0)), open }).to_vec()
    }

    #[test]
    fn the_mean_dose_matches_numerical_integration() {
        let screen = Size::new(MM(900.0), MM(700.0));
        // scipy 1.17 integrate.dblquad over 900 x 700, lamps at 225 and 675, 500 away.
        for (kind, mean) in [(LampKind::Bulb, 1.1372447098), (LampKind::Flat, 0.9778942046)] {
            let lamp = Lamp { kind, ..Lamp::default() };
            let map = dose_map(screen, &lamp, &two_open([225.0, 675.0]), 200, 200);
            assert!((map.mean() / mean - 1.0).abs() < 1e-4, "{kind:?}: {}", map.mean());
        }
        // Two panels of 400 x 600 at 300, at 250 and 650: the mean of dblquad's values at
        // 30 x 20 cell middles, over the value on the axis.
        let lamp = Lamp {
            kind: LampKind::Panel,
            distance: MM(300.0),
            width: MM(400.0),
            length: MM(600.0),
        };
        let map = dose_map(screen, &lamp, &two_open([250.0, 650.0]), 30, 20);
        let mean = 0.416_591_846_1 / 0.443_366_996_3;
        assert!((map.mean() - mean).abs() < 1e-8, "{}", map.mean());
    }

    #[test]
    fn a_covered_strip_gets_twice_the_light_and_no_more() {
        let lamp = Lamp { kind: LampKind::Bulb, distance: MM(5000.0), ..Lamp::default() };
        let rect = |x, w| Rect::new(Point::new(MM(x), MM(0.0)), Size::new(MM(w), MM(700.0)));
        let parts = [rect(0.0, 475.0), rect(425.0, 475.0)];
        let exposures = parts.map(|open| Exposure { lamp: open.center(), open });
        let map = dose_map(Size::new(MM(900.0), MM(700.0)), &lamp, &exposures, 180, 7);
        // The upper bound is two exposures: two wedge steps.
        assert!(map.most() <= 2.0 && map.most() > 1.98, "{}", map.most());
        let twice = map.doses.iter().filter(|d| **d > 1.5).count();
        assert_eq!(twice, 10 * 7, "50 of 900 mm are ten columns");
    }

    #[test]
    fn every_point_gets_light_or_the_plan_is_refused() {
        let screen = Size::new(MM(1100.0), MM(950.0));
        for rest in [Rest::Covered, Rest::Open] {
            let settings = PartsSettings { rest, ..PartsSettings::default() };
            let parts = plan_parts(screen, &Lamp::default(), &settings).unwrap();
            assert!(parts.doses.least() >= 0.69, "{rest:?}: {}", parts.doses.least());
        }
        let wide = PartsSettings { overlap: MM(500.0), ..PartsSettings::default() };
        assert!(plan_parts(screen, &Lamp::default(), &wide).is_err());
        let near = Lamp { distance: MM(10.0), ..Lamp::default() };
        let none = PartsSettings { overlap: MM(0.0), ..PartsSettings::default() };
        assert!(plan_parts(screen, &near, &none).is_err());
    }
}
