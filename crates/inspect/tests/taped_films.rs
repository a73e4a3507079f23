//! The check judges made-up photographs of small films. The photographs are made by
//! `examples/simulate`, which shares no code with the check: it sends light from the film
//! through its own camera, and the test knows every slip.

#![allow(clippy::unwrap_used, reason = "all of this is tests")]

#[path = "../examples/simulate/mod.rs"]
#[allow(dead_code, missing_docs, unreachable_pub, reason = "shared with an example")]
mod simulate;

use bitmap::Bitmap;
use inspect::{
    Film, Found, InspectError, Mark, Options, Photo, Place, Report, Ruler, ScreenSpotKind, Sheet,
    Spot, SpotKind, Tone, Verdict, check_film, check_screen,
};
use measure::{Length, Resolution};
use progress::Progress;
use simulate::{Lies, Scene, Shot, Taped, drawing, grid, marked, motion, photograph};
use std::sync::LazyLock;

const PPI: f64 = 120.0;

/// 300 x 240 mm on two by two sheets.
struct Small {
    film: Bitmap,
    sheets: Vec<Sheet>,
    seams: Vec<[usize; 2]>,
}

static SMALL: LazyLock<Small> = LazyLock::new(|| {
    let film = drawing(1417, 1134, 110, [40.0, 260.0], 5);
    let (sheets, seams) = grid(1417, 1134, 2, 2, 40.0);
    Small { film, sheets, seams }
});

fn shot(seed: u64) -> Shot {
    let waves = 0.4;
    Shot { waves, shifts: 0.01, ..Shot::ordinary(1200, 800, seed) }
}

/// A film taped so from upright sheets, without marks.
fn scene<'a>(film: &'a Bitmap, sheets: &'a [Sheet], taped: &[Taped]) -> Scene<'a> {
    Scene { film, pages: &[], ppi: PPI, sheets, taped: taped.to_vec() }
}

/// What the check is told of a film.
fn plan<'a>(film: &'a Bitmap, sheets: &[Sheet], seams: &[[usize; 2]], marks: &[Mark]) -> Film<'a> {
    Film {
        raster: film,
        resolution: Resolution::ppi(PPI),
        sheets: sheets.to_vec(),
        seams: seams.to_vec(),
        marks: marks.to_vec(),
    }
}

/// The report on a photograph, found by its ink alone or, which is quicker, with its corners.
fn checked(taped: [Taped; 4], shot: &Shot, clicked: bool) -> Report {
    let small = &*SMALL;
    let scene = scene(&small.film, &small.sheets, &taped);
    let (photo, corners) = photograph(&scene, shot);
    let corners = clicked.then_some(corners);
    judged(&photo, &Options { corners, ..Options::default() }).unwrap()
}

fn judged(photo: &Photo, options: &Options) -> Result<Report, InspectError> {
    let small = &*SMALL;
    let film = plan(&small.film, &small.sheets, &small.seams, &[]);
    check_film(&film, photo, options, &Progress::none())
}

fn slipped(dx: f64, dy: f64, turn: f64) -> Taped {
    Taped { slip: [dx, dy], turn, ..Taped::WELL }
}

#[test]
fn a_well_taped_film_is_good_from_either_side() {
    for (seed, mirrored) in [(1, false), (2, true)] {
        let taped = [
            slipped(0.03, 0.0, 0.0),
            slipped(0.0, 0.05, 1e-4),
            Taped::WELL,
            slipped(-0.03, -0.05, 0.0),
        ];
        let report = checked(taped, &Shot { mirrored, ..shot(seed) }, false);
        assert_eq!(report.verdict, Verdict::Good, "{report:#?}");
        assert_eq!(report.film.mirrored, mirrored);
        assert!(report.sheets.iter().all(|s| s.found == Found::InPlace));
    }
}

#[test]
fn a_slipped_and_a_turned_sheet_are_measured() {
    // The slips' mean is nought, as the report's is.
    let taped = [
        slipped(0.6, -0.3, 0.0),
        slipped(-0.2, 0.1, 0.004),
        slipped(-0.2, 0.1, 0.0),
        slipped(-0.2, 0.1, 0.0),
    ];
    let report = checked(taped, &shot(3), true);
    assert_eq!(report.verdict, Verdict::Fault);
    for (sheet, taped) in report.sheets.iter().zip(&taped) {
        let off =
            (sheet.dx_mm.unwrap() - taped.slip[0]).hypot(sheet.dy_mm.unwrap() - taped.slip[1]);
        assert!(off < 0.06, "{sheet:?} lies at {taped:?}");
        let turn = sheet.turn_deg.unwrap().to_radians();
        assert!((turn - taped.turn).abs() < 2e-4, "{turn} {taped:?}");
    }
    let seam = &report.seams[0];
    assert_eq!(seam.between, ["A1", "A2"]);
    assert_eq!(seam.verdict, Verdict::Fault);
    assert!(seam.sd_mm.unwrap() < 0.12, "{seam:?}");
}

#[test]
fn a_sheet_printed_at_the_wrong_scale_is_measured() {
    // 1.5 % along one way of the paper: 50 times what a sheet's scale is believed to vary.
    let mut taped = [Taped::WELL; 4];
    taped[1].stretch = [0.015, 0.0];
    let report = checked(taped, &shot(6), true);
    assert_eq!(report.verdict, Verdict::Fault);
    let scale = report.sheets[1].scale_x.unwrap();
    assert!((scale - 1.015).abs() < 1e-3, "{scale}");
    let small = &*SMALL;
    let scene = scene(&small.film, &small.sheets, &taped);
    // Where two seams meet, sheet A2's own corner is off the most.
    let [left, top] = small.sheets[1].corners[3];
    let [x, y] = motion(&scene, 1, [left + 20.0, top - 20.0]);
    let seam = &report.seams[0];
    assert_eq!(seam.between, ["A1", "A2"]);
    let jog = seam.jog_mm.unwrap();
    assert!((jog - x.hypot(y)).abs() < 0.1, "{jog} is {}", x.hypot(y));
}

#[test]
fn wrong_sheets_are_named() {
    let wrong = |what| Taped { what, ..Taped::WELL };
    let is = |name: &str| Found::Is(name.into());
    let well = Taped::WELL;
    let cases = [
        (
            [wrong(Lies::Nothing), well, well, well],
            [Found::Missing, Found::InPlace, Found::InPlace, Found::InPlace],
        ),
        (
            [well, wrong(Lies::Mirrored), well, well],
            [Found::InPlace, Found::Mirrored, Found::InPlace, Found::InPlace],
        ),
        (
            [well, well, wrong(Lies::UpsideDown), well],
            [Found::InPlace, Found::InPlace, Found::UpsideDown, Found::InPlace],
        ),
        (
            [well, wrong(Lies::Other(2)), wrong(Lies::Other(1)), well],
            [Found::InPlace, is("B1"), is("A2"), Found::InPlace],
        ),
    ];
    for (k, (taped, expected)) in cases.into_iter().enumerate() {
        let report = checked(taped, &shot(10 + k as u64), true);
        let found: Vec<Found> = report.sheets.iter().map(|s| s.found.clone()).collect();
        assert_eq!(found, expected, "case {k}");
        assert_eq!(report.verdict, Verdict::Fault, "case {k}: {report:#?}");
    }
}

#[test]
fn corners_and_a_ruler_add_what_ink_cannot_tell() {
    let small = &*SMALL;
    let scene = scene(&small.film, &small.sheets, &[Taped::WELL; 4]);
    let shot = Shot { waves: 0.0, shifts: 0.0, ..shot(20) };
    let (photo, corners) = photograph(&scene, &shot);
    // A ruler along the film's upper edge that says the film came out 0.4 % too large.
    let width = 1417.0 / PPI * 25.4;
    let ruler = Ruler { ends: [corners[0], corners[1]], length: Length::mm(width * 1.004) };
    let off = |c: [f64; 2], k: usize| {
        [c[0] + [4.0, -5.0, 3.0, -2.0][k], c[1] + [-3.0, 4.0, 5.0, -4.0][k]]
    };
    let clicked = [0, 1, 2, 3].map(|k| off(corners[k], k));
    let options = Options { corners: Some(clicked), ruler: Some(ruler), ..Options::default() };
    let report = judged(&photo, &options).unwrap();
    assert!((report.film.scale.unwrap() - 1.004).abs() < 1e-3, "{:?}", report.film);
    for (found, truth) in report.film.corners.iter().zip(&corners) {
        assert!((found[0] - truth[0]).hypot(found[1] - truth[1]) < 1.0, "{found:?} {truth:?}");
    }
}

#[test]
fn a_film_that_looks_alike_both_ways_is_not_judged_without_corners() {
    let (width, height) = (1200, 1000);
    let half = drawing(width, height, 40, [60.0, 240.0], 9);
    let film = Bitmap::from_fn(width, height, |x, y| {
        half.get(x, y) || half.get(width - 1 - x, height - 1 - y)
    });
    let (sheets, seams) = grid(width, height, 2, 1, 40.0);
    let scene = scene(&film, &sheets, &[Taped::WELL; 2]);
    let (photo, corners) = photograph(&scene, &shot(30));
    let plan = plan(&film, &sheets, &seams, &[]);
    let report = check_film(&plan, &photo, &Options::default(), &Progress::none()).unwrap();
    assert_eq!(report.film.place, Place::Tie);
    assert_eq!(report.verdict, Verdict::NotSure);
    let options = Options { corners: Some(corners), ..Options::default() };
    let report = check_film(&plan, &photo, &options, &Progress::none()).unwrap();
    assert_eq!((report.film.place, report.verdict), (Place::Known, Verdict::Good));
}

#[test]
fn the_report_is_the_same_on_any_number_of_threads_and_reads_as_promised() {
    let small = &*SMALL;
    let scene = scene(&small.film, &small.sheets, &[Taped::WELL; 4]);
    let (photo, corners) = photograph(&scene, &shot(40));
    let options = Options { corners: Some(corners), ..Options::default() };
    let text = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| serde_json::to_string(&judged(&photo, &options).unwrap()).unwrap())
    };
    let one = text(1);
    assert_eq!(one, text(3));
    let json: serde_json::Value = serde_json::from_str(&one).unwrap();
    let keys = |v: &serde_json::Value| v.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
    assert_eq!(keys(&json), ["film", "seams", "sheets", "verdict"]);
    assert_eq!(keys(&json["film"]), ["mirrored", "scale"]);
    assert_eq!(keys(&json["seams"][0]), ["between", "jog_mm", "sd_mm", "verdict"]);
    let sheet = ["dx_mm", "dy_mm", "found", "name", "scale_x", "scale_y", "sd_mm", "turn_deg"];
    assert_eq!(keys(&json["sheets"][0]), sheet);
    assert_eq!(json["sheets"][0]["found"], "in place");
    assert_eq!(json["verdict"], "good");
}

/// The photo tells nothing of the film, and what could be done is said.
fn assert_untold(report: &Report) {
    assert_eq!((report.film.place, report.verdict), (Place::Unseen, Verdict::NotSure));
    assert!(report.sheets.iter().all(|s| s.found == Found::NotSure && s.sd_mm.is_none()));
    assert!(report.seams.iter().all(|s| s.verdict == Verdict::NotSure && s.jog_mm.is_none()));
    assert!(report.spots.is_empty() && !report.sheets.is_empty());
}

#[test]
fn a_photo_without_the_film_tells_nothing_of_it() {
    let blank =
        |grey: u8| Photo { width: 900, height: 600, grey: vec![grey; 540_000], tone: Tone::Srgb };
    assert_untold(&judged(&blank(200), &Options::default()).unwrap());
    let other = drawing(1417, 1134, 110, [40.0, 260.0], 77);
    let small = &*SMALL;
    let scene = scene(&other, &small.sheets, &[Taped::WELL; 4]);
    let (photo, _) = photograph(&scene, &shot(50));
    let wrong = judged(&photo, &Options::default());
    assert_untold(&wrong.unwrap());
}

/// The film with a disc of 1.2 mm turned over in its ink and one in its clear, and their places
/// in mm.
fn damaged(film: &Bitmap) -> (Bitmap, [[f64; 2]; 2]) {
    let pixel = 25.4 / PPI;
    let far = (3.0 / pixel) as u32;
    let even = |ink: bool, film: &Bitmap| {
        let places = (far..film.height() - far)
            .step_by(7)
            .flat_map(|y| (far..film.width() - far).step_by(7).map(move |x| (x, y)));
        places.into_iter().find(|(x, y)| {
            // Neither in an overlap nor near an edge.
            let seam = |v: u32, whole: u32| v.abs_diff(whole / 2) < 60;
            let near =
                || (y - far..y + far).all(|v| (x - far..x + far).all(|u| film.get(u, v) == ink));
            !seam(*x, film.width()) && !seam(*y, film.height()) && near()
        })
    };
    let mut out = film.clone();
    let places = [true, false].map(|ink| {
        let (x, y) = even(ink, film).unwrap();
        let r = 0.6 / pixel;
        for v in y - far..y + far {
            for u in x - far..x + far {
                if f64::from(u.abs_diff(x)).hypot(f64::from(v.abs_diff(y))) < r {
                    out.set(u, v, !ink);
                }
            }
        }
        [(f64::from(x) + 0.5) * pixel, (f64::from(y) + 0.5) * pixel]
    });
    (out, places)
}

fn has(spots: &[Spot], kind: SpotKind, at: [f64; 2]) -> bool {
    spots.iter().any(|s| {
        s.kind == kind
            && (s.x_mm - at[0]).hypot(s.y_mm - at[1]) < 0.5
            && (0.6..2.0).contains(&s.size_mm)
    })
}

#[test]
fn pinholes_and_dirt_are_listed_and_nothing_else() {
    let small = &*SMALL;
    let (film, [pinhole, dirt]) = damaged(&small.film);
    let scene = scene(&film, &small.sheets, &[Taped::WELL; 4]);
    let (photo, corners) = photograph(&scene, &shot(60));
    let report = judged(&photo, &Options { corners: Some(corners), ..Options::default() }).unwrap();
    assert!(has(&report.spots, SpotKind::Bright, pinhole), "{:?} {pinhole:?}", report.spots);
    assert!(has(&report.spots, SpotKind::Dark, dirt), "{:?} {dirt:?}", report.spots);
    assert_eq!(report.spots.len(), 2, "{:?}", report.spots);
}

/// Where a sheet that slipped overlaps others, its ink beside theirs is its slip and no dirt.
#[test]
fn ink_seen_twice_is_no_dirt() {
    let film = &SMALL.film;
    let (sheets, seams) = grid(1417, 1134, 2, 2, 300.0);
    let taped = [slipped(1.5, 0.4, 0.0), Taped::WELL, Taped::WELL, Taped::WELL];
    let (photo, corners) = photograph(&scene(film, &sheets, &taped), &shot(61));
    let plan = plan(film, &sheets, &seams, &[]);
    let options = Options { corners: Some(corners), ..Options::default() };
    let report = check_film(&plan, &photo, &options, &Progress::none()).unwrap();
    assert_eq!(report.verdict, Verdict::Fault);
    assert!(report.spots.len() < 3, "{} {:?}", report.spots.len(), report.spots);
}

/// A screen in its frame: closed where the film is clear and all around it.
fn washed_out(film: &Bitmap, around: u32) -> Bitmap {
    let (width, height) = (film.width() + 2 * around, film.height() + 2 * around);
    let inside = |v: u32, whole: u32| (around..around + whole).contains(&v);
    Bitmap::from_fn(width, height, |x, y| {
        let there = inside(x, film.width()) && inside(y, film.height());
        !(there && film.get(x - around, y - around))
    })
}

#[test]
fn a_screens_closed_detail_and_pinhole_are_listed_and_nothing_else() {
    let small = &*SMALL;
    let around = (30.0 / 25.4 * PPI) as u32;
    let plan = plan(&small.film, &[], &[], &[]);
    for (seed, spoilt) in [(70, true), (71, false), (72, true)] {
        let (film, [closed, pinhole]) = damaged(&small.film);
        let screen = washed_out(if spoilt { &film } else { &small.film }, around);
        let size = [screen.width(), screen.height()].map(f64::from);
        let whole = [Sheet::upright("", 0.0, 0.0, size[0], size[1])];
        let scene = scene(&screen, &whole, &[Taped::WELL]);
        let shot = Shot { waves: 0.1, ..shot(seed) };
        let (photo, _) = photograph(&scene, &shot);
        let report = check_screen(&plan, &photo, &Options::default(), &Progress::none()).unwrap();
        assert_eq!(report.mirrored, shot.mirrored, "{seed}");
        if !spoilt {
            assert_eq!((report.verdict, report.spots.len()), (Verdict::Good, 0), "{report:?}");
            continue;
        }
        let found = |kind, at: [f64; 2]| {
            report.spots.iter().any(|s| {
                s.kind == kind
                    && (s.x_mm - at[0]).hypot(s.y_mm - at[1]) < 0.5
                    // A photograph's blur makes it look larger.
                    && (0.6..2.3).contains(&s.size_mm)
            })
        };
        assert!(found(ScreenSpotKind::Closed, closed), "{seed}: {:?} {closed:?}", report.spots);
        assert!(found(ScreenSpotKind::Pinhole, pinhole), "{seed}: {:?} {pinhole:?}", report.spots);
        assert_eq!((report.verdict, report.spots.len()), (Verdict::Fault, 2), "{report:?}");
    }
}

#[test]
fn nonsense_is_refused() {
    let photo = Photo { width: 10, height: 900, grey: vec![0; 9000], tone: Tone::Srgb };
    assert!(matches!(judged(&photo, &Options::default()), Err(InspectError::PhotoSize { .. })));
    let photo = Photo { width: 900, height: 900, grey: vec![0; 9000], tone: Tone::Srgb };
    assert!(matches!(judged(&photo, &Options::default()), Err(InspectError::PhotoSize { .. })));
    let photo = Photo { width: 300, height: 300, grey: vec![128; 90_000], tone: Tone::Linear };
    for bad in
        [[[f64::NAN; 2]; 4], [[1.0, 1.0]; 4], [[0.0, 0.0], [1e9, 0.0], [0.0, 1.0], [5.0, 5.0]]]
    {
        let options = Options { corners: Some(bad), ..Options::default() };
        assert_eq!(judged(&photo, &options), Err(InspectError::Corners), "{bad:?}");
    }
    let progress = Progress::none();
    progress.handle().cancel();
    let small = &*SMALL;
    let film = plan(&small.film, &small.sheets, &[], &[]);
    let cancelled = check_film(&film, &photo, &Options::default(), &progress);
    assert!(matches!(cancelled, Err(InspectError::Cancelled(_))));
}

/// Two of the four sheets have nothing drawn on them but their marks.
#[test]
fn marks_settle_what_the_drawing_cannot() {
    let all = drawing(1417, 1134, 110, [40.0, 260.0], 5);
    let film = Bitmap::from_fn(1417, 1134, |x, y| x < 600 && all.get(x, y));
    let (sheets, seams) = grid(1417, 1134, 2, 2, 60.0);
    let (pages, marks) = marked(&film, PPI, &sheets, &seams);
    let whole = |[a, b]: &[usize; 2]| marks.iter().filter(|m| m.sheets == [*a, *b]).count() == 2;
    assert!(seams.iter().filter(|pair| whole(pair)).count() >= 3);
    for slip in [0.0, 0.9] {
        let mut taped = vec![Taped::WELL; 4];
        taped[3] = slipped(slip * 0.8, slip * 0.6, 0.0);
        let scene = Scene { pages: &pages, ..scene(&film, &sheets, &taped) };
        let (photo, corners) = photograph(&scene, &shot(50));
        let report = |marks: &[Mark]| {
            let plan = plan(&film, &sheets, &seams, marks);
            let options = Options { corners: Some(corners), ..Options::default() };
            check_film(&plan, &photo, &options, &Progress::none()).unwrap()
        };
        let (without, with) = (report(&[]), report(&marks));
        assert_eq!(without.verdict, Verdict::NotSure, "{without:#?}");
        let verdict = if slip > 0.5 { Verdict::Fault } else { Verdict::Good };
        assert_eq!(with.verdict, verdict, "{with:#?}");
        for (seam, pair) in with.seams.iter().zip(&seams) {
            let truth = if pair.contains(&3) { slip } else { 0.0 };
            assert!((seam.jog_mm.unwrap() - truth).abs() < 0.15, "{truth}: {seam:?}");
        }
    }
    // A mark of a sheet that is not there is refused.
    let mut strange = marks;
    strange[0].sheets[1] = 4;
    let plan = plan(&film, &sheets, &seams, &strange);
    let photo = Photo { width: 600, height: 400, grey: vec![255; 240_000], tone: Tone::Srgb };
    let refused = check_film(&plan, &photo, &Options::default(), &Progress::none());
    assert_eq!(refused.unwrap_err(), InspectError::Mark);
}

/// A drawing that is its own mirror image: only the marks, which stand more on the one side, tell
/// which side is up.
#[test]
fn marks_tell_which_side_is_up() {
    let (width, height) = (1417, 1134);
    let half = drawing(width, height, 30, [60.0, 160.0], 9);
    let film = Bitmap::from_fn(width, height, |x, y| half.get(x.min(width - 1 - x), y));
    let (sheets, seams) = grid(width, height, 2, 2, 60.0);
    let (pages, marks) = marked(&film, PPI, &sheets, &seams[..3]);
    assert!(marks.len() >= 4, "{}", marks.len());
    for mirrored in [false, true] {
        let taped = vec![Taped::WELL; 4];
        let scene = Scene { pages: &pages, ..scene(&film, &sheets, &taped) };
        let (photo, _) = photograph(&scene, &Shot { mirrored, ..shot(60) });
        for marks in [&[], &marks[..]] {
            let told = !marks.is_empty();
            let plan = plan(&film, &sheets, &seams, marks);
            let report = check_film(&plan, &photo, &Options::default(), &Progress::none()).unwrap();
            assert_eq!(report.film.place, if told { Place::Known } else { Place::Tie });
            if told {
                assert_eq!(report.film.mirrored, mirrored);
                assert_eq!(report.verdict, Verdict::Good, "{report:#?}");
            }
        }
    }
}

/// Slips by less than a line's width leave the lines of both sheets on each other, so that either
/// may be the left one, at the resolution and the pixel that real films are seen with.
#[test]
fn marks_on_each_other_are_told_apart_or_known_to_be_unsure() {
    const FINE: f64 = 300.0;
    let all = drawing(3543, 2835, 110, [100.0, 650.0], 5);
    let film = Bitmap::from_fn(3543, 2835, |x, y| x < 1500 && all.get(x, y));
    let (sheets, seams) = grid(3543, 2835, 2, 2, 150.0);
    let (pages, marks) = marked(&film, FINE, &sheets, &seams);
    for (seed, slip) in [(52, 0.18), (53, 0.06), (54, 0.0), (55, 0.9), (56, 0.1), (58, 0.18)] {
        let mut taped = vec![Taped::WELL; 4];
        taped[3] = slipped(slip * 0.8, slip * 0.6, 0.0);
        let scene = Scene { pages: &pages, ppi: FINE, ..scene(&film, &sheets, &taped) };
        let ordinary = Shot::ordinary(1800, 1200, seed);
        let shot = Shot { waves: 0.4, shifts: 0.01, lengths: [250.0, 900.0], ..ordinary };
        let (photo, corners) = photograph(&scene, &shot);
        let plan = plan(&film, &sheets, &seams, &marks);
        let plan = Film { resolution: Resolution::ppi(FINE), ..plan };
        let options = Options { corners: Some(corners), ..Options::default() };
        let report = check_film(&plan, &photo, &options, &Progress::none()).unwrap();
        for (seam, pair) in report.seams.iter().zip(&seams) {
            let truth = if pair.contains(&3) { slip } else { 0.0 };
            let (jog, sd) = (seam.jog_mm.unwrap(), seam.sd_mm.unwrap());
            let error = (jog - truth).abs();
            assert!(error < f64::min(0.15, 1.4 * sd) && sd < 0.22, "{seed} {truth}: {seam:?}");
        }
    }
}

/// Short waves, half as long as a sheet is wide and longer, do not pass for slips.
#[test]
fn short_waves_are_no_slips() {
    for seed in [61, 68, 69] {
        let flat = shot(seed);
        let shot = Shot { waves: 1.0, lengths: [90.0, 200.0], ..flat };
        let report = checked([Taped::WELL; 4], &shot, true);
        assert_eq!(report.verdict, Verdict::Good, "{report:#?}");
        assert!(report.seams.iter().all(|s| s.jog_mm.unwrap() < 0.25), "{:#?}", report.seams);
    }
}

/// Another film's photo tells nothing, and half of a film's sheets in each other's places do not hide
/// it.
#[test]
fn a_film_with_half_its_sheets_exchanged_is_found() {
    let film = drawing(1417, 1134, 150, [40.0, 200.0], 15);
    let (sheets, seams) = grid(1417, 1134, 4, 2, 40.0);
    let mut taped = vec![Taped::WELL; 8];
    for (a, b) in [(0, 6), (1, 7)] {
        taped[a].what = Lies::Other(b);
        taped[b].what = Lies::Other(a);
    }
    for seed in [63, 64, 65] {
        let shot = Shot { mirrored: false, ..shot(seed) };
        let (photo, _) = photograph(&scene(&film, &sheets, &taped), &shot);
        let plan = plan(&film, &sheets, &seams, &[]);
        let report = check_film(&plan, &photo, &Options::default(), &Progress::none()).unwrap();
        let found: Vec<Found> = report.sheets.iter().map(|s| s.found.clone()).collect();
        let is = |name: &str| Found::Is(name.into());
        assert_eq!(found[..2], [is("B3"), is("B4")], "{found:?}");
        assert_eq!(found[2..6], [const { Found::InPlace }; 4], "{found:?}");
        assert_eq!(found[6..], [is("A1"), is("A2")], "{found:?}");
        assert_untold(&judged(&photo, &Options::default()).unwrap());
    }
}

/// A sheet with one long edge may lie anywhere along it: the little that the edge bends is no more
/// than the film's waves bend it.
#[test]
fn a_sheet_with_one_long_edge_is_not_told_of_along_it() {
    let all = drawing(1417, 1134, 110, [40.0, 260.0], 5);
    let film = Bitmap::from_fn(1417, 1134, |x, y| {
        let (u, v) = (f64::from(x), f64::from(y) - 850.0);
        if x < 709 { y > 567 && u > 420.0 + v * v / 9000.0 } else { all.get(x, y) }
    });
    let (sheets, seams) = grid(1417, 1134, 2, 2, 60.0);
    for (dy, seed) in [(0.0, 50), (2.0, 51), (0.0, 52)] {
        let mut taped = vec![Taped::WELL; 4];
        taped[2] = slipped(0.0, dy, 0.0);
        let shot = Shot { waves: 1.5, ..shot(seed) };
        let (photo, corners) = photograph(&scene(&film, &sheets, &taped), &shot);
        let plan = plan(&film, &sheets, &seams, &[]);
        let options = Options { corners: Some(corners), ..Options::default() };
        let report = check_film(&plan, &photo, &options, &Progress::none()).unwrap();
        let own = report.seams.iter().zip(&seams).filter(|(_, pair)| pair.contains(&2));
        assert!(own.clone().all(|(seam, _)| seam.verdict == Verdict::NotSure), "{report:?}");
    }
}

/// Two exchanged sheets of one big drawing, a pictogram of Fluent Emoji (MIT), leave little that
/// looks like the film as a whole.
#[test]
fn exchanged_sheets_of_one_big_drawing_do_not_hide_the_film() {
    let art = image::open("../../tests/art/edge-subset/knot/truth.png").unwrap().into_luma8();
    let film = Bitmap::from_fn(1417, 1134, |x, y| {
        art.get_pixel(x * art.width() / 1417, y * art.height() / 1134).0[0] < 128
    });
    let (sheets, seams) = grid(1417, 1134, 4, 2, 40.0);
    for (above, below, seed) in [(1, 5, 82), (2, 6, 83)] {
        let mut taped = vec![Taped::WELL; 8];
        taped[above].what = Lies::Other(below);
        taped[below].what = Lies::Other(above);
        let (photo, _) = photograph(&scene(&film, &sheets, &taped), &shot(seed));
        let plan = plan(&film, &sheets, &seams, &[]);
        let report = check_film(&plan, &photo, &Options::default(), &Progress::none()).unwrap();
        assert_eq!(report.verdict, Verdict::Fault, "{report:?}");
        assert_eq!(report.film.place, Place::Known);
        let is = |s: usize| Found::Is(plan.sheets[s].name.clone());
        assert_eq!(report.sheets[above].found, is(below));
        assert_eq!(report.sheets[below].found, is(above));
    }
}

/// Where two sheets lie on each other, or tape does, clear film is darker than where one lies alone:
/// that is no pinhole.
#[test]
fn bright_spots_are_where_there_is_ink() {
    let film = &SMALL.film;
    for seed in [71, 72] {
        let lifelike = Shot::lifelike(1200, 800, seed);
        let shot = Shot { waves: 0.2, shifts: 0.01, ..lifelike };
        let report = checked([Taped::WELL; 4], &shot, true);
        for spot in report.spots.iter().filter(|s| s.kind == SpotKind::Bright) {
            let [x, y] = [spot.x_mm, spot.y_mm].map(|mm| (mm / 25.4 * PPI) as u32);
            let inked = (0..7).any(|i| (0..7).any(|j| film.get(x + i - 3, y + j - 3)));
            assert!(inked, "{seed}: {spot:?}");
        }
    }
}

/// A sheet that is its own mirror image but for a corner.
#[test]
fn a_sheet_much_like_its_mirror_image_is_told() {
    let small = &*SMALL;
    let ([left, top], [right, low]) = (small.sheets[3].corners[0], small.sheets[3].corners[2]);
    let alike = Bitmap::from_fn(1417, 1134, |x, y| {
        let (u, v) = (f64::from(x), f64::from(y));
        let inside = u > left && v > top && u > (left + right) / 2.0;
        let corner = u > right - 160.0 && v > low - 160.0;
        let from = if inside && !corner { (left + right - u) as u32 } else { x };
        small.film.get(from, y)
    });
    let mut taped = vec![Taped::WELL; 4];
    taped[3].what = Lies::Mirrored;
    let scene = scene(&alike, &small.sheets, &taped);
    let (photo, corners) = photograph(&scene, &shot(66));
    let plan = plan(&alike, &small.sheets, &small.seams, &[]);
    let options = Options { corners: Some(corners), ..Options::default() };
    let report = check_film(&plan, &photo, &options, &Progress::none()).unwrap();
    assert_eq!(report.sheets[3].found, Found::Mirrored, "{report:#?}");
    assert_eq!(report.verdict, Verdict::Fault);
}

/// A sheet on which nothing is drawn is missed by its marks.
#[test]
fn a_missing_blank_sheet_is_not_taken_for_there() {
    const FINE: f64 = 300.0;
    let all = drawing(3543, 2835, 110, [100.0, 650.0], 5);
    let (sheets, seams) = grid(3543, 2835, 2, 2, 150.0);
    let corner = sheets[3].corners[0].map(|v| v as u32);
    let film = Bitmap::from_fn(3543, 2835, |x, y| (x < 1500 || y < 1200) && all.get(x, y));
    assert!(corner[0] > 1600 && corner[1] > 1300, "{corner:?}");
    let (pages, marks) = marked(&film, FINE, &sheets, &seams);
    for (what, expected) in [(Lies::Own, Found::InPlace), (Lies::Nothing, Found::NotSure)] {
        let mut taped = vec![Taped::WELL; 4];
        taped[3].what = what;
        let scene = Scene { pages: &pages, ppi: FINE, ..scene(&film, &sheets, &taped) };
        let (photo, corners) =
            photograph(&scene, &Shot { waves: 0.4, ..Shot::ordinary(1800, 1200, 67) });
        let plan = plan(&film, &sheets, &seams, &marks);
        let plan = Film { resolution: Resolution::ppi(FINE), ..plan };
        let options = Options { corners: Some(corners), ..Options::default() };
        let report = check_film(&plan, &photo, &options, &Progress::none()).unwrap();
        assert_eq!(report.sheets[3].found, expected, "{report:#?}");
        assert_eq!(report.verdict == Verdict::Good, what == Lies::Own);
    }
}
