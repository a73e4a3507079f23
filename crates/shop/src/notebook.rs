use crate::figure::{number, show_length, show_time};
use crate::{
    Error, LampKind, Quantity, Section, ShopSettings, Source, keep, take_up_by_weight,
    time_from_wedge,
};
use measure::{Length, Unit};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// What was really used and seen, one line of JSON an entry, in one file a person can
/// read. Lines that are no entries are kept as they are.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Notebook {
    lines: Vec<Line>,
}

#[derive(Clone, Debug, PartialEq)]
enum Line {
    Entry(Entry),
    Other(String),
}

/// One thing noted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// The day, as the printer wrote it, best as 2031-05-17.
    pub date: String,
    /// Which screen.
    pub screen: String,
    /// What was seen.
    pub seen: Observation,
    /// Anything else.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// A photograph's file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<PathBuf>,
}

/// What can be seen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Observation {
    /// A screen or test strip was exposed.
    Exposed {
        /// Threads per cm.
        per_cm: f64,
        /// The kind of lamp.
        lamp: LampKind,
        /// From lamp to emulsion.
        distance: Length,
        /// How long.
        secs: f64,
        /// Whether solid areas held and fine gaps opened.
        good: bool,
        /// The last step of a wedge that held, where one was exposed too.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        last_step: Option<f64>,
    },
    /// A garment was weighed before and after printing.
    Weighed {
        /// The grams gained.
        grams: f64,
        /// The inked area in m².
        ink_area_m2: f64,
        /// The mesh's theoretical volume in cm³/m².
        volume: f64,
    },
    /// A step of work was timed.
    Timed {
        /// The step's name.
        step: String,
        /// How often it was done.
        times: u32,
        /// Minutes of work in all.
        hands_minutes: f64,
    },
    /// A garment was washed.
    Washed {
        /// How it had been cured.
        cure: String,
        /// How often it was washed.
        washes: u32,
        /// Whether the print held.
        good: bool,
    },
    /// Words alone.
    Noted,
}

impl Entry {
    /// The entry as one sentence, lengths in `unit`.
    pub fn words(&self, unit: Unit) -> String {
        let seen = match &self.seen {
            Observation::Exposed { per_cm, lamp, distance, secs, good, last_step } => {
                let step =
                    last_step.map_or(String::new(), |s| format!(", held step {}", number(s)));
                format!(
                    "exposed {} on {}/cm, {} at {}{step}: {}",
                    show_time(*secs),
                    number(*per_cm),
                    lamp.name(),
                    show_length(*distance, unit),
                    if *good { "good" } else { "not good" }
                )
            }
            Observation::Weighed { grams, .. } => {
                format!("a garment gained {} g", number(*grams))
            }
            Observation::Timed { step, times, hands_minutes } => {
                format!("{step} {times} times in {} min", number(*hands_minutes))
            }
            Observation::Washed { cure, washes, good } => {
                let held = if *good { "held" } else { "did not hold" };
                format!("cured {cure}, washed {washes} times: {held}")
            }
            Observation::Noted => String::new(),
        };
        let photo = self.photo.as_ref().map(|p| format!("photo {}", p.display()));
        let parts = [Some(seen), Some(self.note.clone()), photo];
        let said: Vec<String> = parts.into_iter().flatten().filter(|w| !w.is_empty()).collect();
        format!("{}: {}.", self.date, said.join("; ").trim_end_matches('.'))
    }
}

/// A number that the notebook offers in place of a setting.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// Which setting.
    pub what: String,
    /// The number.
    pub value: Quantity,
    /// Which notes it comes from.
    pub how: String,
    change: Change,
}

#[derive(Clone, Debug, PartialEq)]
enum Change {
    ExposureSecs(f64),
    TakeUp(f64),
    StepMinutes(String, f64),
}

impl Proposal {
    /// Takes the number over into the settings.
    pub fn apply(&self, settings: &mut ShopSettings) {
        match &self.change {
            Change::ExposureSecs(secs) => settings.exposure.time_secs = *secs,
            Change::TakeUp(k) => settings.ink.take_up = *k,
            Change::StepMinutes(name, minutes) => {
                for step in settings.steps.iter_mut().filter(|s| s.name == *name) {
                    step.hands_minutes = *minutes;
                }
            }
        }
    }
}

impl Notebook {
    /// Reads a notebook's file. Where it is missing its backup is read, and where that is
    /// missing too the notebook is empty.
    ///
    /// # Errors
    /// [`Error::File`] if a file is there but cannot be read.
    pub fn read(path: &Path) -> Result<Self, Error> {
        Ok(keep::read(path)?.map_or_else(Self::default, |text| Self::parse(&text)))
    }

    fn parse(text: &str) -> Self {
        let line = |l: &str| {
            serde_json::from_str(l).map_or_else(|_| Line::Other(l.to_owned()), Line::Entry)
        };
        Self { lines: text.lines().map(line).collect() }
    }

    /// The entries, oldest first.
    pub fn entries(&self) -> impl DoubleEndedIterator<Item = &Entry> {
        self.lines.iter().filter_map(|l| match l {
            Line::Entry(e) => Some(e),
            Line::Other(_) => None,
        })
    }

    /// Lines that are neither entries, empty, nor remarks after a `#`.
    pub fn unread(&self) -> impl Iterator<Item = &str> {
        self.lines.iter().filter_map(|l| match l {
            Line::Other(text) if !text.trim().is_empty() && !text.starts_with('#') => {
                Some(text.as_str())
            }
            _ => None,
        })
    }

    /// Adds an entry at the end.
    pub fn push(&mut self, entry: Entry) {
        self.lines.push(Line::Entry(entry));
    }

    /// Writes the file: beside it first, then renamed, so that a crash leaves the old or
    /// the new file whole; the old one stays as a backup ending in `.bak`.
    ///
    /// # Errors
    /// [`Error::File`] if a file cannot be written; the old one is then untouched.
    pub fn save(&self, path: &Path) -> Result<(), Error> {
        let mut text = String::new();
        for line in &self.lines {
            match line {
                Line::Entry(e) => {
                    text +=
                        &serde_json::to_string(e).map_err(|e| keep::failed(path, "written", e))?;
                }
                Line::Other(t) => text += t,
            }
            text.push('\n');
        }
        keep::write(path, text.as_bytes())
    }

    /// The notebook's part of the plan: what it offers in place of the settings, and what was
    /// noted of this screen. None where it has nothing to say.
    pub fn section(&self, settings: &ShopSettings, screen: &str) -> Option<Section> {
        let mut s = Section::new("notebook", "From the notebook");
        for p in self.proposals(settings) {
            s.add(p.what, p.value, p.how, Source::Shop);
        }
        for entry in self.entries().filter(|e| e.screen == screen) {
            s.note(entry.words(settings.unit));
        }
        if self.unread().count() > 0 {
            s.warn(format!("{} lines of the notebook could not be read.", self.unread().count()));
        }
        let empty = s.figures.is_empty() && s.notes.is_empty() && s.warnings.is_empty();
        (!empty).then_some(s)
    }

    /// What the notes offer in place of the settings.
    pub fn proposals(&self, settings: &ShopSettings) -> Vec<Proposal> {
        let mut found = Vec::new();
        found.extend(self.exposure(settings));
        found.extend(self.take_up(settings));
        for step in &settings.steps {
            found.extend(self.step(&step.name));
        }
        found
    }

    /// The latest exposure of a like mesh at the same kind of lamp that was good or had a
    /// wedge beside it, brought to the step wanted and to the distance where that is valid.
    fn exposure(&self, settings: &ShopSettings) -> Option<Proposal> {
        self.entries().rev().find_map(|e| {
            let Observation::Exposed { per_cm, lamp, distance, secs, good, last_step } = e.seen
            else {
                return None;
            };
            let known = &settings.exposure;
            let (right, from) = match last_step {
                _ if good => (secs, "was good".to_owned()),
                Some(held) => (
                    time_from_wedge(secs, held, known.target_step, known.wedge_step),
                    format!("held step {}, wanted {}", number(held), number(known.target_step)),
                ),
                None => return None,
            };
            let alike = (per_cm / settings.mesh.per_cm - 1.0).abs() < 0.1
                && lamp == settings.lamp.kind
                && (1.0..=36_000.0).contains(&right);
            if !alike {
                return None;
            }
            let there = crate::Lamp { distance, ..settings.lamp.clone() };
            let (now, scaled) = if (distance / settings.lamp.distance - 1.0).abs() < 0.02 {
                (right, "")
            } else {
                let now = there.time_at(right, settings.lamp.distance).ok()?;
                (now, ", by the square of the distance")
            };
            Some(Proposal {
                what: "exposure time".into(),
                value: Quantity::Time(now),
                how: format!("{} {from} on {} ({}){scaled}", show_time(secs), e.screen, e.date),
                change: Change::ExposureSecs(now),
            })
        })
    }

    /// The middle one of all take-ups weighed.
    fn take_up(&self, settings: &ShopSettings) -> Option<Proposal> {
        let all = self.entries().filter_map(|e| match e.seen {
            Observation::Weighed { grams, ink_area_m2, volume } => {
                let k = take_up_by_weight(grams, settings.ink.density, ink_area_m2, volume);
                (k.is_finite() && k > 0.0).then_some(k)
            }
            _ => None,
        });
        let (k, n) = median(all.collect())?;
        Some(Proposal {
            what: "take-up of ink".into(),
            value: Quantity::Factor(k),
            how: format!("the middle of {n} weighed garments"),
            change: Change::TakeUp(k),
        })
    }

    fn step(&self, name: &str) -> Option<Proposal> {
        let all = self.entries().filter_map(|e| match &e.seen {
            Observation::Timed { step, times, hands_minutes } if step == name && *times > 0 => {
                let each = hands_minutes / f64::from(*times);
                (each.is_finite() && each >= 0.0).then_some(each)
            }
            _ => None,
        });
        let (minutes, n) = median(all.collect())?;
        Some(Proposal {
            what: format!("time to {name}"),
            value: Quantity::Other(minutes, "min"),
            how: format!("the middle of {n} timings, {} min", number(minutes)),
            change: Change::StepMinutes(name.to_owned(), minutes),
        })
    }
}

fn median(mut all: Vec<f64>) -> Option<(f64, usize)> {
    all.sort_by(f64::total_cmp);
    let n = all.len();
    let middle = (*all.get(n / 2)? + *all.get(n.saturating_sub(1) / 2)?) / 2.0;
    Some((middle, n))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn entry(seen: Observation) -> Entry {
        let (date, screen) = ("2031-05-17".into(), "lantern".into());
        Entry { date, screen, seen, note: String::new(), photo: None }
    }

    fn exposed(secs: f64, distance_mm: f64, good: bool) -> Entry {
        let distance = Length::mm(distance_mm);
        let lamp = LampKind::Bulb;
        let last_step = None;
        entry(Observation::Exposed { per_cm: 43.0, lamp, distance, secs, good, last_step })
    }

    #[test]
    fn saves_reads_and_keeps_what_it_does_not_understand() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notebook.jsonl");
        assert_eq!(Notebook::read(&path).unwrap(), Notebook::default());
        let mut book = Notebook::parse("# our notebook\n\n{\"date\": broken");
        book.push(exposed(240.0, 500.0, true));
        book.save(&path).unwrap();
        let back = Notebook::read(&path).unwrap();
        assert_eq!(back, book);
        assert_eq!(back.entries().count(), 1);
        assert_eq!(back.unread().collect::<Vec<_>>(), ["{\"date\": broken"]);
        // Saved again, the former file is the backup, and is read if the file is lost.
        let mut more = back.clone();
        more.push(entry(Observation::Noted));
        more.save(&path).unwrap();
        fs::remove_file(&path).unwrap();
        assert_eq!(Notebook::read(&path).unwrap(), book);
        // Nothing else is left in the folder.
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_failed_save_leaves_the_old_file() {
        let folder = tempfile::tempdir().unwrap();
        let error = Notebook::default().save(&folder.path().join("no/such/book")).unwrap_err();
        assert!(error.to_string().contains("written"), "{error}");
        // A folder where the file should be.
        let error = Notebook::read(folder.path()).unwrap_err();
        assert!(!error.hint().is_empty());
    }

    #[test]
    fn the_plan_lists_what_was_noted_of_its_screen() {
        let settings = ShopSettings::default();
        let mut book = Notebook::default();
        assert_eq!(book.section(&settings, "lantern"), None);
        book.push(exposed(240.0, 500.0, true));
        let washed = Observation::Washed { cure: "155 C".into(), washes: 5, good: true };
        let photo = Some("night.jpg".into());
        let screen = "other".into();
        book.push(Entry { note: "soft hand.".into(), photo, screen, ..entry(washed) });
        let s = book.section(&settings, "other").unwrap();
        assert_eq!(s.figures[0].value, Quantity::Time(240.0));
        let words = "2031-05-17: cured 155 C, washed 5 times: held; soft hand.; photo night.jpg.";
        assert_eq!(s.notes, [words]);
        let s = book.section(&settings, "lantern").unwrap();
        assert!(s.notes[0].contains("exposed 4 min on 43/cm, small bulb at 19.69 in: good"));
    }

    #[test]
    fn proposals_come_from_what_was_good() {
        let mut settings = ShopSettings::default();
        let mut book = Notebook::default();
        assert!(book.proposals(&settings).is_empty());
        book.push(exposed(200.0, 500.0, true));
        book.push(exposed(900.0, 500.0, false));
        for grams in [50.0, 42.0, 90.0] {
            book.push(entry(Observation::Weighed { grams, ink_area_m2: 0.8, volume: 50.0 }));
        }
        for (times, hands_minutes) in [(10, 30.0), (4, 20.0)] {
            let step = "print".into();
            book.push(entry(Observation::Timed { step, times, hands_minutes }));
        }
        for p in book.proposals(&settings) {
            p.apply(&mut settings);
        }
        assert_eq!(settings.exposure.time_secs, 200.0);
        assert!((settings.ink.take_up - 50.0 / 1.05 / 40.0).abs() < 1e-12);
        let print = settings.steps.iter().find(|s| s.name == "print").unwrap();
        assert_eq!(print.hands_minutes, 4.0);
        // A later wedge that held two steps too few: twice the light.
        let mut wedge = exposed(100.0, 500.0, false);
        if let Observation::Exposed { last_step, .. } = &mut wedge.seen {
            *last_step = Some(5.0);
        }
        let mut later = book.clone();
        later.push(wedge);
        let Quantity::Time(t) = later.proposals(&settings)[0].value else { panic!("no time") };
        assert!((t - 200.0).abs() < 1.0, "{t}");
        // Another distance: scaled for a bulb, not offered for a panel.
        settings.lamp.distance = Length::mm(1000.0);
        let p = book.proposals(&settings);
        assert_eq!(p[0].value, Quantity::Time(800.0));
        settings.lamp.kind = LampKind::Panel;
        assert!(book.proposals(&settings).iter().all(|p| p.what != "exposure time"));
    }
}
