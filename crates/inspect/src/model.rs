//! Everything that decides where an inked edge of the film appears in the photograph.

use crate::camera::{CAMERA, Camera, Xy, solve2};
use crate::field::{Mesh, value};

/// How one sheet lies, against where the plan has it.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Motion {
    /// The slip of the sheet's middle, mm.
    pub(crate) slip: Xy,
    /// The turn in radians, clockwise.
    pub(crate) turn: f64,
    /// What the scales exceed 1 by.
    pub(crate) stretch: Xy,
}

/// Numbers a sheet has, in the order slip, turn, stretch.
pub(crate) const SHEET: usize = 5;
/// Turns and stretches are solved for as millimetres at this distance from the middle.
pub(crate) const ARM: f64 = 200.0;
/// The lift is solved for as millimetres of shift at this distance from the lens's foot.
const LIFT_ARM: f64 = 500.0;

/// The camera, the sheets and the film's unevenness.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    pub(crate) camera: Camera,
    /// How far ink's edge lies outside its place, mm.
    pub(crate) growth: f64,
    /// The sheets' middles on the film, mm.
    pub(crate) middles: Vec<Xy>,
    pub(crate) sheets: Vec<Motion>,
    pub(crate) mesh: Mesh,
    /// The point of the film under the lens.
    pub(crate) foot: Xy,
    /// The coefficients of the lift, then of the free shift along x, then along y.
    pub(crate) fields: [Vec<f64>; 3],
}

/// Which of the model's numbers are solved for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Freedom {
    /// The camera and the ink growth.
    Camera,
    /// And each sheet's slip, turn and scales.
    Sheets,
    /// And the unevenness.
    Fields,
}

impl Model {
    pub(crate) fn new(camera: Camera, middles: Vec<Xy>, mesh: Mesh) -> Self {
        let fields = std::array::from_fn(|_| vec![0.0; mesh.len()]);
        let sheets = vec![Motion::default(); middles.len()];
        Self { camera, growth: 0.0, middles, sheets, mesh, foot: [0.0; 2], fields }
    }

    /// Where sheet `sheet` really has the film's place `at`.
    pub(crate) fn place(&self, at: Xy, sheet: usize) -> Xy {
        let (uneven, motion) = (self.uneven(at), self.motion(at, sheet));
        [uneven[0] + motion[0], uneven[1] + motion[1]]
    }

    /// Where the film's place `at` lies but for its sheet's own motion.
    pub(crate) fn uneven(&self, at: Xy) -> Xy {
        let patch = self.mesh.patch(at);
        let lift = value(&patch, &self.fields[0]) / LIFT_ARM;
        std::array::from_fn(|i| {
            at[i] + lift * (at[i] - self.foot[i]) + value(&patch, &self.fields[1 + i])
        })
    }

    /// The film's place seen at a photo place, but for its sheet's own motion.
    pub(crate) fn film_at(&self, photo: Xy) -> Option<Xy> {
        let flat = self.camera.unproject(photo, [0.0; 2])?;
        let mut at = flat;
        // The unevenness is so slight and smooth that this closes in quickly.
        for _ in 0..8 {
            let there = self.uneven(at);
            at = [at[0] + flat[0] - there[0], at[1] + flat[1] - there[1]];
        }
        Some(at)
    }

    /// How far the sheet itself moves that place.
    pub(crate) fn motion(&self, at: Xy, sheet: usize) -> Xy {
        let (m, c) = (&self.sheets[sheet], self.middles[sheet]);
        let r = [at[0] - c[0], at[1] - c[1]];
        [
            m.slip[0] + m.stretch[0] * r[0] - m.turn * r[1],
            m.slip[1] + m.stretch[1] * r[1] + m.turn * r[0],
        ]
    }

    /// Says the sheets' motions against the film that most sheets make: the middle turn and
    /// scales are nought, so that one badly turned sheet does not turn the others the opposite
    /// way, and the mean slip is nought. Jogs stay as they are.
    pub(crate) fn settle_frame(&mut self, taking: &[bool]) {
        let chosen: Vec<usize> = (0..self.sheets.len()).filter(|s| taking[*s]).collect();
        if chosen.is_empty() {
            return;
        }
        let middle = |value: fn(&Motion) -> f64| {
            let mut all: Vec<f64> = chosen.iter().map(|s| value(&self.sheets[*s])).collect();
            all.sort_by(f64::total_cmp);
            (all[(all.len() - 1) / 2] + all[all.len() / 2]) / 2.0
        };
        let turn = middle(|m| m.turn);
        let stretch = [middle(|m| m.stretch[0]), middle(|m| m.stretch[1])];
        for (m, at) in self.sheets.iter_mut().zip(&self.middles) {
            m.turn -= turn;
            m.slip[0] -= stretch[0] * at[0] - turn * at[1];
            m.slip[1] -= stretch[1] * at[1] + turn * at[0];
            m.stretch = [m.stretch[0] - stretch[0], m.stretch[1] - stretch[1]];
        }
        for k in 0..2 {
            let total: f64 = chosen.iter().map(|s| self.sheets[*s].slip[k]).sum();
            let mean = total / chosen.len() as f64;
            self.sheets.iter_mut().for_each(|m| m.slip[k] -= mean);
        }
    }

    /// How many numbers are solved for.
    pub(crate) fn unknowns(&self, freedom: Freedom) -> usize {
        match freedom {
            Freedom::Camera => CAMERA + 1,
            Freedom::Sheets => self.first_field(),
            Freedom::Fields => self.first_field() + 3 * self.mesh.len(),
        }
    }

    /// Where a sheet's numbers begin.
    pub(crate) const fn first_of(sheet: usize) -> usize {
        CAMERA + 1 + SHEET * sheet
    }
    /// Where the fields' numbers begin.
    pub(crate) fn first_field(&self) -> usize {
        Self::first_of(self.sheets.len())
    }

    /// How the edge at `at` with unit normal `normal` moves along its normal, in mm, with each
    /// number of the model that touches it; with the sheet's only as far as it moves along `own`.
    pub(crate) fn row(
        &self,
        at: Xy,
        [normal, own]: [Xy; 2],
        sheet: usize,
        freedom: Freedom,
    ) -> Option<Vec<(u32, f64)>> {
        let p = self.camera.projected(self.place(at, sheet))?;
        let mut out = Vec::with_capacity(CAMERA + 1 + SHEET + 48);
        // A photo shift s is a film shift J^-1 s; along the normal, n J^-1 s.
        let along = [
            solve2(p.by_film, [1.0, 0.0]).map(|v| v[0] * normal[0] + v[1] * normal[1])?,
            solve2(p.by_film, [0.0, 1.0]).map(|v| v[0] * normal[0] + v[1] * normal[1])?,
        ];
        for (i, by) in p.by_camera.iter().enumerate() {
            out.push((i as u32, by[0] * along[0] + by[1] * along[1]));
        }
        out.push((CAMERA as u32, 1.0));
        if freedom >= Freedom::Sheets {
            let first = Self::first_of(sheet) as u32;
            for (k, v) in sheet_row(at, self.middles[sheet], own).into_iter().enumerate() {
                out.push((first + k as u32, v));
            }
        }
        if freedom == Freedom::Fields {
            let (first, len) = (self.first_field() as u32, self.mesh.len() as u32);
            let lever = ((at[0] - self.foot[0]) * normal[0] + (at[1] - self.foot[1]) * normal[1])
                / LIFT_ARM;
            let patch = self.mesh.patch(at);
            for (field, by) in [lever, normal[0], normal[1]].into_iter().enumerate() {
                for (i, w) in &patch {
                    out.push((first + field as u32 * len + *i as u32, by * w));
                }
            }
        }
        Some(out)
    }

    /// The numbers as a list, in the order of [`Model::row`]; the homography, which has no
    /// prior, as noughts.
    pub(crate) fn values(&self, freedom: Freedom) -> Vec<f64> {
        let mut out = vec![0.0; 8];
        out.extend(self.camera.k.iter().chain(&self.camera.centre).copied());
        out.push(self.growth);
        for m in &self.sheets {
            out.extend([
                m.slip[0],
                m.slip[1],
                m.turn * ARM,
                m.stretch[0] * ARM,
                m.stretch[1] * ARM,
            ]);
        }
        for field in &self.fields {
            out.extend(field);
        }
        out.truncate(self.unknowns(freedom));
        out
    }

    /// Adds an increment in the order of [`Model::row`].
    pub(crate) fn step(&mut self, by: &[f64]) {
        self.camera.step(&by[..CAMERA]);
        self.growth += by[CAMERA];
        let mut rest = by[CAMERA + 1..].iter().copied();
        let mut next = || rest.next().unwrap_or(0.0);
        for m in &mut self.sheets {
            m.slip[0] += next();
            m.slip[1] += next();
            m.turn += next() / ARM;
            m.stretch[0] += next() / ARM;
            m.stretch[1] += next() / ARM;
        }
        for field in &mut self.fields {
            for c in field {
                *c += next();
            }
        }
    }
}

/// How a sheet's numbers move its place `at` along `normal`.
pub(crate) fn sheet_row(at: Xy, middle: Xy, normal: Xy) -> [f64; SHEET] {
    let r = [(at[0] - middle[0]) / ARM, (at[1] - middle[1]) / ARM];
    [normal[0], normal[1], normal[1] * r[0] - normal[0] * r[1], normal[0] * r[0], normal[1] * r[1]]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The row says how far the observed place moves back on the film when a number grows.
    #[test]
    fn rows_are_derivatives_of_the_place() {
        let camera = Camera::new([0.8, 0.05, 0.02, -0.04, 0.79, -0.03, 0.03, -0.05], 6000., 4000.);
        let mut model =
            Model::new(camera, vec![[-200.0, 0.0], [200.0, 30.0]], Mesh::new(1000.0, 800.0, 200.0));
        model.foot = [30.0, -60.0];
        let (at, normal) = ([250.0, -180.0], [0.6, 0.8]);
        let seen = |m: &Model| m.camera.project(m.place(at, 1)).unwrap();
        let row = model.row(at, [normal; 2], 1, Freedom::Fields).unwrap();
        for (i, expected) in row.into_iter().filter(|(i, _)| *i as usize != CAMERA) {
            let mut by = vec![0.0; model.unknowns(Freedom::Fields)];
            by[i as usize] = 1e-5;
            let mut moved = model.clone();
            moved.step(&by);
            let start = model.place(at, 1);
            let back = model.camera.unproject(seen(&moved), start).unwrap();
            let got = (0..2).map(|k| (back[k] - start[k]) * normal[k]).sum::<f64>() / 1e-5;
            assert!(
                (got - expected).abs() < 1e-3 * expected.abs().max(1.0),
                "{i} {got} {expected}"
            );
        }
    }
}
