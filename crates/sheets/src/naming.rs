use crate::{Placed, Sheet};

/// Puts sheets into rows from top to bottom, each from left to right, and names them by row
/// letter and number.
pub(crate) fn name(mut placed: Vec<(Placed, bool)>) -> Vec<Sheet> {
    let middle = |p: &Placed| p.rect.center();
    placed.sort_by(|(a, _), (b, _)| {
        let (a, b) = (middle(a), middle(b));
        a.y.to_mm().total_cmp(&b.y.to_mm()).then(a.x.to_mm().total_cmp(&b.x.to_mm()))
    });
    let mut rows: Vec<Vec<(Placed, bool)>> = Vec::new();
    for sheet in placed {
        // A row holds the sheets whose middle lies within the upper half of its first.
        match rows.last_mut() {
            Some(row)
                if middle(&sheet.0).y - middle(&row[0].0).y < row[0].0.rect.size.height / 2.0 =>
            {
                row.push(sheet);
            }
            _ => rows.push(vec![sheet]),
        }
    }
    let mut out = Vec::new();
    for (i, mut row) in rows.into_iter().enumerate() {
        row.sort_by(|(a, _), (b, _)| middle(a).x.to_mm().total_cmp(&middle(b).x.to_mm()));
        let letter = letters(i);
        out.extend(row.into_iter().enumerate().map(|(j, (placed, pinned))| Sheet {
            name: format!("{letter}{}", j + 1),
            placed,
            pinned,
        }));
    }
    out
}

/// A, B, ... Z, AA, AB, ...
fn letters(mut i: usize) -> String {
    let mut out = String::new();
    loop {
        out.insert(0, char::from(b'A' + (i % 26) as u8));
        if i < 26 {
            return out;
        }
        i = i / 26 - 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::{Length, Point, Rect, Size};

    #[test]
    fn rows_have_letters() {
        assert_eq!(
            [0, 25, 26, 51, 52, 701, 702].map(letters),
            ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
        );
        let at = |x, y| {
            let mm = Length::mm;
            let rect = Rect::new(Point::new(mm(x), mm(y)), Size::new(mm(10.0), mm(20.0)));
            (Placed { rect, stock: 0, turned: false }, false)
        };
        let named = name(vec![at(9.0, 1.0), at(0.0, 19.0), at(0.0, 0.0), at(18.0, -3.0)]);
        let got: Vec<_> =
            named.iter().map(|s| (s.name.as_str(), s.placed.rect.left().to_mm())).collect();
        assert_eq!(got, [("A1", 0.0), ("A2", 9.0), ("A3", 18.0), ("B1", 0.0)]);
    }
}
