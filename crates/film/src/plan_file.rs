use crate::{FilmError, FilmJob, FilmSheet, PxRect, Screen};
use measure::{Length, Size};
use serde::{Deserialize, Serialize};
use std::io::Write;

/// What `plan.json` says: where each sheet lies on the film and its image on its page, the
/// seams, and every mark. Its fields are described in `docs/plan-json.md`; millimetres and
/// film pixels both count from the film's top-left corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlanFile {
    /// [`PlanFile::FORMAT`].
    pub format: String,
    /// The film as a whole.
    pub film: PlanFilm,
    /// The least overlap asked for.
    pub overlap_mm: f64,
    /// The sheets in the order of their pages.
    pub sheets: Vec<PlanSheet>,
    /// Where neighbouring sheets are joined.
    pub seams: Vec<PlanSeam>,
    /// Whether no plan has fewer sheets.
    pub fewest_proved: bool,
    /// No plan has fewer sheets than this.
    pub lower_bound: u32,
    /// The part of the film that is the print, where pin or tape marks stand outside it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub print: Option<PlanPrint>,
    /// The printer whose faults the pages undo, if any: in print they are what the plan says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub printer: Option<PlanPrinter>,
    /// Every place where a page differs from the film's image.
    pub marks: Vec<PlanMark>,
    /// The register targets, at the same places on every file: whole, so that those beside
    /// the print reach past the film.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub targets: Vec<PlanMark>,
    /// The files written with this plan; none for a plan without films.
    #[serde(default)]
    pub files: Vec<PlanPdf>,
}

/// The film as a whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the names say it, unit included")]
pub struct PlanFilm {
    pub width_mm: f64,
    pub height_mm: f64,
    pub width_px: u32,
    pub height_px: u32,
    pub ppi: f64,
}

/// A part of the film.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the names say it, unit included")]
pub struct PlanPrint {
    pub x_px: i64,
    pub y_px: i64,
    pub width_px: i64,
    pub height_px: i64,
}

/// A printer whose faults pages undo, as [`printer::Profile`] describes them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the names say it, unit included")]
pub struct PlanPrinter {
    pub printer: String,
    pub film: String,
    pub scale_x: f64,
    pub scale_y: f64,
    pub shear: f64,
    /// How far the film's edges were drawn in before it was cut into sheets.
    pub spread_mm: f64,
}

impl PlanPrinter {
    /// The profile, as far as pages need it.
    ///
    /// # Errors
    /// Where a number is none that a working printer has.
    pub fn profile(&self) -> Result<printer::Profile, printer::PrinterError> {
        let profile = printer::Profile {
            scale_x: self.scale_x,
            scale_y: self.scale_y,
            shear: self.shear,
            spread: Length::mm(self.spread_mm),
            ..printer::Profile::true_to_size(&self.printer, &self.film)
        };
        profile.check()?;
        Ok(profile)
    }
}

/// A file of films.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlanPdf {
    /// Its name, in the plan's folder.
    pub name: String,
    /// Its identity, as its trailer's `/ID` has it, in hexadecimal: a plan and a film of
    /// different exports are told apart by it.
    pub id: String,
    /// Which screen it is for, where there are several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screen: Option<Screen>,
}

/// A sheet, as [`FilmSheet`] describes it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the names say it, unit included")]
pub struct PlanSheet {
    pub name: String,
    /// The page's number, from 1.
    pub page: u32,
    pub x_mm: f64,
    pub y_mm: f64,
    pub width_mm: f64,
    pub height_mm: f64,
    pub x_px: i64,
    pub y_px: i64,
    pub width_px: i64,
    pub height_px: i64,
    pub turned: bool,
    pub page_width_mm: f64,
    pub page_height_mm: f64,
    pub image_x_px: i64,
    pub image_y_px: i64,
}

/// Where two sheets are joined.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlanSeam {
    /// The names of the two sheets.
    pub between: [String; 2],
    /// The cut line's points, `[x, y]` each.
    pub points_mm: Vec<[f64; 2]>,
}

/// A place on a sheet that differs from the film's image, or may.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the names say it, unit included")]
pub struct PlanMark {
    pub sheet: String,
    /// `tick`, `trim`, `target`, `name`, `ruler` or `legend`.
    pub kind: String,
    pub x_px: i64,
    pub y_px: i64,
    pub width_px: i64,
    pub height_px: i64,
}

impl PlanFile {
    /// What [`PlanFile::format`] says in this version.
    pub const FORMAT: &'static str = "filmquilt plan 1";

    /// The plan of a job whose pages carry these marks.
    pub fn new(
        job: &FilmJob,
        marks: Vec<PlanMark>,
        targets: Vec<PlanMark>,
        files: Vec<PlanPdf>,
    ) -> Self {
        let mm = |px: i64| round(job.resolution.length(px as f64));
        let sheet = |(n, sheet): (usize, &FilmSheet)| PlanSheet {
            name: sheet.name.clone(),
            page: n as u32 + 1,
            x_mm: mm(sheet.image.x),
            y_mm: mm(sheet.image.y),
            width_mm: mm(sheet.image.width),
            height_mm: mm(sheet.image.height),
            x_px: sheet.image.x,
            y_px: sheet.image.y,
            width_px: sheet.image.width,
            height_px: sheet.image.height,
            turned: sheet.turned,
            page_width_mm: round(sheet.page.width),
            page_height_mm: round(sheet.page.height),
            image_x_px: sheet.image_x,
            image_y_px: sheet.image_y,
        };
        let seam = |seam: &crate::Seam| PlanSeam {
            between: seam.between.clone(),
            points_mm: seam.points.iter().map(|p| [round(p.x), round(p.y)]).collect(),
        };
        let (width, height) = (job.raster.width(), job.raster.height());
        Self {
            format: Self::FORMAT.into(),
            film: PlanFilm {
                width_mm: mm(width.into()),
                height_mm: mm(height.into()),
                width_px: width,
                height_px: height,
                ppi: job.resolution.to_ppi(),
            },
            overlap_mm: round(job.overlap),
            sheets: job.sheets.iter().enumerate().map(sheet).collect(),
            seams: job.seams.iter().map(seam).collect(),
            fewest_proved: job.sheets.len() as u64 == u64::from(job.lower_bound),
            lower_bound: job.lower_bound,
            print: job.print.map(|p| PlanPrint {
                x_px: p.x,
                y_px: p.y,
                width_px: p.width,
                height_px: p.height,
            }),
            printer: job.printer.as_ref().map(|p| PlanPrinter {
                printer: p.printer.clone(),
                film: p.film.clone(),
                scale_x: p.scale_x,
                scale_y: p.scale_y,
                shear: p.shear,
                spread_mm: p.spread.to_mm(),
            }),
            marks,
            targets,
            files,
        }
    }

    /// Writes the plan as JSON.
    ///
    /// # Errors
    /// When `out` fails.
    pub fn write(&self, out: &mut impl Write) -> Result<(), FilmError> {
        let mut text = serde_json::to_string_pretty(self).map_err(std::io::Error::other)?;
        text.push('\n');
        Ok(out.write_all(text.as_bytes())?)
    }

    /// A plan from its JSON, or what is wrong with it.
    pub(crate) fn from_json(bytes: &[u8]) -> Result<Self, String> {
        let plan: Self = serde_json::from_slice(bytes).map_err(|e| e.to_string())?;
        plan.check()?;
        Ok(plan)
    }

    /// What is wrong with a plan that was read, if anything.
    pub(crate) fn check(&self) -> Result<(), String> {
        let plan = self;
        if plan.format != Self::FORMAT {
            return Err(format!("its format is \"{}\"", plan.format));
        }
        if !(1.0..=100_000.0).contains(&plan.film.ppi) {
            return Err(format!("its film has {:e} pixels an inch", plan.film.ppi));
        }
        let far = |at: PxRect| {
            [at.x, at.y, at.width, at.height].iter().any(|px| px.unsigned_abs() > 1 << 30)
        };
        let sheets = plan
            .sheets
            .iter()
            .map(|s| far(s.image()) || far(PxRect::new(s.image_x_px, s.image_y_px, 0, 0)));
        if sheets
            .chain(plan.marks.iter().chain(&plan.targets).map(|mark| far(mark.place())))
            .any(|far| far)
        {
            return Err("it has places that no film reaches".into());
        }
        Ok(())
    }
}

impl PlanSheet {
    /// The part of the film it shows.
    pub fn image(&self) -> PxRect {
        PxRect::new(self.x_px, self.y_px, self.width_px, self.height_px)
    }

    /// The sheet as it was written, but for the part of the page that could be printed.
    pub(crate) fn stands(&self) -> FilmSheet {
        FilmSheet {
            name: self.name.clone(),
            image: self.image(),
            turned: self.turned,
            page: Size::new(Length::mm(self.page_width_mm), Length::mm(self.page_height_mm)),
            printable: PxRect::default(),
            image_x: self.image_x_px,
            image_y: self.image_y_px,
        }
    }
}

impl PlanMark {
    /// A mark on a sheet.
    pub(crate) fn new(sheet: &str, kind: &str, at: PxRect) -> Self {
        let PxRect { x, y, width, height } = at;
        let (sheet, kind) = (sheet.into(), kind.into());
        Self { sheet, kind, x_px: x, y_px: y, width_px: width, height_px: height }
    }

    /// Where it is on the film.
    pub fn place(&self) -> PxRect {
        PxRect::new(self.x_px, self.y_px, self.width_px, self.height_px)
    }
}

/// Millimetres to a millionth, so that 330.2 is not written as 330.19999999999999.
fn round(length: Length) -> f64 {
    (length.to_mm() * 1e6).round() / 1e6
}
