//! What real photographs show besides the film: tape, dust, creases, curled edges, uneven film and
//! ink, reflections, a shaken hand, and what a camera makes of its pictures.

use super::{Dice, Scene, blurred};
use bitmap::Bitmap;
use rayon::prelude::*;

/// What lies on the film, in mm from its middle.
pub struct Clutter {
    /// Strips of clear tape over the seams: left, top, right, bottom.
    tape: Vec<[f64; 4]>,
    /// How clear each sheet is, and its ink.
    film: Vec<[f32; 2]>,
    /// How the ink's blackness goes up and down along the sheet, and how often in a mm.
    streaks: [f64; 2],
    spoilt: Spoilt,
    /// How far the bright table goes on around the film, and how bright it is beyond.
    table: [f64; 2],
}

impl Clutter {
    pub fn new(scene: &Scene, frames: &[[f64; 4]], seed: u64) -> Self {
        let mut d = Dice(seed ^ 31);
        let mut tape = Vec::new();
        for (i, a) in frames.iter().enumerate() {
            for b in &frames[..i] {
                let low = [a[0].max(b[0]), a[1].max(b[1])];
                let high = [a[2].min(b[2]), a[3].min(b[3])];
                let size = [high[0] - low[0], high[1] - low[1]];
                if size[0].min(size[1]) < 0.0 || size[0].max(size[1]) < 50.0 {
                    continue;
                }
                let long = usize::from(size[1] > size[0]);
                // A short piece every so far, over either the overlap's middle or its edge.
                let mut at = low[long] + d.within(5.0, 40.0);
                while at < high[long] - 60.0 {
                    let off = [0.0, size[1 - long] / 2.0][d.below(2)] + d.normal() * 2.0;
                    let middle = (low[1 - long] + high[1 - long]) / 2.0 + off;
                    let (across, along) = ([middle - 9.5, middle + 9.5], [at, at + 55.0]);
                    tape.push(match long {
                        0 => [along[0], across[0], along[1], across[1]],
                        _ => [across[0], along[0], across[1], along[1]],
                    });
                    at += d.within(90.0, 200.0);
                }
            }
        }
        let film = (0..scene.sheets.len())
            .map(|_| [d.within(0.86, 0.96) as f32, d.within(0.005, 0.1) as f32])
            .collect();
        let streaks = [d.within(0.0, 0.5), d.within(0.1, 1.0)];
        let spoilt = Spoilt::new(scene.film, scene.ppi, seed);
        Self { tape, film, streaks, spoilt, table: [d.within(8.0, 90.0), d.within(0.02, 0.5)] }
    }

    pub fn table(&self, beyond: f64) -> f32 {
        if beyond > self.table[0] { self.table[1] as f32 } else { 1.0 }
    }

    /// What a sheet lets through with so much ink.
    pub fn through(&self, sheet: usize, at: [f64; 2], ink: f32) -> f32 {
        let [clear, mut black] = self.film[sheet];
        let near = |[x, y]: [f64; 2], reach: f64| (x - at[0]).hypot(y - at[1]) < reach;
        if self.spoilt.pinholes.iter().any(|(hole, radius)| near(*hole, *radius)) {
            return clear;
        }
        if self.spoilt.thin.is_some_and(|thin| near(thin, THIN)) {
            black += 0.2;
        }
        let streak = 1.0 + self.streaks[0] * (at[1] * self.streaks[1]).sin();
        clear * (1.0 - ink * (1.0 - black * streak as f32))
    }

    pub fn tape(&self, at: [f64; 2]) -> f32 {
        let mut light = 1.0;
        for [l, t, r, b] in &self.tape {
            let inside = (at[0] - l).min(r - at[0]).min(at[1] - t).min(b - at[1]);
            if inside > 0.0 {
                light *= if inside < 0.12 { 0.7 } else { 0.95 };
            }
        }
        light
    }
}

/// How far thin black goes, mm.
pub const THIN: f64 = 20.0;

/// Where a film's ink is not as it should be, in mm from its middle.
pub struct Spoilt {
    /// Pinholes, with their radius.
    pub pinholes: Vec<([f64; 2], f64)>,
    /// The middle of a place whose ink is thin.
    pub thin: Option<[f64; 2]>,
}

impl Spoilt {
    pub fn new(film: &Bitmap, ppi: f64, seed: u64) -> Self {
        let mut d = Dice(seed ^ 113);
        let size = [film.width(), film.height()].map(|v| f64::from(v) / ppi * 25.4);
        // Of places about one, so many that have ink.
        let inked = |at: [f64; 2], reach: f64| {
            let ink = |k: usize| {
                let (u, v) = ((k % 5) as f64 / 2.0 - 1.0, (k / 5) as f64 / 2.0 - 1.0);
                let [x, y] = [at[0] + size[0] / 2.0 + u * reach, at[1] + size[1] / 2.0 + v * reach]
                    .map(|v| v / 25.4 * ppi);
                x >= 0.0 && y >= 0.0 && film.get(x as u32, y as u32)
            };
            (0..25).filter(|k| ink(*k)).count()
        };
        let mut somewhere = |reach: f64, least: usize, most: usize| {
            let places = (0..20_000).map(|_| size.map(|v| d.within(-0.48, 0.48) * v));
            places.filter(|at| inked(*at, reach) >= least).take(most).collect::<Vec<_>>()
        };
        let (pinholes, thin) = (somewhere(2.5, 25, 12), somewhere(12.0, 22, 1));
        let holes = pinholes.into_iter().map(|at| (at, d.within(0.15, 0.8))).collect();
        Self { pinholes: holes, thin: thin.first().copied() }
    }
}

/// Creases, each a line across the film that stands up, and how far its sides do.
pub struct Creases {
    lines: Vec<[f64; 5]>,
    curl: [f64; 2],
    half: [f64; 2],
}

impl Creases {
    pub fn new(size: [f64; 2], life: bool, seed: u64) -> Self {
        let mut d = Dice(seed ^ 57);
        let half = size.map(|v| v / 2.0);
        let lines = (0..if life { 3 } else { 0 })
            .map(|_| {
                let way = d.within(0.0, 6.3);
                let height = d.normal() * 0.8;
                [way.cos(), way.sin(), d.within(-400.0, 400.0), height, d.within(15.0, 60.0)]
            })
            .collect();
        let curl = if life { [d.within(0.0, 3.0), d.within(15.0, 50.0)] } else { [0.0, 1.0] };
        Self { lines, curl, half }
    }

    pub fn lift(&self, x: f64, y: f64) -> f64 {
        let line = |[c, s, at, height, wide]: &[f64; 5]| {
            height * (-(c * x + s * y - at).abs() / wide).exp()
        };
        let inside = (self.half[0] - x.abs()).min(self.half[1] - y.abs()).max(0.0);
        self.lines.iter().map(line).sum::<f64>() + self.curl[0] * (-inside / self.curl[1]).exp()
    }
}

/// Dust, hairs, a shaken hand and reflections.
pub fn unclean(light: &mut [f32], width: usize, seed: u64) {
    let height = light.len() / width;
    let mut d = Dice(seed ^ 91);
    for _ in 0..150 {
        let (x, y) = (d.within(0.0, width as f64), d.within(0.0, height as f64));
        let (radius, dark) = (d.within(0.7, 3.5), d.within(0.2, 0.8));
        // One in five is a hair.
        let (steps, way) = if d.below(5) == 0 { (60, d.within(0.0, 6.3)) } else { (1, 0.0) };
        let (mut x, mut y, mut way, bend) = (x, y, way, d.normal() * 0.04);
        let radius = if steps > 1 { 0.8 } else { radius };
        for _ in 0..steps {
            let reach = |v: f64, most: usize| {
                (v - radius).max(0.0) as usize..((v + radius).max(0.0) as usize + 1).min(most)
            };
            for v in reach(y, height) {
                for u in reach(x, width) {
                    if (u as f64 - x).hypot(v as f64 - y) < radius {
                        light[v * width + u] *= (1.0 - dark) as f32;
                    }
                }
            }
            (x, y, way) = (x + way.cos(), y + way.sin(), way + bend);
        }
    }
    shaken(light, width, [d.within(-1.2, 1.2), d.within(-1.2, 1.2)]);
    // Two soft reflections and a window's.
    let blobs: Vec<[f64; 4]> = (0..2)
        .map(|_| {
            let wide = d.within(0.03, 0.12) * width as f64;
            [
                d.within(0.0, 1.0) * width as f64,
                d.within(0.0, 1.0) * height as f64,
                wide,
                d.within(0.0, 0.1),
            ]
        })
        .collect();
    let pane = [d.within(0.0, 0.8), d.within(0.0, 0.8), d.within(0.05, 0.2), d.within(0.0, 0.06)];
    light.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, out) in row.iter_mut().enumerate() {
            let (u, v) = (x as f64, y as f64);
            for [bx, by, wide, high] in &blobs {
                let r2 = ((u - bx).powi(2) + (v - by).powi(2)) / (wide * wide);
                if r2 < 12.0 {
                    *out += (high * (-0.5 * r2).exp()) as f32;
                }
            }
            let (u, v) = (u / width as f64, v / height as f64);
            if (pane[0]..pane[0] + pane[2]).contains(&u)
                && (pane[1]..pane[1] + pane[2]).contains(&v)
            {
                *out += pane[3] as f32;
            }
        }
    });
}

/// Smears light along the way a hand moved, in pixels either way.
fn shaken(light: &mut [f32], width: usize, way: [f64; 2]) {
    let height = light.len() / width;
    let from = light.to_vec();
    light.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, out) in row.iter_mut().enumerate() {
            let mut sum = 0.0;
            for step in -2..=2 {
                let part = f64::from(step) / 2.0;
                let u = (x as f64 + way[0] * part).clamp(0.0, width as f64 - 1.001);
                let v = (y as f64 + way[1] * part).clamp(0.0, height as f64 - 1.001);
                let (iu, iv) = (u as usize, v as usize);
                let (fu, fv) = ((u - iu as f64) as f32, (v - iv as f64) as f32);
                let at = |dx: usize, dy: usize| from[(iv + dy) * width + iu + dx];
                sum += (at(0, 0) * (1.0 - fu) + at(1, 0) * fu) * (1.0 - fv)
                    + (at(0, 1) * (1.0 - fu) + at(1, 1) * fu) * fv;
            }
            *out = sum / 5.0;
        }
    });
}

/// What a camera makes of a picture: more contrast, and sharper.
pub fn processed(grey: &[u8], width: usize, seed: u64) -> Vec<u8> {
    let mut d = Dice(seed ^ 13);
    let (contrast, amount, radius) = (d.within(0.0, 0.6), d.within(0.2, 1.2), d.within(0.8, 1.6));
    let curve: Vec<f32> = (0..256)
        .map(|v| {
            let v = f64::from(v) / 255.0;
            ((v + contrast * (v * v * (3.0 - 2.0 * v) - v)) * 255.0) as f32
        })
        .collect();
    let toned: Vec<f32> = grey.iter().map(|v| curve[usize::from(*v)]).collect();
    let soft = blurred(toned.clone(), width, radius);
    let sharp =
        |(v, soft): (&f32, &f32)| (v + amount as f32 * (v - soft)).round().clamp(0.0, 255.0) as u8;
    toned.iter().zip(&soft).map(sharp).collect()
}
