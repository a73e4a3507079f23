use crate::fit::{fit, fit_jpeg, recolour};
use crate::flat::calmed;
use crate::image::Image;
use crate::plates::{Ink, Plates};
use crate::tiling::Tiling;
use crate::unmix::unmix;
use crate::{Damage, InksError, MAX_INKS, MAX_PIXELS, Rgb, names, palette, specks};
use artwork::{JpegPlane, Picture, Source};
use progress::Progress;
use serde::{Deserialize, Serialize};

/// Which inks a picture is separated into.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Inks {
    /// As many as the picture shows.
    #[default]
    Found,
    /// At most so many of those the picture shows.
    AtMost(usize),
    /// These, in printing order; a colour without a name is given one.
    Picked(Vec<(Rgb, Option<String>)>),
}

/// What a printer can choose about a separation.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// The inks.
    pub inks: Inks,
    /// The garment's colour, which is left open; the picture's rim's where none.
    pub garment: Option<Rgb>,
    /// What the picture has been through.
    pub source: Source,
}

/// How often a fit to a JPEG goes round.
const ROUNDS: usize = 25;

/// How near a picture's colour must be to the garment's to be left open, in CIEDE2000.
const SAME_AS_GARMENT: f64 = 8.0;

/// Separates a picture into plates. Where the picture came as JPEG and its file's bytes are
/// there, edges are fitted to what the file holds, far better than to its pixels.
///
/// # Errors
/// Where the picture or the inks asked for are too many or none, or when cancelled.
pub fn separate(
    picture: &Picture,
    settings: &Settings,
    progress: &Progress,
) -> Result<Plates, InksError> {
    let pixels = u64::from(picture.width) * u64::from(picture.height);
    if pixels == 0 || pixels > MAX_PIXELS {
        return Err(InksError::Size(picture.width, picture.height));
    }
    let image = Image::of(picture);
    let file = picture.jpeg.as_deref().and_then(artwork::jpeg_planes);
    let file = file.filter(|_| matches!(settings.source, Source::Auto | Source::Jpeg));
    let damage = match settings.source {
        Source::Jpeg => Damage::Jpeg,
        Source::Clean | Source::Hard | Source::Blurred => Damage::Clean,
        Source::Auto if file.is_some() => Damage::Jpeg,
        Source::Auto => Damage::of(&image),
        Source::Noisy => match Damage::of(&image) {
            Damage::Noisy(sigma) => Damage::Noisy(sigma),
            Damage::Clean | Damage::Jpeg => Damage::Noisy(2.0),
        },
    };
    progress.step("Finding inks", 0, 4)?;
    let calm = calmed(&image, damage);
    let mut colours = colours(&image, &calm, damage, file.as_deref(), settings, progress)?;
    progress.step("Measuring inks", 1, 4)?;
    let measured = unmix(&image, damage, &colours);
    progress.step("Fitting edges", 2, 4)?;
    let (levels, _) = match &file {
        Some(file) => {
            let (levels, cover) = fit_jpeg(&measured, &image, &colours, file, ROUNDS, progress)?;
            // Edges in their last place tell small inks' colours best.
            if settings.inks == Inks::Found {
                colours = recolour(&image, &cover, damage, Some(file), &colours);
            }
            (levels, cover)
        }
        None => fit(&measured, damage, progress)?,
    };
    progress.step("Cleaning up", 3, 4)?;
    let mut tiling = Tiling::new(levels);
    let shares = specks::clean(&mut tiling, damage, &colours);
    let rounded: Vec<Rgb> =
        colours.iter().map(|c| Rgb(c.map(|v| v.round().clamp(0.0, 255.0) as u8))).collect();
    let garment = settings.garment.unwrap_or(rounded[0]);
    let mut inks: Vec<Ink> = (1..rounded.len())
        .map(|k| Ink {
            name: names::name(rounded[k]),
            colour: rounded[k],
            share: shares[k],
            overprints: false,
            labels: 1 << k,
        })
        .collect();
    if let Inks::Picked(picked) = &settings.inks {
        for (ink, (colour, name)) in inks.iter_mut().zip(picked) {
            ink.colour = *colour;
            if let Some(name) = name {
                ink.name.clone_from(name);
            }
        }
    } else {
        // Light inks first: a dark ink hides where a light one strays, not the other way.
        inks.sort_by(|a, b| b.colour.lab().l.total_cmp(&a.colour.lab().l));
        let mut plain: Vec<String> = inks.iter().map(|ink| ink.name.clone()).collect();
        names::distinct(&mut plain);
        inks.iter_mut().zip(plain).for_each(|(ink, name)| ink.name = name);
    }
    progress.step("Cleaning up", 4, 4)?;
    Ok(Plates::new(garment, inks, damage, measured, tiling))
}

/// The colours to separate into, the garment's first.
fn colours(
    image: &Image,
    calm: &Image,
    damage: Damage,
    file: Option<&[JpegPlane]>,
    settings: &Settings,
    progress: &Progress,
) -> Result<Vec<[f32; 3]>, InksError> {
    let mut found = palette::find(image, calm, damage, file, progress)?;
    // The garment is the colour asked for, or else the one along the rim.
    let open = settings.garment.and_then(|garment| {
        let garment = garment.0.map(f32::from);
        let k = palette::nearest(garment, &found);
        (crate::modes::difference(found[k], garment) < SAME_AS_GARMENT).then_some(k)
    });
    let open = open.unwrap_or_else(|| palette::garment(calm, &found));
    let first = found.remove(open);
    found.insert(0, first);
    match &settings.inks {
        Inks::Found => {}
        Inks::AtMost(0) => return Err(InksError::NoInk),
        Inks::AtMost(count) => palette::keep(&mut found, calm, *count),
        Inks::Picked(picked) if picked.is_empty() => return Err(InksError::NoInk),
        Inks::Picked(picked) if picked.len() > MAX_INKS => {
            return Err(InksError::TooManyInks(picked.len()));
        }
        Inks::Picked(picked) => {
            found.truncate(1);
            found.extend(picked.iter().map(|(colour, _)| colour.0.map(f32::from)));
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use bitmap::Turned;
    use bitmap::{Bitmap, collect};
    use measure::Angle;

    const INKS: [[u8; 3]; 4] = [[240, 236, 224], [20, 24, 40], [220, 40, 50], [250, 200, 40]];

    /// Which ink the test drawing has at a place: a black ring about a red disc, half of it
    /// yellow, and a small black dot beside it.
    fn drawn(x: f64, y: f64) -> usize {
        let r = (x - 30.0).hypot(y - 32.0);
        let dot = (x - 56.0).hypot(y - 12.0) < 3.4;
        match r {
            _ if dot => 1,
            r if r > 22.3 => 0,
            r if r > 18.0 => 1,
            _ if x + 0.3 * y < 38.0 => 2,
            _ => 3,
        }
    }

    /// The drawing at 64 x 64 pixels, each the mean of 10 x 10 places, with noise added.
    fn picture(noise: f64) -> Picture {
        let mut bytes = Vec::new();
        let mut state = 1_u64;
        for y in 0..64 {
            for x in 0..64 {
                let mut sum = [0.0; 3];
                for i in 0..100 {
                    let ink = drawn(
                        f64::from(x) + f64::from(i % 10) / 10.0 + 0.05,
                        f64::from(y) + f64::from(i / 10) / 10.0 + 0.05,
                    );
                    (0..3).for_each(|c| sum[c] += f64::from(INKS[ink][c]) / 100.0);
                }
                for v in sum {
                    // The sum of twelve even numbers is all but normal.
                    let mut even = || {
                        state = state
                            .wrapping_mul(6_364_136_223_846_793_005)
                            .wrapping_add(1_442_695_040_888_963_407);
                        (state >> 40) as f64 / f64::from(1 << 24) - 0.5
                    };
                    let normal: f64 = (0..12).map(|_| even()).sum();
                    bytes.push((v + noise * normal).round().clamp(0.0, 255.0) as u8);
                }
            }
        }
        Picture::rgb(64, 64, bytes)
    }

    fn film(plates: &Plates, size: u32) -> Vec<Bitmap> {
        (0..plates.inks().len())
            .map(|k| collect(&plates.raster(k, Turned::upright(size, size)).unwrap()))
            .collect()
    }

    /// The share of a film's pixels whose ink is not the drawing's.
    fn wrong(plates: &Plates, size: u32) -> f64 {
        let films = film(plates, size);
        let mut wrong = 0;
        for y in 0..size {
            for x in 0..size {
                let scale = 64.0 / f64::from(size);
                let truth =
                    Rgb(INKS[drawn((f64::from(x) + 0.5) * scale, (f64::from(y) + 0.5) * scale)]);
                let ink = films.iter().position(|f| f.get(x, y));
                let got = ink.map_or(plates.garment, |k| plates.inks()[k].colour);
                wrong += u32::from(got.difference(truth) > 6.0);
            }
        }
        f64::from(wrong) / f64::from(size * size)
    }

    #[test]
    fn inks_are_found_and_edges_fall_where_they_were_drawn() {
        // Boundary length by geometry: two circles, a chord and a dot, about 330 pixels.
        let boundary = 330.0;
        for (noise, inks, most) in [(0.0, 0.5, 0.02), (5.0, 2.0, 0.06)] {
            let plates =
                separate(&picture(noise), &Settings::default(), &Progress::none()).unwrap();
            assert_eq!(plates.inks().len(), 3, "noise {noise}: {:?}", plates.inks());
            for ink in plates.inks() {
                let nearest =
                    INKS.iter().map(|c| Rgb(*c).difference(ink.colour)).fold(f64::MAX, f64::min);
                assert!(nearest < inks, "noise {noise}: {ink:?}");
            }
            let error = wrong(&plates, 640) * 64.0 * 64.0 / boundary;
            assert!(error < most, "noise {noise}: edges are off by {error} pixels");
        }
    }

    #[test]
    fn plates_tile_at_any_size_and_any_part_is_the_same() {
        let plates = separate(&picture(5.0), &Settings::default(), &Progress::none()).unwrap();
        for size in [37, 64, 501] {
            let films = film(&plates, size);
            let printed = collect(&plates.printed(Turned::upright(size, size)));
            for y in 0..size {
                for x in 0..size {
                    let here = films.iter().filter(|f| f.get(x, y)).count();
                    assert_eq!(here, usize::from(printed.get(x, y)), "{x} {y} at {size}");
                }
            }
            let raster = plates.raster(0, Turned::upright(size, size)).unwrap();
            let part = collect(&bitmap::Window::new(&raster, 11, 5, 20, 20));
            assert!(
                (0..400).all(|i| part.get(i % 20, i / 20) == films[0].get(11 + i % 20, 5 + i / 20))
            );
        }
    }

    #[test]
    fn plates_put_together_make_the_picture_again() {
        let source = picture(0.0);
        let plates = separate(&source, &Settings::default(), &Progress::none()).unwrap();
        // At ten film pixels a picture pixel, the mean of each ten is the picture within a
        // fiftieth of the way from ink to ink.
        let films = film(&plates, 640);
        let bytes = match &source.pixels {
            artwork::Pixels::Rgb(bytes) => bytes.clone(),
            artwork::Pixels::Grey(_) => panic!("the picture is in colour"),
        };
        let mut total = 0.0;
        for (i, p) in bytes.chunks_exact(3).enumerate() {
            let mut sum = [0.0; 3];
            for j in 0..100 {
                let (x, y) = (i as u32 % 64 * 10 + j % 10, i as u32 / 64 * 10 + j / 10);
                let ink = films.iter().position(|f| f.get(x, y));
                let colour = ink.map_or(plates.garment, |k| plates.inks()[k].colour);
                (0..3).for_each(|c| sum[c] += f64::from(colour.0[c]) / 100.0);
            }
            total += (0..3).map(|c| (sum[c] - f64::from(p[c])).powi(2)).sum::<f64>() / 3.0;
        }
        let rms = (total / 4096.0).sqrt();
        assert!(rms < 3.0, "the plates differ from the picture by {rms} of 255");
    }

    #[test]
    fn a_printer_can_pick_inks_and_work_on_plates() {
        let picked = Inks::Picked(vec![(Rgb(INKS[3]), None), (Rgb(INKS[1]), Some("Night".into()))]);
        let settings = Settings { inks: picked, ..Settings::default() };
        let mut plates = separate(&picture(0.0), &settings, &Progress::none()).unwrap();
        assert_eq!(plates.inks().len(), 2);
        assert_eq!(plates.inks()[1].name, "Night");
        let two = Settings { inks: Inks::AtMost(2), ..Settings::default() };
        assert_eq!(separate(&picture(0.0), &two, &Progress::none()).unwrap().inks().len(), 2);
        let none = Settings { inks: Inks::Picked(Vec::new()), ..Settings::default() };
        assert_eq!(separate(&picture(0.0), &none, &Progress::none()).err(), Some(InksError::NoInk));

        let both = collect(&plates.printed(Turned::upright(128, 128)));
        plates.merge(0, 1).unwrap();
        assert_eq!(collect(&plates.raster(0, Turned::upright(128, 128)).unwrap()), both);
        plates.split(0).unwrap();
        assert_eq!(plates.inks().len(), 2);
        assert!(plates.split(0).is_err() && plates.rename(2, "?").is_err());
        plates.reorder(1, 0).unwrap();
        assert_eq!(plates.inks()[0].name, "Night");
        plates.overprint(0, true).unwrap();
        let under = collect(&plates.raster(1, Turned::upright(128, 128)).unwrap());
        let over = collect(&plates.raster(0, Turned::upright(128, 128)).unwrap());
        let shared = (0..128 * 128)
            .filter(|i| under.get(i % 128, i / 128) && over.get(i % 128, i / 128))
            .count();
        assert!(shared > 500, "{shared}");
    }

    #[test]
    fn a_cancelled_separation_stops() {
        let progress = Progress::none();
        progress.handle().cancel();
        assert!(matches!(
            separate(&picture(0.0), &Settings::default(), &progress),
            Err(InksError::Cancelled(_))
        ));
        let empty = Picture::rgb(0, 0, Vec::new());
        assert!(separate(&empty, &Settings::default(), &Progress::none()).is_err());
    }

    #[test]
    fn plates_turn_with_their_picture_and_still_tile() {
        let plates = separate(&picture(0.0), &Settings::default(), &Progress::none()).unwrap();
        let film = |k: usize, turned| collect(&plates.raster(k, turned).unwrap());
        let upright = Turned::upright(90, 70);
        for k in 0..plates.inks().len() {
            let mut want = film(k, upright);
            for quarters in 1..4 {
                want = want.turned_clockwise();
                let turned = Turned::by(90, 70, Angle::deg(90.0 * f64::from(quarters)));
                let off: u32 = film(k, turned)
                    .words()
                    .iter()
                    .zip(want.words())
                    .map(|(a, b)| (a ^ b).count_ones())
                    .sum();
                assert_eq!(off, 0, "ink {k}, {quarters} quarters");
            }
        }
        let turned = Turned::by(90, 70, Angle::deg(31.0));
        let printed = collect(&plates.printed(turned));
        let all: Vec<_> = (0..plates.inks().len()).map(|k| film(k, turned)).collect();
        for y in 0..printed.height() {
            for x in 0..printed.width() {
                let inks = all.iter().filter(|film| film.get(x, y)).count();
                assert_eq!(inks, usize::from(printed.get(x, y)), "{x} {y}");
                let (u, v) = turned.at(x, y);
                let inside = (0.0..90.0).contains(&u) && (0.0..70.0).contains(&v);
                assert!(inside || inks == 0);
            }
        }
    }
}
