use crate::PxRect;

/// Where a sheet's image has ink, by square cells: enough to find room for a mark.
#[derive(Clone, Debug)]
pub(crate) struct Ink {
    /// The image on the film.
    image: PxRect,
    /// The side of a cell in pixels.
    cell: u32,
    across: usize,
    /// One for a cell with ink, row by row.
    cells: Vec<bool>,
}

impl Ink {
    pub(crate) fn new(image: PxRect, cell: u32) -> Self {
        let count = |px: i64| (px as usize).div_ceil(cell as usize);
        let across = count(image.width);
        Self { image, cell, across, cells: vec![false; across * count(image.height)] }
    }

    /// Takes in row `y` of the image by its colour changes.
    pub(crate) fn add_row(&mut self, y: u32, changes: &[u32]) {
        let row = &mut self.cells[(y / self.cell) as usize * self.across..][..self.across];
        let mut from = 0;
        for run in bitmap::runs(changes, self.image.width as u32) {
            let first = (run.start / self.cell) as usize;
            let end = run.end.div_ceil(self.cell) as usize;
            // Fine dots come many to a cell, one after the other.
            if end > from {
                row[first.max(from)..end].fill(true);
                from = end;
            }
        }
    }

    /// Takes in another film's ink on the same sheet.
    pub(crate) fn merge(&mut self, other: &Self) {
        for (mine, theirs) in self.cells.iter_mut().zip(&other.cells) {
            *mine |= theirs;
        }
    }

    /// Counts of cells with ink, ready to be asked for any rectangle.
    pub(crate) fn counts(&self) -> InkCounts {
        let down = self.cells.len() / self.across.max(1);
        let wide = self.across + 1;
        let mut sums = vec![0; wide * (down + 1)];
        for y in 0..down {
            let mut row = 0;
            for x in 0..self.across {
                row += u32::from(self.cells[y * self.across + x]);
                sums[(y + 1) * wide + x + 1] = sums[y * wide + x + 1] + row;
            }
        }
        InkCounts { image: self.image, cell: self.cell.into(), wide, sums }
    }
}

/// How many cells with ink lie left of and above each corner of the cells.
pub(crate) struct InkCounts {
    image: PxRect,
    cell: i64,
    wide: usize,
    sums: Vec<u32>,
}

impl InkCounts {
    /// How many cells with ink a part of the film touches, as far as this sheet shows it.
    pub(crate) fn count(&self, part: PxRect) -> u32 {
        let part = part.intersect(self.image).moved(-self.image.x, -self.image.y);
        if part.area() == 0 {
            return 0;
        }
        let [x0, y0] = [part.x, part.y].map(|px| (px / self.cell) as usize);
        let [x1, y1] =
            [part.right(), part.bottom()].map(|px| (px as usize).div_ceil(self.cell as usize));
        let at = |x: usize, y: usize| self.sums[y * self.wide + x];
        at(x1, y1) + at(x0, y0) - at(x0, y1) - at(x1, y0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_those_of_the_cells_touched() {
        let image = PxRect::new(100, 50, 37, 25);
        let mut ink = Ink::new(image, 4);
        ink.add_row(3, &[5, 6, 7, 9, 30]);
        ink.add_row(24, &[0, 1]);
        let counts = ink.counts();
        // Cells 1, 2, 7, 8 and 9 of the first row of cells, and the last row's first.
        for (part, count) in [
            (image, 6),
            (PxRect::new(0, 0, 1000, 1000), 6),
            (PxRect::new(104, 50, 4, 4), 1),
            (PxRect::new(100, 50, 4, 20), 0),
            (PxRect::new(107, 53, 2, 1), 2),
            (PxRect::new(128, 50, 9, 4), 3),
            (PxRect::new(100, 74, 1, 1), 1),
            (PxRect::new(90, 74, 10, 1), 0),
        ] {
            assert_eq!(counts.count(part), count, "{part:?}");
        }
    }
}
