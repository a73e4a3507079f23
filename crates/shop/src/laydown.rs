use crate::drawing::Anchor;
use crate::figure::show_length;
use crate::settings::{choice, settings};
use crate::{Drawing, FramePlan, Pen, Quantity, Section, Shape, Source};
use measure::{Length, Point, Rect, Size, Unit};
use serde::{Deserialize, Serialize};

choice! {
    /// What stays in place when the garment's size changes.
    pub enum Align {
        /// Every size lies with its collar on the same line.
        #[default]
        Collar = "collar",
        /// Every size lies with its middle on the same place.
        Middle = "middle",
    }
}

settings! {
    /// Where the screen turns and the garment lies.
    pub struct LaydownSettings {
        /// The pivot's line beyond the frame's upper edge.
        pivot_beyond: Length = Length::ZERO, "", Length::ZERO..=Length::mm(500.0), Source::Shop;
        /// The gap between mesh and garment before the stroke.
        off_contact: Length = Length::mm(3.0), "", Length::ZERO..=Length::mm(20.0), Source::Practice;
        /// The bare table around everything.
        table_margin: Length = Length::mm(50.0), "", Length::ZERO..=Length::mm(1000.0), Source::Practice;
    }
}

/// A garment as it lies flat. Measure it; never take it from body tables.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GarmentSize {
    /// What the size is called.
    pub name: String,
    /// The width from side to side below the sleeves.
    pub half_chest: Length,
    /// The length from collar to hem in the middle.
    pub length: Length,
    /// The outline, its origin in the middle of the collar; a rectangle if left empty.
    pub outline: Vec<Point>,
    /// The film's top-left corner from the middle of the collar.
    pub film_at: Point,
    /// The black of the film that falls on this size, in m².
    pub ink_area_m2: f64,
}

impl GarmentSize {
    fn body(&self) -> Rect {
        let origin = Point::new(-self.half_chest / 2.0, Length::ZERO);
        Rect::new(origin, Size::new(self.half_chest, self.length))
    }
}

/// Where one size lies on the table, from the middle of the pivot's line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lie {
    /// The size.
    pub name: String,
    /// The middle of the collar: right of the middle, and below the pivot.
    pub collar: Point,
    /// The hem below the pivot.
    pub hem: Length,
    /// The sides, left and right of the middle; left is negative.
    pub sides: (Length, Length),
    /// How far the film reaches past the garment: left, right, above the collar, below the
    /// hem. Negative where cloth stays free.
    pub past: [Length; 4],
}

/// Where each size lies when the film sits in the middle of the frame and the frame turns
/// about its upper edge.
pub fn lay(
    film: Size,
    frame: &FramePlan,
    garments: &[GarmentSize],
    settings: &LaydownSettings,
) -> Vec<Lie> {
    let film_left = -film.width / 2.0;
    let film_top = settings.pivot_beyond + (frame.outside.height - film.height) / 2.0;
    garments
        .iter()
        .map(|g| {
            let body = g.body();
            let collar = Point::new(film_left - g.film_at.x, film_top - g.film_at.y);
            let (left, right) = (collar.x + body.left(), collar.x + body.right());
            let hem = collar.y + g.length;
            let past = [
                left - film_left,
                film_left + film.width - right,
                collar.y - film_top,
                film_top + film.height - hem,
            ];
            Lie { name: g.name.clone(), collar, hem, sides: (left, right), past }
        })
        .collect()
}

/// The lay-down section of the plan, with the table drawn to scale.
pub(crate) fn section(
    film: Size,
    frame: &FramePlan,
    garments: &[GarmentSize],
    settings: &LaydownSettings,
    unit: Unit,
) -> Section {
    let show = |l: Length| show_length(l, unit);
    let mut s = Section::new("laydown", "Lay-down");
    let top = settings.pivot_beyond + (frame.outside.height - film.height) / 2.0;
    let how = format!(
        "pivot {} + (frame {} - film {}) / 2",
        show(settings.pivot_beyond),
        show(frame.outside.height),
        show(film.height)
    );
    s.add("pivot to top of film", Quantity::Length(top), how, Source::Arithmetic);
    let how = format!("frame {} / 2, on its upper and lower side", show(frame.outside.width));
    let half = Quantity::Length(frame.outside.width / 2.0);
    s.add("centre marks from the frame's corners", half, how, Source::Arithmetic);
    let lies = lay(film, frame, garments, settings);
    for (garment, lie) in garments.iter().zip(&lies) {
        size(&mut s, garment, lie, settings, unit);
    }
    let off = Quantity::Length(settings.off_contact);
    s.add("off contact", off, "shims under the frame", Source::Practice);
    let table = extent(frame, garments, &lies, settings);
    for (name, value) in [("table width", table.size.width), ("table length", table.size.height)] {
        let how = format!("frame and all sizes + {} around", show(settings.table_margin));
        s.add(name, Quantity::Length(value), how, Source::Arithmetic);
    }
    if lies.iter().any(|l| l.past.iter().any(|p| *p > Length::ZERO)) {
        s.warn("The film reaches past the garment: cover the table with paper there and change it after every print.");
    }
    if lies.len() > 1 {
        let spread = |i: usize| {
            let all = lies.iter().map(|l| l.past[i].to_mm());
            all.clone().fold(f64::MIN, f64::max) - all.fold(f64::MAX, f64::min)
        };
        s.note(format!(
            "Over the sizes the print's place at a side changes by {} and at the hem by {}.",
            show(Length::mm(spread(0).max(spread(1)))),
            show(Length::mm(spread(3)))
        ));
        s.note("Tape each size's collar, hem and side marks in a tape of its own and write the size on it.");
    }
    s.note("Tape down the pivot's line, the centre line and the collar line first; each garment is laid to the last two.");
    let plan = Table { film, frame, garments, lies: &lies, area: table, settings, unit };
    s.drawings.push(plan.drawing("Table or floor, to scale", None));
    if lies.len() > 1 {
        for (i, lie) in lies.iter().enumerate() {
            s.drawings.push(plan.drawing(&format!("Where {} lies", lie.name), Some(i)));
        }
    }
    s
}

/// What is taped down for one size.
fn size(s: &mut Section, garment: &GarmentSize, lie: &Lie, settings: &LaydownSettings, unit: Unit) {
    let show = |l: Length| show_length(l, unit);
    let name = &lie.name;
    let side = |l: Length, low: &str, high: &str| {
        format!("{} {}", show(l.abs()), if l < Length::ZERO { low } else { high })
    };
    let place = format!(
        "{}, {}",
        side(garment.film_at.x, "left of the middle", "right of the middle"),
        side(garment.film_at.y, "above the collar", "below the collar")
    );
    let mut add = |what: &str, value: Quantity, how: &str| {
        s.add(format!("{name}: {what}"), value, how, Source::Arithmetic);
    };
    let how = "its top-left corner from the middle of the collar";
    add("film on the garment", Quantity::Words(place), how);
    let how = "top of film less the film's place below the collar";
    add("pivot to collar", Quantity::Length(lie.collar.y), how);
    let how = format!("pivot to collar - pivot beyond the frame {}", show(settings.pivot_beyond));
    let down = lie.collar.y - settings.pivot_beyond;
    add("frame's upper edge to collar", Quantity::Length(down), &how);
    add("pivot to hem", Quantity::Length(lie.hem), "pivot to collar + length");
    let sides = format!("{} left, {} right", show(-lie.sides.0), show(lie.sides.1));
    let how = "half chest / 2 either side of the garment's middle";
    add("centre line to sides", Quantity::Words(sides), how);
    let sides = ["left", "right", "collar", "hem"];
    let words: Vec<String> = lie
        .past
        .iter()
        .zip(sides)
        .map(|(&past, side)| match past {
            p if p > Length::ZERO => format!("{side} {} past", show(p)),
            p => format!("{side} {} free", show(-p)),
        })
        .collect();
    let how = "film's edge against the garment's edge";
    add("film and garment", Quantity::Words(words.join(", ")), how);
}

fn extent(
    frame: &FramePlan,
    garments: &[GarmentSize],
    lies: &[Lie],
    settings: &LaydownSettings,
) -> Rect {
    let half = frame.outside.width / 2.0;
    let bottom = settings.pivot_beyond + frame.outside.height;
    let mut all = Rect::between(Point::new(-half, Length::ZERO), Point::new(half, bottom));
    for (g, lie) in garments.iter().zip(lies) {
        for p in corners(g) {
            let p = p + lie.collar;
            let low = Point::new(all.left().min(p.x), all.top().min(p.y));
            let high = Point::new(all.right().max(p.x), all.bottom().max(p.y));
            all = Rect::between(low, high);
        }
    }
    all.grown(settings.table_margin)
}

fn corners(g: &GarmentSize) -> Vec<Point> {
    if g.outline.len() >= 3 {
        return g.outline.clone();
    }
    let b = g.body();
    vec![
        b.origin,
        Point::new(b.right(), b.top()),
        Point::new(b.right(), b.bottom()),
        Point::new(b.left(), b.bottom()),
    ]
}

/// All that the plan of the table is drawn from.
struct Table<'a> {
    film: Size,
    frame: &'a FramePlan,
    garments: &'a [GarmentSize],
    lies: &'a [Lie],
    area: Rect,
    settings: &'a LaydownSettings,
    unit: Unit,
}

impl Table<'_> {
    /// The table with one size and what is measured for it, or with all of them.
    fn drawing(&self, title: &str, only: Option<usize>) -> Drawing {
        let Self { film, frame, area, settings, .. } = *self;
        let mut d = Drawing::new(title, area.size);
        d.area = area;
        d.outline(area, Pen::Thin);
        let shown = |i: &usize| only.is_none_or(|o| o == *i);
        for i in (0..self.lies.len()).filter(shown) {
            self.garment(&mut d, i);
        }
        let half = frame.outside.width / 2.0;
        let top = settings.pivot_beyond;
        let outer = Rect::new(Point::new(-half, top), frame.outside);
        let wood = (frame.outside.width - frame.inside.width) / 2.0;
        d.outline(outer, Pen::Bold);
        d.outline(outer.grown(-wood), Pen::Thin);
        let film_top = top + (frame.outside.height - film.height) / 2.0;
        let film_rect = Rect::new(Point::new(-film.width / 2.0, film_top), film);
        d.outline(film_rect, Pen::Dashed);
        let edge = Point::new(
            film_rect.left() + film.width * 0.02,
            film_rect.bottom() - film.height * 0.04,
        );
        d.label(edge, "film", Anchor::Left);
        let middle = Point::new(Length::ZERO, area.top());
        d.line(middle, Point::new(Length::ZERO, area.bottom()), Pen::Dashed);
        let foot = Point::new(Length::ZERO, area.bottom() - area.size.height * 0.015);
        d.label(foot, "centre line", Anchor::Left);
        self.across(&mut d, Length::ZERO, "pivot", Pen::Bold);
        let measured = match self.lies {
            [_] => Some(0),
            _ => only,
        };
        match measured.and_then(|i| self.lies.get(i)) {
            Some(lie) => self.measures(&mut d, lie),
            None if self.lies.is_empty() => {
                let x = film.width * 0.3;
                let (from, to) = (Point::new(x, Length::ZERO), Point::new(x, film_top));
                d.measure(from, to, show_length(film_top, self.unit));
            }
            None => {}
        }
        let mut collars: Vec<Length> = Vec::new();
        for lie in (0..self.lies.len()).filter(shown).map(|i| &self.lies[i]) {
            if !collars.iter().any(|y| (*y - lie.collar.y).abs() < Length::mm(0.5)) {
                collars.push(lie.collar.y);
            }
        }
        for y in collars {
            let of = |lie: &&Lie| (lie.collar.y - y).abs() < Length::mm(0.5);
            let names: Vec<&str> =
                self.lies.iter().filter(of).map(|lie| lie.name.as_str()).collect();
            let all = names.len() == self.lies.len() || only.is_some();
            let words =
                if all { "collar line".into() } else { format!("collar {}", names.join(", ")) };
            self.across(&mut d, y, &words, Pen::Dashed);
        }
        d
    }

    fn garment(&self, d: &mut Drawing, i: usize) {
        let (g, lie) = (&self.garments[i], &self.lies[i]);
        let points = corners(g).into_iter().map(|p| p + lie.collar).collect();
        d.shapes.push(Shape::Path { points, closed: true, pen: Pen::Thin });
        // Beside the other sizes' names, where hems lie close together.
        let beside = 0.35 - 0.22 * (i % 4) as f64;
        let at = Point::new(lie.collar.x + g.half_chest * beside, lie.hem);
        d.label(at, lie.name.clone(), Anchor::Middle);
    }

    /// A line over the whole table, its name at the left.
    fn across(&self, d: &mut Drawing, y: Length, words: &str, pen: Pen) {
        let area = self.area;
        d.line(Point::new(area.left(), y), Point::new(area.right(), y), pen);
        let at = Point::new(area.left() + area.size.width * 0.02, y);
        d.label(at, words, Anchor::Left);
    }

    /// What is measured from the pivot and the centre line for one size.
    fn measures(&self, d: &mut Drawing, lie: &Lie) {
        let show = |l: Length| show_length(l, self.unit);
        let x = self.frame.outside.width * 0.375;
        let down = |x: Length, y: Length| (Point::new(x, Length::ZERO), Point::new(x, y));
        let (from, to) = down(x, lie.collar.y);
        d.measure(from, to, format!("collar {}", show(lie.collar.y)));
        let (from, to) = down(-x, lie.hem);
        d.measure(from, to, format!("hem {}", show(lie.hem)));
        let y = lie.collar.y + (lie.hem - lie.collar.y) * 0.6;
        for side in [lie.sides.0, lie.sides.1] {
            d.measure(Point::new(Length::ZERO, y), Point::new(side, y), show(side.abs()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FrameSettings, plan_frame};

    fn mm(v: f64) -> Length {
        Length::mm(v)
    }

    fn garment(name: &str, half_chest: f64, length: f64) -> GarmentSize {
        GarmentSize {
            name: name.into(),
            half_chest: mm(half_chest),
            length: mm(length),
            outline: vec![],
            // The film's left edge lies 500 left of the collar's middle, its top 50 above.
            film_at: Point::new(mm(-500.0), mm(-50.0)),
            ink_area_m2: 0.3,
        }
    }

    #[test]
    fn the_distances_add_up() {
        let film = Size::new(mm(1000.0), mm(900.0));
        let settings = FrameSettings {
            free_across: mm(100.0),
            free_along: mm(200.0),
            wood_width: mm(40.0),
            ..FrameSettings::default()
        };
        let frame = plan_frame(film, &settings).unwrap();
        let mut garments = [garment("M", 520.0, 730.0), garment("2XL", 660.0, 810.0)];
        let lies = lay(film, &frame, &garments, &LaydownSettings::default());
        // Frame 1180 long, film 900: the film begins 140 below the pivot.
        assert_eq!(lies[0].collar, Point::new(mm(0.0), mm(190.0)));
        assert_eq!(lies[0].hem, mm(920.0));
        assert_eq!(lies[0].sides, (mm(-260.0), mm(260.0)));
        assert_eq!(lies[0].past, [240.0, 240.0, 50.0, 120.0].map(mm));
        assert_eq!(lies[1].past, [170.0, 170.0, 50.0, 40.0].map(mm));
        // Laid 40 lower on the table, the larger size has 40 more past its collar.
        garments[1].film_at.y = mm(-90.0);
        let lies = lay(film, &frame, &garments, &LaydownSettings::default());
        assert_eq!(lies[1].past, [170.0, 170.0, 90.0, 0.0].map(mm));
    }

    /// Each size has its own figures and its own drawing, with its own numbers in it.
    #[test]
    fn every_size_is_laid_down_by_its_own_marks() {
        let film = Size::new(mm(1000.0), mm(900.0));
        let frame = plan_frame(film, &FrameSettings::default()).unwrap();
        let mut garments = [garment("M", 520.0, 730.0), garment("2XL", 660.0, 810.0)];
        garments[1].film_at.y = mm(-90.0);
        let s = section(film, &frame, &garments, &LaydownSettings::default(), Unit::Mm);
        let lies = lay(film, &frame, &garments, &LaydownSettings::default());
        assert_eq!(s.drawings.len(), 3, "all, and each");
        for (i, lie) in lies.iter().enumerate() {
            let value =
                |what: &str| s.figure(&format!("{}: {what}", lie.name)).unwrap().value.clone();
            assert_eq!(value("pivot to collar"), Quantity::Length(lie.collar.y));
            assert_eq!(value("pivot to hem"), Quantity::Length(lie.hem));
            let measures: Vec<&str> = s.drawings[i + 1]
                .shapes
                .iter()
                .filter_map(|shape| match shape {
                    Shape::Measure { text, .. } => Some(text.as_str()),
                    _ => None,
                })
                .collect();
            let words = |what: &str, l: Length| format!("{what} {}", show_length(l, Unit::Mm));
            assert!(measures.contains(&words("collar", lie.collar.y).as_str()), "{measures:?}");
            assert!(measures.contains(&words("hem", lie.hem).as_str()), "{measures:?}");
            assert!(measures.contains(&show_length(lie.sides.1, Unit::Mm).as_str()));
        }
        assert_ne!(lies[0].collar.y, lies[1].collar.y);
    }

    #[test]
    fn everything_lies_on_the_table() {
        let film = Size::new(mm(700.0), mm(600.0));
        let frame = plan_frame(film, &FrameSettings::default()).unwrap();
        let mut wide = garment("L", 560.0, 760.0);
        wide.outline = [(-700.0, 100.0), (700.0, 100.0), (280.0, 760.0), (-280.0, 760.0)]
            .map(|(x, y)| Point::new(mm(x), mm(y)))
            .to_vec();
        wide.film_at = Point::new(mm(-350.0), mm(60.0));
        let s = section(film, &frame, &[wide], &LaydownSettings::default(), Unit::Mm);
        let d = &s.drawings[0];
        for shape in &d.shapes {
            if let Shape::Path { points, .. } = shape {
                assert!(points.iter().all(|p| d.area.contains(*p)), "{shape:?}");
            }
        }
        assert!(d.area.size.width > mm(1400.0));
        assert!(s.warnings.iter().all(|w| w.contains("past the garment")));
    }
}
