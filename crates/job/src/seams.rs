use crate::build::Film;
use bitmap::{Bitmap, Raster};
use film::FilmSheet;
use measure::{Length, Point, Rect, Resolution, Size};
use progress::{Cancelled, Progress};
use serde::{Deserialize, Serialize};
use sheets::{InkWindow, SeamSettings, Seams};

/// A seam whose nodes the printer moved.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HandSeam {
    /// The names of the two sheets.
    pub between: [String; 2],
    /// Which of the seams between them, as [`Seams::strip`] counts.
    #[serde(default)]
    pub strip: usize,
    /// The cut on the film.
    pub points: Vec<Point>,
}

/// The seams of a film's pages, with those the printer moved as they left them.
pub(crate) fn find(
    film: &Film,
    pages: &[FilmSheet],
    overlap: Length,
    settings: &SeamSettings,
    moved: &[HandSeam],
    progress: &Progress,
) -> Result<Seams, Cancelled> {
    let rects: Vec<Rect> = pages.iter().map(|page| rect(page, film.resolution)).collect();
    // A seam of several screens is judged by the film of each.
    let alone = std::slice::from_ref(&film.raster);
    let films = if film.parts.is_empty() { alone } else { &film.parts };
    let inks = films.iter().map(|raster| {
        move |rect: Rect, side: Length| window(&**raster, film.resolution, rect, side)
    });
    let inks: Vec<_> = inks.collect();
    let inks: Vec<&InkWindow<'_>> = inks.iter().map(|ink| ink as _).collect();
    let mut seams = Seams::find(&rects, overlap, settings, &inks, progress)?;
    for hand in moved {
        let same = |i: &usize| {
            names(&seams.seams()[*i], pages) == hand.between && seams.strip(*i) == hand.strip
        };
        if let Some(index) = (0..seams.seams().len()).find(same) {
            seams.edit(index, &hand.points, &inks);
        }
    }
    Ok(seams)
}

/// The names of the two sheets a seam lies between.
pub(crate) fn names(seam: &sheets::Seam, pages: &[FilmSheet]) -> [String; 2] {
    seam.between.map(|i| pages[i].name.clone())
}

/// Where a page's image lies on the film.
pub(crate) fn rect(page: &FilmSheet, resolution: Resolution) -> Rect {
    let length = |px: i64| resolution.length(px as f64);
    let i = page.image;
    Rect::new(Point::new(length(i.x), length(i.y)), Size::new(length(i.width), length(i.height)))
}

/// The film's ink inside a rectangle: each square of the given side is what the film is at
/// its middle.
pub(crate) fn window(
    film: &dyn Raster,
    resolution: Resolution,
    rect: Rect,
    side: Length,
) -> Bitmap {
    let count = |v: Length| (v / side).round().max(0.0) as u32;
    let mut out = Bitmap::new(count(rect.size.width), count(rect.size.height));
    let middle =
        |from: Length, i: u32| resolution.px(from + side * (f64::from(i) + 0.5)).floor() as i64;
    let (width, height) = (i64::from(film.width()), i64::from(film.height()));
    let first = middle(rect.left(), 0).clamp(0, width) as u32;
    let last = (middle(rect.left(), out.width().saturating_sub(1)) + 1).clamp(0, width) as u32;
    if out.width() == 0 || first >= last {
        return out;
    }
    // The first square whose middle lies in or beyond each of the film's columns.
    let mut squares = Vec::with_capacity((last - first) as usize + 1);
    let mut i = 0;
    for column in i64::from(first)..=i64::from(last) {
        while i < out.width() && middle(rect.left(), i) < column {
            i += 1;
        }
        squares.push(i);
    }
    let (mut changes, mut seen) = (Vec::new(), Vec::new());
    for j in 0..out.height() {
        let y = middle(rect.top(), j);
        if y < 0 || y >= height {
            continue;
        }
        changes.clear();
        film.changes(y as u32, first, last, &mut changes);
        // Ink ends where the film does.
        if changes.len() % 2 == 1 {
            changes.push(last - first);
        }
        seen.clear();
        for change in &changes {
            let square = squares[*change as usize];
            // Two changes between the same middles are not seen.
            if seen.last() == Some(&square) {
                seen.pop();
            } else {
                seen.push(square);
            }
        }
        out.set_row_from_changes(j, &seen);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use film::PxRect;

    /// Two pages over and under a third that lies between them, narrower: the outer two meet on
    /// its left and on its right.
    fn pages() -> Vec<FilmSheet> {
        let page = |name: &str, x, y, width, height| FilmSheet {
            name: name.into(),
            image: PxRect::new(x, y, width, height),
            turned: false,
            page: Size::new(Length::inches(40.0), Length::inches(40.0)),
            printable: PxRect::new(0, 0, 900, 900),
            image_x: 0,
            image_y: 0,
        };
        vec![
            page("A3", 300, 100, 300, 220),
            page("A1", 0, 0, 900, 220),
            page("A2", 0, 200, 900, 220),
        ]
    }

    /// Where two sheets meet twice, either seam is moved without the other, and a job saved
    /// before strips were told apart moves the first.
    #[test]
    fn each_of_two_seams_between_the_same_sheets_is_moved() {
        let resolution = Resolution::ppi(20.0);
        let film = Film::new(std::sync::Arc::new(Bitmap::new(900, 420)), resolution);
        let find = |moved: &[HandSeam]| {
            let (overlap, settings) = (Length::inches(1.0), SeamSettings::default());
            find(&film, &pages(), overlap, &settings, moved, &Progress::none()).unwrap()
        };
        let plain = find(&[]);
        let between = ["A1".to_owned(), "A2".to_owned()];
        let twins: Vec<usize> = (0..plain.seams().len())
            .filter(|i| names(&plain.seams()[*i], &pages()) == between)
            .collect();
        assert_eq!(twins.len(), 2, "{:?}", plain.seams());
        assert_eq!(twins.iter().map(|i| plain.strip(*i)).collect::<Vec<_>>(), [0, 1]);
        for (strip, moved) in twins.iter().enumerate() {
            let mut points = plain.seams()[*moved].points.clone();
            let (a, b) = (points[0], points[points.len() - 1]);
            let middle = Point::new((a.x + b.x) / 2.0, a.y + Length::inches(0.2));
            points = vec![a, middle, b];
            let hand = HandSeam { between: between.clone(), strip, points };
            let seams = find(std::slice::from_ref(&hand));
            for i in &twins {
                let same = seams.seams()[*i].points == plain.seams()[*i].points;
                assert_eq!(same, i != moved, "strip {strip}, seam {i}");
            }
            if strip == 0 {
                let mut old = serde_json::to_value(&hand).unwrap();
                old.as_object_mut().unwrap().remove("strip");
                assert_eq!(serde_json::from_value::<HandSeam>(old).unwrap(), hand);
            }
        }
    }

    #[test]
    fn a_window_shows_what_lies_at_the_middle_of_each_square() {
        let film = Bitmap::from_fn(90, 70, |x, y| (x * x + y * 3) % 7 < 3);
        let resolution = Resolution::ppi(100.0);
        let side = Length::inches(0.03);
        let rect = Rect::new(
            Point::new(Length::inches(-0.1), Length::inches(0.4)),
            Size::new(Length::inches(1.2), Length::inches(0.6)),
        );
        let got = window(&film, resolution, rect, side);
        assert_eq!((got.width(), got.height()), (40, 20));
        for j in 0..20 {
            for i in 0..40 {
                let (x, y) = (-10 + 3 * i + 1, 40 + 3 * j + 1);
                let ink = x >= 0 && y >= 0 && film.get(x as u32, y as u32);
                assert_eq!(got.get(i as u32, j as u32), ink, "{i}, {j}");
            }
        }
    }

    /// A sheet of a film 400 pixels high, from column `x` on.
    fn page(name: &str, x: i64, width: i64) -> FilmSheet {
        FilmSheet {
            name: name.into(),
            image: film::PxRect::new(x, 0, width, 400),
            turned: false,
            page: Size::new(Length::inches(13.0), Length::inches(19.0)),
            printable: film::PxRect::new(12, 12, 1276, 1876),
            image_x: 12,
            image_y: 12,
        }
    }

    /// Two sheets share an inch and a half of a tone by dots, in which a band is open or solid:
    /// the seam keeps to the band.
    #[test]
    fn seams_of_a_film_of_dots_run_where_it_is_open_or_solid() {
        use crate::{Edit, Job, Tone, build};
        let pages = [page("A1", 0, 400), page("A2", 250, 350)];
        for band in [255, 0] {
            // Two film pixels a picture pixel; the band runs from 340 to 384.
            let grey = |x: usize| if (170..192).contains(&x) { band } else { 140 };
            let bytes: Vec<u8> = (0..200 * 300).map(|i| grey(i % 300)).collect();
            let picture = artwork::Picture::grey(300, 200, bytes);
            let job = Job {
                width: Length::inches(6.0),
                resolution: Resolution::ppi(100.0),
                ..Job::default()
            };
            let job = job.apply(Edit::Tone(Tone::DOTS)).unwrap();
            let surface = build::surface(&job, &picture, &Progress::none()).unwrap();
            let film = build::film(&job, &picture, &surface, &Progress::none()).unwrap();
            let overlap = Length::inches(0.5);
            let found = find(&film, &pages, overlap, &job.seams, &[], &Progress::none()).unwrap();
            let points = &found.seams()[0].points;
            let px = |p: &Point| job.resolution.px(p.x);
            let inside = points.iter().filter(|p| (338.0..386.0).contains(&px(p))).count();
            assert_eq!(
                inside,
                points.len(),
                "{band}: {:?}",
                points.iter().map(px).collect::<Vec<_>>()
            );
        }
    }

    /// A ramp of tone with an open channel beside it, in an overlap of an inch and a half: by
    /// dots, noise and diffusion the seam goes through the channel.
    #[test]
    fn seams_go_through_the_open_channel_beside_a_ramp() {
        use crate::{Edit, Job, Tone, build};
        let pages = [page("A1", 0, 400), page("A2", 250, 350)];
        // Two film pixels a picture pixel: a ramp from 250 to 340 of a fifth to four fifths of
        // ink, an open channel to 370, then half a tone.
        let grey = |x: usize| match x {
            0..125 => 204,
            125..170 => 204 - (x - 125) * 153 / 45,
            170..185 => 255,
            _ => 128,
        };
        let bytes: Vec<u8> = (0..200 * 300).map(|i| grey(i % 300) as u8).collect();
        let picture = artwork::Picture::grey(300, 200, bytes);
        for tone in
            [Tone::DOTS, Tone::Noise { grain: Tone::GRAIN }, Tone::Diffuse { grain: Tone::GRAIN }]
        {
            let job = Job {
                width: Length::inches(6.0),
                resolution: Resolution::ppi(100.0),
                ..Job::default()
            };
            let job = job.apply(Edit::Tone(tone.clone())).unwrap();
            let surface = build::surface(&job, &picture, &Progress::none()).unwrap();
            let film = build::film(&job, &picture, &surface, &Progress::none()).unwrap();
            let overlap = Length::inches(0.5);
            let found = find(&film, &pages, overlap, &job.seams, &[], &Progress::none()).unwrap();
            let at: Vec<f64> =
                found.seams()[0].points.iter().map(|p| job.resolution.px(p.x)).collect();
            assert!(at.iter().all(|x| (338.0..372.0).contains(x)), "{tone:?}: {at:?}");
        }
    }
}
