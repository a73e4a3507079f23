use crate::drawing::Anchor;
use crate::figure::{number, show_length};
use crate::lumber::nominal;
use crate::settings::{check_length, choice, settings};
use crate::{Drawing, Error, Pen, Piece, Quantity, Section, Source};
use measure::{Length, Point, Rect, Size, Unit};
use serde::{Deserialize, Serialize};

choice! {
    /// How the corners are joined.
    pub enum Joint {
        /// The long pieces run past the short ones.
        #[default]
        Butt = "butt",
        /// All ends cut at 45 degrees.
        Mitre = "mitre",
        /// Every piece as long as the outside, half its thickness cut away at each end.
        HalfLap = "half lap",
    }
}

settings! {
    /// How a frame is built and covered.
    pub struct FrameSettings {
        /// The free mesh beyond the film across the stroke, both sides together.
        free_across: Length = Length::inches(3.0), "", Length::ZERO..=Length::mm(600.0),
            Source::Trade("Schwalbach, Dover 1981: inside = print + 3 in by + 6 in");
        /// The free mesh beyond the film along the stroke, both ends together.
        free_along: Length = Length::inches(6.0), "", Length::ZERO..=Length::mm(900.0),
            Source::Trade("Schwalbach, Dover 1981: inside = print + 3 in by + 6 in");
        /// How much shorter than the inside the squeegee must be, so that the mesh can give.
        squeegee_clearance: Length = Length::cm(10.0), "", Length::ZERO..=Length::mm(400.0),
            Source::Trade("squeegee at least 10 cm shorter than the inside");
        /// The width of the frame's wood, seen from above.
        wood_width: Length = Length::inches(1.5), "", Length::mm(10.0)..=Length::mm(300.0),
            Source::Published("PS 20: nominal 2 in is 1 1/2 in dressed");
        /// The thickness of the frame's wood.
        wood_thickness: Length = Length::inches(1.5), "", Length::mm(10.0)..=Length::mm(300.0),
            Source::Published("PS 20: nominal 2 in is 1 1/2 in dressed");
        /// How the corners are joined.
        joint: Joint = Joint::Butt, "", (), Source::Practice;
        /// Screws in every corner.
        screws_per_corner: u32 = 2, "screws", 0..=12, Source::Practice;
        /// The distance from staple to staple.
        staple_spacing: Length = Length::mm(25.0), "", Length::mm(5.0)..=Length::mm(200.0),
            Source::Practice;
        /// The rows of staples.
        staple_rows: u32 = 2, "rows", 0..=6, Source::Practice;
        /// How far the mesh piece reaches past the frame on every side, to be gripped.
        mesh_grip: Length = Length::mm(60.0), "", Length::ZERO..=Length::mm(300.0), Source::Practice;
        /// The width of the roll of mesh.
        roll_width: Length = Length::mm(1650.0), "", Length::mm(200.0)..=Length::mm(4000.0),
            Source::Practice;
        /// The length of mesh on the roll.
        roll_length: Length = Length::mm(5000.0), "", Length::mm(200.0)..=Length::mm(200_000.0),
            Source::Practice;
    }
}

/// A frame that stands on the shelf, by its clear inside: width across the stroke,
/// height along it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShelfFrame {
    /// What the shop calls it.
    pub name: String,
    /// Its clear inside.
    pub inside: Size,
}

/// How a film sits in a frame.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "fit")]
pub enum Fit {
    /// With all the free mesh asked for.
    Roomy,
    /// Inside the frame but with less free mesh than asked for.
    Tight,
    /// Not inside: short by this much across and along.
    TooSmall {
        /// How much is missing across.
        across: Length,
        /// How much is missing along.
        along: Length,
    },
}

/// A frame to build.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FramePlan {
    /// The clear inside: width across the stroke, height along it.
    pub inside: Size,
    /// The outside.
    pub outside: Size,
    /// The pieces of wood.
    pub pieces: Vec<Piece>,
    /// The diagonal over the outside corners; both are equal when the frame is square.
    pub diagonal: Length,
    /// The diagonal over the inside corners.
    pub inside_diagonal: Length,
    /// Screws in all.
    pub screws: u32,
    /// Staples in all.
    pub staples: u32,
    /// The piece of mesh to cut.
    pub mesh_piece: Size,
    /// How many such pieces come out of the roll.
    pub from_roll: u32,
}

/// The frame that a film needs.
///
/// # Errors
/// [`Error::Range`] for a film that is not between 1 cm and 5 m.
pub fn plan_frame(film: Size, settings: &FrameSettings) -> Result<FramePlan, Error> {
    check_film(film)?;
    let inside = Size::new(film.width + settings.free_across, film.height + settings.free_along);
    Ok(frame_around(inside, settings))
}

/// The frame with this clear inside.
pub fn frame_around(inside: Size, settings: &FrameSettings) -> FramePlan {
    let wood = settings.wood_width;
    let outside = Size::new(inside.width + wood * 2.0, inside.height + wood * 2.0);
    let (long, short) = (inside.width.max(inside.height), inside.width.min(inside.height));
    let (long, short) = match settings.joint {
        Joint::Butt => (long + wood * 2.0, short),
        Joint::Mitre | Joint::HalfLap => (long + wood * 2.0, short + wood * 2.0),
    };
    let over = match settings.joint {
        Joint::Butt => "",
        Joint::Mitre => " over the long points",
        Joint::HalfLap => ", half its thickness off at each end",
    };
    let piece = |name: &str, length| Piece { name: format!("{name}{over}"), length, count: 2 };
    let mesh_piece = Size::new(
        outside.width + settings.mesh_grip * 2.0,
        outside.height + settings.mesh_grip * 2.0,
    );
    let around = (outside.width + outside.height) * 2.0;
    let per_row = (around / settings.staple_spacing).ceil().clamp(0.0, 1e5) as u32;
    FramePlan {
        inside,
        outside,
        pieces: vec![piece("long side", long), piece("short side", short)],
        diagonal: diagonal(outside),
        inside_diagonal: diagonal(inside),
        screws: settings.screws_per_corner * 4,
        staples: per_row * settings.staple_rows,
        mesh_piece,
        from_roll: pieces_from_roll(mesh_piece, settings.roll_width, settings.roll_length),
    }
}

/// Whether a film fits a frame, its height along the stroke.
pub fn fit(film: Size, frame: &ShelfFrame, settings: &FrameSettings) -> Fit {
    let needed = Size::new(film.width + settings.free_across, film.height + settings.free_along);
    if needed.fits(frame.inside) {
        Fit::Roomy
    } else if film.fits(frame.inside) {
        Fit::Tight
    } else {
        Fit::TooSmall {
            across: (film.width - frame.inside.width).max(Length::ZERO),
            along: (film.height - frame.inside.height).max(Length::ZERO),
        }
    }
}

/// How many pieces come out of a roll, threads along the frame: rows across the roll
/// of pieces either upright or turned, in the best mix of rows.
pub fn pieces_from_roll(piece: Size, width: Length, length: Length) -> u32 {
    let across = |side: Length| ((width.to_mm() + 1e-3) / side.to_mm()).floor().max(0.0);
    let rows_of = |piece: Size| (across(piece.width), piece.height);
    let (a, b) = (rows_of(piece), rows_of(piece.turned()));
    let most = ((length.to_mm() + 1e-3) / a.1.to_mm()).floor().clamp(0.0, 1e5) as u32;
    let best = (0..=most).map(|rows| {
        let left = length - a.1 * f64::from(rows);
        let turned = ((left.to_mm() + 1e-3) / b.1.to_mm()).floor().max(0.0);
        f64::from(rows) * a.0 + turned * b.0
    });
    best.fold(0.0, f64::max) as u32
}

fn diagonal(size: Size) -> Length {
    Length::mm(size.width.to_mm().hypot(size.height.to_mm()))
}

fn check_film(film: Size) -> Result<(), Error> {
    let range = Length::cm(1.0)..=Length::cm(500.0);
    check_length("width of the film", film.width, range.clone())?;
    check_length("height of the film", film.height, range)
}

/// The frame section of the plan, with the cut sheet's drawing.
pub(crate) fn section(
    film: Size,
    plan: &FramePlan,
    chosen: Option<&ShelfFrame>,
    shelf: &[ShelfFrame],
    squeegee: Length,
    settings: &FrameSettings,
    unit: Unit,
) -> Section {
    let show = |l: Length| show_length(l, unit);
    let mut s = Section::new("frame", "Frame");
    let rule = Source::Trade("Schwalbach, Dover 1981; another rule is print + 5 in both ways");
    for (name, inside, film, free) in [
        ("inside across", plan.inside.width, film.width, settings.free_across),
        ("inside along", plan.inside.height, film.height, settings.free_along),
    ] {
        let (how, source) = match chosen {
            Some(frame) => (format!("frame {} from the shelf", frame.name), Source::Shop),
            None => (format!("film {} + free mesh {}", show(film), show(free)), rule),
        };
        s.add(name, Quantity::Length(inside), how, source);
    }
    if chosen.is_none() {
        wood(&mut s, settings, unit);
    }
    let wood = show(settings.wood_width);
    for (name, outer, inner) in [
        ("outside across", plan.outside.width, plan.inside.width),
        ("outside along", plan.outside.height, plan.inside.height),
    ] {
        let how = format!("inside {} + 2 \u{d7} wood {wood}", show(inner));
        s.add(name, Quantity::Length(outer), how, Source::Arithmetic);
    }
    for p in plan.pieces.iter().filter(|_| chosen.is_none()) {
        let how = format!("{} joint: from inside and wood {wood}", settings.joint.name());
        s.add(
            format!("{} \u{d7} {}", p.count, p.name),
            Quantity::Length(p.length),
            how,
            Source::Arithmetic,
        );
    }
    if settings.joint == Joint::HalfLap && chosen.is_none() {
        let how = format!("thickness {} / 2", show(settings.wood_thickness));
        let depth = Quantity::Length(settings.wood_thickness / 2.0);
        s.add("depth of the laps", depth, how, Source::Arithmetic);
        let how = "width of the wood";
        s.add("length of the laps", Quantity::Length(settings.wood_width), how, Source::Arithmetic);
    }
    for (name, value, of) in [
        ("outside diagonal", plan.diagonal, plan.outside),
        ("inside diagonal", plan.inside_diagonal, plan.inside),
    ] {
        let how = format!(
            "\u{221a}({}\u{b2} + {}\u{b2}); both must be equal",
            show(of.width),
            show(of.height)
        );
        s.add(name, Quantity::Length(value), how, Source::Arithmetic);
    }
    let how = format!("4 corners \u{d7} {}", settings.screws_per_corner);
    s.add("screws", Quantity::Count(plan.screws.into()), how, Source::Practice);
    let how =
        format!("outline / {} \u{d7} {} rows", show(settings.staple_spacing), settings.staple_rows);
    s.add("staples", Quantity::Count(plan.staples.into()), how, Source::Practice);
    let grip = format!("outside + {} on every side", show(settings.mesh_grip));
    s.add(
        "mesh piece width",
        Quantity::Length(plan.mesh_piece.width),
        grip.clone(),
        Source::Practice,
    );
    s.add("mesh piece height", Quantity::Length(plan.mesh_piece.height), grip, Source::Practice);
    let how = format!(
        "rows of pieces upright or turned on a roll {} \u{d7} {}",
        show(settings.roll_width),
        show(settings.roll_length)
    );
    s.add(
        "mesh pieces from the roll",
        Quantity::Count(plan.from_roll.into()),
        how,
        Source::Arithmetic,
    );
    for frame in shelf {
        let words = match fit(film, frame, settings) {
            Fit::Roomy => "fits".to_owned(),
            Fit::Tight => "fits, with less free mesh than asked for".to_owned(),
            Fit::TooSmall { across, along } => {
                format!("too small by {} across, {} along", show(across), show(along))
            }
        };
        let how =
            format!("inside {} \u{d7} {}", show(frame.inside.width), show(frame.inside.height));
        s.add(format!("shelf: {}", frame.name), Quantity::Words(words), how, Source::Arithmetic);
    }
    if plan.from_roll == 0 {
        s.warn("The mesh piece is larger than the roll; buy a wider roll or grip less.");
    }
    let room = plan.inside.width - settings.squeegee_clearance;
    if !squeegee.fits(plan.inside.width) {
        s.warn(format!(
            "The squeegee, {}, does not go into the frame, {} inside.",
            show(squeegee),
            show(plan.inside.width)
        ));
    } else if !squeegee.fits(room) {
        s.warn(format!(
            "The squeegee, {}, leaves less than {} of free mesh beside it; take a narrower blade or a wider frame.",
            show(squeegee),
            show(settings.squeegee_clearance)
        ));
    }
    let short = plan.outside.width.min(plan.outside.height);
    s.note(format!(
        "Measure both diagonals before the glue sets: where they differ by 1 mm, the long side leans {} mm.",
        number(plan.diagonal / (short * 2.0))
    ));
    s.drawings.push(cut_sheet(film, plan, settings, unit));
    s
}

/// The wood to take, by what it is called where it is sold.
fn wood(s: &mut Section, settings: &FrameSettings, unit: Unit) {
    let (wide, thick) = (settings.wood_width, settings.wood_thickness);
    let how = match (nominal(thick), nominal(wide)) {
        (Some(thick), Some(wide)) => format!("dressed, dry; sold as {thick} \u{d7} {wide}"),
        _ => "width \u{d7} thickness as set; no dressed size of PS 20".to_owned(),
    };
    let words = format!("{} \u{d7} {}", show_length(wide, unit), show_length(thick, unit));
    s.add("wood", Quantity::Words(words), how, Source::Published("PS 20"));
}

fn cut_sheet(film: Size, plan: &FramePlan, settings: &FrameSettings, unit: Unit) -> Drawing {
    let mut d = Drawing::new("Frame to build", plan.outside);
    let outer = d.area;
    let wood = settings.wood_width;
    let inner = outer.grown(-wood);
    d.fill(outer, 0.12);
    d.fill(inner, 0.0);
    d.outline(outer, Pen::Bold);
    d.outline(inner, Pen::Thin);
    joints(&mut d, outer, inner, settings.joint);
    let at = Point::new(outer.center().x - film.width / 2.0, outer.center().y - film.height / 2.0);
    d.outline(Rect::new(at, film), Pen::Dashed);
    d.label(Point::new(at.x + film.width / 2.0, at.y + film.height * 0.92), "film", Anchor::Middle);
    let corner = |r: Rect| (r.origin, Point::new(r.right(), r.bottom()));
    let (from, to) = corner(outer);
    d.measure(from, to, format!("outside diagonal {}", show_length(plan.diagonal, unit)));
    let y = inner.top() + inner.size.height * 0.25;
    let words = format!("inside {}", show_length(plan.inside.width, unit));
    d.measure(Point::new(inner.left(), y), Point::new(inner.right(), y), words);
    let x = inner.left() + inner.size.width * 0.86;
    let words = format!("inside {}", show_length(plan.inside.height, unit));
    d.measure(Point::new(x, inner.top()), Point::new(x, inner.bottom()), words);
    d
}

fn joints(d: &mut Drawing, outer: Rect, inner: Rect, joint: Joint) {
    let tall = outer.size.height >= outer.size.width;
    for (ox, ix) in [(outer.left(), inner.left()), (outer.right(), inner.right())] {
        for (oy, iy) in [(outer.top(), inner.top()), (outer.bottom(), inner.bottom())] {
            let corner = Point::new(ix, iy);
            match joint {
                Joint::Mitre => d.line(Point::new(ox, oy), corner, Pen::Thin),
                // The long side runs through, so the cut lies along it.
                Joint::Butt if tall => d.line(Point::new(ix, oy), corner, Pen::Thin),
                Joint::Butt => d.line(Point::new(ox, iy), corner, Pen::Thin),
                Joint::HalfLap => {
                    d.line(Point::new(ix, oy), corner, Pen::Thin);
                    d.line(Point::new(ox, iy), corner, Pen::Dashed);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn size(w: f64, h: f64) -> Size {
        Size::new(Length::mm(w), Length::mm(h))
    }

    #[test]
    fn joints_take_their_wood() {
        // Inside 700 x 900, stock 38: butt 2 x 976 + 2 x 700 = 3352,
        // mitre 2 x 976 + 2 x 776 = 3504 over the long points.
        for (joint, long, short, total) in [
            (Joint::Butt, 976.0, 700.0, 3352.0),
            (Joint::Mitre, 976.0, 776.0, 3504.0),
            (Joint::HalfLap, 976.0, 776.0, 3504.0),
        ] {
            let settings =
                FrameSettings { wood_width: Length::mm(38.0), joint, ..FrameSettings::default() };
            let plan = frame_around(size(700.0, 900.0), &settings);
            let lengths: Vec<f64> = plan.pieces.iter().map(|p| p.length.to_mm()).collect();
            assert_eq!(lengths, [long, short]);
            let sum: f64 = plan.pieces.iter().map(|p| p.length.to_mm() * f64::from(p.count)).sum();
            assert_eq!(sum, total);
            assert!((plan.diagonal.to_mm() - 776.0_f64.hypot(976.0)).abs() < 1e-9);
        }
    }

    #[test]
    fn the_inside_follows_the_handbook() {
        // Schwalbach, Dover 1981: print + 3 in by + 6 in.
        let film = Size::new(Length::inches(42.0), Length::inches(36.0));
        let plan = plan_frame(film, &FrameSettings::default()).unwrap();
        assert!((plan.inside.width.to_inches() - 45.0).abs() < 1e-9);
        assert!((plan.inside.height.to_inches() - 42.0).abs() < 1e-9);
        assert!(plan_frame(size(f64::NAN, 5.0), &FrameSettings::default()).is_err());
    }

    #[test]
    fn shelf_frames_fit_or_say_by_how_much_not() {
        let settings = FrameSettings::default();
        let frame = |w, h| ShelfFrame { name: "a".into(), inside: size(w, h) };
        let film = size(700.0, 900.0);
        assert_eq!(fit(film, &frame(776.2, 1052.4), &settings), Fit::Roomy);
        assert_eq!(fit(film, &frame(776.0, 1052.4), &settings), Fit::Tight);
        let Fit::TooSmall { across, along } = fit(film, &frame(650.0, 1000.0), &settings) else {
            panic!("a film wider than the frame fitted");
        };
        assert_eq!((across.to_mm(), along.to_mm()), (50.0, 0.0));
    }

    #[test]
    fn rolls_are_cut_in_rows() {
        let count = |w, h, rw, rl| pieces_from_roll(size(w, h), Length::mm(rw), Length::mm(rl));
        assert_eq!(count(800.0, 1000.0, 1650.0, 5000.0), 10);
        // Upright two a row of 1000; turned one a row of 800: 2 x 4 + 1 x 1 in 4800.
        assert_eq!(count(800.0, 1000.0, 1650.0, 4800.0), 9);
        assert_eq!(count(800.0, 1000.0, 790.0, 5000.0), 0);
    }

    #[test]
    fn a_wide_squeegee_is_warned_of() {
        let film = size(700.0, 900.0);
        let settings = FrameSettings::default();
        let plan = plan_frame(film, &settings).unwrap();
        let warnings = |mm| {
            section(film, &plan, None, &[], Length::mm(mm), &settings, Unit::Mm).warnings.len()
        };
        assert_eq!((warnings(600.0), warnings(700.0), warnings(800.0)), (0, 1, 1));
    }
}
