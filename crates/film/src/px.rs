/// An upright rectangle of whole pixels, which may be empty.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PxRect {
    /// The left edge.
    pub x: i64,
    /// The top edge.
    pub y: i64,
    /// Pixels across.
    pub width: i64,
    /// Pixels down.
    pub height: i64,
}

impl PxRect {
    /// A rectangle from its top-left corner and size.
    pub const fn new(x: i64, y: i64, width: i64, height: i64) -> Self {
        Self { x, y, width, height }
    }

    /// The rectangle from `x0, y0` to just before `x1, y1`; empty where they are the wrong
    /// way about.
    pub fn between(x0: i64, y0: i64, x1: i64, y1: i64) -> Self {
        Self { x: x0, y: y0, width: (x1 - x0).max(0), height: (y1 - y0).max(0) }
    }

    /// The first column past the right edge.
    pub const fn right(self) -> i64 {
        self.x + self.width
    }

    /// The first row past the bottom edge.
    pub const fn bottom(self) -> i64 {
        self.y + self.height
    }

    /// How many pixels it holds.
    pub const fn area(self) -> i64 {
        self.width * self.height
    }

    /// Whether the pixel lies within.
    pub const fn has(self, x: i64, y: i64) -> bool {
        x >= self.x && x < self.right() && y >= self.y && y < self.bottom()
    }

    /// Whether all of `other` lies within.
    pub const fn holds(self, other: Self) -> bool {
        other.x >= self.x
            && other.y >= self.y
            && other.right() <= self.right()
            && other.bottom() <= self.bottom()
    }

    /// The part two rectangles share; empty where they share none.
    pub fn intersect(self, o: Self) -> Self {
        Self::between(
            self.x.max(o.x),
            self.y.max(o.y),
            self.right().min(o.right()),
            self.bottom().min(o.bottom()),
        )
    }

    /// The smallest rectangle that holds both.
    pub fn around(self, o: Self) -> Self {
        Self::between(
            self.x.min(o.x),
            self.y.min(o.y),
            self.right().max(o.right()),
            self.bottom().max(o.bottom()),
        )
    }

    /// Moved right by `dx` and down by `dy`.
    pub const fn moved(self, dx: i64, dy: i64) -> Self {
        Self { x: self.x + dx, y: self.y + dy, ..self }
    }

    /// Grown by `by` on every side.
    pub const fn grown(self, by: i64) -> Self {
        Self {
            x: self.x - by,
            y: self.y - by,
            width: self.width + 2 * by,
            height: self.height + 2 * by,
        }
    }
}
