//! `--mend`: lines and gaps too fine to print are widened, and it is said how many.

use crate::util::{done, filmquilt, folder, text};
use image::{GrayImage, Luma};

/// The lengths of the runs of ink, or of the gaps between them, in the middle row of a film.
fn runs(path: &str, ink: bool) -> Vec<u32> {
    let film = image::open(path).expect("a picture").into_luma8();
    let y = film.height() / 2;
    let mut out = Vec::new();
    let mut long = 0;
    for x in 0..film.width() {
        if (film.get_pixel(x, y).0[0] == 0) == ink {
            long += 1;
        } else if long > 0 {
            out.push(long);
            long = 0;
        }
    }
    out
}

/// A block with a slit in it, and two hairlines: 0.2 mm each at 254 ppi, 0.1 mm a pixel.
#[test]
fn hairlines_and_slits_are_widened_and_counted() {
    let dir = folder();
    let [art, plain, mended] =
        ["art.png", "plain.png", "mended.png"].map(|name| text(dir.path().join(name)));
    GrayImage::from_fn(300, 120, |x, y| {
        let ink = (20..60).contains(&x)
            || (62..100).contains(&x)
            || (150..152).contains(&x)
            || (200..202).contains(&x);
        Luma([if ink && (10..110).contains(&y) { 0 } else { 255 }])
    })
    .save(&art)
    .expect("written");
    let sized = ["onebit", &art, "--width", "30mm", "--ppi", "254", "--edges", "plain"];
    assert_eq!(done(sized.into_iter().chain(["-o", &plain])), "");
    assert_eq!((runs(&plain, true), &runs(&plain, false)[1..2]), (vec![40, 38, 2, 2], &[2][..]));
    let said = done(sized.into_iter().chain(["--mend", "0.5mm", "-o", &mended]));
    assert_eq!(said, "mended 3 places\n");
    let (lines, gap) = (runs(&mended, true), runs(&mended, false)[1]);
    assert!(lines[2..].iter().chain([&gap]).all(|w| (5..=7).contains(w)), "{lines:?}, {gap}");
    assert_eq!(lines[0] + lines[1] + gap, 80, "the block's outer edges stay");
}

/// A red and a blue hairline, each beside a block of its ink: both screens' films are mended.
#[test]
fn hairlines_of_every_screen_are_widened() {
    let dir = folder();
    let art = text(dir.path().join("art.png"));
    image::RgbImage::from_fn(160, 80, |x, y| {
        let inside = (10..70).contains(&y);
        image::Rgb(match x {
            10..50 | 80..82 if inside => [220, 30, 40],
            110..112 | 130..150 if inside => [30, 40, 200],
            _ => [255, 255, 255],
        })
    })
    .save(&art)
    .expect("written");
    let inks = text(dir.path().join("inks.json"));
    std::fs::write(&inks, r##"[{"colour": "#dc1e28"}, {"colour": "#1e28c8"}]"##).expect("written");
    let films = text(dir.path().join("films"));
    let sized = ["film", &art, "--width", "16mm", "--ppi", "254", "--garment", "none"];
    let inked = ["--inks", &inks, "--garment-colour", "#ffffff", "--mend", "0.5mm"];
    let said = done(sized.into_iter().chain(inked).chain(["--out", &films]));
    assert_eq!(said, "mended 2 places\n");
    done(["check", &films]);
}

#[test]
fn dots_are_not_mended() {
    let dir = folder();
    let [art, film] = ["art.png", "film.png"].map(|name| text(dir.path().join(name)));
    GrayImage::from_pixel(40, 40, Luma([128])).save(&art).expect("written");
    let words = ["onebit", &art, "--tone", "dots", "--mend", "0.3mm", "-o", &film];
    let out = filmquilt(words);
    assert_eq!(out.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&out.stderr).contains("--mend goes with --tone cut"));
}
