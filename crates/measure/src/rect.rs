use crate::Length;
use serde::{Deserialize, Serialize};
use std::ops::{Add, Sub};

/// A place, right of and below the origin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// How far right of the origin.
    pub x: Length,
    /// How far below the origin.
    pub y: Length,
}

impl Point {
    /// A place at `x, y`.
    pub const fn new(x: Length, y: Length) -> Self {
        Self { x, y }
    }
}

/// Moves a place by a displacement, which is a [`Point`] too.
impl Add for Point {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self { x: self.x + o.x, y: self.y + o.y }
    }
}
impl Sub for Point {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self { x: self.x - o.x, y: self.y - o.y }
    }
}

/// A width and a height.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Size {
    /// The extent along `x`.
    pub width: Length,
    /// The extent along `y`.
    pub height: Length,
}

impl Size {
    /// A size of `width, height`.
    pub const fn new(width: Length, height: Length) -> Self {
        Self { width, height }
    }
    /// Width and height exchanged: a quarter turn.
    pub const fn turned(self) -> Self {
        Self { width: self.height, height: self.width }
    }
    /// Whether this fits into `room` without turning, forgiving rounding.
    pub fn fits(self, room: Self) -> bool {
        self.width.fits(room.width) && self.height.fits(room.height)
    }
}

/// An upright rectangle.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Rect {
    /// The top-left corner.
    pub origin: Point,
    /// Width and height.
    pub size: Size,
}

impl Rect {
    /// A rectangle from its top-left corner and size.
    pub const fn new(origin: Point, size: Size) -> Self {
        Self { origin, size }
    }
    /// The rectangle between two corners, in any order.
    pub fn between(a: Point, b: Point) -> Self {
        let origin = Point::new(a.x.min(b.x), a.y.min(b.y));
        Self { origin, size: Size::new((a.x - b.x).abs(), (a.y - b.y).abs()) }
    }
    /// The left edge.
    pub const fn left(self) -> Length {
        self.origin.x
    }
    /// The top edge.
    pub const fn top(self) -> Length {
        self.origin.y
    }
    /// The right edge.
    pub fn right(self) -> Length {
        self.origin.x + self.size.width
    }
    /// The bottom edge.
    pub fn bottom(self) -> Length {
        self.origin.y + self.size.height
    }
    /// The middle.
    pub fn center(self) -> Point {
        Point::new(self.origin.x + self.size.width / 2.0, self.origin.y + self.size.height / 2.0)
    }
    /// Whether `p` lies within or on the edge.
    pub fn contains(self, p: Point) -> bool {
        p.x >= self.left() && p.x <= self.right() && p.y >= self.top() && p.y <= self.bottom()
    }
    /// The part two rectangles share, if it has any area.
    pub fn intersect(self, o: Self) -> Option<Self> {
        let (l, r) = (self.left().max(o.left()), self.right().min(o.right()));
        let (t, b) = (self.top().max(o.top()), self.bottom().min(o.bottom()));
        (l < r && t < b).then(|| Self::between(Point::new(l, t), Point::new(r, b)))
    }
    /// The rectangle grown by `by` on every side; a negative `by` shrinks it.
    pub fn grown(self, by: Length) -> Self {
        Self {
            origin: Point::new(self.origin.x - by, self.origin.y - by),
            size: Size::new(self.size.width + by * 2.0, self.size.height + by * 2.0),
        }
    }
}
