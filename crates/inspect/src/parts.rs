//! Parts of the film that may lie in the photo while others do not.

use crate::camera::Xy;
use crate::correlation::Sums;
use crate::layout::Layout;

/// Films of more sheets than this are searched in as many parts.
pub(crate) const MOST: usize = 9;
/// The parts' map has so many cells along the film's longer side.
const CELLS: f64 = 256.0;

/// Which part of the film a place belongs to: all to one, or each to that of its sheet.
pub(crate) struct Parts {
    /// Each sheet's part.
    pub(crate) sheets: Vec<usize>,
    map: Vec<u8>,
    width: usize,
    /// The side of a cell and the film's middle, mm.
    mm: f64,
    middle: Xy,
}

impl Parts {
    /// The film as one.
    pub(crate) fn whole(layout: &Layout) -> Self {
        let middle = layout.size.map(|v| v / 2.0);
        let mm = 2.0 * layout.size[0].max(layout.size[1]);
        Self { sheets: vec![0; layout.quads.len()], map: vec![0], width: 1, mm, middle }
    }

    /// Each sheet apart, or a few neighbours where there are many.
    pub(crate) fn sheets(layout: &Layout) -> Self {
        let each = layout.quads.len().div_ceil(MOST);
        let sheets: Vec<usize> = (0..layout.quads.len()).map(|s| s / each).collect();
        let mm = layout.size[0].max(layout.size[1]) / CELLS;
        let [width, height] = layout.size.map(|v| (v / mm).ceil() as usize);
        let middle = layout.size.map(|v| v / 2.0);
        let part = |i: usize| {
            let at = [(i % width) as f64, (i / width) as f64];
            let at: Xy = std::array::from_fn(|k| (at[k] + 0.5) * mm - middle[k]);
            let depths = layout.quads.iter().map(|q| q.depth(at)).enumerate();
            let deepest = depths.max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |(s, _)| s);
            sheets[deepest] as u8
        };
        let map = (0..width * height).map(part).collect();
        Self { sheets, map, width, mm, middle }
    }

    pub(crate) fn count(&self) -> usize {
        self.sheets.iter().max().map_or(1, |most| most + 1)
    }

    /// The part of a place on the film.
    pub(crate) fn at(&self, place: Xy) -> usize {
        let [x, y] = [0, 1].map(|k| ((place[k] + self.middle[k]) / self.mm).max(0.0) as usize);
        let last = self.map.len() / self.width - 1;
        usize::from(self.map[y.min(last) * self.width + x.min(self.width - 1)])
    }

    /// Whether a place is on a part whose sheets are taken.
    pub(crate) fn taken(&self, sheets: &[bool]) -> impl Fn(Xy) -> bool + Sync + '_ {
        let mut parts = vec![false; self.count()];
        self.sheets.iter().zip(sheets).for_each(|(part, taken)| parts[*part] |= taken);
        move |place| parts[self.at(place)]
    }

    /// How plainly the film correlates with the photo, up to half of its parts left out if it does
    /// so more plainly without them, and which are taken: Fisher's transform of the correlation
    /// (1915) by the root of the share that is taken.
    pub(crate) fn plainest(parts: &[Sums]) -> Option<(f64, [bool; MOST])> {
        let mut sums = Sums::default();
        parts.iter().for_each(|own| sums.add(own));
        let all = sums.count;
        let plain = |s: &Sums| Some(s.correlation()?.min(0.9999).atanh() * (s.count / all).sqrt());
        let mut best = plain(&sums)?;
        let mut taken = [true; MOST];
        // Half a film that is right is more like the photo than it is unlike.
        let most = if best > 0.0 { parts.len() / 2 } else { 0 };
        for _ in 0..most {
            let mut further: Option<(f64, usize, Sums)> = None;
            for (i, own) in parts.iter().enumerate().filter(|(i, _)| taken[*i]) {
                let mut less = sums;
                less.leave(own);
                if let Some(score) = plain(&less).filter(|s| *s > best) {
                    best = score;
                    further = Some((score, i, less));
                }
            }
            let Some((_, i, less)) = further else { break };
            taken[i] = false;
            sums = less;
        }
        Some((best, taken))
    }
}
