use measure::{Length, Point, Rect};

/// An outline grown by a bleed, ready to be scanned row by row.
///
/// The grown shape is exact: all places whose Euclidean distance from the outline's inside is at
/// most the bleed.
#[derive(Clone, Debug)]
pub struct Silhouette {
    /// The outline's edges in millimetres.
    edges: Vec<[(f64, f64); 2]>,
    bleed_mm: f64,
}

impl Silhouette {
    /// The closed `outline`, grown by `bleed`.
    pub fn new(outline: &[Point], bleed: Length) -> Self {
        let mm = |p: &Point| (p.x.to_mm(), p.y.to_mm());
        let next = outline.iter().cycle().skip(1);
        let edges = outline.iter().zip(next).map(|(p, q)| [mm(p), mm(q)]).collect();
        Self { edges, bleed_mm: bleed.to_mm().max(0.0) }
    }

    /// The stretches of the horizontal line at `y` that lie inside, from left to right and
    /// disjoint.
    pub fn spans(&self, y: Length) -> Vec<(Length, Length)> {
        let y_mm = y.to_mm();
        let mut spans = self.inside(y_mm);
        if self.bleed_mm > 0.0 {
            spans.extend(self.edges.iter().filter_map(|e| capsule(*e, self.bleed_mm, y_mm)));
        }
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut out: Vec<(f64, f64)> = Vec::new();
        for (l, r) in spans {
            match out.last_mut() {
                Some(last) if l <= last.1 => last.1 = last.1.max(r),
                _ => out.push((l, r)),
            }
        }
        out.into_iter().map(|(l, r)| (Length::mm(l), Length::mm(r))).collect()
    }

    /// Whether a place lies inside.
    pub fn contains(&self, p: Point) -> bool {
        self.spans(p.y).iter().any(|(l, r)| *l <= p.x && p.x <= *r)
    }

    /// The upright rectangle around it.
    pub fn bounds(&self) -> Rect {
        let start = (f64::MAX, f64::MAX, f64::MIN, f64::MIN);
        let (l, t, r, b) = self
            .edges
            .iter()
            .fold(start, |(l, t, r, b), [(x, y), _]| (l.min(*x), t.min(*y), r.max(*x), b.max(*y)));
        if self.edges.is_empty() {
            return Rect::default();
        }
        let at = |x, y| Point::new(Length::mm(x), Length::mm(y));
        Rect::between(at(l, t), at(r, b)).grown(Length::mm(self.bleed_mm))
    }

    /// The spans of the outline itself, by the even-odd rule.
    fn inside(&self, y: f64) -> Vec<(f64, f64)> {
        let mut at: Vec<f64> = self
            .edges
            .iter()
            .filter(|[p, q]| (p.1 <= y) != (q.1 <= y))
            .map(|[p, q]| p.0 + (y - p.1) / (q.1 - p.1) * (q.0 - p.0))
            .collect();
        at.sort_by(f64::total_cmp);
        at.chunks_exact(2).map(|c| (c[0], c[1])).collect()
    }
}

/// Where the line at `y` runs within `radius` of an edge: one span, since a capsule is convex.
fn capsule([p, q]: [(f64, f64); 2], radius: f64, y: f64) -> Option<(f64, f64)> {
    if y < p.1.min(q.1) - radius || y > p.1.max(q.1) + radius {
        return None;
    }
    let mut span: Option<(f64, f64)> = None;
    let mut add = |l: f64, r: f64| {
        span = Some(span.map_or((l, r), |(a, b)| (a.min(l), b.max(r))));
    };
    for c in [p, q] {
        let half = radius * radius - (y - c.1) * (y - c.1);
        if half >= 0.0 {
            add(c.0 - half.sqrt(), c.0 + half.sqrt());
        }
    }
    // Between the two discs lies a band along the edge.
    let (dx, dy) = (q.0 - p.0, q.1 - p.1);
    let long = dx.hypot(dy);
    if long > 0.0 {
        let (nx, ny) = (-dy / long * radius, dx / long * radius);
        let corners = [
            (p.0 + nx, p.1 + ny),
            (q.0 + nx, q.1 + ny),
            (q.0 - nx, q.1 - ny),
            (p.0 - nx, p.1 - ny),
        ];
        for i in 0..4 {
            let (a, b) = (corners[i], corners[(i + 1) % 4]);
            if (a.1 <= y) != (b.1 <= y) {
                let x = a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0);
                add(x, x);
            }
        }
    }
    span
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Garment;

    #[test]
    fn a_square_grows_round_corners() {
        let square: Vec<Point> = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]
            .map(|(x, y)| Point::new(Length::mm(x), Length::mm(y)))
            .into();
        let grown = Silhouette::new(&square, Length::mm(5.0));
        let row = |y| {
            grown
                .spans(Length::mm(y))
                .iter()
                .map(|(l, r)| (l.to_mm(), r.to_mm()))
                .collect::<Vec<_>>()
        };
        assert_eq!(row(5.0), [(-5.0, 15.0)]);
        // At 3 mm above the corner's centre, a circle of 5 mm is 4 mm wide: 3-4-5.
        let corner = row(-3.0);
        assert_eq!(corner.len(), 1);
        assert!((corner[0].0 + 4.0).abs() < 1e-9 && (corner[0].1 - 14.0).abs() < 1e-9);
        assert!(row(-5.01).is_empty());
    }

    #[test]
    fn spans_agree_with_the_distance_to_the_outline() {
        arbtest::arbtest(|u| {
            let names = Garment::names();
            let garment = Garment::named(u.choose(&names)?).unwrap();
            let bleed_mm = f64::from(u.int_in_range(0..=40_u8)?);
            let grown = garment.silhouette(Length::mm(bleed_mm));
            let bounds = grown.bounds();
            let x =
                bounds.left() + bounds.size.width * (f64::from(u.arbitrary::<u16>()?) / 65536.0);
            let y =
                bounds.top() + bounds.size.height * (f64::from(u.arbitrary::<u16>()?) / 65536.0);
            let p = Point::new(x, y);
            let far = distance(&garment.outline(), p);
            if (far - bleed_mm).abs() > 1e-6 && far.abs() > 1e-6 {
                assert_eq!(grown.contains(p), far < bleed_mm, "{} {p:?} {far}", garment.name);
            }
            Ok(())
        });
    }

    /// Millimetres from the outline; negative inside. Straight from the definition.
    fn distance(outline: &[Point], p: Point) -> f64 {
        let (px, py) = (p.x.to_mm(), p.y.to_mm());
        let (mut best, mut inside) = (f64::MAX, false);
        for (a, b) in outline.iter().zip(outline.iter().cycle().skip(1)) {
            let (ax, ay, bx, by) = (a.x.to_mm(), a.y.to_mm(), b.x.to_mm(), b.y.to_mm());
            let (dx, dy) = (bx - ax, by - ay);
            let t = (((px - ax) * dx + (py - ay) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
            best = best.min((px - ax - t * dx).hypot(py - ay - t * dy));
            if (ay > py) != (by > py) && px < ax + (py - ay) / (by - ay) * (bx - ax) {
                inside = !inside;
            }
        }
        if inside { -best } else { best }
    }
}
