use crate::ink::{Ink, InkCounts};
use crate::legend::{self, Legend};
use crate::target::{self, Target};
use crate::tick::Tick;
use crate::trim::Trim;
use crate::{FilmSheet, PlanMark, PxRect};
use measure::{Length, Resolution};

/// What is drawn on a sheet besides the film's image.
pub(crate) struct SheetMarks {
    pub(crate) ticks: Vec<Tick>,
    pub(crate) trims: Vec<Trim>,
    pub(crate) targets: Vec<Target>,
    pub(crate) legends: Vec<PlacedLegend>,
}

/// A legend at its place.
pub(crate) struct PlacedLegend {
    pub(crate) legend: Legend,
    /// On the film's plane; outside the image where there is room on the page.
    pub(crate) place: PxRect,
    /// Whether it reads from the bottom up instead of from left to right.
    pub(crate) upward: bool,
    /// Whether there is ink under it, which must be cleared away first.
    pub(crate) over_ink: bool,
}

/// The most that all marks may take of the film.
const MOST: f64 = 0.008;

/// The least distance of two sheets' common strip for ticks to be of use.
const SEAM: Length = Length::mm(25.0);

/// Chooses a place for every mark of every sheet: ticks where two sheets overlap, the same
/// on both; name, arrow and ruler beside the image where the page has room, else where the
/// image is clear. `names` are what the sheets are called in large letters, where films are
/// several by the longest; `inks` says where each sheet has ink. For `targets` room is left in
/// what all marks may take of the film.
pub(crate) fn lay_marks(
    sheets: &[FilmSheet],
    names: &[String],
    inks: &[Ink],
    film: PxRect,
    resolution: Resolution,
    targets: bool,
) -> Vec<SheetMarks> {
    let counts: Vec<InkCounts> = inks.iter().map(Ink::counts).collect();
    let mut out: Vec<SheetMarks> = Vec::with_capacity(sheets.len());
    let (mut rooms, mut within) = (Vec::with_capacity(sheets.len()), 0);
    let budget = (MOST - if targets { target::MOST } else { 0.0 }) * film.area() as f64;
    for (n, sheet) in sheets.iter().enumerate() {
        let overlaps: Vec<PxRect> = sheets
            .iter()
            .filter(|other| other.name != sheet.name)
            .map(|other| sheet.image.intersect(other.image))
            .filter(|overlap| overlap.area() > 0)
            .collect();
        let room = Room { sheet, name: &names[n], ink: &counts[n], overlaps, resolution };
        let strip = room.strip();
        within += usize::from(strip.is_none());
        rooms.push(room);
        out.push(SheetMarks {
            ticks: Vec::new(),
            trims: Vec::new(),
            targets: Vec::new(),
            legends: strip.into_iter().collect(),
        });
    }
    for (marks, room) in out.iter_mut().zip(&rooms).filter(|(marks, _)| marks.legends.is_empty()) {
        marks.legends = room.blocks(budget * 0.6 / within as f64);
    }
    let over = |(marks, sheet): (&SheetMarks, &FilmSheet)| -> i64 {
        marks.legends.iter().map(|l| l.place.intersect(sheet.image).area()).sum()
    };
    let spent: i64 = out.iter().zip(sheets).map(over).sum();
    let pairs = pairs(sheets, resolution);
    let each = (budget - spent as f64) / (4 * pairs.len().max(1)) as f64;
    for (a, b) in pairs {
        let overlap = sheets[a].image.intersect(sheets[b].image);
        let taken: Vec<PxRect> = [a, b].iter().flat_map(|n| out[*n].places()).collect();
        let ink = |part| counts[a].count(part) + counts[b].count(part);
        for (first, second) in ticks(overlap, &taken, ink, each, resolution) {
            out[a].ticks.push(first);
            out[b].ticks.push(second);
        }
    }
    out
}

impl SheetMarks {
    /// Everything drawn over the film's image, for the plan.
    pub(crate) fn listed(&self, sheet: &FilmSheet) -> Vec<PlanMark> {
        let mut out = Vec::new();
        for tick in &self.ticks {
            out.extend(tick.boxes().map(|at| PlanMark::new(&sheet.name, "tick", at)));
        }
        for trim in &self.trims {
            out.extend(trim.boxes().map(|at| PlanMark::new(&sheet.name, "trim", at)));
        }
        for place in self.targets.iter().map(|target| target.place().intersect(sheet.image)) {
            if place.area() > 0 {
                out.push(PlanMark::new(&sheet.name, "target", place));
            }
        }
        for legend in &self.legends {
            let over = legend.place.intersect(sheet.image);
            if over.area() > 0 {
                out.push(PlanMark::new(&sheet.name, legend.legend.kind(), over));
            }
        }
        out
    }

    /// Its register targets, whole, for the plan.
    pub(crate) fn whole_targets(&self, sheet: &FilmSheet) -> Vec<PlanMark> {
        self.targets.iter().map(|t| PlanMark::new(&sheet.name, "target", t.place())).collect()
    }

    /// Where its ticks, targets and legends are.
    pub(crate) fn places(&self) -> Vec<PxRect> {
        let ticks = self.ticks.iter().map(Tick::place);
        let targets = self.targets.iter().map(Target::place);
        ticks.chain(targets).chain(self.legends.iter().map(|l| l.place)).collect()
    }
}

/// The pairs of sheets that share a strip long enough to be joined along.
fn pairs(sheets: &[FilmSheet], resolution: Resolution) -> Vec<(usize, usize)> {
    let long = resolution.whole_px(SEAM);
    let mut out = Vec::new();
    for a in 0..sheets.len() {
        for b in a + 1..sheets.len() {
            let PxRect { width, height, .. } = sheets[a].image.intersect(sheets[b].image);
            if width.min(height) > 0 && width.max(height) >= long {
                out.push((a, b));
            }
        }
    }
    out
}

/// Two ticks for an overlap, one towards each end: with a vernier where there is clear room
/// for one and `each` pixels allow it, else as a bare cross, over ink only where there is
/// no clear place at all.
fn ticks(
    overlap: PxRect,
    taken: &[PxRect],
    ink: impl Fn(PxRect) -> u32,
    each: f64,
    resolution: Resolution,
) -> Vec<(Tick, Tick)> {
    let mut taken = taken.to_vec();
    let mut out = Vec::new();
    for far in [false, true] {
        let mut found = None;
        for vernier in [true, false] {
            let sample = Tick::new(0, 0, vernier.then_some(0), resolution);
            if sample.boxes().map(PxRect::area).sum::<i64>() as f64 > each {
                continue;
            }
            found = place_tick(overlap, &sample, far, |at| {
                taken.iter().all(|t| t.intersect(at).area() == 0) && ink(at) == 0
            });
            found = found.map(|(x, y, _)| (x, y, vernier));
            if found.is_some() {
                break;
            }
        }
        // A thin cross cut out of the ink: the two lie on each other, and light passes
        // through both only where they meet.
        let found = found.or_else(|| {
            let sample = Tick::new(0, 0, None, resolution);
            place_tick(overlap, &sample, far, |at| {
                taken.iter().all(|t| t.intersect(at).area() == 0)
            })
        });
        if let Some((x, y, vernier)) = found {
            let pair = [0, 1].map(|side| Tick::new(x, y, vernier.then_some(side), resolution));
            taken.push(pair[0].place().grown(resolution.whole_px(Length::mm(1.0))));
            let [first, second] = pair;
            out.push((first, second));
        }
    }
    out
}

/// The first free place for a tick on its way from one end of the overlap to the middle.
fn place_tick(
    overlap: PxRect,
    sample: &Tick,
    far: bool,
    free: impl Fn(PxRect) -> bool,
) -> Option<(i64, i64, bool)> {
    let size = sample.place();
    let (half_x, half_y) = (size.width / 2 + 1, size.height / 2 + 1);
    let along_x = overlap.width >= overlap.height;
    let (long, short) =
        if along_x { (overlap.width, overlap.height) } else { (overlap.height, overlap.width) };
    let half = half_x.max(half_y);
    if short < 2 * half {
        return None;
    }
    let step = (half / 2).max(1);
    // From a tenth of the length on, so that ticks lie far apart but not on the corners,
    // where further sheets may meet; past the middle, the other end's tick takes over.
    let start = (long / 10).max(half);
    let slack = (short / 2 - half) / step;
    let mut at = start;
    while at <= (long / 2).max(start) && at + half <= long {
        for aside in (0..=slack).flat_map(|n| [n * step, -n * step]) {
            let (u, v) = (if far { long - at } else { at }, short / 2 + aside);
            let (x, y) = if along_x {
                (overlap.x + u, overlap.y + v)
            } else {
                (overlap.x + v, overlap.y + u)
            };
            if free(size.moved(x, y).grown(1)) {
                return Some((x, y, false));
            }
        }
        at += step;
    }
    None
}

/// Looks for places for one sheet's legends.
struct Room<'a> {
    sheet: &'a FilmSheet,
    name: &'a str,
    ink: &'a InkCounts,
    overlaps: Vec<PxRect>,
    resolution: Resolution,
}

impl Room<'_> {
    /// The legends as small blocks in the image, which take about `share` pixels at most.
    fn blocks(&self, share: f64) -> Vec<PlacedLegend> {
        let mut out: Vec<PlacedLegend> = Vec::new();
        let full: f64 = [Legend::Name, Legend::Ruler]
            .map(|l| l.size(self.name))
            .iter()
            .map(|s| self.resolution.px(s.width) * self.resolution.px(s.height))
            .sum();
        let scale = (share / full).sqrt().clamp(legend::SMALLEST, 1.0);
        // On a sheet so small that even the smallest ruler would take too much of the film,
        // the name goes alone.
        let legends = if scale * scale * full <= share * 1.001 {
            &[Legend::Name, Legend::Ruler][..]
        } else {
            &[Legend::Name]
        };
        for &legend in legends {
            let taken: Vec<PxRect> = out.iter().map(|l| l.place).collect();
            out.extend(self.block(legend, scale, &taken));
        }
        out
    }

    /// The strip beside the image that has most room, if any has enough.
    fn strip(&self) -> Option<PlacedLegend> {
        let (reach, image) = (self.sheet.reach(), self.sheet.image);
        let gap = self.resolution.whole_px(Length::mm(1.5));
        let strips = [
            PxRect::between(reach.x, image.bottom() + gap, reach.right(), reach.bottom()),
            PxRect::between(reach.x, reach.y, reach.right(), image.y - gap),
            PxRect::between(image.right() + gap, reach.y, reach.right(), reach.bottom()),
            PxRect::between(reach.x, reach.y, image.x - gap, reach.bottom()),
        ];
        let size = Legend::Strip.size(self.name);
        let thick = |r: &PxRect| r.width.min(r.height);
        let best = strips.into_iter().rev().max_by_key(thick)?;
        let upward = best.width < best.height;
        let full = self.resolution.px(size.height) * legend::LARGEST;
        let least = self.resolution.px(size.height) * legend::SMALLEST;
        let enough = thick(&best) as f64 >= least
            && best.width.max(best.height) as f64
                >= self.resolution.px(size.width) * legend::SMALLEST;
        // Against the image, and no thicker than it must be.
        let deep = (thick(&best)).min(full as i64);
        let place = match (upward, best.x >= image.right(), best.y >= image.bottom()) {
            (true, true, _) => PxRect { width: deep, ..best },
            (true, false, _) => PxRect { x: best.right() - deep, width: deep, ..best },
            (false, _, true) => PxRect { height: deep, ..best },
            (false, _, false) => PxRect { y: best.bottom() - deep, height: deep, ..best },
        };
        enough.then_some(PlacedLegend { legend: Legend::Strip, place, upward, over_ink: false })
    }

    /// A place in the image for a block: as clear of ink and of other sheets as can be.
    fn block(&self, legend: Legend, scale: f64, taken: &[PxRect]) -> Option<PlacedLegend> {
        let size = legend.size(self.name);
        let px = |length: Length| (self.resolution.px(length) * scale).ceil() as i64;
        let (long, short) = (px(size.width), px(size.height));
        let ways = [(long, short, false), (short, long, true)];
        let away =
            |at: PxRect, gap: i64| taken.iter().all(|t| t.intersect(at.grown(gap)).area() == 0);
        let place = |(at, upward), over_ink| PlacedLegend { legend, place: at, upward, over_ink };
        let gap = self.resolution.whole_px(Length::mm(1.0));
        // Far from ink first, and where no other sheet lies over it.
        for (clearance, shared) in
            [(12.0, false), (6.0, false), (3.0, false), (3.0, true), (1.0, false), (1.0, true)]
        {
            let clearance = self.resolution.whole_px(Length::mm(clearance));
            let found = self.first(&ways, |at| {
                self.ink.count(at.grown(clearance)) == 0
                    && away(at, gap)
                    && (shared || self.overlaps.iter().all(|o| o.intersect(at).area() == 0))
            });
            if let Some(found) = found {
                return Some(place(found, false));
            }
        }
        // No clear place: under another sheet, whose ink lies over the gap, else anywhere.
        for shared in [true, false] {
            let found = self.first(&ways, |at| {
                away(at, gap) && (!shared || self.overlaps.iter().any(|o| o.holds(at)))
            });
            if let Some(found) = found {
                return Some(place(found, true));
            }
        }
        None
    }

    /// The place that will do nearest to the image's edge and, along it, to its bottom-left
    /// corner: there the next hand finds it, and tape over it on the screen harms nothing.
    fn first(
        &self,
        ways: &[(i64, i64, bool)],
        will_do: impl Fn(PxRect) -> bool,
    ) -> Option<(PxRect, bool)> {
        let edge = self.resolution.whole_px(Length::mm(1.0));
        let image = self.sheet.image.grown(-edge);
        let step = self.resolution.whole_px(Length::mm(1.5)).max(1);
        let mut best: Option<(i64, PxRect, bool)> = None;
        for &(width, height, upward) in ways {
            let (across, down) = (image.width - width, image.height - height);
            for right in (0..across.max(-1) + 1).step_by(step as usize) {
                for up in (0..down.max(-1) + 1).step_by(step as usize) {
                    let inward = right.min(up).min(across - right).min(down - up);
                    let far = 40 * inward + right + up;
                    if best.is_some_and(|(least, ..)| far >= least) {
                        continue;
                    }
                    let (x, y) = (image.x + right, image.bottom() - height - up);
                    let at = PxRect::new(x, y, width, height);
                    if will_do(at) {
                        best = Some((far, at, upward));
                    }
                }
            }
        }
        best.map(|(_, at, upward)| (at, upward))
    }
}
