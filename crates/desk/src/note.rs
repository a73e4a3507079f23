//! A note for the shop's notebook while it is being written.

use shop::{Entry, Observation, ShopSettings};

/// What a note is about.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum About {
    #[default]
    Exposure,
    Weight,
    Timing,
    Wash,
    Words,
}

/// What has been typed so far.
#[derive(Clone, Debug)]
pub(crate) struct Note {
    pub(crate) about: About,
    pub(crate) date: String,
    pub(crate) secs: Option<f64>,
    pub(crate) last_step: Option<f64>,
    pub(crate) good: bool,
    pub(crate) grams: f64,
    pub(crate) step: usize,
    pub(crate) times: u32,
    pub(crate) minutes: f64,
    pub(crate) cure: String,
    pub(crate) washes: u32,
    pub(crate) words: String,
    pub(crate) photo: String,
}

impl Default for Note {
    fn default() -> Self {
        Self {
            about: About::Exposure,
            date: String::new(),
            secs: None,
            last_step: None,
            good: true,
            grams: 0.0,
            step: 0,
            times: 1,
            minutes: 0.0,
            cure: String::new(),
            washes: 1,
            words: String::new(),
            photo: String::new(),
        }
    }
}

impl Note {
    /// The entry, or what it still lacks.
    pub(crate) fn entry(
        &self,
        screen: &str,
        settings: &ShopSettings,
        ink_area_m2: Option<f64>,
    ) -> Result<Entry, &'static str> {
        if self.date.trim().is_empty() {
            return Err("write the day first");
        }
        let seen = match self.about {
            About::Exposure => Observation::Exposed {
                per_cm: settings.mesh.per_cm,
                lamp: settings.lamp.kind,
                distance: settings.lamp.distance,
                secs: self.secs.unwrap_or(settings.exposure.time_secs),
                good: self.good,
                last_step: self.last_step,
            },
            About::Weight if self.grams <= 0.0 => return Err("weigh a garment first"),
            About::Weight => Observation::Weighed {
                grams: self.grams,
                ink_area_m2: ink_area_m2.filter(|a| *a > 0.0).ok_or("wait for the film first")?,
                volume: settings.mesh.ink_volume(&settings.mesh_rules),
            },
            About::Timing if self.minutes <= 0.0 => return Err("take the time first"),
            About::Timing => Observation::Timed {
                step: settings.steps.get(self.step).ok_or("choose a step first")?.name.clone(),
                times: self.times.max(1),
                hands_minutes: self.minutes,
            },
            About::Wash if self.cure.trim().is_empty() => {
                return Err("say first how it was cured");
            }
            About::Wash => Observation::Washed {
                cure: self.cure.trim().to_owned(),
                washes: self.washes,
                good: self.good,
            },
            About::Words if self.words.trim().is_empty() => return Err("write something first"),
            About::Words => Observation::Noted,
        };
        let photo = self.photo.trim();
        Ok(Entry {
            date: self.date.trim().to_owned(),
            screen: screen.to_owned(),
            seen,
            note: self.words.trim().to_owned(),
            photo: (!photo.is_empty()).then(|| photo.into()),
        })
    }

    /// Ready for the next one of the same day.
    pub(crate) fn next(&self) -> Self {
        Self { about: self.about, date: self.date.clone(), ..Self::default() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_says_what_it_lacks() {
        let settings = ShopSettings::default();
        let entry = |note: &Note| note.entry("boats", &settings, Some(0.3));
        let mut note = Note::default();
        assert!(entry(&note).is_err(), "no day");
        note.date = "2031-05-17".into();
        assert!(matches!(
            entry(&note).unwrap().seen,
            Observation::Exposed { secs: 300.0, good: true, .. }
        ));
        for (about, lacks) in [
            (About::Weight, true),
            (About::Timing, true),
            (About::Wash, true),
            (About::Words, true),
        ] {
            note.about = about;
            assert_eq!(entry(&note).is_err(), lacks, "{about:?}");
        }
        note = Note {
            grams: 41.0,
            minutes: 30.0,
            times: 10,
            cure: "155 C, 3 min".into(),
            words: "clear".into(),
            ..note
        };
        for about in [About::Weight, About::Timing, About::Wash, About::Words] {
            note.about = about;
            assert!(entry(&note).is_ok(), "{about:?}");
        }
        note.about = About::Weight;
        assert!(note.entry("boats", &settings, None).is_err(), "no film yet");
        assert_eq!(note.next().date, "2031-05-17");
    }
}
