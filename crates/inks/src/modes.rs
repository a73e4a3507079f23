use crate::Damage;
use crate::colour::{Lab, ciede2000, lab_of};
use crate::flat;
use crate::image::{Image, distance, distance2, index, on_segment};

/// A colour that a picture's flat patches gather round.
#[derive(Clone, Debug)]
pub(crate) struct Mode {
    pub(crate) rgb: [f32; 3],
    /// Flat pixels of this colour.
    pub(crate) count: usize,
    /// How many times its flat patches can lose their rim before none is left, up to 3.
    pub(crate) depth: u8,
}

/// The colours of a picture's flat patches, biggest first (mean shift: Comaniciu, Meer 2002).
pub(crate) fn modes(image: &Image, calm: &Image, damage: Damage) -> Vec<Mode> {
    let flat = flat::flat(calm, damage);
    let (radius, merge_below) = match damage {
        Damage::Clean => (3.0, 3.0),
        Damage::Noisy(_) => (3.5, 4.0),
        Damage::Jpeg => (4.5, 5.0),
    };
    let mut bins = Bins::of(calm, &flat);
    let mut found: Vec<[f32; 3]> = Vec::new();
    while let Some(rgb) = bins.take_densest(radius) {
        found.push(rgb);
        if found.len() >= 64 {
            break;
        }
    }
    let mut modes = gather(image, calm, &flat, &found);
    merge(&mut modes, merge_below);
    let centres: Vec<_> = modes.iter().map(|m| m.rgb).collect();
    let mut modes = gather(image, calm, &flat, &centres);
    drop_mixes(&mut modes, damage);
    modes
}

/// Flat pixels counted by colour, 4 steps a channel to a bin.
struct Bins(Vec<Bin>);

struct Bin {
    lab: Lab,
    rgb: [f64; 3],
    count: f64,
}

impl Bins {
    fn of(calm: &Image, flat: &[bool]) -> Self {
        let mut table = vec![(0_u32, [0_f64; 3]); 1 << 18];
        for (p, _) in calm.pixels.iter().zip(flat).filter(|(_, flat)| **flat) {
            let at = p.iter().fold(0, |at, v| at << 6 | (v.clamp(0.0, 255.0) as usize) >> 2);
            table[at].0 += 1;
            table[at].1.iter_mut().zip(p).for_each(|(sum, v)| *sum += f64::from(*v));
        }
        let full = table.into_iter().filter(|(count, _)| *count > 0);
        Self(
            full.map(|(count, sum)| {
                let count = f64::from(count);
                let rgb = sum.map(|v| v / count);
                Bin { lab: lab_of(rgb), rgb, count }
            })
            .collect(),
        )
    }

    /// Moves from the densest bin uphill to a mode, and takes the mode's pixels away.
    fn take_densest(&mut self, radius: f64) -> Option<[f32; 3]> {
        loop {
            let densest = self.0.iter().max_by(|p, q| p.count.total_cmp(&q.count))?;
            let mut at = densest.lab;
            let mut rgb = densest.rgb;
            for _ in 0..20 {
                let mut total = 0.0;
                let (mut lab, mut mean) = ([0.0; 3], [0.0; 3]);
                for bin in self.0.iter().filter(|b| apart(b.lab, at) <= radius) {
                    total += bin.count;
                    for (sum, v) in lab.iter_mut().zip([bin.lab.l, bin.lab.a, bin.lab.b]) {
                        *sum += v * bin.count;
                    }
                    mean.iter_mut().zip(bin.rgb).for_each(|(sum, v)| *sum += v * bin.count);
                }
                if total == 0.0 {
                    break;
                }
                let next = Lab { l: lab[0] / total, a: lab[1] / total, b: lab[2] / total };
                rgb = mean.map(|v| v / total);
                let moved = apart(next, at);
                at = next;
                if moved < 0.02 {
                    break;
                }
            }
            let mut taken = 0.0;
            self.0.retain(|bin| {
                let near = apart(bin.lab, at) <= 1.8 * radius;
                if near {
                    taken += bin.count;
                }
                !near
            });
            if taken >= 6.0 {
                return Some(rgb.map(|v| v as f32));
            }
            if taken == 0.0 {
                // A mean that drifted off its own pixels would come back for ever.
                self.0.clear();
            }
        }
    }
}

fn apart(p: Lab, q: Lab) -> f64 {
    ((p.l - q.l).powi(2) + (p.a - q.a).powi(2) + (p.b - q.b).powi(2)).sqrt()
}

pub(crate) fn difference(p: [f32; 3], q: [f32; 3]) -> f64 {
    ciede2000(lab_of(p.map(f64::from)), lab_of(q.map(f64::from)))
}

/// Gives every flat pixel to the nearest colour; measures each colour anew from the
/// picture itself, and how deep its patches are.
fn gather(image: &Image, calm: &Image, flat: &[bool], centres: &[[f32; 3]]) -> Vec<Mode> {
    const NONE: u8 = u8::MAX;
    if centres.is_empty() {
        return Vec::new();
    }
    let nearest = |p: [f32; 3]| {
        let by = |q: &[f32; 3]| distance2(p, *q);
        (0..centres.len()).min_by(|&a, &b| by(&centres[a]).total_cmp(&by(&centres[b]))).unwrap_or(0)
    };
    let mut label: Vec<u8> = calm
        .pixels
        .iter()
        .zip(flat)
        .map(|(p, flat)| if *flat { nearest(*p) as u8 } else { NONE })
        .collect();
    let mut modes: Vec<Mode> =
        centres.iter().map(|&rgb| Mode { rgb, count: 0, depth: 0 }).collect();
    let mut sums = vec![[0_f64; 3]; centres.len()];
    for (i, &k) in label.iter().enumerate().filter(|(_, k)| **k != NONE) {
        modes[k as usize].count += 1;
        sums[k as usize].iter_mut().zip(image.pixels[i]).for_each(|(sum, v)| *sum += f64::from(v));
    }
    for (mode, sum) in modes.iter_mut().zip(sums).filter(|(m, _)| m.count > 0) {
        mode.rgb = sum.map(|v| (v / mode.count as f64) as f32);
    }
    let (w, h) = (image.width, image.height);
    for depth in 1..=3 {
        for &k in label.iter().filter(|k| **k != NONE) {
            modes[k as usize].depth = depth;
        }
        let inner = (0..label.len()).map(|i| {
            let (x, y) = ((i % w) as isize, (i / w) as isize);
            let same = (-1..=1)
                .all(|dy| (-1..=1).all(|dx| label[index(w, h, x + dx, y + dy)] == label[i]));
            if same { label[i] } else { NONE }
        });
        label = inner.collect();
    }
    modes.retain(|m| m.count > 0);
    modes.sort_by_key(|m| std::cmp::Reverse(m.count));
    modes
}

/// Joins colours that the eye hardly tells apart, the nearest two first.
fn merge(modes: &mut Vec<Mode>, below: f64) {
    loop {
        let mut nearest = (below, 0, 0);
        for i in 0..modes.len() {
            for j in i + 1..modes.len() {
                let d = difference(modes[i].rgb, modes[j].rgb);
                if d < nearest.0 {
                    nearest = (d, i, j);
                }
            }
        }
        let (d, i, j) = nearest;
        if d >= below {
            return;
        }
        let gone = modes.remove(j);
        let (a, b) = (modes[i].count as f32, gone.count as f32);
        for c in 0..3 {
            modes[i].rgb[c] = (modes[i].rgb[c] * a + gone.rgb[c] * b) / (a + b);
        }
        modes[i].count += gone.count;
    }
}

/// Drops colours that are only the soft rim between two bigger ones, or what JPEG's coarse
/// colour leaves beside an edge.
fn drop_mixes(modes: &mut Vec<Mode>, damage: Damage) {
    // Smallest first, so that a mix cannot be saved by a smaller mix.
    let mut at = modes.len();
    while at > 0 {
        at -= 1;
        let mode = &modes[at];
        let bigger = &modes[..at];
        let thin = mode.depth <= 1;
        let near = |below: f64| bigger.iter().any(|b| difference(b.rgb, mode.rgb) < below);
        let gone = match damage {
            Damage::Clean => thin && rim(mode, bigger, 8.0),
            Damage::Noisy(_) => thin && (rim(mode, bigger, 24.0) || near(13.0)),
            Damage::Jpeg => {
                let bleeds = bigger.iter().any(|b| bleeds(mode.rgb, b.rgb));
                (thin && (rim(mode, bigger, 24.0) || near(13.0))) || (mode.depth <= 2 && bleeds)
            }
        };
        if gone {
            modes.remove(at);
        }
    }
}

/// Whether a colour lies between two bigger ones, within `reach`.
fn rim(mode: &Mode, bigger: &[Mode], reach: f32) -> bool {
    bigger.iter().enumerate().any(|(i, a)| {
        bigger[i + 1..].iter().any(|b| {
            let (t, d2) = on_segment(mode.rgb, a.rgb, b.rgb);
            let ends = distance(a.rgb, b.rgb);
            let inside = t * ends > reach * 0.5 && (1.0 - t) * ends > reach * 0.5;
            inside && d2 < reach * reach
        })
    })
}

/// Whether two colours are as bright and differ in colour only a little, as a patch does that
/// shares its coarse colour samples with a neighbour.
fn bleeds(p: [f32; 3], q: [f32; 3]) -> bool {
    let (p, q) = (crate::jpeg::ycc(p), crate::jpeg::ycc(q));
    (p[0] - q[0]).abs() < 6.0 && (p[1] - q[1]).hypot(p[2] - q[2]) < 24.0
}
