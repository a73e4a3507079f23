//! Lengths, sizes, angles and resolutions as types, so that no caller ever
//! multiplies by 25.4 or 72.
//!
//! Conventions, once for the whole project:
//! - the origin is the top-left corner, `x` runs right and `y` runs down;
//! - a pair is always in `x, y` or `width, height` order;
//! - a positive [`Angle`] turns clockwise, since `y` runs down;
//! - an inch is exactly 25.4 mm and a point is 1/72 in.

mod angle;
mod length;
mod parse;
mod rect;
mod resolution;

pub use angle::Angle;
pub use length::{Length, Unit};
pub use parse::{ParseError, parse_length, parse_size};
pub use rect::{Point, Rect, Size};
pub use resolution::{Resolution, Ruling};
