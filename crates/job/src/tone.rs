use crate::{Job, JobError};
use artwork::Picture;
use bitmap::{KeptPixels, Raster, Turned};
use measure::{Angle, Length, Ruling, Unit};
use progress::Progress;
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use tone::{Dot, Mixed, Screen, Screened, TonalMask, Tones};

/// How the artwork's tone becomes ink or none.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Tone {
    /// Ink or none at the cut level, with crisp edges.
    #[default]
    Cut,
    /// Dots on a lattice, their size following tone.
    Dots {
        /// The dots' shape.
        dot: Dot,
        /// Lines of dots per inch.
        ruling: Ruling,
        /// How far the lines are turned.
        angle: Angle,
    },
    /// Grains scattered evenly, their number following tone.
    Noise {
        /// How large a grain is; rounded to whole film pixels, at least one.
        grain: Length,
    },
    /// Error diffusion.
    Diffuse {
        /// How large a grain is; rounded to whole film pixels, at least one.
        grain: Length,
    },
}

impl Tone {
    /// The dots taken where nothing else is asked: coarse enough for any usual mesh, and
    /// turned so that no thread runs along them.
    pub const DOTS: Self =
        Self::Dots { dot: Dot::Round, ruling: Ruling::lpi(25.0), angle: Angle::deg(22.5) };
    /// The grain taken where nothing else is asked: two film pixels at 300 ppi.
    pub const GRAIN: Length = Length::inches(1.0 / 150.0);

    /// Whether there is no tone, only ink or none.
    pub fn is_cut(&self) -> bool {
        *self == Self::Cut
    }

    /// The dots' ruling and angle, where there are dots.
    pub fn dots(&self) -> Option<(Ruling, Angle)> {
        match self {
            Self::Dots { ruling, angle, .. } => Some((*ruling, *angle)),
            _ => None,
        }
    }

    pub(crate) fn check(&self) -> Result<(), JobError> {
        let bad = |what, given, range: &str| {
            Err(JobError::BadNumber { what, given, range: range.into() })
        };
        match self {
            Self::Cut => Ok(()),
            Self::Dots { ruling, angle, .. } => {
                let (lpi, turn) = (ruling.to_lpi(), angle.to_deg());
                if !(1.0..=1000.0).contains(&lpi) {
                    bad("the ruling", format!("{lpi} lpi"), "a ruling from 1 to 1000 lpi")
                } else if !(-360.0..=360.0).contains(&turn) {
                    bad("the dots' angle", format!("{turn} deg"), "an angle from -360 to 360 deg")
                } else {
                    Ok(())
                }
            }
            Self::Noise { grain } | Self::Diffuse { grain } => {
                if grain.is_finite() && *grain >= Length::ZERO && *grain <= Length::mm(20.0) {
                    return Ok(());
                }
                bad("the grain", grain.show(Unit::Mm), "a length from 0 to 20 mm")
            }
        }
    }
}

/// The film of a job whose tone is not cut. The share of ink is 1 - grey / 255 of the part
/// of the picture used, its black and white exchanged where the job says so. `lines` is the
/// film cut, whose hard edges are kept where the job's film is mixed.
pub(crate) fn raster(
    job: &Job,
    picture: &Picture,
    lines: Option<Arc<dyn Raster + Send + Sync>>,
    laid: Turned,
    progress: &Progress,
) -> Result<Arc<dyn Raster + Send + Sync>, JobError> {
    let tones = tones(job, picture)?;
    let Some(lines) = lines.filter(|_| job.printing.mixed) else {
        return Ok(kept(screened(job, &tones, laid, progress)?));
    };
    mixed(job, &tones, lines, laid, progress)
}

/// A film with dots where a picture is tone and the hard edges of `lines` elsewhere.
pub(crate) fn mixed(
    job: &Job,
    tones: &Tones,
    lines: Arc<dyn Raster + Send + Sync>,
    laid: Turned,
    progress: &Progress,
) -> Result<Arc<dyn Raster + Send + Sync>, JobError> {
    let mask = TonalMask::of(tones);
    if mask.share() == 0.0 {
        return Ok(lines);
    }
    let screened = screened(job, tones, laid, progress)?;
    let mixed = Mixed::new(lines.clone(), screened, mask, laid);
    Ok(mixed.map_or(lines, |mixed| kept(Arc::new(mixed))))
}

/// A film whose rows are looked at several times, each worked out but once: 64 MB hold four
/// films of 42 x 36 in at 300 ppi.
fn kept(film: Arc<dyn Raster + Send + Sync>) -> Arc<dyn Raster + Send + Sync> {
    Arc::new(KeptPixels::new(film, 1 << 26))
}

/// Shares of ink in the job's tone, as the picture is laid on the film.
pub(crate) fn screened(
    job: &Job,
    tones: &Tones,
    laid: Turned,
    progress: &Progress,
) -> Result<Arc<dyn Raster + Send + Sync>, JobError> {
    let curve = job.printing.curve()?;
    let curved = curve.map(|curve| tones.through(&curve));
    let tones = curved.as_ref().unwrap_or(tones);
    let hold = job.printing.hold(&job.tone);
    let screened = |screen: &Screen| -> Result<Arc<dyn Raster + Send + Sync>, JobError> {
        Ok(Arc::new(Screened::new(tones, laid, job.resolution, screen, hold)?))
    };
    match &job.tone {
        Tone::Dots { dot, ruling, angle } => {
            screened(&Screen::Dots { dot: dot.clone(), ruling: *ruling, angle: *angle })
        }
        Tone::Noise { grain } => screened(&Screen::Noise { grain: *grain }),
        Tone::Cut | Tone::Diffuse { .. } => {
            let grain = match job.tone {
                Tone::Diffuse { grain } => job.resolution.whole_px(grain).clamp(1, 1000) as u32,
                _ => 1,
            };
            Ok(Arc::new(tone::diffuse(tones, laid, grain, progress)?))
        }
    }
}

fn tones(job: &Job, picture: &Picture) -> Result<Tones, JobError> {
    let part = crate::plates::part(picture, job.art.crop)?;
    let mut grey = part.greys().into_owned();
    if job.art.invert {
        grey.iter_mut().for_each(|g| *g = 255 - *g);
    }
    Ok(Tones::of_grey(part.width, part.height, &grey)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Edit, build};
    use artwork::Crop;
    use measure::Resolution;

    #[test]
    fn ink_is_the_share_asked_for_after_crop_and_invert() {
        // The left half is white, the right a grey of 64: inverted, a quarter of ink.
        let bytes: Vec<u8> = (0..40 * 20).map(|i| if i % 40 < 20 { 255 } else { 64 }).collect();
        let picture = Picture::grey(40, 20, bytes);
        let mut job = Job {
            width: Length::inches(2.0),
            resolution: Resolution::ppi(300.0),
            ..Job::default()
        };
        job.art.crop = Some(Crop { x: 20, y: 0, width: 20, height: 20 });
        let surface = build::surface(&job, &picture, &Progress::none()).unwrap();
        for tone in
            [Tone::DOTS, Tone::Noise { grain: Tone::GRAIN }, Tone::Diffuse { grain: Tone::GRAIN }]
        {
            for (invert, share) in [(false, 191.0 / 255.0), (true, 64.0 / 255.0)] {
                let mut job = job.clone().apply(Edit::Tone(tone.clone())).unwrap();
                job.art.invert = invert;
                let film = build::film(&job, &picture, &surface, &Progress::none()).unwrap();
                let bits = bitmap::collect(&*film.raster);
                let ink =
                    (0..360_000).filter(|i| bits.get(i % 600, i / 600)).count() as f64 / 360_000.0;
                assert!(
                    (ink - share).abs() < 0.005,
                    "{tone:?}, invert {invert}: {ink} not {share}"
                );
            }
        }
    }

    #[test]
    fn dots_that_cannot_be_are_refused() {
        let dots = |lpi, deg| Tone::Dots {
            dot: Dot::Line,
            ruling: Ruling::lpi(lpi),
            angle: Angle::deg(deg),
        };
        for tone in [
            dots(f64::NAN, 0.0),
            dots(0.0, 0.0),
            dots(25.0, f64::INFINITY),
            Tone::Noise { grain: Length::mm(-1.0) },
        ] {
            let error = Job::default().apply(Edit::Tone(tone)).unwrap_err();
            assert!(!error.hint().is_empty());
        }
    }
}
