//! Moves the straight lines of a division to where straight cuts cost least.

use super::cost::CostMap;
use super::division::{Division, Edge};
use super::room::Room;
use super::settings::SeamSettings;
use super::{InkWindow, RASTER};
use progress::{Cancelled, Progress};

/// How much a line must gain to leave the middle of its overlap.
const GAIN: f64 = 0.25;
/// The furthest that a line moves, in inches.
const FAR: f64 = 1.0;
/// The places tried that would cost least.
const TRIES: usize = 12;

/// Tries each line, with all edges on it, at every place of the raster that its overlaps allow.
pub(super) fn settle(
    division: &mut Division,
    settings: &SeamSettings,
    inks: &[&InkWindow<'_>],
    progress: &Progress,
) -> Result<(), Cancelled> {
    let mut lines: Vec<(bool, f64)> = Vec::new();
    for edge in division.edges() {
        if !lines.iter().any(|(v, at)| *v == edge.vertical && (at - edge.at).abs() < 1e-6) {
            lines.push((edge.vertical, edge.at));
        }
    }
    let total = lines.len() as u64;
    for (i, (vertical, at)) in lines.into_iter().enumerate() {
        progress.step("Moving cut lines", i as u64, total)?;
        let edges = division.edges();
        let on_line = |e: &&Edge| e.vertical == vertical && (e.at - at).abs() < 1e-6;
        let on_line: Vec<Edge> = edges.iter().filter(on_line).copied().collect();
        for moved in places(division, &on_line, settings, inks) {
            let mut next = division.clone();
            for edge in &on_line {
                let k = usize::from(!vertical);
                next.cores[edge.low][k + 2] = moved;
                next.cores[edge.high][k] = moved;
            }
            next.divide();
            if alike(&edges, &next.edges()) {
                *division = next;
                break;
            }
        }
    }
    Ok(())
}

/// The places to which a line of edges can go and gain, the best first.
fn places(
    division: &Division,
    edges: &[Edge],
    settings: &SeamSettings,
    inks: &[&InkWindow<'_>],
) -> Vec<f64> {
    let Some(first) = edges.first() else { return Vec::new() };
    let (at, sliver) = (first.at, settings.sliver.to_inches());
    let k = usize::from(!first.vertical);
    let (mut low, mut high) = (at - FAR, at + FAR);
    for edge in edges {
        low = low.max(division.sheets[edge.high][k] + sliver);
        high = high.min(division.sheets[edge.low][k + 2] - sliver);
    }
    let room = Room { rows: vec![(low.min(at), high.max(at)); 2] };
    let maps: Vec<CostMap> =
        edges.iter().map(|e| CostMap::of(e, &room, &settings.weights, inks)).collect();
    let raster = RASTER.to_inches();
    let steps = |to: f64| ((to - at).abs() / raster).floor() as i32;
    let tried: Vec<i32> = (-steps(low.min(at))..=steps(high.max(at))).collect();
    let across: Vec<f64> = tried.iter().map(|i| at + f64::from(*i) * raster).collect();
    let mut costs = vec![0.0; across.len()];
    for (edge, map) in edges.iter().zip(&maps) {
        let cut = map.straight((edge.from, edge.to), &across, settings.weights.crossing);
        costs.iter_mut().zip(cut).for_each(|(cost, cut)| *cost += cut);
    }
    let now = tried.iter().position(|i| *i == 0).map_or(0.0, |here| costs[here]) - GAIN;
    let mut better: Vec<(f64, i32)> =
        costs.into_iter().zip(tried).filter(|(cost, _)| *cost < now).collect();
    better.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.abs().cmp(&b.1.abs())));
    better.into_iter().take(TRIES).map(|(_, i)| at + f64::from(i) * raster).collect()
}

/// Whether two divisions have the same edges in the same order, wherever they lie.
fn alike(a: &[Edge], b: &[Edge]) -> bool {
    let mut names = [a, b]
        .map(|edges| edges.iter().map(|e| (e.vertical, e.low, e.high, e.free)).collect::<Vec<_>>());
    names.iter_mut().for_each(|n| n.sort_unstable());
    names[0] == names[1]
}
