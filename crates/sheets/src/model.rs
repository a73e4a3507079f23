//! The problem in whole cells.
//!
//! For each cell c of the region, Q(c) is the bounding box of the region inside the window of
//! half-width overlap/2 around c; some sheet must contain Q(c). So a sheet counts half the
//! overlap less on each side where the region goes on past its edge, and where one sheet hands
//! over to the next both hold the full strip. Two sheets are linked where their intersection is
//! at least the overlap both ways.

use crate::request::{Pieces, Placed, Request};
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
    /// Where it is counted.
    pub(crate) purse: usize,
}

/// Stocks that are counted together since they cost the same.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Purse {
    pub(crate) price: f64,
    /// How many sheets there are.
    pub(crate) limit: u32,
}

/// A sheet laid on the film, its top-left corner on cell `x, y`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Lay {
    pub(crate) kind: usize,
    pub(crate) x: i32,
    pub(crate) y: i32,
}

/// The problem in whole cells.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    /// Half the overlap, in cells.
    pub(crate) half: i32,
    pub(crate) kinds: Vec<Kind>,
    pub(crate) purses: Vec<Purse>,
    /// The box around the region.
    pub(crate) extent: Cells,
    /// The boxes that sheets must hold and no pinned sheet does, none inside another.
    pub(crate) demands: Vec<Cells>,
    /// Finds the demands of a stretch of cells: where those of cell `x, y` or later in its row
    /// begin, at `y * (nx + 1) + x`. A demand belongs to the cell it was made for.
    first: Vec<u32>,
    /// The region's extent, from cell 0, 0.
    pub(crate) nx: i32,
    pub(crate) ny: i32,
    /// The sheets pinned by hand, as far as they hold whole cells.
    pub(crate) pinned: Vec<Cells>,
    /// Whether the film must hang together.
    pub(crate) one_piece: bool,
}

/// The most stocks that are counted apart.
pub(crate) const MOST_PURSES: usize = 4;
/// The most sheets that are planned.
pub(crate) const MOST_SHEETS: u64 = 500;
const MOST_CELLS: u64 = 1 << 22;
/// Longer than any film that can be handled.
const ABSURD: Length = Length::mm(1e5);

impl Model {
    /// Checks a request and puts it into whole cells, with only some of its stocks.
    pub(crate) fn new(request: &Request, stocks: &[usize]) -> Result<Self, PlanError> {
        let Region { cell, cells, .. } = &request.region;
        sound("a cell", *cell, 1e-3)?;
        sound("an overlap", request.overlap, 0.0)?;
        let number = u64::from(cells.width()) * u64::from(cells.height());
        if number > MOST_CELLS {
            return Err(PlanError::TooFine { cells: number, most: MOST_CELLS });
        }
        if stocks.is_empty() {
            return Err(PlanError::NoStock);
        }
        let half = (request.overlap / *cell / 2.0 - 1e-6).ceil().max(0.0) as i32;
        let kinds = kinds(request, stocks, half)?;
        let (kinds, purses) = purses(request, kinds)?;
        let (nx, ny) = (cells.width() as i32, cells.height() as i32);
        let pinned = pinned(request)?;
        let all = demands(&request.region, half);
        if all.is_empty() {
            return Err(PlanError::Nothing);
        }
        let mut model = Self {
            half,
            kinds,
            purses,
            extent: hull(&all.iter().map(|(_, q)| *q).collect::<Vec<_>>()),
            demands: Vec::new(),
            first: vec![0; (nx as usize + 1) * ny as usize + 1],
            nx,
            ny,
            pinned,
            one_piece: request.pieces == Pieces::One,
        };
        // Counts first, then sums: the demands come row by row.
        for ((x, y), demand) in all {
            if !model.pinned.iter().any(|pin| pin.holds(demand)) {
                model.first[y as usize * (nx as usize + 1) + x as usize + 1] += 1;
                model.demands.push(demand);
            }
        }
        for i in 1..model.first.len() {
            model.first[i] += model.first[i - 1];
        }
        Ok(model)
    }

    /// The overlap in cells.
    pub(crate) const fn overlap(&self) -> i32 {
        2 * self.half
    }

    /// The cells that a sheet holds.
    pub(crate) fn cells(&self, lay: Lay) -> Cells {
        let kind = self.kinds[lay.kind];
        Cells { x0: lay.x, y0: lay.y, x1: lay.x + kind.w, y1: lay.y + kind.h }
    }

    /// Where a sheet is counted.
    pub(crate) fn purse(&self, lay: Lay) -> usize {
        self.kinds[lay.kind].purse
    }

    /// What sheets cost.
    pub(crate) fn cost(&self, lays: &[Lay]) -> f64 {
        lays.iter().map(|l| self.purses[self.purse(*l)].price).sum()
    }

    /// How many full windows a budget can hold at most.
    pub(crate) fn room(&self, budget: &[u32]) -> u64 {
        let holds = |k: &Kind| (k.w - self.overlap()) as u64 * (k.h - self.overlap()) as u64;
        let most = |p| self.kinds.iter().filter(|k| k.purse == p).map(holds).max().unwrap_or(0);
        budget.iter().enumerate().map(|(p, n)| u64::from(*n) * most(p)).sum()
    }

    /// How many demands are full windows.
    pub(crate) fn full_windows(&self) -> u64 {
        let side = self.overlap() + 1;
        self.demands.iter().filter(|d| d.width() == side && d.height() == side).count() as u64
    }

    /// Sheets needed at least by area.
    pub(crate) fn by_area(&self) -> u32 {
        let holds = |k: &Kind| (k.w - self.overlap()) as u64 * (k.h - self.overlap()) as u64;
        let most = self.kinds.iter().map(holds).max().unwrap_or(1);
        (self.full_windows().div_ceil(most) as u32).max(u32::from(!self.demands.is_empty()))
    }

    /// Calls `with` on each demand that `sheet` holds.
    pub(crate) fn held(&self, sheet: Cells, mut with: impl FnMut(usize)) {
        let (x0, x1) = (sheet.x0.max(0) as usize, sheet.x1.clamp(0, self.nx) as usize);
        for y in sheet.y0.max(0)..sheet.y1.min(self.ny) {
            let row = y as usize * (self.nx as usize + 1);
            if x0 >= x1 {
                return;
            }
            for d in self.first[row + x0]..self.first[row + x1] {
                if sheet.holds(self.demands[d as usize]) {
                    with(d as usize);
                }
            }
        }
    }

    /// Whether every pinned sheet is wide enough to be linked.
    pub(crate) fn pins_can_link(&self) -> bool {
        self.pinned.iter().all(|pin| pin.width().min(pin.height()) >= self.overlap())
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

/// How each stock may lie, twice where it is not square.
fn kinds(request: &Request, stocks: &[usize], half: i32) -> Result<Vec<Kind>, PlanError> {
    let mut kinds = Vec::new();
    for i in stocks {
        let stock = &request.stocks[*i];
        sound("a sheet's width", stock.size.width, 0.0)?;
        sound("a sheet's height", stock.size.height, 0.0)?;
        let m = stock.margins;
        for margin in [m.left, m.top, m.right, m.bottom] {
            sound("a margin", margin, 0.0)?;
        }
        if !(0.0..=1e12).contains(&stock.price) {
            return Err(PlanError::Absurd { what: "a price", shown: stock.price.to_string() });
        }
        let room = stock.printable();
        if !(room.width > Length::ZERO && room.height > Length::ZERO) {
            return Err(PlanError::NoRoom(stock.name.clone()));
        }
        let whole = |length: Length| (length / request.region.cell + 1e-6).floor().min(1e6) as i32;
        let (w, h) = (whole(room.width), whole(room.height));
        if w.min(h) <= 2 * half {
            return Err(PlanError::OverlapTooWide {
                overlap: request.overlap.show(Unit::Mm),
                printable: room.width.min(room.height).show(Unit::Mm),
                stock: stock.name.clone(),
            });
        }
        kinds.push(Kind { w, h, stock: *i, turned: false, purse: 0 });
        if w != h {
            kinds.push(Kind { w: h, h: w, stock: *i, turned: true, purse: 0 });
        }
    }
    Ok(kinds)
}

/// Counts stocks together that cost the same and are not limited. Where all cost the same the
/// fewest sheets are sought, so that a sheet costs one.
fn purses(request: &Request, mut kinds: Vec<Kind>) -> Result<(Vec<Kind>, Vec<Purse>), PlanError> {
    let price = |k: &Kind| request.stocks[k.stock].price;
    let alike = kinds.iter().all(|k| price(k) == price(&kinds[0]));
    let mut purses: Vec<(Option<usize>, Purse)> = Vec::new();
    for kind in &mut kinds {
        let stock = kind.stock;
        let price = if alike { 1.0 } else { request.stocks[stock].price };
        // A limited stock has a purse of its own.
        let (owner, limit) = match request.stocks[stock].on_hand {
            Some(n) => {
                let used = request.pinned.iter().filter(|p| p.stock == stock).count() as u32;
                (Some(stock), n.saturating_sub(used))
            }
            None => (None, u32::MAX),
        };
        let same = |(o, p): &(Option<usize>, Purse)| *o == owner && p.price == price;
        kind.purse = purses.iter().position(same).unwrap_or_else(|| {
            purses.push((owner, Purse { price, limit }));
            purses.len() - 1
        });
    }
    if purses.len() > MOST_PURSES {
        return Err(PlanError::TooManyStocks { most: MOST_PURSES });
    }
    Ok((kinds, purses.into_iter().map(|(_, p)| p).collect()))
}

fn sound(what: &'static str, length: Length, least: f64) -> Result<(), PlanError> {
    if length.to_mm() >= least && length <= ABSURD {
        Ok(())
    } else {
        Err(PlanError::Absurd { what, shown: length.show(Unit::Mm) })
    }
}

/// The whole cells inside the sheets placed by hand.
fn pinned(request: &Request) -> Result<Vec<Cells>, PlanError> {
    let Region { cell, origin, .. } = request.region;
    let inside = |(i, pin): (usize, &Placed)| {
        let stock = request.stocks.get(pin.stock).ok_or(PlanError::PinTooLarge(i + 1))?;
        let room = stock.printable();
        let room = if pin.turned { room.turned() } else { room };
        let far = |length: Length| !length.is_finite() || length.abs() > ABSURD;
        if !pin.rect.size.fits(room) || far(pin.rect.left()) || far(pin.rect.top()) {
            return Err(PlanError::PinTooLarge(i + 1));
        }
        let up = |length: Length| (length / cell - 1e-6).ceil() as i32;
        let down = |length: Length| (length / cell + 1e-6).floor() as i32;
        Ok(Cells {
            x0: up(pin.rect.left() - origin.x),
            y0: up(pin.rect.top() - origin.y),
            x1: down(pin.rect.right() - origin.x),
            y1: down(pin.rect.bottom() - origin.y),
        })
    };
    request.pinned.iter().enumerate().map(inside).collect()
}

/// The boxes Q(c) of all cells with their cells, row by row, less those inside another.
fn demands(region: &Region, half: i32) -> Vec<((i32, i32), Cells)> {
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
                out.push(((x, y), b));
            }
        }
    }
    out
}
