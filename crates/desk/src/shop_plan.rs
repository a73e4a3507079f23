//! The shop's side of the job: what the film and the garment say to [`shop::reckon`], and the
//! shop's own numbers, which are the same for every job and kept beside the window's settings.

use crate::desk::Desk;
use crate::levels::Levels;
use garment::{Garment, Measurement};
use measure::{Length, Point, Rect, Size};
use serde::{Deserialize, Serialize};
use shop::{GarmentSize, JobFacts, Reckoning, ShopSettings};
use std::path::Path;
use std::sync::Arc;

/// The level at which the ink on the garment is measured: squares of 32 film pixels.
const LEVEL: u32 = 5;

/// What a shop sets once, and how many garments are wanted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Shop {
    pub(crate) settings: ShopSettings,
    pub(crate) quantity: u32,
}

impl Default for Shop {
    fn default() -> Self {
        Self { settings: ShopSettings::default(), quantity: 25 }
    }
}

impl Shop {
    /// As kept in a folder; as new where nothing readable is there.
    pub(crate) fn read(home: &Path) -> Self {
        let text = std::fs::read_to_string(home.join("shop.json")).unwrap_or_default();
        let read: Self = serde_json::from_str(&text).unwrap_or_default();
        if read.settings.check().is_ok() { read } else { Self::default() }
    }

    pub(crate) fn write(&self, home: &Path) {
        if let Ok(text) = serde_json::to_string_pretty(self) {
            let _ = std::fs::create_dir_all(home);
            let beside = home.join("shop.json.new");
            let _ = std::fs::write(&beside, text)
                .and_then(|()| std::fs::rename(&beside, home.join("shop.json")));
        }
    }
}

/// What is reckoned from.
#[derive(Clone, PartialEq)]
pub(crate) struct ShopKey {
    film: u64,
    facts: JobFacts,
    outline: Vec<Point>,
    settings: ShopSettings,
}

/// Reckons the plan; the ink on the garment is measured first.
pub(crate) fn reckon(mut key: ShopKey, levels: &Levels) -> Result<Arc<Reckoning>, String> {
    key.facts.ink_area_m2 = ink_area_m2(levels, &key.outline, key.facts.film);
    shop::reckon(&key.settings, &key.facts).map(Arc::new).map_err(|e| e.to_string())
}

impl Desk {
    /// What is to be reckoned from now, once film and sheets are there.
    pub(crate) fn shop_key(&self) -> Option<(ShopKey, Arc<Levels>)> {
        if !self.stages.layout_is_fresh() {
            return None;
        }
        let (job, layout, film) = (self.job(), self.stages.layout()?, self.stages.shown()?);
        let size = self.film_size()?;
        let corner = self.film_rect()?.origin;
        let sheets: Vec<Rect> = layout.plan.sheets.iter().map(|s| s.placed.rect).collect();
        let pairs = sheets
            .iter()
            .enumerate()
            .flat_map(|(i, a)| sheets[i + 1..].iter().map(move |b| (a, b)));
        let overlaps = pairs.filter_map(|(a, b)| a.intersect(*b)).collect();
        let facts = JobFacts {
            name: job.title.clone(),
            film: size,
            film_at: corner + job.garment.as_ref().and_then(middle).unwrap_or_default(),
            resolution: job.resolution,
            sheets,
            stock: job.stocks.first().map_or_else(String::new, |s| s.name.clone()),
            overlaps,
            ink_area_m2: 0.0,
            finest: None,
            halftone: None,
            garments: job.garment.iter().map(laid_flat).collect(),
            quantity: self.shop.quantity,
        };
        let outline = job::build::outline(job, size).unwrap_or_default();
        let settings = ShopSettings { unit: job.unit, ..self.shop.settings.clone() };
        Some((ShopKey { film: film.number, facts, outline, settings }, film.levels.clone()))
    }
}

/// The middle of a garment's outline, from the middle of its collar.
fn middle(garment: &Garment) -> Option<Point> {
    let outline = garment.outline();
    let first = *outline.first()?;
    let (a, b) = outline.iter().fold((first, first), |(a, b), p| {
        (Point::new(a.x.min(p.x), a.y.min(p.y)), Point::new(b.x.max(p.x), b.y.max(p.y)))
    });
    Some(Rect::between(a, b).center())
}

fn laid_flat(garment: &Garment) -> GarmentSize {
    let chest = garment.get(Measurement::Chest);
    let wide = [chest, garment.get(Measurement::Width), garment.get(Measurement::Thigh)];
    GarmentSize {
        name: garment.name.clone(),
        half_chest: wide.into_iter().fold(Length::ZERO, Length::max),
        length: garment.hem().y,
        outline: garment.outline(),
    }
}

/// The ink that falls inside an outline on the film; all of it where there is none.
fn ink_area_m2(levels: &Levels, outline: &[Point], film: Size) -> f64 {
    let level = LEVEL.min(levels.coarsest());
    let (w, h) = levels.size(level);
    let side = film.width.to_mm() / f64::from(levels.width().max(1)) * f64::from(1_u32 << level);
    let mut ink = 0_u64;
    for row in 0..h {
        let cover = levels.cover(level, 0, row, w, 1);
        let y = (row as f64 + 0.5) * side;
        let mut sides: Vec<f64> = Vec::new();
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            let (ay, by) = (a.y.to_mm(), b.y.to_mm());
            if (ay <= y) != (by <= y) {
                sides.push(a.x.to_mm() + (b.x - a.x).to_mm() * ((y - ay) / (by - ay)));
            }
        }
        sides.sort_by(f64::total_cmp);
        for (i, c) in cover.iter().enumerate() {
            let x = (i as f64 + 0.5) * side;
            let inside = outline.is_empty() || sides.iter().filter(|s| **s <= x).count() % 2 == 1;
            ink += if inside { u64::from(*c) } else { 0 };
        }
    }
    ink as f64 / 255.0 * side * side / 1e6
}

#[cfg(test)]
mod tests {
    use super::*;
    use bitmap::Bitmap;

    #[test]
    fn only_ink_inside_the_outline_counts() {
        // A film of solid ink, 100 mm on a side, under a triangle that covers half of it.
        let levels = Levels::new(Bitmap::from_fn(2000, 2000, |_, _| true));
        let mm = Length::mm;
        let triangle = [
            Point::new(mm(0.0), mm(0.0)),
            Point::new(mm(100.0), mm(0.0)),
            Point::new(mm(0.0), mm(100.0)),
        ];
        let film = Size::new(mm(100.0), mm(100.0));
        assert!((ink_area_m2(&levels, &[], film) - 0.01).abs() < 1e-4);
        assert!((ink_area_m2(&levels, &triangle, film) - 0.005).abs() < 1e-4);
    }
}
