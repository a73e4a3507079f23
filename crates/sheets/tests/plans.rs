//! Whole plans: the known optima, and an independent check of every plan of random regions.

use bitmap::Bitmap;
use measure::{Length, Point, Rect, Size};
use progress::Progress;
use sheets::{Margins, Pieces, Placed, Plan, Region, Request, Stock, plan};
use std::path::Path;

/// A region of the project's own test data with its proved optimum.
#[derive(serde::Deserialize)]
struct Case {
    cell_in: f64,
    printable_in: [f64; 2],
    overlap_in: f64,
    grid: u32,
    fewest: u32,
    width: u32,
    height: u32,
    rows: Vec<Vec<[u32; 2]>>,
}

fn stock(width: f64, height: f64) -> Stock {
    let size = Size::new(Length::inches(width), Length::inches(height));
    Stock { margins: Margins::all(Length::ZERO), ..Stock::sheet("test", size) }
}

fn request(cells: Bitmap, stock: Stock) -> Request {
    Request {
        region: Region { cell: Length::inches(0.25), origin: Point::default(), cells },
        stocks: vec![stock],
        overlap: Length::inches(0.5),
        pieces: Pieces::One,
        pinned: Vec::new(),
        effort: Request::THOROUGH,
    }
}

/// Optima proved by two independent methods: a branch and bound and an integer programme.
#[test]
fn known_regions_reach_their_optimum() {
    let mut cases = 0;
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/regions");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    for file in files {
        let case: Case = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
        let mut cells = Bitmap::new(case.width, case.height);
        for (y, row) in case.rows.iter().enumerate() {
            for [from, to] in row {
                (*from..*to).for_each(|x| cells.set(x, y as u32, true));
            }
        }
        let mut request = request(cells, stock(case.printable_in[0], case.printable_in[1]));
        assert_eq!(case.cell_in, 0.25);
        request.overlap = Length::inches(case.overlap_in);
        let plan = plan(&request, &Progress::none()).unwrap();
        let name = file.display();
        assert_eq!(plan.sheets.len() as u32, case.fewest, "{name}");
        assert!(plan.proved && plan.lower_bound == case.fewest, "{name}");
        assert_eq!(plan.why, format!("{}: no plan of {} exists", case.fewest, case.fewest - 1));
        assert_eq!(plan.grid, case.grid, "{name}");
        check(&request, &plan);
        cases += 1;
    }
    assert_eq!(cases, 9);
}

/// Checks a plan straight from the model, in inches, sharing nothing with the planner.
fn check(request: &Request, plan: &Plan) {
    let cells = &request.region.cells;
    let inch = |l: Length| l.to_inches();
    let (cell, overlap) = (inch(request.region.cell), inch(request.overlap));
    let rects: Vec<[f64; 4]> = plan
        .sheets
        .iter()
        .map(|s| {
            let r = s.placed.rect;
            [inch(r.left()), inch(r.top()), inch(r.right()), inch(r.bottom())]
        })
        .collect();
    let close = 1e-6;
    for sheet in &plan.sheets {
        let stock = &request.stocks[sheet.placed.stock];
        let room = stock.printable();
        let room = if sheet.placed.turned { room.turned() } else { room };
        let size = sheet.placed.rect.size;
        assert!(inch(size.width) <= inch(room.width) + close, "{} is too wide", sheet.name);
        assert!(inch(size.height) <= inch(room.height) + close, "{} is too high", sheet.name);
    }
    for y in 0..cells.height() {
        for x in 0..cells.width() {
            if !cells.get(x, y) {
                continue;
            }
            // The box of the region inside the window of half the overlap around the cell.
            let by = (overlap / 2.0 / cell - 1e-9).ceil() as u32;
            let (mut l, mut t, mut r, mut b) = (x, y, x, y);
            for v in y.saturating_sub(by)..=(y + by).min(cells.height() - 1) {
                for u in x.saturating_sub(by)..=(x + by).min(cells.width() - 1) {
                    if cells.get(u, v) {
                        (l, t, r, b) = (l.min(u), t.min(v), r.max(u), b.max(v));
                    }
                }
            }
            let (l, t) = (f64::from(l) * cell, f64::from(t) * cell);
            let (r, b) = (f64::from(r + 1) * cell, f64::from(b + 1) * cell);
            let held = rects.iter().any(|s| {
                s[0] <= l + close && s[1] <= t + close && s[2] >= r - close && s[3] >= b - close
            });
            assert!(held, "cell {x}, {y} has no sheet with its surround");
        }
    }
    if request.pieces == Pieces::One {
        let mut joined = vec![0];
        let mut next = 0;
        while let Some(i) = joined.get(next).copied() {
            next += 1;
            let a = rects[i];
            for (j, b) in rects.iter().enumerate() {
                let across = a[2].min(b[2]) - a[0].max(b[0]);
                let down = a[3].min(b[3]) - a[1].max(b[1]);
                if across >= overlap - close && down >= overlap - close && !joined.contains(&j) {
                    joined.push(j);
                }
            }
        }
        assert_eq!(joined.len(), rects.len(), "the film falls apart");
    }
    let names: std::collections::BTreeSet<_> = plan.sheets.iter().map(|s| &s.name).collect();
    assert_eq!(names.len(), plan.sheets.len(), "a name is given twice");
    assert!(plan.lower_bound as usize <= plan.sheets.len());
    for pin in &request.pinned {
        assert!(plan.sheets.iter().any(|s| s.pinned && s.placed == *pin), "a pin is lost");
    }
}

/// A region of a few rectangles and discs.
fn blots(u: &mut arbtest::arbitrary::Unstructured<'_>) -> arbtest::arbitrary::Result<Bitmap> {
    let (w, h) = (u.int_in_range(1..=100_u32)?, u.int_in_range(1..=100_u32)?);
    let mut cells = Bitmap::new(w, h);
    for _ in 0..u.int_in_range(1..=6)? {
        let (cx, cy) = (u.int_in_range(0..=w - 1)? as i32, u.int_in_range(0..=h - 1)? as i32);
        let (rx, ry) = (u.int_in_range(0..=25_i32)?, u.int_in_range(0..=25_i32)?);
        let round: bool = u.arbitrary()?;
        for y in (cy - ry).max(0)..=(cy + ry).min(h as i32 - 1) {
            for x in (cx - rx).max(0)..=(cx + rx).min(w as i32 - 1) {
                let (dx, dy) = ((x - cx) * (ry + 1), (y - cy) * (rx + 1));
                let reach = (rx + 1) * (ry + 1);
                if !round || dx * dx + dy * dy < reach * reach {
                    cells.set(x as u32, y as u32, true);
                }
            }
        }
    }
    Ok(cells)
}

#[test]
fn every_plan_passes_an_independent_check() {
    arbtest::arbtest(|u| {
        let cells = blots(u)?;
        let size = |u: &mut arbtest::arbitrary::Unstructured<'_>| u.int_in_range(12..=60_u32);
        let mut request =
            request(cells, stock(f64::from(size(u)?) / 4.0, f64::from(size(u)?) / 4.0));
        request.effort = 20_000;
        request.overlap = Length::inches(0.5 * f64::from(u.int_in_range(0..=2_u8)?));
        if u.arbitrary()? {
            request.pieces = Pieces::Many;
        }
        if u.arbitrary()? {
            let other = stock(f64::from(size(u)?) / 4.0, f64::from(size(u)?) / 4.0);
            request.stocks.push(Stock { price: 1.5, ..other });
            request.stocks[0].price = f64::from(u.int_in_range(0..=3_u8)?);
        }
        for _ in 0..u.int_in_range(0..=2)? {
            let room = request.stocks[0].printable();
            let inch = |v: u16| Length::inches(f64::from(v) / 65535.0 * 25.0);
            let at = Point::new(inch(u.arbitrary()?), inch(u.arbitrary()?));
            let rect = Rect::new(at, room);
            request.pinned.push(Placed { rect, stock: 0, turned: false });
        }
        let plan = plan(&request, &Progress::none()).unwrap();
        check(&request, &plan);
        assert_eq!(plan, sheets::plan(&request, &Progress::none()).unwrap(), "not the same twice");
        Ok(())
    })
    .budget_ms(4_000);
}

/// Sheets pinned far from each other and from the film are joined by chains of others.
#[test]
fn far_pins_are_joined() {
    let mut cells = Bitmap::new(40, 40);
    (0..40).for_each(|y| cells.fill(0, 40, y));
    let mut request = request(cells, stock(10.0, 12.0));
    let room = request.stocks[0].printable();
    for (x, y) in [(0.0, 0.0), (60.0, 3.0), (-45.0, 70.0)] {
        let rect = Rect::new(Point::new(Length::inches(x), Length::inches(y)), room);
        request.pinned.push(Placed { rect, stock: 0, turned: false });
    }
    let found = plan(&request, &Progress::none()).unwrap();
    check(&request, &found);
    // All that the film needs is held by the first, so that only the pins ask for more.
    assert!(found.sheets.len() > 3);
    request.stocks[0].on_hand = Some(4);
    let error = plan(&request, &Progress::none()).unwrap_err();
    assert!(matches!(error, sheets::PlanError::NotEnough { on_hand: 1, .. }), "{error}");
}

/// Motifs strewn at random over 25 linked sheets, each motif on one of them alone: 25 will do, and
/// a plan that joins what is strewn about must not take more.
#[test]
fn strewn_motifs_take_no_more_sheets_than_they_were_laid_out_on() {
    let case: Strewn = serde_json::from_str(include_str!("strewn.json")).unwrap();
    let mut cells = Bitmap::new(case.width, case.height);
    for (y, row) in case.rows.iter().enumerate() {
        row.iter().for_each(|[from, to]| cells.fill(*from, *to, y as u32));
    }
    let mut request = request(cells, stock(case.printable_in[0], case.printable_in[1]));
    request.region.cell = Length::inches(case.cell_in);
    request.overlap = Length::inches(case.overlap_in);
    let plan = plan(&request, &Progress::none()).unwrap();
    check(&request, &plan);
    assert!(plan.sheets.len() <= case.laid_out_on, "{}", plan.sheets.len());
}

#[derive(serde::Deserialize)]
struct Strewn {
    cell_in: f64,
    printable_in: [f64; 2],
    overlap_in: f64,
    laid_out_on: usize,
    width: u32,
    height: u32,
    rows: Vec<Vec<[u32; 2]>>,
}

/// Small enough to try every way to lay two sheets, and so to know whether one, two or more.
#[test]
fn few_sheets_agree_with_trying_all() {
    arbtest::arbtest(|u| {
        let (w, h) = (u.int_in_range(1..=12_u32)?, u.int_in_range(1..=12_u32)?);
        let mut cells = Bitmap::new(w, h);
        for y in 0..h {
            for x in 0..w {
                cells.set(x, y, u.ratio(2, 3)?);
            }
        }
        if cells.count() == 0 {
            return Ok(());
        }
        let (a, b) = (u.int_in_range(4..=9_i32)?, u.int_in_range(4..=9_i32)?);
        let mut request = request(cells, stock(f64::from(a) / 4.0, f64::from(b) / 4.0));
        request.pieces = if u.arbitrary()? { Pieces::Many } else { Pieces::One };
        let plan = plan(&request, &Progress::none()).unwrap();
        check(&request, &plan);
        let places: Vec<[i32; 4]> = [(a, b), (b, a)]
            .into_iter()
            .flat_map(|(a, b)| {
                (-b..h as i32 + b)
                    .flat_map(move |y| (-a..w as i32 + a).map(move |x| [x, y, x + a, y + b]))
            })
            .collect();
        let least = by_trying(&request, &places);
        let got = plan.sheets.len() as u32;
        match least {
            Some(least) => assert_eq!(got, least),
            None => assert!(got > 2),
        }
        assert!(!plan.proved || least.is_none_or(|l| l == plan.lower_bound));
        Ok(())
    })
    .budget_ms(4_000);
}

/// One or two where so many sheets do, by trying all places.
fn by_trying(request: &Request, places: &[[i32; 4]]) -> Option<u32> {
    let cells = &request.region.cells;
    let (w, h) = (cells.width() as i32, cells.height() as i32);
    let mut boxes = Vec::new();
    for y in 0..h {
        for x in 0..w {
            if cells.get(x as u32, y as u32) {
                let (mut l, mut t, mut r, mut b) = (x, y, x + 1, y + 1);
                for v in (y - 1).max(0)..(y + 2).min(h) {
                    for u in (x - 1).max(0)..(x + 2).min(w) {
                        if cells.get(u as u32, v as u32) {
                            (l, t, r, b) = (l.min(u), t.min(v), r.max(u + 1), b.max(v + 1));
                        }
                    }
                }
                boxes.push([l, t, r, b]);
            }
        }
    }
    let holds = |p: &[i32; 4]| {
        let inside = |q: &[i32; 4]| p[0] <= q[0] && p[1] <= q[1] && p[2] >= q[2] && p[3] >= q[3];
        let mut held = [0_u64; 4];
        for (i, q) in boxes.iter().enumerate() {
            held[i / 64] |= u64::from(inside(q)) << (i % 64);
        }
        held
    };
    let held: Vec<[u64; 4]> = places.iter().map(holds).collect();
    let mut all = [0_u64; 4];
    (0..boxes.len()).for_each(|i| all[i / 64] |= 1 << (i % 64));
    if held.contains(&all) {
        return Some(1);
    }
    let linked = |a: &[i32; 4], b: &[i32; 4]| {
        request.pieces == Pieces::Many
            || (a[2].min(b[2]) - a[0].max(b[0]) >= 2 && a[3].min(b[3]) - a[1].max(b[1]) >= 2)
    };
    for (i, a) in held.iter().enumerate() {
        if *a == [0; 4] {
            continue;
        }
        for (j, b) in held.iter().enumerate().skip(i + 1) {
            let both: [u64; 4] = std::array::from_fn(|k| a[k] | b[k]);
            if both == all && linked(&places[i], &places[j]) {
                return Some(2);
            }
        }
    }
    None
}

#[test]
fn bad_requests_get_one_sentence_and_a_hint() {
    let good = || request(Bitmap::from_fn(40, 40, |_, _| true), stock(5.0, 5.0));
    type Spoil = fn(&mut Request);
    let cases: [(&str, Spoil); 13] = [
        ("nothing to put on film", |r| r.region.cells = Bitmap::new(40, 40)),
        ("nothing to put on film", |r| r.region.cells = Bitmap::new(0, 0)),
        ("no film is chosen", |r| r.stocks.clear()),
        ("makes no sense", |r| r.overlap = Length::mm(f64::NAN)),
        ("makes no sense", |r| r.overlap = Length::mm(-1.0)),
        ("makes no sense", |r| r.region.cell = Length::ZERO),
        ("makes no sense", |r| r.stocks[0].size.width = Length::mm(f64::INFINITY)),
        ("makes no sense", |r| r.stocks[0].price = f64::NAN),
        ("leave nothing to print on", |r| r.stocks[0].margins = Margins::all(Length::inches(2.5))),
        ("leaves nothing of the", |r| r.overlap = Length::inches(6.0)),
        ("sheets are on hand", |r| r.stocks[0].on_hand = Some(3)),
        ("the most that is planned", |r| {
            r.region.cells = Bitmap::from_fn(2000, 2000, |_, _| true);
        }),
        ("is larger than what", |r| {
            let rect =
                Rect::new(Point::default(), Size::new(Length::inches(6.0), Length::inches(1.0)));
            r.pinned.push(Placed { rect, stock: 0, turned: false });
        }),
    ];
    for (words, spoil) in cases {
        let mut request = good();
        spoil(&mut request);
        let error = plan(&request, &Progress::none()).expect_err(words);
        assert!(error.to_string().contains(words), "{error} for {words}");
        assert!(!error.hint().is_empty() && !error.to_string().ends_with('.'));
    }
}

#[test]
fn a_cancelled_plan_stops() {
    let request =
        request(Bitmap::from_fn(200, 200, |x, y| (x / 9 + y / 7) % 2 == 0), stock(8.0, 10.5));
    let progress = Progress::none();
    progress.handle().cancel();
    assert!(matches!(plan(&request, &progress), Err(sheets::PlanError::Cancelled(_))));
}

#[test]
fn mixed_stocks_give_the_cheapest_plan() {
    // 24 x 10 in: one 24 x 10 at 7, or two of 12.5 x 10 at 3 each, or one of each kind.
    let cells = Bitmap::from_fn(96, 40, |_, _| true);
    let mut request = request(cells, Stock { price: 3.0, ..stock(12.5, 10.0) });
    request.stocks.push(Stock { price: 7.0, ..stock(24.0, 10.0) });
    let cheapest = plan(&request, &Progress::none()).unwrap();
    assert_eq!((cheapest.cost, cheapest.sheets.len(), cheapest.proved), (6.0, 2, true));
    assert_eq!(cheapest.why, "2: no plan costs less");
    // With one small sheet on hand the large one is needed, and it does alone.
    request.stocks[0].on_hand = Some(1);
    let plan = plan(&request, &Progress::none()).unwrap();
    assert_eq!((plan.cost, plan.sheets.len(), plan.proved), (7.0, 1, true));
}

#[test]
fn a_roll_gives_long_pieces() {
    // 30 x 40 in from a 17 in roll: two lengths, each as long as the film is high.
    let cells = Bitmap::from_fn(120, 160, |_, _| true);
    let mut roll = Stock::roll("roll", Length::inches(17.0), Length::inches(100.0));
    roll.price = 10.0;
    let plan = plan(&request(cells, roll), &Progress::none()).unwrap();
    assert_eq!(plan.sheets.len(), 2);
    assert!(plan.sheets.iter().all(|s| s.placed.rect.size.height <= Length::inches(40.0)));
    // Two pieces of 40 in and the margins of an eighth of an inch: 2 x 40.25 in x 25.4 mm x 10.
    assert!((plan.cost - 2.0 * 40.25 * 0.254).abs() < 1e-9, "{}", plan.cost);
}
