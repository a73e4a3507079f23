//! A picture from the clipboard, as the bytes of a PNG file.

use image::{ExtendedColorType, ImageEncoder};

/// # Errors
/// One sentence saying why there is no picture.
pub(crate) fn picture() -> Result<Vec<u8>, String> {
    let mut clipboard =
        arboard::Clipboard::new().map_err(|e| format!("the clipboard cannot be reached: {e}"))?;
    let picture =
        clipboard.get_image().map_err(|_| "there is no picture on the clipboard".to_owned())?;
    let (width, height) = (picture.width as u32, picture.height as u32);
    let mut png = Vec::new();
    image::codecs::png::PngEncoder::new(&mut png)
        .write_image(&picture.bytes, width, height, ExtendedColorType::Rgba8)
        .map_err(|e| format!("the picture on the clipboard cannot be used: {e}"))?;
    Ok(png)
}
