//! The options of tone and of inks, to a job's values.

use crate::args::{
    ArtOptions, DotName, InkOptions, PlansName, PlateOptions, ToneName, ToneOptions,
};
use crate::failure::Failure;
use crate::options::{apply, art, length, number};
use inks::{Inks, Rgb};
use job::{Edit, InkChange, Job, Plans, Printing, Separation, Tone};
use measure::{Angle, Ruling};
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
    let dots = matches!(tone, Tone::Dots { .. });
    if shaped && !dots {
        return Err(Failure::usage("--ruling, --angle and --dot need --tone dots"));
    }
    if o.grain.is_some() && (dots || tone.is_cut()) {
        return Err(Failure::usage("--grain needs --tone noise or --tone diffuse"));
    }
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
        Tone::Cut => {}
    }
    Ok(Some(tone))
}

/// How tone prints, as far as the options say; none where they say nothing.
pub(crate) fn printing(
    tone: &Tone,
    now: &Printing,
    o: &ToneOptions,
) -> Result<Option<Printing>, Failure> {
    if !o.mixed && o.smallest_dot.is_none() && o.gain.is_none() {
        return Ok(None);
    }
    if tone.is_cut() {
        let sentence = "--mixed, --smallest-dot and --gain need --tone dots, noise or diffuse";
        return Err(Failure::usage(sentence));
    }
    if o.smallest_dot.is_some() && tone.dots().is_none() {
        return Err(Failure::usage("--smallest-dot needs --tone dots; a grain holds by its size"));
    }
    let mut out = now.clone();
    out.mixed |= o.mixed;
    if let Some(text) = &o.smallest_dot {
        out.smallest_dot = length("--smallest-dot", text)?;
    }
    if let Some(path) = &o.gain {
        let text = std::fs::read_to_string(path).map_err(|e| {
            Failure::new(
                format!("{} could not be read: {}", path.display(), film::reason(&e)),
                "check the path",
            )
        })?;
        let gain = serde_json::from_str(&text).map_err(|e| {
            let hint = "write it as {\"solid\": 1.2, \"n\": 1, \"steps\": [[0.5, 0.41]]}";
            Failure::new(format!("{} holds no wedge's readings: {e}", path.display()), hint)
        })?;
        out.gain = Some(gain);
    }
    Ok(Some(out))
}

/// The job that `plates` was asked for.
pub(crate) fn plates(job: Job, o: PlateOptions) -> Result<Job, Failure> {
    let options = ArtOptions {
        width: o.width,
        turn: o.turn,
        ppi: o.ppi,
        crop: o.crop,
        source: o.source,
        tone: o.tone,
        ..ArtOptions::default()
    };
    let job = art(job, &options)?;
    let inks = inks(Some(&job.inks.clone().unwrap_or_default()), &o.inks)?;
    apply(job, inks.map(|inks| Edit::Inks(Some(inks))).into_iter().collect())
}

/// The separation that the options ask for, laid over the job's; none where they ask for none.
pub(crate) fn inks(
    now: Option<&Separation>,
    o: &InkOptions,
) -> Result<Option<Separation>, Failure> {
    let mut out = match (&o.inks, now) {
        (Some(text), _) => wanted_inks(text)?,
        (None, Some(now)) => now.clone(),
        (None, None)
            if o.garment_colour.is_some()
                || o.trap.is_some()
                || o.underbase.is_some()
                || o.plans.is_some() =>
        {
            let sentence = "--garment-colour, --trap, --underbase and --plans need --inks";
            return Err(Failure::usage(sentence));
        }
        (None, None) => return Ok(None),
    };
    out.plans = match o.plans {
        None => out.plans,
        Some(PlansName::Shared) => Plans::Shared,
        Some(PlansName::Own) => Plans::Own,
    };
    if let Some(text) = &o.garment_colour {
        out.garment = Some(colour(text)?);
    }
    if let Some(text) = &o.trap {
        out.trap = length("--trap", text)?;
    }
    if let Some(text) = &o.underbase {
        out.underbase = Some(length("--underbase", text)?);
    }
    Ok(Some(out))
}

fn wanted_inks(text: &str) -> Result<Separation, Failure> {
    /// One ink of a file.
    #[derive(serde::Deserialize)]
    struct Picked {
        colour: Rgb,
        name: Option<String>,
        #[serde(default)]
        overprints: bool,
    }
    let of = |inks| Separation { inks, ..Separation::default() };
    if text == "auto" {
        return Ok(of(Inks::Found));
    }
    if let Some(count) = text.strip_prefix("auto:") {
        let count = count.trim().parse();
        return count.map(|count| of(Inks::AtMost(count))).map_err(|_| {
            Failure::usage(format!(
                "--inks takes a count after auto:, such as auto:3, not \"{text}\""
            ))
        });
    }
    let said = std::fs::read_to_string(text).map_err(|e| {
        let hint = "give auto, auto:3, or a JSON file with a list of inks";
        let why = film::reason(&e);
        Failure::new(format!("the inks' file {text} could not be read: {why}"), hint)
    })?;
    let picked: Vec<Picked> = serde_json::from_str(&said).map_err(|e| {
        let hint =
            "write it as [{\"colour\": \"#ffcc00\", \"name\": \"Yellow\"}]; names may be left out";
        Failure::new(format!("{text} does not hold a list of inks: {e}"), hint)
    })?;
    let over = picked.iter().enumerate().filter(|(_, ink)| ink.overprints);
    let changes = over.map(|(n, _)| InkChange::Overprint(n, true)).collect();
    let inks = picked.into_iter().map(|ink| (ink.colour, ink.name)).collect();
    Ok(Separation { changes, ..of(Inks::Picked(inks)) })
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
