//! A surface cut at another level without being fitted anew, for as long as a hand moves it.

use crate::Surface;
use crate::cut::Extent;
use crate::tones::Tones;
use std::ops::Range;
use std::sync::Arc;

/// How a level, a share of ink, becomes a number of a surface's grid.
#[derive(Clone, Copy)]
pub(crate) enum Ladder {
    /// The grid's numbers are shares of ink themselves.
    Shares,
    /// They are coverages, of light where that is what the picture averaged.
    Coverages { tones: Tones, linear_light: bool },
    /// They are coverages moved so that `half_way` lies at 1/2.
    Levelled { tones: Tones, half_way: f64 },
}

impl Ladder {
    /// The grid's number at a level.
    pub(crate) fn number(&self, level: f64) -> f64 {
        match *self {
            Self::Shares => level,
            Self::Coverages { tones, linear_light: false } => tones.place_of(level),
            Self::Coverages { tones, linear_light: true } => {
                1.0 - (1.0 - tones.place_of(level)).powf(2.2)
            }
            Self::Levelled { tones, half_way } => {
                let off = tones.place_of(level) - half_way;
                let room = if off < 0.0 { half_way } else { 1.0 - half_way };
                0.5 + STEEP * 0.5 * off / room
            }
        }
    }
}

/// How much faster than coverages the learned numbers rise across an edge: of the factors from
/// 0.3 to 4 tried on soft edges, the one whose cut was nearest to edges drawn anew.
const STEEP: f64 = 3.0;
/// How much more of the grid is taken than what is shown, in grid steps.
const RIM: f64 = 16.0;

impl Surface {
    /// A part of the film, from and to shares of its width and height, cut at another level.
    /// Nothing is fitted anew and no speck is cleaned anew: where the picture's levels are
    /// followed as they are the cut is the true one, and so it is for fitted edges as long as
    /// paper and ink are told apart alike at both levels; for learned edges it is near.
    pub fn recut(&self, level: f64, across: Range<f64>, down: Range<f64>) -> Self {
        let number = self.ladder.number(level);
        let whole = self.extent;
        let shown = Extent {
            x: whole.x + across.start * whole.width,
            y: whole.y + down.start * whole.height,
            width: (across.end - across.start) * whole.width,
            height: (down.end - down.start) * whole.height,
        };
        let taken = |from: f64, length: f64, count: usize| {
            let first = ((from - RIM).floor().max(0.0) as usize).min(count - 1);
            first..((from + length + RIM).ceil() as usize).clamp(first + 1, count)
        };
        let columns = taken(shown.x, shown.width, self.grid.columns);
        let rows = taken(shown.y, shown.height, self.grid.rows);
        let extent =
            Extent { x: shown.x - columns.start as f64, y: shown.y - rows.start as f64, ..shown };
        let mut report = self.report.clone();
        report.level = level;
        let grid = Arc::new(self.grid.lowered((number - self.number) as f32, columns, rows));
        Self { report, grid, extent, invert: self.invert, ladder: self.ladder, number }
    }
}

#[cfg(test)]
mod tests {
    use crate::{Cut, Edges, Picture, Settings, Source, surface};
    use bitmap::{Bitmap, Raster, Window, collect};
    use progress::Progress;

    /// A ring with soft edges, and a slope of tone beside it if wanted.
    fn picture(tonal: bool) -> Picture {
        let pixel = |i: u32| {
            let (x, y) = (f64::from(i % 120), f64::from(i / 120));
            let r = (x - 60.0).hypot(y - 50.0);
            let soft = ((r - 20.0) / 2.0).clamp(0.0, 1.0) * ((38.0 - r) / 2.0).clamp(0.0, 1.0);
            let wave = ((x / 7.0).sin() * (y / 5.0).cos() + 1.0) / 2.0;
            (255.0 * (1.0 - if tonal { wave } else { soft })) as u8
        };
        Picture::grey(120, 100, (0..120 * 100).map(pixel).collect::<Vec<_>>())
    }

    fn cut(tonal: bool, edges: Edges, level: f64) -> crate::Surface {
        let settings = Settings {
            cut: Cut::At(level),
            edges,
            source: Source::Clean,
            speck_px: 0.0,
            ..Settings::default()
        };
        surface(&picture(tonal), &settings, &Progress::none()).unwrap()
    }

    fn differing(a: &dyn Raster, b: &Bitmap) -> f64 {
        let a = collect(a);
        assert_eq!((a.width(), a.height()), (b.width(), b.height()));
        let off: u32 = a.words().iter().zip(b.words()).map(|(a, b)| (a ^ b).count_ones()).sum();
        f64::from(off) / f64::from(a.width() * a.height())
    }

    /// The recut part is that part of the film fitted at the moved level.
    #[test]
    fn a_part_recut_is_what_fitting_anew_gives() {
        for (tonal, edges) in [(true, Edges::Plain), (false, Edges::Plain), (false, Edges::Fitted)]
        {
            let (before, after) = (cut(tonal, edges, 0.5), cut(tonal, edges, 0.37));
            let film = after.raster(1200, 1000);
            let part = collect(&Window::new(&film, 240, 300, 600, 500));
            assert!(
                differing(&Window::new(&before.raster(1200, 1000), 240, 300, 600, 500), &part)
                    > 0.01
            );
            let recut = before.recut(0.37, 0.2..0.7, 0.3..0.8);
            let off = differing(&recut.raster(600, 500), &part);
            assert!(off < 1e-5, "{edges:?}, tonal {tonal}: {off}");
        }
    }

    #[test]
    fn a_film_smaller_than_its_picture_is_recut_as_well() {
        let (before, after) = (cut(true, Edges::Plain, 0.5), cut(true, Edges::Plain, 0.6));
        let whole = collect(&after.raster(60, 50));
        let off = differing(&before.recut(0.6, 0.0..1.0, 0.0..1.0).raster(60, 50), &whole);
        assert!(off < 1e-3, "{off}");
    }

    #[test]
    fn a_learned_edge_recut_is_near() {
        let settings =
            |level| Settings { cut: Cut::At(level), edges: Edges::Learned, ..Settings::default() };
        let seen = |level| surface(&picture(false), &settings(level), &Progress::none()).unwrap();
        let (before, after) = (seen(0.5), seen(0.4));
        let off = differing(
            &before.recut(0.4, 0.0..1.0, 0.0..1.0).raster(600, 500),
            &collect(&after.raster(600, 500)),
        );
        let stale = differing(&before.raster(600, 500), &collect(&after.raster(600, 500)));
        assert!(off < stale / 2.0 && off < 0.01, "{off}, where nothing moved {stale}");
    }
}
