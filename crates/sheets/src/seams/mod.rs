//! Where overlapping sheets are cut and joined.
//!
//! Every place of the film belongs to exactly one sheet. The middle lines of the overlaps divide
//! it first ([`division`]); each line is then moved to where a straight cut costs least, and bent
//! within room of its own, between ends that stay, to where a cut with few bends costs least.
//! The rooms of two seams share no place, so seams never cross.

mod cost;
mod division;
mod lines;
mod path;
mod risk;
mod room;
mod settings;

use crate::seams::cost::CostMap;
use crate::seams::division::{Division, Edge, across_at};
use crate::seams::room::Room;
use bitmap::Bitmap;
use measure::{Length, Point, Rect};
use progress::{Cancelled, Progress};
use rayon::prelude::*;
use std::sync::atomic::{AtomicU64, Ordering};

pub use risk::Risk;
pub use settings::{SeamSettings, SeamWeights};

/// Gives the film's ink inside a rectangle, one pixel for each square of the given side; the
/// rectangle may reach past the film, where there is none.
pub type InkWindow<'a> = dyn Fn(Rect, Length) -> Bitmap + Sync + 'a;

/// The raster on which cuts are weighed.
pub(crate) const RASTER: Length = Length::inches(0.01);

/// A cut between two sheets.
#[derive(Clone, Debug, PartialEq)]
pub struct Seam {
    /// The two sheets by number: the left or upper one first.
    pub between: [usize; 2],
    /// The cut on the film: down a vertical seam, right along a horizontal one.
    pub points: Vec<Point>,
    /// Whether it runs down the film; else it runs across.
    pub vertical: bool,
    /// What it costs by the weights.
    pub cost: f64,
    /// What the best straight cut costs.
    pub straight_cost: f64,
    /// What it puts at risk.
    pub risk: Risk,
}

/// All seams of a film, which divide it among its sheets.
#[derive(Clone, Debug)]
pub struct Seams {
    seams: Vec<Seam>,
    paths: Vec<Path>,
    edges: Vec<Edge>,
    rooms: Vec<Room>,
    division: Division,
    settings: SeamSettings,
}

impl Seams {
    /// Finds the seams of sheets that overlap by at least `overlap`, by the ink under them: of
    /// one film, or of each of several that are cut alike. A border between two films' inks is
    /// an ink edge of both.
    ///
    /// # Errors
    /// [`Cancelled`] when asked to stop.
    pub fn find(
        sheets: &[Rect],
        overlap: Length,
        settings: &SeamSettings,
        inks: &[&InkWindow<'_>],
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let settings = settings.sound();
        let mut division = Division::new(sheets, overlap);
        lines::settle(&mut division, &settings, inks, progress)?;
        let edges = division.edges();
        let rooms = room::rooms(&division, &edges, &settings);
        let total = edges.len() as u64;
        let done = AtomicU64::new(0);
        let seams = edges.par_iter().zip(&rooms).map(|(edge, room)| {
            let count = done.fetch_add(1, Ordering::Relaxed);
            progress.step("Choosing seams", count, total)?;
            Ok(seam(edge, room, &settings, inks))
        });
        let seams = seams.collect::<Result<Vec<Seam>, Cancelled>>()?;
        let paths = seams.iter().zip(&edges).map(|(seam, edge)| Path::of(seam, edge)).collect();
        Ok(Self { seams, paths, edges, rooms, division, settings })
    }

    /// The seams.
    pub fn seams(&self) -> &[Seam] {
        &self.seams
    }

    /// Which of the seams between its two sheets a seam is: upright ones come first, from the
    /// left and from the top, then level ones, from the top and from the left.
    pub fn strip(&self, index: usize) -> usize {
        let Some(seam) = self.seams.get(index) else { return 0 };
        self.seams[..index].iter().filter(|other| other.between == seam.between).count()
    }

    /// The sheet to which a place of the film belongs; `None` where no sheet lies.
    pub fn owner(&self, p: Point) -> Option<usize> {
        let owner = self.division.owner(p)?;
        for (edge, path) in self.edges.iter().zip(&self.paths) {
            let (along, across) = edge.local(p);
            let touched = path.low <= across && across < path.high;
            if !touched || along < edge.from || along > edge.to {
                continue;
            }
            let cut = across_at(&path.nodes, along);
            // Between the line and the cut, the place has changed hands.
            if edge.at <= across && across < cut {
                return Some(edge.low);
            }
            if cut <= across && across < edge.at {
                return Some(edge.high);
            }
        }
        Some(owner)
    }

    /// Moves a seam to other points. They are sorted along it, drawn into the room that the seam
    /// has, and given its ends, so that whatever is asked for leaves a cut that can be made.
    pub fn edit(&mut self, index: usize, points: &[Point], inks: &[&InkWindow<'_>]) {
        let (Some(edge), Some(room)) = (self.edges.get(index), self.rooms.get(index)) else {
            return;
        };
        let mut local: Vec<(f64, f64)> = points.iter().map(|p| edge.local(*p)).collect();
        local.retain(|(along, across)| along.is_finite() && across.is_finite());
        let points = room.draw_in(edge, local);
        let map = CostMap::of(edge, room, &self.settings.weights, inks);
        let seam = &mut self.seams[index];
        seam.cost = map.cost(&points, &self.settings.weights);
        seam.risk = map.risk(&points);
        seam.points = points.iter().map(|p| edge.point(*p)).collect();
        self.paths[index] = Path::of(seam, edge);
    }
}

/// A seam as places along and across its edge, and how far across it goes from its line.
#[derive(Clone, Debug)]
struct Path {
    nodes: Vec<(f64, f64)>,
    low: f64,
    high: f64,
}

impl Path {
    fn of(seam: &Seam, edge: &Edge) -> Self {
        let nodes: Vec<(f64, f64)> = seam.points.iter().map(|p| edge.local(*p)).collect();
        let across = nodes.iter().map(|n| n.1);
        let (low, high) = across.fold((edge.at, edge.at), |(l, h), a| (l.min(a), h.max(a)));
        Self { nodes, low, high }
    }
}

/// The best cut along one edge.
fn seam(edge: &Edge, room: &Room, settings: &SeamSettings, inks: &[&InkWindow<'_>]) -> Seam {
    let map = CostMap::of(edge, room, &settings.weights, inks);
    let mut points = vec![(edge.from, edge.at), (edge.to, edge.at)];
    let straight_cost = map.cost(&points, &settings.weights);
    let mut cost = straight_cost;
    let bent = if settings.bends > 0 { path::best(edge, room, &map, settings) } else { None };
    if let Some((nodes, bent_cost)) = bent.filter(|(_, cost)| *cost < straight_cost) {
        (points, cost) = (nodes, bent_cost);
    }
    Seam {
        between: [edge.low, edge.high],
        risk: map.risk(&points),
        points: points.iter().map(|p| edge.point(*p)).collect(),
        vertical: edge.vertical,
        cost,
        straight_cost,
    }
}

#[cfg(test)]
mod tests;
