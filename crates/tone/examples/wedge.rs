//! Writes a film of a wedge and a soft ball, screened one way, as a PBM picture.
//!
//! `wedge OUT.pbm round|elliptical|line|noise|diffuse [LPI [DEGREES]]`, 8 x 5 in at 300 ppi.

use bitmap::{Bitmap, Turned, collect};
use measure::{Angle, Length, Resolution, Ruling};
use progress::Progress;
use std::error::Error;
use tone::{Dot, Hold, Screen, Screened, Tones, diffuse};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let out = arguments.first().ok_or("name the file to write")?;
    let kind = arguments.get(1).map_or("round", String::as_str);
    let number = |i: usize, usual: f64| arguments.get(i).map_or(Ok(usual), |text| text.parse());
    let (ruling, angle) = (Ruling::lpi(number(2, 25.0)?), Angle::deg(number(3, 22.5)?));
    let tones = Tones::new(
        160,
        100,
        &(0..100).flat_map(|y| (0..160).map(move |x| share(x, y))).collect::<Vec<_>>(),
    )?;
    let dot = match kind {
        "elliptical" => Dot::Elliptical,
        "line" => Dot::Line,
        _ => Dot::Round,
    };
    let screen = match kind {
        "noise" => Screen::Noise { grain: Length::inches(0.01) },
        _ => Screen::Dots { dot, ruling, angle },
    };
    let film = if kind == "diffuse" {
        diffuse(&tones, Turned::upright(2400, 1500), 2, &Progress::none())?
    } else {
        collect(&Screened::new(
            &tones,
            Turned::upright(2400, 1500),
            Resolution::ppi(300.0),
            &screen,
            Hold::ALL,
        )?)
    };
    std::fs::write(out, pbm(&film))?;
    Ok(())
}

/// A ramp above, a lit ball below.
fn share(x: u32, y: u32) -> f32 {
    if y < 25 {
        return x as f32 / 159.0;
    }
    let (u, v) = ((x as f32 - 80.0) / 34.0, (y as f32 - 62.0) / 34.0);
    let r2 = u * u + v * v;
    if r2 > 1.0 { 0.0 } else { 1.0 - ((1.0 - r2).sqrt() * 0.7 - 0.4 * u - 0.5 * v).clamp(0.0, 1.0) }
}

/// A portable bitmap (netpbm, P4), 1 black.
fn pbm(film: &Bitmap) -> Vec<u8> {
    let mut bytes = format!("P4\n{} {}\n", film.width(), film.height()).into_bytes();
    for y in 0..film.height() {
        let row: Vec<u8> = film.row(y).iter().flat_map(|w| w.to_be_bytes()).collect();
        bytes.extend(&row[..(film.width() as usize).div_ceil(8)]);
    }
    bytes
}
