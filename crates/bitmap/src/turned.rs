use measure::Angle;
use std::ops::Range;

/// A picture of so many film pixels, turned about its middle, on the film that just holds it.
///
/// Places are in pixels from the top-left corner, of the picture before its turn or of the
/// film; a pixel's middle lies half a pixel in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    width: f64,
    height: f64,
    sin: f64,
    cos: f64,
    film: (u32, u32),
    middle: (f64, f64),
}

impl Turned {
    /// A picture that lies upright; the film is as large as it.
    pub fn upright(width: u32, height: u32) -> Self {
        Self::by(width, height, Angle::ZERO)
    }

    /// A picture turned clockwise.
    pub fn by(width: u32, height: u32, angle: Angle) -> Self {
        let (sin, cos) = sin_cos(angle);
        let (width, height) = (f64::from(width), f64::from(height));
        // A corner that reaches into a pixel by less than rounding does not need the pixel.
        let whole = |length: f64| (length - 1e-6).ceil().clamp(1.0, f64::from(u32::MAX));
        let film = (
            whole(width * cos.abs() + height * sin.abs()) as u32,
            whole(width * sin.abs() + height * cos.abs()) as u32,
        );
        let middle = (f64::from(film.0) / 2.0, f64::from(film.1) / 2.0);
        Self { width, height, sin, cos, film, middle }
    }

    /// The same on a film whose pixels are so many times as wide and high; the last column and
    /// row may reach past the film.
    pub fn in_grains(self, grain: u32) -> Self {
        let part = f64::from(grain.max(1));
        Self {
            width: self.width / part,
            height: self.height / part,
            film: (self.film.0.div_ceil(grain.max(1)), self.film.1.div_ceil(grain.max(1))),
            middle: (self.middle.0 / part, self.middle.1 / part),
            ..self
        }
    }

    /// Whether the picture lies as it is.
    pub fn is_upright(&self) -> bool {
        self.cos == 1.0
    }

    /// The picture's width and height in film pixels, before its turn.
    pub fn picture(&self) -> (f64, f64) {
        (self.width, self.height)
    }

    /// The film's width and height in pixels.
    pub fn film(&self) -> (u32, u32) {
        self.film
    }

    /// The place of the picture that a place of the film shows; it may lie outside.
    pub fn picture_from_film(&self, x: f64, y: f64) -> (f64, f64) {
        let (x, y) = (x - self.middle.0, y - self.middle.1);
        let (u, v) = (self.cos * x + self.sin * y, self.cos * y - self.sin * x);
        (u + self.width / 2.0, v + self.height / 2.0)
    }

    /// The place of the film that shows a place of the picture.
    pub fn film_from_picture(&self, u: f64, v: f64) -> (f64, f64) {
        let (u, v) = (u - self.width / 2.0, v - self.height / 2.0);
        let (x, y) = (self.cos * u - self.sin * v, self.sin * u + self.cos * v);
        (x + self.middle.0, y + self.middle.1)
    }

    /// How far right and how far down in the picture the next film column lies.
    pub fn per_column(&self) -> (f64, f64) {
        (self.cos, -self.sin)
    }

    /// The columns `x0..x1` of row `y` whose middles lie in the picture.
    pub fn inside(&self, y: u32, x0: u32, x1: u32) -> Range<u32> {
        // Along a row either place only rises or only falls, even as it is rounded.
        let along = |range: Range<u32>, rises: bool, place: &dyn Fn(u32) -> f64, length: f64| {
            let (past_start, past_end) = (
                first(range.clone(), |x| if rises { place(x) >= 0.0 } else { place(x) < length }),
                first(range, |x| if rises { place(x) >= length } else { place(x) < 0.0 }),
            );
            past_start..past_end.max(past_start)
        };
        let (u, v) = (|x| self.at(x, y).0, |x| self.at(x, y).1);
        let range = along(x0..x1.max(x0), self.cos >= 0.0, &u, self.width);
        along(range, self.sin <= 0.0, &v, self.height)
    }

    /// Calls `put` for each run of the columns `x0..x1` of row `y` whose middles lie in the
    /// picture and in one cell of a grid laid over it, in order. `across` and `down` give the
    /// place in cells, nought or more, of a place in the picture; they are straight and rise.
    pub fn cells(
        &self,
        y: u32,
        x0: u32,
        x1: u32,
        across: impl Fn(f64) -> f64,
        down: impl Fn(f64) -> f64,
        mut put: impl FnMut(Range<u32>, usize, usize),
    ) {
        let Range { start: mut x, end } = self.inside(y, x0, x1);
        let place = |x: u32| {
            let (u, v) = self.at(x, y);
            (across(u), down(v))
        };
        let cell = |(a, b): (f64, f64)| (a as usize, b as usize);
        let steps = (
            self.cos * (across(self.width) - across(0.0)) / self.width,
            -self.sin * (down(self.height) - down(0.0)) / self.height,
        );
        while x < end {
            let at = place(x);
            let here = cell(at);
            let left = |at: f64, cell: usize, step: f64| {
                let ahead = if step > 0.0 { 1.0 + cell as f64 - at } else { cell as f64 - at };
                if step == 0.0 { f64::MAX } else { ahead / step }
            };
            let columns = left(at.0, here.0, steps.0).min(left(at.1, here.1, steps.1));
            let mut next = x + (columns as u32).clamp(1, end - x);
            // Reckoned to within a column or so; where the run ends is what each pixel says.
            while next < end && cell(place(next)) == here {
                next += 1;
            }
            while next > x + 1 && cell(place(next - 1)) != here {
                next -= 1;
            }
            put(x..next, here.0, here.1);
            x = next;
        }
    }

    /// The place of the picture at the middle of a film pixel.
    pub fn at(&self, x: u32, y: u32) -> (f64, f64) {
        self.picture_from_film(f64::from(x) + 0.5, f64::from(y) + 0.5)
    }
}

/// Sine and cosine, exact for quarter turns, and elsewhere rounded so far that systems whose
/// last digits differ give the same film.
fn sin_cos(angle: Angle) -> (f64, f64) {
    const STEP: f64 = (1_u64 << 44) as f64;
    let turn = angle.to_deg().rem_euclid(360.0);
    let quarters = (turn / 90.0).round();
    let (sin, cos) = Angle::deg(turn - 90.0 * quarters).sin_cos();
    let (sin, cos) = ((sin * STEP).round() / STEP, (cos * STEP).round() / STEP);
    match quarters as u32 % 4 {
        0 => (sin, cos),
        1 => (cos, -sin),
        2 => (-sin, -cos),
        _ => (-cos, sin),
    }
}

/// The first of a range for which `is` holds, where it holds for all after it.
fn first(range: Range<u32>, is: impl Fn(u32) -> bool) -> u32 {
    let (mut from, mut to) = (range.start, range.end);
    while from < to {
        let middle = from + (to - from) / 2;
        if is(middle) { to = middle } else { from = middle + 1 }
    }
    from
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 30 degrees take a picture of 80 x 60 to 80 cos + 60 sin = 99.28 by
    /// 80 sin + 60 cos = 91.96; its top-left corner goes right and up of where it was.
    #[test]
    fn the_film_holds_the_corners() {
        let turned = Turned::by(80, 60, Angle::deg(30.0));
        assert_eq!(turned.film(), (100, 92));
        let (x, y) = turned.film_from_picture(0.0, 0.0);
        let by_hand = (50.0 - 40.0 * 0.866_025 + 30.0 * 0.5, 46.0 - 40.0 * 0.5 - 30.0 * 0.866_025);
        assert!((x - by_hand.0).abs() < 1e-4 && (y - by_hand.1).abs() < 1e-4, "{x} {y}");
        let (u, v) = turned.picture_from_film(x, y);
        assert!(u.abs() < 1e-9 && v.abs() < 1e-9);
    }

    #[test]
    fn quarter_turns_are_exact() {
        for (degrees, film) in [(90.0, (7, 5)), (-270.0, (7, 5)), (180.0, (5, 7)), (270.0, (7, 5))]
        {
            let turned = Turned::by(5, 7, Angle::deg(degrees));
            assert_eq!(turned.film(), film);
            assert_eq!(turned.inside(0, 0, film.0), 0..film.0);
            for (x, y) in [(0, 0), (1, 2), (4, 4)] {
                let (u, v) = turned.at(x, y);
                assert!(u.fract() == 0.5 && v.fract() == 0.5, "{degrees}: {u} {v}");
            }
        }
        assert!(Turned::by(5, 7, Angle::deg(-360.0)).is_upright());
        // Clockwise: the picture's top-left pixel goes to the film's top right.
        assert_eq!(Turned::by(5, 7, Angle::deg(90.0)).at(6, 0), (0.5, 0.5));
    }

    #[test]
    fn runs_of_cells_are_what_every_pixel_says() {
        arbtest::arbtest(|u| {
            let (w, h) = (u.int_in_range(1..=60)?, u.int_in_range(1..=60)?);
            let degrees = f64::from(u.int_in_range(-3600..=3600)?) / 10.0;
            let turned = Turned::by(w, h, Angle::deg(degrees)).in_grains(u.int_in_range(1..=3)?);
            let (columns, rows) = (u.int_in_range(1..=90)?, u.int_in_range(1..=9)?);
            let (pw, ph) = turned.picture();
            let across = |u: f64| u * f64::from(columns) / pw + 0.5;
            let down = |v: f64| v * f64::from(rows) / ph + 0.5;
            let (width, height) = turned.film();
            let x0 = u.int_in_range(0..=width)?;
            let x1 = u.int_in_range(x0..=width)?;
            for y in 0..height {
                let mut got = vec![None; width as usize];
                let mut at = x0;
                turned.cells(y, x0, x1, across, down, |xs, cx, cy| {
                    assert!(xs.start >= at && !xs.is_empty());
                    at = xs.end;
                    xs.for_each(|x| got[x as usize] = Some((cx, cy)));
                });
                for x in 0..width {
                    let (u, v) = turned.at(x, y);
                    let inside = (0.0..pw).contains(&u) && (0.0..ph).contains(&v);
                    let want = (inside && (x0..x1).contains(&x))
                        .then(|| (across(u) as usize, down(v) as usize));
                    assert_eq!(got[x as usize], want, "{degrees} {x} {y}");
                }
            }
            Ok(())
        });
    }
}
