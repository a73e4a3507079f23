//! One function a command; each calls the same engine as the window.

use crate::args::{Args, Command, JobOptions};
use crate::failure::Failure;
use crate::{bar, calibrate, check, diagnose, options, strip, toning};
use clap::CommandFactory;
use job::shop::Paper;
use job::{Job, Mendings, build, file};
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(args: Args) -> Result<ExitCode, Failure> {
    match args.command {
        None => desk::run(args.file).map_err(|e| Failure::new(e.to_string(), e.hint()))?,
        Some(Command::Film { file, out, sizes, options, quiet }) => {
            let (job, progress) = (job_for(&file, &options)?, bar::progress(quiet.quiet));
            if sizes.is_empty() {
                say_written(None, &build::export(&job, &out, &progress)?)?;
            } else {
                let garments = options::named_garments(&sizes)?;
                for written in job::sizes::export(&job, &garments, &out, &progress)? {
                    say_written(Some(&written.garment), &written.exported)?;
                }
            }
        }
        Some(Command::Onebit { file, output, art, quiet }) => {
            let job = options::art(file::open(&file)?, &art)?;
            say_mended(None, build::onebit(&job, &output, &bar::progress(quiet.quiet))?)?;
        }
        Some(Command::Plates { file, out, options, quiet }) => {
            let job = toning::plates(file::open(&file)?, options)?;
            job::plates::export(&job, &out, &bar::progress(quiet.quiet))?;
        }
        Some(Command::Plan { file, options, quiet }) => {
            let job = job_for(&file, &options)?;
            print(&build::plan_json(&job, &bar::progress(quiet.quiet))?)?;
        }
        Some(Command::Demo { dir, quiet }) => {
            let job = job::demo();
            build::export(&job, &dir, &bar::progress(quiet.quiet))?;
            file::save(&job, &dir.join("demo.quilt"))?;
        }
        Some(Command::Guide { file, out, paper, options, quiet }) => {
            let job = job_for(&file, &options)?;
            build::guide(&job, Paper::from(paper).size(), &out, &bar::progress(quiet.quiet))?;
        }
        Some(Command::Ticket { file, out, paper, shop, options, quiet }) => {
            let (job, (shop, notebook)) = (job_for(&file, &options)?, options::shop(&shop)?);
            let progress = bar::progress(quiet.quiet);
            let plans = job::reckon_screens(&job, &shop, &notebook, &progress)?;
            plans.write_tickets(paper.into(), &out)?;
        }
        Some(Command::Reckon { file, shop, options, quiet }) => {
            let (job, (shop, notebook)) = (job_for(&file, &options)?, options::shop(&shop)?);
            let progress = bar::progress(quiet.quiet);
            let plans = job::reckon_screens(&job, &shop, &notebook, &progress)?;
            match &plans.screens[..] {
                [only] if only.screen.is_none() => print_json(&only.plan)?,
                _ => print_json(&plans)?,
            }
        }
        Some(Command::Diagnose { seen, json }) => diagnose::run(&seen, json)?,
        Some(Command::Strip {
            out,
            shop,
            guess,
            bands,
            sheet,
            held,
            open,
            wedge,
            distance,
            clear,
            json,
        }) => {
            let mut known = options::kept(shop.as_deref())?.settings;
            let settings = &mut known.strip;
            if let Some(text) = &guess {
                settings.guess_secs = options::number("--guess", text.trim_end_matches('s'))?;
            }
            settings.bands = bands.unwrap_or(settings.bands);
            if let Some(text) = &sheet {
                let page = options::stock("--sheet", text)?.size;
                (settings.page_width, settings.page_height) = (page.width, page.height);
            }
            let found =
                strip::found(&known, wedge.as_deref(), distance.as_deref(), clear.as_deref())?;
            match found {
                Some(found) => strip::say(&found, json)?,
                None => strip::run(&known.strip, out.as_deref(), held.zip(open), json)?,
            }
        }
        Some(Command::Calibrate(what)) => calibrate::run(what)?,
        Some(Command::Check { dir, photo, film, screen, corners, json, quiet }) => {
            let progress = bar::progress(quiet.quiet);
            return match photo {
                None => check::proof(&dir, json, &progress),
                Some(photo) => {
                    let check = if screen { check::screen } else { check::photo };
                    check(&dir, film.as_deref(), &photo, corners.as_deref(), json, &progress)
                }
            };
        }
        Some(Command::Completions { shell }) => {
            let mut out = Vec::new();
            clap_complete::generate(shell, &mut Args::command(), "filmquilt", &mut out);
            print(&String::from_utf8_lossy(&out))?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn job_for(file: &Path, options: &JobOptions) -> Result<Job, Failure> {
    options::whole(file::open(file)?, options)
}

/// Says what the printer should know of the films of a garment that were written.
fn say_written(garment: Option<&str>, written: &build::Exported) -> Result<(), Failure> {
    say_mended(garment, written.mended)?;
    if written.unregistered {
        print(&format!("{}{}", whose(garment), build::Exported::UNREGISTERED))?;
    }
    Ok(())
}

/// What a line about one of several garments' films begins with.
fn whose(garment: Option<&str>) -> String {
    garment.map_or_else(String::new, |name| format!("{name}: "))
}

/// Says how many fine lines and gaps were mended, where that was asked for, and on the film of
/// which garment, where there are several.
fn say_mended(garment: Option<&str>, mended: Option<Mendings>) -> Result<(), Failure> {
    let Some(Mendings { places, left, more }) = mended else { return Ok(()) };
    let at_least = if more { "at least " } else { "" };
    let plural = |n: usize| if n == 1 { "place" } else { "places" };
    let whose = whose(garment);
    let mut text = format!("{whose}mended {at_least}{places} {}", plural(places));
    if left > 0 {
        let (those, are) = (plural(left), if left == 1 { "is" } else { "are" });
        text += &format!(
            "; {left} {those} {are} still too fine: lines and gaps lie too close together for both"
        );
    }
    print(&text)
}

pub(crate) fn print_json(value: &impl serde::Serialize) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value)
        .map_err(|e| Failure::new(e.to_string(), "check the numbers given"))?;
    print(&text)
}

/// Prints to stdout; a reader that has gone away is no failure of ours.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match writeln!(out, "{}", text.trim_end()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(Failure::new(
            format!("the answer could not be printed: {e}"),
            "check where it goes",
        )),
        _ => Ok(()),
    }
}
