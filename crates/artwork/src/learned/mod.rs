//! The learned edge: a small network that reads levelled shares of ink and gives cubic
//! B-spline coefficients on a grid twice as fine. `train/README.md` says how it was made, what
//! it is given and what its numbers mean; this is only the running of it.
//!
//! The bits are the same whatever the number of threads, the size of the tiles and the
//! processor: every sum is taken in one order, with fused multiply-adds throughout.

mod conv;
mod model;
mod need;
mod tile;

pub(crate) use model::Model;

use crate::ArtworkError;
use crate::plane::Plane;
use progress::Progress;
use rayon::prelude::*;
use tile::{Buffers, TILE};

/// Where a JPEG's grid of 8 x 8 pixels begins, as column and row from the picture's corner.
pub(crate) type JpegGrid = Option<[usize; 2]>;

/// A way to look at a picture. What comes out is turned and exchanged back; the mean of several
/// looks is a cleaner edge.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Look {
    /// Quarter turns anticlockwise.
    pub(crate) turns: u8,
    /// Whether ink and paper are exchanged.
    pub(crate) exchange: bool,
}

/// The coefficients of the edge through `share` (1 ink, 0 paper, after levelling): a plane of
/// twice the size, ink where the spline through it is positive. Number `j` lies at
/// `(j + 1/2) / 2` source pixels.
///
/// # Errors
/// Only when cancelled.
pub(crate) fn looked(
    model: &Model,
    share: &Plane,
    grid: JpegGrid,
    look: Look,
    progress: &Progress,
) -> Result<Plane, ArtworkError> {
    let (mut seen, mut place) = (share.clone(), grid);
    for _ in 0..look.turns {
        place = place.map(|[ox, oy]| [oy, (seen.width as i64 - ox as i64).rem_euclid(8) as usize]);
        seen = turned(&seen);
    }
    if look.exchange {
        seen.data.iter_mut().for_each(|s| *s = 1.0 - *s);
    }
    let mut found = one_pass(model, &seen, place, progress)?;
    for _ in 0..(4 - look.turns) % 4 {
        found = turned(&found);
    }
    if look.exchange {
        found.data.iter_mut().for_each(|u| *u = -*u);
    }
    Ok(found)
}

fn one_pass(
    model: &Model,
    share: &Plane,
    grid: JpegGrid,
    progress: &Progress,
) -> Result<Plane, ArtworkError> {
    let (across, down) = (share.width.div_ceil(TILE), share.height.div_ceil(TILE));
    let tiles: Vec<[usize; 2]> =
        (0..down).flat_map(|j| (0..across).map(move |i| [i * TILE, j * TILE])).collect();
    let done: Vec<tile::Done> = tiles
        .par_iter()
        .map_init(Buffers::default, |buffers, at| {
            progress.check()?;
            Ok(tile::run(model, share, grid, *at, buffers))
        })
        .collect::<Result<_, ArtworkError>>()?;
    let mut out = Plane::new(2 * share.width, 2 * share.height);
    for tile in &done {
        for (row, line) in tile.values.chunks_exact(tile.width).enumerate() {
            let at = (tile.y + row) * out.width + tile.x;
            out.data[at..at + tile.width].copy_from_slice(line);
        }
    }
    Ok(out)
}

/// A quarter turn anticlockwise: the right edge becomes the top.
fn turned(plane: &Plane) -> Plane {
    let mut out = Plane::new(plane.height, plane.width);
    for y in 0..out.height {
        for x in 0..out.width {
            out.data[y * out.width + x] = plane.data[x * plane.width + plane.width - 1 - y];
        }
    }
    out
}

#[cfg(test)]
mod tests;
