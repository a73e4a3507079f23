//! Places on the film's edges that are worth looking for in the photograph.

use crate::camera::Xy;
use crate::grey::Grey;
use crate::layout::Layout;
use rayon::prelude::*;

/// The film's cover at some resolution, blurred as the photograph is.
pub(crate) struct FilmLevel {
    pub(crate) cover: Grey,
    /// The side of a cell.
    pub(crate) mm: f64,
    /// The blur's standard deviation in cells.
    pub(crate) sigma: f64,
}

impl FilmLevel {
    /// The cover at a place, 0 to 1.
    pub(crate) fn at(&self, layout: &Layout, at: Xy) -> f32 {
        let [x, y] =
            [(at[0] + layout.size[0] / 2.0) / self.mm, (at[1] + layout.size[1] / 2.0) / self.mm];
        self.cover.cubic(x, y).unwrap_or_else(|| self.cover.bilinear(x, y)) / 65535.0
    }
}

/// Steps of half a photo pixel either side of the edge that are compared.
pub(crate) const REACH: usize = 8;
/// Further steps of the film's profile, for shifting it.
pub(crate) const SPARE: usize = 2;
/// Points of the film's profile.
pub(crate) const PROFILE: usize = 2 * (REACH + SPARE) + 1;

/// A place on an edge.
pub(crate) struct Sample {
    pub(crate) at: Xy,
    /// Towards the clear side, of length 1.
    pub(crate) normal: Xy,
    pub(crate) sheet: usize,
    /// How clear the film is along the normal, 0 to 1.
    pub(crate) profile: [f32; PROFILE],
}

/// What to choose.
pub(crate) struct Choice<'a> {
    /// The side of a photo pixel on the film, mm.
    pub(crate) pixel: f64,
    /// How far from any sheet's border, mm.
    pub(crate) margin: f64,
    /// At most so many on a sheet.
    pub(crate) per_sheet: usize,
    /// Which sheets to choose on.
    pub(crate) sheets: &'a [bool],
}

/// Samples are balanced over squares of this side, in mm, ...
const TILE: f64 = 25.0;
/// ... with at most so many of one of eight directions in each.
const PER_DIRECTION: usize = 12;

struct Candidate {
    sheet: usize,
    cell: (usize, usize),
    normal: Xy,
    direction: usize,
    /// Its place among its tile's candidates of the same direction.
    rank: usize,
    hash: u32,
}

/// Chooses samples, evenly over places and directions.
pub(crate) fn choose(film: &FilmLevel, layout: &Layout, choice: &Choice) -> Vec<Sample> {
    let per_tile = (TILE / film.mm).max(4.0) as usize;
    let (across, down) =
        (film.cover.width.div_ceil(per_tile), film.cover.height.div_ceil(per_tile));
    let tiles: Vec<Vec<Candidate>> = (0..across * down)
        .into_par_iter()
        .map(|t| {
            tile(film, layout, choice, (t % across) * per_tile, (t / across) * per_tile, per_tile)
        })
        .collect();
    let mut by_sheet: Vec<Vec<Candidate>> = layout.quads.iter().map(|_| Vec::new()).collect();
    for candidate in tiles.into_iter().flatten() {
        by_sheet[candidate.sheet].push(candidate);
    }
    let mut out = Vec::new();
    for mut candidates in by_sheet {
        candidates.sort_unstable_by_key(|c| (c.rank, c.hash, c.cell));
        candidates.truncate(choice.per_sheet);
        out.extend(candidates);
    }
    out.into_par_iter().map(|c| sample(film, layout, choice, &c)).collect()
}

fn tile(
    film: &FilmLevel,
    layout: &Layout,
    choice: &Choice,
    x0: usize,
    y0: usize,
    side: usize,
) -> Vec<Candidate> {
    let cover = &film.cover;
    // A third of the steepest slope that a lone edge can have.
    let steepest = 65535.0 / (2.5066 * (film.sigma * film.sigma + 1.0 / 12.0).sqrt()) * 2.0;
    let least = (0.35 * steepest) as f32;
    let mut found: [Vec<Candidate>; 8] = Default::default();
    for y in y0.max(2)..(y0 + side).min(cover.height.saturating_sub(2)) {
        for x in x0.max(2)..(x0 + side).min(cover.width.saturating_sub(2)) {
            let [gx, gy] = slope(cover, x, y);
            let steep = gx.hypot(gy);
            if steep < least {
                continue;
            }
            let (sx, sy) =
                ((gx / steep * 1.3).round() as isize, (gy / steep * 1.3).round() as isize);
            let beside = |k: isize| {
                let [a, b] =
                    slope(cover, x.saturating_add_signed(k * sx), y.saturating_add_signed(k * sy));
                a.hypot(b)
            };
            if beside(1) > steep || beside(-1) >= steep {
                continue;
            }
            let at = place(film, layout, (x, y));
            let Some(sheet) = layout.only_sheet(at, choice.margin) else {
                continue;
            };
            if !choice.sheets[sheet] {
                continue;
            }
            // Cover falls towards the clear side.
            let normal = [f64::from(-gx / steep), f64::from(-gy / steep)];
            let turn = normal[1].atan2(normal[0]) / std::f64::consts::TAU + 0.5;
            let direction = (turn * 8.0) as usize % 8;
            let hash = hash(x, y);
            found[direction].push(Candidate {
                sheet,
                cell: (x, y),
                normal,
                direction,
                rank: 0,
                hash,
            });
        }
    }
    let mut out = Vec::new();
    for mut candidates in found {
        candidates.sort_unstable_by_key(|c| (c.hash, c.cell));
        candidates.truncate(PER_DIRECTION);
        for (rank, candidate) in candidates.iter_mut().enumerate() {
            candidate.rank = rank;
            debug_assert!(candidate.direction < 8);
        }
        out.extend(candidates);
    }
    out
}

fn sample(film: &FilmLevel, layout: &Layout, choice: &Choice, candidate: &Candidate) -> Sample {
    let at = place(film, layout, candidate.cell);
    let normal = candidate.normal;
    let profile = std::array::from_fn(|k| {
        let s = (k as f64 - (REACH + SPARE) as f64) * choice.pixel / 2.0;
        1.0 - film.at(layout, [at[0] + normal[0] * s, at[1] + normal[1] * s])
    });
    Sample { at, normal, sheet: candidate.sheet, profile }
}

fn place(film: &FilmLevel, layout: &Layout, (x, y): (usize, usize)) -> Xy {
    [
        (x as f64 + 0.5) * film.mm - layout.size[0] / 2.0,
        (y as f64 + 0.5) * film.mm - layout.size[1] / 2.0,
    ]
}

fn slope(cover: &Grey, x: usize, y: usize) -> [f32; 2] {
    let (x, y) = (x.clamp(1, cover.width - 2), y.clamp(1, cover.height - 2));
    [cover.at(x + 1, y) - cover.at(x - 1, y), cover.at(x, y + 1) - cover.at(x, y - 1)]
}

/// Mixes a cell's place, so that a choice by it is spread evenly.
fn hash(x: usize, y: usize) -> u32 {
    let mut h = (x as u32).wrapping_mul(0x9E37_79B1) ^ (y as u32).wrapping_mul(0x85EB_CA77);
    h = (h ^ (h >> 15)).wrapping_mul(0x2C1B_3C6D);
    h = (h ^ (h >> 12)).wrapping_mul(0x297A_2D39);
    h ^ (h >> 15)
}
