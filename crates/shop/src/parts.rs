use crate::drawing::Anchor;
use crate::figure::{number, show_length, show_time};
use crate::settings::{choice, settings};
use crate::{Drawing, Error, Lamp, Pen, Quantity, Section, Source, Tones};
use measure::{Length, Point, Rect, Size, Unit};
use serde::{Deserialize, Serialize};

choice! {
    /// What happens to the rest of the screen while the lamp stands over one place.
    pub enum Rest {
        /// All stays open: the pools of light add up, and the lamp's places are chosen so
        /// that the sum is even.
        #[default]
        Open = "open",
        /// The rest is covered, so that only overlap strips get light twice.
        Covered = "covered",
    }
}

settings! {
    /// How a screen larger than the lamp's even light is exposed.
    pub struct PartsSettings {
        /// The least light that any point may get, as a part of the largest.
        even_share: f64 = 0.7, "of one", 0.2..=0.98, Source::Practice;
        /// How far neighbouring parts overlap, where the rest is covered.
        overlap: Length = Length::mm(20.0), "", Length::ZERO..=Length::mm(500.0), Source::Practice;
        /// What happens to the rest of the screen while the lamp stands over one place.
        rest: Rest = Rest::Open, "", (), Source::Practice;
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
    doses_in(screen, lamp, exposures, columns, rows)
}

/// The light over the top-left part of a screen.
fn doses_in(
    part: Size,
    lamp: &Lamp,
    exposures: &[Exposure],
    columns: usize,
    rows: usize,
) -> DoseMap {
    let cell = |whole: Length, i: usize, n: usize| whole * ((i as f64 + 0.5) / n as f64);
    let mut doses = Vec::with_capacity(columns * rows);
    for j in 0..rows {
        for i in 0..columns {
            let p = Point::new(cell(part.width, i, columns), cell(part.height, j, rows));
            let lit = exposures.iter().filter(|e| e.open.contains(p));
            doses.push(lit.map(|e| lamp.relative(p.x - e.lamp.x, p.y - e.lamp.y)).sum());
        }
    }
    DoseMap { columns, rows, doses }
}

/// Divides a screen's printed area among the lamp's places.
///
/// # Errors
/// [`Error::Range`] if the overlap is not smaller than a part, or parts are too many.
pub fn plan_parts(screen: Size, lamp: &Lamp, settings: &PartsSettings) -> Result<Parts, Error> {
    match settings.rest {
        Rest::Open => Ok(plan_open(screen, lamp, settings.even_share)),
        Rest::Covered => plan_covered(screen, lamp, settings),
    }
}

fn plan_covered(screen: Size, lamp: &Lamp, settings: &PartsSettings) -> Result<Parts, Error> {
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
            let open = Rect::new(Point::new(left, top), Size::new(width, height));
            exposures.push(Exposure { lamp: open.center(), open });
        }
    }
    let doses = dose_map(screen, lamp, &exposures, 60, 60);
    Ok(Parts { across, along, exposures, doses })
}

/// The most places in one row that are tried for an open exposure.
const MOST_PLACES: u32 = 5;

/// The fewest places, in an even grid about the middle, whose pools of light add up
/// evenly enough; the most even of all tried if none are.
fn plan_open(screen: Size, lamp: &Lamp, even_share: f64) -> Parts {
    let mut grids: Vec<(u32, u32)> =
        (1..=MOST_PLACES).flat_map(|n| (1..=MOST_PLACES).map(move |m| (n, m))).collect();
    grids.sort_by_key(|&(n, m)| (n * m, n.abs_diff(m)));
    let mut best = (0.0, ((1, 1), (1.0, 1.0)));
    for grid in grids {
        let (share, spread) = best_spread(screen, lamp, grid);
        if share > best.0 + 1e-9 {
            best = (share, (grid, spread));
        }
        if share >= even_share {
            break;
        }
    }
    let (_, ((across, along), spread)) = best;
    let exposures = open_grid(screen, (across, along), spread);
    let doses = dose_map(screen, lamp, &exposures, 60, 60);
    Parts { across, along, exposures, doses }
}

/// The spread of a grid that makes its light most even, one way after the other, and the
/// least dose over the largest.
fn best_spread(screen: Size, lamp: &Lamp, grid: (u32, u32)) -> (f64, (f64, f64)) {
    let tries = |n: u32| if n == 1 { 1 } else { 15 };
    let factor = |k: u32| 0.8 + 0.05 * f64::from(k);
    let evenness = |spread| {
        // The top-left quarter stands for all, since the grid is symmetric.
        let quarter = Size::new(screen.width / 2.0, screen.height / 2.0);
        let map = doses_in(quarter, lamp, &open_grid(screen, grid, spread), 20, 20);
        map.least() / map.most()
    };
    let mut best = (0.0, (1.0, 1.0));
    for turn in 0..2 {
        let (_, (x, y)) = best;
        for k in 0..tries(if turn == 0 { grid.0 } else { grid.1 }) {
            let spread = if turn == 0 { (factor(k), y) } else { (x, factor(k)) };
            let share = evenness(spread);
            if share > best.0 {
                best = (share, spread);
            }
        }
    }
    best
}

fn open_grid(screen: Size, (across, along): (u32, u32), spread: (f64, f64)) -> Vec<Exposure> {
    let open = Rect::new(Point::default(), screen);
    let place = |whole: Length, n: u32, i: u32, spread: f64| {
        whole / 2.0 + whole * ((f64::from(i) - f64::from(n - 1) / 2.0) * spread / f64::from(n))
    };
    let mut exposures = Vec::new();
    for j in 0..along {
        for i in 0..across {
            let x = place(screen.width, across, i, spread.0);
            let y = place(screen.height, along, j, spread.1);
            exposures.push(Exposure { lamp: Point::new(x, y), open });
        }
    }
    exposures
}

impl Parts {
    /// How long each exposure is when `secs` is right straight under one lamp: the middle
    /// of the doses, on the scale of factors, gets the right one.
    pub fn secs_each(&self, secs: f64) -> f64 {
        secs / (self.doses.least() * self.doses.most()).sqrt()
    }

    /// The longest way, along the screen, that light travels from a lamp's axis to a point
    /// it exposes.
    pub fn reach(&self) -> Length {
        let far = self.exposures.iter().map(|e| {
            let x = (e.lamp.x - e.open.left()).max(e.open.right() - e.lamp.x);
            let y = (e.lamp.y - e.open.top()).max(e.open.bottom() - e.lamp.y);
            x.to_mm().hypot(y.to_mm())
        });
        Length::mm(far.fold(0.0, f64::max))
    }
}

/// Equal parts that overlap and end with the whole: the start and length of part `i`.
fn span(whole: Length, n: u32, i: u32, overlap: Length) -> (Length, Length) {
    let part = (whole + overlap * f64::from(n - 1)) / f64::from(n);
    ((part - overlap) * f64::from(i), part)
}

/// The section of the plan on exposing in parts. `exposure` is the right time straight under
/// one lamp, how many times the light the film's overlaps need, and the emulsion's latitude.
pub(crate) fn section(
    screen: Size,
    parts: &Parts,
    lamp: &Lamp,
    exposure: (f64, f64, f64),
    settings: &PartsSettings,
    unit: Unit,
) -> Section {
    let (time_secs, factor, latitude) = exposure;
    let mut s = Section::new("parts", "Exposure in parts");
    let law = Source::Recalled("inverse square and cosine laws; Howell's configuration factors");
    let words = Quantity::Words(settings.rest.name().into());
    s.add("rest of the screen", words, "chosen", Source::Shop);
    match settings.rest {
        Rest::Covered => covered(&mut s, screen, parts, lamp, settings, unit),
        Rest::Open => {
            let how = format!(
                "the fewest even grid of places whose light adds up to {} of the largest or more, up to {MOST_PLACES} a row",
                number(settings.even_share)
            );
            let words = Quantity::Words(format!("{} across, {} along", parts.across, parts.along));
            s.add("places of the lamp", words, how, law);
        }
    }
    let places = |of: &dyn Fn(&Exposure) -> Length| {
        let mut all: Vec<Length> = Vec::new();
        for e in &parts.exposures {
            if !all.contains(&of(e)) {
                all.push(of(e));
            }
        }
        let words: Vec<String> = all.into_iter().map(|l| show_length(l, unit)).collect();
        Quantity::Words(words.join(", "))
    };
    let how = "the lamp's axis from the film's left edge";
    s.add("lamp across at", places(&|e| e.lamp.x), how, Source::Arithmetic);
    let how = "the lamp's axis from the film's upper edge";
    s.add("lamp along at", places(&|e| e.lamp.y), how, Source::Arithmetic);
    let (least, most) = (parts.doses.least(), parts.doses.most());
    let how = "least and largest of 60 \u{d7} 60 points, in exposures straight under the lamp";
    s.add("least dose", Quantity::Factor(least), how, law);
    s.add("largest dose", Quantity::Factor(most), how, law);
    let ratio = most / least;
    let how = format!("{} / {}", number(most), number(least));
    s.add("largest over least", Quantity::Factor(ratio), how, Source::Arithmetic);
    let each = parts.secs_each(time_secs);
    let how =
        format!("{} / \u{221a}({} \u{d7} {})", show_time(time_secs), number(least), number(most));
    s.add("time of each exposure", Quantity::Time(each), how, Source::Arithmetic);
    let n = parts.exposures.len() as f64;
    let how = format!("{n} \u{d7} {}", show_time(each));
    s.add("time of all exposures", Quantity::Time(each * n), how, Source::Arithmetic);
    let several = parts.exposures.len() > 1;
    let spread = ratio * factor;
    if factor > 1.0 {
        let how = format!("{} \u{d7} {} for the film's overlaps", number(ratio), number(factor));
        s.add("with the film's overlaps", Quantity::Factor(spread), how, Source::Arithmetic);
    }
    if spread > latitude {
        s.warn(format!(
            "The light needed and given differs by {} times, more than the emulsion's latitude of {}: {}.",
            number(spread),
            number(latitude),
            match settings.rest {
                Rest::Open => "raise the lamp",
                Rest::Covered => "raise the lamp, leave the rest open, or move the cover slowly to and fro over the strips",
            }
        ));
    }
    match settings.rest {
        Rest::Covered if several => s.note("Overlap strips get light twice, where four parts meet even four times; keep fine detail and film seams off them."),
        Rest::Open if several => s.note("Move the lamp, or turn and shift the screen under it, from place to place; each place gets the same time. Let nothing stand in the light's way."),
        _ => {}
    }
    s.drawings.push(drawing(screen, parts, settings.rest, unit));
    s
}

fn covered(
    s: &mut Section,
    screen: Size,
    parts: &Parts,
    lamp: &Lamp,
    settings: &PartsSettings,
    unit: Unit,
) {
    let show = |l: Length| show_length(l, unit);
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
            "({} - {}) / ({} - {}), rounded up",
            show(whole),
            show(settings.overlap),
            show(side),
            show(settings.overlap)
        );
        s.add(name, Quantity::Count(n.into()), how, Source::Arithmetic);
    }
}

fn drawing(screen: Size, parts: &Parts, rest: Rest, unit: Unit) -> Drawing {
    let mut d =
        Drawing::new("Light over the screen, less where darker, and the lamp's places", screen);
    let map = &parts.doses;
    let (least, most) = (map.least(), map.most());
    // The less light, the darker.
    let dark = |dose: &f64| (most - dose) / (most - least).max(1e-9);
    let inked = map.doses.iter().map(dark).collect();
    d.tones(&Tones { columns: map.columns, inked }, 0.4);
    d.outline(d.area, Pen::Bold);
    for e in parts.exposures.iter().filter(|_| rest == Rest::Covered) {
        d.outline(e.open, Pen::Dashed);
    }
    if let Some(first) = parts.exposures.first().map(|e| e.lamp) {
        let show = |l| show_length(l, unit);
        d.measure(Point::new(Length::ZERO, first.y), first, show(first.x));
        d.measure(Point::new(first.x, Length::ZERO), first, show(first.y));
    }
    for (k, e) in parts.exposures.iter().enumerate() {
        d.label(e.lamp, format!("lamp {}", k + 1), Anchor::Middle);
    }
    for (at, anchor) in dose_places(screen, parts) {
        let cell = |l: Length, whole: Length, n: usize| {
            ((l / whole * n as f64).max(0.0) as usize).min(n.saturating_sub(1))
        };
        let (i, j) = (cell(at.x, screen.width, map.columns), cell(at.y, screen.height, map.rows));
        let dose = map.doses.get(j * map.columns + i).copied().unwrap_or_default();
        d.label(at, format!("\u{d7} {}", number(dose)), anchor);
    }
    d
}

/// Where the dose is written: in the corners, and where the first two parts of a row and of a
/// column meet or overlap.
fn dose_places(screen: Size, parts: &Parts) -> Vec<(Point, Anchor)> {
    let at = |x: f64, y: f64| Point::new(screen.width * x, screen.height * y);
    let mut places: Vec<(Point, Anchor)> = [0.02, 0.98]
        .into_iter()
        .flat_map(|y| [(at(0.02, y), Anchor::Left), (at(0.98, y), Anchor::Right)])
        .collect();
    let middle = |low: Length, high: Length| (low + high) / 2.0;
    let between = |k: usize| Some((parts.exposures.first()?, parts.exposures.get(k)?));
    if let Some((a, b)) = between(parts.across as usize).filter(|_| parts.along > 1) {
        let y = middle(a.open.bottom().min(b.open.bottom()), b.open.top().max(a.open.top()));
        places.push((Point::new(screen.width * 0.08, y), Anchor::Middle));
    }
    if let Some((a, b)) = between(1).filter(|_| parts.across > 1) {
        let x = middle(a.open.right().min(b.open.right()), b.open.left().max(a.open.left()));
        places.push((Point::new(x, screen.height * 0.05), Anchor::Middle));
    }
    places
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

    /// The strip where two covered parts overlap is outlined by both, and the dose written in it
    /// is the one there.
    #[test]
    fn an_overlap_strip_is_drawn_with_its_dose() {
        let lamp = Lamp { distance: MM(800.0), ..Lamp::default() };
        let settings =
            PartsSettings { rest: Rest::Covered, overlap: MM(80.0), ..PartsSettings::default() };
        let screen = Size::new(MM(1050.0), MM(500.0));
        let parts = plan_parts(screen, &lamp, &settings).unwrap();
        assert_eq!((parts.across, parts.along), (2, 1));
        let d = drawing(screen, &parts, Rest::Covered, Unit::Mm);
        let strip = parts.exposures[0].open.intersect(parts.exposures[1].open).unwrap();
        let outlined = |r: Rect| d.shapes.contains(&crate::Shape::Outline(r, Pen::Dashed));
        assert!(parts.exposures.iter().all(|e| outlined(e.open)));
        let words = d.shapes.iter().find_map(|shape| match shape {
            crate::Shape::Label { at, text, .. } if strip.contains(*at) => Some(text.clone()),
            _ => None,
        });
        let dose: f64 = words.unwrap().trim_start_matches("\u{d7} ").parse().unwrap();
        // Both lamps light the strip's middle alike: twice what one gives there, cos^3 of the
        // angle to it.
        let at = Point::new(strip.center().x, screen.height * 0.05);
        let (x, y) = (at.x - parts.exposures[0].lamp.x, at.y - parts.exposures[0].lamp.y);
        let cosine = 800.0 / (x.to_mm().powi(2) + y.to_mm().powi(2) + 800.0_f64.powi(2)).sqrt();
        assert!((dose / (2.0 * cosine.powi(3)) - 1.0).abs() < 0.02, "{dose} {cosine}");
    }

    #[test]
    fn every_point_gets_light_or_the_plan_is_refused() {
        let screen = Size::new(MM(1100.0), MM(950.0));
        let covered = PartsSettings { rest: Rest::Covered, ..PartsSettings::default() };
        let parts = plan_parts(screen, &Lamp::default(), &covered).unwrap();
        assert!(parts.doses.least() >= 0.69, "{}", parts.doses.least());
        for kind in [LampKind::Bulb, LampKind::Flat, LampKind::Panel, LampKind::Strip] {
            let lamp = Lamp { kind, ..Lamp::default() };
            let parts = plan_parts(screen, &lamp, &PartsSettings::default()).unwrap();
            let share = parts.doses.least() / parts.doses.most();
            assert!(share > 0.69 && parts.exposures.len() < 17, "{kind:?}: {share}");
        }
        // A high lamp lights all at once.
        let high = Lamp { distance: MM(2200.0), ..Lamp::default() };
        let parts = plan_parts(screen, &high, &PartsSettings::default()).unwrap();
        assert_eq!(parts.exposures.len(), 1);
        assert!((parts.reach().to_mm() - 1100.0_f64.hypot(950.0) / 2.0).abs() < 1e-9);
        let wide = PartsSettings { overlap: MM(500.0), ..covered.clone() };
        assert!(plan_parts(screen, &Lamp::default(), &wide).is_err());
        let near = Lamp { distance: MM(10.0), ..Lamp::default() };
        let none = PartsSettings { overlap: MM(0.0), ..covered };
        assert!(plan_parts(screen, &near, &none).is_err());
    }
}
