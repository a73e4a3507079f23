//! `filmquilt onebit --tone`: the share of ink is 1 - value / 255, as the picture asks.

use crate::util::{done, filmquilt, folder, text};
use image::{GrayImage, Luma};

/// Greys of the wedge, and each step's side in picture pixels.
const STEPS: [u8; 12] = [0, 8, 32, 64, 96, 120, 128, 160, 192, 224, 247, 255];
const SIDE: u32 = 20;

fn wedge(path: &str) {
    let steps = STEPS.len() as u32;
    GrayImage::from_fn(steps * SIDE, SIDE, |x, _| Luma([STEPS[(x / SIDE) as usize]]))
        .save(path)
        .unwrap();
}

/// The share of ink in the middle of each step of a film, rims of a fifth left off.
fn shares(film: &str) -> Vec<f64> {
    let film = image::open(film).expect("a picture").into_luma8();
    let side = film.height();
    (0..STEPS.len() as u32)
        .map(|step| {
            let (mut ink, mut all) = (0, 0);
            for y in side / 5..side * 4 / 5 {
                for x in side / 5..side * 4 / 5 {
                    let value = film.get_pixel(step * side + x, y).0[0];
                    ink += u32::from(value == 0);
                    all += 1;
                }
            }
            f64::from(ink) / f64::from(all)
        })
        .collect()
}

#[test]
fn a_wedge_carries_the_tone_asked_for() {
    let dir = folder();
    let (art, film) = (text(dir.path().join("wedge.png")), text(dir.path().join("film.png")));
    wedge(&art);
    for words in [
        "--tone dots",
        "--tone dots --ruling 25lpi --angle 22.5deg --dot round",
        "--tone dots --ruling 35 --angle 45 --dot elliptical",
        "--tone dots --ruling 30lpi --angle 7.5deg --dot line",
        "--tone noise",
        "--tone noise --grain 0.25mm",
        "--tone diffuse",
    ] {
        let sized = ["onebit", &art, "--width", "24in", "--ppi", "300", "-o", &film];
        done(sized.into_iter().chain(words.split(' ')));
        for (grey, share) in STEPS.iter().zip(shares(&film)) {
            let asked = 1.0 - f64::from(*grey) / 255.0;
            assert!(
                (share - asked).abs() < 0.01,
                "{words}, grey {grey}: {share} of ink, not {asked}"
            );
        }
    }
}

/// Without `--tone` nothing is screened, and what cannot be screened is refused.
#[test]
fn tone_is_asked_for_and_can_be_refused() {
    let dir = folder();
    let (art, film) = (text(dir.path().join("wedge.png")), text(dir.path().join("film.png")));
    wedge(&art);
    let words = ["onebit", &art, "--width", "12in", "--ppi", "300", "--cut", "0.5", "-o", &film];
    done(words);
    let solid = |share: &f64| *share == 0.0 || *share == 1.0;
    assert!(shares(&film).iter().all(solid), "{:?}", shares(&film));
    let before = std::fs::read(&film).unwrap();
    for (more, code) in [
        ("--tone dots --ruling 200lpi", 1),
        ("--tone dots --ruling 0", 1),
        ("--tone dots --ruling nan", 1),
        ("--tone dots --angle inf", 1),
        ("--tone noise --grain -1mm", 1),
        ("--tone dots --ruling fine", 2),
        ("--tone stripes", 2),
        ("--ruling 25lpi", 2),
        ("--tone cut --ruling 25lpi", 2),
        ("--tone noise --angle 45", 2),
        ("--tone diffuse --dot line", 2),
        ("--tone dots --grain 1mm", 2),
        ("--grain 1mm", 2),
    ] {
        let out = filmquilt(words.into_iter().chain(more.split(' ')));
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(code), "{more}: {said}");
        assert!(!said.contains("panicked"), "{more}: {said}");
        assert_eq!(std::fs::read(&film).unwrap(), before, "{more}");
    }
}
