use crate::settings::{choice, settings};
use crate::{Error, Source};
use measure::Length;

choice! {
    /// What kind of lamp lights the screen.
    pub enum LampKind {
        /// A bulb that shines alike in all directions, small beside its distance.
        #[default]
        Bulb = "small bulb",
        /// A flat lamp that shines most straight ahead (by the cosine), small beside its distance.
        Flat = "small flat lamp",
        /// A panel or a bank of tubes: an evenly bright rectangle.
        Panel = "panel",
        /// A tube or a strip of lights: a narrow bright rectangle.
        Strip = "strip",
    }
}

settings! {
    /// The lamp and where it stands, facing the screen.
    pub struct Lamp {
        /// What kind of lamp it is.
        kind: LampKind = LampKind::Bulb, "", (), Source::Shop;
        /// From the lamp to the emulsion.
        distance: Length = Length::mm(500.0), "", Length::mm(10.0)..=Length::mm(5000.0), Source::Shop;
        /// How wide the bright area is, across the stroke.
        width: Length = Length::mm(60.0), "", Length::mm(1.0)..=Length::mm(3000.0), Source::Shop;
        /// How long the bright area is, along the stroke.
        length: Length = Length::mm(60.0), "", Length::mm(1.0)..=Length::mm(3000.0), Source::Shop;
    }
}

impl Lamp {
    /// The light on the screen `x` across and `y` along from the lamp's axis, as a part
    /// of that on the axis.
    ///
    /// Bulb cos³ and flat lamp cos⁴ of the angle (inverse square and cosine laws); panel
    /// and strip by the configuration factor of a rectangle (Howell's catalogue, the
    /// element parallel to a rectangle, its normal through a corner).
    pub fn relative(&self, x: Length, y: Length) -> f64 {
        let h = self.distance.to_mm();
        let (x, y) = (x.to_mm(), y.to_mm());
        let cosine = h / (x * x + y * y + h * h).sqrt();
        match self.kind {
            LampKind::Bulb => cosine.powi(3),
            LampKind::Flat => cosine.powi(4),
            LampKind::Panel | LampKind::Strip => self.factor(x, y) / self.factor(0.0, 0.0),
        }
    }

    /// The configuration factor of the bright rectangle from a point of the screen, in mm.
    fn factor(&self, x: f64, y: f64) -> f64 {
        let h = self.distance.to_mm();
        let (a, b) = (self.width.to_mm() / 2.0, self.length.to_mm() / 2.0);
        let corner = |u: f64, v: f64| corner_factor(u / h, v / h);
        corner(x + a, y + b) - corner(x - a, y + b) - corner(x + a, y - b) + corner(x - a, y - b)
    }

    /// Whether the square of the distance holds within 1 %: the distance is at least five
    /// times the lamp's larger side (the five-times rule of photometry, from memory), and
    /// the lamp is no panel or strip.
    pub fn is_small(&self, distance: Length) -> bool {
        matches!(self.kind, LampKind::Bulb | LampKind::Flat)
            && (self.width.max(self.length) * 5.0).fits(distance)
    }

    /// The time at another distance: t₂ = t₁ (d₂ / d₁)², for small lamps only.
    ///
    /// # Errors
    /// [`Error::NotAPoint`] for a panel, a strip, or a lamp too near for its size.
    pub fn time_at(&self, secs: f64, distance: Length) -> Result<f64, Error> {
        if !self.is_small(self.distance.min(distance)) {
            return Err(Error::NotAPoint {
                lamp: self.kind.name(),
                distance: self.distance.min(distance).show(measure::Unit::Mm),
            });
        }
        Ok(secs * (distance / self.distance).powi(2))
    }

    /// The tangent of the flattest angle at which light reaches a point of the screen this
    /// far from the lamp's axis.
    pub fn flattest(&self, from_axis: Length) -> f64 {
        let half = self.width.to_mm().hypot(self.length.to_mm()) / 2.0;
        (from_axis.to_mm() + half) / self.distance.to_mm()
    }

    /// The side of the largest square, centred on the axis, whose corners still get `share`
    /// of the light on the axis.
    pub fn even_side(&self, share: f64) -> Length {
        let (mut low, mut high) = (0.0, self.distance.to_mm() * 40.0 + self.length.to_mm());
        // Forty halvings reach a hundredth of a micrometre.
        for _ in 0..40 {
            let side = (low + high) / 2.0;
            let half = Length::mm(side / 2.0);
            if self.relative(half, half) >= share { low = side } else { high = side }
        }
        Length::mm(low)
    }
}

fn corner_factor(a: f64, b: f64) -> f64 {
    let part = |p: f64, q: f64| {
        let root = (1.0 + p * p).sqrt();
        p / root * (q / root).atan()
    };
    (part(a, b) + part(b, a)) / (2.0 * std::f64::consts::PI)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lamp(kind: LampKind, w: f64, l: f64, h: f64) -> Lamp {
        Lamp { kind, distance: Length::mm(h), width: Length::mm(w), length: Length::mm(l) }
    }

    #[test]
    fn falls_off_by_cosines() {
        // 18.435 degrees: cos³ 0.8538, cos⁴ 0.8100; 45 degrees: 0.3536 and 0.25.
        for (tan, bulb, flat) in [(1.0 / 3.0, 0.8538, 0.81), (1.0, 0.3536, 0.25)] {
            let x = Length::mm(300.0 * tan);
            let at = |kind| lamp(kind, 10.0, 10.0, 300.0).relative(x, Length::ZERO);
            assert!((at(LampKind::Bulb) - bulb).abs() < 5e-5);
            assert!((at(LampKind::Flat) - flat).abs() < 5e-5);
        }
    }

    #[test]
    fn a_panel_matches_numerical_integration() {
        // scipy 1.17 integrate.dblquad of h²/(π r⁴) over the panel, epsrel 1e-12:
        // width, length, distance, x, y.
        let rows = [
            (400.0, 600.0, 300.0, 0.0, 0.0, 0.4433669963),
            (400.0, 600.0, 300.0, 300.0, 0.0, 0.1963702571),
            (400.0, 600.0, 300.0, 350.0, 450.0, 0.0557751551),
            (1000.0, 20.0, 250.0, 0.0, 0.0, 0.0383474754),
            (1000.0, 20.0, 250.0, 400.0, 300.0, 0.0067449906),
            (120.0, 120.0, 900.0, 300.0, 300.0, 0.0037797951),
        ];
        for (w, l, h, x, y, expected) in rows {
            let got = lamp(LampKind::Panel, w, l, h).factor(x, y);
            assert!((got - expected).abs() < 2e-10, "{w} {l} {h} {x} {y}: {got}");
        }
        // A small panel far away is a small flat lamp.
        let (x, y) = (Length::mm(700.0), Length::mm(400.0));
        let panel = lamp(LampKind::Panel, 5.0, 5.0, 1000.0).relative(x, y);
        let flat = lamp(LampKind::Flat, 5.0, 5.0, 1000.0).relative(x, y);
        assert!((panel - flat).abs() < 1e-5);
    }

    #[test]
    fn distance_scales_small_lamps_alone() {
        // 300 to 450 mm: 2.25 times.
        let small = lamp(LampKind::Bulb, 30.0, 30.0, 300.0);
        assert_eq!(small.time_at(100.0, Length::mm(450.0)), Ok(225.0));
        for kind in [LampKind::Panel, LampKind::Strip] {
            let error = lamp(kind, 30.0, 30.0, 300.0).time_at(100.0, Length::mm(450.0));
            assert!(error.unwrap_err().to_string().contains(kind.name()));
        }
        let near = lamp(LampKind::Bulb, 100.0, 100.0, 300.0);
        assert!(near.time_at(100.0, Length::mm(450.0)).is_err());
    }

    #[test]
    fn five_times_the_size_is_within_one_per_cent() {
        // The worst case: a flat lamp at five times its side against the exact rectangle.
        let exact = lamp(LampKind::Panel, 100.0, 100.0, 500.0).factor(0.0, 0.0);
        let point = 100.0 * 100.0 / (std::f64::consts::PI * 500.0 * 500.0);
        assert!((point / exact - 1.0).abs() < 0.015, "{}", point / exact);
    }

    #[test]
    fn the_even_square_ends_at_the_share() {
        for kind in [LampKind::Bulb, LampKind::Flat, LampKind::Panel, LampKind::Strip] {
            let l = lamp(kind, 300.0, 200.0, 400.0);
            let half = l.even_side(0.8) / 2.0;
            assert!((l.relative(half, half) - 0.8).abs() < 1e-6, "{kind:?}");
        }
    }
}
