//! Photographs of taped films, made up from a film and a seed: perspective, lens, blur, noise,
//! uneven light, wavy film, slipped and wrong sheets.
//!
//! It shares no code with the check. Everything is decided by the seed.

pub mod art;
pub mod life;

use bitmap::Bitmap;
use inspect::{Mark, Photo, Sheet, Tone};
use rayon::prelude::*;

/// Numbers that look random (SplitMix64).
#[derive(Clone)]
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    /// Evenly between two numbers.
    pub fn within(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
    /// Normally distributed (Box & Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (self.within(1e-300, 1.0), self.within(0.0, std::f64::consts::TAU));
        (-2.0 * u.ln()).sqrt() * v.cos()
    }
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
}

/// What lies in a sheet's place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lies {
    Own,
    Nothing,
    Other(usize),
    Mirrored,
    UpsideDown,
}

/// How a sheet was taped down.
#[derive(Clone, Copy, Debug)]
pub struct Taped {
    pub what: Lies,
    /// The slip of its middle, mm.
    pub slip: [f64; 2],
    /// Its turn in radians, clockwise.
    pub turn: f64,
    /// What its scales exceed 1 by.
    pub stretch: [f64; 2],
}

impl Taped {
    pub const WELL: Self = Self { what: Lies::Own, slip: [0.0; 2], turn: 0.0, stretch: [0.0; 2] };
}

/// The film and how it was taped.
pub struct Scene<'a> {
    pub film: &'a Bitmap,
    /// The film with each sheet's own marks, or nothing where there are no marks.
    pub pages: &'a [Bitmap],
    pub ppi: f64,
    pub sheets: &'a [Sheet],
    pub taped: Vec<Taped>,
}

/// How the photograph was taken.
#[derive(Clone, Debug)]
pub struct Shot {
    pub width: u32,
    pub height: u32,
    /// How much of the photo the film fills.
    pub fill: f64,
    /// The turn about the lens's axis and the two tilts, degrees.
    pub turn: f64,
    pub tilt: [f64; 2],
    pub mirrored: bool,
    /// Focal length in photo widths.
    pub focal: f64,
    pub k: [f64; 2],
    /// Where the lens's axis meets the photo, off its middle, in photo widths.
    pub centre: [f64; 2],
    /// The lens's blur, a standard deviation in pixels.
    pub blur: f64,
    /// Noise at full white, a share of it.
    pub noise: f64,
    /// How uneven the light is.
    pub uneven: f64,
    /// The height of the film's waves, and of its shifts in the plane, mm.
    pub waves: f64,
    pub shifts: f64,
    /// The shortest and the longest waves, mm.
    pub lengths: [f64; 2],
    /// How far ink spreads past its edge, mm.
    pub growth: f64,
    /// How bright the table is where the film is not, of what the camera takes at most.
    pub bright: f64,
    /// Whether it shows all that real photographs show.
    pub lifelike: bool,
    pub seed: u64,
}

impl Shot {
    /// An ordinary hand-held shot.
    pub fn ordinary(width: u32, height: u32, seed: u64) -> Self {
        let mut d = Dice(seed);
        let quarter = [0.0, 0.0, 90.0, 180.0, 270.0][d.below(5)];
        Self {
            width,
            height,
            fill: d.within(0.78, 0.93),
            turn: quarter + d.within(-4.0, 4.0),
            tilt: [d.within(-7.0, 7.0), d.within(-7.0, 7.0)],
            mirrored: d.below(2) == 1,
            focal: d.within(0.75, 1.2),
            k: [d.within(-0.05, 0.05), d.within(-0.01, 0.01)],
            centre: [d.within(-0.01, 0.01), d.within(-0.01, 0.01)],
            blur: d.within(0.6, 1.1),
            noise: d.within(0.004, 0.015),
            uneven: d.within(0.1, 0.35),
            waves: d.within(0.3, 1.5),
            shifts: d.within(0.0, 0.05),
            growth: d.within(-0.02, 0.04),
            lengths: [250.0, 900.0].map(|v| v * Dice(seed ^ 83).within(0.4, 1.0)),
            bright: 0.75,
            lifelike: false,
            seed: d.next(),
        }
    }

    /// An ordinary one with tape, dust, creases, reflections, and a camera that sharpens.
    pub fn lifelike(width: u32, height: u32, seed: u64) -> Self {
        let bright = Dice(seed ^ 71).within(0.55, 1.15);
        Self { bright, lifelike: true, ..Self::ordinary(width, height, seed) }
    }
}

impl Shot {
    /// A careless one: steep, dim, blurred, of a film that does not lie flat.
    pub fn hard(width: u32, height: u32, seed: u64) -> Self {
        let shot = Self::ordinary(width, height, seed);
        let mut d = Dice(seed ^ 99);
        Self {
            fill: d.within(0.6, 0.95),
            turn: shot.turn + d.within(-5.0, 5.0),
            tilt: [d.within(-16.0, 16.0), d.within(-16.0, 16.0)],
            k: [d.within(-0.07, 0.07), d.within(-0.015, 0.015)],
            blur: d.within(0.9, 1.8),
            noise: d.within(0.01, 0.03),
            uneven: d.within(0.3, 0.6),
            waves: d.within(1.0, 3.0),
            shifts: d.within(0.0, 0.1),
            growth: d.within(-0.03, 0.06),
            ..shot
        }
    }
}

/// A smooth random surface: a few waves.
struct Waves(Vec<[f64; 4]>);

impl Waves {
    fn new(height: f64, [short, long]: [f64; 2], dice: &mut Dice) -> Self {
        let all = (0..5).map(|_| {
            let (length, way) = (dice.within(short, long), dice.within(0.0, std::f64::consts::TAU));
            let k = std::f64::consts::TAU / length;
            [k * way.cos(), k * way.sin(), dice.within(0.0, 6.3), height * dice.within(0.1, 0.4)]
        });
        Self(all.collect())
    }
    fn at(&self, x: f64, y: f64) -> f64 {
        self.0.iter().map(|w| w[3] * (w[0] * x + w[1] * y + w[2]).sin()).sum()
    }
}

/// The way of light from the film to the photo.
struct Way {
    rotation: [[f64; 3]; 3],
    eye: [f64; 3],
    focal: f64,
    half: [f64; 2],
    k: [f64; 2],
    centre: [f64; 2],
    mirror: f64,
    lift: Waves,
    creases: life::Creases,
    shift: [Waves; 2],
}

impl Way {
    fn new(shot: &Shot, size: [f64; 2]) -> Self {
        let mut dice = Dice(shot.seed);
        let [rx, ry] = shot.tilt.map(f64::to_radians);
        let rz = shot.turn.to_radians();
        let about_x = [[1.0, 0.0, 0.0], [0.0, rx.cos(), -rx.sin()], [0.0, rx.sin(), rx.cos()]];
        let about_y = [[ry.cos(), 0.0, ry.sin()], [0.0, 1.0, 0.0], [-ry.sin(), 0.0, ry.cos()]];
        let about_z = [[rz.cos(), -rz.sin(), 0.0], [rz.sin(), rz.cos(), 0.0], [0.0, 0.0, 1.0]];
        let rotation = times(&about_x, &times(&about_y, &about_z));
        let (w, h) = (f64::from(shot.width), f64::from(shot.height));
        let focal = shot.focal * w;
        let (c, s) = (rz.cos().abs(), rz.sin().abs());
        let (across, down) = (size[0] * c + size[1] * s, size[0] * s + size[1] * c);
        // The distance at which the film would fill that much of the photo, looked at squarely.
        let distance = focal / shot.fill * (across / w).max(down / h);
        // The lens's axis meets the film near its middle.
        let aim = [dice.within(-15.0, 15.0), dice.within(-15.0, 15.0), 0.0];
        let back = [0, 1, 2].map(|k| -rotation[2][k] * distance);
        let eye = [aim[0] + back[0], aim[1] + back[1], back[2]];
        let lift = Waves::new(shot.waves, shot.lengths, &mut dice);
        let creases = life::Creases::new(size, shot.lifelike, shot.seed);
        let shift = [
            Waves::new(shot.shifts, shot.lengths, &mut dice),
            Waves::new(shot.shifts, shot.lengths, &mut dice),
        ];
        let mirror = if shot.mirrored { -1.0 } else { 1.0 };
        let half = [w / 2.0, h / 2.0];
        let centre = shot.centre.map(|c| c * w);
        Self { rotation, eye, focal, half, k: shot.k, centre, mirror, lift, creases, shift }
    }

    /// Where the photo shows a place (mm from the middle) of the taped film.
    fn see(&self, x: f64, y: f64) -> [f64; 2] {
        let z = -self.lift.at(x, y) - self.creases.lift(x, y);
        let p = [(x + self.shift[0].at(x, y)) * self.mirror, y + self.shift[1].at(x, y), z];
        let d = [0, 1, 2].map(|k| p[k] - self.eye[k]);
        let q = self.rotation.map(|r| r[0] * d[0] + r[1] * d[1] + r[2] * d[2]);
        let (u, v) =
            (self.focal * q[0] / q[2] / self.half[0], self.focal * q[1] / q[2] / self.half[0]);
        let r2 = u * u + v * v;
        let s = self.half[0] * (1.0 + self.k[0] * r2 + self.k[1] * r2 * r2);
        [self.half[0] + self.centre[0] + u * s, self.half[1] + self.centre[1] + v * s]
    }

    /// The place seen at a photo place, by Newton's method from `start`.
    fn back(&self, photo: [f64; 2], start: [f64; 2]) -> [f64; 2] {
        let [mut x, mut y] = start;
        for _ in 0..30 {
            let at = self.see(x, y);
            let miss = [photo[0] - at[0], photo[1] - at[1]];
            if miss[0].abs() + miss[1].abs() < 1e-5 {
                break;
            }
            const H: f64 = 0.01;
            let (a, b) = (self.see(x + H, y), self.see(x, y + H));
            let j =
                [(a[0] - at[0]) / H, (b[0] - at[0]) / H, (a[1] - at[1]) / H, (b[1] - at[1]) / H];
            let det = j[0] * j[3] - j[1] * j[2];
            x += ((miss[0] * j[3] - miss[1] * j[1]) / det).clamp(-300.0, 300.0);
            y += ((miss[1] * j[0] - miss[0] * j[2]) / det).clamp(-300.0, 300.0);
        }
        [x, y]
    }
}

fn times(a: &[[f64; 3]; 3], b: &[[f64; 3]; 3]) -> [[f64; 3]; 3] {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| a[i][k] * b[k][j]).sum()))
}

/// So many places along either side of a pixel.
const SIDE: usize = 4;

/// What a lens and pixels make of fine light along one axis.
struct Lens {
    /// How far the first place lies before a pixel's own.
    before: i64,
    weights: Vec<f32>,
}

impl Lens {
    /// That blurs by so many pixels.
    fn new(blur: f64) -> Self {
        let sigma = blur * SIDE as f64;
        let before = (3.0 * sigma).ceil() as i64;
        let bell = |t: i64| (-0.5 * (t as f64 / sigma).powi(2)).exp();
        let raw: Vec<f64> = (-before..SIDE as i64 + before)
            .map(|k| (0..SIDE as i64).map(|own| bell(k - own)).sum())
            .collect();
        let sum: f64 = raw.iter().sum();
        Self { before, weights: raw.iter().map(|w| (w / sum) as f32).collect() }
    }

    /// The light that one of so many pixels takes in.
    fn taken(&self, pixel: usize, pixels: usize, fine: impl Fn(usize) -> f32) -> f32 {
        let first = (pixel * SIDE) as i64 - self.before;
        let last = (pixels * SIDE) as i64 - 1;
        let places = self.weights.iter().zip(first..);
        places.map(|(w, at)| w * fine(at.clamp(0, last) as usize)).sum()
    }
}

/// Takes the photograph, and gives with it where the film's corners appear.
pub fn photograph(scene: &Scene, shot: &Shot) -> (Photo, [[f64; 2]; 4]) {
    let pixel = 25.4 / scene.ppi;
    let size = [f64::from(scene.film.width()) * pixel, f64::from(scene.film.height()) * pixel];
    let way = Way::new(shot, size);
    let (width, height) = (shot.width as usize, shot.height as usize);
    // The way back is worked out every eight pixels and is straight between.
    const GRID: usize = 8;
    let across = width.div_ceil(GRID) + 1;
    let nodes: Vec<Vec<[f64; 2]>> = (0..height.div_ceil(GRID) + 1)
        .into_par_iter()
        .map(|j| {
            let mut at = [0.0, 0.0];
            (0..across)
                .map(|i| {
                    at = way.back([(i * GRID) as f64, (j * GRID) as f64], at);
                    at
                })
                .collect()
        })
        .collect();
    let look = Look::new(scene, shot);
    // The lens blurs before pixels take in the light that falls on them: light is worked out in so
    // many places along either side of a pixel. First it is blurred and taken in across.
    let lens = Lens::new(shot.blur);
    let mut across_only = vec![0.0_f32; width * height * SIDE];
    across_only.par_chunks_mut(width * GRID * SIDE).enumerate().for_each(|(j, rows)| {
        let lines = rows.len() / width;
        let mut fine = vec![0.0_f32; width * SIDE * lines];
        for i in 0..across - 1 {
            let corners = [nodes[j][i], nodes[j][i + 1], nodes[j + 1][i], nodes[j + 1][i + 1]];
            let near = look.near(&corners);
            let place = |x: usize, y: usize| {
                let part = |d: usize| (d as f64 + 0.5) / (GRID * SIDE) as f64;
                let (u, v) = (part(x), part(y));
                [0, 1].map(|k| {
                    (corners[0][k] * (1.0 - u) + corners[1][k] * u) * (1.0 - v)
                        + (corners[2][k] * (1.0 - u) + corners[3][k] * u) * v
                })
            };
            for dy in (0..lines).step_by(SIDE) {
                for dx in (0..GRID.min(width - i * GRID) * SIDE).step_by(SIDE) {
                    let light = |(x, y): (usize, usize)| match near.is_empty() {
                        true => look.table(corners[0]),
                        false => look.light(place(dx + x, dy + y), &near),
                    };
                    // Where four places are alike, so is the whole pixel.
                    let few = [(0, 1), (1, 3), (2, 0), (3, 2)].map(light);
                    let alike = few.iter().all(|v| *v == few[0]);
                    for (y, x) in (0..SIDE * SIDE).map(|k| (k / SIDE, k % SIDE)) {
                        let at = (dy + y) * width * SIDE + i * GRID * SIDE + dx + x;
                        fine[at] = if alike { few[0] } else { light((x, y)) };
                    }
                }
            }
        }
        for (out, fine) in rows.chunks_mut(width).zip(fine.chunks(width * SIDE)) {
            for (x, out) in out.iter_mut().enumerate() {
                *out = lens.taken(x, width, |at| fine[at]);
            }
        }
    });
    let mut light = vec![0.0_f32; width * height];
    light.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, out) in row.iter_mut().enumerate() {
            *out = lens.taken(y, height, |at| across_only[at * width + x]);
        }
    });
    if shot.lifelike {
        life::unclean(&mut light, width, shot.seed);
    }
    let mut grey = developed(&light, width, shot);
    if shot.lifelike {
        grey = life::processed(&grey, width, shot.seed);
    }
    let [x, y] = [size[0] / 2.0, size[1] / 2.0];
    let corners = [[-x, -y], [x, -y], [x, y], [-x, y]].map(|c| way.see(c[0], c[1]));
    (Photo { width: shot.width, height: shot.height, grey, tone: Tone::Srgb }, corners)
}

/// The taped film as light passes it.
struct Look<'a> {
    scene: &'a Scene<'a>,
    pixel: f64,
    size: [f64; 2],
    through_ink: f32,
    growth: f64,
    /// Each sheet's frame, in mm from the film's middle.
    frames: Vec<[f64; 4]>,
    clutter: Option<life::Clutter>,
}

const THROUGH_FILM: f32 = 0.94;

impl<'a> Look<'a> {
    fn new(scene: &'a Scene<'a>, shot: &Shot) -> Self {
        let pixel = 25.4 / scene.ppi;
        let size = [f64::from(scene.film.width()) * pixel, f64::from(scene.film.height()) * pixel];
        let through_ink = Dice(shot.seed ^ 5).within(0.01, 0.08) as f32;
        let frames: Vec<[f64; 4]> =
            (0..scene.sheets.len()).map(|s| frame(scene, s, pixel, size)).collect();
        let clutter = shot.lifelike.then(|| life::Clutter::new(scene, &frames, shot.seed));
        Self { scene, pixel, size, through_ink, growth: shot.growth, frames, clutter }
    }

    /// The sheets that may lie between the four places.
    fn near(&self, corners: &[[f64; 2]; 4]) -> Vec<usize> {
        let side = |k: usize, pick: fn(f64, f64) -> f64| {
            corners.iter().map(|c| c[k]).reduce(pick).unwrap_or_default()
        };
        let (l, t, r, b) =
            (side(0, f64::min), side(1, f64::min), side(0, f64::max), side(1, f64::max));
        (0..self.scene.sheets.len())
            .filter(|s| {
                let [x0, y0, x1, y1] = self.frames[*s];
                l < x1 + 15.0 && r > x0 - 15.0 && t < y1 + 15.0 && b > y0 - 15.0
            })
            .collect()
    }

    fn light(&self, at: [f64; 2], near: &[usize]) -> f32 {
        let mut light = self.table(at);
        if let Some(clutter) = &self.clutter {
            light *= clutter.tape(at);
        }
        for s in near {
            let taped = self.scene.taped[*s];
            let [x0, y0, x1, y1] = self.frames[*s];
            let middle = [(x0 + x1) / 2.0, (y0 + y1) / 2.0];
            let d = [at[0] - middle[0] - taped.slip[0], at[1] - middle[1] - taped.slip[1]];
            // The inverse of (1 + stretch, turn) to first order and a half.
            let det = (1.0 + taped.stretch[0]) * (1.0 + taped.stretch[1]) + taped.turn * taped.turn;
            let r = [
                ((1.0 + taped.stretch[1]) * d[0] + taped.turn * d[1]) / det,
                ((1.0 + taped.stretch[0]) * d[1] - taped.turn * d[0]) / det,
            ];
            let half = [(x1 - x0) / 2.0, (y1 - y0) / 2.0];
            if r[0].abs() > half[0] || r[1].abs() > half[1] || taped.what == Lies::Nothing {
                continue;
            }
            let lies = if let Lies::Other(o) = taped.what { o } else { *s };
            let from = match taped.what {
                Lies::Mirrored => [middle[0] - r[0], middle[1] + r[1]],
                Lies::UpsideDown => [middle[0] - r[0], middle[1] - r[1]],
                Lies::Other(o) => {
                    let [a0, b0, a1, b1] = self.frames[o];
                    [(a0 + a1) / 2.0 + r[0], (b0 + b1) / 2.0 + r[1]]
                }
                _ => [middle[0] + r[0], middle[1] + r[1]],
            };
            let ink = self.ink(from, lies);
            light *= match &self.clutter {
                Some(clutter) => clutter.through(*s, at, ink),
                None => THROUGH_FILM * (1.0 - ink * (1.0 - self.through_ink)),
            };
        }
        light
    }

    /// The bright table, which ends some way beyond the film.
    fn table(&self, at: [f64; 2]) -> f32 {
        let beyond = (at[0].abs() - self.size[0] / 2.0).max(at[1].abs() - self.size[1] / 2.0);
        match &self.clutter {
            Some(clutter) => clutter.table(beyond),
            None if beyond > 70.0 => 0.25,
            None => 1.0,
        }
    }

    /// A sheet's ink at a film place, between pixels.
    fn ink(&self, at: [f64; 2], sheet: usize) -> f32 {
        let page = self.scene.pages.get(sheet).unwrap_or(self.scene.film);
        let (x, y) = (
            (at[0] + self.size[0] / 2.0) / self.pixel - 0.5,
            (at[1] + self.size[1] / 2.0) / self.pixel - 0.5,
        );
        let (ix, iy) = (x.floor(), y.floor());
        let (fx, fy) = ((x - ix) as f32, (y - iy) as f32);
        let get = |dx: f64, dy: f64| {
            let (x, y) = (ix + dx, iy + dy);
            if x < 0.0 || y < 0.0 { 0.0 } else { f32::from(u8::from(page.get(x as u32, y as u32))) }
        };
        let cover = (get(0., 0.) * (1. - fx) + get(1., 0.) * fx) * (1. - fy)
            + (get(0., 1.) * (1. - fx) + get(1., 1.) * fx) * fy;
        // Ink that spreads shifts the level at which it ends.
        let spread = (self.growth / self.pixel) as f32;
        if spread == 0.0 || cover == 0.0 || cover == 1.0 {
            cover
        } else {
            (cover + spread).clamp(0.0, 1.0)
        }
    }
}

/// An upright sheet's frame in mm from the film's middle.
fn frame(scene: &Scene, s: usize, pixel: f64, size: [f64; 2]) -> [f64; 4] {
    let [a, _, c, _] = scene.sheets[s].corners;
    let mm = |v: f64, k: usize| v * pixel - size[k] / 2.0;
    [mm(a[0], 0), mm(a[1], 1), mm(c[0], 0), mm(c[1], 1)]
}

fn blurred(light: Vec<f32>, width: usize, sigma: f64) -> Vec<f32> {
    let half = (3.0 * sigma).ceil() as i64;
    let raw: Vec<f64> = (-half..=half).map(|i| (-0.5 * (i as f64 / sigma).powi(2)).exp()).collect();
    let sum: f64 = raw.iter().sum();
    let kernel: Vec<f32> = raw.iter().map(|w| (w / sum) as f32).collect();
    let height = light.len() / width;
    let mut across = vec![0.0_f32; light.len()];
    across.par_chunks_mut(width).zip(light.par_chunks(width)).for_each(|(out, row)| {
        for (x, out) in out.iter_mut().enumerate() {
            for (k, w) in kernel.iter().enumerate() {
                *out += w * row[(x as i64 + k as i64 - half).clamp(0, width as i64 - 1) as usize];
            }
        }
    });
    let mut out = light;
    out.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        out.fill(0.0);
        for (k, w) in kernel.iter().enumerate() {
            let from = (y as i64 + k as i64 - half).clamp(0, height as i64 - 1) as usize;
            for (out, v) in out.iter_mut().zip(&across[from * width..][..width]) {
                *out += w * v;
            }
        }
    });
    out
}

/// Uneven light, noise, and the sRGB curve.
fn developed(light: &[f32], width: usize, shot: &Shot) -> Vec<u8> {
    let mut dice = Dice(shot.seed ^ 77);
    let (slope, way) = (shot.uneven, dice.within(0.0, std::f64::consts::TAU));
    let (sx, sy) = (slope * way.cos(), slope * way.sin());
    let bow = dice.within(0.0, shot.uneven);
    let height = light.len() / width;
    let coded: Vec<u8> = (0..65536_u32).map(|v| srgb((f64::from(v) + 0.5) / 65536.0)).collect();
    let mut out = vec![0; light.len()];
    out.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        let mut dice = Dice(shot.seed.wrapping_add(1000 + y as u64));
        let v = y as f64 / height as f64 - 0.5;
        for (x, out) in out.iter_mut().enumerate() {
            let u = x as f64 / width as f64 - 0.5;
            let lamp = shot.bright * (1.0 + sx * u + sy * v - bow * (u * u + v * v));
            let value = lamp * f64::from(light[y * width + x]) + 0.003;
            // Shot noise grows with the root of the light.
            let noise = shot.noise * (value.max(0.0).sqrt() + 0.15) * quick_normal(&mut dice);
            let value = (value + noise).clamp(0.0, 1.0);
            *out = coded[(value * 65535.0) as usize];
        }
    });
    out
}

/// Light as a pixel's number (IEC 61966-2-1).
fn srgb(light: f64) -> u8 {
    let coded =
        if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    (coded * 255.0).round() as u8
}

/// Nearly normal: the sum of four even numbers.
fn quick_normal(dice: &mut Dice) -> f64 {
    let bits = dice.next();
    let sum: u64 = (0..4).map(|k| (bits >> (16 * k)) & 0xFFFF).sum();
    (sum as f64 / 65536.0 - 2.0) * 1.732
}

/// A film of made-up shapes.
pub fn drawing(width: u32, height: u32, shapes: usize, sizes: [f64; 2], seed: u64) -> Bitmap {
    let mut film = Bitmap::new(width, height);
    let mut dice = Dice(seed);
    for k in 0..shapes {
        let radius = dice.within(sizes[0], sizes[1]) / 2.0;
        let x = dice.within(
            radius.min(f64::from(width) * 0.4),
            (f64::from(width) - radius).max(f64::from(width) * 0.6),
        );
        let y = dice.within(
            radius.min(f64::from(height) * 0.4),
            (f64::from(height) - radius).max(f64::from(height) * 0.6),
        );
        let points = 2 + dice.below(7);
        let (depth, turn) = (dice.within(0.1, 0.55), dice.within(0.0, 6.3));
        let hole = if dice.below(2) == 0 { dice.within(0.3, 0.8) } else { 0.0 };
        let ink = k % 4 != 3;
        let (top, bottom) =
            ((y - radius).max(0.0) as u32, (y + radius).min(f64::from(height)) as u32);
        let (left, right) =
            ((x - radius).max(0.0) as u32, (x + radius).min(f64::from(width)) as u32);
        for py in top..bottom {
            for px in left..right {
                let (dx, dy) = (f64::from(px) + 0.5 - x, f64::from(py) + 0.5 - y);
                let far = dx.hypot(dy) / radius;
                if far > 1.0 {
                    continue;
                }
                let wave = (dy.atan2(dx) * points as f64 + turn).cos();
                let edge = 1.0 - depth * (0.5 - 0.5 * wave);
                if far < edge && far > hole * edge {
                    film.set(px, py, ink);
                }
            }
        }
    }
    film
}

/// A grid of sheets with its seams.
pub fn grid(
    width: u32,
    height: u32,
    columns: usize,
    rows: usize,
    overlap: f64,
) -> (Vec<Sheet>, Vec<[usize; 2]>) {
    let (w, h) = (f64::from(width), f64::from(height));
    let (sw, sh) = (
        (w + (columns - 1) as f64 * overlap) / columns as f64,
        (h + (rows - 1) as f64 * overlap) / rows as f64,
    );
    let mut sheets = Vec::new();
    let mut seams = Vec::new();
    for r in 0..rows {
        for c in 0..columns {
            let name = format!("{}{}", (b'A' + r as u8) as char, c + 1);
            sheets.push(Sheet::upright(
                name,
                c as f64 * (sw - overlap),
                r as f64 * (sh - overlap),
                sw,
                sh,
            ));
            let at = r * columns + c;
            if c > 0 {
                seams.push([at - 1, at]);
            }
            if r > 0 {
                seams.push([at - columns, at]);
            }
        }
    }
    (sheets, seams)
}

/// How far sheet `s` moves a film place (film pixels), in mm.
pub fn motion(scene: &Scene, s: usize, at: [f64; 2]) -> [f64; 2] {
    let t = scene.taped[s];
    let [a, _, c, _] = scene.sheets[s].corners;
    let pixel = 25.4 / scene.ppi;
    let r = [0, 1].map(|k| (at[k] - (a[k] + c[k]) / 2.0) * pixel);
    [
        t.slip[0] + t.stretch[0] * r[0] - t.turn * r[1],
        t.slip[1] + t.stretch[1] * r[1] + t.turn * r[0],
    ]
}

/// The film as each upright sheet has it, with a crossed hairline and its half of a vernier
/// towards either end of every seam, and what the check is told of that.
pub fn marked(
    film: &Bitmap,
    ppi: f64,
    sheets: &[Sheet],
    seams: &[[usize; 2]],
) -> (Vec<Bitmap>, Vec<Mark>) {
    let mut pages = vec![film.clone(); sheets.len()];
    let mut marks = Vec::new();
    let px = |mm: f64| (mm / 25.4 * ppi).round() as i64;
    let (half, around) = (px(4.3), px(5.3));
    for pair in seams {
        let [a, b] = pair.map(|s| (sheets[s].corners[0], sheets[s].corners[2]));
        let low = [0, 1].map(|k| a.0[k].max(b.0[k]));
        let high = [0, 1].map(|k| a.1[k].min(b.1[k]));
        let long = usize::from(high[1] - low[1] > high[0] - low[0]);
        for far in [false, true] {
            let middle = (10..50).find_map(|hundredth| {
                let share = f64::from(if far { 100 - hundredth } else { hundredth }) / 100.0;
                let mut at = [0, 1].map(|k| ((low[k] + high[k]) / 2.0) as i64);
                at[long] = (low[long] + (high[long] - low[long]) * share) as i64;
                let clear = (-half..=half).all(|dy| {
                    (-half..=half).all(|dx| !film.get((at[0] + dx) as u32, (at[1] + dy) as u32))
                });
                (clear && at[0] > around && at[1] > around).then_some(at)
            });
            let Some([x, y]) = middle else { continue };
            for (side, sheet) in pair.iter().enumerate() {
                let mut line = |from: [f64; 2], to: [f64; 2]| {
                    for v in y + px(from[1])..=y + px(to[1]) {
                        for u in x + px(from[0])..=x + px(to[0]) {
                            pages[*sheet].set(u as u32, v as u32, true);
                        }
                    }
                };
                line([-4.3, 0.0], [4.3, 0.0]);
                line([0.0, -4.3], [0.0, 4.3]);
                let (from, to) = if side == 0 { (-0.8, 0.0) } else { (0.0, 0.8) };
                for step in (-4..=4).filter(|s| *s != 0) {
                    let at = f64::from(step) * if side == 0 { 1.0 } else { 0.9 };
                    line([at, from], [at, to]);
                    line([from, at], [to, at]);
                }
            }
            let corner = [x - around, y - around];
            let drawn = pair.map(|s| {
                let side = 2 * around as u32 + 1;
                Bitmap::from_fn(side, side, |u, v| {
                    pages[s].get(corner[0] as u32 + u, corner[1] as u32 + v)
                })
            });
            marks.push(Mark { sheets: *pair, corner, drawn });
        }
    }
    (pages, marks)
}
