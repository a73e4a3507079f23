//! The film on the screen: squares of 512 pixels made by a worker, at most a few brought to the
//! graphics card in a frame. Until a square arrives, a coarser one that covers it is shown.

use super::laid::{self, Laid, seen_of};
use crate::films::FilmView;
use crate::levels::Levels;
use eframe::egui::{
    Color32, ColorImage, Context, Painter, Pos2, Rect, TextureHandle, TextureId, TextureOptions,
    pos2, vec2,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Condvar, Mutex};

const SIDE: usize = 512;
/// Squares kept; each takes a megabyte.
const MOST_KEPT: usize = 56;
/// Squares brought to the graphics card in one frame.
const UPLOADS: usize = 4;

/// Which square: of which film, at which level, and where.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    film: u64,
    level: u32,
    x: usize,
    y: usize,
}

struct Tile {
    texture: TextureHandle,
    used: u64,
}

/// What the worker should make next, the last of the list first.
#[derive(Default)]
struct Wishes {
    list: Vec<(Key, Arc<Levels>)>,
    /// Made, and on their way.
    made: BTreeSet<Key>,
    closed: bool,
}

/// The squares at hand, and the worker that makes more.
pub(crate) struct Tiles {
    tiles: BTreeMap<Key, Tile>,
    wishes: Arc<(Mutex<Wishes>, Condvar)>,
    arrivals: Option<Receiver<(Key, ColorImage)>>,
    frame: u64,
    /// The film that is shown; a newer one takes its place when its squares are there.
    front: Option<FilmView>,
}

impl Tiles {
    pub(crate) fn new() -> Self {
        Self {
            tiles: BTreeMap::new(),
            wishes: Arc::default(),
            arrivals: None,
            frame: 0,
            front: None,
        }
    }

    /// Shows nothing of the films before the next one.
    pub(crate) fn clear(&mut self) {
        self.front = None;
    }

    /// Paints the film where the artwork lies, as far as that is within the painter's clip.
    pub(crate) fn paint(&mut self, film: &FilmView, laid: &Laid, ink: Color32, painter: &Painter) {
        self.start(painter.ctx());
        self.frame += 1;
        self.take(painter.ctx());
        let mut wanted = Vec::new();
        let ready = self.look(film, laid, painter, &mut wanted);
        if ready
            || self.front.is_none()
            || self.front.as_ref().is_some_and(|f| f.number == film.number)
        {
            self.front = Some(film.clone());
        }
        let Some(front) = self.front.clone() else { return };
        let (place, turn) = laid.of_film(&front);
        let about = (laid.middle(), turn);
        let level = level_for(&front.levels, place, painter);
        let clip = seen_of(painter.clip_rect(), about);
        for (key, rect) in seen(front.number, &front.levels, level, place, clip) {
            if let Some((texture, uv)) = self.tile_for(key, &front.levels, rect, place) {
                laid::image(painter, texture, (rect, uv), ink, about);
            }
        }
        self.wish(&wanted, &film.levels);
        self.forget();
    }

    /// Whether every square of a film that would be seen is there; those that are not are wanted.
    fn look(
        &mut self,
        film: &FilmView,
        laid: &Laid,
        painter: &Painter,
        wanted: &mut Vec<Key>,
    ) -> bool {
        let (place, turn) = laid.of_film(film);
        let clip = seen_of(painter.clip_rect(), (laid.middle(), turn));
        let level = level_for(&film.levels, place, painter);
        // The coarsest square covers everything at little cost, so it comes first.
        let coarsest =
            seen(film.number, &film.levels, film.levels.coarsest(), place, Rect::EVERYTHING);
        let fine = seen(film.number, &film.levels, level, place, clip);
        for (key, _) in coarsest.into_iter().chain(fine) {
            match self.tiles.get_mut(&key) {
                Some(tile) => tile.used = self.frame,
                None => wanted.push(key),
            }
        }
        wanted.is_empty()
    }

    fn start(&mut self, ctx: &Context) {
        if self.arrivals.is_some() {
            return;
        }
        let (send, arrivals) = channel();
        let (wishes, ctx) = (self.wishes.clone(), ctx.clone());
        let spawned = std::thread::Builder::new()
            .name("tiles".into())
            .spawn(move || work(&wishes, &send, &ctx));
        if spawned.is_ok() {
            self.arrivals = Some(arrivals);
        }
    }

    /// Brings what the worker made to the graphics card.
    fn take(&mut self, ctx: &Context) {
        let Some(arrivals) = &self.arrivals else { return };
        for _ in 0..UPLOADS {
            let Ok((key, image)) = arrivals.try_recv() else { return };
            if let Ok(mut wishes) = self.wishes.0.lock() {
                wishes.made.remove(&key);
            }
            let magnified =
                if key.level == 0 { TextureOptions::NEAREST } else { TextureOptions::LINEAR };
            let options =
                TextureOptions { minification: TextureOptions::LINEAR.minification, ..magnified };
            let texture = ctx.load_texture(format!("film {key:?}"), image, options);
            self.tiles.insert(key, Tile { texture, used: self.frame });
        }
        // More may wait.
        ctx.request_repaint();
    }

    /// A square, or the part of a coarser one that covers it.
    fn tile_for(
        &mut self,
        key: Key,
        levels: &Levels,
        rect: Rect,
        place: Rect,
    ) -> Option<(TextureId, Rect)> {
        for level in key.level..=levels.coarsest() {
            let up = level - key.level;
            let cover = Key { level, x: key.x >> up, y: key.y >> up, ..key };
            let Some(tile) = self.tiles.get_mut(&cover) else { continue };
            tile.used = self.frame;
            let whole = tile_rect(levels, cover, place);
            let part = |p: Pos2| {
                pos2((p.x - whole.min.x) / whole.width(), (p.y - whole.min.y) / whole.height())
            };
            let uv = Rect::from_min_max(part(rect.min), part(rect.max));
            return Some((tile.texture.id(), uv));
        }
        None
    }

    fn wish(&self, wanted: &[Key], levels: &Arc<Levels>) {
        let (lock, bell) = &*self.wishes;
        if let Ok(mut wishes) = lock.lock() {
            let new = wanted.iter().rev().filter(|k| !wishes.made.contains(k));
            wishes.list = new.map(|k| (*k, levels.clone())).collect();
            bell.notify_one();
        }
    }

    /// Lets the squares go that were not looked at longest.
    fn forget(&mut self) {
        while self.tiles.len() > MOST_KEPT {
            let oldest = self.tiles.iter().min_by_key(|(_, t)| t.used).map(|(k, t)| (*k, t.used));
            match oldest {
                Some((key, used)) if used < self.frame => self.tiles.remove(&key),
                _ => return,
            };
        }
    }
}

impl Drop for Tiles {
    fn drop(&mut self) {
        let (lock, bell) = &*self.wishes;
        if let Ok(mut wishes) = lock.lock() {
            wishes.closed = true;
            bell.notify_one();
        }
    }
}

/// The squares of a level that are seen, with their places on the screen.
fn seen(film: u64, levels: &Levels, level: u32, place: Rect, clip: Rect) -> Vec<(Key, Rect)> {
    let (w, h) = levels.size(level);
    let mut out = Vec::new();
    for y in 0..h.div_ceil(SIDE) {
        for x in 0..w.div_ceil(SIDE) {
            let key = Key { film, level, x, y };
            let rect = tile_rect(levels, key, place);
            if rect.intersects(clip) {
                out.push((key, rect));
            }
        }
    }
    out
}

/// Where a square lies on the screen.
fn tile_rect(levels: &Levels, key: Key, place: Rect) -> Rect {
    let (w, h) = levels.size(key.level);
    let side = (SIDE as u32) << key.level;
    // The last pixel of a coarse level may reach past the film's edge.
    let scale = vec2(
        place.width() / levels.width().max(1) as f32,
        place.height() / levels.height().max(1) as f32,
    );
    let at = |n: usize| n as f32 * side as f32;
    let (cols, rows) = (SIDE.min(w - (key.x * SIDE).min(w)), SIDE.min(h - (key.y * SIDE).min(h)));
    let px = (1_u32 << key.level) as f32;
    let min = pos2(place.min.x + at(key.x) * scale.x, place.min.y + at(key.y) * scale.y);
    Rect::from_min_size(min, vec2(cols as f32 * px * scale.x, rows as f32 * px * scale.y))
}

/// The level whose pixels are nearest to the screen's, and not larger.
fn level_for(levels: &Levels, place: Rect, painter: &Painter) -> u32 {
    let across = f64::from(place.width().max(1.0) * painter.ctx().pixels_per_point());
    let film_px_per_pixel = f64::from(levels.width()) / across;
    (film_px_per_pixel.max(1.0).log2().floor() as u32).min(levels.coarsest())
}

/// The worker: makes squares until the window closes.
fn work(wishes: &(Mutex<Wishes>, Condvar), send: &Sender<(Key, ColorImage)>, ctx: &Context) {
    let (lock, bell) = wishes;
    loop {
        let Ok(mut list) = lock.lock() else { return };
        let (key, levels) = loop {
            if list.closed {
                return;
            }
            match list.list.pop() {
                Some(wish) => break wish,
                None => match bell.wait(list) {
                    Ok(woken) => list = woken,
                    Err(_) => return,
                },
            }
        };
        list.made.insert(key);
        drop(list);
        if send.send((key, image(&levels, key))).is_err() {
            return;
        }
        ctx.request_repaint();
    }
}

fn image(levels: &Levels, key: Key) -> ColorImage {
    let (w, h) = levels.size(key.level);
    let (x, y) = (key.x * SIDE, key.y * SIDE);
    let (width, height) = (SIDE.min(w - x), SIDE.min(h - y));
    let cover = levels.cover(key.level, x, y, width, height);
    ColorImage::new([width, height], cover.into_iter().map(Color32::from_white_alpha).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use bitmap::Bitmap;

    #[test]
    fn the_squares_of_every_level_cover_the_film_without_gaps() {
        let levels = Levels::new(Bitmap::new(5000, 3001));
        let place = Rect::from_min_size(pos2(10.0, 20.0), vec2(1000.0, 600.2));
        for level in 0..=levels.coarsest() {
            let all = seen(1, &levels, level, place, Rect::EVERYTHING);
            let area: f32 = all.iter().map(|(_, r)| r.area()).sum();
            // The last pixels of a coarse level may reach past the edge.
            assert!(area >= place.area() * 0.999 && area <= place.area() * 1.08, "{level}: {area}");
            let (w, h) = levels.size(level);
            for (key, _) in all {
                let image = image(&levels, key);
                assert!(
                    image.size[0] > 0 && image.size[1] > 0 && key.x * SIDE < w && key.y * SIDE < h
                );
            }
        }
    }
}
