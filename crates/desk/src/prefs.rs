//! What the window remembers from one day to the next.

use eframe::egui::ThemePreference;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Jobs remembered in the menu.
const MOST_RECENT: usize = 8;

/// Settings of the window, not of any job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Prefs {
    pub(crate) theme: Light,
    /// How much larger than usual everything is.
    pub(crate) text: f32,
    /// Screen points that an inch takes, once measured.
    pub(crate) points_per_inch: Option<f32>,
    pub(crate) recent: Vec<PathBuf>,
    pub(crate) walked: bool,
}

/// Light or dark.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Light {
    Day,
    Night,
    #[default]
    System,
}

impl From<Light> for ThemePreference {
    fn from(light: Light) -> Self {
        match light {
            Light::Day => Self::Light,
            Light::Night => Self::Dark,
            Light::System => Self::System,
        }
    }
}

impl Default for Prefs {
    fn default() -> Self {
        Self {
            theme: Light::System,
            text: 1.0,
            points_per_inch: None,
            recent: Vec::new(),
            walked: false,
        }
    }
}

impl Prefs {
    /// As remembered in a folder; as new where nothing readable is there.
    pub(crate) fn read(home: &Path) -> Self {
        let text = std::fs::read_to_string(home.join("desk.json")).unwrap_or_default();
        let mut prefs: Self = serde_json::from_str(&text).unwrap_or_default();
        prefs.text = if prefs.text.is_finite() { prefs.text.clamp(0.8, 2.0) } else { 1.0 };
        prefs
    }

    /// Remembers. That it could not be done is no reason to bother anybody.
    pub(crate) fn write(&self, home: &Path) {
        if let Ok(text) = serde_json::to_string_pretty(self) {
            let _ = std::fs::create_dir_all(home);
            let beside = home.join("desk.json.new");
            let _ = std::fs::write(&beside, text)
                .and_then(|()| std::fs::rename(&beside, home.join("desk.json")));
        }
    }

    /// Puts a job on top of the recent ones.
    pub(crate) fn used(&mut self, path: &Path) {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.into());
        self.recent.retain(|p| *p != path);
        self.recent.insert(0, path);
        self.recent.truncate(MOST_RECENT);
    }
}
