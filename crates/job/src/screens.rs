//! A job's screens: one film an ink, the underbase's before them.

use crate::build::{Film, laid};
use crate::{Job, JobError, Mendings, calibrate, mend, tone};
use ::tone::Tones;
use artwork::Picture;
use bitmap::{Bitmap, Raster, Turned};
use inks::{Plates, Rgb};
use progress::Progress;
use std::sync::Arc;

/// One screen's film.
#[derive(Clone)]
pub struct ScreenFilm {
    /// Which screen it is.
    pub screen: film::Screen,
    /// The film, given out row by row.
    pub raster: Arc<dyn Raster + Send + Sync>,
    /// Whether it is the underbase, which lies under all inks.
    pub underbase: bool,
    /// What came of mending its fine lines, where the job asks for that.
    pub mended: Option<Mendings>,
}

/// The films of all screens in printing order, from the picture.
///
/// # Errors
/// As [`separate`](crate::separation::separate) and [`of_plates`].
pub fn of_picture(
    job: &Job,
    picture: &Picture,
    progress: &Progress,
) -> Result<Vec<ScreenFilm>, JobError> {
    let laid = laid(job, picture)?;
    let plates = crate::separation::separate(job, picture, progress)?;
    of_plates(job, picture, &plates, laid, progress)
}

/// The films of all screens in printing order, of the picture as it is laid on them.
///
/// A cut plate is ink or none. With another tone, an ink's soft shares are screened and its
/// hard edges are kept as they are. Lines and gaps too fine to print are mended on each ink's
/// film by itself; the underbase, which keeps inside the inks, is left as it is.
///
/// # Errors
/// Where the tone cannot be screened, or the task is cancelled.
pub fn of_plates(
    job: &Job,
    picture: &Picture,
    plates: &Plates,
    laid: Turned,
    progress: &Progress,
) -> Result<Vec<ScreenFilm>, JobError> {
    let wanted = job.inks.clone().unwrap_or_default();
    let mut out = Vec::new();
    let mut add = |name: &str, colour: Rgb, raster, underbase: bool| -> Result<(), JobError> {
        let (order, name) = (out.len() as u32 + 1, name.to_owned());
        let screen = film::Screen { order, name, colour: colour.to_string() };
        let mut film = Film::new(raster, job.resolution);
        if !underbase {
            film = mend::mended(film, job, picture, progress)?;
        }
        let raster = calibrate::drawn_in(job, film.raster, job.resolution);
        out.push(ScreenFilm { screen, raster, underbase, mended: film.mended });
        Ok(())
    };
    if let Some(choke) = wanted.underbase {
        let base = plates.underbase(laid, job.resolution, choke, progress)?;
        add("Underbase", Rgb([255; 3]), Arc::new(base) as Arc<_>, true)?;
    }
    for (n, ink) in plates.inks().iter().enumerate() {
        let cut: Arc<dyn Raster + Send + Sync> = if wanted.trap > measure::Length::ZERO {
            let trapped = plates.trapped(n, laid, job.resolution, wanted.trap, progress)?;
            Arc::new(trapped)
        } else {
            Arc::new(plates.raster(n, laid)?)
        };
        add(&ink.name, ink.colour, toned(job, plates, n, cut, laid, progress)?, false)?;
    }
    Ok(out)
}

/// A plate with its soft shares screened.
fn toned(
    job: &Job,
    plates: &Plates,
    ink: usize,
    cut: Arc<dyn Raster + Send + Sync>,
    laid: Turned,
    progress: &Progress,
) -> Result<Arc<dyn Raster + Send + Sync>, JobError> {
    if job.tone.is_cut() {
        return Ok(cut);
    }
    let (w, h) = plates.size();
    tone::mixed(job, &Tones::new(w, h, &plates.coverage(ink)?)?, cut, laid, progress)
}

/// What came of mending several films, in all.
pub(crate) fn mended(films: &[ScreenFilm]) -> Option<Mendings> {
    films.iter().filter_map(|film| film.mended).reduce(|a, b| Mendings {
        places: a.places + b.places,
        left: a.left + b.left,
        more: a.more || b.more,
    })
}

/// All that any of several films prints: what a sheet plan they share has to hold.
pub struct Union(Vec<Arc<dyn Raster + Send + Sync>>);

impl Union {
    /// Of films of one size, at least one.
    pub fn of(films: &[ScreenFilm]) -> Self {
        Self(films.iter().map(|film| film.raster.clone()).collect())
    }
}

impl Raster for Union {
    fn width(&self) -> u32 {
        self.0.first().map_or(0, |film| film.width())
    }
    fn height(&self) -> u32 {
        self.0.first().map_or(0, |film| film.height())
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let mut row = Bitmap::new(x1 - x0, 1);
        let mut changes = Vec::new();
        for film in &self.0 {
            changes.clear();
            film.changes(y, x0, x1, &mut changes);
            for run in bitmap::runs(&changes, x1 - x0) {
                row.fill(run.start, run.end, 0);
            }
        }
        row.changes_of_row(0, 0, x1 - x0, out);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Edit, InkChange, PictureFile, Separation, Tone, build, file};
    use measure::{Length, Resolution};
    use std::path::Path;

    /// A red and a blue square with a ramp of red between, on white; 60 x 30 pixels.
    fn job() -> Job {
        let colour = |x: u32, y: u32| match (x, y) {
            (_, 0..5 | 25..) | (0..5 | 55.., _) => [255, 255, 255],
            (5..15, _) => [220, 30, 40],
            (45..55, _) => [30, 40, 200],
            (15..40, _) => {
                let t = (x - 15) as f64 / 25.0;
                [(220.0, 255.0), (30.0, 255.0), (40.0, 255.0)]
                    .map(|(a, b): (f64, f64)| (a + t * (b - a)).round() as u8)
            }
            _ => [255, 255, 255],
        };
        // A BMP: its headers, then rows from the bottom up, blue first.
        let mut bytes = b"BM".to_vec();
        for word in [54 + 5400_u32, 0, 54, 40, 60, 30, 1 | 24 << 16, 0, 5400, 2835, 2835, 0, 0] {
            bytes.extend(word.to_le_bytes());
        }
        for y in (0..30).rev() {
            bytes.extend((0..60).flat_map(|x| colour(x, y).into_iter().rev()));
        }
        Job {
            picture: Some(PictureFile { name: "ramp.bmp".into(), bytes: bytes.into() }),
            width: Length::inches(12.0),
            resolution: Resolution::ppi(100.0),
            inks: Some(Separation {
                inks: inks::Inks::Picked(vec![
                    (Rgb([220, 30, 40]), Some("Red".into())),
                    (Rgb([30, 40, 200]), None),
                ]),
                ..Separation::default()
            }),
            ..Job::default()
        }
    }

    fn films(job: &Job) -> Vec<ScreenFilm> {
        of_picture(job, &build::picture(job).unwrap(), &Progress::none()).unwrap()
    }

    #[test]
    fn dots_come_only_where_an_ink_is_soft() {
        let job = job().apply(Edit::Tone(Tone::DOTS)).unwrap();
        let films = films(&job);
        let red = bitmap::collect(&*films[0].raster);
        let share = |x0: u32, x1: u32| {
            let (y0, y1) = (200, 400);
            let count = (y0..y1)
                .flat_map(|y| (x0..x1).map(move |x| (x, y)))
                .filter(|(x, y)| red.get(*x, *y));
            count.count() as f64 / f64::from((x1 - x0) * (y1 - y0))
        };
        assert_eq!(share(110, 270), 1.0, "solid red stays solid");
        // The ramp's middle two thirds: its mean share is a half.
        let middle = share(400, 700);
        assert!((middle - 0.5).abs() < 0.05, "{middle}");
        assert!(share(720, 780) > 0.0, "light tone has dots");
        let blue = bitmap::collect(&*films[1].raster);
        assert!((900..1100).all(|x| blue.get(x, 300)) && (0..880).all(|x| !blue.get(x, 300)));
    }

    #[test]
    fn changes_are_replayed_and_a_job_opened_again_gives_the_same_bytes() {
        let mut job = job();
        let inks = job.inks.as_mut().unwrap();
        inks.changes = vec![
            InkChange::Move(0, 1),
            InkChange::Rename(0, "Night".into()),
            InkChange::Overprint(0, true),
        ];
        inks.trap = Length::mm(0.3);
        inks.underbase = Some(Length::mm(0.5));
        let names: Vec<String> = films(&job).into_iter().map(|f| f.screen.name).collect();
        assert_eq!(names, ["Underbase", "Night", "Red"]);
        let dir = tempfile::tempdir().unwrap();
        let opened =
            file::from_bytes(&file::to_bytes(&job).unwrap(), Path::new("x.quilt")).unwrap();
        assert_eq!(opened, job);
        let written = |job: &Job, folder: &str| {
            let out = dir.path().join(folder);
            let done = build::export(job, &out, &Progress::none()).unwrap();
            assert_eq!(done.films.len(), 3);
            let all = done.films.iter().chain([&done.plan_json]).chain(&done.guides);
            all.map(|path| std::fs::read(path).unwrap()).collect::<Vec<_>>()
        };
        assert!(written(&job, "a") == written(&opened, "b"));
    }

    #[test]
    fn an_ink_that_is_gone_is_said_and_another_picture_starts_anew() {
        let mut job = job();
        job.inks.as_mut().unwrap().changes = vec![InkChange::Merge(0, 7)];
        let picture = build::picture(&job).unwrap();
        let error = of_picture(&job, &picture, &Progress::none()).err().unwrap();
        assert!(!error.hint().is_empty() && error.to_string().contains("ink"), "{error}");
        let file = job.picture.clone().unwrap();
        let job = job.apply(Edit::Picture(file)).unwrap();
        assert!(job.inks.unwrap().changes.is_empty());
        let wide = Separation { trap: Length::mm(50.0), ..Separation::default() };
        assert!(Job::default().apply(Edit::Inks(Some(wide))).is_err());
    }

    /// A hairline of each ink beside a block of the other: each is widened on its own film, to
    /// .6 mm of .1 mm a pixel, and the blocks stay.
    #[test]
    fn fine_lines_are_mended_on_every_screens_film() {
        let colour = |x: usize, y: usize| match (x, y) {
            (_, 0..10 | 70..) => [255, 255, 255],
            (10..50 | 110..112, _) => [220, 30, 40],
            (80..82 | 130..150, _) => [30, 40, 200],
            _ => [255, 255, 255],
        };
        let bytes: Vec<u8> = (0..160 * 80).flat_map(|i| colour(i % 160, i / 160)).collect();
        let picture = Picture::rgb(160, 80, bytes);
        let (width, resolution) = (Length::mm(16.0), Resolution::ppi(254.0));
        let job = Job { picture: None, width, resolution, ..job() };
        let mend = |places| Some(crate::Mend { finest: Length::mm(0.6), places });
        let runs = |places| {
            let job = Job { mend: places, ..job.clone() };
            let films = of_picture(&job, &picture, &Progress::none()).unwrap();
            let mut rows = Vec::new();
            for film in &films {
                let mut changes = Vec::new();
                film.raster.changes(40, 0, 160, &mut changes);
                rows.push(bitmap::runs(&changes, 160).map(|r| r.end - r.start).collect::<Vec<_>>());
            }
            (rows, mended(&films))
        };
        assert_eq!(runs(None), (vec![vec![40, 2], vec![2, 20]], None));
        let all = runs(mend(crate::Mended::All));
        assert_eq!(
            all,
            (vec![vec![40, 6], vec![6, 20]], Some(Mendings { places: 2, left: 0, more: false }))
        );
        let spot = crate::Spot { x: 81.0, y: 40.0 };
        let one = runs(mend(crate::Mended::At(vec![spot])));
        assert_eq!(one.0, [vec![40, 2], vec![6, 20]]);
    }
}
