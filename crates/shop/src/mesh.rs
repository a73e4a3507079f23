use crate::figure::{number, show_length};
use crate::settings::{check_length, check_number, settings};
use crate::{Error, Quantity, Section, Source};
use measure::{Length, Ruling, Unit};
use serde::{Deserialize, Serialize};

/// A screen mesh of plain weave.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mesh {
    /// Threads in one centimetre. Mesh is woven metric; counts per inch are rounded.
    pub per_cm: f64,
    /// How thick one thread is before weaving.
    pub thread: Length,
    /// How thick the woven mesh is, where the supplier says so.
    pub thickness: Option<Length>,
}

settings! {
    /// How mesh is judged.
    pub struct MeshSettings {
        /// The finest line or gap that holds safely, in mesh pitches.
        safe_pitches: f64 = 3.0, "pitches", 1.0..=10.0, Source::Practice;
        /// The least number of threads for one halftone line.
        threads_per_line: f64 = 4.0, "threads", 1.0..=12.0,
            Source::Trade("3.5 to 5 is usual; exact prediction is impossible");
        /// Woven thickness over thread thickness, where the supplier gives none.
        thickness_ratio: f64 = 1.5, "times", 1.0..=2.2, Source::Trade("read off supplier tables");
    }
}

const OPENING: Source = Source::Arithmetic;

impl Mesh {
    /// A mesh by threads per centimetre and thread diameter in micrometres.
    pub const fn new(per_cm: f64, thread_um: f64) -> Self {
        Self { per_cm, thread: Length::mm(thread_um / 1000.0), thickness: None }
    }

    /// Refuses a mesh that cannot be woven.
    ///
    /// # Errors
    /// [`Error::Range`].
    pub fn check(&self) -> Result<(), Error> {
        check_number("mesh count", self.per_cm, 4.0..=250.0, "per cm")?;
        check_length("thread", self.thread, Length::mm(0.01)..=self.pitch() * 0.95)?;
        if let Some(thickness) = self.thickness {
            check_length("mesh thickness", thickness, self.thread..=self.thread * 2.2)?;
        }
        Ok(())
    }

    /// From the middle of one thread to the next.
    pub fn pitch(&self) -> Length {
        Length::cm(1.0 / self.per_cm)
    }
    /// Threads in one inch.
    pub fn per_inch(&self) -> f64 {
        self.per_cm * 2.54
    }
    /// The clear opening between two threads: pitch less thread.
    pub fn opening(&self) -> Length {
        self.pitch() - self.thread
    }
    /// The open part of the area, 0 to 1: (opening / pitch)².
    pub fn open_area(&self) -> f64 {
        (self.opening() / self.pitch()).powi(2)
    }
    /// How thick the woven mesh is.
    pub fn thickness(&self, settings: &MeshSettings) -> Length {
        self.thickness.unwrap_or(self.thread * settings.thickness_ratio)
    }
    /// The theoretical ink volume in cm³ per m²: open area × thickness in µm.
    /// One cm³ on one m² is a film 1 µm thick.
    pub fn ink_volume(&self, settings: &MeshSettings) -> f64 {
        self.open_area() * self.thickness(settings).to_mm() * 1000.0
    }
    /// The finest line or gap that holds safely.
    pub fn finest_line(&self, settings: &MeshSettings) -> Length {
        self.pitch() * settings.safe_pitches
    }
    /// The finest halftone ruling.
    pub fn finest_ruling(&self, settings: &MeshSettings) -> Ruling {
        Ruling::lpi(self.per_inch() / settings.threads_per_line)
    }
    /// The mesh in a printer's words.
    pub fn name(&self) -> String {
        let thread = number(self.thread.to_mm() * 1000.0);
        format!("{}/cm ({:.0}/in), thread {thread} \u{3bc}m", number(self.per_cm), self.per_inch())
    }
}

/// The meshes most shops keep, with typical threads (common practice, no source).
pub fn common_meshes() -> Vec<Mesh> {
    vec![
        Mesh::new(43.0, 80.0),
        Mesh::new(61.0, 64.0),
        Mesh::new(90.0, 48.0),
        Mesh::new(120.0, 40.0),
    ]
}

/// The coarsest mesh that holds the art, since it lays down most ink.
/// None if the art is too fine for all of them.
pub fn choose_mesh<'a>(
    meshes: &'a [Mesh],
    finest: Option<Length>,
    ruling: Option<Ruling>,
    settings: &MeshSettings,
) -> Option<&'a Mesh> {
    meshes
        .iter()
        .filter(|m| finest.is_none_or(|line| m.finest_line(settings).fits(line)))
        .filter(|m| ruling.is_none_or(|r| r <= m.finest_ruling(settings)))
        .min_by(|a, b| a.per_cm.total_cmp(&b.per_cm))
}

/// The mesh section of the plan.
pub(crate) fn section(
    mesh: &Mesh,
    shelf: &[Mesh],
    finest: Option<Length>,
    ruling: Option<Ruling>,
    settings: &MeshSettings,
    unit: Unit,
) -> Section {
    let um = |l: Length| number(l.to_mm() * 1000.0);
    let mut s = Section::new("mesh", "Mesh");
    s.add("mesh", Quantity::Words(mesh.name()), "chosen", Source::Shop);
    let pitch = format!("10 000 / {} per cm = {} \u{3bc}m", number(mesh.per_cm), um(mesh.pitch()));
    s.add("pitch", Quantity::Fine(mesh.pitch()), pitch, Source::Arithmetic);
    let opening = format!("pitch - thread = {} - {} \u{3bc}m", um(mesh.pitch()), um(mesh.thread));
    s.add("opening", Quantity::Fine(mesh.opening()), opening, OPENING);
    let open =
        format!("(opening / pitch)\u{b2} = ({} / {})\u{b2}", um(mesh.opening()), um(mesh.pitch()));
    s.add("open area", Quantity::Share(mesh.open_area()), open, OPENING);
    let (thickness, from) = match mesh.thickness {
        Some(_) => ("supplier's sheet".to_owned(), Source::Shop),
        None => (
            format!("{} \u{d7} thread", number(settings.thickness_ratio)),
            Source::Trade("read off supplier tables"),
        ),
    };
    s.add("thickness", Quantity::Fine(mesh.thickness(settings)), thickness, from);
    let volume = format!(
        "open area \u{d7} thickness = {} \u{d7} {} \u{3bc}m",
        number(mesh.open_area()),
        um(mesh.thickness(settings))
    );
    let v = Quantity::Other(mesh.ink_volume(settings), "cm\u{b3}/m\u{b2}");
    s.add("theoretical ink volume", v, volume, Source::Arithmetic);
    let line = mesh.finest_line(settings);
    let how = format!("{} \u{d7} pitch", number(settings.safe_pitches));
    s.add("finest safe line", Quantity::Fine(line), how, Source::Practice);
    let how = format!("{:.1} per in / {}", mesh.per_inch(), number(settings.threads_per_line));
    let lpi = mesh.finest_ruling(settings);
    let source = Source::Trade("3.5 to 5 threads a line is usual");
    s.add("finest ruling", Quantity::Other(lpi.to_lpi(), "lpi"), how, source);

    let better = choose_mesh(shelf, finest, ruling, settings);
    let instead = better.map_or("no mesh on the shelf holds it".to_owned(), |m| {
        format!("{} would hold it", m.name())
    });
    if let Some(art) = finest {
        if art < mesh.pitch() {
            s.warn(format!(
                "The finest line, {}, is thinner than one mesh pitch and will fall out; {instead}.",
                show_fine(art, unit)
            ));
        } else if !line.fits(art) {
            s.warn(format!(
                "The finest line, {}, is under the safe {}; it may saw-tooth or close; {instead}.",
                show_fine(art, unit),
                show_fine(line, unit)
            ));
        }
    }
    if let Some(r) = ruling.filter(|r| *r > lpi) {
        s.warn(format!(
            "A ruling of {} lpi is finer than this mesh holds, {}; {instead}.",
            number(r.to_lpi()),
            number(lpi.to_lpi())
        ));
    }
    if let Some(m) = better.filter(|m| m.per_cm < mesh.per_cm) {
        s.note(format!("{} would hold the art too and lay down more ink.", m.name()));
    }
    s
}

fn show_fine(length: Length, unit: Unit) -> String {
    if length < Length::mm(1.0) {
        format!("{} mm", number(length.to_mm()))
    } else {
        show_length(length, unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Per cm, thread µm: opening µm, open %, pitch µm, three pitches mm.
    /// Computed from w = 10000/n - d, the formula of mesh makers' handbooks.
    const TABLE: [(f64, f64, f64, f64, f64, f64); 4] = [
        (43.0, 80.0, 152.6, 43.0, 233.0, 0.70),
        (61.0, 64.0, 99.9, 37.2, 164.0, 0.49),
        (90.0, 48.0, 63.1, 32.3, 111.0, 0.33),
        (120.0, 40.0, 43.3, 27.0, 83.0, 0.25),
    ];

    #[test]
    fn openings_and_areas_match_the_table() {
        let settings = MeshSettings::default();
        for (per_cm, d, w, area, pitch, line) in TABLE {
            let m = Mesh::new(per_cm, d);
            assert!((m.opening().to_mm() * 1000.0 - w).abs() < 0.06, "{per_cm}");
            assert!((m.open_area() * 100.0 - area).abs() < 0.06, "{per_cm}");
            assert!((m.pitch().to_mm() * 1000.0 - pitch).abs() < 0.6, "{per_cm}");
            assert!((m.finest_line(&settings).to_mm() - line).abs() < 0.006, "{per_cm}");
        }
        // Trade text: 43/80 is 43 % open and 120/40 is 25 %, within two points.
        assert!((Mesh::new(120.0, 40.0).open_area() - 0.25).abs() < 0.021);
    }

    #[test]
    fn a_suppliers_sheet_agrees_within_its_tolerance() {
        // A supplier's data sheet for 90/cm, threads 40, 48 and 54 µm:
        // openings 73, 65, 59; 42, 33, 27 % open; 59, 72, 84 thick; 25, 24, 23 cm³/m².
        let rows = [
            (40.0, 73.0, 42.0, 59.0, 25.0),
            (48.0, 65.0, 33.0, 72.0, 24.0),
            (54.0, 59.0, 27.0, 84.0, 23.0),
        ];
        for (d, w, area, thick, volume) in rows {
            let mut m = Mesh::new(90.0, d);
            m.thickness = Some(Length::mm(thick / 1000.0));
            assert!((m.opening().to_mm() * 1000.0 - w).abs() < 3.0, "thread {d}");
            assert!((m.open_area() * 100.0 - area).abs() < 2.0, "thread {d}");
            assert!((m.ink_volume(&MeshSettings::default()) - volume).abs() < 1.5, "thread {d}");
        }
    }

    #[test]
    fn exact_inch_counts() {
        // NIST SP 811: 1 in = 2.54 cm.
        for (inch, cm) in [(110.0, 43.31), (156.0, 61.42), (230.0, 90.55), (305.0, 120.08)] {
            assert!((Mesh::new(cm, 40.0).per_inch() - inch).abs() < 0.02);
        }
    }

    #[test]
    fn rulings_and_lines_choose_the_mesh() {
        let settings = MeshSettings::default();
        let shelf = common_meshes();
        // Count / 4: 110, 156, 230 and 305 per inch hold 27.5, 39, 57.5 and 76.3 lpi.
        for (lpi, per_cm) in [(27.0, 43.0), (38.0, 61.0), (57.0, 90.0), (76.0, 120.0)] {
            let m = choose_mesh(&shelf, None, Some(Ruling::lpi(lpi)), &settings).unwrap();
            assert_eq!(m.per_cm, per_cm);
        }
        assert!(choose_mesh(&shelf, None, Some(Ruling::lpi(90.0)), &settings).is_none());
        let fine = Some(Length::mm(0.4));
        assert_eq!(choose_mesh(&shelf, fine, None, &settings).unwrap().per_cm, 90.0);
        let s = section(&shelf[0], &shelf, fine, None, &settings, Unit::Mm);
        assert!(s.warnings[0].contains("90/cm"), "{:?}", s.warnings);
    }

    #[test]
    fn refuses_what_cannot_be_woven() {
        for m in [Mesh::new(f64::NAN, 40.0), Mesh::new(120.0, 90.0), Mesh::new(0.0, 40.0)] {
            assert!(m.check().is_err(), "{m:?}");
        }
    }
}
