use crate::figure::number;
use crate::settings::{check_length, check_number};
use crate::*;
use measure::{Angle, Length, Rect, Resolution, Ruling, Size, Unit};
use serde::{Deserialize, Serialize};

/// Everything a shop sets once and keeps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ShopSettings {
    /// The unit that lengths are shown in.
    pub unit: Unit,
    /// What prices are in.
    pub currency: String,
    /// The mesh to print with.
    pub mesh: Mesh,
    /// The meshes at hand.
    pub meshes: Vec<Mesh>,
    /// The frames at hand.
    pub frames: Vec<ShelfFrame>,
    /// The name of the frame to use; a new one is built if there is none of that name.
    pub use_frame: Option<String>,
    /// The boards at hand or on sale.
    pub boards: Vec<Board>,
    /// How mesh is judged.
    pub mesh_rules: MeshSettings,
    /// How a frame is built and covered.
    pub frame: FrameSettings,
    /// How wood is cut.
    pub lumber: LumberSettings,
    /// The lamp.
    pub lamp: Lamp,
    /// Emulsion and film.
    pub exposure: ExposureSettings,
    /// Exposure in parts.
    pub parts: PartsSettings,
    /// The test strip.
    pub strip: StripSettings,
    /// The table.
    pub laydown: LaydownSettings,
    /// The squeegee.
    pub squeegee: SqueegeeSettings,
    /// The ink.
    pub ink: InkSettings,
    /// Prices.
    pub cost: CostSettings,
    /// The steps of work.
    pub steps: Vec<Step>,
}

impl Default for ShopSettings {
    fn default() -> Self {
        Self {
            unit: Unit::In,
            currency: "USD".into(),
            mesh: Mesh::new(43.0, 80.0),
            meshes: common_meshes(),
            frames: Vec::new(),
            use_frame: None,
            boards: vec![
                Board { length: Length::inches(96.0), at_hand: None, price: 0.0 },
                Board { length: Length::inches(120.0), at_hand: None, price: 0.0 },
            ],
            mesh_rules: MeshSettings::default(),
            frame: FrameSettings::default(),
            lumber: LumberSettings::default(),
            lamp: Lamp::default(),
            exposure: ExposureSettings::default(),
            parts: PartsSettings::default(),
            strip: StripSettings::default(),
            laydown: LaydownSettings::default(),
            squeegee: SqueegeeSettings::default(),
            ink: InkSettings::default(),
            cost: CostSettings::default(),
            steps: common_steps(),
        }
    }
}

impl ShopSettings {
    /// Every group of numbers with its heading, to be shown and changed.
    pub fn groups(&mut self) -> Vec<(&'static str, Vec<Field<'_>>)> {
        vec![
            ("Mesh", self.mesh_rules.fields()),
            ("Frame", self.frame.fields()),
            ("Lumber", self.lumber.fields()),
            ("Lamp", self.lamp.fields()),
            ("Exposure", self.exposure.fields()),
            ("Exposure in parts", self.parts.fields()),
            ("Test strip", self.strip.fields()),
            ("Lay-down", self.laydown.fields()),
            ("Squeegee", self.squeegee.fields()),
            ("Ink and cure", self.ink.fields()),
            ("Prices", self.cost.fields()),
        ]
    }

    /// The finest line or gap that the chosen mesh holds safely.
    pub fn finest_line(&self) -> Length {
        self.mesh.finest_line(&self.mesh_rules)
    }

    /// Refuses settings that are not finite or out of all reason.
    ///
    /// # Errors
    /// [`Error::Range`] for the first such number.
    pub fn check(&self) -> Result<(), Error> {
        let groups: [&dyn Settings; 11] = [
            &self.mesh_rules,
            &self.frame,
            &self.lumber,
            &self.lamp,
            &self.exposure,
            &self.parts,
            &self.strip,
            &self.laydown,
            &self.squeegee,
            &self.ink,
            &self.cost,
        ];
        groups.iter().try_for_each(|g| g.check())?;
        self.mesh.check()?;
        self.meshes.iter().try_for_each(Mesh::check)?;
        self.steps.iter().try_for_each(Step::check)?;
        let range = Length::cm(1.0)..=Length::cm(600.0);
        for f in &self.frames {
            check_length(&format!("inside of frame {}", f.name), f.inside.width, range.clone())?;
            check_length(&format!("inside of frame {}", f.name), f.inside.height, range.clone())?;
        }
        Ok(())
    }
}

/// What the film and the garment say about a job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JobFacts {
    /// The job's name.
    pub name: String,
    /// The film's size.
    pub film: Size,
    /// The film's resolution.
    pub resolution: Resolution,
    /// The sheets' printed parts on the film.
    pub sheets: Vec<Rect>,
    /// The size of a page, in words.
    pub stock: String,
    /// The overlaps of the sheets on the film.
    pub overlaps: Vec<Rect>,
    /// The black of the film that falls on the garment, in m²; of several sizes, on the one
    /// that takes most.
    pub ink_area_m2: f64,
    /// The finest line or gap of the art, where known.
    pub finest: Option<Length>,
    /// The halftone's ruling and angle, where there is one.
    pub halftone: Option<(Ruling, Angle)>,
    /// The garment's sizes printed with this screen, as they lie flat.
    pub garments: Vec<GarmentSize>,
    /// How many garments are wanted.
    pub quantity: u32,
    /// Which of the screens that print on each garment this is, counted from 1.
    pub screen: u32,
    /// How many screens print on each garment.
    pub screens: u32,
    /// How much of the film is black, in parts of it, for the plan's small picture.
    pub tones: Tones,
}

impl JobFacts {
    fn check(&self) -> Result<(), Error> {
        let range = Length::cm(1.0)..=Length::cm(500.0);
        check_length("width of the film", self.film.width, range.clone())?;
        check_length("height of the film", self.film.height, range)?;
        check_number("inked area", self.ink_area_m2, 0.0..=25.0, "m\u{b2}")?;
        check_number("resolution", self.resolution.to_ppi(), 10.0..=20_000.0, "ppi")?;
        check_number("number of garments", f64::from(self.quantity), 0.0..=1e6, "")?;
        check_number("number of screens", f64::from(self.screens), 1.0..=64.0, "")?;
        check_number("screen", f64::from(self.screen), 1.0..=f64::from(self.screens), "")?;
        if let Some(line) = self.finest {
            check_length("finest line", line, Length::ZERO..=Length::cm(500.0))?;
        }
        if let Some((ruling, angle)) = self.halftone {
            check_number("ruling", ruling.to_lpi(), 1.0..=1000.0, "lpi")?;
            check_number("halftone angle", angle.to_deg(), -360.0..=360.0, "degrees")?;
        }
        for g in &self.garments {
            let range = Length::cm(5.0)..=Length::cm(300.0);
            check_length(&format!("width of {}", g.name), g.half_chest, range.clone())?;
            check_length(&format!("length of {}", g.name), g.length, range)?;
            let far = -Length::cm(500.0)..=Length::cm(500.0);
            check_length("film's place across", g.film_at.x, far.clone())?;
            check_length("film's place below the collar", g.film_at.y, far)?;
            check_number("inked area", g.ink_area_m2, 0.0..=25.0, "m\u{b2}")?;
        }
        for rect in self.sheets.iter().chain(&self.overlaps) {
            let all = [rect.left(), rect.top(), rect.right(), rect.bottom()];
            let range = -Length::cm(1000.0)..=Length::cm(1000.0);
            all.into_iter().try_for_each(|l| check_length("place of a sheet", l, range.clone()))?;
        }
        Ok(())
    }
}

/// The whole shop plan of a job.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reckoning {
    /// The layout of this value in JSON; it grows when that changes.
    pub format: u32,
    /// The job's name.
    pub job: String,
    /// The unit that lengths are best shown in.
    pub unit: Unit,
    /// What prices are in.
    pub currency: String,
    /// The parts of the plan in the order of the work.
    pub sections: Vec<Section>,
    /// The film as it is cut into sheets; not in JSON.
    #[serde(skip)]
    pub film: Drawing,
    /// What overrides all of this.
    pub defer: &'static str,
}

impl Reckoning {
    /// The section of that key.
    pub fn section(&self, key: &str) -> Option<&Section> {
        self.sections.iter().find(|s| s.key == key)
    }
}

/// Reckons the whole shop plan. What does not work out in one part, such as too few
/// boards, is a warning there and stops nothing else.
///
/// # Errors
/// [`Error::Range`] if a number is out of all reason.
pub fn reckon(settings: &ShopSettings, job: &JobFacts) -> Result<Reckoning, Error> {
    settings.check()?;
    job.check()?;
    let unit = settings.unit;
    let mut sections = vec![film_section(job)];
    let ruling = job.halftone.map(|h| h.0);
    sections.push(mesh::section(
        &settings.mesh,
        &settings.meshes,
        job.finest,
        ruling,
        &settings.mesh_rules,
        unit,
    ));
    if let Some((ruling, angle)) = job.halftone {
        sections.push(halftone::section(ruling, angle, job.resolution, &settings.mesh, unit));
    }

    let chosen = settings.use_frame.as_ref();
    let shelf = chosen.and_then(|name| settings.frames.iter().find(|f| f.name == *name));
    let frame = match shelf {
        Some(f) => frame_around(f.inside, &settings.frame),
        None => plan_frame(job.film, &settings.frame)?,
    };
    let mut section = frame::section(
        job.film,
        &frame,
        shelf,
        &settings.frames,
        settings.squeegee.blade,
        &settings.frame,
        unit,
    );
    if let (Some(name), None) = (chosen, shelf) {
        section
            .warn(format!("There is no frame called {name} on the shelf; a new one is planned."));
    }
    sections.push(section);
    if shelf.is_none() {
        sections.push(lumber(&frame, settings));
    }

    let lit = expose(job, settings);
    sections.extend(lit.sections);

    sections.push(squeegee::section(job.film, &job.overlaps, &settings.squeegee, unit));
    sections.push(laydown::section(job.film, &frame, &job.garments, &settings.laydown, unit));
    sections.push(ink::section(
        job.ink_area_m2,
        &job.garments,
        job.quantity,
        &settings.mesh,
        &settings.mesh_rules,
        &settings.ink,
    ));

    let sheets = job.sheets.len() as u32;
    let counts = |garments| {
        let finished = if job.screen == job.screens { garments } else { 0 };
        Counts { sheets, exposures: lit.exposures, garments, finished }
    };
    let hands = |garment| hands_by_step(&settings.steps, counts(1), garment);
    let volume = settings.mesh.ink_volume(&settings.mesh_rules);
    let takes = Takes {
        sheets,
        mesh_m2: frame.mesh_piece.width.to_cm() * frame.mesh_piece.height.to_cm() / 1e4,
        ink_ml: ml_per_garment(job.ink_area_m2, volume, settings.ink.take_up),
        residue_ml: settings.ink.residue_ml,
        garment_steps: hands(true),
        screen_steps: hands(false),
    };
    let (costs, currency) = (&settings.cost, &settings.currency);
    sections.push(cost::section(&takes, job.quantity, job.screens, costs, currency));
    sections.push(timeline::section(&settings.steps, counts(job.quantity), Some(lit.secs)));

    for section in &mut sections {
        section.cautions = cautions(hazards(section.key));
    }
    Ok(Reckoning {
        format: 1,
        job: job.name.clone(),
        unit,
        currency: settings.currency.clone(),
        sections,
        film: thumbnail(job),
        defer: DEFER,
    })
}

fn lumber(frame: &FramePlan, settings: &ShopSettings) -> Section {
    match cut(&frame.pieces, &settings.boards, &settings.lumber) {
        Ok(plan) => lumber::section(&frame.pieces, &plan, &settings.lumber, settings.unit),
        Err(e) => troubled("lumber", "Lumber", &e),
    }
}

/// How the screen is exposed.
struct Lit {
    sections: [Section; 2],
    exposures: u32,
    /// How long each exposure is.
    secs: f64,
}

fn expose(job: &JobFacts, settings: &ShopSettings) -> Lit {
    let (lamp, known, unit) = (&settings.lamp, &settings.exposure, settings.unit);
    let seams = !job.overlaps.is_empty();
    let factor = if seams { seam_factor(known) } else { 1.0 };
    let all_secs =
        time_for_both(known.time_secs, factor, known.latitude).unwrap_or(known.time_secs);
    let half_diagonal = Length::mm(job.film.width.to_mm().hypot(job.film.height.to_mm()) / 2.0);
    let (section, exposures, secs, reach) = match plan_parts(job.film, lamp, &settings.parts) {
        Ok(plan) => {
            let secs = plan.secs_each(all_secs);
            let section = parts::section(
                job.film,
                &plan,
                lamp,
                (all_secs, factor, known.latitude),
                &settings.parts,
                unit,
            );
            (section, plan.exposures.len() as u32, secs, plan.reach())
        }
        Err(e) => (troubled("parts", "Exposure in parts", &e), 1, all_secs, half_diagonal),
    };
    let first = exposure::section(reach, seams, job.finest, lamp, known, unit);
    Lit { sections: [first, section], exposures, secs }
}

/// What can hurt in each part of the work.
fn hazards(key: &str) -> &'static [Hazard] {
    match key {
        "film" => &[Hazard::Blades],
        "frame" => &[Hazard::Blades, Hazard::Lifting],
        "lumber" => &[Hazard::Saws],
        "exposure" => &[Hazard::Light, Hazard::Mains, Hazard::Glass],
        "strokes" => &[Hazard::Lifting],
        "ink" => &[Hazard::Chemicals, Hazard::WasteWater, Hazard::Heat],
        _ => &[],
    }
}

fn troubled(key: &'static str, title: &str, error: &Error) -> Section {
    let mut s = Section::new(key, title);
    s.warn(format!("Not worked out: {error}; {}.", error.hint()));
    s
}

fn film_section(job: &JobFacts) -> Section {
    let mut s = Section::new("film", "Film");
    for (name, value) in [("width", job.film.width), ("height", job.film.height)] {
        s.add(name, Quantity::Length(value), "from the film", Source::Arithmetic);
    }
    let how = format!(
        "{} \u{d7} {} pixels",
        job.resolution.whole_px(job.film.width),
        job.resolution.whole_px(job.film.height)
    );
    let ppi = Quantity::Other(job.resolution.to_ppi(), "ppi");
    s.add("resolution", ppi, how, Source::Shop);
    let how = format!("pages of {}", job.stock);
    s.add("sheets", Quantity::Count(job.sheets.len() as u64), how, Source::Arithmetic);
    s.add(
        "overlaps",
        Quantity::Count(job.overlaps.len() as u64),
        "from the plan",
        Source::Arithmetic,
    );
    if let Some(line) = job.finest {
        let how = format!("{} pixels", number(job.resolution.px(line)));
        s.add("finest line or gap", Quantity::Fine(line), how, Source::Arithmetic);
    }
    s
}

fn thumbnail(job: &JobFacts) -> Drawing {
    let mut d = Drawing::new("The film and its sheets", job.film);
    // Where there is no ink, overlaps show through.
    for r in &job.overlaps {
        d.fill(*r, 0.25);
    }
    d.tones(&job.tones, 0.75);
    for (i, r) in job.sheets.iter().enumerate() {
        d.outline(*r, Pen::Thin);
        d.label(r.center(), (i + 1).to_string(), Anchor::Middle);
    }
    d.outline(d.area, Pen::Bold);
    d
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use measure::Point;

    pub(crate) fn job() -> JobFacts {
        let inch = Length::inches;
        let rect =
            |x, y, w, h| Rect::new(Point::new(inch(x), inch(y)), Size::new(inch(w), inch(h)));
        JobFacts {
            name: "Paper lanterns".into(),
            film: Size::new(inch(42.0), inch(36.0)),
            resolution: Resolution::ppi(300.0),
            sheets: (0..8)
                .map(|i| rect(f64::from(i % 4) * 10.5, f64::from(i / 4) * 18.0, 11.0, 18.5))
                .collect(),
            stock: "13 x 19 in".into(),
            overlaps: vec![rect(10.5, 0.0, 0.5, 36.0), rect(0.0, 18.0, 42.0, 0.5)],
            ink_area_m2: 0.31,
            finest: Some(Length::mm(0.8)),
            halftone: Some((Ruling::lpi(25.0), Angle::deg(22.5))),
            garments: vec![GarmentSize {
                name: "L".into(),
                half_chest: Length::cm(56.0),
                length: Length::cm(75.0),
                outline: vec![],
                film_at: Point::new(inch(-21.0), inch(-2.0)),
                ink_area_m2: 0.31,
            }],
            quantity: 20,
            screen: 1,
            screens: 1,
            tones: Tones { columns: 2, inked: vec![1.0, 0.0, 0.0, 0.25] },
        }
    }

    #[test]
    fn every_section_comes_out_and_says_how() {
        let r = reckon(&ShopSettings::default(), &job()).unwrap();
        let keys: Vec<&str> = r.sections.iter().map(|s| s.key).collect();
        assert_eq!(
            keys,
            [
                "film", "mesh", "halftone", "frame", "lumber", "exposure", "parts", "strokes",
                "laydown", "ink", "cost", "timeline"
            ]
        );
        for s in &r.sections {
            assert!(!s.figures.is_empty(), "{}", s.key);
            for f in &s.figures {
                assert!(!f.how.is_empty(), "{}: {}", s.key, f.name);
                assert!(!f.value.show(Unit::In).contains('?'), "{}: {}", s.key, f.name);
            }
            let mut names: Vec<&str> = s.figures.iter().map(|f| f.name.as_str()).collect();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), s.figures.len(), "{}: two figures of one name", s.key);
        }
        for caution in CAUTIONS {
            assert!(r.sections.iter().any(|s| s.cautions.contains(&caution)), "{}", caution.text);
        }
        let json = serde_json::to_string(&r).unwrap();
        assert!(!json.contains("null"), "a number is not finite");
        assert_eq!(
            json,
            serde_json::to_string(&reckon(&ShopSettings::default(), &job()).unwrap()).unwrap()
        );
    }

    #[test]
    fn settings_save_and_read_and_old_files_get_defaults() {
        let settings = ShopSettings::default();
        let json = serde_json::to_string(&settings).unwrap();
        assert_eq!(serde_json::from_str::<ShopSettings>(&json).unwrap(), settings);
        let old: ShopSettings = serde_json::from_str(r#"{"ink": {"density": 1.2}}"#).unwrap();
        assert_eq!((old.ink.density, old.ink.take_up), (1.2, 1.0));
    }

    #[test]
    fn every_default_is_in_its_range_and_has_its_sentence() {
        let mut settings = ShopSettings::default();
        settings.check().unwrap();
        let mut count = 0;
        for (group, fields) in settings.groups() {
            for f in fields {
                count += 1;
                assert!(f.about.ends_with('.'), "{group}: {}: {}", f.name, f.about);
            }
        }
        assert!(count > 60, "{count}");
    }

    #[test]
    fn nonsense_in_any_number_is_refused_with_a_hint() {
        let count: usize = ShopSettings::default().groups().iter().map(|g| g.1.len()).sum();
        let mut refused = 0;
        for wanted in 0..count {
            for bad in [f64::NAN, f64::INFINITY, -1e9, 1e12] {
                let mut settings = ShopSettings::default();
                let mut groups = settings.groups();
                let field = groups.iter_mut().flat_map(|g| &mut g.1).nth(wanted).unwrap();
                match &mut field.value {
                    FieldValue::Number(v, _) => **v = bad,
                    FieldValue::Length(v, _) => **v = Length::mm(bad),
                    FieldValue::Count(v, _) => **v = u32::MAX,
                    FieldValue::Switch(_) | FieldValue::Choice(_) => continue,
                }
                drop(groups);
                let error = reckon(&settings, &job()).unwrap_err();
                assert!(!error.hint().is_empty());
                refused += 1;
            }
        }
        assert!(refused > 240, "{refused}");
        for bad in [f64::NAN, f64::NEG_INFINITY, 0.0, 1e9] {
            let mut job = job();
            job.film.width = Length::mm(bad);
            assert!(reckon(&ShopSettings::default(), &job).is_err(), "{bad}");
        }
    }

    #[test]
    fn trouble_in_one_part_leaves_the_others() {
        let short = Board { length: Length::inches(20.0), at_hand: None, price: 0.0 };
        let mut settings = ShopSettings { boards: vec![short], ..ShopSettings::default() };
        let r = reckon(&settings, &job()).unwrap();
        let lumber = r.section("lumber").unwrap();
        assert!(lumber.warnings[0].contains("longer than the longest board"), "{lumber:?}");
        assert!(r.section("cost").is_some());
        settings.frames = vec![ShelfFrame {
            name: "big".into(),
            inside: Size::new(Length::cm(120.0), Length::cm(110.0)),
        }];
        settings.use_frame = Some("big".into());
        let r = reckon(&settings, &job()).unwrap();
        assert!(r.section("lumber").is_none());
    }
}
