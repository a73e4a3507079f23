use crate::simplex::maximise;
use std::collections::HashMap;

/// A cutting problem in whole units, the saw's kerf already added to pieces and boards.
#[derive(Clone, Debug)]
pub(crate) struct Problem {
    /// Length and number wanted, longest first.
    pub pieces: Vec<(u64, u32)>,
    /// Length, number at hand and cost of each kind of board.
    pub boards: Vec<(u64, Option<u32>, u64)>,
}

/// One board's cuts: which kind of board, and how many of each piece.
pub(crate) type Cut = (usize, Vec<u32>);

/// The best plan found.
#[derive(Clone, Debug)]
pub(crate) struct Solution {
    /// One entry a board; None if no plan was found.
    pub cuts: Option<Vec<Cut>>,
    /// Whether no better plan exists (or, without cuts, no plan at all).
    pub proved: bool,
    /// The linear relaxation's cost, a lower bound.
    pub linear: f64,
}

/// How many steps one search may take before it gives up its proof.
const STEPS: u64 = 300_000;

/// How many remainders one search keeps in mind.
const SEEN: usize = 100_000;

/// Solves by column generation for the bound (Gilmore & Gomory 1961) and by
/// depth-first branch and bound for the plan: the longest piece left must lie
/// on some board, and that board may be taken as full as what is left allows.
/// The relaxation's multipliers bound every remainder without solving again.
pub(crate) fn solve(problem: &Problem) -> Solution {
    let relaxed = Relaxed::new(problem).unwrap_or_else(|| Relaxed::by_length(problem));
    // A plan's cost is a whole number of steps, so the bound may be rounded up to one.
    let step = problem.boards.iter().fold(0, |g, b| gcd(g, b.2)).max(1);
    let rounded = (relaxed.cost * (1.0 - 1e-9) / step as f64 - 1e-7).ceil().max(0.0);
    let bound = rounded as u64 * step;
    let wanted: Vec<u32> = problem.pieces.iter().map(|p| p.1).collect();
    let at_hand: Vec<Option<u32>> = problem.boards.iter().map(|b| b.1).collect();

    let mut best = greedy(problem);
    let mut proved = false;
    // Take a part of the relaxation's patterns as they are and search the rest. The
    // last round takes none, so that its search is complete.
    for part in [1.0, 0.9, 0.75, 0.5, 0.0] {
        let mut left = wanted.clone();
        let mut stock = at_hand.clone();
        let mut fixed = Vec::new();
        for (cut, times) in &relaxed.patterns {
            for _ in 0..(times * part + 1e-6).floor() as u64 {
                let fits = cut.1.iter().zip(&left).all(|(a, d)| a <= d) && stock[cut.0] != Some(0);
                if fits {
                    take(&mut left, &mut stock, cut);
                    fixed.push(cut.clone());
                }
            }
        }
        let spent: u64 = fixed.iter().map(|c| problem.boards[c.0].2).sum();
        let mut search = Search {
            problem,
            relaxed: &relaxed,
            step,
            goal: bound,
            best: best.take(),
            path: fixed,
            seen: HashMap::new(),
            steps: 0,
        };
        search.run(&mut left, &mut stock, spent);
        let finished = search.steps < STEPS;
        best = search.best;
        proved = best.as_ref().is_some_and(|b| b.0 <= bound) || (part == 0.0 && finished);
        if proved {
            break;
        }
    }
    Solution { cuts: best.map(|b| b.1), proved, linear: relaxed.cost }
}

/// A plan that fills board after board with the longest pieces that fit, each time the kind
/// of board that costs least for what it takes.
fn greedy(problem: &Problem) -> Option<(u64, Vec<Cut>)> {
    let mut left: Vec<u32> = problem.pieces.iter().map(|p| p.1).collect();
    let mut stock: Vec<Option<u32>> = problem.boards.iter().map(|b| b.1).collect();
    let (mut cost, mut cuts) = (0, Vec::new());
    while let Some(longest) = left.iter().position(|&d| d > 0) {
        let kinds = (0..stock.len())
            .filter(|&j| stock[j] != Some(0) && problem.boards[j].0 >= problem.pieces[longest].0);
        let filled = kinds.map(|j| {
            let mut room = problem.boards[j].0;
            let pattern: Vec<u32> = left
                .iter()
                .zip(&problem.pieces)
                .map(|(&d, p)| {
                    let n = (room / p.0).min(u64::from(d));
                    room -= n * p.0;
                    n as u32
                })
                .collect();
            let taken = problem.boards[j].0 - room;
            (problem.boards[j].2 as f64 / taken as f64, (j, pattern))
        });
        let (_, cut) = filled.min_by(|a, b| a.0.total_cmp(&b.0))?;
        take(&mut left, &mut stock, &cut);
        cost += problem.boards[cut.0].2;
        cuts.push(cut);
    }
    Some((cost, cuts))
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn take(left: &mut [u32], stock: &mut [Option<u32>], cut: &Cut) {
    for (d, a) in left.iter_mut().zip(&cut.1) {
        *d -= a;
    }
    if let Some(n) = &mut stock[cut.0] {
        *n -= 1;
    }
}

fn give_back(left: &mut [u32], stock: &mut [Option<u32>], cut: &Cut) {
    for (d, a) in left.iter_mut().zip(&cut.1) {
        *d += a;
    }
    if let Some(n) = &mut stock[cut.0] {
        *n += 1;
    }
}

/// The linear relaxation: what each piece and each limited board is worth.
struct Relaxed {
    cost: f64,
    piece: Vec<f64>,
    board: Vec<f64>,
    patterns: Vec<(Cut, f64)>,
}

impl Relaxed {
    /// What pieces are worth by their length alone: a valid bound, though a weak one.
    fn by_length(problem: &Problem) -> Self {
        let rate =
            problem.boards.iter().map(|b| b.2 as f64 / b.0 as f64).fold(f64::INFINITY, f64::min);
        let piece: Vec<f64> = problem.pieces.iter().map(|p| p.0 as f64 * rate).collect();
        let cost = problem.pieces.iter().zip(&piece).map(|(p, v)| f64::from(p.1) * v).sum();
        Self { cost, piece, board: vec![0.0; problem.boards.len()], patterns: vec![] }
    }

    /// None if it takes too long.
    fn new(problem: &Problem) -> Option<Self> {
        let (m, s) = (problem.pieces.len(), problem.boards.len());
        // Dear enough that a piece is never left out if boards can be had for it.
        let dear = 1.0 + 10.0 * problem.boards.iter().map(|b| b.2 as f64).sum::<f64>();
        let mut objective: Vec<f64> = problem.pieces.iter().map(|p| f64::from(p.1)).collect();
        // A kind without limit gets no room in the objective, so its worth stays nought.
        objective.extend(problem.boards.iter().map(|b| -b.1.map_or(0.0, f64::from)));
        let mut rows: Vec<Vec<f64>> = (0..m).map(|i| unit(m + s, i)).collect();
        let mut right = vec![dear; m];
        for (j, board) in problem.boards.iter().enumerate() {
            if board.1.is_none() {
                rows.push(unit(m + s, m + j));
                right.push(0.0);
            }
        }
        let before_cuts = rows.len();
        let mut cuts: Vec<Cut> = Vec::new();
        while cuts.len() < 400 {
            let (worth, times) = maximise(&objective, &rows, &right)?;
            let (piece, board) = worth.split_at(m);
            let mut grown = false;
            let mut scale: f64 = 1.0;
            for (j, b) in problem.boards.iter().enumerate() {
                let (value, pattern) = knapsack(problem, j, piece)?;
                let cost = b.2 as f64;
                if value - board[j] > cost * (1.0 + 1e-9) + 1e-9
                    && !cuts.contains(&(j, pattern.clone()))
                {
                    let mut row: Vec<f64> = pattern.iter().map(|&a| f64::from(a)).collect();
                    row.extend(std::iter::repeat_n(0.0, s));
                    row[m + j] = -1.0;
                    rows.push(row);
                    right.push(cost);
                    cuts.push((j, pattern));
                    grown = true;
                }
                if value - board[j] > 0.0 {
                    scale = scale.min(cost / (value - board[j]));
                }
            }
            if !grown {
                // Scaled so that no pattern is worth more than its board, rounding included.
                let piece: Vec<f64> = piece.iter().map(|v| v * scale).collect();
                let board: Vec<f64> = board.iter().map(|v| v * scale).collect();
                let cost =
                    objective.iter().zip(piece.iter().chain(&board)).map(|(c, v)| c * v).sum();
                let patterns = cuts.into_iter().zip(times[before_cuts..].iter().copied()).collect();
                return Some(Self { cost, piece, board, patterns });
            }
        }
        None
    }

    /// The least that what is left can cost.
    fn rest(&self, left: &[u32], stock: &[Option<u32>]) -> f64 {
        let pieces: f64 = left.iter().zip(&self.piece).map(|(&d, v)| f64::from(d) * v).sum();
        let boards: f64 =
            stock.iter().zip(&self.board).map(|(n, v)| n.map_or(0.0, |n| f64::from(n) * v)).sum();
        pieces - boards
    }
}

fn unit(n: usize, i: usize) -> Vec<f64> {
    let mut row = vec![0.0; n];
    row[i] = 1.0;
    row
}

/// The pattern of most worth on one kind of board, by branch and bound. None if it takes
/// too long.
fn knapsack(problem: &Problem, board: usize, worth: &[f64]) -> Option<(f64, Vec<u32>)> {
    let mut order: Vec<usize> = (0..worth.len()).filter(|&i| worth[i] > 0.0).collect();
    let density = |i: usize| worth[i] / problem.pieces[i].0 as f64;
    order.sort_by(|&i, &j| density(j).total_cmp(&density(i)));
    let mut best = (0.0, vec![0; worth.len()]);
    let mut pattern = vec![0; worth.len()];
    let mut steps = 200_000;
    fill(problem, &order, worth, problem.boards[board].0, 0.0, &mut pattern, &mut best, &mut steps);
    (steps > 0).then_some(best)
}

#[expect(clippy::too_many_arguments, reason = "a recursion's state, used here alone")]
fn fill(
    problem: &Problem,
    order: &[usize],
    worth: &[f64],
    room: u64,
    value: f64,
    pattern: &mut Vec<u32>,
    best: &mut (f64, Vec<u32>),
    steps: &mut u32,
) {
    *steps = steps.saturating_sub(1);
    if *steps == 0 {
        return;
    }
    if value > best.0 + 1e-12 {
        *best = (value, pattern.clone());
    }
    let Some((&i, rest)) = order.split_first() else { return };
    let (length, wanted) = problem.pieces[i];
    if value + room as f64 * worth[i] / length as f64 <= best.0 + 1e-12 {
        return;
    }
    for n in (0..=(room / length).min(u64::from(wanted))).rev() {
        pattern[i] = n as u32;
        fill(
            problem,
            rest,
            worth,
            room - n * length,
            value + n as f64 * worth[i],
            pattern,
            best,
            steps,
        );
    }
    pattern[i] = 0;
}

struct Search<'a> {
    problem: &'a Problem,
    relaxed: &'a Relaxed,
    step: u64,
    goal: u64,
    best: Option<(u64, Vec<Cut>)>,
    path: Vec<Cut>,
    /// The least spent on the way to each remainder so far.
    seen: HashMap<(Vec<u32>, Vec<Option<u32>>), u64>,
    steps: u64,
}

impl Search<'_> {
    fn run(&mut self, left: &mut Vec<u32>, stock: &mut Vec<Option<u32>>, spent: u64) {
        self.steps += 1;
        let Some(longest) = left.iter().position(|&d| d > 0) else {
            if self.best.as_ref().is_none_or(|b| spent < b.0) {
                self.best = Some((spent, self.path.clone()));
            }
            return;
        };
        let key = (left.clone(), stock.clone());
        if self.seen.get(&key).is_some_and(|&s| s <= spent) {
            return;
        }
        if self.seen.len() < SEEN {
            self.seen.insert(key, spent);
        }
        let mut cuts = Vec::new();
        for (board, at_hand) in stock.iter().enumerate() {
            if *at_hand != Some(0) {
                self.full_patterns(board, longest, left, &mut cuts);
            }
        }
        // The pattern that wastes least of its board's worth comes first.
        let mut cuts: Vec<(f64, Cut)> = cuts.into_iter().map(|c| (self.loss(&c), c)).collect();
        cuts.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.1.cmp(&a.1.1)));
        for (_, cut) in cuts {
            if self.done() {
                return;
            }
            take(left, stock, &cut);
            let spent = spent + self.problem.boards[cut.0].2;
            if self.may_improve(spent as f64 + self.relaxed.rest(left, stock)) {
                self.path.push(cut.clone());
                self.run(left, stock, spent);
                self.path.pop();
            }
            give_back(left, stock, &cut);
        }
    }

    fn done(&self) -> bool {
        self.steps >= STEPS || self.best.as_ref().is_some_and(|b| b.0 <= self.goal)
    }

    /// Whether a plan of at least this cost can still beat the best: costs come in steps.
    fn may_improve(&self, least: f64) -> bool {
        let Some((best, _)) = self.best else { return true };
        let slack = 1e-7 * self.step as f64 + 1e-9 * least.abs();
        least - slack <= best.saturating_sub(self.step) as f64
    }

    fn loss(&self, (board, pattern): &Cut) -> f64 {
        let worth: f64 =
            pattern.iter().zip(&self.relaxed.piece).map(|(&a, v)| f64::from(a) * v).sum();
        self.problem.boards[*board].2 as f64 + self.relaxed.board[*board] - worth
    }

    /// Every way to fill one board from what is left, with at least one of the
    /// longest, so full that nothing left fits into the rest.
    fn full_patterns(&mut self, board: usize, longest: usize, left: &[u32], out: &mut Vec<Cut>) {
        let room = self.problem.boards[board].0;
        if self.problem.pieces[longest].0 <= room {
            let mut pattern = vec![0; left.len()];
            self.extend(board, longest, longest, room, left, &mut pattern, out);
        }
    }

    #[expect(clippy::too_many_arguments, reason = "a recursion's state, used here alone")]
    fn extend(
        &mut self,
        board: usize,
        longest: usize,
        i: usize,
        room: u64,
        left: &[u32],
        pattern: &mut Vec<u32>,
        out: &mut Vec<Cut>,
    ) {
        self.steps += 1;
        if self.steps >= STEPS {
            return;
        }
        if i == left.len() {
            let full = (0..i).all(|j| pattern[j] == left[j] || self.problem.pieces[j].0 > room);
            if full {
                out.push((board, pattern.clone()));
            }
            return;
        }
        let length = self.problem.pieces[i].0;
        let most = (room / length).min(u64::from(left[i]));
        for n in (u64::from(i == longest)..=most).rev() {
            pattern[i] = n as u32;
            self.extend(board, longest, i + 1, room - n * length, left, pattern, out);
        }
        pattern[i] = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn problem(
        boards: &[(u64, u32)],
        pieces: &[(u64, u32)],
        kerf: u64,
        unit_cost: bool,
    ) -> Problem {
        let mut pieces: Vec<(u64, u32)> = pieces.iter().map(|p| (p.0 + kerf, p.1)).collect();
        pieces.sort_by(|a, b| b.cmp(a));
        let boards = boards
            .iter()
            .map(|&(l, n)| (l + kerf, (n > 0).then_some(n), if unit_cost { 1 } else { l }))
            .collect();
        Problem { pieces, boards }
    }

    fn cost(p: &Problem, s: &Solution) -> u64 {
        let cuts = s.cuts.as_ref().expect("a plan");
        let mut made = vec![0; p.pieces.len()];
        for (board, pattern) in cuts {
            let used: u64 = pattern.iter().zip(&p.pieces).map(|(&a, q)| u64::from(a) * q.0).sum();
            assert!(used <= p.boards[*board].0, "a board is overfull");
            for (m, a) in made.iter_mut().zip(pattern) {
                *m += a;
            }
        }
        let wanted: Vec<u32> = p.pieces.iter().map(|q| q.1).collect();
        assert_eq!(made, wanted);
        for (j, b) in p.boards.iter().enumerate() {
            let used = cuts.iter().filter(|c| c.0 == j).count();
            assert!(b.1.is_none_or(|n| used <= n as usize), "more boards than at hand");
        }
        cuts.iter().map(|c| p.boards[c.0].2).sum()
    }

    #[test]
    fn published_sets() {
        // Chvátal, Linear Programming, 1983: roll of 100, relaxation 452.25.
        let p = problem(&[(100, 0)], &[(45, 97), (36, 610), (31, 395), (14, 211)], 0, true);
        let s = solve(&p);
        assert!((s.linear - 452.25).abs() < 1e-6, "{}", s.linear);
        assert_eq!((cost(&p, &s), s.proved), (453, true));
        // Textbook data, roll of 110: relaxation 46.25, optimum 47.
        let p = problem(&[(110, 0)], &[(20, 48), (45, 35), (50, 24), (55, 10), (75, 8)], 0, true);
        let s = solve(&p);
        assert!((s.linear - 46.25).abs() < 1e-6, "{}", s.linear);
        assert_eq!((cost(&p, &s), s.proved), (47, true));
        // The often-quoted roll of 5600 (data from memory, optimum 73, waste 0.401 %);
        // HiGHS gives relaxation 72.9167 and optimum 73.
        let widths = [
            (1380, 22),
            (1520, 25),
            (1560, 12),
            (1710, 14),
            (1820, 18),
            (1880, 18),
            (1930, 20),
            (2000, 10),
            (2050, 12),
            (2100, 14),
            (2140, 16),
            (2150, 18),
            (2200, 20),
        ];
        let p = problem(&[(5600, 0)], &widths, 0, true);
        let s = solve(&p);
        assert!((s.linear - 72.916_666_7).abs() < 1e-5, "{}", s.linear);
        assert_eq!((cost(&p, &s), s.proved), (73, true));
        let used: u64 = widths.iter().map(|w| w.0 * u64::from(w.1)).sum();
        assert!((1.0 - used as f64 / (73.0 * 5600.0) - 0.00401).abs() < 5e-5);
    }

    type Row = (&'static [(u64, u32)], &'static [(u64, u32)], u64, f64, u64);

    /// Boards (length, number or 0 for any), pieces, kerf, relaxation, optimum; the
    /// cost of a board is its length. From scipy 1.17 `optimize.milp` (HiGHS,
    /// mip_rel_gap 0) over all maximal patterns.
    #[rustfmt::skip]
    const HIGHS: [Row; 27] = [
        (&[(24400, 3), (36600, 0)], &[(9760, 4), (7000, 4), (12500, 2)], 32, 93163.6364, 97600),
        (&[(18000, 2), (24000, 4), (30000, 0)], &[(11560, 6), (8760, 6), (9060, 4), (6660, 4)], 32, 188307.6923, 192000),
        (&[(24400, 0)], &[(9760, 4), (7000, 4)], 30, 73200.0000, 73200),
        (&[(18000, 3), (36600, 0)], &[(13850, 1), (12530, 3), (10340, 2), (8230, 6), (8100, 8), (3590, 4)], 24, 204600.0000, 219000),
        (&[(24000, 0), (48800, 0)], &[(11350, 5), (7430, 3)], 24, 84000.0000, 96000),
        (&[(24000, 0), (42000, 0)], &[(12110, 4), (7280, 3), (5700, 3), (5590, 5), (3100, 6), (3030, 4)], 24, 146631.5789, 150000),
        (&[(18000, 3), (36600, 0)], &[(11490, 3), (10390, 5), (9110, 2), (6390, 6), (3440, 5)], 30, 161575.6098, 163800),
        (&[(24000, 1), (24400, 3), (30500, 0)], &[(10270, 5), (9340, 8)], 24, 132166.6667, 139900),
        (&[(36600, 0)], &[(8240, 6), (3460, 7)], 32, 77266.6667, 109800),
        (&[(24400, 1), (36600, 0)], &[(12270, 3), (10700, 4), (3950, 2), (3180, 4)], 30, 102736.8421, 109800),
        (&[(24400, 0)], &[(11860, 2), (10520, 4), (9050, 6), (5210, 9), (3750, 6)], 30, 201300.0000, 219600),
        (&[(18000, 0), (30500, 3), (36600, 0)], &[(9480, 3), (9390, 5), (9270, 8), (6630, 3), (4880, 1), (4600, 2)], 30, 196071.4286, 200700),
        (&[(42000, 0)], &[(12330, 1), (11630, 8), (5980, 6), (4140, 4)], 24, 160000.0000, 168000),
        (&[(24000, 1), (36600, 1), (48800, 0)], &[(11890, 1), (10630, 7), (6450, 5), (6050, 3), (5180, 8)], 30, 179230.0429, 183000),
        (&[(18000, 1), (24000, 0)], &[(12620, 2), (11260, 7), (8960, 9), (8610, 3), (6000, 8)], 30, 264000.0000, 264000),
        (&[(24000, 3), (42000, 0)], &[(13290, 6), (10390, 9), (10280, 5), (9260, 8), (4290, 5), (3700, 5)], 0, 340800.0000, 342000),
        (&[(24400, 0), (30500, 3), (48800, 0)], &[(12480, 9), (9670, 6), (8910, 6), (8600, 5), (8130, 6)], 32, 322190.9091, 323300),
        (&[(18000, 3), (42000, 0)], &[(13840, 3), (13610, 4), (9840, 6), (5900, 8)], 32, 206000.0000, 210000),
        (&[(24000, 0)], &[(13570, 9), (11610, 5), (9190, 1)], 32, 276000.0000, 288000),
        (&[(24000, 0), (36600, 0)], &[(12650, 3), (7630, 1), (7480, 3), (6700, 2), (6690, 6), (3850, 3)], 32, 137250.0000, 144000),
        (&[(18000, 3), (48800, 0)], &[(10780, 6), (10190, 1), (7870, 6), (7180, 7), (4470, 5)], 30, 196029.8507, 200400),
        (&[(24400, 1), (36600, 0)], &[(9170, 5), (4940, 9)], 24, 97600.0000, 97600),
        (&[(42000, 0), (48800, 0)], &[(12570, 7), (11380, 8), (10560, 4), (6210, 3), (5910, 2)], 32, 254800.0000, 258800),
        (&[(24000, 1), (30500, 0)], &[(9670, 6), (5880, 7)], 30, 103300.0000, 115500),
        (&[(24400, 0), (30500, 0)], &[(10860, 8), (10770, 5), (9160, 7), (8320, 1), (6250, 6)], 32, 265350.0000, 268400),
        (&[(48800, 0)], &[(12080, 4), (5490, 5)], 24, 79300.0000, 97600),
        (&[(42000, 0)], &[(13900, 8), (12830, 1), (8600, 4), (7980, 8), (3270, 5)], 30, 240800.0000, 252000),
    ];

    #[test]
    fn shop_problems_match_an_integer_solver() {
        for (boards, pieces, kerf, linear, optimum) in HIGHS {
            let p = problem(boards, pieces, kerf, false);
            let s = solve(&p);
            // Patterns may overproduce in the reference and not here, so that only the
            // optimum and the side of the bound must agree.
            assert!(s.linear >= linear - 0.01 && s.linear <= optimum as f64 + 0.01, "{boards:?}");
            assert_eq!((cost(&p, &s), s.proved), (optimum, true), "{boards:?} {pieces:?}");
        }
    }

    #[test]
    fn a_problem_too_large_to_prove_still_gets_a_plan() {
        let pieces: Vec<(u64, u32)> = (0..40).map(|i| (1000 + 37 * i * i % 4001, 50)).collect();
        let p = problem(&[(48_800, 0), (30_500, 7)], &pieces, 30, false);
        let s = solve(&p);
        // No plan can be better than wood without waste, and this one is near it.
        let wood: f64 = pieces.iter().map(|p| p.0 as f64 * f64::from(p.1)).sum();
        assert!(cost(&p, &s) as f64 >= wood && (cost(&p, &s) as f64) < wood * 1.1);
        assert!(s.linear <= cost(&p, &s) as f64 * (1.0 + 1e-9));
    }

    #[test]
    fn says_when_the_boards_do_not_suffice() {
        let s = solve(&problem(&[(100, 2)], &[(60, 3)], 0, true));
        assert!(s.cuts.is_none() && s.proved);
    }
}
