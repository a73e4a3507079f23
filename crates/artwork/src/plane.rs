/// A picture of one real number a pixel, row by row.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plane {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) data: Vec<f32>,
}

impl Plane {
    pub(crate) fn new(width: usize, height: usize) -> Self {
        Self { width, height, data: vec![0.0; width * height] }
    }

    pub(crate) fn row(&self, y: usize) -> &[f32] {
        &self.data[y * self.width..][..self.width]
    }
}

/// The value at `place` of a grid twice as fine as pixels, between the four pixels about it.
/// Number 2 i lies a quarter left of pixel i's middle, 2 i + 1 a quarter right of it; the
/// outermost pixels go on without end.
pub(crate) fn twice(
    place: [usize; 2],
    size: [usize; 2],
    pixel: impl Fn(usize, usize) -> f32,
) -> f32 {
    let beside = |i: usize, size: usize| {
        if i.is_multiple_of(2) { (i / 2).saturating_sub(1) } else { (i / 2 + 1).min(size - 1) }
    };
    let [x, y] = place.map(|i| i / 2);
    let [other_x, other_y] = [0, 1].map(|i| beside(place[i], size[i]));
    let near = 0.75 * pixel(x, y) + 0.25 * pixel(other_x, y);
    let far = 0.75 * pixel(x, other_y) + 0.25 * pixel(other_x, other_y);
    0.75 * near + 0.25 * far
}
