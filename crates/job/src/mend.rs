use crate::build::{self, Film};
use crate::{Job, JobError};
use artwork::{FinePlace, Picture, Printability};
use measure::{Length, Point};
use progress::Progress;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Which lines and gaps of a film are mended that are too fine to print, and to what width.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mend {
    /// Every mended line and gap becomes at least this wide.
    pub finest: Length,
    /// Which of them.
    pub places: Mended,
}

/// The fine places that are mended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Mended {
    /// Each one.
    All,
    /// Those that lie within the finest width of one of these spots.
    At(Vec<Spot>),
}

/// A spot of the picture, in its pixels from its top-left corner, so that it is the same spot
/// of the artwork whatever crop, size and resolution it is filmed at.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Spot {
    /// Picture pixels from the left.
    pub x: f64,
    /// Picture pixels from the top.
    pub y: f64,
}

/// What came of mending a film.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Mendings {
    /// How many places were mended.
    pub places: usize,
    /// How many are still too fine: where lines and gaps lie too close together for both.
    pub left: usize,
    /// Whether there were so many that not all were counted.
    pub more: bool,
}

impl Spot {
    /// The spot of the picture that a point of its film shows, counted from the film's
    /// top-left corner.
    pub fn shown_at(at: Point, job: &Job, picture: &Picture) -> Self {
        let part = job.art.crop.unwrap_or_else(|| picture.whole());
        let laid = build::laid_px(job, (part.width, part.height));
        let (wide, high) = laid.picture();
        let (u, v) = laid.picture_from_film(job.resolution.px(at.x), job.resolution.px(at.y));
        Self {
            x: f64::from(part.x) + u / wide * f64::from(part.width),
            y: f64::from(part.y) + v / high * f64::from(part.height),
        }
    }

    /// Where its film shows it, from the film's top-left corner.
    pub fn on_film(self, job: &Job, picture: &Picture) -> Point {
        let part = job.art.crop.unwrap_or_else(|| picture.whole());
        let laid = build::laid_px(job, (part.width, part.height));
        let (wide, high) = laid.picture();
        let (x, y) = laid.film_from_picture(
            wide * ((self.x - f64::from(part.x)) / f64::from(part.width)),
            high * ((self.y - f64::from(part.y)) / f64::from(part.height)),
        );
        Point::new(job.resolution.length(x), job.resolution.length(y))
    }
}

/// How often mending is repeated: what is widened narrows what lies beside it, which is mended
/// in its turn. Lines and gaps too close together for both would take turns for ever.
const PASSES: u32 = 4;

/// The film with the job's fine places mended, and how many. Tones are left alone, whose dots
/// and grains are fine on purpose.
pub(crate) fn mended(
    film: Film,
    job: &Job,
    picture: &Picture,
    progress: &Progress,
) -> Result<Film, JobError> {
    let Some(mend) = job.mend.as_ref().filter(|_| job.tone.is_cut()) else { return Ok(film) };
    let (resolution, finest) = (film.resolution, mend.finest);
    let points: Option<Vec<Point>> = match &mend.places {
        Mended::All => None,
        Mended::At(spots) => Some(spots.iter().map(|s| s.on_film(job, picture)).collect()),
    };
    let look = |film: &Film| -> Result<Printability, JobError> {
        let mut found = artwork::printability(&*film.raster, resolution, finest, progress)?;
        if let Some(points) = &points {
            let meant =
                |place: &FinePlace| points.iter().any(|p| place.touches(*p, finest, resolution));
            found.places.retain(meant);
        }
        Ok(found)
    };
    let mut film = film;
    let mut found = look(&film)?;
    let mut done = Mendings { places: found.places.len(), left: 0, more: found.more };
    for _ in 0..PASSES {
        if found.places.is_empty() {
            break;
        }
        let chosen = points.as_ref().map(|_| &found.places[..]);
        let bits = artwork::mend(&*film.raster, resolution, finest, chosen, progress)?;
        film.raster = Arc::new(bits);
        found = look(&film)?;
    }
    done.left = found.places.len();
    Ok(Film { mended: Some(done), ..film })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Edit, History, PictureFile, file};
    use artwork::Crop;
    use measure::{Angle, Resolution, Unit};
    use std::path::Path;

    /// A block, and two lines of ink too thin to print: 2 pixels wide, which are filmed 2 wide.
    fn job() -> (Job, Picture) {
        let ink =
            |x: u32| (20..60).contains(&x) || (100..102).contains(&x) || (140..142).contains(&x);
        let greys: Vec<u8> = (0..200 * 100)
            .map(|i| if ink(i % 200) && (10..90).contains(&(i / 200)) { 0 } else { 255 })
            .collect();
        let picture = Picture::grey(200, 100, greys);
        let (width, resolution) = (Length::mm(20.0), Resolution::ppi(254.0));
        let mut job = Job { width, resolution, unit: Unit::Mm, ..Job::default() };
        job.art.edges = artwork::Edges::Plain;
        (job, picture)
    }

    fn film(job: &Job, picture: &Picture) -> Film {
        let none = Progress::none();
        let surface = build::surface(job, picture, &none).unwrap();
        build::film(job, picture, &surface, &none).unwrap()
    }

    fn fine(film: &Film) -> Vec<FinePlace> {
        let finest = Length::mm(0.6);
        let none = Progress::none();
        artwork::printability(&*film.raster, film.resolution, finest, &none).unwrap().places
    }

    fn mend(places: Mended) -> Edit {
        Edit::Mend(Some(Mend { finest: Length::mm(0.6), places }))
    }

    #[test]
    fn one_line_or_all_are_mended_and_taken_back() {
        let (job, picture) = job();
        let before = film(&job, &picture);
        let found = fine(&before);
        assert_eq!((found.len(), before.mended), (2, None));
        let mut history = History::new(job.clone());
        let at = Point::new(found[1].x, found[1].y);
        let spot = Spot::shown_at(at, &job, &picture);
        history.apply(mend(Mended::At(vec![spot]))).unwrap();
        let one = film(history.job(), &picture);
        assert_eq!(one.mended, Some(Mendings { places: 1, left: 0, more: false }));
        assert_eq!(fine(&one).len(), 1);
        history.apply(mend(Mended::All)).unwrap();
        let all = film(history.job(), &picture);
        assert_eq!(all.mended, Some(Mendings { places: 2, left: 0, more: false }));
        assert_eq!(fine(&all), []);
        assert_eq!(history.undo(), Some("mend fine lines"));
        history.undo();
        let again = film(history.job(), &picture);
        assert_eq!(bitmap::collect(&*again.raster), bitmap::collect(&*before.raster));
    }

    /// The same line is mended after a crop and a turn, at another width and resolution.
    #[test]
    fn a_spot_stays_on_its_line() {
        let (job, picture) = job();
        let before = film(&job, &picture);
        let line = fine(&before)[1].clone();
        let spot = Spot::shown_at(Point::new(line.x, line.y), &job, &picture);
        let mut other = job.apply(mend(Mended::At(vec![spot]))).unwrap();
        other.art.crop = Some(Crop { x: 90, y: 5, width: 100, height: 90 });
        other.width = Length::mm(13.0);
        other.resolution = Resolution::ppi(300.0);
        other.turn = Angle::deg(40.0);
        let film = film(&other, &picture);
        assert_eq!(film.mended.map(|m| m.places), Some(1));
        let back = spot.on_film(&other, &picture);
        let again = Spot::shown_at(back, &other, &picture);
        assert!((again.x - spot.x).abs() < 1e-9 && (again.y - spot.y).abs() < 1e-9);
    }

    #[test]
    fn a_mended_film_is_the_same_after_the_job_is_opened_again() {
        let (job, picture) = job();
        let mut png = std::io::Cursor::new(Vec::new());
        let grey = picture.greys().into_owned();
        let grey = image::GrayImage::from_raw(200, 100, grey).unwrap();
        grey.write_to(&mut png, image::ImageFormat::Png).unwrap();
        let bytes = png.into_inner().into();
        let job = Job { picture: Some(PictureFile { name: "lines.png".into(), bytes }), ..job };
        for places in [Mended::All, Mended::At(vec![Spot { x: 101.0, y: 50.0 }])] {
            let job = job.apply(mend(places)).unwrap();
            let saved = file::to_bytes(&job).unwrap();
            let opened = file::from_bytes(&saved, Path::new("x.quilt")).unwrap();
            assert_eq!(opened, job);
            let [a, b] = [&job, &opened].map(|job| {
                let dir = tempfile::tempdir().unwrap();
                build::export(job, dir.path(), &Progress::none()).unwrap();
                std::fs::read(dir.path().join("film.pdf")).unwrap()
            });
            assert!(a == b && !a.is_empty());
        }
    }

    /// Bars and gaps of equal width, both too fine: there is no room for both.
    #[test]
    fn what_cannot_be_mended_is_said() {
        let greys: Vec<u8> =
            (0..80 * 60).map(|i| if i % 80 / 2 % 2 == 0 { 0 } else { 255 }).collect();
        let picture = Picture::grey(80, 60, greys);
        let job = Job { width: Length::mm(8.0), ..job().0 };
        let job = job.apply(mend(Mended::All)).unwrap();
        let said = film(&job, &picture).mended.unwrap();
        assert!(said.left > 0, "{said:?}");
    }

    #[test]
    fn nonsense_is_refused() {
        for finest in [f64::NAN, -1.0, 0.0, 1e6] {
            let mend = Mend { finest: Length::mm(finest), places: Mended::All };
            assert!(Job::default().apply(Edit::Mend(Some(mend))).is_err(), "{finest}");
        }
        let places = Mended::At(vec![Spot { x: f64::INFINITY, y: 0.0 }]);
        let mend = Mend { finest: Length::mm(1.0), places };
        assert!(Job::default().apply(Edit::Mend(Some(mend))).is_err());
    }
}
