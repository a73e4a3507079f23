#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    missing_docs,
    unreachable_pub,
    reason = "a measuring program, not a part of the product"
)]
//! Photographs many made-up taped films and says how well the check judges them.
//!
//! `taped_films [--films N] [--first N] [--each N] [--width PX] [--art FOLDER]
//! [--kind dense|big|sparse|whole] [--shot ordinary|hard|lifelike] [--marks no]
//! [--keep FOLDER] [--seams yes]`
//!
//! Films are 42 x 36 in at 300 ppi on eight sheets of 13 x 19 in. With `--art`, the folder's
//! PNG pictures (`*/truth.png` or `*.png`, dark is ink) are laid out instead of made-up shapes;
//! `whole` stretches one over the film. Each drawing serves `--each` films in a row. Every other
//! film is taped well; the others have a fault each, of seven kinds by turns. Photographs kept in
//! a folder are not made again; `--seams` lists every seam.

mod simulate;

use bitmap::Bitmap;
use image::codecs::jpeg::JpegEncoder;
use inspect::{
    Film, Found, Options, Photo, Place, Report, SeamFound, Spot, SpotKind, Tone, Verdict,
    check_film,
};
use measure::Resolution;
use progress::Progress;
use simulate::art::{pictures, whole};
use simulate::life::{Spoilt, THIN};
use simulate::{Dice, Lies, Scene, Shot, Taped, drawing, grid, marked, motion, photograph};
use std::time::Instant;

/// What may be wrong with a film.
const FAULTS: [&str; 7] =
    ["slip", "turn", "scale", "missing", "mirrored", "upside down", "swapped"];

const PPI: f64 = 300.0;
const SIZE: [u32; 2] = [12600, 10800];

struct Arguments {
    films: u64,
    first: u64,
    each: u64,
    width: u32,
    art: Option<String>,
    kind: String,
    keep: Option<String>,
    shot: String,
    marks: bool,
    seams: bool,
}

fn arguments() -> Arguments {
    let mut out = Arguments {
        films: 8,
        first: 0,
        each: 8,
        width: 6000,
        art: None,
        kind: "dense".into(),
        keep: None,
        shot: "ordinary".into(),
        marks: true,
        seams: false,
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().unwrap_or_default();
        match word.as_str() {
            "--films" => out.films = value.parse().unwrap(),
            "--first" => out.first = value.parse().unwrap(),
            "--each" => out.each = value.parse().unwrap(),
            "--width" => out.width = value.parse().unwrap(),
            "--art" => out.art = Some(value),
            "--kind" => out.kind = value,
            "--shot" => out.shot = value,
            "--marks" => out.marks = value == "yes",
            "--keep" => out.keep = Some(value),
            "--seams" => out.seams = value == "yes",
            _ => panic!("{word} is not known"),
        }
    }
    out
}

#[derive(Default)]
struct Tally {
    good: [usize; 3],
    fault: [usize; 3],
    wrong: [usize; 3],
    seams: usize,
    unsure: usize,
    errors: Vec<f64>,
    loose: Vec<f64>,
    ends: Vec<f64>,
    ratio: Vec<f64>,
    millis: Vec<f64>,
    cpu: Vec<f64>,
    peak: Vec<f64>,
    /// The radius of pinholes that were listed and of those that were not, the numbers of bright
    /// spots listed besides, and how often thin black was.
    holes: [Vec<f64>; 2],
    others: Vec<f64>,
    thin: [usize; 2],
    lost: usize,
}

fn main() {
    let arguments = arguments();
    let pictures = arguments.art.as_deref().map(|folder| {
        pictures(folder).into_iter().map(|(_, picture)| picture).collect::<Vec<Bitmap>>()
    });
    let mut tally = Tally::default();
    let mut film = None;
    for k in arguments.first..arguments.first + arguments.films {
        // Several films in a row have the same drawing: drawing takes the longest.
        if film.is_none() || k.is_multiple_of(arguments.each) {
            film = Some(draw(k / arguments.each, &arguments, pictures.as_deref()));
        }
        one(k, &arguments, film.as_ref().unwrap(), &mut tally);
    }
    print(&mut tally);
}

fn draw(k: u64, arguments: &Arguments, pictures: Option<&[Bitmap]>) -> Bitmap {
    let mut dice = Dice(k.wrapping_mul(104_729) + 3);
    match pictures {
        Some(pictures) => layout(pictures, &arguments.kind, &mut dice),
        None => {
            let (count, sizes) = match arguments.kind.as_str() {
                "big" => (3, [7000.0, 11000.0]),
                "sparse" => (30, [400.0, 1000.0]),
                _ => (260, [300.0, 2000.0]),
            };
            drawing(SIZE[0], SIZE[1], count, sizes, dice.next())
        }
    }
}

fn one(k: u64, arguments: &Arguments, film: &Bitmap, tally: &mut Tally) {
    let mut dice = Dice(k.wrapping_mul(7919) + 17);
    let (sheets, seams) = grid(SIZE[0], SIZE[1], 4, 2, 150.0);
    let (pages, marks) = match arguments.marks {
        true => marked(film, PPI, &sheets, &seams),
        false => Default::default(),
    };
    let taped = vec![Taped::WELL; 8];
    let mut scene = Scene { film, pages: &pages, ppi: PPI, sheets: &sheets, taped };
    let kind = if k.is_multiple_of(2) { "good" } else { FAULTS[(k / 2 % 7) as usize] };
    tape(&mut scene, &seams, kind, &mut dice);
    let shot = match arguments.shot.as_str() {
        "hard" => Shot::hard,
        "lifelike" => Shot::lifelike,
        _ => Shot::ordinary,
    };
    let shot = shot(arguments.width, arguments.width * 2 / 3, dice.next());
    let photo = kept(k, arguments, || photograph(&scene, &shot).0);
    let plan = Film {
        raster: film,
        resolution: Resolution::ppi(PPI),
        sheets: sheets.clone(),
        seams: seams.clone(),
        marks,
    };
    let held = forget_peak();
    let start = (Instant::now(), cpu_millis());
    let report = check_film(&plan, &photo, &Options::default(), &Progress::none());
    let millis = [start.0.elapsed().as_secs_f64() * 1000.0, cpu_millis() - start.1];
    tally.millis.push(millis[0]);
    tally.cpu.push(millis[1]);
    tally.peak.push(memory("VmHWM:") - held);
    match report {
        Err(e) => {
            tally.lost += 1;
            println!("{k} {kind}: {e} ({shot:?})");
        }
        Ok(report) => {
            judge(k, kind, &scene, &shot, &report, millis, tally);
            if arguments.seams {
                seam_list(k, &scene, &report);
            }
        }
    }
}

/// Slips the sheets a little, and one of them badly if it should.
fn tape(scene: &mut Scene, seams: &[[usize; 2]], kind: &str, dice: &mut Dice) {
    for t in &mut scene.taped {
        t.slip = [dice.normal() * 0.06, dice.normal() * 0.06];
        t.turn = dice.normal() * 1.5e-4;
        t.stretch = [dice.normal() * 1e-4, dice.normal() * 1e-4];
    }
    let most = dice.within(0.08, 0.24);
    let worst = worst_jog(scene, seams);
    for t in &mut scene.taped {
        let by = most / worst;
        t.slip = t.slip.map(|v| v * by);
        t.turn *= by;
        t.stretch = t.stretch.map(|v| v * by);
    }
    let at = dice.below(scene.taped.len());
    let well = scene.taped.clone();
    match kind {
        "slip" | "turn" | "scale" => loop {
            scene.taped.clone_from(&well);
            let (far, way) = (dice.within(0.5, 4.0), dice.within(0.0, 6.3));
            let sign = if dice.below(2) == 0 { -1.0 } else { 1.0 };
            let sheet = &mut scene.taped[at];
            match kind {
                "turn" => sheet.turn += sign * far / 300.0,
                // Printed at the wrong scale along one way of the paper, or along both.
                "scale" => match dice.below(3) {
                    2 => sheet.stretch = sheet.stretch.map(|s| s + sign * far / 250.0),
                    way => sheet.stretch[way] += sign * far / 200.0,
                },
                _ => {
                    sheet.slip = [sheet.slip[0] + far * way.cos(), sheet.slip[1] + far * way.sin()]
                }
            }
            let worst = worst_jog(scene, seams);
            if (0.5..4.5).contains(&worst) {
                break;
            }
        },
        "missing" => scene.taped[at].what = Lies::Nothing,
        "mirrored" => scene.taped[at].what = Lies::Mirrored,
        "upside down" => scene.taped[at].what = Lies::UpsideDown,
        "swapped" => {
            let other = (at + 1 + dice.below(7)) % 8;
            scene.taped[at].what = Lies::Other(other);
            scene.taped[other].what = Lies::Other(at);
        }
        _ => {}
    }
}

fn worst_jog(scene: &Scene, seams: &[[usize; 2]]) -> f64 {
    seams.iter().map(|s| jog(scene, *s, seam_ends(scene, *s)).0).fold(0.0, f64::max)
}

/// The ends of the middle line of what two upright sheets share, in film pixels.
fn seam_ends(scene: &Scene, [a, b]: [usize; 2]) -> [[f64; 2]; 2] {
    let frame = |s: usize| (scene.sheets[s].corners[0], scene.sheets[s].corners[2]);
    let ((p, q), (r, s)) = (frame(a), frame(b));
    let low = [p[0].max(r[0]), p[1].max(r[1])];
    let high = [q[0].min(s[0]), q[1].min(s[1])];
    let middle = [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0];
    if high[0] - low[0] > high[1] - low[1] {
        [[low[0], middle[1]], [high[0], middle[1]]]
    } else {
        [[middle[0], low[1]], [middle[0], high[1]]]
    }
}

fn jog(scene: &Scene, [a, b]: [usize; 2], ends: [[f64; 2]; 2]) -> (f64, [[f64; 2]; 2]) {
    let vectors = ends.map(|e| {
        let (p, q) = (motion(scene, a, e), motion(scene, b, e));
        [p[0] - q[0], p[1] - q[1]]
    });
    (vectors.iter().map(|v| v[0].hypot(v[1])).fold(0.0, f64::max), vectors)
}

fn judge(
    k: u64,
    kind: &str,
    scene: &Scene,
    shot: &Shot,
    report: &Report,
    millis: [f64; 2],
    tally: &mut Tally,
) {
    let at = report.verdict as usize;
    match kind {
        "good" => tally.good[at] += 1,
        "slip" | "turn" | "scale" => tally.fault[at] += 1,
        _ => tally.wrong[at] += 1,
    }
    let mut note = String::new();
    if report.film.mirrored != shot.mirrored {
        note += " WRONG SIDE";
    }
    if report.film.place != Place::Known {
        note += &format!(" {:?}", report.film.place);
    }
    for (taped, sheet) in scene.taped.iter().zip(&report.sheets) {
        let expected = match taped.what {
            Lies::Own => Found::InPlace,
            Lies::Nothing => Found::Missing,
            Lies::Mirrored => Found::Mirrored,
            Lies::UpsideDown => Found::UpsideDown,
            Lies::Other(o) => Found::Is(report.sheets[o].name.clone()),
        };
        if sheet.found != expected {
            note += &format!(" {}: {:?} not {:?}", sheet.name, sheet.found, expected);
        }
    }
    if shot.lifelike {
        spots(scene, shot, report, tally);
    }
    let mut worst = (0.0_f64, 0.0_f64, 0.0_f64);
    for seam in &report.seams {
        let pair = pair(report, seam);
        if pair.iter().any(|s| scene.taped[*s].what != Lies::Own) {
            continue;
        }
        tally.seams += 1;
        tally.unsure += usize::from(seam.verdict == Verdict::NotSure);
        let (truth, _) = jog(scene, pair, seam_ends(scene, pair));
        worst.0 = worst.0.max(truth);
        let (Some(got), Some(sd)) = (seam.jog_mm, seam.sd_mm) else {
            continue;
        };
        let error = (got - truth).abs();
        if sd < 0.12 {
            tally.errors.push(error);
            worst.1 = worst.1.max(error);
            tally.ratio.push(error / sd);
        } else {
            tally.loose.push(error);
        }
        worst.2 = worst.2.max(sd);
        if error > 0.1 && sd < 0.12 {
            note += &format!(
                " {}-{}: jog {got:.3} is {truth:.3}, sd {sd:.3}",
                seam.between[0], seam.between[1]
            );
        }
    }
    for (taped, sheet) in scene.taped.iter().zip(&report.sheets) {
        let (Some(dx), Some(dy)) = (sheet.dx_mm, sheet.dy_mm) else {
            continue;
        };
        if taped.what == Lies::Own && sheet.sd_mm.is_some_and(|s| s < 0.12) {
            let n = scene.taped.len() as f64;
            let mean = [0, 1].map(|k| scene.taped.iter().map(|t| t.slip[k]).sum::<f64>() / n);
            tally.ends.push((dx - taped.slip[0] + mean[0]).hypot(dy - taped.slip[1] + mean[1]));
        }
    }
    let wrong = (kind == "good" && report.verdict == Verdict::Fault)
        || (kind != "good" && report.verdict == Verdict::Good);
    println!(
        "{k} {kind}: {:?} jog {:.2}, worst error {:.3}, sd to {:.3}, {:.0} ms, cpu {:.0} ms{note}{}",
        report.verdict,
        worst.0,
        worst.1,
        worst.2,
        millis[0],
        millis[1],
        if wrong { " WRONG" } else { "" }
    );
}

/// Which two sheets a seam lies between.
fn pair(report: &Report, seam: &SeamFound) -> [usize; 2] {
    let place = |name: &String| report.sheets.iter().position(|s| s.name == *name);
    seam.between.each_ref().map(|name| place(name).unwrap())
}

/// Every seam's jog as it is, as it was found, and the standard deviation told.
fn seam_list(k: u64, scene: &Scene, report: &Report) {
    for seam in &report.seams {
        let pair = pair(report, seam);
        if pair.iter().all(|s| scene.taped[*s].what == Lies::Own) {
            let (truth, _) = jog(scene, pair, seam_ends(scene, pair));
            let [a, b] = &seam.between;
            let told = [seam.jog_mm, seam.sd_mm].map(|v| v.unwrap_or(f64::NAN));
            println!("seam {k} {a}-{b} {truth:.4} {:.4} {:.4}", told[0], told[1]);
        }
    }
}

/// Whether what is wrong with the ink is listed.
fn spots(scene: &Scene, shot: &Shot, report: &Report, tally: &mut Tally) {
    let spoilt = Spoilt::new(scene.film, scene.ppi, shot.seed);
    let size = [scene.film.width(), scene.film.height()].map(|v| f64::from(v) / scene.ppi * 25.4);
    let at = |s: &Spot| [s.x_mm - size[0] / 2.0, s.y_mm - size[1] / 2.0];
    let near = |s: &Spot, p: [f64; 2], reach: f64| {
        let [x, y] = at(s);
        (x - p[0]).hypot(y - p[1]) < reach
    };
    let listed = |kind: SpotKind| report.spots.iter().filter(move |s| s.kind == kind);
    let mut there: Vec<_> = spoilt.pinholes;
    there.retain(|(p, _)| {
        scene.sheets.iter().zip(&scene.taped).any(|(sheet, taped)| {
            let [a, _, c, _] = sheet.corners;
            let [x, y] = [0, 1].map(|k| (p[k] + size[k] / 2.0) / 25.4 * scene.ppi);
            taped.what == Lies::Own && x > a[0] && x < c[0] && y > a[1] && y < c[1]
        })
    });
    for (p, radius) in &there {
        let found = listed(SpotKind::Bright).any(|s| near(s, *p, 1.5));
        tally.holes[usize::from(!found)].push(*radius);
    }
    let other = |s: &&Spot| !there.iter().any(|(p, _)| near(s, *p, 1.5));
    tally.others.push(listed(SpotKind::Bright).filter(other).count() as f64);
    if let Some(thin) = spoilt.thin {
        let found = listed(SpotKind::ThinBlack).any(|s| near(s, thin, THIN));
        tally.thin[usize::from(!found)] += 1;
    }
}

/// The time that all threads of this program have worked, from the kernel's count in hundredths
/// of a second; nought where there is none.
fn cpu_millis() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after = stat.rsplit(')').next().unwrap_or_default();
    let fields: Vec<f64> = after.split_whitespace().filter_map(|f| f.parse().ok()).collect();
    // The state, a letter, is left out: user and system time are then the 11th and 12th.
    fields.get(10..12).map_or(0.0, |t| (t[0] + t[1]) * 10.0)
}

/// Starts the kernel's record of the most memory held anew, and says what is held now, MB.
fn forget_peak() -> f64 {
    let _ = std::fs::write("/proc/self/clear_refs", "5");
    memory("VmRSS:")
}

/// A line of the kernel's account of this program's memory, MB; nought where there is none.
fn memory(line: &str) -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let found = status.lines().find_map(|l| l.strip_prefix(line));
    let kb = found.and_then(|l| l.split_whitespace().next()).and_then(|n| n.parse::<f64>().ok());
    kb.unwrap_or(0.0) / 1024.0
}

fn print(tally: &mut Tally) {
    println!(
        "good films: {} good, {} fault, {} not sure",
        tally.good[0], tally.good[1], tally.good[2]
    );
    println!(
        "slipped, turned and scaled films: {} good, {} fault, {} not sure",
        tally.fault[0], tally.fault[1], tally.fault[2]
    );
    println!(
        "wrong sheets: {} good, {} fault, {} not sure",
        tally.wrong[0], tally.wrong[1], tally.wrong[2]
    );
    println!("not found: {}", tally.lost);
    println!("seams {}, not sure {}", tally.seams, tally.unsure);
    for least in [0.15, 0.25, 0.35, 0.5] {
        let [found, missed] =
            tally.holes.each_ref().map(|r| r.iter().filter(|r| **r >= least).count());
        println!("pinholes of {:.1} mm and more: {found} listed, {missed} not", 2.0 * least);
    }
    println!("thin black: {} listed, {} not", tally.thin[0], tally.thin[1]);
    for (name, values) in [
        ("jog error, sd < .12", &mut tally.errors),
        ("jog error, sd .12-.25", &mut tally.loose),
        ("sheet slip error", &mut tally.ends),
        ("error / sd", &mut tally.ratio),
        ("bright spots besides", &mut tally.others),
        ("ms", &mut tally.millis),
        ("cpu ms", &mut tally.cpu),
        ("MB held by a check besides film and photo", &mut tally.peak),
    ] {
        values.sort_by(f64::total_cmp);
        let n = values.len();
        if n > 0 {
            let mean = values.iter().sum::<f64>() / n as f64;
            println!(
                "{name}: {n}, mean {mean:.4}, p95 {:.4}, max {:.4}",
                values[n * 95 / 100],
                values[n - 1]
            );
        }
    }
}

/// The photo through JPEG; taken from the folder of kept ones where it is there.
fn kept(k: u64, arguments: &Arguments, photo: impl FnOnce() -> Photo) -> Photo {
    let Arguments { kind, shot, width, marks, .. } = arguments;
    let folder = arguments.keep.as_deref();
    let path = folder.map(|f| format!("{f}/{kind}-{shot}-{width}-{marks}-{k}.jpg"));
    let bytes = path.as_deref().and_then(|path| std::fs::read(path).ok()).unwrap_or_else(|| {
        let mut bytes = Vec::new();
        let photo = photo();
        JpegEncoder::new_with_quality(&mut bytes, 92)
            .encode(&photo.grey, photo.width, photo.height, image::ExtendedColorType::L8)
            .unwrap();
        if let Some(path) = path {
            std::fs::write(path, &bytes).unwrap();
        }
        bytes
    });
    let grey = image::load_from_memory(&bytes).unwrap().into_luma8();
    let (width, height) = grey.dimensions();
    Photo { width, height, grey: grey.into_raw(), tone: Tone::Srgb }
}

/// Lays pictures out over the film: many, one big one, or a few small ones.
fn layout(pictures: &[Bitmap], kind: &str, dice: &mut Dice) -> Bitmap {
    let mut film = Bitmap::new(SIZE[0], SIZE[1]);
    let (cells, size) = match kind {
        "big" => ([1, 1], 10500.0),
        "whole" => return whole(&pictures[dice.below(pictures.len())], SIZE),
        "sparse" => ([4, 3], 1500.0),
        _ => ([6, 5], 2050.0),
    };
    for j in 0..cells[1] {
        for i in 0..cells[0] {
            let picture = &pictures[dice.below(pictures.len())];
            let size = size * dice.within(0.75, 1.0);
            let (cw, ch) = (
                f64::from(SIZE[0]) / f64::from(cells[0]),
                f64::from(SIZE[1]) / f64::from(cells[1]),
            );
            let middle = [(f64::from(i) + 0.5) * cw, (f64::from(j) + 0.5) * ch];
            let (s, c) = dice.within(-0.4, 0.4).sin_cos();
            let by = f64::from(picture.width()) / size;
            let reach = size * 0.6;
            for y in (middle[1] - reach).max(0.0) as u32
                ..(middle[1] + reach).min(f64::from(SIZE[1])) as u32
            {
                for x in (middle[0] - reach).max(0.0) as u32
                    ..(middle[0] + reach).min(f64::from(SIZE[0])) as u32
                {
                    let (dx, dy) = (f64::from(x) - middle[0], f64::from(y) - middle[1]);
                    let u = (c * dx + s * dy + size / 2.0) * by;
                    let v = (c * dy - s * dx + size / 2.0) * by;
                    if u >= 0.0 && v >= 0.0 && picture.get(u as u32, v as u32) {
                        film.set(x, y, true);
                    }
                }
            }
        }
    }
    film
}
