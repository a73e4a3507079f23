//! Refining a homography on grey values: Gauss-Newton on eight numbers, with the film's
//! contrast and an uneven light solved along (Lucas & Kanade 1981; Evangelidis & Psarakis 2008).

use crate::camera::{Camera, Xy};
use crate::correlation;
use crate::grey::Grey;
use crate::layout::Layout;
use rayon::prelude::*;

/// The numbers of the homography, then contrast, brightness and its slopes.
const N: usize = 12;
type Normal = nalgebra::SMatrix<f64, N, N>;
type Right = nalgebra::SVector<f64, N>;

/// Improves `camera` on the film's clearness (cells of `mm`), where it is taken, and a photo level
/// of `scale` photo pixels a pixel. Gives the correlation reached.
pub(crate) fn align(
    camera: &mut Camera,
    (film, mm): &(Grey, f64),
    layout: &Layout,
    taken: &(impl Fn(Xy) -> bool + Sync),
    (photo, scale): (&Grey, f64),
    passes: usize,
) -> f64 {
    let mut light = [1.0, 0.0, 0.0, 0.0];
    let mut score = f64::NEG_INFINITY;
    let mut best = camera.clone();
    let mut damping = 1e-3;
    for pass in 0..=passes {
        let sums = sums(camera, (film, *mm), layout, taken, (photo, scale), &light);
        // The light's numbers are found best for this camera; only then is it judged.
        let now = sums.light.correlation().unwrap_or(0.0);
        if now > score {
            let settled = pass > 2 && now < score + 2e-4;
            (score, best) = (now, camera.clone());
            if settled {
                break;
            }
            damping *= 0.3;
        } else {
            *camera = best.clone();
            damping *= 10.0;
        }
        if pass == passes || damping > 1.0 {
            break;
        }
        let mut normal = sums.normal;
        for i in 0..8 {
            normal[(i, i)] *= 1.0 + damping;
        }
        for i in 0..N {
            normal[(i, i)] += 1e-9;
        }
        let Some(step) = normal.cholesky().map(|c| c.solve(&sums.right)) else {
            break;
        };
        let mut by = [0.0; 12];
        by[..8].copy_from_slice(&step.as_slice()[..8]);
        camera.step(&by);
        for (value, by) in light.iter_mut().zip(&step.as_slice()[8..]) {
            *value += by;
        }
    }
    *camera = best;
    score
}

/// The sums over all film cells.
struct Sums {
    normal: Normal,
    right: Right,
    light: correlation::Sums,
}

impl Sums {
    fn none() -> Self {
        Self { normal: Normal::zeros(), right: Right::zeros(), light: correlation::Sums::default() }
    }

    fn plus(mut self, o: Self) -> Self {
        self.normal += o.normal;
        self.right += o.right;
        self.light.add(&o.light);
        self
    }
}

fn sums(
    camera: &Camera,
    (film, mm): (&Grey, f64),
    layout: &Layout,
    taken: &(impl Fn(Xy) -> bool + Sync),
    (photo, scale): (&Grey, f64),
    light: &[f64; 4],
) -> Sums {
    let rows: Vec<Sums> = (0..film.height)
        .into_par_iter()
        .map(|y| {
            let mut sums = Sums::none();
            for x in 0..film.width {
                let at = [
                    (x as f64 + 0.5) * mm - layout.size[0] / 2.0,
                    (y as f64 + 0.5) * mm - layout.size[1] / 2.0,
                ];
                let Some(p) = camera.projected(at).filter(|_| taken(at)) else {
                    continue;
                };
                let [px, py] = p.at.map(|v| v / scale);
                if px < 1.0
                    || py < 1.0
                    || px > photo.width as f64 - 1.0
                    || py > photo.height as f64 - 1.0
                {
                    continue;
                }
                let f = f64::from(film.at(x, y)) / 65535.0;
                let (g, slope) = seen(photo, px, py);
                // Slopes of the light run over the film's longer side.
                let long = layout.size[0].max(layout.size[1]);
                let (u, v) = (at[0] / long, at[1] / long);
                let miss = light[0] * f + light[1] + light[2] * u + light[3] * v - g;
                let mut row = Right::zeros();
                for k in 0..8 {
                    row[k] = (slope[0] * p.by_camera[k][0] + slope[1] * p.by_camera[k][1]) / scale;
                }
                row[8] = -f;
                row[9] = -1.0;
                row[10] = -u;
                row[11] = -v;
                for j in 0..N {
                    for i in j..N {
                        sums.normal[(i, j)] += row[i] * row[j];
                    }
                    sums.right[j] += row[j] * miss;
                }
                let flat = g - light[2] * u - light[3] * v;
                sums.light.add(&correlation::Sums::of(f, flat));
            }
            sums
        })
        .collect();
    rows.into_iter().fold(Sums::none(), Sums::plus)
}

/// The photo's value, 0 to 1, and its slopes a pixel, bilinear, away from the border.
fn seen(photo: &Grey, x: f64, y: f64) -> (f64, [f64; 2]) {
    let (x, y) = (x - 0.5, y - 0.5);
    let (i, j) = ((x as usize).min(photo.width - 2), (y as usize).min(photo.height - 2));
    let (fx, fy) = (x - i as f64, y - j as f64);
    let [a, b, c, d] = [(i, j), (i + 1, j), (i, j + 1), (i + 1, j + 1)]
        .map(|(i, j)| f64::from(photo.at(i, j)) / 65535.0);
    let (top, bottom) = (a + (b - a) * fx, c + (d - c) * fx);
    let across = (b - a) * (1.0 - fy) + (d - c) * fy;
    (top + (bottom - top) * fy, [across, bottom - top])
}
