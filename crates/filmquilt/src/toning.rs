//! The options of tone and of inks, to a job's values.

use crate::args::{ArtOptions, DotName, PlateOptions, ToneName, ToneOptions};
use crate::failure::Failure;
use crate::options::{art, length, number};
use inks::{Inks, Rgb};
use job::plates::Wanted;
use job::{Job, Tone};
use measure::{Angle, Length, Ruling};
use tone::Dot;

/// The tone that the options ask for, laid over the job's; none where they ask for none.
pub(crate) fn tone(now: &Tone, o: &ToneOptions) -> Result<Option<Tone>, Failure> {
    let shaped = o.ruling.is_some() || o.angle.is_some() || o.dot.is_some();
    let mut tone = match (o.tone, now) {
        (None, _) if !shaped && o.grain.is_none() => return Ok(None),
        (None, tone) => tone.clone(),
        (Some(ToneName::Cut), _) => Tone::Cut,
        (Some(ToneName::Dots), Tone::Dots { .. }) => now.clone(),
        (Some(ToneName::Dots), _) => Tone::DOTS,
        (Some(ToneName::Noise), _) => Tone::Noise { grain: Tone::GRAIN },
        (Some(ToneName::Diffuse), _) => Tone::Diffuse { grain: Tone::GRAIN },
    };
    match &mut tone {
        Tone::Dots { dot, ruling, angle } => {
            if let Some(text) = &o.ruling {
                *ruling = Ruling::lpi(number("--ruling", text.trim_end_matches("lpi"))?);
            }
            if let Some(text) = &o.angle {
                *angle = Angle::deg(number("--angle", text.trim_end_matches("deg"))?);
            }
            if let Some(name) = o.dot {
                *dot = name.into();
            }
        }
        Tone::Noise { grain } | Tone::Diffuse { grain } => {
            if let Some(text) = &o.grain {
                *grain = length("--grain", text)?;
            }
        }
        Tone::Cut if o.tone.is_none() => {
            let sentence = "--ruling, --angle and --dot need --tone dots; --grain needs --tone noise or diffuse";
            return Err(Failure::usage(sentence));
        }
        Tone::Cut => {}
    }
    Ok(Some(tone))
}

/// The job, the inks and the trap that `plates` was asked for.
pub(crate) fn plates(job: Job, o: PlateOptions) -> Result<(Job, Wanted, Length), Failure> {
    let trap = length("--trap", &o.trap)?;
    let inks = wanted_inks(&o.inks)?;
    let garment = o.garment_colour.as_deref().map(colour).transpose()?;
    let options = ArtOptions {
        width: o.width,
        ppi: o.ppi,
        crop: o.crop,
        source: o.source,
        ..ArtOptions::default()
    };
    Ok((art(job, &options)?, Wanted { inks, garment }, trap))
}

fn wanted_inks(text: &str) -> Result<Inks, Failure> {
    /// One ink of a file.
    #[derive(serde::Deserialize)]
    struct Picked {
        colour: Rgb,
        name: Option<String>,
    }
    if text == "auto" {
        return Ok(Inks::Found);
    }
    if let Some(count) = text.strip_prefix("auto:") {
        let count = count.trim().parse();
        return count.map(Inks::AtMost).map_err(|_| {
            Failure::usage(format!(
                "--inks takes a count after auto:, such as auto:3, not \"{text}\""
            ))
        });
    }
    let said = std::fs::read_to_string(text).map_err(|e| {
        let hint = "give auto, auto:3, or a JSON file with a list of inks";
        Failure::new(format!("the inks' file {text} could not be read: {e}"), hint)
    })?;
    let picked: Vec<Picked> = serde_json::from_str(&said).map_err(|e| {
        let hint =
            "write it as [{\"colour\": \"#ffcc00\", \"name\": \"Yellow\"}]; names may be left out";
        Failure::new(format!("{text} does not hold a list of inks: {e}"), hint)
    })?;
    Ok(Inks::Picked(picked.into_iter().map(|ink| (ink.colour, ink.name)).collect()))
}

fn colour(text: &str) -> Result<Rgb, Failure> {
    text.parse().map_err(|e: inks::InksError| Failure::new(e.to_string(), e.hint()))
}

impl From<DotName> for Dot {
    fn from(name: DotName) -> Self {
        match name {
            DotName::Round => Self::Round,
            DotName::Elliptical => Self::Elliptical,
            DotName::Line => Self::Line,
        }
    }
}
