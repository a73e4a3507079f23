//! What a printer waits for: encoding a sheet, and writing eight sheets of 13 x 19 in.
//!
//! Sheets are 3825 x 5625 pixels, 12.75 x 18.75 in at 300 ppi.

use bitmap::Bitmap;
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use film::{FilmJob, FilmSheet, Group4, PxRect};
use measure::{Length, Resolution, Size};
use progress::Progress;

fn main() {
    divan::main();
}

const WIDTH: u32 = 3825;
const HEIGHT: u32 = 5625;

fn hash(x: u32, y: u32) -> u32 {
    let h = (x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77)).wrapping_mul(0xC2B2_AE3D);
    (h ^ h >> 15).wrapping_mul(0x27D4_EB2F) >> 16
}

/// Rings and spokes.
fn line_art(width: u32, height: u32) -> Bitmap {
    let (u, v) = (f64::from(width) / 2.0, f64::from(height) / 2.0);
    Bitmap::from_fn(width, height, |x, y| {
        let (x, y) = (f64::from(x) - u, f64::from(y) - v);
        let r = x.hypot(y);
        (r / 230.0).fract() < 0.3 && (y.atan2(x) * 5.0 + r / 300.0).sin() > -0.6
    })
}

/// Round dots at 55 lines an inch and 300 ppi, upright, of many sizes.
fn halftone(width: u32, height: u32) -> Bitmap {
    Bitmap::from_fn(width, height, |x, y| {
        let part = |v: u32| f64::from(v) % 5.45 - 2.72;
        part(x).hypot(part(y)) < f64::from(hash(x / 40, y / 40) % 300) / 100.0
    })
}

fn random(width: u32, height: u32) -> Bitmap {
    Bitmap::from_fn(width, height, |x, y| hash(x, y) % 2 == 1)
}

type Art = (&'static str, fn(u32, u32) -> Bitmap);
const ART: [Art; 3] = [("line art", line_art), ("halftone", halftone), ("random", random)];

#[divan::bench(args = [0, 1, 2])]
fn encode_a_sheet_from_words(bencher: Bencher, art: usize) {
    let picture = ART[art].1(WIDTH, HEIGHT);
    bencher.counter(ItemsCount::new(WIDTH * HEIGHT)).bench(|| {
        let mut encoder = Group4::new(WIDTH);
        (0..HEIGHT).for_each(|y| encoder.packed(black_box(&picture).row(y)));
        encoder.finish()
    });
}

#[divan::bench(args = [0, 1, 2])]
fn encode_a_sheet_from_changes(bencher: Bencher, art: usize) {
    let picture = ART[art].1(WIDTH, HEIGHT);
    let rows: Vec<Vec<u32>> = (0..HEIGHT)
        .map(|y| {
            let mut changes = Vec::new();
            picture.changes_of_row(y, 0, WIDTH, &mut changes);
            changes
        })
        .collect();
    bencher.counter(ItemsCount::new(WIDTH * HEIGHT)).bench(|| {
        let mut encoder = Group4::new(WIDTH);
        black_box(&rows).iter().for_each(|row| encoder.changes(row));
        encoder.finish()
    });
}

#[divan::bench(args = [0, 1])]
fn write_eight_sheets(bencher: Bencher, art: usize) {
    let picture = ART[art].1(4 * WIDTH - 450, 2 * HEIGHT - 150);
    let sheets: Vec<FilmSheet> = (0..8)
        .map(|n| FilmSheet {
            name: format!("{}{}", ["A", "B"][n / 4], n % 4 + 1),
            image: PxRect::new(
                (n % 4) as i64 * 3675,
                (n / 4) as i64 * 5475,
                WIDTH.into(),
                HEIGHT.into(),
            ),
            turned: false,
            page: Size::new(Length::inches(13.0), Length::inches(19.0)),
            printable: PxRect::new(37, 37, WIDTH.into(), HEIGHT.into()),
            image_x: 37,
            image_y: 37,
        })
        .collect();
    let job = FilmJob {
        raster: &picture,
        resolution: Resolution::ppi(300.0),
        title: "Bench",
        sheets,
        seams: Vec::new(),
        overlap: Length::inches(0.5),
        lower_bound: 8,
        trim_lines: false,
        print: None,
        screen: None,
        printer: None,
    };
    let jobs = [job];
    bencher.counter(ItemsCount::new(8 * WIDTH * HEIGHT)).bench_local(|| {
        let mut films = film::Films::new(&jobs, &Progress::none()).expect("the sheets fit");
        let mut out = Vec::new();
        films.write_pdf(0, &mut out).expect("memory takes it");
        out
    });
}
