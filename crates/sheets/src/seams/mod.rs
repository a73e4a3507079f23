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
use crate::seams::division::{Division, Edge};
use crate::seams::room::Room;
use bitmap::Bitmap;
use measure::{Length, Point, Rect};
use progress::{Cancelled, Progress};

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
    edges: Vec<Edge>,
    rooms: Vec<Room>,
    division: Division,
    settings: SeamSettings,
}

impl Seams {
    /// Finds the seams of sheets that overlap by at least `overlap`, by the ink under them.
    ///
    /// # Errors
    /// [`Cancelled`] when asked to stop.
    pub fn find(
        sheets: &[Rect],
        overlap: Length,
        settings: &SeamSettings,
        ink: &InkWindow<'_>,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let settings = settings.sound();
        let mut division = Division::new(sheets, overlap);
        lines::settle(&mut division, &settings, ink, progress)?;
        let edges = division.edges();
        let rooms = room::rooms(&division, &edges, &settings);
        let mut seams = Vec::with_capacity(edges.len());
        for (i, (edge, room)) in edges.iter().zip(&rooms).enumerate() {
            progress.step("Choosing seams", i as u64, edges.len() as u64)?;
            let map = CostMap::of(edge, room, &settings.weights, ink);
            let straight = [(edge.from, edge.at), (edge.to, edge.at)];
            let straight_cost = map.cost(&straight, &settings.weights);
            let mut points = straight.to_vec();
            let mut cost = straight_cost;
            if settings.bends > 0 {
                if let Some((bent, bent_cost)) = path::best(edge, room, &map, &settings) {
                    if bent_cost < straight_cost {
                        (points, cost) = (bent, bent_cost);
                    }
                }
            }
            seams.push(Seam {
                between: [edge.low, edge.high],
                risk: map.risk(&points),
                points: points.iter().map(|p| edge.point(*p)).collect(),
                vertical: edge.vertical,
                cost,
                straight_cost,
            });
        }
        Ok(Self { seams, edges, rooms, division, settings })
    }

    /// The seams.
    pub fn seams(&self) -> &[Seam] {
        &self.seams
    }

    /// The sheet to which a place of the film belongs; `None` where no sheet lies.
    pub fn owner(&self, p: Point) -> Option<usize> {
        let owner = self.division.owner(p)?;
        for (edge, seam) in self.edges.iter().zip(&self.seams) {
            let (along, across) = edge.local(p);
            if along < edge.from || along > edge.to {
                continue;
            }
            let cut = edge.across_at(&seam.points, along);
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
    pub fn edit(&mut self, seam: usize, points: &[Point], ink: &InkWindow<'_>) {
        let (Some(edge), Some(room)) = (self.edges.get(seam), self.rooms.get(seam)) else { return };
        let mut local: Vec<(f64, f64)> = points.iter().map(|p| edge.local(*p)).collect();
        local.retain(|(along, across)| along.is_finite() && across.is_finite());
        let points = room.draw_in(edge, local);
        let map = CostMap::of(edge, room, &self.settings.weights, ink);
        let seam = &mut self.seams[seam];
        seam.cost = map.cost(&points, &self.settings.weights);
        seam.risk = map.risk(&points);
        seam.points = points.iter().map(|p| edge.point(*p)).collect();
    }
}

#[cfg(test)]
mod tests;
