//! Drawings: SVG rasterised large enough that its own edges do not limit the film.

use crate::{ArtworkError, Picture};
use resvg::tiny_skia::{Color, Pixmap, Transform};
use resvg::usvg::{ImageHrefResolver, Options, Tree, fontdb};
use std::cell::Cell;
use std::panic::{self, AssertUnwindSafe};
use std::sync::{Arc, Once};

/// The longer side of a rasterised drawing in pixels.
const LONGEST: f32 = 4096.0;

/// Whether the bytes look like an SVG: a mark-up file with an `svg` element near its start.
pub(super) fn is_svg(bytes: &[u8]) -> bool {
    let start = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes).trim_ascii_start();
    let head = &start[..start.len().min(16_384)];
    head.starts_with(b"<") && head.windows(4).any(|w| w == b"<svg" || w == b":svg")
}

/// Rasterises an SVG on white, its longer side [`LONGEST`] pixels. It may hold pictures but
/// not point at other files.
pub(super) fn load(bytes: &[u8]) -> Result<Picture, ArtworkError> {
    let has_text = bytes.windows(5).any(|w| w == b"<text" || w == b":text");
    let mut fonts = fontdb::Database::new();
    if has_text {
        fonts.load_system_fonts();
        if let Some(missing) = missing_typeface(bytes, &fonts) {
            return Err(ArtworkError::MissingTypeface(missing));
        }
    }
    let options = Options {
        image_href_resolver: ImageHrefResolver {
            resolve_data: ImageHrefResolver::default_data_resolver(),
            resolve_string: Box::new(|_, _| None),
        },
        fontdb: Arc::new(fonts),
        ..Options::default()
    };
    let damaged = |detail: String| ArtworkError::Damaged { format: "SVG", detail };
    let tree = Tree::from_data(bytes, &options).map_err(|e| damaged(e.to_string()))?;
    let size = tree.size();
    let scale = LONGEST / size.width().max(size.height());
    let pixels = |v: f32| (v * scale).round().clamp(1.0, LONGEST) as u32;
    let (width, height) = (pixels(size.width()), pixels(size.height()));
    let mut pixmap = Pixmap::new(width, height).ok_or(ArtworkError::NoPixels { width, height })?;
    pixmap.fill(Color::WHITE);
    let stretch = Transform::from_scale(width as f32 / size.width(), height as f32 / size.height());
    // The rasteriser gives up on a few strokes of odd size by a panic of its own.
    quietly(|| resvg::render(&tree, stretch, &mut pixmap.as_mut()))
        .ok_or_else(|| damaged("a stroke of it cannot be drawn".into()))?;
    let rgb: Vec<u8> = pixmap.data().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    Ok(super::flattened(image::DynamicImage::ImageRgb8(
        image::RgbImage::from_raw(width, height, rgb)
            .ok_or(ArtworkError::NoPixels { width, height })?,
    )))
}

thread_local! {
    /// Whether a panic of this thread is caught and told in a sentence.
    static QUIET: Cell<bool> = const { Cell::new(false) };
}

/// What `work` gives; nothing, and not a word, where it panics.
fn quietly<T>(work: impl FnOnce() -> T) -> Option<T> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let usual = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            if !QUIET.get() {
                usual(info);
            }
        }));
    });
    QUIET.set(true);
    let done = panic::catch_unwind(AssertUnwindSafe(work));
    QUIET.set(false);
    done.ok()
}

/// A typeface that the drawing's text names first in a list and that is not installed: drawing
/// it in another would change the design without a word.
fn missing_typeface(bytes: &[u8], fonts: &fontdb::Database) -> Option<String> {
    if fonts.is_empty() {
        return Some("a typeface, and no typeface at all".into());
    }
    let text = String::from_utf8_lossy(bytes);
    for (at, key) in text.match_indices("font-family") {
        let value = text[at + key.len()..].trim_start().trim_start_matches([':', '=']).trim_start();
        let value = value.trim_start_matches(['"', '\'']);
        let end = value.find([';', '"', '\'', '<', '>', '}', ',']).unwrap_or(value.len());
        let family = value[..end].trim();
        let generic = ["serif", "sans-serif", "monospace", "cursive", "fantasy", "inherit", ""];
        let installed = fonts
            .faces()
            .any(|f| f.families.iter().any(|(name, _)| name.eq_ignore_ascii_case(family)));
        if !generic.contains(&family) && !installed {
            return Some(family.chars().take(60).collect());
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Found by changed files: its stroke makes the rasteriser panic.
    #[test]
    fn a_stroke_that_cannot_be_drawn_is_told() {
        let bytes = include_bytes!("../../../../tests/fuzz/pictures-stroke.svg");
        let error = load(bytes).unwrap_err();
        assert!(error.to_string().contains("SVG"), "{error}");
        // And the next drawing is drawn.
        let fine = include_bytes!("../../../../assets/demo/lantern-moth.svg");
        assert!(load(fine).is_ok());
    }
}
