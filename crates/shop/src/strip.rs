use crate::drawing::{Anchor, at_mm, rect_mm};
use crate::figure::{number, show_time};
use crate::settings::settings;
use crate::{Drawing, Error, Source};
use measure::{Length, Size};
use serde::Serialize;

settings! {
    /// The test strip's times and page.
    pub struct StripSettings {
        /// How many bands the strip has.
        bands: u32 = 8, "bands", 3..=12, Source::Practice;
        /// How many times the light of one band the next one gets; √2 is one wedge step.
        factor: f64 = std::f64::consts::SQRT_2, "times", 1.05..=4.0,
            Source::Trade("half a stop, one step of a 21-step wedge");
        /// The time expected to be good, in the middle of the strip.
        guess_secs: f64 = 300.0, "s", 1.0..=36_000.0, Source::Practice;
        /// The width of the film page.
        page_width: Length = Length::mm(210.0), "", Length::mm(120.0)..=Length::mm(1200.0), Source::Practice;
        /// The height of the film page.
        page_height: Length = Length::mm(279.4), "", Length::mm(160.0)..=Length::mm(1200.0), Source::Practice;
        /// The margin that the printer cannot print.
        margin: Length = Length::mm(10.0), "", Length::mm(3.0)..=Length::mm(40.0), Source::Practice;
    }
}

/// A test strip: one film page, uncovered band by band.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Strip {
    /// The whole time of each band, the first the shortest.
    pub secs: Vec<f64>,
    /// What to do, one line a move: cover, then light for so long.
    pub moves: Vec<String>,
    /// The film page at true size: fills and labels only, black where light is stopped.
    #[serde(skip)]
    pub page: Drawing,
}

/// What a strip says after washing out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Reading {
    /// The best time: the middle, on the scale of factors, of all that are good.
    pub secs: f64,
    /// The longest good time over the shortest.
    pub latitude: f64,
}

/// The widths of lines and gaps on every band, in mm.
const WIDTHS_MM: [f64; 7] = [0.1, 0.15, 0.2, 0.3, 0.5, 0.8, 1.2];

/// Band times in equal factors, the guess in the middle.
pub fn strip_secs(settings: &StripSettings) -> Vec<f64> {
    let middle = f64::from(settings.bands - 1) / 2.0;
    (0..settings.bands)
        .map(|i| settings.guess_secs * settings.factor.powf(f64::from(i) - middle))
        .collect()
}

/// A test strip's times, moves and film page.
///
/// # Errors
/// [`Error::Range`] for settings out of reason.
pub fn plan_strip(settings: &StripSettings) -> Result<Strip, Error> {
    crate::Settings::check(settings)?;
    let secs = strip_secs(settings);
    let mut moves = vec![format!("Nothing covered: light for {}.", show_time(secs[0]))];
    for (i, pair) in secs.windows(2).enumerate() {
        let more = show_time(pair[1] - pair[0]);
        let covered = if i == 0 { "band 1".to_owned() } else { format!("bands 1 to {}", i + 1) };
        moves.push(format!("Cover {covered}: light for another {more}."));
    }
    Ok(Strip { page: page(settings, &secs), secs, moves })
}

/// What the strip says: `held` is the first band whose solid areas held, `open` the last
/// band whose fine gaps opened, both counted from 0. None if none is good.
pub fn read_strip(secs: &[f64], held: usize, open: usize) -> Option<Reading> {
    let (low, high) = (*secs.get(held)?, *secs.get(open)?);
    (low > 0.0 && held <= open).then(|| Reading { secs: (low * high).sqrt(), latitude: high / low })
}

fn page(settings: &StripSettings, secs: &[f64]) -> Drawing {
    let size = Size::new(settings.page_width, settings.page_height);
    let mut d = Drawing::new("Exposure test strip", size);
    let margin = settings.margin.to_mm();
    let (left, top) = (margin, margin + 8.0);
    let width = size.width.to_mm() - 2.0 * margin;
    let bottom = size.height.to_mm() - margin - 14.0;
    let band = width / secs.len() as f64;
    d.label(
        at_mm(left, margin + 2.0),
        "Exposure test strip: printed side to the emulsion",
        Anchor::Left,
    );
    for (i, t) in secs.iter().enumerate() {
        let x = left + band * i as f64;
        d.label(at_mm(x + band / 2.0, top + 1.0), (i + 1).to_string(), Anchor::Middle);
        let secs = format!("{} s", number(t.round()));
        d.label(at_mm(x + band / 2.0, top + 4.5), secs, Anchor::Middle);
        targets(&mut d, x + 1.5, top + 7.0, band - 3.0, bottom - top - 7.0);
        if i > 0 {
            // Short marks at both ends, to lay the cover's edge to.
            d.fill(rect_mm(x - 0.15, top, 0.3, 6.0), 1.0);
            d.fill(rect_mm(x - 0.15, bottom - 4.0, 0.3, 4.0), 1.0);
        }
    }
    let layered = top + 7.0 + (bottom - top - 7.0) * 0.72;
    d.label(
        at_mm(left + width / 2.0, layered),
        "Lay a strip of clear film over everything from here down to the ruler: the overlap",
        Anchor::Middle,
    );
    ruler(&mut d, left, bottom + 4.0);
    d
}

/// One band's targets: lines, gaps, a black block and a clear one; then the same lines and
/// block again for the overlap.
fn targets(d: &mut Drawing, x: f64, y: f64, width: f64, height: f64) {
    let unit = height / 100.0;
    let half = width / 2.0;
    for (from, tall) in [(0.0, 30.0), (76.0, 16.0)] {
        let pitch = tall / WIDTHS_MM.len() as f64 * unit;
        // Gaps are clear lines in a black block, lines are black on clear film.
        let block = rect_mm(x + half, y + from * unit, half, tall * unit);
        let mut last = block.top().to_mm();
        for (i, w) in WIDTHS_MM.iter().enumerate() {
            let middle = y + from * unit + pitch * (i as f64 + 0.5);
            d.fill(rect_mm(x, middle - w / 2.0, half - 0.8, *w), 1.0);
            d.fill(rect_mm(x + half, last, half, middle - w / 2.0 - last), 1.0);
            last = middle + w / 2.0;
        }
        d.fill(rect_mm(x + half, last, half, block.bottom().to_mm() - last), 1.0);
    }
    d.fill(rect_mm(x, y + 33.0 * unit, width, 12.0 * unit), 1.0);
    // Dots in a grid, a third of the area black.
    let step = width / 10.0;
    let mut row = 0.0;
    while row * step < 20.0 * unit {
        for column in 0..10 {
            let side = step * (1.0_f64 / 3.0).sqrt();
            d.fill(
                rect_mm(x + step * f64::from(column), y + 48.0 * unit + step * row, side, side),
                1.0,
            );
        }
        row += 1.0;
    }
    d.fill(rect_mm(x, y + 94.0 * unit, width, 6.0 * unit), 1.0);
}

fn ruler(d: &mut Drawing, x: f64, y: f64) {
    d.fill(rect_mm(x, y, 100.0, 0.4), 1.0);
    for i in 0..=20 {
        let tall = if i % 2 == 0 { 4.0 } else { 2.0 };
        d.fill(rect_mm(x + 5.0 * f64::from(i) - 0.1, y, 0.2, tall), 1.0);
    }
    d.label(at_mm(x + 100.0, y + 7.0), "100 mm", Anchor::Right);
    let widths: Vec<String> = WIDTHS_MM.iter().map(|w| number(*w)).collect();
    let words = format!("Lines and gaps: {} mm", widths.join(", "));
    d.label(at_mm(x, y + 7.0), words, Anchor::Left);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Shape;

    #[test]
    fn bands_are_half_stops_about_the_guess() {
        let settings = StripSettings { bands: 7, guess_secs: 100.0, ..Default::default() };
        let strip = plan_strip(&settings).unwrap();
        // Half stops, 2^(n/2), in per cent.
        for (t, f) in strip.secs.iter().zip([35.36, 50.0, 70.71, 100.0, 141.42, 200.0, 282.84]) {
            assert!((t - f).abs() < 0.01, "{t}");
        }
        assert_eq!(strip.moves.len(), 7);
    }

    #[test]
    fn a_reading_is_the_middle_of_what_is_good() {
        let secs = [50.0, 70.71, 100.0, 141.42, 200.0];
        let r = read_strip(&secs, 1, 3).unwrap();
        assert!((r.secs - 100.0).abs() < 0.01 && (r.latitude - 2.0).abs() < 1e-3);
        assert_eq!(read_strip(&secs, 3, 1), None);
        assert_eq!(read_strip(&secs, 0, 9), None);
    }

    #[test]
    fn the_page_is_black_and_clear_within_its_margins() {
        let settings = StripSettings::default();
        for width in [120.0, 210.0, 483.0] {
            let settings = StripSettings { page_width: Length::mm(width), ..settings.clone() };
            let strip = plan_strip(&settings).unwrap();
            let inside = strip.page.area.grown(-settings.margin + Length::mm(0.2));
            let mut fills = 0;
            for shape in &strip.page.shapes {
                match shape {
                    Shape::Fill(r, tone) => {
                        fills += 1;
                        assert_eq!(*tone, 1.0);
                        assert!(r.size.width > Length::ZERO && r.size.height > Length::ZERO);
                        let end = measure::Point::new(r.right(), r.bottom());
                        assert!(
                            inside.contains(r.origin) && inside.contains(end),
                            "{width}: {r:?}"
                        );
                    }
                    Shape::Label { at, .. } => assert!(inside.contains(*at)),
                    other => panic!("a film page cannot hold {other:?}"),
                }
            }
            assert!(fills > 100);
        }
    }
}
