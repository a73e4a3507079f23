use crate::ink::InkCounts;
use crate::{FilmSheet, PxRect};
use bitmap::Bitmap;
use measure::{Length, Resolution};

/// A register target: crossed hairlines in a ring, at one place of the print on every
/// screen's film, by which screens are set to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Target {
    /// Where the hairlines cross, in film pixels.
    x: i64,
    y: i64,
    arm: i64,
    thick: i64,
}

/// Thick enough for the screen to hold, so that it prints and shows how screens stand
/// (common practice, no source).
const THICK: Length = Length::mm(0.3);
/// From the middle to a hairline's end: the largest that fits is taken.
const ARMS: [Length; 3] = [Length::mm(5.0), Length::mm(3.5), Length::mm(2.5)];
/// Kept clear of ink about a target.
const CLEARANCE: Length = Length::mm(2.0);
/// The most that targets may take of the film.
pub(crate) const MOST: f64 = 0.0025;

/// Films that share their sheets, as far as targets need to know them.
pub(crate) struct Layer<'a> {
    pub(crate) sheets: &'a [FilmSheet],
    /// Where each sheet has ink of any of the films.
    pub(crate) inks: &'a [InkCounts],
    /// Where each sheet has other marks.
    pub(crate) taken: &'a [Vec<PxRect>],
}

/// A target for each corner of the film, as near to it as a place clear of all ink and marks
/// is, on one sheet only of each layer: beside the print, or where the print leaves room. With
/// each come the numbers of its sheets, one for each layer.
pub(crate) fn lay_targets(
    layers: &[Layer],
    film: PxRect,
    resolution: Resolution,
) -> Vec<(Vec<usize>, Target)> {
    let each = MOST * film.area() as f64 / 4.0;
    for arm in ARMS {
        let sample = Target::new(0, 0, arm, resolution);
        if arm != ARMS[2] && sample.place().area() as f64 > each {
            continue;
        }
        let search = Search { layers, film, resolution, each };
        let found = search.corners(sample);
        // Two are what it takes to set one film to another.
        if found.len() > 1 {
            return found;
        }
    }
    Vec::new()
}

struct Search<'a> {
    layers: &'a [Layer<'a>],
    film: PxRect,
    resolution: Resolution,
    each: f64,
}

impl Search<'_> {
    fn corners(&self, sample: Target) -> Vec<(Vec<usize>, Target)> {
        let images = self.layers.iter().flat_map(|layer| layer.sheets).map(|sheet| sheet.image);
        let Some(all) = images.reduce(|a, b| {
            PxRect::between(
                a.x.min(b.x),
                a.y.min(b.y),
                a.right().max(b.right()),
                a.bottom().max(b.bottom()),
            )
        }) else {
            return Vec::new();
        };
        let corners = [
            (all.x, all.y),
            (all.right(), all.bottom()),
            (all.right(), all.y),
            (all.x, all.bottom()),
        ];
        let apart = (all.width as f64).hypot(all.height as f64) / 5.0;
        let mut out: Vec<(Vec<usize>, Target)> = Vec::new();
        for corner in corners {
            let far = |t: &Target| {
                out.iter().all(|(_, o)| ((o.x - t.x) as f64).hypot((o.y - t.y) as f64) >= apart)
            };
            out.extend(self.nearest(sample, corner, far));
        }
        out
    }

    /// The place that will do nearest to a corner.
    fn nearest(
        &self,
        sample: Target,
        corner: (i64, i64),
        far: impl Fn(&Target) -> bool,
    ) -> Option<(Vec<usize>, Target)> {
        let step = self.resolution.whole_px(Length::mm(1.5)).max(1) as usize;
        let mut best: Option<(i64, Vec<usize>, Target)> = None;
        // Whatever lies on a sheet of every layer lies on one of the first's.
        let first = self.layers.first().map_or(&[][..], |layer| layer.sheets);
        for sheet in first {
            let room = around(sheet.reach(), sheet.image).grown(-sample.arm - 1);
            for y in (room.y..room.bottom()).step_by(step) {
                for x in (room.x..room.right()).step_by(step) {
                    let away = (x - corner.0).pow(2) + (y - corner.1).pow(2);
                    let at = Target { x, y, ..sample };
                    let nearer = best.as_ref().is_none_or(|(least, ..)| away < *least);
                    if nearer
                        && far(&at)
                        && let Some(on) = self.free(&at)
                    {
                        best = Some((away, on, at));
                    }
                }
            }
        }
        best.map(|(_, on, at)| (on, at))
    }

    /// The sheet of each layer that a target has room on.
    fn free(&self, target: &Target) -> Option<Vec<usize>> {
        let small = target.place().intersect(self.film).area() as f64 <= self.each;
        if !small {
            return None;
        }
        let on = |layer: &Layer| (0..layer.sheets.len()).find(|n| self.has_room(layer, *n, target));
        self.layers.iter().map(on).collect()
    }

    fn has_room(&self, layer: &Layer, n: usize, target: &Target) -> bool {
        let px = |length| self.resolution.whole_px(length);
        let (place, wide) = (target.place(), target.place().grown(px(CLEARANCE)));
        let sheet = &layer.sheets[n];
        let room = around(sheet.reach(), sheet.image).grown(-1);
        let mut others = layer.sheets.iter().enumerate().filter(|(m, _)| *m != n);
        // Beside the print the paper of no other sheet's image may lie there either.
        room.holds(place)
            && layer.inks[n].count(wide) == 0
            && layer.taken[n].iter().all(|t| t.intersect(wide).area() == 0)
            && others.all(|(_, other)| other.image.intersect(wide).area() == 0)
    }
}

/// The smallest rectangle that holds both.
fn around(a: PxRect, b: PxRect) -> PxRect {
    PxRect::between(
        a.x.min(b.x),
        a.y.min(b.y),
        a.right().max(b.right()),
        a.bottom().max(b.bottom()),
    )
}

impl Target {
    fn new(x: i64, y: i64, arm: Length, resolution: Resolution) -> Self {
        let (arm, thick) = (resolution.whole_px(arm).max(4), resolution.whole_px(THICK).max(1));
        Self { x, y, arm, thick }
    }

    /// The box around all of it.
    pub(crate) fn place(&self) -> PxRect {
        PxRect::new(self.x - self.arm, self.y - self.arm, 2 * self.arm + 1, 2 * self.arm + 1)
    }

    /// Its pixels, within [`Target::place`].
    pub(crate) fn drawn(&self) -> Bitmap {
        let side = (2 * self.arm + 1) as u32;
        let ring = 0.6 * self.arm as f64;
        let half = self.thick as f64 / 2.0;
        Bitmap::from_fn(side, side, |x, y| {
            let (x, y) = (i64::from(x) - self.arm, i64::from(y) - self.arm);
            let line = |v: i64| (-(self.thick / 2)..self.thick - self.thick / 2).contains(&v);
            line(x) || line(y) || ((x as f64).hypot(y as f64) - ring).abs() < half
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::Ink;
    use measure::Size;

    /// One sheet of a film with ink all over but for its left edge: targets keep to the
    /// edge, and to the page's room at its right.
    #[test]
    fn targets_keep_off_ink_and_apart() {
        let resolution = Resolution::ppi(100.0);
        let sheet = FilmSheet {
            name: "A1".into(),
            image: PxRect::new(0, 0, 900, 1000),
            turned: false,
            page: Size::new(Length::inches(11.0), Length::inches(11.0)),
            printable: PxRect::new(10, 10, 1080, 1080),
            image_x: 10,
            image_y: 10,
        };
        let mut ink = Ink::new(sheet.image, 6);
        (0..1000).for_each(|y| ink.add_row(y, &[100, 900]));
        let film = PxRect::new(0, 0, 900, 1000);
        let (sheets, inks, taken) = ([sheet.clone()], [ink.counts()], [Vec::new()]);
        let layer = Layer { sheets: &sheets, inks: &inks, taken: &taken };
        let found = lay_targets(&[layer], film, resolution);
        assert_eq!(found.len(), 4);
        for (_, target) in &found {
            let at = target.place();
            assert!(at.intersect(PxRect::new(100, 0, 800, 1000)).area() == 0, "{at:?}");
            assert!(sheet.reach().holds(at), "{at:?}");
            let drawn = target.drawn();
            let middle = drawn.width() / 2;
            assert!((0..drawn.width()).all(|i| drawn.get(i, middle) && drawn.get(middle, i)));
        }
        assert!(found.iter().any(|(_, t)| t.place().x > 900), "the page's room is used");
    }
}
