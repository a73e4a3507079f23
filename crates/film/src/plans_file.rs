use crate::{FilmError, PlanFile};
use serde::{Deserialize, Serialize};
use std::io::Write;
use std::path::Path;

/// A folder's `plan.json`: one plan that all its films share, or a plan for each screen's film,
/// all of one size and with the same register targets.
#[derive(Clone, Debug, PartialEq)]
pub struct Plans(Vec<PlanFile>);

/// How plans of several films are written.
#[derive(Serialize, Deserialize)]
struct Several {
    format: String,
    plans: Vec<PlanFile>,
}

/// Only the version, which is read first.
#[derive(Deserialize)]
struct Version {
    format: String,
}

impl Plans {
    /// What the file's `format` says where each film has a plan of its own. Readers of the one
    /// plan that films share would take the first for all.
    pub const FORMAT: &'static str = "filmquilt plan 2";

    /// One plan for all films, or one for each.
    pub fn new(plans: Vec<PlanFile>) -> Self {
        Self(plans)
    }

    /// Reads a folder's plans back.
    ///
    /// # Errors
    /// When the file cannot be read or is none of this version.
    pub fn read(folder: &Path) -> Result<Self, FilmError> {
        let path = folder.join("plan.json");
        let foreign = |why: String| FilmError::Foreign { path: path.clone(), what: "plan", why };
        let bytes =
            std::fs::read(&path).map_err(|why| FilmError::Read { path: path.clone(), why })?;
        let version: Version =
            serde_json::from_slice(&bytes).map_err(|e| foreign(e.to_string()))?;
        if version.format != Self::FORMAT {
            return Ok(Self(vec![PlanFile::from_json(&bytes).map_err(foreign)?]));
        }
        let several: Several =
            serde_json::from_slice(&bytes).map_err(|e| foreign(e.to_string()))?;
        if several.plans.is_empty() {
            return Err(foreign("it holds no plan".into()));
        }
        several.plans.iter().try_for_each(PlanFile::check).map_err(foreign)?;
        Ok(Self(several.plans))
    }

    /// Writes the plans as JSON.
    ///
    /// # Errors
    /// When `out` fails.
    pub fn write(&self, out: &mut impl Write) -> Result<(), FilmError> {
        if let [plan] = &self.0[..] {
            return plan.write(out);
        }
        let several = Several { format: Self::FORMAT.into(), plans: self.0.clone() };
        let mut text = serde_json::to_string_pretty(&several).map_err(std::io::Error::other)?;
        text.push('\n');
        Ok(out.write_all(text.as_bytes())?)
    }

    /// All plans: one, or one for each film in printing order.
    pub fn all(&self) -> &[PlanFile] {
        &self.0
    }

    /// The plan of a film by its file's name: that of the plan or, where none names it, the
    /// first, which says so when the film is proved.
    pub fn of(&self, name: &str) -> Option<&PlanFile> {
        let names = |plan: &&PlanFile| plan.files.iter().any(|file| file.name == name);
        self.0.iter().find(names).or(self.0.first())
    }

    /// The names of all films, in printing order.
    pub fn films(&self) -> impl Iterator<Item = &str> {
        self.0.iter().flat_map(|plan| &plan.files).map(|file| &file.name[..])
    }

    /// Whether the plans of several films are of films of one size whose register targets
    /// stand at the same places.
    pub(crate) fn agree(&self) -> bool {
        let targets = |plan: &PlanFile| {
            let mut all: Vec<_> =
                plan.targets.iter().map(|t| (t.x_px, t.y_px, t.width_px, t.height_px)).collect();
            all.sort_unstable();
            all
        };
        self.0.windows(2).all(|pair| {
            pair[0].film == pair[1].film
                && pair[0].printer == pair[1].printer
                && targets(&pair[0]) == targets(&pair[1])
        })
    }
}
