use crate::model::{Lay, Model};

/// Sheets on the film, which demands they leave open, and what each alone holds.
#[derive(Clone, Debug)]
pub(crate) struct Cover<'a> {
    pub(crate) model: &'a Model,
    /// The sheets by slot; a slot may be free.
    pub(crate) lays: Vec<Option<Lay>>,
    /// What each demand counts for.
    pub(crate) weight: Vec<i32>,
    /// The weight that only the sheet in each slot holds.
    pub(crate) alone: Vec<i64>,
    /// The demands that no sheet holds, in no particular order.
    pub(crate) open: Vec<u32>,
    /// Where each open demand stands in `open`.
    place: Vec<u32>,
    /// How many sheets hold each demand, and the exclusive-or of their slots.
    holders: Vec<(u32, u32)>,
}

impl<'a> Cover<'a> {
    pub(crate) fn new(model: &'a Model) -> Self {
        let n = model.demands.len();
        Self {
            model,
            lays: Vec::new(),
            weight: vec![1; n],
            alone: Vec::new(),
            open: (0..n as u32).collect(),
            place: (0..n as u32).collect(),
            holders: vec![(0, 0); n],
        }
    }

    pub(crate) fn with(model: &'a Model, lays: &[Lay]) -> Self {
        let mut out = Self::new(model);
        for lay in lays {
            out.add(*lay);
        }
        out
    }

    pub(crate) fn sheets(&self) -> Vec<Lay> {
        self.lays.iter().flatten().copied().collect()
    }

    /// How many sheets hold a demand.
    pub(crate) fn holders(&self, d: usize) -> u32 {
        self.holders[d].0
    }

    /// Lays a sheet and says in which slot.
    pub(crate) fn add(&mut self, lay: Lay) -> usize {
        let slot = self.lays.iter().position(Option::is_none).unwrap_or(self.lays.len());
        if slot == self.lays.len() {
            self.lays.push(None);
            self.alone.push(0);
        }
        self.lays[slot] = Some(lay);
        self.alone[slot] = 0;
        let Self { model, weight, alone, open, place, holders, .. } = self;
        model.held(model.cells(lay), |d| {
            let (count, slots) = &mut holders[d];
            match *count {
                0 => {
                    alone[slot] += i64::from(weight[d]);
                    let at = place[d] as usize;
                    open.swap_remove(at);
                    if let Some(moved) = open.get(at) {
                        place[*moved as usize] = at as u32;
                    }
                }
                1 => alone[*slots as usize] -= i64::from(weight[d]),
                _ => {}
            }
            *count += 1;
            *slots ^= slot as u32;
        });
        slot
    }

    /// Takes the sheet in a slot away.
    pub(crate) fn remove(&mut self, slot: usize) -> Option<Lay> {
        let lay = self.lays[slot].take()?;
        let Self { model, weight, alone, open, place, holders, .. } = self;
        model.held(model.cells(lay), |d| {
            let (count, slots) = &mut holders[d];
            *count -= 1;
            *slots ^= slot as u32;
            match *count {
                0 => {
                    place[d] = open.len() as u32;
                    open.push(d as u32);
                }
                1 => alone[*slots as usize] += i64::from(weight[d]),
                _ => {}
            }
        });
        self.alone[slot] = 0;
        Some(lay)
    }
}
