//! What a user waits for: a whole-garment film screened, 42 x 36 in at 300 ppi.

use bitmap::Turned;
use divan::Bencher;
use measure::{Angle, Length, Resolution, Ruling};
use progress::Progress;
use tone::{Dot, Hold, Screen, Screened, Tones, diffuse};

fn main() {
    divan::main();
}

const WIDTH: u32 = 12_600;
const HEIGHT: u32 = 10_800;

/// A picture of 1260 x 1080 with tone everywhere.
fn tones() -> Tones {
    let share = |x: u32, y: u32| ((x as f32 / 90.0).sin() * (y as f32 / 70.0).cos() + 1.0) / 2.0;
    let shares: Vec<f32> = (0..1080).flat_map(|y| (0..1260).map(move |x| share(x, y))).collect();
    Tones::new(1260, 1080, &shares).expect("sizes agree")
}

fn film(bencher: Bencher, screen: Screen) {
    let tones = tones();
    let made = Screened::new(
        &tones,
        Turned::upright(WIDTH, HEIGHT),
        Resolution::ppi(300.0),
        &screen,
        Hold::ALL,
    )
    .expect("possible");
    bencher.bench(|| bitmap::collect(&made).count());
}

#[divan::bench(sample_count = 3)]
fn dots_25_lpi(bencher: Bencher) {
    film(
        bencher,
        Screen::Dots { dot: Dot::Round, ruling: Ruling::lpi(25.0), angle: Angle::deg(22.5) },
    );
}

#[divan::bench(sample_count = 3)]
fn noise(bencher: Bencher) {
    film(bencher, Screen::Noise { grain: Length::inches(0.01) });
}

#[divan::bench(sample_count = 3)]
fn diffused(bencher: Bencher) {
    let tones = tones();
    bencher.bench(|| {
        diffuse(&tones, Turned::upright(WIDTH, HEIGHT), 1, &Progress::none())
            .map(|film| film.count())
    });
}
