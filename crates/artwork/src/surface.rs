//! From a picture to its smooth edge, and from that to a film of any size.

use crate::cut::{CutFilm, Extent};
use crate::depth::depths;
use crate::drawn::drawn;
use crate::fit::{Pull, Stored, fit};
use crate::flatten::flatten;
use crate::grid::{Border, Grid, Kernel};
use crate::judge::{Verdict, judge, look};
use crate::level::{otsu, sauvola, share_of};
use crate::picture::luma;
use crate::plane::Plane;
use crate::recut::Ladder;
use crate::reduce::reduce;
use crate::tones::{Kind, Tones, from_linear_light};
use crate::turned::TurnedFilm;
use crate::{ArtworkError, Crop, Cut, Edges, Picture, Pixels, Settings, Source, jpeg, specks};
use bitmap::{Raster, Turned};
use progress::Progress;
use std::sync::Arc;

/// A smooth edge, ready to be cut at any size.
#[derive(Clone)]
pub struct Surface {
    /// How the edge was made and why, for the printer.
    pub report: SurfaceReport,
    pub(crate) grid: Arc<Grid>,
    pub(crate) extent: Extent,
    pub(crate) invert: bool,
    pub(crate) ladder: Ladder,
    /// The grid's number, before it was made nought, at which it is cut.
    pub(crate) number: f64,
}

/// How a surface was made.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceReport {
    /// What the picture was taken to be.
    pub source: Source,
    /// How its edges were made.
    pub edges: Edges,
    /// The level it was cut at: a share of ink from 0 to 1.
    pub level: f64,
    /// One line saying why.
    pub why: String,
    /// Specks of ink cleaned away.
    pub specks: u32,
    /// Pinholes filled.
    pub pinholes: u32,
    /// Where specks and pinholes were cleaned, the largest first.
    pub cleaned: Vec<Cleaned>,
}

/// A speck or pinhole that was cleaned away.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cleaned {
    /// Its middle, in source pixels from the picture's left edge.
    pub x: f64,
    /// Its middle, in source pixels from the picture's top edge.
    pub y: f64,
    /// Its area in source pixels.
    pub area_px: f64,
    /// Whether it was ink, a speck, rather than a pinhole in ink.
    pub ink: bool,
}

/// Looks at a picture and finds its edges.
///
/// # Errors
/// When cancelled, or where the settings ask for a part that the picture has not.
pub fn surface(
    picture: &Picture,
    settings: &Settings,
    progress: &Progress,
) -> Result<Surface, ArtworkError> {
    settings.check()?;
    let crop = picture.part(settings.crop)?;
    let part = grown(crop, picture);
    let (width, height) = (part.width as usize, part.height as usize);
    let mut greys = part_of(picture, part);
    if settings.flatten {
        flatten(&mut greys, width, height);
    }
    progress.step("Looking at the picture", 0, 1)?;
    let mut parted = Parted::of(&greys, width, height, settings, crop);
    let blocks = (picture.jpeg.is_none() && learns(settings) && greys.len() <= HUGE)
        .then(|| jpeg::jpeg_grid(&greys, width, height))
        .flatten();
    // A drawing in uneven light looks like a photograph until it is evened out, when few tones
    // are left but those of paper and ink.
    let mut evened = false;
    if parted.tones.kind == Kind::Tonal
        && greys.len() <= LARGEST_EVENED
        && !settings.flatten
        && settings.edges != Edges::Plain
        && settings.cut == Cut::Auto
    {
        flatten(&mut greys, width, height);
        let flat = Parted::of(&greys, width, height, settings, crop);
        if flat.tones.off < 0.11 && flat.tones.off < 0.25 * parted.tones.off {
            (parted, evened) = (flat, true);
        }
    }
    drop(greys);
    let Parted { level, share, side, depth, mut tones } = parted;
    let extent = Extent {
        x: f64::from(crop.x - part.x),
        y: f64::from(crop.y - part.y),
        width: f64::from(crop.width),
        height: f64::from(crop.height),
    };
    let mut surface = Surface {
        report: SurfaceReport {
            source: settings.source,
            edges: Edges::Plain,
            level,
            why: "as chosen".into(),
            specks: 0,
            pinholes: 0,
            cleaned: Vec::new(),
        },
        grid: Arc::new(Grid::empty()),
        extent,
        invert: settings.invert,
        ladder: Ladder::Shares,
        number: level,
    };
    let (mut u, level, kernel, border);
    // Numbers of the grid to a source pixel.
    let mut fineness = 1;
    if settings.edges == Edges::Plain || tones.kind == Kind::Tonal {
        if settings.edges != Edges::Plain {
            surface.report.why = "its tones run into each other as in a photograph, so its levels are followed as they are".into();
            if evened {
                surface.report.why.push_str(EVENED);
            }
        }
        u = share;
        (level, kernel, border) = (surface.report.level, Kernel::Keys, Border::Nought);
    } else {
        if settings.cut == Cut::Local {
            tones.kind = Kind::Several;
        }
        let cover = tones.coverage(&share, &side, &depth);
        drop(share);
        let look = look(&cover, &depth);
        let luma = picture
            .jpeg
            .as_deref()
            .filter(|_| tones.kind == Kind::Two && !evened && !settings.flatten);
        let luma = luma.and_then(jpeg::luma);
        let greys = [tones.clear, tones.ink].map(|share| (255.0 * (1.0 - share)) as f32);
        let stored =
            |luma, pull| Stored::new(luma, [part.x, part.y].map(|v| v as usize), greys, pull);
        let mut verdict = judge(&look, luma.is_some(), settings.source);
        if evened {
            verdict.why.push_str(EVENED);
        }
        if is_learned(settings, &verdict, width * height) {
            let half_way = if look.linear_light && settings.cut == Cut::Auto {
                1.0 - 0.5_f64.powf(1.0 / 2.2)
            } else {
                match settings.cut {
                    Cut::At(level) => tones.place_of(level),
                    Cut::Auto | Cut::Local => 0.5,
                }
            };
            surface.report.level = tones.share_of(half_way);
            surface.report.source = verdict.source;
            surface.report.edges = Edges::Learned;
            let grid = picture
                .jpeg
                .is_some()
                .then(|| [part.x, part.y].map(|from| (8 - from as usize % 8) % 8))
                .or(blocks);
            if blocks.is_some() {
                verdict.why.push_str(", and it was a JPEG once: its blocks show");
            }
            let share = levelled(cover, half_way);
            let even = (half_way - 0.5).abs() < 1e-9;
            let stored = luma.filter(|_| even).map(|luma| stored(luma, Pull::Hold));
            let edge = drawn(settings.model, &share, grid, stored.as_ref(), progress)?;
            let (why, held) = (&verdict.why, if edge.held { HELD } else { "" });
            surface.report.why =
                format!("{why}; its edges are drawn by learned model {}{held}", edge.model);
            u = edge.u;
            u.data.iter_mut().for_each(|v| *v = 0.5 + 0.5 * *v);
            surface.ladder = Ladder::Levelled { tones, half_way };
            (level, kernel, border, fineness) = (0.5, Kernel::BSpline, Border::Repeat, 2);
        } else {
            let stored = luma.filter(|_| verdict.stored).map(|luma| stored(luma, Pull::Fit));
            let mut half_way = 0.5;
            let mut fitted = None;
            if look.linear_light && verdict.source == Source::Clean && settings.cut == Cut::Auto {
                let mut light = cover.clone();
                light.data.iter_mut().for_each(|f| *f = from_linear_light(*f));
                let (u, explained) = fit(&light, None, &verdict.plan, progress)?;
                if explained {
                    half_way = 1.0 - 0.5_f64.powf(1.0 / 2.2);
                    verdict.why.push_str("; its edges are half-way where light is, not grey");
                    fitted = Some(u);
                }
            }
            surface.ladder = Ladder::Coverages { tones, linear_light: fitted.is_some() };
            if let Some(fitted) = fitted {
                u = fitted;
            } else {
                let explained;
                (u, explained) = fit(&cover, stored.as_ref(), &verdict.plan, progress)?;
                if !explained {
                    verdict.why.push_str(
                        "; not all of it is explained by that, so edges are fitted mildly",
                    );
                }
            }
            if settings.cut == Cut::Auto {
                surface.report.level = tones.share_of(half_way);
            }
            surface.report.source = verdict.source;
            surface.report.edges = Edges::Fitted;
            surface.report.why = verdict.why;
            level = match settings.cut {
                Cut::At(level) => tones.place_of(level),
                Cut::Auto | Cut::Local => 0.5,
            };
            (kernel, border) = (Kernel::BSpline, Border::Repeat);
        }
    }
    let fine = f64::from(fineness);
    let cleaned = specks::clean(&mut u, level as f32, settings.speck_px * fine * fine);
    surface.report.specks = cleaned.iter().filter(|c| c.ink).count() as u32;
    surface.report.pinholes = cleaned.iter().filter(|c| !c.ink).count() as u32;
    surface.report.cleaned = cleaned;
    for place in &mut surface.report.cleaned {
        place.x = place.x / fine + f64::from(part.x);
        place.y = place.y / fine + f64::from(part.y);
        place.area_px /= fine * fine;
    }
    u.data.iter_mut().for_each(|v| *v -= level as f32);
    surface.number = level;
    surface.grid = Arc::new(Grid::new(&u, kernel, border));
    surface.extent = extent.times(fine);
    Ok(surface)
}

/// Larger pictures are not held twice.
const LARGEST_EVENED: usize = 16_000_000;
const EVENED: &str = "; its uneven light is evened out";
const HELD: &str = " and held to what the file stores";

/// A picture's pixels parted into paper and ink.
struct Parted {
    /// The share of ink that parts them.
    level: f64,
    share: Plane,
    /// Whether each pixel is on the side of the ink, and how deep.
    side: Vec<bool>,
    depth: Vec<u8>,
    tones: Tones,
}

impl Parted {
    fn of(greys: &[u8], width: usize, height: usize, settings: &Settings, crop: Crop) -> Self {
        let level = match settings.cut {
            Cut::At(level) => level,
            Cut::Auto | Cut::Local => share_of(otsu(&counts(greys))),
        };
        let data = greys.iter().map(|g| 1.0 - f32::from(*g) / 255.0).collect();
        let mut share = Plane { width, height, data };
        if settings.cut == Cut::Local {
            // Shares are moved so that every pixel's own level comes to lie at the common one.
            let levels = sauvola(greys, width, height, sauvola_window(crop));
            for (share, grey) in share.data.iter_mut().zip(levels) {
                *share += level as f32 - (1.0 - grey / 255.0);
            }
        }
        let side: Vec<bool> = share.data.iter().map(|f| f64::from(*f) > level).collect();
        let depth = depths(&side, width, height);
        let tones = Tones::find(&share, &side, &depth);
        Self { level, share, side, depth, tones }
    }
}

/// Damaged pictures of more pixels would take too long to learn the edges of.
const HUGE: usize = 6_000_000;

/// Whether the settings leave a place for the learned edge. Who says what a picture has been
/// through wants it fitted so.
fn learns(settings: &Settings) -> bool {
    match settings.edges {
        Edges::Learned => true,
        Edges::Auto => settings.source == Source::Auto,
        Edges::Fitted | Edges::Plain => false,
    }
}

/// Whether the learned edge is the one to take.
fn is_learned(settings: &Settings, verdict: &Verdict, pixels: usize) -> bool {
    /// Clean pictures of more are fitted: the eye sees no difference, and it is quicker.
    const LARGE: usize = 160_000;
    let few = pixels <= if verdict.source == Source::Clean { LARGE } else { HUGE };
    learns(settings) && (few || settings.edges == Edges::Learned)
}

/// Coverages moved so that an edge that lies at `half_way` comes to lie at 1/2.
fn levelled(mut cover: Plane, half_way: f64) -> Plane {
    let at = half_way as f32;
    if (half_way - 0.5).abs() > 1e-9 {
        for f in &mut cover.data {
            *f = if *f < at { 0.5 * *f / at } else { 0.5 + 0.5 * (*f - at) / (1.0 - at) };
        }
    }
    cover
}

/// The crop and a little of what lies about it, which the edges at its rim depend on.
fn grown(crop: Crop, picture: &Picture) -> Crop {
    const RIM: u32 = 16;
    let (x, y) = (crop.x.saturating_sub(RIM), crop.y.saturating_sub(RIM));
    let end = |at: u32, size: u32, room: u32| (at + size).saturating_add(RIM).min(room);
    let (right, bottom) =
        (end(crop.x, crop.width, picture.width), end(crop.y, crop.height, picture.height));
    Crop { x, y, width: right - x, height: bottom - y }
}

/// The greys of a part, row by row.
fn part_of(picture: &Picture, part: Crop) -> Vec<u8> {
    let mut out = Vec::with_capacity(part.width as usize * part.height as usize);
    for y in part.y..part.y + part.height {
        let from = y as usize * picture.width as usize + part.x as usize;
        let to = from + part.width as usize;
        match &picture.pixels {
            Pixels::Grey(bytes) => out.extend_from_slice(&bytes[from..to]),
            Pixels::Rgb(bytes) => out.extend(bytes[3 * from..3 * to].chunks_exact(3).map(luma)),
        }
    }
    out
}

fn counts(greys: &[u8]) -> [u64; 256] {
    let mut counts = [0; 256];
    greys.iter().for_each(|g| counts[*g as usize] += 1);
    counts
}

/// The window of a local level: wide enough to hold paper beside any stroke.
fn sauvola_window(crop: Crop) -> usize {
    (crop.width.max(crop.height) as usize / 12).max(24) / 2 * 2 + 1
}

impl Surface {
    /// The film at `width` x `height` pixels.
    pub fn raster(&self, width: u32, height: u32) -> impl Raster + 'static {
        let (grid, extent) = self.at(f64::from(width), f64::from(height));
        CutFilm::new(grid, extent, width, height, self.invert)
    }

    /// The film of a picture that is turned. Its edges are as crisp and as true as upright:
    /// only where the smooth edge is read is turned.
    pub fn turned(&self, turned: Turned) -> impl Raster + 'static {
        let (width, height) = turned.picture();
        let (grid, extent) = self.at(width, height);
        TurnedFilm::new(grid, extent, turned, self.invert)
    }

    /// The numbers that a film of this size is read from, and the part of them it shows.
    fn at(&self, width: f64, height: f64) -> (Arc<Grid>, Extent) {
        let (columns, rows) = (self.extent.width / width, self.extent.height / height);
        if width == 0.0 || height == 0.0 || (columns <= 1.0 && rows <= 1.0) {
            return (self.grid.clone(), self.extent);
        }
        // A film coarser than the grid shows the mean of what each of its pixels covers.
        let origin = [self.extent.x, self.extent.y];
        let length = [self.extent.width, self.extent.height];
        let plane = reduce(&self.grid.values(), origin, length, width as usize, height as usize);
        let whole = Extent { x: 0.0, y: 0.0, width, height };
        (Arc::new(Grid::new(&plane, Kernel::Keys, Border::Nought)), whole)
    }
}
