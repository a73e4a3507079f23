//! Cuts every test picture of a folder to the size of its truth, for scoring.
//!
//! `cargo run --release -p artwork --example edge_scores -- SET OUT [auto|fitted|learned|plain]`
//! where `SET/NAME/truth.png` is the one-bit truth and `SET/NAME/xSS_CLASS.EXT` a picture of
//! it at 1/SS. Writes `OUT/NAME/xSS_CLASS.png`, black ink, and tells what each was taken for.

use artwork::{Cut, Edges, Settings, load, surface};
use std::error::Error;
use std::io::Write;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let (Some(set), Some(out)) = (args.next(), args.next()) else {
        return Err("usage: edge_scores SET OUT [auto|fitted|learned|plain]".into());
    };
    let edges = match args.next().as_deref() {
        None | Some("auto") => Edges::Auto,
        Some("fitted") => Edges::Fitted,
        Some("learned") => Edges::Learned,
        Some("plain") => Edges::Plain,
        Some(other) => return Err(format!("{other} is no way to make edges").into()),
    };
    let cut = if edges == Edges::Plain { Cut::At(0.5) } else { Cut::Auto };
    let settings = Settings { edges, cut, ..Settings::default() };
    let mut folders: Vec<_> = std::fs::read_dir(set)?.collect::<Result<_, _>>()?;
    folders.sort_by_key(std::fs::DirEntry::path);
    for folder in folders {
        let truth = folder.path().join("truth.png");
        if !truth.exists() {
            continue;
        }
        let (width, height) = image::image_dimensions(&truth)?;
        let to = Path::new(&out).join(folder.file_name());
        std::fs::create_dir_all(&to)?;
        let mut pictures: Vec<_> = std::fs::read_dir(folder.path())?.collect::<Result<_, _>>()?;
        pictures.sort_by_key(std::fs::DirEntry::path);
        for picture in pictures {
            if !picture.file_name().to_string_lossy().starts_with('x') {
                continue;
            }
            let loaded = load(&std::fs::read(picture.path())?)?;
            let start = std::time::Instant::now();
            let surface = surface(&loaded, &settings, &progress::Progress::none())?;
            let took = start.elapsed().as_millis();
            let film = bitmap::collect(&surface.raster(width, height));
            let bytes = (0..height).flat_map(|y| {
                let film = &film;
                (0..width).map(move |x| if film.get(x, y) { 0 } else { 255_u8 })
            });
            let grey =
                image::GrayImage::from_raw(width, height, bytes.collect()).ok_or("too small")?;
            grey.save(to.join(picture.file_name()).with_extension("png"))?;
            let name = Path::new(&folder.file_name()).join(picture.file_name());
            let report = &surface.report;
            let said = format!(
                "{} {:?} {:?} {took} ms: {}\n",
                name.display(),
                report.source,
                report.edges,
                report.why
            );
            std::io::stdout().write_all(said.as_bytes())?;
        }
    }
    Ok(())
}
