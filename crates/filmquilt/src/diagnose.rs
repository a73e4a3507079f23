//! `filmquilt diagnose`: what was seen, why, and what to do.

use crate::args::SeenName;
use crate::commands::{print, print_json};
use crate::failure::Failure;
use ::shop::{Seen, diagnose, diagnoses};

/// Prints what fits what was seen, the first to be mended first, or the whole table.
pub(crate) fn run(seen: &[SeenName], json: bool) -> Result<(), Failure> {
    let has = |name| seen.contains(&name);
    let found = if seen.is_empty() {
        diagnoses()
    } else {
        diagnose(Seen {
            stencil_soft: has(SeenName::Soft),
            detail_closed: has(SeenName::Closed),
            seams_soft: has(SeenName::Seams),
            uneven: has(SeenName::Uneven),
            pinholes: has(SeenName::Pinholes),
        })
    };
    if json {
        return print_json(&found);
    }
    let row = |d: &::shop::Diagnosis| {
        print(&format!("Seen: {}\n  Because: {}\n  Do: {}", d.seen, d.because, d.remedy))
    };
    found.iter().try_for_each(row)?;
    print("Common practice, no source. Write down what you saw and what helped.")
}
