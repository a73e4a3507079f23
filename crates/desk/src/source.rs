//! The artwork's own picture on the screen.

use crate::desk::Desk;
use crate::recut::Looked;
use eframe::egui::{ColorImage, Context, Rect, TextureHandle, TextureId, TextureOptions, pos2};
use std::sync::Arc;

/// The longest side of the picture as it is shown.
pub(crate) const LONGEST_PX: u32 = 2048;

/// A picture on the graphics card, and the picture it was made from.
pub(crate) struct SourceTexture {
    made_from: Arc<ColorImage>,
    texture: TextureHandle,
}

/// A picture small enough to be shown whole.
pub(crate) fn image(picture: &artwork::Picture) -> ColorImage {
    let small = picture.thumbnail(LONGEST_PX);
    let size = [small.width as usize, small.height as usize];
    match &small.pixels {
        artwork::Pixels::Grey(grey) => ColorImage::from_gray(size, grey),
        artwork::Pixels::Rgb(rgb) => ColorImage::from_rgb(size, rgb),
    }
}

/// A first look at a large picture, while all of it is being read.
pub(crate) fn preview(bytes: &[u8]) -> Option<Arc<ColorImage>> {
    /// What a screen shows of it well enough for a moment.
    const LEAST_PX: u16 = 900;
    artwork::preview(bytes, LEAST_PX).map(|picture| Arc::new(image(&picture)))
}

impl Desk {
    /// The picture's texture, and which part of it is used: all of it if `whole`.
    pub(crate) fn source_texture(
        &mut self,
        ctx: &Context,
        whole: bool,
    ) -> Option<(TextureId, Rect)> {
        let image = self.stages.image()?.clone();
        let texture = keep(&mut self.canvas.source, image, ctx);
        let all = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        let part = match (self.job().art.crop, self.stages.picture_px()) {
            (Some(c), Some((w, h))) if !whole => {
                let (w, h) = (w as f32, h as f32);
                let (x, y) = (c.x as f32, c.y as f32);
                Rect::from_min_max(
                    pos2(x / w, y / h),
                    pos2((x + c.width as f32) / w, (y + c.height as f32) / h),
                )
            }
            _ => all,
        };
        Some((texture, part))
    }
}

impl Desk {
    /// The photo on a check's card.
    pub(crate) fn photo_texture(&mut self, image: Arc<ColorImage>, ctx: &Context) -> TextureId {
        keep(&mut self.photo.texture, image, ctx)
    }

    /// The film with slipped sheets, where it is wanted and worked out.
    pub(crate) fn slipped_texture(&mut self, ctx: &Context) -> Option<(TextureId, Looked)> {
        if !self.canvas.slips.shown {
            return None;
        }
        let slipped = self.stages.slipped()?.clone();
        let texture = keep(&mut self.canvas.slipped, slipped.image.clone(), ctx);
        Some((texture, slipped.looked.clone()))
    }
}

impl Desk {
    /// What is seen of the film, cut at the level just reached, until there is a film of it.
    pub(crate) fn recut_texture(&mut self, ctx: &Context) -> Option<(TextureId, Looked)> {
        let recut = self.stages.recut(self.history.job())?.clone();
        Some((keep(&mut self.canvas.recut, recut.image, ctx), recut.looked))
    }
}

/// The texture of an image, brought to the graphics card where it is not there yet.
fn keep(kept: &mut Option<SourceTexture>, image: Arc<ColorImage>, ctx: &Context) -> TextureId {
    match kept {
        Some(s) if Arc::ptr_eq(&s.made_from, &image) => s.texture.id(),
        _ => {
            let texture = ctx.load_texture("picture", (*image).clone(), TextureOptions::LINEAR);
            let id = texture.id();
            *kept = Some(SourceTexture { made_from: image, texture });
            id
        }
    }
}
