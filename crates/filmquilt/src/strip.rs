//! `filmquilt strip`: the exposure test strip, and what it or a step wedge says.

use crate::commands::{print, print_json};
use crate::failure::Failure;
use crate::options;
use ::shop::{
    CAUTIONS, Figure, Hazard, ShopSettings, StripSettings, plan_strip, read_strip, time_by_wedge,
    time_elsewhere,
};
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

/// The time by a wedge, or for another distance or film, where one of them is given.
pub(crate) fn found(
    known: &ShopSettings,
    wedge: Option<&str>,
    distance: Option<&str>,
    clear: Option<&str>,
) -> Result<Option<Figure>, Failure> {
    if let Some(text) = wedge {
        let [secs, step] = options::numbers(text)
            .ok_or_else(|| Failure::usage(format!("--wedge takes seconds,step, not \"{text}\"")))?;
        return Ok(Some(time_by_wedge(secs, step, &known.exposure)?));
    }
    if distance.is_none() && clear.is_none() {
        return Ok(None);
    }
    let (lamp, unit) = (&known.lamp, known.unit);
    let distance =
        distance.map_or(Ok(lamp.distance), |text| options::length("--distance", text))?;
    let clear =
        clear.map_or(Ok(known.exposure.clear_density), |text| options::number("--clear", text))?;
    Ok(Some(time_elsewhere(lamp, &known.exposure, distance, clear, unit)?))
}

/// Says a time that was found, and how it came out.
pub(crate) fn say(found: &Figure, json: bool) -> Result<(), Failure> {
    if json {
        return print_json(found);
    }
    let shown = found.value.show(measure::Unit::Mm);
    print(&format!("Time: {shown}.\n{}; source: {}", found.how, found.source))
}
