//! In which order the sheets are joined, and what must measure right on the way.

use crate::Seam;
use measure::{Length, Point, Rect};

/// How a film is put together.
#[derive(Clone, Debug, PartialEq)]
pub struct Assembly {
    /// One join after the other.
    pub joins: Vec<Join>,
    /// Distances to check when all is taped.
    pub checks: Vec<Check>,
}

/// Two pieces joined into one.
#[derive(Clone, Debug, PartialEq)]
pub struct Join {
    /// The sheets of the piece that lies below.
    pub below: Vec<usize>,
    /// The sheets of the piece laid on it.
    pub above: Vec<usize>,
    /// The seams between the two, by number.
    pub seams: Vec<usize>,
    /// How long these are together.
    pub length: Length,
    /// Distances to check on the joined piece.
    pub checks: Vec<Check>,
}

/// A distance between two corners of sheets' images.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Check {
    /// From here.
    pub from: Point,
    /// To here.
    pub to: Point,
    /// What it must measure.
    pub distance: Length,
}

impl Assembly {
    /// The order for `sheets` with `seams` between them: small pieces first, and of those the
    /// ones with the shortest seams, so that the longest seams come last. Sheets that no seam
    /// joins stay apart.
    pub fn of(sheets: &[Rect], seams: &[Seam]) -> Self {
        let mut pieces: Vec<Vec<usize>> = (0..sheets.len()).map(|i| vec![i]).collect();
        let mut joins = Vec::new();
        while let Some((a, b)) = next(&pieces, seams) {
            let (seams, length) = between(&pieces[a], &pieces[b], seams);
            let above = pieces.remove(b);
            let below = std::mem::take(&mut pieces[a]);
            let mut joined = [below.as_slice(), &above].concat();
            joined.sort_unstable();
            let checks = checks(sheets, &joined);
            // The larger piece stays on the table.
            let swap = above.len() > below.len();
            let (below, above) = if swap { (above, below) } else { (below, above) };
            pieces[a] = joined;
            joins.push(Join { below, above, seams, length, checks });
        }
        let all: Vec<usize> = (0..sheets.len()).collect();
        Self { joins, checks: checks(sheets, &all) }
    }
}

/// The two pieces to join next.
fn next(pieces: &[Vec<usize>], seams: &[Seam]) -> Option<(usize, usize)> {
    let mut best = None;
    for a in 0..pieces.len() {
        for b in a + 1..pieces.len() {
            let (common, length) = between(&pieces[a], &pieces[b], seams);
            let sheets = pieces[a].len() + pieces[b].len();
            let worth = (sheets, length.to_mm());
            let better = |(least, _): &((usize, f64), (usize, usize))| {
                sheets.cmp(&least.0).then(worth.1.total_cmp(&least.1)).is_lt()
            };
            if !common.is_empty() && best.as_ref().is_none_or(better) {
                best = Some((worth, (a, b)));
            }
        }
    }
    best.map(|(_, pair)| pair)
}

/// The seams between two pieces, and their length.
fn between(a: &[usize], b: &[usize], seams: &[Seam]) -> (Vec<usize>, Length) {
    let joins = |seam: &&(usize, &Seam)| {
        let [low, high] = seam.1.between;
        (a.contains(&low) && b.contains(&high)) || (a.contains(&high) && b.contains(&low))
    };
    let all: Vec<(usize, &Seam)> = seams.iter().enumerate().collect();
    let common: Vec<&(usize, &Seam)> = all.iter().filter(joins).collect();
    let length = common
        .iter()
        .map(|(_, seam)| seam.points.windows(2).map(|p| distance(p[0], p[1])).sum::<Length>());
    (common.iter().map(|(i, _)| *i).collect(), length.sum())
}

fn distance(a: Point, b: Point) -> Length {
    Length::mm((a.x - b.x).to_mm().hypot((a.y - b.y).to_mm()))
}

/// Both diagonals and the four edges of a piece, between the outermost corners of its sheets.
fn checks(sheets: &[Rect], piece: &[usize]) -> Vec<Check> {
    let corner = |right: f64, down: f64| {
        let at = |i: &usize| {
            let s = sheets[*i];
            Point::new(
                if right > 0.0 { s.right() } else { s.left() },
                if down > 0.0 { s.bottom() } else { s.top() },
            )
        };
        let reach = |p: &Point| right * p.x.to_mm() + down * p.y.to_mm();
        piece.iter().map(at).reduce(|a, b| if reach(&b) > reach(&a) { b } else { a })
    };
    let corners = [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
    let pairs = [(0, 2), (1, 3), (0, 1), (1, 2), (2, 3), (3, 0)];
    let check = |(a, b): (usize, usize)| {
        let (from, to) = (corners[a]?, corners[b]?);
        Some(Check { from, to, distance: distance(from, to) })
    };
    pairs.into_iter().filter_map(check).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Risk;
    use measure::Size;

    #[test]
    fn pairs_come_first_and_the_long_seam_last() {
        let mm = Length::mm;
        let sheet =
            |x: f64, y: f64| Rect::new(Point::new(mm(x), mm(y)), Size::new(mm(300.0), mm(400.0)));
        // Two rows of two.
        let sheets = [sheet(0.0, 0.0), sheet(290.0, 0.0), sheet(0.0, 390.0), sheet(290.0, 390.0)];
        let seam = |a: usize, b: usize, from: (f64, f64), to: (f64, f64)| Seam {
            between: [a, b],
            points: [from, to].map(|(x, y)| Point::new(mm(x), mm(y))).into(),
            vertical: from.0 == to.0,
            cost: 0.0,
            straight_cost: 0.0,
            risk: Risk::default(),
        };
        let seams = [
            seam(0, 1, (295.0, 0.0), (295.0, 395.0)),
            seam(2, 3, (295.0, 395.0), (295.0, 790.0)),
            seam(0, 2, (0.0, 395.0), (295.0, 395.0)),
            seam(1, 3, (295.0, 395.0), (590.0, 395.0)),
        ];
        let got = Assembly::of(&sheets, &seams);
        let order: Vec<_> = got.joins.iter().map(|j| j.seams.clone()).collect();
        // The short seams of 295 mm join pairs; the long one of 790 mm goes through both rows.
        assert_eq!(order, [vec![2], vec![3], vec![0, 1]]);
        assert_eq!(got.joins[2].length, mm(790.0));
        assert_eq!((got.joins[2].below.len(), got.joins[2].above.len()), (2, 2));
        // The diagonal of 590 x 790 mm, by Pythagoras.
        let diagonal = got.checks[0].distance.to_mm();
        assert!((diagonal - (590.0_f64.powi(2) + 790.0_f64.powi(2)).sqrt()).abs() < 1e-9);
        assert!(got.checks[0].distance == got.checks[1].distance);
    }

    #[test]
    fn separate_pieces_stay_apart() {
        let none = Assembly::of(&[Rect::default(), Rect::default()], &[]);
        assert!(none.joins.is_empty());
    }
}
