use crate::{PrinterError, Profile, READING_SD, Readings, Sure, Target};
use measure::{Length, Unit};
use nalgebra::{Matrix3, Vector3};

/// What a printed page told.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// The printer, as far as is known now.
    pub profile: Profile,
    /// What was read on this page alone, in sentences: how far it is off, and how sure.
    pub told: Vec<String>,
    /// Whether this page came out true as far as a rule tells.
    pub true_to_size: bool,
}

/// Finds what a printer does from what was read on its page. `made_with` is what the page was
/// drawn with: a printer that prints true for the first page, and the profile for one that
/// confirms it.
///
/// The lengths are fitted by least squares (Gauss-Newton), with [`READING_SD`] for each; a lean
/// of less than two standard deviations is taken for none.
///
/// # Errors
/// Where readings are missing, or so far off that they were misread.
pub fn solve(
    target: &Target,
    readings: &Readings,
    made_with: &Profile,
) -> Result<Outcome, PrinterError> {
    readings.check(target)?;
    made_with.check()?;
    let Fit { values: [x, y, lean], sds, worst } = fit(target, readings)?;
    let shear = if lean.abs() < 2.0 * sds[2] { 0.0 } else { lean };
    let spread = readings.spread();
    // Printed = page after drawing: what the printer does is both together, [[x, shear], [0,
    // y]] times what the page was drawn to undo.
    let profile = Profile {
        scale_x: x * made_with.scale_x,
        scale_y: y * made_with.scale_y,
        shear: x * made_with.shear + shear * made_with.scale_y,
        spread: made_with.spread + spread.map_or(Length::ZERO, |s| s.0),
        sure: Sure {
            scale_x: sds[0],
            scale_y: sds[1],
            shear: sds[2],
            spread: spread.map_or(made_with.sure.spread, |s| s.1),
        },
        finest_line: readings.line.or(made_with.finest_line),
        densities: readings.densities.map(|d| [d[10], d[0]]).or(made_with.densities),
        ..made_with.clone()
    };
    profile.check()?;
    let off = [x - 1.0, y - 1.0, shear];
    let true_to_size = off.iter().zip(sds).all(|(off, sd)| off.abs() <= 2.0 * sd);
    let confirmed = made_with.moves() && true_to_size;
    let this = Profile { scale_x: x, scale_y: y, shear, ..made_with.clone() };
    let mut told = lengths_told(target, &this, sds, readings.diagonals.is_some());
    told.extend(spread.map(|(by, sd)| {
        let (by, sd) = (mm(by, 3), mm(sd, 3));
        format!("Ink spreads {by} mm past each edge, give or take {sd}.")
    }));
    if worst > 3.0 {
        told.push("The lengths do not agree with each other: measure again.".into());
    }
    Ok(Outcome { profile: Profile { confirmed, ..profile }, told, true_to_size })
}

struct Fit {
    values: [f64; 3],
    sds: [f64; 3],
    /// The largest difference between a reading and the fit, in standard deviations.
    worst: f64,
}

/// Scales and lean from lengths, each that of a straight line between two crosses.
fn fit(target: &Target, readings: &Readings) -> Result<Fit, PrinterError> {
    let (w, h) = (target.width.to_mm(), target.height.to_mm());
    let mut lines: Vec<([f64; 2], f64)> = Vec::new();
    lines.extend(readings.across.iter().map(|read| ([w, 0.0], read.to_mm())));
    lines.extend(readings.down.iter().map(|read| ([0.0, h], read.to_mm())));
    if let Some([falling, rising]) = readings.diagonals {
        lines.push(([w, h], falling.to_mm()));
        lines.push(([w, -h], rising.to_mm()));
    }
    let sd_mm = READING_SD.to_mm();
    let mut at = Vector3::new(1.0, 1.0, 0.0);
    let mut normal = Matrix3::zeros();
    let mut worst = 0.0_f64;
    for _ in 0..8 {
        normal = Matrix3::zeros();
        worst = 0.0;
        let mut right = Vector3::zeros();
        for ([dx, dy], read) in &lines {
            let [u, v] = [at[0] * dx + at[2] * dy, at[1] * dy];
            let long = u.hypot(v);
            let slope = Vector3::new(u * dx, v * dy, u * dy) / long;
            normal += slope * slope.transpose();
            right += slope * (read - long);
            worst = worst.max((read - long).abs() / sd_mm);
        }
        if readings.diagonals.is_none() {
            // Without diagonals nothing tells the lean: it is taken for none.
            normal[(2, 2)] += 1e12;
        }
        let step = normal.cholesky().map(|c| c.solve(&right));
        at += step.ok_or(PrinterError::Missing("another length"))?;
    }
    let cover = normal.try_inverse().ok_or(PrinterError::Missing("another length"))?;
    let sds = [0, 1, 2].map(|k: usize| cover[(k, k)].sqrt() * sd_mm);
    Ok(Fit { values: [at[0], at[1], at[2]], sds, worst })
}

/// How far the page is off, and what that means for a sheet.
fn lengths_told(target: &Target, page: &Profile, sds: [f64; 3], leans: bool) -> Vec<String> {
    let off = page.off(target.page);
    let side = |what: &str, share: f64, sd: f64, side: Length, off: Length| {
        let percent = (share - 1.0) * 100.0;
        format!(
            "{what}: {percent:+.3} %, give or take {:.3}. Over {} a sheet is {} mm off.",
            sd * 100.0,
            side.show(Unit::In),
            mm(off, 2),
        )
    };
    let mut out = vec![
        side("Across", page.scale_x, sds[0], target.page.width, off.across),
        side("Down", page.scale_y, sds[1], target.page.height, off.down),
    ];
    out.push(if leans {
        let (lean, sd) = (page.shear * 1000.0, sds[2] * 1000.0);
        let aside = mm(off.aside, 2);
        format!("Lean: {lean:+.2} mm in a metre, give or take {sd:.2}. Over a sheet {aside} mm.")
    } else {
        "Lean: not read.".into()
    });
    let worst = off.across.abs().max(off.down.abs()).max(off.aside.abs());
    out.push(format!("Seams would be off by up to {} mm without correction.", mm(worst, 1)));
    out
}

fn mm(length: Length, decimals: usize) -> String {
    let text = format!("{:.decimals$}", length.to_mm());
    let nought = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    if nought { text.trim_start_matches('-').into() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::Size;

    fn target() -> Target {
        let page = Size::new(Length::inches(13.0), Length::inches(19.0));
        Target::new(page, Length::inches(0.125)).unwrap()
    }

    /// The lengths on a page that was drawn for `made_with` and printed by `printer`.
    fn read(made_with: &Profile, printer: &Profile) -> Readings {
        let (w, h) = (target().width.to_mm(), target().height.to_mm());
        let long = |dx: f64, dy: f64| {
            let m = made_with;
            let (u, v) = ((dx - m.shear * dy / m.scale_y) / m.scale_x, dy / m.scale_y);
            let (x, y) = (printer.scale_x * u + printer.shear * v, printer.scale_y * v);
            Length::mm(x.hypot(y))
        };
        Readings {
            across: vec![long(w, 0.0); 3],
            down: vec![long(0.0, h); 3],
            diagonals: Some([long(w, h), long(w, -h)]),
            ..Readings::default()
        }
    }

    fn plain() -> Profile {
        Profile::true_to_size("wide", "clear")
    }

    #[test]
    fn a_printer_is_found_from_exact_readings_and_confirmed_by_a_second_page() {
        let printer = Profile { scale_x: 1.0041, scale_y: 0.997, shear: 0.0023, ..plain() };
        let first = solve(&target(), &read(&plain(), &printer), &plain()).unwrap();
        let found = &first.profile;
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
        assert!(
            near(found.scale_x, 1.0041) && near(found.scale_y, 0.997) && near(found.shear, 0.0023),
            "{found:?}"
        );
        assert!(!first.true_to_size && !found.confirmed);
        // 0.3 % over 19 in is 1.4 mm.
        assert!(first.told[1].contains("19 in") && first.told[1].contains("-1.45 mm"), "{first:?}");
        assert!(first.told[3].contains("up to 1.4 mm"), "{:?}", first.told);
        let second = solve(&target(), &read(found, &printer), found).unwrap();
        assert!(second.true_to_size && second.profile.confirmed, "{second:?}");
        assert!(near(second.profile.shear, 0.0023));
    }

    #[test]
    fn a_page_that_is_off_a_second_time_mends_the_profile() {
        let printer = Profile { scale_x: 1.004, scale_y: 0.997, shear: 0.003, ..plain() };
        let rough = Profile { scale_x: 1.001, scale_y: 0.999, shear: 0.001, ..plain() };
        let told = solve(&target(), &read(&rough, &printer), &rough).unwrap();
        let found = told.profile;
        assert!(!told.true_to_size && !found.confirmed);
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
        assert!(
            near(found.scale_x, 1.004) && near(found.scale_y, 0.997) && near(found.shear, 0.003),
            "{found:?}"
        );
    }

    /// The standard deviations are those of linear least squares: with three lengths across and
    /// diagonals, less than a rule's own over the length by the root of three.
    #[test]
    fn sureness_follows_the_readings() {
        let (one, mut few) = (read(&plain(), &plain()), read(&plain(), &plain()));
        let all = solve(&target(), &one, &plain()).unwrap().profile.sure;
        assert!(all.scale_x < 0.25 / 300.0 / 3_f64.sqrt() && all.scale_x > 0.25 / 300.0 / 3.0);
        assert!(all.scale_y < 0.25 / 460.0 / 3_f64.sqrt());
        few.across.truncate(1);
        few.down.truncate(1);
        few.diagonals = None;
        let least = solve(&target(), &few, &plain()).unwrap();
        assert!((least.profile.sure.scale_x - 0.25 / 300.0).abs() < 1e-12);
        assert_eq!(least.profile.shear, 0.0);
        // A lean that a rule cannot tell is none: half a millimetre between the diagonals.
        few = one;
        few.diagonals = few.diagonals.map(|[a, b]| [a + Length::mm(0.25), b - Length::mm(0.25)]);
        assert_eq!(solve(&target(), &few, &plain()).unwrap().profile.shear, 0.0);
    }

    #[test]
    fn gaps_tell_the_spread_to_half_a_step() {
        let mut readings = read(&plain(), &plain());
        readings.gap = Some(Length::mm(0.08));
        let found = solve(&target(), &readings, &plain()).unwrap().profile;
        // Gaps of 0.06 closed and of 0.08 stayed open: 0.03 to 0.04 from each side.
        assert!((found.spread.to_mm() - 0.035).abs() < 1e-12, "{found:?}");
        assert!((found.sure.spread.to_mm() - 0.01 / 12_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn misread_pages_are_refused() {
        let good = read(&plain(), &plain());
        let inch = Readings { across: vec![Length::inches(300.0)], ..good.clone() };
        let none = Readings { down: Vec::new(), ..good.clone() };
        let gap = Readings { gap: Some(Length::mm(0.07)), ..good.clone() };
        let nan = Readings { down: vec![Length::mm(f64::NAN)], ..good.clone() };
        let flat = Readings { densities: Some([0.2; 11]), ..good };
        for bad in [inch, none, gap, nan, flat] {
            let error = solve(&target(), &bad, &plain()).unwrap_err();
            assert!(!error.hint().is_empty(), "{error}");
        }
    }
}
