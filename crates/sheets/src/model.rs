//! The problem in whole cells.
//!
//! For each cell c of the region, Q(c) is the bounding box of the region inside the window of
//! half-width overlap/2 around c; some sheet must contain Q(c). So a sheet counts half the
//! overlap less on each side where the region goes on past its edge, and where one sheet hands
//! over to the next both hold the full strip. Two sheets are linked where their intersection is
//! at least the overlap both ways.

use crate::request::{Pieces, Request};
use crate::{PlanError, Region};
use measure::{Length, Unit};

/// A box of whole cells, `x1, y1` exclusive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Cells {
    pub(crate) x0: i32,
    pub(crate) y0: i32,
    pub(crate) x1: i32,
    pub(crate) y1: i32,
}

impl Cells {
    pub(crate) const fn holds(self, o: Self) -> bool {
        self.x0 <= o.x0 && self.y0 <= o.y0 && self.x1 >= o.x1 && self.y1 >= o.y1
    }
    pub(crate) fn hull(self, o: Self) -> Self {
        Self {
            x0: self.x0.min(o.x0),
            y0: self.y0.min(o.y0),
            x1: self.x1.max(o.x1),
            y1: self.y1.max(o.y1),
        }
    }
    pub(crate) const fn width(self) -> i32 {
        self.x1 - self.x0
    }
    pub(crate) const fn height(self) -> i32 {
        self.y1 - self.y0
    }
    /// Whether two sheets share at least `overlap` cells both ways.
    pub(crate) fn linked(self, o: Self, overlap: i32) -> bool {
        self.x1.min(o.x1) - self.x0.max(o.x0) >= overlap
            && self.y1.min(o.y1) - self.y0.max(o.y0) >= overlap
    }
}

/// One way to lay a stock on the film: how many cells it can hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Kind {
    pub(crate) w: i32,
    pub(crate) h: i32,
    pub(crate) stock: usize,
    pub(crate) turned: bool,
}

/// The problem in whole cells.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    pub(crate) nx: i32,
    pub(crate) ny: i32,
    /// Half the overlap, in cells.
    pub(crate) half: i32,
    pub(crate) kinds: Vec<Kind>,
    /// The boxes that sheets must hold, none inside another, top to bottom.
    pub(crate) demands: Vec<Cells>,
    pub(crate) one_piece: bool,
}

/// The most sheets that are planned.
pub(crate) const MOST_SHEETS: u64 = 500;
const MOST_CELLS: u64 = 1 << 24;
/// Longer than any film that can be handled.
const ABSURD: Length = Length::mm(1e5);

impl Model {
    /// Checks a request and puts it into whole cells.
    pub(crate) fn new(request: &Request) -> Result<Self, PlanError> {
        let Region { cell, cells, .. } = &request.region;
        let sound = |what, length: Length, least: f64| {
            if length.to_mm() >= least && length <= ABSURD {
                Ok(())
            } else {
                Err(PlanError::Absurd { what, shown: length.show(Unit::Mm) })
            }
        };
        sound("a cell", *cell, 1e-3)?;
        sound("an overlap", request.overlap, 0.0)?;
        let number = u64::from(cells.width()) * u64::from(cells.height());
        if number > MOST_CELLS {
            return Err(PlanError::TooFine { cells: number, most: MOST_CELLS });
        }
        if request.stocks.is_empty() {
            return Err(PlanError::NoStock);
        }
        let half = (request.overlap / *cell / 2.0 - 1e-6).ceil().max(0.0) as i32;
        let mut kinds = Vec::new();
        for (i, stock) in request.stocks.iter().enumerate() {
            sound("a sheet's width", stock.size.width, 0.0)?;
            sound("a sheet's height", stock.size.height, 0.0)?;
            let m = stock.margins;
            for margin in [m.left, m.top, m.right, m.bottom] {
                sound("a margin", margin, 0.0)?;
            }
            let room = stock.printable();
            if !(room.width > Length::ZERO && room.height > Length::ZERO) {
                return Err(PlanError::NoRoom(stock.name.clone()));
            }
            let whole = |length: Length| (length / *cell + 1e-6).floor().min(1e6) as i32;
            let (w, h) = (whole(room.width), whole(room.height));
            if w.min(h) <= 2 * half {
                return Err(PlanError::OverlapTooWide {
                    overlap: request.overlap.show(Unit::Mm),
                    printable: room.width.min(room.height).show(Unit::Mm),
                    stock: stock.name.clone(),
                });
            }
            kinds.push(Kind { w, h, stock: i, turned: false });
            if w != h {
                kinds.push(Kind { w: h, h: w, stock: i, turned: true });
            }
        }
        let demands = demands(&request.region, half);
        if demands.is_empty() {
            return Err(PlanError::Nothing);
        }
        let one_piece = request.pieces == Pieces::One;
        let (nx, ny) = (cells.width() as i32, cells.height() as i32);
        Ok(Self { nx, ny, half, kinds, demands, one_piece })
    }

    /// The box around all demands.
    pub(crate) fn hull(&self) -> Cells {
        hull(&self.demands)
    }
}

/// The box around some boxes; there must be one.
pub(crate) fn hull(boxes: &[Cells]) -> Cells {
    boxes.iter().copied().reduce(Cells::hull).unwrap_or(Cells { x0: 0, y0: 0, x1: 0, y1: 0 })
}

/// The boxes Q(c) of all cells, less those inside another.
fn demands(region: &Region, half: i32) -> Vec<Cells> {
    let (nx, ny) = (region.cells.width() as i32, region.cells.height() as i32);
    let set = |x: i32, y: i32| region.cells.get(x as u32, y as u32);
    // How many cells are set above and left of each corner, to see full windows at once.
    let stride = nx as usize + 1;
    let mut sums = vec![0_u32; stride * (ny as usize + 1)];
    for y in 0..ny as usize {
        let mut row = 0;
        for x in 0..nx as usize {
            row += u32::from(set(x as i32, y as i32));
            sums[(y + 1) * stride + x + 1] = sums[y * stride + x + 1] + row;
        }
    }
    let count = |b: Cells| {
        let at = |x: i32, y: i32| i64::from(sums[y as usize * stride + x as usize]);
        at(b.x1, b.y1) - at(b.x0, b.y1) - at(b.x1, b.y0) + at(b.x0, b.y0)
    };
    let window = |x: i32, y: i32, by: i32| Cells {
        x0: (x - by).max(0),
        y0: (y - by).max(0),
        x1: (x + by + 1).min(nx),
        y1: (y + by + 1).min(ny),
    };
    let area = |b: Cells| i64::from(b.width()) * i64::from(b.height());
    let mut all: Vec<Option<Cells>> = vec![None; (nx * ny) as usize];
    for y in 0..ny {
        for x in 0..nx {
            if set(x, y) {
                let mut b = window(x, y, half);
                if count(b) < area(b) {
                    // Draw each side in until it touches the region; cell x, y stops them all.
                    while count(Cells { x1: b.x0 + 1, ..b }) == 0 {
                        b.x0 += 1;
                    }
                    while count(Cells { x0: b.x1 - 1, ..b }) == 0 {
                        b.x1 -= 1;
                    }
                    while count(Cells { y1: b.y0 + 1, ..b }) == 0 {
                        b.y0 += 1;
                    }
                    while count(Cells { y0: b.y1 - 1, ..b }) == 0 {
                        b.y1 -= 1;
                    }
                }
                all[(y * nx + x) as usize] = Some(b);
            }
        }
    }
    // A box inside another asks for nothing of its own. Only a cell within reach can have it.
    let full = (2 * half + 1) * (2 * half + 1);
    let mut out = Vec::new();
    for y in 0..ny {
        for x in 0..nx {
            let Some(b) = all[(y * nx + x) as usize] else { continue };
            let near = window(x, y, half);
            let inside = area(b) < i64::from(full)
                && (near.y0..near.y1).any(|v| {
                    (near.x0..near.x1).any(|u| {
                        all[(v * nx + u) as usize]
                            .is_some_and(|o| o.holds(b) && (o != b || (v, u) < (y, x)))
                    })
                });
            if !inside {
                out.push(b);
            }
        }
    }
    out
}
