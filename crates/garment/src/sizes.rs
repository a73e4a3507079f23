//! Typical measurements, in centimetres. Half chest, length and short sleeve follow the middle
//! of retail regular-fit charts (stated tolerance 2.5 cm; oversize cuts run up to 15 cm wider);
//! all others are common practice, no source. Every number is meant to be overwritten.

use crate::Measurement::{self, *};
use crate::garment::Shape;

/// Sizes as they appear in names.
pub(crate) const SIZES: [&str; 6] = ["s", "m", "l", "xl", "2xl", "3xl"];

type Row = (Measurement, [f64; 6]);

const BODY: [Row; 8] = [
    (Chest, [47.0, 51.5, 56.0, 60.5, 66.0, 71.5]),
    (Length, [69.5, 72.5, 75.0, 78.0, 81.0, 84.0]),
    (Shoulder, [42.0, 45.5, 49.5, 52.0, 54.5, 57.0]),
    (ShoulderDrop, [3.8, 4.0, 4.1, 4.3, 4.5, 4.6]),
    (Armhole, [21.5, 23.0, 24.0, 25.5, 26.5, 28.0]),
    (NeckWidth, [17.0, 17.8, 18.4, 18.8, 19.0, 19.5]),
    (NeckFront, [10.0, 10.3, 10.6, 11.0, 11.3, 11.6]),
    (NeckBack, [2.0; 6]),
];
const SHORT: [Row; 2] =
    [(Sleeve, [19.0, 20.0, 21.0, 22.0, 23.0, 24.0]), (Cuff, [17.8, 19.0, 20.3, 21.0, 21.6, 22.5])];
const LONG: [Row; 2] =
    [(Sleeve, [60.0, 61.5, 63.0, 64.5, 66.0, 67.0]), (Cuff, [9.0, 9.3, 9.6, 10.0, 10.3, 10.6])];
const HOOD: [Row; 2] = [
    (HoodWidth, [25.0, 25.5, 26.0, 26.5, 27.0, 27.5]),
    (HoodHeight, [33.0, 33.5, 34.0, 34.5, 35.0, 35.5]),
];
const TANK: [Row; 2] =
    [(Strap, [5.0, 5.2, 5.4, 5.6, 5.8, 6.0]), (NeckFront, [14.0, 14.5, 15.0, 15.5, 16.0, 16.5])];
const TROUSERS: [Row; 5] = [
    (Waist, [36.0, 40.0, 44.0, 48.0, 53.0, 58.0]),
    (Thigh, [29.0, 31.0, 33.0, 35.0, 37.5, 40.0]),
    (LegOpening, [18.0, 19.0, 20.0, 21.0, 22.0, 23.0]),
    (Rise, [27.0, 28.0, 29.0, 30.0, 31.0, 32.0]),
    (Inseam, [78.0, 79.0, 80.0, 81.0, 81.0, 81.0]),
];
const TOTE: [Row; 2] = [(Width, [38.0; 6]), (Height, [42.0; 6])];
const SCARF: [Row; 1] = [(Width, [90.0; 6])];
const PANEL: [Row; 2] = [(Width, [100.0; 6]), (Height, [90.0; 6])];

/// The measurements of a shape with their typical values in size number `size`, in the order
/// in which a printer would take them.
pub(crate) fn typical(shape: Shape, size: usize) -> Vec<(Measurement, f64)> {
    let of = |rows: &[Row]| rows.iter().map(|(m, v)| (*m, v[size])).collect::<Vec<_>>();
    match shape {
        Shape::Tee => [of(&BODY), of(&SHORT)].concat(),
        Shape::LongSleeve => [of(&BODY), of(&LONG)].concat(),
        Shape::Hooded => [of(&BODY), of(&LONG), of(&HOOD)].concat(),
        Shape::Tank => {
            let body = of(&BODY).into_iter().filter(|(m, _)| !matches!(m, Shoulder | NeckFront));
            body.chain(of(&TANK)).collect()
        }
        Shape::Trousers => of(&TROUSERS),
        Shape::Tote => of(&TOTE),
        Shape::Scarf => of(&SCARF),
        Shape::Panel => of(&PANEL),
    }
}
