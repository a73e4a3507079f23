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
