//! What is said about taping the sheets, on paper and in the window alike.

use measure::{Length, Point, Unit};
use sheets::{Assembly, Check};

/// What is done at every seam, once, in order.
pub const SEAM_STEPS: [&str; 8] = [
    "Work on a light table, or a window in daylight. Lay the lower piece printed side down.",
    "Lay the upper piece on it, printed side down too. Move it until the crosses lie on each \
     other; where they carry lines, the pair that meets is the slip in tenths of a millimetre: \
     it should be the middle, 0.",
    "Tape the overlap on top at both ends and in the middle. Measure before going on.",
    "Cut along the seam's line through the upper sheet only, with a sharp knife and a steel rule. \
     Lift the strip off.",
    "Tape the cut edge down along its whole length with clear tape. Leave no bubbles.",
    "Turn the film over. Cut the lower sheet away beyond the seam, leaving 2 to 3 mm under the \
     upper one.",
    "Tape this edge down too, on this side only where no ink is covered.",
    "Turn it back. Hold it to the light: no line may jump at the seam.",
];

/// How the knife is held.
pub const KNIFE: &str = "Cut away from your body and keep the other hand behind the blade. Cap the \
                         knife whenever you put it down.";
/// Over the film as it lies while it is taped.
pub const TAPING_SIDE: &str = "Seen from the taping side, printed side down";
/// Over the film as it prints.
pub const PRINTED_SIDE: &str = "Seen from the printed side";

/// One join in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JoinText {
    /// Which piece goes onto which, with the join's number.
    pub title: String,
    /// What lies where, and the cut.
    pub layers: String,
    /// What must measure right afterwards.
    pub measure: Option<String>,
}

/// The words of one join of an assembly, with the sheets' names and the seams' cuts.
pub fn join_text(n: usize, assembly: &Assembly, names: &[&str], cuts: &[Vec<Point>]) -> JoinText {
    let join = &assembly.joins[n];
    let named = |sheets: &[usize]| {
        sheets.iter().filter_map(|s| names.get(*s).copied()).collect::<Vec<_>>().join(" + ")
    };
    let (above, below) = (named(&join.above), named(&join.below));
    let bends = |seam: &usize| cuts.get(*seam).map_or(0, |cut| cut.len().saturating_sub(2));
    let cut = match join.seams.iter().map(bends).sum::<usize>() {
        0 => "a straight cut".to_owned(),
        1 => "a cut with one bend".to_owned(),
        bends => format!("a cut with {bends} bends"),
    };
    let long = tenths(join.length);
    JoinText {
        title: format!("{}.  {above} onto {below}", n + 1),
        layers: format!(
            "{below} (tinted) stays on the table; {above} (hatched) lies on top. Seam of {long} mm, {cut}."
        ),
        measure: checks_text(&join.checks),
    }
}

/// The diagonals and edges that must measure right.
pub fn checks_text(checks: &[Check]) -> Option<String> {
    let long: Vec<String> = checks.iter().map(|c| tenths(c.distance)).collect();
    let [a, b, edges @ ..] = long.as_slice() else { return None };
    let sides = ["top", "right", "bottom", "left"];
    let edges: Vec<String> =
        edges.iter().zip(sides).map(|(edge, side)| format!("{side} {edge}")).collect();
    Some(format!(
        "Measure between the images' corners: diagonals {a} and {b}; as seen from the printed \
         side, {}. All in mm, each within {}.",
        edges.join(", "),
        TOLERANCE.show(Unit::Mm),
    ))
}

/// How far a measure may be off: what a steel rule and a good eye can tell.
const TOLERANCE: Length = Length::mm(0.5);

/// Millimetres to the tenth, which is more than a rule tells.
fn tenths(length: Length) -> String {
    format!("{:.1}", length.to_mm())
}
