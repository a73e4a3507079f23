//! Places where the photo is bright and the film is ink, or dark and the film is clear.

use crate::camera::Xy;
use crate::layout::Layout;
use crate::levels::Levels;
use crate::light::Light;
use crate::model::Model;
use crate::samples::FilmLevel;
use crate::solve::median;
use crate::{Spot, SpotKind};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Tiles in which the light is taken to be even, in mm.
const TILE: f64 = 12.0;
/// Far from edges, this share of the light too much or too little is a spot, ...
const DEEP: f64 = 0.15;
/// ... and near edges, where blur and slips leave a little, or of clear film beside a sheet's border,
/// this much.
const NEAR: f64 = 0.6;
/// Sheets that lie farther apart than this, mm, show their ink twice where they overlap.
const APART: f64 = 0.25;
/// The faintest ink that counts as black, as a share of the light above the film's usual ink.
const THIN: f64 = 0.08;
/// Nearer than this to the film's edge, in mm or at least in cells, nothing is told: what lies
/// just beyond the film may show where ink runs to its edge.
const EDGE: (f64, f64) = (1.0, 3.0);
/// More spots than this are no list but another problem; the largest are kept.
const MOST: usize = 500;

/// Lists spots and thin black, from the finest level, largest first.
pub(crate) fn find(
    model: &Model,
    photo: &Levels,
    film: &FilmLevel,
    layout: &Layout,
    light: &Light,
    taking: &[bool],
) -> Vec<Spot> {
    let side = ((TILE / film.mm).round() as usize).max(8);
    let across = film.cover.width.div_ceil(side);
    let down = film.cover.height.div_ceil(side);
    let edge = (EDGE.0 / film.mm).max(EDGE.1).ceil() as usize;
    let scan = Scan { edge, model, photo, film, layout, light, taking, side };
    let tiles: Vec<Tile> =
        (0..across * down).into_par_iter().map(|t| scan.tile(t % across, t / across)).collect();
    let usual = median(tiles.iter().filter_map(|t| t.1.map(|b| b.1)).collect());
    let thin = tiles.iter().filter_map(|t| t.1).filter(|(_, black)| *black > usual + THIN);
    let mut out = spots(tiles.iter().flat_map(|t| t.0.iter().copied()), film.mm, layout);
    let mm = side as f64 * film.mm;
    out.extend(thin.map(|(at, _)| spot(SpotKind::ThinBlack, at, mm, layout)));
    out.sort_by(|a, b| b.size_mm.total_cmp(&a.size_mm));
    out.truncate(MOST);
    out
}

/// A cell that is not as it should be.
#[derive(Clone, Copy)]
struct Cell {
    x: u32,
    y: u32,
    bright: bool,
}

/// A tile's wrong cells and, where it is mostly ink, its middle and how clear that ink is.
type Tile = (Vec<Cell>, Option<(Xy, f64)>);

struct Scan<'a> {
    model: &'a Model,
    photo: &'a Levels,
    film: &'a FilmLevel,
    layout: &'a Layout,
    light: &'a Light,
    /// Which sheets lie in their places.
    taking: &'a [bool],
    side: usize,
    /// Cells along the film's edge that are not looked at.
    edge: usize,
}

impl Scan<'_> {
    fn place(&self, x: f64, y: f64) -> Xy {
        [x * self.film.mm - self.layout.size[0] / 2.0, y * self.film.mm - self.layout.size[1] / 2.0]
    }

    /// Looks at one tile.
    fn tile(&self, i: usize, j: usize) -> Tile {
        let (x0, y0) = (i * self.side, j * self.side);
        let (x1, y1) = (
            (x0 + self.side).min(self.film.cover.width),
            (y0 + self.side).min(self.film.cover.height),
        );
        let middle = self.place((x0 + x1) as f64 / 2.0, (y0 + y1) as f64 / 2.0);
        let sheet = self.layout.only_sheet(middle, 0.0);
        // Where another sheet lies, or none, everything is wrong.
        let reach = self.side as f64 * self.film.mm;
        let mut wrong = self.layout.quads.iter().zip(self.taking).filter(|(_, taking)| !*taking);
        if wrong.any(|(quad, _)| quad.depth(middle) > -reach) {
            return (Vec::new(), None);
        }
        // Where one of several sheets ends, clear film beside none, or beside two, is no dirt.
        let quads = &self.layout.quads;
        let border = quads.len() > 1 && quads.iter().any(|q| q.depth(middle).abs() < reach);
        let apart = self.apart(middle, reach);
        let see = |x: usize, y: usize| {
            let at = self.place(x as f64, y as f64);
            let there = match sheet.filter(|_| apart.is_empty()) {
                Some(s) => self.model.place(at, s),
                None => self.model.uneven(at),
            };
            self.model.camera.project(there)
        };
        let corners = [see(x0, y0), see(x1, y0), see(x0, y1), see(x1, y1)];
        let [Some(a), Some(b), Some(c), Some(d)] = corners else {
            return (Vec::new(), None);
        };
        let mut cells = Vec::with_capacity((x1 - x0) * (y1 - y0));
        let (mut inked, mut clear) = (Vec::new(), Vec::new());
        // How clear the film is goes with the light in a straight line.
        let dark = self.light.clearness(middle, 0.0);
        let slope = (self.light.clearness(middle, 1.0) - dark) / 65535.0;
        for y in y0..y1 {
            let v = (y as f64 + 0.5 - y0 as f64) / (y1 - y0) as f64;
            let ends = [(a, c), (b, d)].map(|(top, low)| -> Xy {
                std::array::from_fn(|k| top[k] + (low[k] - top[k]) * v)
            });
            let step: Xy = std::array::from_fn(|k| (ends[1][k] - ends[0][k]) / (x1 - x0) as f64);
            let covers = &self.film.cover.px[y * self.film.cover.width..][x0..x1];
            for (x, cover) in (x0..x1).zip(covers) {
                let on = (x - x0) as f64 + 0.5;
                let Some(seen) =
                    self.smooth([ends[0][0] + step[0] * on, ends[0][1] + step[1] * on])
                else {
                    continue;
                };
                let seen = dark + slope * seen;
                let cover = match apart.as_slice() {
                    [] => f64::from(*cover),
                    apart => self.cover_of(apart, self.place(x as f64 + 0.5, y as f64 + 0.5)),
                } / 65535.0;
                if cover > 0.995 {
                    inked.push(seen);
                } else if cover < 0.005 {
                    clear.push(seen);
                }
                cells.push((x as u32, y as u32, cover, seen));
            }
        }
        let few = self.side * self.side / 20;
        let black = if inked.len() > few { median(inked) } else { 0.0 };
        let white = if clear.len() > few { median(clear.clone()) } else { 1.0 };
        let solid = cells.len() > 3 * clear.len() / 2 && black != 0.0;
        let (right, bottom) = (self.film.cover.width, self.film.cover.height);
        let inside = |at: u32, most: usize| {
            (self.edge..most.saturating_sub(self.edge)).contains(&(at as usize))
        };
        let cells = cells.into_iter().filter(|c| inside(c.0, right) && inside(c.1, bottom));
        let wrong = cells.filter_map(|(x, y, cover, seen)| {
            // Clear film may be brighter than most, where one sheet lies alone or without tape.
            let clear = ((seen - black) / (white - black).max(0.2)).clamp(0.0, 1.0);
            let off = clear - (1.0 - cover);
            let even = cover > 0.995 || cover < 0.005 && !border;
            let limit = if even { DEEP } else { NEAR };
            (off.abs() > limit).then_some(Cell { x, y, bright: off > 0.0 })
        });
        (wrong.collect(), solid.then_some((middle, black)))
    }

    /// The sheets that lie within reach of a place, with how far they were moved there, if they lie so
    /// far apart that one's ink is seen beside the other's.
    fn apart(&self, at: Xy, reach: f64) -> Vec<(usize, Xy)> {
        let near = self.layout.quads.iter().enumerate().filter(|(_, q)| q.depth(at) > -reach);
        let moved: Vec<(usize, Xy)> = near.map(|(s, _)| (s, self.model.motion(at, s))).collect();
        let far = |a: &Xy, b: &Xy| (a[0] - b[0]).hypot(a[1] - b[1]) > APART;
        if moved.iter().any(|(_, a)| moved.iter().any(|(_, b)| far(a, b))) {
            moved
        } else {
            Vec::new()
        }
    }

    /// How much ink sheets that were moved so far have together at a place.
    fn cover_of(&self, sheets: &[(usize, Xy)], at: Xy) -> f64 {
        let own = sheets.iter().map(|(s, moved)| (s, [at[0] - moved[0], at[1] - moved[1]]));
        own.filter(|(s, own)| self.layout.quads[**s].depth(*own) >= 0.0)
            .map(|(_, own)| {
                let [u, v] = [0, 1].map(|k| (own[k] + self.layout.size[k] / 2.0) / self.film.mm);
                f64::from(self.film.cover.bilinear(u, v))
            })
            .fold(0.0, f64::max)
    }

    /// The photo's mean over a pixel and a half around a place, of 65535 at most.
    fn smooth(&self, at: Xy) -> Option<f64> {
        let grey = &self.photo.0[0];
        if at[0] < 1.5 || at[1] < 1.5 {
            return None;
        }
        let (x, y) = (at[0] as usize, at[1] as usize);
        if x + 1 >= grey.width || y + 1 >= grey.height {
            return None;
        }
        let at = y * grey.width + x;
        let [top, row, low] = [at - grey.width, at, at + grey.width];
        let px = |i: usize| u32::from(grey.px[i]);
        let sum = 2 * px(row) + px(row - 1) + px(row + 1) + px(top) + px(low);
        Some(f64::from(sum) / 6.0)
    }
}

/// Joins cells that touch.
fn spots(cells: impl Iterator<Item = Cell>, mm: f64, layout: &Layout) -> Vec<Spot> {
    let mut left: BTreeMap<(u32, u32), bool> = cells.map(|c| ((c.y, c.x), c.bright)).collect();
    let mut out = Vec::new();
    while let Some((start, bright)) = left.pop_first() {
        let (mut open, mut count, mut sum) = (vec![start], 0.0, [0.0, 0.0]);
        while let Some((y, x)) = open.pop() {
            count += 1.0;
            sum = [sum[0] + f64::from(x) + 0.5, sum[1] + f64::from(y) + 0.5];
            for dy in -1..=1 {
                for dx in -1..=1 {
                    let (Some(ny), Some(nx)) = (y.checked_add_signed(dy), x.checked_add_signed(dx))
                    else {
                        continue;
                    };
                    if left.get(&(ny, nx)) == Some(&bright) {
                        left.remove(&(ny, nx));
                        open.push((ny, nx));
                    }
                }
            }
        }
        // One cell alone is noise.
        if count >= 3.0 {
            let at = [0, 1].map(|k| sum[k] / count * mm - layout.size[k] / 2.0);
            let kind = if bright { SpotKind::Bright } else { SpotKind::Dark };
            out.push(spot(kind, at, (count * 4.0 / std::f64::consts::PI).sqrt() * mm, layout));
        }
    }
    out
}

fn spot(kind: SpotKind, at: Xy, size_mm: f64, layout: &Layout) -> Spot {
    let [x_mm, y_mm] = [0, 1].map(|k| at[k] + layout.size[k] / 2.0);
    Spot { kind, x_mm, y_mm, size_mm }
}
