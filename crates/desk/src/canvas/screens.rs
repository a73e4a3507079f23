//! The films of several screens on the table: one of them, or the print that all would make.

use super::laid::Laid;
use super::tiles::Tiles;
use crate::films::FilmView;
use eframe::egui::{Color32, Painter};

/// What is shown of several screens. The job knows nothing of it.
pub(crate) struct ScreensLook {
    /// The screen whose film is shown, counted from 0; none shows the print.
    pub(crate) shown: Option<usize>,
    /// How much of what lies under it an ink hides, 0 to 1.
    pub(crate) opacity: f32,
    tiles: Vec<Tiles>,
}

impl ScreensLook {
    pub(crate) fn new() -> Self {
        Self { shown: None, opacity: 0.9, tiles: Vec::new() }
    }

    /// Paints the screen chosen in `ink`, or every ink over the ones before it.
    pub(crate) fn paint(&mut self, film: &FilmView, laid: &Laid, ink: Color32, painter: &Painter) {
        self.tiles.resize_with(film.screens.len(), Tiles::new);
        for (n, (screen, tiles)) in film.screens.iter().zip(&mut self.tiles).enumerate() {
            match self.shown {
                Some(shown) if shown == n => tiles.paint(&screen.film, laid, ink, painter),
                Some(shown) if shown < film.screens.len() => {}
                _ => {
                    let colour = screen.colour.gamma_multiply(self.opacity);
                    tiles.paint(&screen.film, laid, colour, painter);
                }
            }
        }
    }
}
