//! Separates every picture of a folder of cases and compares the plates with the truth.
//!
//! `score_inks FOLDER [OUT|- [KIND]]`: each case is a folder with `truth.png`, `palette.json` and
//! pictures `x*_*.png` or `.jpg`. Prints one line a picture and a mean for each kind. With
//! OUT, writes each picture's labels and palette there too, for other scoring programs.

use inks::{Plates, Rgb, Settings, separate};
use progress::Progress;
use std::collections::BTreeMap;
use std::error::Error;
use std::path::{Path, PathBuf};
use std::time::Instant;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1).map(PathBuf::from);
    let folder = arguments.next().ok_or("name the folder of cases")?;
    let out = arguments.next().filter(|out| out != Path::new("-"));
    let only = arguments.next().map(|kind| kind.to_string_lossy().into_owned());
    let mut sums: BTreeMap<String, [f64; 5]> = BTreeMap::new();
    for case in sorted(&folder)?.into_iter().filter(|p| p.join("truth.png").exists()) {
        let truth = Truth::load(&case)?;
        for file in sorted(&case)? {
            let name = file.file_stem().unwrap_or_default().to_string_lossy().into_owned();
            let Some(kind) = name.split('_').nth(1).filter(|_| name.starts_with('x')) else {
                continue;
            };
            if only.as_ref().is_some_and(|only| only != kind) {
                continue;
            }
            let picture = load(&file)?;
            let start = Instant::now();
            let plates = separate(&picture, &Settings::default(), &Progress::none())?;
            let seconds = start.elapsed().as_secs_f64();
            let labels = labels(&plates, truth.width, truth.height);
            let score = truth.score(&plates, &labels);
            report(&case, kind, &plates, &truth, &score, seconds);
            let row = [
                score.error,
                f64::from(u8::from(plates.inks().len() + 1 == truth.colours.len())),
                score.difference,
                1.0,
                seconds,
            ];
            for (sum, v) in sums.entry(kind.into()).or_default().iter_mut().zip(row) {
                *sum += v;
            }
            if let Some(out) = &out {
                let stem =
                    format!("{}_{kind}", case.file_name().unwrap_or_default().to_string_lossy());
                write(out, &stem, &plates, &labels, truth.width, truth.height)?;
            }
        }
    }
    for (kind, [error, exact, difference, count, seconds]) in sums {
        say(&format!(
            "{kind}: mean edge error {:.4}, ink count right {exact} of {count}, palette {:.2}, {:.2} s each",
            error / count,
            difference / count,
            seconds / count
        ));
    }
    Ok(())
}

#[allow(clippy::print_stdout, reason = "an example prints its result")]
fn say(line: &str) {
    println!("{line}");
}

fn sorted(folder: &Path) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let mut paths: Vec<_> =
        std::fs::read_dir(folder)?.map(|e| e.map(|e| e.path())).collect::<Result<_, _>>()?;
    paths.sort();
    Ok(paths)
}

fn load(file: &Path) -> Result<artwork::Picture, Box<dyn Error>> {
    let image = image::open(file)?.to_rgb8();
    let mut picture = artwork::Picture::rgb(image.width(), image.height(), image.into_raw());
    if file.extension().is_some_and(|e| e == "jpg") {
        picture.jpeg = Some(std::fs::read(file)?.into());
    }
    Ok(picture)
}

/// Each pixel's ink: 0 the garment, then the plates in order.
fn labels(plates: &Plates, width: u32, height: u32) -> Vec<u8> {
    let mut labels = vec![0; width as usize * height as usize];
    for k in 0..plates.inks().len() {
        let Ok(raster) = plates.raster(k, bitmap::Turned::upright(width, height)) else { continue };
        let bits = bitmap::collect(&raster);
        let mut changes = Vec::new();
        for y in 0..height {
            changes.clear();
            bits.changes_of_row(y, 0, width, &mut changes);
            for run in bitmap::runs(&changes, width) {
                let row = y as usize * width as usize;
                labels[row + run.start as usize..row + run.end as usize].fill(k as u8 + 1);
            }
        }
    }
    labels
}

struct Truth {
    width: u32,
    height: u32,
    labels: Vec<u8>,
    colours: Vec<Rgb>,
    scale: f64,
    boundary: f64,
}

struct Score {
    error: f64,
    difference: f64,
}

impl Truth {
    fn load(case: &Path) -> Result<Self, Box<dyn Error>> {
        let json: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(case.join("palette.json"))?)?;
        let mut colours = Vec::new();
        for colour in json["colors"].as_array().ok_or("no colours")? {
            let channel = |c: usize| colour["srgb"][c].as_u64().unwrap_or(0) as u8;
            colours.push(Rgb([channel(0), channel(1), channel(2)]));
        }
        let scale = json["scale"].as_f64().unwrap_or(12.0);
        let mut reader = image::ImageReader::open(case.join("truth.png"))?;
        reader.no_limits();
        let picture = reader.decode()?.to_rgb8();
        let (width, height) = picture.dimensions();
        let of = |p: &image::Rgb<u8>| colours.iter().position(|c| c.0 == p.0).unwrap_or(255) as u8;
        let labels: Vec<u8> = picture.pixels().map(of).collect();
        let boundary = boundary(&labels, width as usize);
        Ok(Self { width, height, labels, colours, scale, boundary })
    }

    /// Wrong area over boundary length, in source pixels, and the palette's mean difference.
    fn score(&self, plates: &Plates, labels: &[u8]) -> Score {
        let found: Vec<Rgb> =
            std::iter::once(plates.garment).chain(plates.inks().iter().map(|i| i.colour)).collect();
        let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
        for (i, f) in found.iter().enumerate() {
            pairs.extend(self.colours.iter().enumerate().map(|(j, t)| (f.difference(*t), i, j)));
        }
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut to = vec![u8::MAX; found.len()];
        let mut taken = vec![false; self.colours.len()];
        let (mut sum, mut count) = (0.0, 0.0);
        for (d, i, j) in pairs {
            if to[i] == u8::MAX && !taken[j] {
                (to[i], taken[j]) = (j as u8, true);
                (sum, count) = (sum + d, count + 1.0);
            }
        }
        let wrong =
            labels.iter().zip(&self.labels).filter(|(l, t)| to[**l as usize] != **t).count();
        Score { error: wrong as f64 / self.boundary / self.scale, difference: sum / count }
    }
}

/// The length of all boundaries in pixels, by the Cauchy-Crofton formula in four directions.
fn boundary(labels: &[u8], width: usize) -> f64 {
    let (mut straight, mut slant) = (0_u64, 0_u64);
    for (y, row) in labels.chunks_exact(width).enumerate() {
        straight += row.windows(2).filter(|p| p[0] != p[1]).count() as u64;
        if y > 0 {
            let above = &labels[(y - 1) * width..][..width];
            straight += row.iter().zip(above).filter(|(a, b)| a != b).count() as u64;
            slant += row[1..].iter().zip(above).filter(|(a, b)| a != b).count() as u64;
            slant += row.iter().zip(&above[1..]).filter(|(a, b)| a != b).count() as u64;
        }
    }
    std::f64::consts::PI / 8.0 * (straight as f64 + slant as f64 / 2_f64.sqrt())
}

fn report(case: &Path, kind: &str, plates: &Plates, truth: &Truth, score: &Score, seconds: f64) {
    let name = case.file_name().unwrap_or_default().to_string_lossy();
    let colours: Vec<String> = plates.inks().iter().map(|i| i.colour.to_string()).collect();
    say(&format!(
        "{name:22} {kind:4} error {:.4} inks {} of {} palette {:.2} {:?} {} | {} {:.2} s",
        score.error,
        colours.len(),
        truth.colours.len() - 1,
        score.difference,
        plates.damage,
        plates.garment,
        colours.join(" "),
        seconds
    ));
}

fn write(
    out: &Path,
    stem: &str,
    plates: &Plates,
    labels: &[u8],
    width: u32,
    height: u32,
) -> Result<(), Box<dyn Error>> {
    std::fs::create_dir_all(out)?;
    let picture =
        image::GrayImage::from_raw(width, height, labels.to_vec()).ok_or("labels do not fit")?;
    picture.save(out.join(format!("{stem}.png")))?;
    let mut colours = vec![plates.garment.to_string()];
    colours.extend(plates.inks().iter().map(|i| i.colour.to_string()));
    std::fs::write(out.join(format!("{stem}.json")), serde_json::to_string(&colours)?)?;
    Ok(())
}
