//! How the film's plane comes onto the photograph.

/// A place or a displacement: `x, y`.
pub(crate) type Xy = [f64; 2];

/// A pinhole camera before a plane, with radial distortion.
///
/// Film places are millimetres from the film's middle. Inside, they are divided by
/// [`FILM_UNIT`], and photo places are counted from the photo's middle in half its width,
/// so that every number is of the order of one.
#[derive(Clone, Debug)]
pub(crate) struct Camera {
    /// The homography, row by row; its ninth entry is 1.
    pub(crate) h: [f64; 8],
    /// The distortion: `1 + k1 r^2 + k2 r^4` about `centre` (Brown 1966).
    pub(crate) k: [f64; 2],
    pub(crate) centre: Xy,
    middle: Xy,
    half: f64,
}

/// How many numbers a camera has: `h`, then `k`, then `centre`.
pub(crate) const CAMERA: usize = 12;
const FILM_UNIT: f64 = 500.0;

/// A projected place and how it moves.
pub(crate) struct Projected {
    /// The place in photo pixels.
    pub(crate) at: Xy,
    /// Photo pixels a millimetre: `[d at / d x, d at / d y]`, each a displacement.
    pub(crate) by_film: [Xy; 2],
    /// Photo pixels a unit of each camera number.
    pub(crate) by_camera: [Xy; CAMERA],
}

impl Camera {
    /// The camera with homography `h` (inner units) before a photo of this size.
    pub(crate) fn new(h: [f64; 8], width: f64, height: f64) -> Self {
        let middle = [width / 2.0, height / 2.0];
        Self { h, k: [0.0; 2], centre: [0.0; 2], middle, half: width / 2.0 }
    }

    /// The camera that sees four film places (mm) at four photo places (px).
    pub(crate) fn through(
        film: &[Xy; 4],
        photo: &[Xy; 4],
        width: f64,
        height: f64,
    ) -> Option<Self> {
        let blank = Self::new([0.0; 8], width, height);
        let mut a = nalgebra::SMatrix::<f64, 8, 8>::zeros();
        let mut b = nalgebra::SVector::<f64, 8>::zeros();
        for i in 0..4 {
            let [u, v] = [film[i][0] / FILM_UNIT, film[i][1] / FILM_UNIT];
            for axis in 0..2 {
                let q = (photo[i][axis] - blank.middle[axis]) / blank.half;
                let row = 2 * i + axis;
                for (k, value) in [u, v, 1.0].into_iter().enumerate() {
                    a[(row, 3 * axis + k)] = value;
                }
                a[(row, 6)] = -q * u;
                a[(row, 7)] = -q * v;
                b[row] = q;
            }
        }
        let h = a.lu().solve(&b)?;
        h.iter().all(|v| v.is_finite()).then(|| Self { h: std::array::from_fn(|i| h[i]), ..blank })
    }

    /// Where a film place lies in the photo, in pixels; nothing for a place behind the camera.
    pub(crate) fn project(&self, film: Xy) -> Option<Xy> {
        let [a, b, _] = self.ideal(film)?;
        let e = [a - self.centre[0], b - self.centre[1]];
        let r2 = e[0] * e[0] + e[1] * e[1];
        let s = 1.0 + self.k[0] * r2 + self.k[1] * r2 * r2;
        Some(std::array::from_fn(|i| self.middle[i] + self.half * (self.centre[i] + e[i] * s)))
    }

    /// The undistorted place in inner units, and the depth.
    fn ideal(&self, film: Xy) -> Option<[f64; 3]> {
        let h = &self.h;
        let [u, v] = [film[0] / FILM_UNIT, film[1] / FILM_UNIT];
        let w = h[6] * u + h[7] * v + 1.0;
        (w > 0.05).then(|| [(h[0] * u + h[1] * v + h[2]) / w, (h[3] * u + h[4] * v + h[5]) / w, w])
    }

    /// A projection with its derivatives.
    pub(crate) fn projected(&self, film: Xy) -> Option<Projected> {
        let h = &self.h;
        let [u, v] = [film[0] / FILM_UNIT, film[1] / FILM_UNIT];
        let [a, b, w] = self.ideal(film)?;
        let e = [a - self.centre[0], b - self.centre[1]];
        let r2 = e[0] * e[0] + e[1] * e[1];
        let s = 1.0 + self.k[0] * r2 + self.k[1] * r2 * r2;
        let radial = 2.0 * self.k[0] + 4.0 * self.k[1] * r2;
        // How the distorted place follows the ideal one.
        let d = [
            [s + e[0] * e[0] * radial, e[0] * e[1] * radial],
            [e[0] * e[1] * radial, s + e[1] * e[1] * radial],
        ];
        let carry = |x: f64, y: f64| -> Xy {
            [self.half * (d[0][0] * x + d[0][1] * y), self.half * (d[1][0] * x + d[1][1] * y)]
        };
        let unit = FILM_UNIT * w;
        Some(Projected {
            at: std::array::from_fn(|i| self.middle[i] + self.half * (self.centre[i] + e[i] * s)),
            by_film: [
                carry((h[0] - a * h[6]) / unit, (h[3] - b * h[6]) / unit),
                carry((h[1] - a * h[7]) / unit, (h[4] - b * h[7]) / unit),
            ],
            by_camera: [
                carry(u / w, 0.0),
                carry(v / w, 0.0),
                carry(1.0 / w, 0.0),
                carry(0.0, u / w),
                carry(0.0, v / w),
                carry(0.0, 1.0 / w),
                carry(-a * u / w, -b * u / w),
                carry(-a * v / w, -b * v / w),
                [self.half * e[0] * r2, self.half * e[1] * r2],
                [self.half * e[0] * r2 * r2, self.half * e[1] * r2 * r2],
                [self.half * (1.0 - d[0][0]), -self.half * d[1][0]],
                [-self.half * d[0][1], self.half * (1.0 - d[1][1])],
            ],
        })
    }

    /// The film place seen at a photo place, by Newton's method from `start`.
    pub(crate) fn unproject(&self, photo: Xy, start: Xy) -> Option<Xy> {
        let mut film = start;
        for _ in 0..20 {
            let p = self.projected(film)?;
            let miss = [photo[0] - p.at[0], photo[1] - p.at[1]];
            let step = solve2(p.by_film, miss)?;
            film = [film[0] + step[0], film[1] + step[1]];
            if step[0].abs() + step[1].abs() < 1e-6 {
                return Some(film);
            }
        }
        None
    }

    /// Adds an increment of the twelve camera numbers.
    pub(crate) fn step(&mut self, by: &[f64]) {
        for (value, by) in self.h.iter_mut().chain(&mut self.k).chain(&mut self.centre).zip(by) {
            *value += by;
        }
    }

    /// Whether the photo shows the film mirrored.
    pub(crate) fn mirrored(&self) -> bool {
        let h = &self.h;
        // The sign of the Jacobian at the film's middle.
        (h[0] - h[2] * h[6]) * (h[4] - h[5] * h[7]) < (h[1] - h[2] * h[7]) * (h[3] - h[5] * h[6])
    }

    /// Millimetres of film a photo pixel at a film place.
    pub(crate) fn mm_per_px(&self, film: Xy) -> Option<f64> {
        let [a, b] = self.projected(film)?.by_film;
        Some((a[0] * b[1] - a[1] * b[0]).abs().sqrt().recip())
    }

    /// The point of the film's plane straight under the lens, and how high the lens is over
    /// it, both in mm, for a lens of focal length `focal` photo widths.
    pub(crate) fn foot(&self, focal: f64) -> (Xy, f64) {
        let h = &self.h;
        let f = 2.0 * focal;
        // K^-1 H = scale [r1 r2 t]; the camera stands at -R^T t (Hartley & Zisserman, 8.1).
        let column = |i: usize| {
            let last = if i == 2 { 1.0 } else { h[6 + i] };
            nalgebra::Vector3::new(h[i] / f, h[3 + i] / f, last)
        };
        let (r1, r2, t) = (column(0), column(1), column(2));
        let scale = (r1.norm() * r2.norm()).sqrt().max(1e-9);
        let (r1, r2, t) = (r1 / r1.norm().max(1e-9), r2 / r2.norm().max(1e-9), t / scale);
        let height = r1.cross(&r2).dot(&t).abs();
        ([-r1.dot(&t) * FILM_UNIT, -r2.dot(&t) * FILM_UNIT], height * FILM_UNIT)
    }
}

/// Solves `x * columns[0] + y * columns[1] = b`.
pub(crate) fn solve2(columns: [Xy; 2], b: Xy) -> Option<Xy> {
    let [p, q] = columns;
    let det = p[0] * q[1] - p[1] * q[0];
    let out = [(b[0] * q[1] - b[1] * q[0]) / det, (p[0] * b[1] - p[1] * b[0]) / det];
    (out[0].is_finite() && out[1].is_finite()).then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn camera() -> Camera {
        let mut c = Camera::new([0.8, 0.05, 0.02, -0.04, 0.79, -0.03, 0.03, -0.05], 6000.0, 4000.0);
        c.k = [0.04, -0.01];
        c.centre = [0.01, -0.02];
        c
    }

    #[test]
    fn derivatives_are_those_of_the_projection() {
        let (c, film) = (camera(), [310.0, -205.0]);
        let p = c.projected(film).unwrap();
        for axis in 0..2 {
            let mut moved = film;
            moved[axis] += 1e-3;
            let q = c.project(moved).unwrap();
            for (i, q) in q.into_iter().enumerate() {
                assert!(((q - p.at[i]) / 1e-3 - p.by_film[axis][i]).abs() < 1e-3);
            }
        }
        for k in 0..CAMERA {
            let mut by = [0.0; CAMERA];
            by[k] = 1e-6;
            let mut moved = c.clone();
            moved.step(&by);
            let q = moved.project(film).unwrap();
            for (i, q) in q.into_iter().enumerate() {
                assert!(((q - p.at[i]) / 1e-6 - p.by_camera[k][i]).abs() < 0.1, "{k} {i}");
            }
        }
    }

    #[test]
    fn unprojecting_goes_back() {
        let c = camera();
        let film = c.unproject(c.project([310.0, -205.0]).unwrap(), [0.0, 0.0]).unwrap();
        assert!((film[0] - 310.0).abs() < 1e-6 && (film[1] + 205.0).abs() < 1e-6);
        assert!(!c.mirrored());
    }

    /// A camera 1200 mm over the film's (120, -80), tilted, with a focal length of 0.9 widths.
    #[test]
    fn the_foot_is_under_the_lens() {
        let (tx, ty): (f64, f64) = (0.2, -0.1);
        let rx =
            nalgebra::Matrix3::new(1., 0., 0., 0., tx.cos(), -tx.sin(), 0., tx.sin(), tx.cos());
        let ry =
            nalgebra::Matrix3::new(ty.cos(), 0., ty.sin(), 0., 1., 0., -ty.sin(), 0., ty.cos());
        let r = rx * ry;
        let eye = nalgebra::Vector3::new(120.0, -80.0, -1200.0);
        let see = |x: f64, y: f64| {
            let q = r * (nalgebra::Vector3::new(x, y, 0.0) - eye);
            [3000.0 + 5400.0 * q.x / q.z, 2000.0 + 5400.0 * q.y / q.z]
        };
        let film = [[-500.0, -400.0], [500.0, -400.0], [500.0, 400.0], [-500.0, 400.0]];
        let c = Camera::through(&film, &film.map(|p| see(p[0], p[1])), 6000.0, 4000.0).unwrap();
        let (foot, height) = c.foot(0.9);
        assert!((foot[0] - 120.0).abs() < 1e-3 && (foot[1] + 80.0).abs() < 1e-3, "{foot:?}");
        assert!((height - 1200.0).abs() < 1e-3, "{height}");
    }
}
