#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    missing_docs,
    unreachable_pub,
    reason = "a measuring program, not a part of the product"
)]
//! Photographs made-up screens of garment size and says which of their faults the check finds.
//!
//! `washed_screens FOLDER [SCREENS]`
//!
//! Each of the folder's PNG pictures in turn (dark is ink) is stretched over a film of 42 x 36 in at
//! 300 ppi. The screen is open where that is black, but for ten round places of 1 to 2 mm that are
//! the other way, and closed for 50 mm around.

#[allow(dead_code, reason = "shared with another example")]
mod simulate;

use bitmap::Bitmap;
use inspect::{Film, Options, ScreenSpot, Sheet, check_screen};
use measure::Resolution;
use progress::Progress;
use simulate::art::{pictures, whole};
use simulate::{Dice, Scene, Shot, Taped, photograph};

const PPI: f64 = 300.0;
const SIZE: [u32; 2] = [12600, 10800];
const AROUND: u32 = 600;
const PLACES: usize = 10;

/// A place that is open where it should be closed, or the other way; in film pixels.
struct Place {
    at: [u32; 2],
    radius: f64,
}

fn main() {
    let mut words = std::env::args().skip(1);
    let pictures = pictures(&words.next().unwrap());
    let count = words.next().map_or(pictures.len(), |n| n.parse().unwrap());
    let (mut found, mut all, mut besides) = (0, 0, 0);
    for (seed, (path, picture)) in pictures.iter().take(count).enumerate() {
        let film = whole(picture, SIZE);
        let mut dice = Dice(seed as u64 * 77 + 5);
        let places = places(&film, &mut dice);
        let screen = washed(&film, &places);
        let [width, height] = [screen.width(), screen.height()].map(f64::from);
        let sheets = [Sheet::upright("screen", 0.0, 0.0, width, height)];
        let scene = Scene {
            film: &screen,
            pages: &[],
            ppi: PPI,
            sheets: &sheets,
            taped: vec![Taped::WELL],
        };
        let (photo, _) = photograph(&scene, &Shot::ordinary(6000, 4000, dice.next()));
        let plan = Film {
            raster: &film,
            resolution: Resolution::ppi(PPI),
            sheets: Vec::new(),
            seams: Vec::new(),
            marks: Vec::new(),
        };
        let report = check_screen(&plan, &photo, &Options::default(), &Progress::none()).unwrap();
        let is = |spot: &ScreenSpot, place: &Place| {
            let off = |mm: f64, px: u32| mm - f64::from(px) / PPI * 25.4;
            off(spot.x_mm, place.at[0]).hypot(off(spot.y_mm, place.at[1])) < 1.5
        };
        let seen = places.iter().filter(|p| report.spots.iter().any(|s| is(s, p))).count();
        let other = report.spots.iter().filter(|s| !places.iter().any(|p| is(s, p))).count();
        println!(
            "{}: {:?}, {:?}, {seen} of {} found, {other} besides",
            path.display(),
            report.verdict,
            report.place,
            places.len()
        );
        (found, all, besides) = (found + seen, all + places.len(), besides + other);
    }
    println!("{found} of {all} found, {besides} besides");
}

/// Places well inside of ink or of clear film.
fn places(film: &Bitmap, dice: &mut Dice) -> Vec<Place> {
    let far = 60;
    let mut out = Vec::new();
    while out.len() < PLACES {
        let at = SIZE.map(|size| dice.within(100.0, f64::from(size) - 100.0) as u32);
        let ink = film.get(at[0], at[1]);
        let around = || (0..=2 * far).step_by(6);
        let even =
            around().all(|v| around().all(|u| film.get(at[0] + u - far, at[1] + v - far) == ink));
        if even {
            out.push(Place { at, radius: dice.within(6.0, 12.0) });
        }
    }
    out
}

/// The screen as a film would be that lets as much light through.
fn washed(film: &Bitmap, places: &[Place]) -> Bitmap {
    Bitmap::from_fn(SIZE[0] + 2 * AROUND, SIZE[1] + 2 * AROUND, |x, y| {
        let (u, v) = (x.wrapping_sub(AROUND), y.wrapping_sub(AROUND));
        if u >= SIZE[0] || v >= SIZE[1] {
            return true;
        }
        let wrong = |p: &Place| {
            let off = |at: u32, middle: u32| f64::from(at) - f64::from(middle);
            off(u, p.at[0]).hypot(off(v, p.at[1])) < p.radius
        };
        film.get(u, v) == places.iter().any(wrong)
    })
}
