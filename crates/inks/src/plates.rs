use crate::cover::Cover;
use crate::tiling::{Columns, Film, Tiling};
use crate::{Damage, InksError, Rgb, under};
use bitmap::{Raster, Turned};
use std::sync::Arc;

/// One ink of a separation.
#[derive(Clone, Debug, PartialEq)]
pub struct Ink {
    /// What the printer calls it.
    pub name: String,
    /// How it looks in print.
    pub colour: Rgb,
    /// The share of the whole picture that it covers, 0 to 1.
    pub share: f64,
    /// Whether it prints over the inks about it, which go on under it, instead of leaving a
    /// hole for itself in them.
    pub overprints: bool,
    /// Which of the picture's colours it prints, one bit each.
    pub(crate) labels: u32,
}

impl Ink {
    /// Whether it prints several of the picture's colours, and can be split.
    pub fn is_merged(&self) -> bool {
        self.labels.count_ones() > 1
    }
}

/// A picture separated: what each ink prints, at any size. Inks are in printing order.
///
/// Unless inks overprint, their plates tile: every film pixel is on one plate, or open.
#[derive(Clone)]
pub struct Plates {
    /// The garment's colour, which no plate prints.
    pub garment: Rgb,
    /// What the picture was taken to have been through.
    pub damage: Damage,
    inks: Vec<Ink>,
    /// Each of the picture's colours as an ink of its own, the garment's first.
    single: Vec<Option<Ink>>,
    measured: Arc<Cover>,
    tiling: Arc<Tiling>,
    /// What lies under inks that overprint.
    under: Option<Arc<Tiling>>,
}

impl Plates {
    pub(crate) fn new(
        garment: Rgb,
        inks: Vec<Ink>,
        damage: Damage,
        measured: Cover,
        tiling: Tiling,
    ) -> Self {
        let mut single = vec![None; measured.inks];
        for ink in &inks {
            single[ink.labels.trailing_zeros() as usize] = Some(ink.clone());
        }
        Self {
            garment,
            damage,
            inks,
            single,
            measured: Arc::new(measured),
            tiling: Arc::new(tiling),
            under: None,
        }
    }

    /// The inks, in printing order.
    pub fn inks(&self) -> &[Ink] {
        &self.inks
    }

    /// The picture's own size in pixels.
    pub fn size(&self) -> (u32, u32) {
        (self.measured.width as u32, self.measured.height as u32)
    }

    /// The height of a film so many pixels wide, in the picture's proportions.
    pub fn height_for(&self, width: u32) -> u32 {
        let (w, h) = self.size();
        (f64::from(width) * f64::from(h) / f64::from(w)).round().clamp(1.0, f64::from(u32::MAX))
            as u32
    }

    /// The plate of ink `ink`, counted from 0, of the picture upright or turned; a set bit prints.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn raster(&self, ink: usize, turned: Turned) -> Result<PlateRaster, InksError> {
        let ink = self.ink(ink)?;
        let tiling = self.under.as_ref().filter(|_| !ink.overprints).unwrap_or(&self.tiling);
        Ok(of_labels(tiling, ink.labels, turned))
    }

    /// All that prints, whatever the ink.
    pub fn printed(&self, turned: Turned) -> PlateRaster {
        let labels = self.inks.iter().fold(0, |all, ink| all | ink.labels);
        of_labels(&self.tiling, labels, turned)
    }

    /// How much of each of the picture's pixels ink `ink` covers, 0 to 1, row by row: what a
    /// halftoned plate is made from where the art has soft tone.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn coverage(&self, ink: usize) -> Result<Vec<f32>, InksError> {
        let labels = self.ink(ink)?.labels;
        let (w, h) = (self.measured.width, self.measured.height);
        let mut out = vec![0.0; w * h];
        for k in (0..self.measured.inks).filter(|k| labels >> k & 1 == 1) {
            out.iter_mut().zip(self.measured.plane(k)).for_each(|(out, share)| *out += share);
        }
        Ok(out)
    }

    fn ink(&self, ink: usize) -> Result<&Ink, InksError> {
        self.inks.get(ink).ok_or(InksError::NoSuchInk(ink + 1, self.inks.len()))
    }

    fn ink_mut(&mut self, ink: usize) -> Result<&mut Ink, InksError> {
        let count = self.inks.len();
        self.inks.get_mut(ink).ok_or(InksError::NoSuchInk(ink + 1, count))
    }

    /// Calls a plate something else.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn rename(&mut self, ink: usize, name: &str) -> Result<(), InksError> {
        self.ink_mut(ink)?.name = name.into();
        Ok(())
    }

    /// Prints an ink in another colour.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn recolour(&mut self, ink: usize, colour: Rgb) -> Result<(), InksError> {
        self.ink_mut(ink)?.colour = colour;
        Ok(())
    }

    /// Moves an ink to another place in the printing order.
    ///
    /// # Errors
    /// Where there is no such ink, or no such place.
    pub fn reorder(&mut self, ink: usize, place: usize) -> Result<(), InksError> {
        self.ink(ink)?;
        self.ink(place)?;
        let moved = self.inks.remove(ink);
        self.inks.insert(place, moved);
        Ok(())
    }

    /// Prints what `other` prints with `ink` too; `other` goes.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn merge(&mut self, ink: usize, other: usize) -> Result<(), InksError> {
        self.ink(ink)?;
        let gone = self.ink(other)?.clone();
        if ink != other {
            self.inks[ink].labels |= gone.labels;
            self.inks[ink].share += gone.share;
            self.inks.remove(other);
            self.lay_under();
        }
        Ok(())
    }

    /// Gives each of an ink's colours a plate of its own again, in its place.
    ///
    /// # Errors
    /// Where there is no such ink, or it has one colour only.
    pub fn split(&mut self, ink: usize) -> Result<(), InksError> {
        let labels = self.ink(ink)?.labels;
        if labels.count_ones() < 2 {
            return Err(InksError::OneColour(ink + 1));
        }
        let parts = self.single.iter().enumerate().filter(|(k, _)| labels >> k & 1 == 1);
        let parts: Vec<Ink> = parts.filter_map(|(_, single)| single.clone()).collect();
        self.inks.splice(ink..=ink, parts);
        self.lay_under();
        Ok(())
    }

    /// Leaves what an ink prints open, as the garment is; the ink goes.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn leave_open(&mut self, ink: usize) -> Result<(), InksError> {
        self.ink(ink)?;
        self.inks.remove(ink);
        self.lay_under();
        Ok(())
    }

    /// Has an ink print over those about it, which then go on under it up to the middle, or
    /// leave a hole in them again.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn overprint(&mut self, ink: usize, over: bool) -> Result<(), InksError> {
        self.ink_mut(ink)?.overprints = over;
        self.lay_under();
        Ok(())
    }

    fn lay_under(&mut self) {
        let over =
            self.inks.iter().filter(|ink| ink.overprints).fold(0, |all, ink| all | ink.labels);
        self.under = (over != 0).then(|| Arc::new(under::without(&self.tiling, over)));
    }
}

fn of_labels(tiling: &Arc<Tiling>, labels: u32, turned: Turned) -> PlateRaster {
    // A picture turned is not read by columns.
    let width = if turned.is_upright() { turned.film().0 } else { 0 };
    let columns = Columns::new(tiling.width(), width);
    PlateRaster { tiling: tiling.clone(), columns, turned, labels }
}

/// One plate at one size.
pub struct PlateRaster {
    tiling: Arc<Tiling>,
    columns: Columns,
    turned: Turned,
    labels: u32,
}

impl Raster for PlateRaster {
    fn width(&self) -> u32 {
        self.turned.film().0
    }
    fn height(&self) -> u32 {
        self.turned.film().1
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let (mut inside, mut end) = (false, x0);
        let put = |from: u32, to: u32, label: u8| {
            let prints = self.labels >> label & 1 == 1;
            if prints != inside {
                out.push(from - x0);
                inside = prints;
            }
            end = to;
        };
        if self.turned.is_upright() {
            let film = Film::new(&self.tiling, &self.columns, self.turned.film().1);
            film.row(y, x0, x1, Some(self.labels), put);
        } else {
            self.tiling.turned_row(&self.turned, y, (x0, x1), self.labels, put);
            if inside && end < x1 {
                out.push(end - x0);
            }
        }
    }
}
