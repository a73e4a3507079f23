//! The correlation of the film with the photo, from sums that can be added up.

/// Light that varies less than so much says nothing.
const EVEN: f64 = 1e-4;

/// What a correlation is made of.
#[derive(Clone, Copy, Default)]
pub(crate) struct Sums {
    pub(crate) count: f64,
    /// The sums of values and of their squares.
    pub(crate) film: [f64; 2],
    pub(crate) photo: [f64; 2],
    pub(crate) both: f64,
}

impl Sums {
    /// One place.
    pub(crate) fn of(film: f64, photo: f64) -> Self {
        let squares = [film * film, photo * photo];
        Self {
            count: 1.0,
            film: [film, squares[0]],
            photo: [photo, squares[1]],
            both: film * photo,
        }
    }

    pub(crate) fn add(&mut self, o: &Self) {
        self.join(o, 1.0);
    }

    pub(crate) fn leave(&mut self, o: &Self) {
        self.join(o, -1.0);
    }

    fn join(&mut self, o: &Self, sign: f64) {
        self.count += sign * o.count;
        for k in 0..2 {
            self.film[k] += sign * o.film[k];
            self.photo[k] += sign * o.photo[k];
        }
        self.both += sign * o.both;
    }

    /// How much the film varies, times the number of places.
    pub(crate) fn own_spread(&self) -> f64 {
        self.film[1] - self.film[0].powi(2) / self.count.max(1.0)
    }

    /// The correlation, unless the film or the light is all alike.
    pub(crate) fn correlation(&self) -> Option<f64> {
        let n = self.count.max(1.0);
        let light = self.photo[1] - self.photo[0].powi(2) / n;
        let film = self.own_spread();
        let both = self.both - self.film[0] * self.photo[0] / n;
        (light > EVEN * n && film > EVEN).then(|| both / (film * light).sqrt())
    }
}
