//! `filmquilt strip`: the exposure test strip, and what one says.

use crate::commands::{print, print_json};
use crate::failure::Failure;
use ::shop::{CAUTIONS, Hazard, StripSettings, plan_strip, read_strip};
use std::path::Path;

/// Writes the strip where a folder is given, and prints what one came out with where its
/// bands are, else its moves.
pub(crate) fn run(
    settings: &StripSettings,
    out: Option<&Path>,
    bands: Option<(usize, usize)>,
    json: bool,
) -> Result<(), Failure> {
    let strip = plan_strip(settings)?;
    if let Some(dir) = out {
        job::shop::write_strip(&strip, dir)?;
    }
    let Some((held, open)) = bands else {
        if json {
            return print_json(&strip);
        }
        strip.moves.iter().try_for_each(|m| print(m))?;
        let lamp = CAUTIONS.iter().find(|c| c.hazard == Hazard::Light);
        return lamp.map_or(Ok(()), |c| print(c.text));
    };
    let reading = (held.checked_sub(1).zip(open.checked_sub(1)))
        .and_then(|(held, open)| read_strip(&strip.secs, held, open))
        .ok_or_else(|| {
            let why = format!("bands {held} and {open} leave no time that is good for both");
            let most = strip.secs.len();
            let hint = format!(
                "give bands from 1 to {most}; where solid areas held only in later bands than the \
                 last whose gaps opened, the black leaks or light creeps under it"
            );
            Failure::new(why, hint)
        })?;
    if json {
        return print_json(&reading);
    }
    print(&format!("Time: {:.0} s, the middle of what is good.", reading.secs))?;
    print(&format!("Latitude: {:.2} times from the shortest to the longest.", reading.latitude))
}
