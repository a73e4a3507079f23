use crate::tiling::{Columns, Film, Tiling};
use crate::{Damage, InksError, Rgb};
use bitmap::Raster;
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
    /// Which of the picture's colours it prints, one bit each.
    pub(crate) labels: u32,
}

/// A picture separated: what each ink prints, at any size. Inks are in printing order.
#[derive(Clone)]
pub struct Plates {
    /// The garment's colour, which no plate prints.
    pub garment: Rgb,
    /// What the picture was taken to have been through.
    pub damage: Damage,
    inks: Vec<Ink>,
    tiling: Arc<Tiling>,
}

impl Plates {
    pub(crate) fn new(garment: Rgb, inks: Vec<Ink>, damage: Damage, tiling: Tiling) -> Self {
        Self { garment, damage, inks, tiling: Arc::new(tiling) }
    }

    /// The inks, in printing order.
    pub fn inks(&self) -> &[Ink] {
        &self.inks
    }

    /// The plate of ink `ink`, counted from 0, at `width` x `height` pixels; a set bit prints.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn raster(&self, ink: usize, width: u32, height: u32) -> Result<PlateRaster, InksError> {
        let labels = self.ink(ink)?.labels;
        Ok(self.of_labels(labels, width, height))
    }

    /// All that prints, whatever the ink.
    pub fn printed(&self, width: u32, height: u32) -> PlateRaster {
        self.of_labels(self.inks.iter().fold(0, |all, ink| all | ink.labels), width, height)
    }

    fn of_labels(&self, labels: u32, width: u32, height: u32) -> PlateRaster {
        let columns = Columns::new(self.tiling.width(), width);
        PlateRaster { tiling: self.tiling.clone(), columns, width, height, labels }
    }

    fn ink(&self, ink: usize) -> Result<&Ink, InksError> {
        self.inks.get(ink).ok_or(InksError::NoSuchInk(ink + 1, self.inks.len()))
    }

    /// Calls a plate something else.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn rename(&mut self, ink: usize, name: &str) -> Result<(), InksError> {
        self.ink(ink)?;
        self.inks[ink].name = name.into();
        Ok(())
    }

    /// Prints an ink in another colour.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn recolour(&mut self, ink: usize, colour: Rgb) -> Result<(), InksError> {
        self.ink(ink)?;
        self.inks[ink].colour = colour;
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
        }
        Ok(())
    }

    /// Leaves what an ink prints open, as the garment is; the ink goes.
    ///
    /// # Errors
    /// Where there is no such ink.
    pub fn leave_open(&mut self, ink: usize) -> Result<(), InksError> {
        self.ink(ink)?;
        self.inks.remove(ink);
        Ok(())
    }
}

/// One plate at one size.
pub struct PlateRaster {
    tiling: Arc<Tiling>,
    columns: Columns,
    width: u32,
    height: u32,
    labels: u32,
}

impl Raster for PlateRaster {
    fn width(&self) -> u32 {
        self.width
    }
    fn height(&self) -> u32 {
        self.height
    }
    fn changes(&self, y: u32, x0: u32, x1: u32, out: &mut Vec<u32>) {
        let mut inside = false;
        let film = Film::new(&self.tiling, &self.columns, self.height);
        film.row(y, x0, x1, Some(self.labels), |from, _, label| {
            let prints = self.labels >> label & 1 == 1;
            if prints != inside {
                out.push(from - x0);
                inside = prints;
            }
        });
    }
}
