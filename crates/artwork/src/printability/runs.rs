//! Runs of pixels and the patches they make up.

/// Neighbouring pixels of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Run {
    pub(super) y: u32,
    pub(super) from: u32,
    /// One past the last.
    pub(super) to: u32,
    /// The pixel deepest inside, and the square of how deep it is.
    pub(super) at: u32,
    pub(super) square: u16,
}

/// Runs, given from the top down and from the left, as the patches in which they touch, also
/// by corners.
pub(super) fn patches(runs: Vec<Run>) -> Vec<Vec<Run>> {
    let mut parent: Vec<usize> = (0..runs.len()).collect();
    fn root(parent: &mut [usize], mut at: usize) -> usize {
        while parent[at] != at {
            parent[at] = parent[parent[at]];
            at = parent[at];
        }
        at
    }
    let mut above = 0;
    for at in 0..runs.len() {
        let run = runs[at];
        // Runs of the row above that end before this one begins touch none of those to come.
        while above < at
            && (runs[above].y + 1 < run.y
                || (runs[above].y + 1 == run.y && runs[above].to < run.from))
        {
            above += 1;
        }
        let mut other = above;
        while other < at && runs[other].y + 1 == run.y && runs[other].from <= run.to {
            let (a, b) = (root(&mut parent, at), root(&mut parent, other));
            parent[a.max(b)] = a.min(b);
            other += 1;
        }
    }
    let mut order = Vec::new();
    let mut place = vec![usize::MAX; runs.len()];
    for (at, run) in runs.iter().enumerate() {
        let root = root(&mut parent, at);
        if place[root] == usize::MAX {
            place[root] = order.len();
            order.push(Vec::new());
        }
        order[place[root]].push(*run);
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `scipy.ndimage.label` with a full 3 x 3 structure finds as many in the same picture:
    /// a U, a dot touching it by a corner, and a dot apart.
    #[test]
    fn patches_touch_by_corners_and_join_late() {
        let run = |y, from, to| Run { y, from, to, at: from, square: 1 };
        let runs = vec![
            run(0, 0, 1),
            run(0, 4, 5),
            run(1, 0, 1),
            run(1, 4, 5),
            run(2, 0, 5),
            run(2, 9, 10),
            run(3, 5, 6),
        ];
        let sizes: Vec<usize> = patches(runs).iter().map(Vec::len).collect();
        assert_eq!(sizes, [6, 1]);
    }
}
