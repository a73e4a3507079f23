//! What a printer waits for: a plan, and the seams.

use bitmap::Bitmap;
use measure::{Length, Point, Rect, Size};
use progress::Progress;
use sheets::{Margins, Pieces, Region, Request, SeamSettings, Seams, Stock, plan};

fn main() {
    divan::main();
}

#[derive(serde::Deserialize)]
struct Case {
    printable_in: [f64; 2],
    width: u32,
    height: u32,
    rows: Vec<Vec<[u32; 2]>>,
}

fn request(name: &str) -> Request {
    let file = format!("{}/tests/regions/{name}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read(file).expect("the region is there");
    let case: Case = serde_json::from_slice(&text).expect("the region is sound");
    let mut cells = Bitmap::new(case.width, case.height);
    for (y, row) in case.rows.iter().enumerate() {
        for [from, to] in row {
            (*from..*to).for_each(|x| cells.set(x, y as u32, true));
        }
    }
    let [width, height] = case.printable_in.map(Length::inches);
    let sheet = Stock::sheet("bench", Size::new(width, height));
    Request {
        region: Region { cell: Length::inches(0.25), origin: Point::default(), cells },
        stocks: vec![Stock { margins: Margins::all(Length::ZERO), ..sheet }],
        overlap: Length::inches(0.5),
        pieces: Pieces::One,
        pinned: Vec::new(),
        effort: Request::THOROUGH,
    }
}

const REGIONS: [&str; 9] = [
    "tee-s-13x19",
    "tee-m-a3plus",
    "tee-l-13x19",
    "tee-2xl-13x19",
    "rect-42x36-13x19",
    "lshape-13x19",
    "tote-letter",
    "band-diag-2xl-13x19",
    "blanket-60x48-letter",
];

#[divan::bench(args = REGIONS, sample_count = 10)]
fn plan_sheets(bencher: divan::Bencher<'_, '_>, name: &str) {
    let request = request(name);
    bencher.bench(|| plan(&request, &Progress::none()));
}

#[divan::bench(args = ["tee-2xl-13x19", "blanket-60x48-letter"], sample_count = 10)]
fn plan_while_dragging(bencher: divan::Bencher<'_, '_>, name: &str) {
    let request = Request { effort: Request::QUICK, ..request(name) };
    bencher.bench(|| plan(&request, &Progress::none()));
}

#[divan::bench(args = ["tee-2xl-13x19"], sample_count = 5)]
fn choose_seams(bencher: divan::Bencher<'_, '_>, name: &str) {
    let request = request(name);
    let plan = plan(&request, &Progress::none()).expect("a plan");
    let sheets: Vec<Rect> = plan.sheets.iter().map(|s| s.placed.rect).collect();
    // Discs of many sizes, as bits at a hundred to the inch.
    let ink = Bitmap::from_fn(4000, 3600, |x, y| {
        let (i, j) = (x / 170, y / 170);
        let (dx, dy) = ((x % 170).abs_diff(60 + i * 7 % 50), (y % 170).abs_diff(60 + j * 11 % 50));
        dx * dx + dy * dy < (25 + (i * 3 + j * 5) % 50).pow(2)
    });
    let window = |rect: Rect, step: Length| {
        let px = |l: Length| (l / step).round() as i64;
        let (x0, y0) = (px(rect.left()), px(rect.top()));
        Bitmap::from_fn(px(rect.size.width) as u32, px(rect.size.height) as u32, |x, y| {
            let (x, y) = (x0 + i64::from(x), y0 + i64::from(y));
            x >= 0 && y >= 0 && ink.get(x as u32, y as u32)
        })
    };
    let settings = SeamSettings::default();
    bencher
        .bench(|| Seams::find(&sheets, request.overlap, &settings, &[&window], &Progress::none()));
}
