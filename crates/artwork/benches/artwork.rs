//! What a printer waits for: opening a picture, seeing its edges, cutting the film.

use artwork::{Crop, Edges, Picture, Settings, Source, Surface, load, printability, surface};
use bitmap::Raster;
use divan::{Bencher, black_box};
use measure::{Length, Resolution};
use progress::Progress;
use rayon::prelude::*;

fn main() {
    divan::main();
}

/// Flat art of rings and bars with grey edges, 1600 x 1372.
fn flat_art() -> Picture {
    let ink = |x: f64, y: f64| {
        let (u, v) = (x - 800.0, y - 686.0);
        let ring = (u.hypot(v) / 24.0 + (v.atan2(u) * 5.0).sin()).sin() > 0.35;
        ring && u.hypot(v) < 660.0
    };
    let pixel = |i: usize| {
        let (x, y) = ((i % 1600) as f64, (i / 1600) as f64);
        let inked =
            (0..16).filter(|s| ink(x + f64::from(s % 4) / 4.0, y + f64::from(s / 4) / 4.0)).count();
        255 - (inked * 255 / 16) as u8
    };
    Picture::grey(1600, 1372, (0..1600 * 1372).map(pixel).collect::<Vec<_>>())
}

/// A picture of many greys, 1600 x 1372.
fn tonal() -> Picture {
    let pixel = |i: usize| {
        let (x, y) = ((i % 1600) as f64, (i / 1600) as f64);
        let wave =
            (x / 37.0).sin() + (y / 29.0).cos() + (x * y / 9000.0).sin() + (x / 3.0).sin() / 4.0;
        (127.0 + 38.0 * wave) as u8
    };
    Picture::grey(1600, 1372, (0..1600 * 1372).map(pixel).collect::<Vec<_>>())
}

fn edges(picture: &Picture, edges: Edges, source: Source) -> Surface {
    let settings = Settings { edges, source, ..Settings::default() };
    surface(picture, &settings, &Progress::none()).expect("a good picture")
}

#[divan::bench(args = ["clean", "noisy", "blurred", "hard"])]
fn see_the_edges_of_a_1600_px_picture(bencher: Bencher, kind: &str) {
    let source = match kind {
        "clean" => Source::Clean,
        "noisy" => Source::Noisy,
        "blurred" => Source::Blurred,
        _ => Source::Hard,
    };
    let picture = flat_art();
    bencher.bench(|| edges(&picture, Edges::Fitted, source));
}

#[divan::bench]
fn see_the_edges_of_a_256_px_picture(bencher: Bencher) {
    let picture = flat_art();
    let crop = Some(Crop { x: 600, y: 500, width: 256, height: 256 });
    let settings =
        Settings { crop, edges: Edges::Fitted, source: Source::Clean, ..Settings::default() };
    bencher.bench(|| surface(&picture, &settings, &Progress::none()));
}

#[divan::bench(args = ["flat art", "tonal"])]
fn cut_a_film_of_42_by_36_in_at_300_ppi(bencher: Bencher, kind: &str) {
    let picture = if kind == "tonal" { tonal() } else { flat_art() };
    let film = edges(&picture, Edges::Fitted, Source::Auto).raster(12_600, 10_800);
    bencher.bench(|| {
        let count = |y: u32| {
            let mut changes = Vec::new();
            film.changes(y, 0, film.width(), &mut changes);
            changes.len()
        };
        (0..film.height()).into_par_iter().map(count).sum::<usize>()
    });
}

#[divan::bench(sample_count = 5)]
fn look_for_lines_too_fine_on_42_by_36_in(bencher: Bencher) {
    let film = edges(&flat_art(), Edges::Fitted, Source::Clean).raster(12_600, 10_800);
    bencher
        .bench(|| printability(&film, Resolution::ppi(300.0), Length::mm(0.33), &Progress::none()));
}

/// What a hand waits for that moves the level: the edges it sees, at a screen's resolution.
#[divan::bench(args = ["whole film", "near"])]
fn recut_what_is_seen_at_another_level(bencher: Bencher, seen: &str) {
    let surface = edges(&flat_art(), Edges::Fitted, Source::Clean);
    let (across, down) =
        if seen == "near" { (0.45..0.55, 0.42..0.52) } else { (0.0..1.0, 0.0..1.0) };
    bencher.bench(|| {
        let film = surface.recut(0.4, across.clone(), down.clone()).raster(2200, 1886);
        bitmap::collect(&film)
    });
}

#[divan::bench]
fn open_a_1600_px_png(bencher: Bencher) {
    let picture = flat_art();
    let mut bytes = std::io::Cursor::new(Vec::new());
    let grey =
        image::GrayImage::from_raw(1600, 1372, picture.greys().into_owned()).expect("its size");
    grey.write_to(&mut bytes, image::ImageFormat::Png).expect("written to memory");
    bencher.bench(|| load(black_box(bytes.get_ref())));
}
