use crate::PxRect;
use crate::canvas::Matrix;
use bitmap::Raster;
use measure::{Point, Resolution, Size};
use serde::{Deserialize, Serialize};

/// A film to be written: what is on it, and the sheets it is cut into.
pub struct FilmJob<'a> {
    /// The one-bit film image.
    pub raster: &'a dyn Raster,
    /// Its resolution.
    pub resolution: Resolution,
    /// What the job is called, for the printer.
    pub title: &'a str,
    /// The sheets, in the order of their pages.
    pub sheets: Vec<FilmSheet>,
    /// Where neighbouring sheets are joined.
    pub seams: Vec<Seam>,
    /// The least overlap asked for.
    pub overlap: measure::Length,
    /// No plan has fewer sheets than this.
    pub lower_bound: u32,
    /// Whether the seams are dotted on the sheets, where the film is clear.
    pub trim_lines: bool,
    /// The part of the film that is the print, where marks stand outside it.
    pub print: Option<PxRect>,
    /// Which of a print's screens it is for, where the print has several.
    pub screen: Option<Screen>,
    /// The printer whose scale and lean the pages undo, if it is not taken for true. Its ink's
    /// spread is for whoever makes the raster to undo.
    pub printer: Option<printer::Profile>,
}

/// One of a print's screens.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Screen {
    /// Which prints first, counted from 1.
    pub order: u32,
    /// The ink's name.
    pub name: String,
    /// The ink's colour, as `#rrggbb`.
    pub colour: String,
}

impl Screen {
    /// What a page is called: order, ink and sheet.
    pub(crate) fn label(screen: Option<&Self>, sheet: &str) -> String {
        screen.map_or_else(|| sheet.into(), |s| format!("{} {} {sheet}", s.order, s.name))
    }

    /// The name in large letters on a sheet, so that no two films' sheets are mistaken.
    pub(crate) fn large(screen: Option<&Self>, sheet: &str) -> String {
        screen.map_or_else(|| sheet.into(), |s| format!("{}-{sheet}", s.order))
    }
}

/// A sheet: which part of the film it shows, and where on its page. Pages stand upright, as
/// the stock goes into the printer. Pixels are the film's.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmSheet {
    /// Row letter and number, such as `A1`.
    pub name: String,
    /// The part of the film it shows, from the film's top-left corner.
    pub image: PxRect,
    /// Whether the stock lies a quarter turn the other way on the film: then the image
    /// stands on the page turned a quarter clockwise, the film's top at the page's right.
    pub turned: bool,
    /// The page's size, upright.
    pub page: Size,
    /// The part of the page that the printer reaches, from the page's top-left corner.
    pub printable: PxRect,
    /// Where the image's left column, as seen on the page, stands.
    pub image_x: i64,
    /// Where the image's top row, as seen on the page, stands.
    pub image_y: i64,
}

/// Where two sheets are joined.
#[derive(Clone, Debug, PartialEq)]
pub struct Seam {
    /// The names of the two sheets.
    pub between: [String; 2],
    /// The cut line on the film, from its top-left corner.
    pub points: Vec<Point>,
}

impl FilmSheet {
    /// What the image covers of the page.
    pub fn on_page(&self) -> PxRect {
        self.page_place(self.image)
    }

    /// Where a part of the film lies on the page.
    pub(crate) fn page_place(&self, part: PxRect) -> PxRect {
        let (x, y) = (part.x - self.image.x, part.y - self.image.y);
        if self.turned {
            // The page runs right as the film runs up, and down as the film runs right.
            let left = self.image_x + self.image.height - y - part.height;
            PxRect::new(left, self.image_y + x, part.height, part.width)
        } else {
            PxRect::new(self.image_x + x, self.image_y + y, part.width, part.height)
        }
    }

    /// The part of the film that lies at a place on the page: the way back.
    pub(crate) fn film_place(&self, part: PxRect) -> PxRect {
        let (x, y) = (part.x - self.image_x, part.y - self.image_y);
        if self.turned {
            let up = self.image.height - x - part.width;
            PxRect::new(self.image.x + y, self.image.y + up, part.height, part.width)
        } else {
            PxRect::new(self.image.x + x, self.image.y + y, part.width, part.height)
        }
    }

    /// The image's width and height as seen on the page.
    pub(crate) const fn seen(&self) -> (i64, i64) {
        if self.turned {
            (self.image.height, self.image.width)
        } else {
            (self.image.width, self.image.height)
        }
    }

    /// The part of the film's plane that the printer reaches: the image and what room there
    /// is around it.
    pub(crate) fn reach(&self) -> PxRect {
        let (p, image) = (self.printable, self.image);
        if self.turned {
            let y = image.y + image.height - (p.right() - self.image_x);
            PxRect::new(image.x + p.y - self.image_y, y, p.height, p.width)
        } else {
            p.moved(image.x - self.image_x, image.y - self.image_y)
        }
    }

    /// From the film's frame, in pixels, to the page's, in points with `y` up.
    pub(crate) fn page_from_film(&self, resolution: Resolution) -> Matrix {
        let pt = resolution.pixel().to_pt();
        let top = self.page.height.to_pt();
        let (x, y) = (self.image.x as f64, self.image.y as f64);
        let (left, down) = (self.image_x as f64, self.image_y as f64);
        if self.turned {
            let right = left + self.image.height as f64 + y;
            [0.0, -pt, -pt, 0.0, right * pt, top - (down - x) * pt]
        } else {
            [pt, 0.0, 0.0, -pt, (left - x) * pt, top - (down - y) * pt]
        }
    }
}
