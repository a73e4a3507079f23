use crate::Measurement::{
    Armhole, Chest, Cuff, Height, HoodHeight, HoodWidth, Inseam, LegOpening, Length as Long,
    NeckWidth, Rise, Shoulder, ShoulderDrop, Sleeve, Strap, Thigh, Waist, Width,
};
use crate::garment::{Garment, Shape};
use measure::{Length, Point};

/// Points on a quarter of a curved neckline or hood.
const CURVE: usize = 12;

/// The closed outline, clockwise from the left of the collar.
pub(crate) fn of(garment: &Garment) -> Vec<Point> {
    match garment.shape {
        Shape::Tote | Shape::Panel => panel(garment.get(Width), garment.get(Height)),
        Shape::Scarf => panel(garment.get(Width), garment.get(Width)),
        Shape::Trousers => leg(garment),
        Shape::Tank => tank(garment),
        Shape::Tee | Shape::LongSleeve | Shape::Hooded => sleeved(garment),
    }
}

fn panel(width: Length, height: Length) -> Vec<Point> {
    let x = width / 2.0;
    vec![
        Point::new(-x, Length::ZERO),
        Point::new(x, Length::ZERO),
        Point::new(x, height),
        Point::new(-x, height),
    ]
}

/// One leg: the outer seam runs straight down on the left, the inner from the crotch.
fn leg(g: &Garment) -> Vec<Point> {
    let (waist, thigh, rise) = (g.get(Waist), g.get(Thigh), g.get(Rise));
    let hem = rise + g.get(Inseam);
    let left = -(waist.max(thigh) / 2.0);
    let opening = g.get(LegOpening);
    // The opening sits under the middle of the thigh.
    let inset = (thigh - opening) / 2.0;
    vec![
        Point::new(left, Length::ZERO),
        Point::new(left + waist, Length::ZERO),
        Point::new(left + thigh, rise),
        Point::new(left + inset + opening, hem),
        Point::new(left + inset, hem),
        Point::new(left, rise),
    ]
}

fn tank(g: &Garment) -> Vec<Point> {
    let top = -g.neck_depth();
    let (neck, chest) = (g.get(NeckWidth) / 2.0, g.get(Chest) / 2.0);
    let outer = (neck + g.get(Strap)).min(chest);
    let pit = top + g.get(ShoulderDrop) + g.get(Armhole);
    let mut right = neckline(g);
    let shoulder = Point::new(
        outer,
        top + g.get(ShoulderDrop) * (g.get(Strap) / (chest - neck).max(Length::mm(1.0))),
    );
    // The armhole is a quarter ellipse that hollows towards the neck.
    for i in 0..=CURVE {
        let (s, c) = quarter(i);
        right.push(Point::new(
            outer + (chest - outer) * (1.0 - c),
            shoulder.y + (pit - shoulder.y) * s,
        ));
    }
    right.push(Point::new(chest, top + g.get(Long)));
    both_sides(right)
}

fn sleeved(g: &Garment) -> Vec<Point> {
    let top = -g.neck_depth();
    let (sin, cos) = g.sleeve_angle.sin_cos();
    let (sleeve, cuff, chest) = (g.get(Sleeve), g.get(Cuff), g.get(Chest) / 2.0);
    let shoulder = Point::new(g.get(Shoulder) / 2.0, top + g.get(ShoulderDrop));
    let cuff_top = shoulder + Point::new(sleeve * cos, sleeve * sin);
    let cuff_low = cuff_top + Point::new(-cuff * sin, cuff * cos);
    let pit = Point::new(chest, shoulder.y + g.get(Armhole));
    let mut right = if g.shape == Shape::Hooded { hood(g) } else { neckline(g) };
    right.extend([shoulder, cuff_top]);
    // A cuff that would lie inside the body leaves only what juts out.
    if cuff_low.x > chest {
        right.push(cuff_low);
    }
    right.extend([pit, Point::new(chest, top + g.get(Long))]);
    both_sides(right)
}

/// The neckline from the centre line to the right: half an ellipse.
fn neckline(g: &Garment) -> Vec<Point> {
    let (half, depth) = (g.get(NeckWidth) / 2.0, g.neck_depth());
    let at = |i| {
        let (s, c) = quarter(i);
        Point::new(half * s, -(depth * (1.0 - c)))
    };
    (0..=CURVE).map(at).collect()
}

/// The hood from the centre line to the right: half an ellipse upon the shoulders.
fn hood(g: &Garment) -> Vec<Point> {
    let (half, height, neck) = (g.get(HoodWidth) / 2.0, g.get(HoodHeight), g.get(NeckWidth) / 2.0);
    let top = -g.neck_depth();
    let at = |i| {
        let (s, c) = quarter(i);
        Point::new(half * s, top - height * c)
    };
    (0..=CURVE).map(at).chain([Point::new(neck, top)]).collect()
}

fn quarter(i: usize) -> (f64, f64) {
    (std::f64::consts::FRAC_PI_2 * i as f64 / CURVE as f64).sin_cos()
}

/// Mirrors the right half, given downwards from the centre line, to the left, and starts at
/// the left of the collar.
fn both_sides(right: Vec<Point>) -> Vec<Point> {
    let mirrored = right.iter().rev().map(|p| Point::new(-p.x, p.y));
    let mut all: Vec<Point> = right.iter().copied().chain(mirrored).collect();
    all.dedup();
    // Clockwise from the left of the collar: the last mirrored points up to the centre.
    let start = all.len() - CURVE - 1;
    all.rotate_left(start);
    all.dedup();
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Measurement;
    use measure::Angle;

    /// Twice the area, positive when clockwise on a page whose `y` runs down.
    fn turning(outline: &[Point]) -> f64 {
        let next = outline.iter().cycle().skip(1);
        outline
            .iter()
            .zip(next)
            .map(|(p, q)| p.x.to_mm() * q.y.to_mm() - q.x.to_mm() * p.y.to_mm())
            .sum()
    }

    #[test]
    fn outlines_run_clockwise_and_never_cross_themselves() {
        for name in Garment::names() {
            let outline = Garment::named(&name).unwrap().outline();
            assert!(turning(&outline) > 0.0, "{name}");
            let n = outline.len();
            for i in 0..n {
                for j in i + 2..n {
                    if (j + 1) % n != i {
                        let (a, b) = (outline[i], outline[(i + 1) % n]);
                        let (c, d) = (outline[j], outline[(j + 1) % n]);
                        assert!(!cross(a, b, c, d), "{name}: edges {i} and {j}");
                    }
                }
            }
        }
    }

    fn cross(a: Point, b: Point, c: Point, d: Point) -> bool {
        let side = |p: Point, q: Point, r: Point| {
            (q.x - p.x).to_mm() * (r.y - p.y).to_mm() - (q.y - p.y).to_mm() * (r.x - p.x).to_mm()
        };
        side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
    }

    #[test]
    fn a_tee_has_the_measured_extents() {
        // By hand: a sleeve of 9 in at 25 degrees reaches 9 cos 25 = 8.157 in beyond the shoulder.
        let mut tee = Garment::named("tee-2xl").unwrap();
        for (m, inches) in [
            (Measurement::Chest, 25.0),
            (Measurement::Length, 31.5),
            (Measurement::Shoulder, 21.5),
            (Measurement::Sleeve, 9.0),
            (Measurement::Cuff, 8.5),
            (Measurement::NeckWidth, 7.5),
            (Measurement::ShoulderDrop, 1.75),
            (Measurement::Armhole, 10.5),
        ] {
            tee.set(m, Length::inches(inches));
        }
        tee.sleeve_angle = Angle::deg(25.0);
        let outline = tee.outline();
        let right = outline.iter().map(|p| p.x.to_inches()).fold(f64::MIN, f64::max);
        assert!((right - (10.75 + 8.157)).abs() < 1e-3, "{right}");
        let low = outline.iter().map(|p| p.y.to_inches()).fold(f64::MIN, f64::max);
        let high = outline.iter().map(|p| p.y.to_inches()).fold(f64::MAX, f64::min);
        assert!((low - high - 31.5).abs() < 1e-9);
        // The origin is the collar's lowest point, on the centre line.
        assert!(outline.iter().any(|p| p.x.abs().to_mm() < 1e-9 && p.y.abs().to_mm() < 1e-9));
    }
}
