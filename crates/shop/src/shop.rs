use crate::{Error, ShopSettings, keep};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// A shop's own numbers, the same for every job, and how many garments are wanted: one file
/// of JSON that a person can read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Shop {
    /// What the shop sets once.
    pub settings: ShopSettings,
    /// How many garments are wanted.
    pub quantity: u32,
}

impl Default for Shop {
    fn default() -> Self {
        Self { settings: ShopSettings::default(), quantity: 25 }
    }
}

impl Shop {
    /// Reads a shop's file.
    ///
    /// # Errors
    /// Where there is none, it cannot be read, holds something else, or a number in it is out
    /// of all reason.
    pub fn read(path: &Path) -> Result<Self, Error> {
        let missing = || keep::failed(path, "read", "it is not there");
        Self::parse(path, &keep::read(path)?.ok_or_else(missing)?)
    }

    /// Reads a shop's file, whatever state it is in: its backup where it is unreadable, and a
    /// new shop where there is neither. A file that could not be read is put aside under its
    /// name with `.unread` added, so that nothing is lost, and the error says why.
    pub fn open(path: &Path) -> (Self, Option<Error>) {
        let text = match keep::read(path) {
            Ok(Some(text)) => text,
            Ok(None) => return (Self::default(), None),
            Err(e) => return (Self::default(), Some(e)),
        };
        match Self::parse(path, &text) {
            Ok(shop) => (shop, None),
            Err(e) => {
                let _ = std::fs::rename(path, keep::named(path, ".unread"));
                (Self::read(path).unwrap_or_default(), Some(e))
            }
        }
    }

    /// Writes the file: beside it first, then renamed; the old one stays as a backup ending
    /// in `.bak`.
    ///
    /// # Errors
    /// Where it cannot be written; the old one is then untouched.
    pub fn save(&self, path: &Path) -> Result<(), Error> {
        let text =
            serde_json::to_string_pretty(self).map_err(|e| keep::failed(path, "written", e))?;
        keep::write(path, text.as_bytes())
    }

    fn parse(path: &Path, text: &str) -> Result<Self, Error> {
        let shop: Self = serde_json::from_str(text).map_err(|e| keep::failed(path, "read", e))?;
        shop.settings.check()?;
        Ok(shop)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_outlive_a_damaged_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shop.json");
        assert_eq!(Shop::open(&path), (Shop::default(), None));
        assert!(Shop::read(&path).is_err());
        let mut shop = Shop { quantity: 7, ..Shop::default() };
        shop.save(&path).unwrap();
        shop.quantity = 8;
        shop.save(&path).unwrap();
        assert_eq!(Shop::read(&path).unwrap(), shop);
        for damaged in ["{\"settings\": {", r#"{"settings": {"ink": {"density": -4}}}"#] {
            std::fs::write(&path, damaged).unwrap();
            let (rescued, error) = Shop::open(&path);
            assert_eq!(rescued.quantity, 7, "the backup is taken");
            assert!(!error.unwrap().hint().is_empty());
            let aside = folder.path().join("shop.json.unread");
            assert_eq!(std::fs::read_to_string(aside).unwrap(), damaged);
        }
    }
}
