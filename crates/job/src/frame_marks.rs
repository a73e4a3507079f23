//! Marks outside the print by which every screen's film is laid to its frame.

use crate::{JobError, LIMITS};
use bitmap::{Bitmap, Raster};
use film::PxRect;
use measure::{Length, Point, Rect, Resolution, Size, Unit, parse_length};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Pin marks and tape marks, at the same places of every screen's film.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct FrameMarks {
    /// Where holes are punched for the register pins on the frame's edge: how far right of the
    /// artwork's middle, and how far above its top edge.
    pub pins: Vec<Point>,
    /// Corner marks to which the film is taped on the frame, so far outside the artwork's
    /// corners; none prints none.
    pub tape: Option<Length>,
}

/// A mark in print pixels, which count from the artwork's top-left corner.
pub(crate) struct Placed {
    pub(crate) at: PxRect,
    bits: Bitmap,
}

/// A pin's hole: a quarter of an inch is a usual round pin (common practice, no source).
const HOLE: Length = Length::inches(0.25);
/// A line thick enough to be seen through film and mesh.
const THICK: Length = Length::mm(0.5);
/// An arm of a tape mark.
const ARM: Length = Length::mm(15.0);
/// The most pins that a frame has.
const MOST_PINS: usize = 12;

impl FrameMarks {
    /// Whether there are none.
    pub fn is_none(&self) -> bool {
        self.pins.is_empty() && self.tape.is_none()
    }

    /// Pins from words such as `-8in,1in; 8in,1in`: each how far right of the artwork's middle
    /// and how far above its top edge; bare numbers are in `unit`.
    ///
    /// # Errors
    /// What is wrong with the words.
    pub fn pins_from(text: &str, unit: Option<Unit>) -> Result<Vec<Point>, String> {
        let one = |pin: &str| {
            let (right, up) = pin
                .split_once(',')
                .ok_or_else(|| format!("\"{}\" is no pin such as -8in,1in", pin.trim()))?;
            let length = |text: &str| parse_length(text.trim(), unit).map_err(|e| e.to_string());
            Ok(Point::new(length(right)?, length(up)?))
        };
        text.split(';').filter(|pin| !pin.trim().is_empty()).map(one).collect()
    }

    /// The words that [`FrameMarks::pins_from`] reads.
    pub fn pins_shown(&self, unit: Unit) -> String {
        let one = |pin: &Point| format!("{}, {}", pin.x.show(unit), pin.y.show(unit));
        self.pins.iter().map(one).collect::<Vec<_>>().join("; ")
    }

    /// Where the marks lie about a print of this many pixels, from its top-left corner.
    pub fn places(&self, resolution: Resolution, print: (u32, u32)) -> Vec<Rect> {
        let length = |px: i64| resolution.length(px as f64);
        let rect = |PxRect { x, y, width, height }| {
            let size = Size::new(length(width), length(height));
            Rect::new(Point::new(length(x), length(y)), size)
        };
        self.placed(resolution, print).iter().map(|mark| rect(mark.at)).collect()
    }

    pub(crate) fn check(&self, unit: Unit) -> Result<(), JobError> {
        let bad =
            |what, given: String, range: String| Err(JobError::BadNumber { what, given, range });
        let most = LIMITS.reach;
        let far = |l: Length| !l.is_finite() || l.abs() > most;
        if self.pins.len() > MOST_PINS {
            let range = format!("at most {MOST_PINS} pins");
            return bad("the pin marks", format!("{} pins", self.pins.len()), range);
        }
        let least = HOLE / 2.0 + THICK * 4.0;
        for pin in &self.pins {
            if far(pin.x) || far(pin.y) || pin.y < least {
                let range = format!("pins at least {} above the artwork", least.show(unit));
                let given = format!("{}, {}", pin.x.show(unit), pin.y.show(unit));
                return bad("a pin mark", given, range);
            }
        }
        match self.tape {
            Some(tape) if far(tape) || tape < THICK => {
                let range = format!("a length from {} to {}", THICK.show(unit), most.show(unit));
                bad("the tape marks", tape.show(unit), range)
            }
            _ => Ok(()),
        }
    }

    /// Every mark about a print of this many pixels.
    pub(crate) fn placed(&self, resolution: Resolution, print: (u32, u32)) -> Vec<Placed> {
        let px = |length: Length| resolution.whole_px(length);
        let (width, height) = (i64::from(print.0), i64::from(print.1));
        let thick = px(THICK).max(2);
        let mut out = Vec::new();
        let radius = px(HOLE / 2.0).max(3);
        for pin in &self.pins {
            // A ring as wide as the hole, and a cross through it that reaches a little past.
            let arm = radius + 2 * thick;
            let (x, y) = (width / 2 + px(pin.x), -px(pin.y));
            let side = (2 * arm + 1) as u32;
            let bits = Bitmap::from_fn(side, side, |u, v| {
                let (u, v) = (i64::from(u) - arm, i64::from(v) - arm);
                let far = (u as f64).hypot(v as f64);
                let line = |v: i64| (-(thick / 2)..thick - thick / 2).contains(&v);
                (far - radius as f64).abs() <= thick as f64 / 2.0 || line(u) || line(v)
            });
            out.push(Placed { at: PxRect::new(x - arm, y - arm, side.into(), side.into()), bits });
        }
        let (away, arm) = (self.tape.map(px), px(ARM));
        for away in away.into_iter() {
            // An angle at each corner, its arms along the artwork's sides and thick outward.
            let long = arm.min(width.min(height) + 2 * away).max(2 * thick);
            for (right, low) in [(false, false), (true, false), (false, true), (true, true)] {
                let x = if right { width + away + thick - long } else { -away - thick };
                let y = if low { height + away + thick - long } else { -away - thick };
                let bits = Bitmap::from_fn(long as u32, long as u32, |u, v| {
                    let edge = |n: u32, far: bool| {
                        if far { i64::from(n) >= long - thick } else { i64::from(n) < thick }
                    };
                    edge(u, right) || edge(v, low)
                });
                out.push(Placed { at: PxRect::new(x, y, long, long), bits });
            }
        }
        out
    }

    /// The film's pixels in the print's frame: the print, and what room the marks take.
    pub(crate) fn bounds(&self, resolution: Resolution, print: (u32, u32)) -> PxRect {
        let gap = resolution.whole_px(THICK * 4.0);
        let whole = PxRect::new(0, 0, print.0.into(), print.1.into());
        self.placed(resolution, print).iter().fold(whole, |all, mark| {
            let at = mark.at.grown(gap);
            PxRect::between(
                all.x.min(at.x),
                all.y.min(at.y),
                all.right().max(at.right()),
                all.bottom().max(at.bottom()),
            )
        })
    }

    /// A print with its marks about it; the print itself where there are none.
    pub(crate) fn about(
        &self,
        print: Arc<dyn Raster + Send + Sync>,
        resolution: Resolution,
    ) -> Arc<dyn Raster + Send + Sync> {
        if self.is_none() {
            return print;
        }
        let size = (print.width(), print.height());
        let bounds = self.bounds(resolution, size);
        Arc::new(Framed { marks: self.placed(resolution, size), bounds, print })
    }
}

/// A print with marks outside it.
struct Framed {
    print: Arc<dyn Raster + Send + Sync>,
    /// In print pixels.
    bounds: PxRect,
    marks: Vec<Placed>,
}

impl Raster for Framed {
    fn width(&self) -> u32 {
        self.bounds.width as u32
    }
    fn height(&self) -> u32 {
        self.bounds.height as u32
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let mut row = Bitmap::new(x1 - x0, 1);
        let mut changes = Vec::new();
        // The row in the print's frame.
        let seen = PxRect::new(
            self.bounds.x + i64::from(x0),
            self.bounds.y + i64::from(y),
            i64::from(x1 - x0),
            1,
        );
        let print = PxRect::new(0, 0, self.print.width().into(), self.print.height().into());
        let pictures = std::iter::once((print, &*self.print as &dyn Raster));
        let marks = self.marks.iter().map(|mark| (mark.at, &mark.bits as &dyn Raster));
        for (at, picture) in pictures.chain(marks) {
            let part = at.intersect(seen);
            if part.area() == 0 {
                continue;
            }
            changes.clear();
            let (from, to) = ((part.x - at.x) as u32, (part.right() - at.x) as u32);
            picture.changes((part.y - at.y) as u32, from, to, &mut changes);
            let aside = (part.x - seen.x) as u32;
            for run in bitmap::runs(&changes, to - from) {
                row.fill(aside + run.start, aside + run.end, 0);
            }
        }
        row.changes_of_row(0, 0, x1 - x0, out);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Edit, Job, PictureFile, Plans, Separation, build, check, file};
    use progress::Progress;
    use std::path::Path;

    /// A red bar at the top and a blue bar at the bottom, 12 x 12 in at 50 ppi.
    fn job() -> Job {
        let picture = image::RgbImage::from_fn(60, 60, |x, y| {
            image::Rgb(match (x, y) {
                (5..55, 5..10) => [220, 30, 40],
                (5..55, 50..55) => [30, 40, 200],
                _ => [255, 255, 255],
            })
        });
        let mut png = std::io::Cursor::new(Vec::new());
        picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
        Job {
            picture: Some(PictureFile { name: "bars.png".into(), bytes: png.into_inner().into() }),
            width: Length::inches(12.0),
            resolution: Resolution::ppi(50.0),
            ..Job::default()
        }
    }

    fn marked(job: &Job) -> Job {
        let pins = FrameMarks::pins_from("-5in,1in; 5in, 1in", None).unwrap();
        let marks = FrameMarks { pins, tape: Some(Length::inches(0.5)) };
        job.apply(Edit::FrameMarks(marks)).unwrap()
    }

    #[test]
    fn every_screens_film_has_the_same_marks_and_the_print_at_the_same_place() {
        let several = |plans| {
            let inks = Separation { plans, ..Separation::default() };
            marked(&job()).apply(Edit::Inks(Some(inks))).unwrap()
        };
        for (job, films) in
            [(marked(&job()), 1), (several(Plans::Shared), 2), (several(Plans::Own), 2)]
        {
            let dir = tempfile::tempdir().unwrap();
            let done = build::export(&job, dir.path(), &Progress::none()).unwrap();
            assert_eq!(done.films.len(), films);
            assert!(!done.unregistered, "the marks register the films");
            let proofs = check::proof(dir.path(), &Progress::none()).unwrap();
            assert!(proofs.iter().all(|(_, proof)| proof.good()), "{proofs:?}");
            let mut seen = Vec::new();
            for path in &done.films {
                let name = path.file_name().unwrap().to_str();
                let read = film::read_film(dir.path(), name, &Progress::none()).unwrap();
                let (plan, film) = (read.plan, read.drawing);
                let print = plan.print.unwrap();
                assert_eq!((print.width_px, print.height_px), (600, 600));
                // The crosses' middles: five inches aside, one above, at 50 pixels an inch.
                let (middle, top) = (print.x_px + 300, print.y_px);
                for x in [middle - 250, middle + 250] {
                    let y = top - 50;
                    let ink = |x: i64, y: i64| film.get(x as u32, y as u32);
                    assert!(ink(x, y) && ink(x - 6, y) && ink(x + 6, y) && ink(x, y - 6));
                    // Inside the hole's ring, off the cross, it is open; outside it too.
                    assert!(!ink(x + 3, y + 3) && !ink(x + 9, y + 9));
                }
                // A tape mark's arm runs along the artwork's side, half an inch outside it.
                let (x, y) = (print.x_px - 25 - 1, print.y_px - 25 - 1);
                assert!((0..25).all(|i| film.get((x + i) as u32, y as u32)));
                assert!((0..25).all(|i| film.get(x as u32, (y + i) as u32)));
                let outside = Bitmap::from_fn(film.width(), film.height(), |x, y| {
                    let inside = (print.x_px..print.x_px + 600).contains(&x.into())
                        && (print.y_px..print.y_px + 600).contains(&y.into());
                    !inside && film.get(x, y)
                });
                assert!(outside.count() > 100);
                seen.push((print, outside));
            }
            assert!(seen.windows(2).all(|pair| pair[0] == pair[1]), "films differ in their marks");
        }
    }

    /// The print itself is what it is without marks, and the job is kept.
    #[test]
    fn marks_leave_the_print_as_it_is() {
        let (plain, marked) = (job(), marked(&job()));
        let saved = file::to_bytes(&marked).unwrap();
        assert_eq!(file::from_bytes(&saved, Path::new("x.quilt")).unwrap(), marked);
        let film = |job: &Job| {
            let picture = build::picture(job).unwrap();
            let surface = build::surface(job, &picture, &Progress::none()).unwrap();
            build::film(job, &picture, &surface, &Progress::none()).unwrap().raster
        };
        let (before, print) = (film(&plain), film(&marked));
        let size = (print.width(), print.height());
        let bounds = marked.frame_marks.bounds(marked.resolution, size);
        let framed = marked.frame_marks.about(print, marked.resolution);
        let cut = bitmap::Window::new(&*framed, -bounds.x, -bounds.y, size.0, size.1);
        assert_eq!(bitmap::collect(&cut), bitmap::collect(&*before));
    }

    #[test]
    fn marks_on_the_artwork_and_nonsense_are_refused() {
        for (pins, tape) in [
            ("0in, -1in", None),
            ("0in, 0in", None),
            ("900in, 1in", None),
            (
                "0in,1in;0in,1in;0in,1in;0in,1in;0in,1in;0in,1in;0in,1in;0in,1in;0in,1in;0in,1in;0in,1in;0in,1in;0in,1in",
                None,
            ),
            ("", Some(Length::mm(-1.0))),
            ("", Some(Length::mm(f64::NAN))),
        ] {
            let pins = FrameMarks::pins_from(pins, None).unwrap();
            let error = Job::default().apply(Edit::FrameMarks(FrameMarks { pins, tape }));
            assert!(!error.unwrap_err().hint().is_empty());
        }
        assert!(FrameMarks::pins_from("8in", None).is_err());
        let pins = FrameMarks::pins_from("-8in, 1in; 200mm, 30mm", Some(Unit::Mm)).unwrap();
        let marks = FrameMarks { pins, tape: None };
        let again = FrameMarks::pins_from(&marks.pins_shown(Unit::Mm), Some(Unit::Mm)).unwrap();
        assert_eq!(again, marks.pins);
    }
}
