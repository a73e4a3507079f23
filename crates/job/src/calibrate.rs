//! The film printer's own faults: a page that shows them, the profile it gives, and films that
//! undo them.

use crate::{Job, JobError};
use bitmap::Raster;
use measure::Resolution;
use printer::{Profile, Target};
use sheets::{Margins, Stock};
use std::borrow::Cow;
use std::io::Write;
use std::path::Path;
use std::sync::Arc;

/// A profile's file name ends so.
pub const ENDING: &str = "printer";

/// No profile's file is larger than this.
const MOST: u64 = 1 << 16;

/// The calibration page of a stock.
///
/// # Errors
/// Where it has no room for one.
pub fn target(stock: &Stock) -> Result<Target, JobError> {
    let m = stock.margins;
    let widest = m.left.max(m.top).max(m.right).max(m.bottom);
    Ok(Target::new(stock.size, widest)?)
}

/// Writes the calibration page, drawn for what is known of the printer so far.
///
/// # Errors
/// When the disk says no.
pub fn write_page(target: &Target, made_with: &Profile, path: &Path) -> Result<(), JobError> {
    made_with.check()?;
    film::write_beside(path, |out| film::write_calibration(target, made_with, out))?;
    Ok(())
}

/// Saves a profile as a file that can be read.
///
/// # Errors
/// When the disk says no.
pub fn save(profile: &Profile, path: &Path) -> Result<(), JobError> {
    film::write_beside(path, |out| {
        let text = serde_json::to_string_pretty(profile).map_err(std::io::Error::other)?;
        Ok(writeln!(out, "{text}")?)
    })?;
    Ok(())
}

/// Opens a profile.
///
/// # Errors
/// Where the file cannot be read, is no profile, or says what no printer does.
pub fn open(path: &Path) -> Result<Profile, JobError> {
    let disk = |source| JobError::Disk { path: path.into(), action: "read", source };
    if std::fs::metadata(path).map_err(disk)?.len() > MOST {
        let why = "it is too large".into();
        return Err(JobError::NotAPrinter { path: path.into(), why });
    }
    let text = std::fs::read(path).map_err(disk)?;
    let profile: Profile = serde_json::from_slice(&text)
        .map_err(|e| JobError::NotAPrinter { path: path.into(), why: e.to_string() })?;
    if profile.format != Profile::FORMAT {
        let why = format!("its format is \"{}\"", profile.format);
        return Err(JobError::NotAPrinter { path: path.into(), why });
    }
    profile.check()?;
    Ok(profile)
}

/// The job's stocks with margins so wide that what its printer has to draw further out stays
/// within its reach.
pub(crate) fn stocks(job: &Job) -> Cow<'_, [Stock]> {
    let Some(profile) = job.printer.as_ref().filter(|p| p.moves()) else {
        return Cow::Borrowed(&job.stocks);
    };
    let wider = |stock: &Stock| {
        let m = stock.margins;
        let side = |margin| profile.margin(stock.size, margin, false);
        let end = |margin| profile.margin(stock.size, margin, true);
        let margins = Margins {
            left: side(m.left),
            top: end(m.top),
            right: side(m.right),
            bottom: end(m.bottom),
        };
        Stock { margins, ..stock.clone() }
    };
    Cow::Owned(job.stocks.iter().map(wider).collect())
}

/// The film with its edges drawn in as far as the printer's ink spreads, to the nearest pixel.
pub(crate) fn drawn_in(
    job: &Job,
    raster: Arc<dyn Raster + Send + Sync>,
    resolution: Resolution,
) -> Arc<dyn Raster + Send + Sync> {
    let by = spread_px(job, resolution);
    if by.abs() < 0.5 { raster } else { Arc::new(bitmap::inset(&*raster, by)) }
}

/// The film as it comes out of the printer, its edges drawn out as far as the ink spreads: what
/// was mended for the mesh is as wide again as it was mended to.
pub fn as_printed(
    job: &Job,
    film: Arc<dyn Raster + Send + Sync>,
    resolution: Resolution,
) -> Arc<dyn Raster + Send + Sync> {
    let by = spread_px(job, resolution);
    if by.abs() < 0.5 { film } else { Arc::new(bitmap::inset(&*film, -by)) }
}

fn spread_px(job: &Job, resolution: Resolution) -> f64 {
    job.printer.as_ref().map_or(0.0, |p| resolution.px(p.spread))
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::Length;

    #[test]
    fn what_is_saved_is_opened_and_nonsense_is_not() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("wide.printer");
        let mut profile = Profile::true_to_size("Wide", "Clear");
        (profile.scale_y, profile.spread) = (0.1 + 0.897, Length::mm(0.1 / 3.0));
        save(&profile, &path).unwrap();
        assert_eq!(open(&path).unwrap(), profile);
        let text = std::fs::read_to_string(&path).unwrap();
        for (from, to) in [
            ("filmquilt printer 1", "filmquilt printer 9"),
            ("\"scale_x\": 1.0", "\"scale_x\": 2.0"),
            ("\"scale_x\": 1.0", "\"scale_x\": \"wide\""),
            ("{", ""),
        ] {
            assert!(text.contains(from), "{from}");
            std::fs::write(&path, text.replacen(from, to, 1)).unwrap();
            let error = open(&path).unwrap_err();
            assert!(!error.hint().is_empty(), "{error}");
        }
        assert!(open(&dir.path().join("none")).is_err());
    }
}
