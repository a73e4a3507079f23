//! Pictures to make films of.

use bitmap::Bitmap;
use std::path::PathBuf;

/// A folder's pictures (`*/truth.png` or `*.png`), dark as ink, with their places.
pub fn pictures(folder: &str) -> Vec<(PathBuf, Bitmap)> {
    let mut paths: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    paths.sort();
    let mut out = Vec::new();
    for path in paths {
        let path = if path.is_dir() { path.join("truth.png") } else { path };
        if path.extension().is_none_or(|e| e != "png") || !path.exists() {
            continue;
        }
        let grey = image::open(&path).unwrap().into_luma8();
        let dark = |x, y| grey.get_pixel(x, y).0[0] < 128;
        let picture = Bitmap::from_fn(grey.width(), grey.height(), dark);
        out.push((path, picture));
    }
    out
}

/// One picture over a whole film.
pub fn whole(picture: &Bitmap, size: [u32; 2]) -> Bitmap {
    let by = [picture.width(), picture.height()];
    Bitmap::from_fn(size[0], size[1], |x, y| {
        let at = [0, 1].map(|k| u64::from([x, y][k]) * u64::from(by[k]) / u64::from(size[k]));
        picture.get(at[0] as u32, at[1] as u32)
    })
}
