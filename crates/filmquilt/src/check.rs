//! `filmquilt check`: exit 0 good, 1 fault, 3 not sure.

use crate::commands::{print, print_json};
use crate::failure::Failure;
use crate::options::numbers;
use inspect::{Options, Place, Report, SpotKind, Verdict};
use progress::Progress;
use serde_json::json;
use std::path::Path;
use std::process::ExitCode;

/// Proves the files of an export.
pub(crate) fn proof(dir: &Path, as_json: bool, progress: &Progress) -> Result<ExitCode, Failure> {
    let proofs = job::check::proof(dir, progress)?;
    let good = !proofs.is_empty() && proofs.iter().all(|(_, proof)| proof.good());
    if as_json {
        let fault = |f: &film::Fault| json!({ "sheet": f.sheet, "what": f.what });
        let files: Vec<_> = proofs
            .iter()
            .map(|(name, proof)| {
                let faults: Vec<_> = proof.faults.iter().map(fault).collect();
                json!({ "file": name, "sheets": proof.sheets, "faults": faults })
            })
            .collect();
        let verdict = if good { "good" } else { "fault" };
        print(&json!({ "verdict": verdict, "files": files }).to_string())?;
    } else {
        for (name, proof) in &proofs {
            if proof.good() {
                print(&format!("{name}: good, {} sheets read back and proved", proof.sheets))?;
            }
            for fault in &proof.faults {
                let sheet = fault.sheet.as_ref().map_or(String::new(), |s| format!("sheet {s}: "));
                print(&format!("{name}: {sheet}{}", fault.what))?;
            }
        }
        if proofs.is_empty() {
            print("plan.json names no film")?;
        }
    }
    Ok(ExitCode::from(u8::from(!good)))
}

/// Checks a taped film by a photo.
pub(crate) fn photo(
    dir: &Path,
    film: Option<&str>,
    photo: &Path,
    corners: Option<&str>,
    as_json: bool,
    progress: &Progress,
) -> Result<ExitCode, Failure> {
    let report = job::check::photo(dir, film, photo, &options(corners)?, progress)?;
    if as_json {
        print_json(&report)?;
    } else {
        tell(&report)?;
    }
    Ok(code(report.verdict))
}

/// Checks a washed-out screen by a photo.
pub(crate) fn screen(
    dir: &Path,
    film: Option<&str>,
    photo: &Path,
    corners: Option<&str>,
    as_json: bool,
    progress: &Progress,
) -> Result<ExitCode, Failure> {
    let report = job::check::screen(dir, film, photo, &options(corners)?, progress)?;
    if as_json {
        print_json(&report)?;
        return Ok(code(report.verdict));
    }
    let places = report.spots.len();
    print(&format!("the screen: {}, {places} places to look at", word(&report.verdict)))?;
    if let Some(hint) = report.place.hint() {
        print(hint)?;
    }
    if report.mirrored {
        print("the photo shows the drawing mirrored")?;
    }
    for spot in &report.spots {
        print(&format!(
            "{}, {:.1} mm: {:.0} mm aside and {:.0} mm up or down from the {} corner (film {:.1}, {:.1} mm)",
            word(&spot.kind),
            spot.size_mm,
            spot.aside_mm,
            spot.upward_mm,
            spot.corner,
            spot.x_mm,
            spot.y_mm,
        ))?;
    }
    Ok(code(report.verdict))
}

fn code(verdict: Verdict) -> ExitCode {
    ExitCode::from(match verdict {
        Verdict::Good => 0,
        Verdict::Fault => 1,
        Verdict::NotSure => 3,
    })
}

fn tell(report: &Report) -> Result<(), Failure> {
    print(&format!("the taped film: {}", word(&report.verdict)))?;
    if let Some(hint) = report.film.place.hint() {
        print(hint)?;
    }
    if report.film.place == Place::Unseen {
        return Ok(());
    }
    for sheet in &report.sheets {
        let slip = match (sheet.dx_mm, sheet.dy_mm, sheet.turn_deg) {
            (Some(x), Some(y), Some(turn)) => {
                format!(", slipped {x:+.2}, {y:+.2} mm, turned {turn:+.3} degrees")
            }
            _ => String::new(),
        };
        print(&format!("sheet {}: {}{slip}", sheet.name, word(&sheet.found)))?;
    }
    for seam in &report.seams {
        let jog = match (seam.jog_mm, seam.sd_mm) {
            (Some(jog), Some(sd)) => format!(", worst jog {jog:.2} mm, give or take {sd:.2}"),
            _ => String::new(),
        };
        let [a, b] = &seam.between;
        print(&format!("seam {a} to {b}: {}{jog}", word(&seam.verdict)))?;
    }
    for spot in &report.spots {
        let what = match spot.kind {
            SpotKind::Bright => "a pinhole",
            SpotKind::Dark => "dark where the film is clear",
            SpotKind::ThinBlack => "thin black",
        };
        let (x, y, size) = (spot.x_mm, spot.y_mm, spot.size_mm);
        print(&format!("{what}, {size:.1} mm across, {x:.0} mm right and {y:.0} mm down"))?;
    }
    Ok(())
}

/// A verdict in the words that the JSON uses too.
fn word(verdict: &impl serde::Serialize) -> String {
    let value = serde_json::to_value(verdict).unwrap_or_default();
    value.as_str().unwrap_or_default().to_owned()
}

fn options(corners: Option<&str>) -> Result<Options, Failure> {
    let corners = corners.map(four_corners).transpose()?;
    Ok(Options { corners, ..Options::default() })
}

fn four_corners(text: &str) -> Result<[[f64; 2]; 4], Failure> {
    match numbers(text) {
        Some(all @ [a, b, c, d, e, f, g, h]) if all.iter().all(|n: &f64| n.is_finite()) => {
            Ok([[a, b], [c, d], [e, f], [g, h]])
        }
        _ => Err(Failure::usage(format!(
            "--corners takes eight numbers x,y,x,y,x,y,x,y, not \"{text}\""
        ))),
    }
}
