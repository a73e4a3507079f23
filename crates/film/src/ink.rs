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
        for run in changes.chunks(2) {
            let first = (run[0] / self.cell) as usize;
            let end = run.get(1).map_or(self.across, |x| x.div_ceil(self.cell) as usize);
            // Fine dots come many to a cell, one after the other.
            if end > from {
                row[first.max(from)..end].fill(true);
                from = end;
            }
        }
    }

    /// Whether a part of the film, as far as this sheet shows it, is free of ink.
    pub(crate) fn clear(&self, part: PxRect) -> bool {
        self.count(part) == 0
    }

    /// How many cells with ink a part of the film touches.
    pub(crate) fn count(&self, part: PxRect) -> usize {
        let part = part.intersect(self.image).moved(-self.image.x, -self.image.y);
        if part.area() == 0 {
            return 0;
        }
        let cell = i64::from(self.cell);
        let columns = (part.x / cell) as usize..=((part.right() - 1) / cell) as usize;
        ((part.y / cell) as usize..=((part.bottom() - 1) / cell) as usize)
            .map(|y| {
                let row = &self.cells[y * self.across..][columns.clone()];
                row.iter().filter(|ink| **ink).count()
            })
            .sum()
    }
}
