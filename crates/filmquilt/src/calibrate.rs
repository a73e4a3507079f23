//! `filmquilt calibrate`: the page that shows what a film printer does, and its reading.

use crate::args::{Calibrate, CalibrationSheet, ReadingOptions};
use crate::commands::print;
use crate::failure::Failure;
use crate::options::{length, numbers, stock};
use job::calibrate;
use printer::{Profile, Readings, Target};
use sheets::Margins;

pub(crate) fn run(what: Calibrate) -> Result<(), Failure> {
    match what {
        Calibrate::Page { output, sheet } => {
            let (target, profile) = begun(&sheet)?;
            calibrate::write_page(&target, &profile, &output)?;
        }
        Calibrate::Read { output, sheet, readings } => {
            let (target, made_with) = begun(&sheet)?;
            let found = printer::solve(&target, &read(&readings)?, &made_with)
                .map_err(|e| Failure::new(e.to_string(), e.hint()))?;
            calibrate::save(&found.profile, &output)?;
            for line in &found.told {
                print(line)?;
            }
            print(match (made_with.moves(), found.true_to_size) {
                (true, true) => {
                    "The page is true as far as a rule tells: the profile is confirmed."
                }
                (true, false) => {
                    "The page is not true yet: the profile was mended. Print it again."
                }
                (false, true) => "The printer is true as far as a rule tells.",
                (false, false) => "Print the page again with --printer to confirm the profile.",
            })?;
        }
    }
    Ok(())
}

/// The page of the sheet, and what it is drawn for.
fn begun(o: &CalibrationSheet) -> Result<(Target, Profile), Failure> {
    let mut stock = stock("--sheet", &o.sheet)?;
    if let Some(text) = &o.margin {
        stock.margins = Margins::all(length("--margin", text)?);
    }
    let mut profile = match &o.printer {
        Some(path) => calibrate::open(path)?,
        None => Profile::true_to_size("film printer", ""),
    };
    if let Some(name) = &o.name {
        profile.printer.clone_from(name);
    }
    if let Some(name) = &o.film {
        profile.film.clone_from(name);
    }
    Ok((calibrate::target(&stock)?, profile))
}

fn read(o: &ReadingOptions) -> Result<Readings, Failure> {
    let all = |option, texts: &[String]| {
        texts.iter().map(|text| length(option, text)).collect::<Result<Vec<_>, _>>()
    };
    let one =
        |option, text: &Option<String>| text.as_ref().map(|text| length(option, text)).transpose();
    let diagonals = one("--falling", &o.falling)?.zip(one("--rising", &o.rising)?);
    Ok(Readings {
        across: all("--across", &o.across)?,
        down: all("--down", &o.down)?,
        diagonals: diagonals.map(|(falling, rising)| [falling, rising]),
        gap: one("--gap", &o.gap)?,
        line: one("--line", &o.line)?,
        densities: o.densities.as_deref().map(eleven).transpose()?,
    })
}

fn eleven(text: &str) -> Result<[f64; 11], Failure> {
    let wrong =
        || Failure::usage(format!("--densities takes eleven numbers with commas, not \"{text}\""));
    numbers(text).ok_or_else(wrong)
}
