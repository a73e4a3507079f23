//! The shop's film printers: their profiles, kept beside the window's settings, and the
//! calibration of one more.

use crate::desk::Desk;
use job::{Edit, JobError, Profile, calibrate, file};
use measure::{Length, Unit, parse_length};
use printer::{Readings, Target};
use std::path::{Path, PathBuf};

/// What is known of the shop's film printers, and what is being read from a calibration page.
#[derive(Clone, Debug, Default)]
pub(crate) struct FilmPrinters {
    /// In the order of their names.
    pub(crate) known: Vec<Profile>,
    /// As typed: what the printer and the film are called, and the readings.
    pub(crate) printer: String,
    pub(crate) film: String,
    pub(crate) across: String,
    pub(crate) down: String,
    pub(crate) falling: String,
    pub(crate) rising: String,
    pub(crate) gap: Option<Length>,
    /// What the last page told.
    pub(crate) told: Vec<String>,
}

/// Where profiles lie in the window's own folder.
const FOLDER: &str = "printers";

impl FilmPrinters {
    /// Those kept in a folder; files that are no profiles are passed over.
    pub(crate) fn read(home: &Path) -> Self {
        let entries = std::fs::read_dir(home.join(FOLDER)).into_iter().flatten().flatten();
        let ours = |path: &PathBuf| path.extension().is_some_and(|e| e == calibrate::ENDING);
        let paths = entries.map(|entry| entry.path()).filter(ours);
        let mut known: Vec<Profile> =
            paths.filter_map(|path| calibrate::open(&path).ok()).collect();
        known.sort_by(|a, b| (&a.printer, &a.film).cmp(&(&b.printer, &b.film)));
        Self { known, ..Self::default() }
    }

    fn readings(&self, unit: Unit) -> Result<Readings, String> {
        let read = |what: &str, text: &str| {
            parse_length(text, Some(unit)).map_err(|e| format!("{what}: {e}"))
        };
        let diagonals = match (self.falling.trim(), self.rising.trim()) {
            ("", "") => None,
            (falling, rising) => Some([read("A to I", falling)?, read("G to C", rising)?]),
        };
        Ok(Readings {
            across: vec![read("A to C", &self.across)?],
            down: vec![read("A to G", &self.down)?],
            diagonals,
            gap: self.gap,
            ..Readings::default()
        })
    }
}

impl Desk {
    /// The calibration page for the film in the drawer.
    pub(crate) fn target(&self) -> Option<Result<Target, JobError>> {
        self.job().stocks.first().map(calibrate::target)
    }

    /// What a page is drawn for: the printer chosen, or one that is not known yet.
    fn made_with(&self) -> Profile {
        let named = |typed: &str, usual: &str| {
            if typed.trim().is_empty() { usual.to_owned() } else { typed.trim().to_owned() }
        };
        let typed = &self.film_printers;
        let (printer, film) = (named(&typed.printer, "film printer"), named(&typed.film, "film"));
        self.job().printer.clone().unwrap_or_else(|| Profile::true_to_size(printer, film))
    }

    /// Writes the calibration page where the films go.
    pub(crate) fn write_calibration(&mut self) {
        let Some(target) = self.target() else { return };
        let dir = PathBuf::from(self.out_dir().trim());
        let path = dir.join("calibration.pdf");
        let written = file::make_folder(&dir)
            .and(target)
            .and_then(|target| calibrate::write_page(&target, &self.made_with(), &path));
        match written {
            Ok(()) => self.notices.tell(format!("Wrote {}", path.display())),
            Err(e) => self.notices.say(e.to_string(), e.hint()),
        }
    }

    /// Turns what was typed into a profile, keeps it, and chooses it for the job.
    pub(crate) fn keep_printer(&mut self) {
        let readings = match self.film_printers.readings(self.job().unit) {
            Ok(readings) => readings,
            Err(what) => return self.notices.say(what, "type a length such as 299.5mm"),
        };
        let Some(target) = self.target() else { return };
        let made_with = self.made_with();
        let found = target
            .and_then(|target| Ok(printer::solve(&target, &readings, &made_with)?))
            .and_then(|found| self.keep_profile(&found.profile).map(|()| found));
        match found {
            Ok(found) => {
                let printers = &mut self.film_printers;
                let same = |p: &Profile| {
                    (&p.printer, &p.film) == (&found.profile.printer, &found.profile.film)
                };
                printers.known.retain(|p| !same(p));
                printers.known.push(found.profile.clone());
                printers.told = found.told;
                for text in [
                    &mut printers.across,
                    &mut printers.down,
                    &mut printers.falling,
                    &mut printers.rising,
                ] {
                    text.clear();
                }
                let edited = self.history.apply(Edit::Printer(Some(found.profile)));
                self.say_if_wrong(edited);
            }
            Err(e) => self.notices.say(e.to_string(), e.hint()),
        }
    }

    /// Keeps a profile in the window's own folder, if it has one.
    fn keep_profile(&self, profile: &Profile) -> Result<(), JobError> {
        let Some(home) = &self.home else { return Ok(()) };
        let folder = home.join(FOLDER);
        file::make_folder(&folder)?;
        let plain = |c: char| if c.is_alphanumeric() { c } else { '-' };
        let name: String =
            format!("{} {}", profile.printer, profile.film).chars().map(plain).collect();
        calibrate::save(profile, &folder.join(format!("{name}.{}", calibrate::ENDING)))
    }
}
