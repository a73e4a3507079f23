use crate::sizes::{SIZES, typical};
use crate::{GarmentError, Measurement, Silhouette, outline};
use measure::{Angle, Length, Point, Unit};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What kind of garment it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shape {
    /// Short sleeves.
    Tee,
    /// Sleeves to the wrist.
    LongSleeve,
    /// Long sleeves and a hood.
    Hooded,
    /// No sleeves.
    Tank,
    /// One trousers leg, its outer seam on the left.
    Trousers,
    /// A bag's body, without its handles.
    Tote,
    /// A square scarf.
    Scarf,
    /// A plain rectangle of cloth.
    Panel,
}

impl Shape {
    /// All shapes.
    pub const ALL: [Self; 8] = [
        Self::Tee,
        Self::LongSleeve,
        Self::Hooded,
        Self::Tank,
        Self::Trousers,
        Self::Tote,
        Self::Scarf,
        Self::Panel,
    ];

    /// The shape's name, as in `long-sleeve-m`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Tee => "tee",
            Self::LongSleeve => "long-sleeve",
            Self::Hooded => "hooded",
            Self::Tank => "tank",
            Self::Trousers => "trousers",
            Self::Tote => "tote",
            Self::Scarf => "scarf",
            Self::Panel => "panel",
        }
    }

    /// Whether it comes in sizes S to 3XL.
    pub const fn sized(self) -> bool {
        !matches!(self, Self::Tote | Self::Scarf | Self::Panel)
    }

    /// Whether it has sleeves, whose angle can be set.
    pub const fn sleeved(self) -> bool {
        matches!(self, Self::Tee | Self::LongSleeve | Self::Hooded)
    }
}

/// Which face of the garment lies up, and so which neckline shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Face {
    /// The front, with its deeper neckline.
    #[default]
    Front,
    /// The back.
    Back,
}

/// A garment laid flat. The origin is where its centre line meets the collar's lowest point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Garment {
    /// A name such as `tee-2xl`, from which the measurements came.
    pub name: String,
    /// What kind of garment it is.
    pub shape: Shape,
    /// Which face lies up.
    #[serde(default)]
    pub face: Face,
    /// How far below the horizontal the sleeves point.
    #[serde(default)]
    pub sleeve_angle: Angle,
    /// The measurements. One that is missing has its typical value in size M.
    #[serde(default)]
    pub lengths: BTreeMap<Measurement, Length>,
}

impl Garment {
    /// A garment by name, such as `tee-2xl`; measurements are typical and meant to be edited.
    ///
    /// ```
    /// use garment::{Garment, Measurement};
    /// let mut tee = Garment::named("tee-2xl").ok_or("no such garment")?;
    /// tee.set(Measurement::Chest, measure::Length::inches(25.0));
    /// # Ok::<(), &str>(())
    /// ```
    pub fn named(name: &str) -> Option<Self> {
        let wanted = name.trim().to_ascii_lowercase();
        let (shape, size) = catalogue().find(|(shape, size)| called(*shape, *size) == wanted)?;
        let sleeve_angle = match shape {
            Shape::LongSleeve | Shape::Hooded => Angle::deg(50.0),
            _ => Angle::deg(25.0),
        };
        let lengths = typical(shape, size).into_iter().map(|(m, cm)| (m, Length::cm(cm))).collect();
        Some(Self { name: wanted, shape, face: Face::Front, sleeve_angle, lengths })
    }

    /// All names that [`Garment::named`] knows, in the order to offer them.
    pub fn names() -> Vec<String> {
        catalogue().map(|(shape, size)| called(shape, size)).collect()
    }

    /// The measurements that this shape has, in the order to take them.
    pub fn measurements(&self) -> Vec<(Measurement, Length)> {
        typical(self.shape, 1).into_iter().map(|(m, _)| (m, self.get(m))).collect()
    }

    /// One measurement; nought where the shape has none such.
    pub fn get(&self, measurement: Measurement) -> Length {
        self.lengths.get(&measurement).copied().unwrap_or_else(|| {
            let all = typical(self.shape, 1);
            let known = all.into_iter().find(|(m, _)| *m == measurement);
            known.map_or(Length::ZERO, |(_, cm)| Length::cm(cm))
        })
    }

    /// Overwrites one measurement.
    pub fn set(&mut self, measurement: Measurement, length: Length) {
        self.lengths.insert(measurement, length);
    }

    /// Whether the numbers make a garment at all.
    ///
    /// # Errors
    /// Where a length is not finite, beyond what any garment has, or contradicts another.
    pub fn check(&self) -> Result<(), GarmentError> {
        use Measurement::{Chest, NeckWidth, Shoulder};
        for (m, length) in self.measurements() {
            let cm = length.to_cm();
            let narrow = matches!(m, Measurement::ShoulderDrop | Measurement::NeckBack);
            let least = if narrow { 0.0 } else { 1.0 };
            if !(cm >= least && cm <= 500.0) {
                let least = if narrow { "0 cm" } else { "1 cm" };
                let shown = length.show(Unit::Cm);
                return Err(GarmentError::OutOfRange {
                    what: m.name(),
                    shown,
                    least,
                    most: "500 cm",
                });
            }
        }
        let angle = self.sleeve_angle.to_deg();
        if self.shape.sleeved() && !(0.0..=85.0).contains(&angle) {
            return Err(GarmentError::Angle(angle));
        }
        let pairs: &[_] = match self.shape {
            Shape::Tee | Shape::LongSleeve | Shape::Hooded => &[(Shoulder, NeckWidth)],
            Shape::Tank => &[(Chest, NeckWidth)],
            _ => &[],
        };
        let crossed = pairs.iter().find(|(wide, narrow)| self.get(*wide) <= self.get(*narrow));
        match crossed {
            Some((wide, narrow)) => {
                Err(GarmentError::Contradiction { wide: wide.name(), narrow: narrow.name() })
            }
            None => Ok(()),
        }
    }

    /// The closed outline, clockwise from the left of the collar; holes do not occur.
    pub fn outline(&self) -> Vec<Point> {
        outline::of(self)
    }

    /// The outline grown by `bleed` on all sides, ready to be scanned.
    pub fn silhouette(&self, bleed: Length) -> Silhouette {
        Silhouette::new(&self.outline(), bleed)
    }

    /// How far the collar's lowest point, the origin, lies below the collar's highest.
    pub fn neck_depth(&self) -> Length {
        match self.face {
            Face::Front => self.get(Measurement::NeckFront),
            Face::Back => self.get(Measurement::NeckBack),
        }
    }

    /// Where the centre line meets the hem.
    pub fn hem(&self) -> Point {
        let below = match self.shape {
            Shape::Tote | Shape::Panel => self.get(Measurement::Height),
            Shape::Scarf => self.get(Measurement::Width),
            Shape::Trousers => self.get(Measurement::Rise) + self.get(Measurement::Inseam),
            _ => self.get(Measurement::Length) - self.neck_depth(),
        };
        Point::new(Length::ZERO, below)
    }
}

fn catalogue() -> impl Iterator<Item = (Shape, usize)> {
    Shape::ALL.into_iter().flat_map(|shape| {
        let sizes = if shape.sized() { 0..SIZES.len() } else { 1..2 };
        sizes.map(move |size| (shape, size))
    })
}

fn called(shape: Shape, size: usize) -> String {
    if shape.sized() { format!("{}-{}", shape.name(), SIZES[size]) } else { shape.name().into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_makes_a_sound_garment() {
        let names = Garment::names();
        assert_eq!(names.len(), 5 * 6 + 3);
        for name in names {
            let garment = Garment::named(&name).unwrap();
            assert_eq!(garment.check(), Ok(()), "{name}");
            let text = serde_json::to_string(&garment).unwrap();
            assert_eq!(serde_json::from_str::<Garment>(&text).unwrap(), garment);
        }
        assert_eq!(Garment::named("TEE-2XL").unwrap().name, "tee-2xl");
        assert_eq!(Garment::named("cape-m"), None);
    }

    #[test]
    fn half_chests_lie_inside_the_charts() {
        // Ranges of retail regular-fit charts, centimetres (trade charts, no standard).
        let chart =
            [(46.0, 48.0), (51.0, 52.0), (56.0, 56.0), (60.0, 61.0), (66.0, 66.0), (71.0, 72.0)];
        for (size, (least, most)) in SIZES.iter().zip(chart) {
            let chest =
                Garment::named(&format!("tee-{size}")).unwrap().get(Measurement::Chest).to_cm();
            assert!((least - 1e-9..=most + 1e-9).contains(&chest), "{size}: {chest}");
        }
    }

    #[test]
    fn absurd_numbers_are_refused_with_a_hint() {
        let tee = Garment::named("tee-m").unwrap();
        for (m, length) in [
            (Measurement::Chest, Length::mm(f64::NAN)),
            (Measurement::Chest, Length::mm(-5.0)),
            (Measurement::Length, Length::mm(1e9)),
            (Measurement::NeckWidth, Length::cm(80.0)),
        ] {
            let mut tee = tee.clone();
            tee.set(m, length);
            let error = tee.check().unwrap_err();
            assert!(!error.to_string().is_empty() && !error.hint().is_empty());
        }
        let up = Garment { sleeve_angle: Angle::deg(-10.0), ..tee };
        assert_eq!(up.check(), Err(GarmentError::Angle(-10.0)));
    }

    #[test]
    fn what_a_saved_garment_lacks_is_typical() {
        let garment: Garment = serde_json::from_str(r#"{"name":"mine","shape":"tee"}"#).unwrap();
        assert_eq!(garment.get(Measurement::Chest), Length::cm(51.5));
        assert_eq!(garment.get(Measurement::HoodWidth), Length::ZERO);
    }
}
