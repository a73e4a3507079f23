use super::*;
use measure::Size;

fn inches(l: f64, t: f64, w: f64, h: f64) -> Rect {
    let at = Point::new(Length::inches(l), Length::inches(t));
    Rect::new(at, Size::new(Length::inches(w), Length::inches(h)))
}

/// Ink by a rule over places in inches.
fn ink_where(ink: impl Fn(f64, f64) -> bool + Sync) -> impl Fn(Rect, Length) -> Bitmap + Sync {
    move |rect, step| {
        let px = |l: Length| (l / step - 1e-6).ceil().max(1.0) as u32;
        Bitmap::from_fn(px(rect.size.width), px(rect.size.height), |x, y| {
            let at = |origin: Length, i: u32| {
                origin.to_inches() + step.to_inches() * (f64::from(i) + 0.5)
            };
            ink(at(rect.left(), x), at(rect.top(), y))
        })
    }
}

/// The tee's six sheets of the planner's tests, roughly: side by side, corner on corner, bricks.
fn six() -> Vec<Rect> {
    vec![
        inches(0.0, 0.0, 12.75, 18.75),
        inches(12.25, 0.0, 12.75, 18.75),
        inches(20.5, 0.25, 18.75, 12.75),
        inches(6.5, 14.0, 12.75, 18.75),
        inches(18.75, 12.5, 18.75, 12.75),
        inches(18.75, 20.0, 18.75, 12.75),
    ]
}

#[test]
fn every_place_has_exactly_one_sheet_that_holds_it() {
    let ink = ink_where(|x, y| (x * 3.1).sin() + (y * 2.3).cos() > 0.3);
    for sheets in [
        six(),
        vec![inches(0.0, 0.0, 5.0, 5.0), inches(4.5, 0.0, 5.0, 5.0)],
        vec![
            inches(0.0, 0.0, 5.0, 5.0),
            inches(4.5, 0.0, 5.0, 5.0),
            inches(0.0, 4.5, 5.0, 5.0),
            inches(4.5, 4.5, 5.0, 5.0),
        ],
    ] {
        let settings = SeamSettings::default();
        let overlap = Length::inches(0.5);
        let seams = Seams::find(&sheets, overlap, &settings, &[&ink], &Progress::none()).unwrap();
        assert!(!seams.seams().is_empty());
        for y in 0..400 {
            for x in 0..400 {
                let p = Point::new(
                    Length::inches(f64::from(x) * 0.1 + 0.003),
                    Length::inches(f64::from(y) * 0.1 + 0.003),
                );
                let owner = seams.owner(p);
                let held = sheets.iter().any(|s| s.contains(p));
                assert_eq!(owner.is_some(), held, "{p:?}");
                assert!(owner.is_none_or(|i| sheets[i].contains(p)), "{p:?} of {owner:?}");
            }
        }
        // Beside a seam lie its two sheets.
        for seam in seams.seams() {
            for pair in seam.points.windows(2) {
                let t = 0.371;
                let mix = |a: Length, b: Length| a + (b - a) * t;
                let p = Point::new(mix(pair[0].x, pair[1].x), mix(pair[0].y, pair[1].y));
                let off = Length::inches(1e-4);
                let off = if seam.vertical {
                    Point::new(off, Length::ZERO)
                } else {
                    Point::new(Length::ZERO, off)
                };
                let sides = [seams.owner(p - off), seams.owner(p + off)];
                assert_eq!(sides, [Some(seam.between[0]), Some(seam.between[1])], "{p:?}");
            }
        }
    }
}

#[test]
fn a_straight_cut_finds_the_quiet_column() {
    // Ink edges everywhere but in a solid bar 0.2 in wide, off the middle of the overlap.
    let ink = ink_where(|x, y| (4.6..4.85).contains(&x) || (y * 10.0) as i64 % 2 == 0);
    let sheets = [inches(0.0, 0.0, 5.0, 5.0), inches(4.0, 0.0, 5.0, 5.0)];
    let settings = SeamSettings { bends: 0, ..SeamSettings::default() };
    let seams =
        Seams::find(&sheets, Length::inches(0.5), &settings, &[&ink], &Progress::none()).unwrap();
    let [seam] = seams.seams() else { panic!("one seam") };
    let x = seam.points[0].x.to_inches();
    assert!((4.6..4.85).contains(&x) && seam.points.len() == 2, "{x}");
    assert_eq!(seam.risk.crossings, 0);
    // Five inches through solid ink at 0.02 an inch.
    assert!((seam.cost - 0.1).abs() < 0.01, "{}", seam.cost);
}

#[test]
fn bends_go_round_what_a_straight_cut_must_cross() {
    // Discs down the middle of the overlap, left and right by turns.
    let ink = ink_where(|x, y| {
        let i = (y / 1.25).floor();
        let cx = if i as i64 % 2 == 0 { 4.3 } else { 4.7 };
        (x - cx).hypot(y - (i + 0.5) * 1.25) < 0.3
    });
    let sheets = [inches(0.0, 0.0, 5.0, 5.0), inches(4.0, 0.0, 5.0, 5.0)];
    let find = |bends| {
        let settings = SeamSettings { bends, ..SeamSettings::default() };
        Seams::find(&sheets, Length::inches(1.0), &settings, &[&ink], &Progress::none()).unwrap()
    };
    let (straight, bent) = (find(0), find(6));
    let (straight, bent) = (&straight.seams()[0], &bent.seams()[0]);
    assert!(straight.risk.crossings > 0);
    assert!(bent.cost < straight.cost && bent.risk.crossings < straight.risk.crossings, "{bent:?}");
    assert!(bent.points.len() <= 8);
}

#[test]
fn an_edge_crossed_squarely_jogs_by_the_whole_slip() {
    let sheets = [inches(0.0, 0.0, 5.0, 5.0), inches(4.5, 0.0, 5.0, 5.0)];
    let settings = SeamSettings { bends: 0, ..SeamSettings::default() };
    let find = |ink: &InkWindow<'_>| {
        Seams::find(&sheets, Length::inches(0.5), &settings, &[ink], &Progress::none())
            .unwrap()
            .seams()[0]
            .risk
    };
    let square = find(&ink_where(|_, y| y < 2.5));
    assert_eq!(square.crossings, 1);
    assert!((square.jog.to_mm() - 0.5).abs() < 1e-9);
    // At 45 degrees only 0.5 / sqrt 2 is square to the edge.
    let aslant = find(&ink_where(|x, y| y - 2.5 < x - 4.75));
    assert_eq!(aslant.crossings, 1);
    assert!((aslant.jog.to_mm() - 0.354).abs() < 0.05, "{aslant:?}");
}

#[test]
fn an_edited_seam_stays_in_its_room() {
    let ink = ink_where(|_, y| y < 2.5);
    let sheets = [inches(0.0, 0.0, 5.0, 5.0), inches(4.0, 0.0, 5.0, 5.0)];
    let settings = SeamSettings { bends: 0, ..SeamSettings::default() };
    let overlap = Length::inches(0.5);
    let mut seams = Seams::find(&sheets, overlap, &settings, &[&ink], &Progress::none()).unwrap();
    let at = |x, y| Point::new(Length::inches(x), Length::inches(y));
    seams.edit(0, &[at(4.6, 1.0), at(90.0, 3.0), at(4.4, f64::NAN)], &[&ink]);
    let seam = &seams.seams()[0];
    assert!(seam.points.len() >= 3 && seam.cost.is_finite());
    for p in &seam.points {
        assert!((4.0..=5.0).contains(&p.x.to_inches()) && (0.0..=5.0).contains(&p.y.to_inches()));
    }
    assert!(seam.points.iter().any(|p| (p.x.to_inches() - 4.6).abs() < 1e-9));
    assert_eq!(seams.owner(at(4.55, 1.0)), Some(0));
    assert_eq!(seams.owner(at(4.65, 1.0)), Some(1));
}

/// Two inks of a wide overlap: the left one meets the right one on a line through its middle,
/// with a strip of open film beside it. By what either prints there is no edge at the line; by
/// both films there are two, and the seam keeps off it.
#[test]
fn borders_between_inks_count_over_all_films() {
    // Bars of the two inks take turns down the film, but for the open strip.
    let inked = |x: f64| x < 5.2;
    let odd = |y: f64| (y * 10.0).floor() as i64 % 2 == 1;
    let first = ink_where(move |x, y| inked(x) && odd(y));
    let second = ink_where(move |x, y| inked(x) && !odd(y));
    let all = ink_where(move |x, _| inked(x));
    let sheets = [inches(0.0, 0.0, 6.0, 8.0), inches(4.0, 0.0, 6.0, 8.0)];
    let find = |inks: &[&InkWindow<'_>]| {
        let settings = SeamSettings::default();
        let overlap = Length::inches(0.5);
        Seams::find(&sheets, overlap, &settings, inks, &Progress::none()).unwrap().seams()[0]
            .clone()
    };
    let (blind, seeing) = (find(&[&all]), find(&[&first, &second]));
    let right =
        |seam: &Seam| seam.points.iter().map(|p| p.x).fold(Length::inches(9.0), Length::min);
    assert!(right(&blind) < Length::inches(5.2), "ink hides a joint: {:?}", blind.points);
    assert!(right(&seeing) > Length::inches(5.2), "{:?}", seeing.points);
    assert_eq!(seeing.risk.crossings, 0);
}
