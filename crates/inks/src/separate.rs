use crate::fit::{fit, fit_jpeg, misfit, recolour};
use crate::flat::calmed;
use crate::image::Image;
use crate::jpeg::Coefficients;
use crate::plates::{Ink, Plates};
use crate::tiling::Tiling;
use crate::unmix::unmix;
use crate::{Damage, InksError, MAX_INKS, MAX_PIXELS, Rgb, names, palette, specks};
use artwork::{Picture, Source};
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

/// How near a picture's colour must be to the garment's to be left open, in CIEDE2000.
const SAME_AS_GARMENT: f64 = 8.0;

/// Separates a picture into plates. `jpeg` holds the coefficients of a picture that came as
/// JPEG; with them edges come out far better than from its pixels alone.
///
/// # Errors
/// Where the picture or the inks asked for are too many or none, or when cancelled.
pub fn separate(
    picture: &Picture,
    jpeg: Option<&Coefficients>,
    settings: &Settings,
    progress: &Progress,
) -> Result<Plates, InksError> {
    let pixels = u64::from(picture.width) * u64::from(picture.height);
    if pixels == 0 || pixels > MAX_PIXELS {
        return Err(InksError::Size(picture.width, picture.height));
    }
    let image = Image::of(picture);
    let damage = match settings.source {
        Source::Jpeg => Damage::Jpeg,
        Source::Clean | Source::Hard | Source::Blurred => Damage::Clean,
        Source::Auto if jpeg.is_some() => Damage::Jpeg,
        Source::Auto => Damage::of(&image),
        Source::Noisy => match Damage::of(&image) {
            Damage::Noisy(sigma) => Damage::Noisy(sigma),
            Damage::Clean | Damage::Jpeg => Damage::Noisy(2.0),
        },
    };
    progress.step("Finding inks", 0, 4)?;
    let calm = calmed(&image, damage);
    let mut colours = colours(&image, &calm, damage, settings, progress)?;
    progress.step("Measuring inks", 1, 4)?;
    let measured = unmix(&image, damage, &colours);
    progress.step("Fitting edges", 2, 4)?;
    let (levels, _) = match jpeg.filter(|_| damage == Damage::Jpeg) {
        Some(coefficients) => {
            let first = fit_jpeg(&measured, &image, &colours, coefficients, progress)?;
            if settings.inks == Inks::Found {
                colours = recolour(&image, &first.1, damage, &colours);
                let measured = unmix(&image, damage, &colours);
                fit_jpeg(&measured, &image, &colours, coefficients, progress)?
            } else {
                first
            }
        }
        None => fit(&measured, damage, progress)?,
    };
    progress.step("Cleaning up", 3, 4)?;
    let mut tiling = Tiling::new(levels);
    let shares = specks::clean(&mut tiling, damage, &colours);
    let rounded: Vec<Rgb> = colours.iter().map(|c| Rgb(c.map(|v| v.round().clamp(0.0, 255.0) as u8))).collect();
    let garment = settings.garment.unwrap_or(rounded[0]);
    let mut inks: Vec<Ink> = (1..rounded.len())
        .map(|k| Ink { name: names::name(rounded[k]), colour: rounded[k], share: shares[k], labels: 1 << k })
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
    let _ = misfit;
    progress.step("Cleaning up", 4, 4)?;
    Ok(Plates::new(garment, inks, damage, tiling))
}

/// The colours to separate into, the garment's first.
fn colours(
    image: &Image,
    calm: &Image,
    damage: Damage,
    settings: &Settings,
    progress: &Progress,
) -> Result<Vec<[f32; 3]>, InksError> {
    let mut found = palette::find(image, calm, damage, progress)?;
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
        Inks::Picked(picked) if picked.len() > MAX_INKS => return Err(InksError::TooManyInks(picked.len())),
        Inks::Picked(picked) => {
            found.truncate(1);
            found.extend(picked.iter().map(|(colour, _)| colour.0.map(f32::from)));
        }
    }
    Ok(found)
}
