use artwork::{Picture, Pixels};

/// A small colour picture to work on: sRGB-encoded channels of 0..=255.
#[derive(Clone, Debug)]
pub(crate) struct Image {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) pixels: Vec<[f32; 3]>,
}

impl Image {
    pub(crate) fn of(picture: &Picture) -> Self {
        let pixels = match &picture.pixels {
            Pixels::Grey(bytes) => bytes.iter().map(|&v| [f32::from(v); 3]).collect(),
            Pixels::Rgb(bytes) => bytes
                .chunks_exact(3)
                .map(|p| [f32::from(p[0]), f32::from(p[1]), f32::from(p[2])])
                .collect(),
        };
        Self { width: picture.width as usize, height: picture.height as usize, pixels }
    }

    /// The pixel at `x, y`, or the nearest one inside.
    pub(crate) fn at(&self, x: isize, y: isize) -> [f32; 3] {
        self.pixels[self.index(x, y)]
    }

    /// Where the pixel at `x, y`, or the nearest one inside, is kept.
    pub(crate) fn index(&self, x: isize, y: isize) -> usize {
        index(self.width, self.height, x, y)
    }

    /// Each pixel worked out anew from its place.
    pub(crate) fn map(&self, f: impl Fn(isize, isize) -> [f32; 3]) -> Self {
        let (w, h) = (self.width as isize, self.height as isize);
        let pixels =
            (0..h).flat_map(|y| (0..w).map(move |x| (x, y))).map(|(x, y)| f(x, y)).collect();
        Self { width: self.width, height: self.height, pixels }
    }
}

/// Where the pixel at `x, y`, or the nearest one inside, is kept.
pub(crate) fn index(width: usize, height: usize, x: isize, y: isize) -> usize {
    let x = x.clamp(0, width as isize - 1) as usize;
    let y = y.clamp(0, height as isize - 1) as usize;
    y * width + x
}

/// The squared distance between two colours.
pub(crate) fn distance2(p: [f32; 3], q: [f32; 3]) -> f32 {
    let d = sub(p, q);
    dot(d, d)
}

pub(crate) fn distance(p: [f32; 3], q: [f32; 3]) -> f32 {
    distance2(p, q).sqrt()
}

pub(crate) fn sub(p: [f32; 3], q: [f32; 3]) -> [f32; 3] {
    [p[0] - q[0], p[1] - q[1], p[2] - q[2]]
}

pub(crate) fn dot(p: [f32; 3], q: [f32; 3]) -> f32 {
    p[0] * q[0] + p[1] * q[1] + p[2] * q[2]
}

/// The share of `a` in the mix of `a` and `b` nearest to `x`, and that mix's squared distance.
pub(crate) fn on_segment(x: [f32; 3], a: [f32; 3], b: [f32; 3]) -> (f32, f32) {
    let (ab, xb) = (sub(a, b), sub(x, b));
    let t = (dot(xb, ab) / dot(ab, ab).max(1e-6)).clamp(0.0, 1.0);
    let rest = [xb[0] - t * ab[0], xb[1] - t * ab[1], xb[2] - t * ab[2]];
    (t, dot(rest, rest))
}
