use crate::cutting::{self, Problem};
use crate::figure::{number, show_length};
use crate::settings::{check_length, settings};
use crate::{Error, Quantity, Section, Source};
use measure::{Length, Unit};
use serde::{Deserialize, Serialize};

settings! {
    /// How wood is cut.
    pub struct LumberSettings {
        /// What the saw blade takes away: 1/8 in for a common blade, 3/32 in for a thin one.
        kerf: Length = Length::inches(0.125), "", Length::ZERO..=Length::mm(10.0), Source::Practice;
        /// What is cut off every board's ends together, to lose splits and stain.
        trim: Length = Length::mm(10.0), "", Length::ZERO..=Length::mm(300.0), Source::Practice;
    }
}

/// Boards of one length, at hand or to be bought.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Board {
    /// How long one board is.
    pub length: Length,
    /// How many there are; None if as many as needed can be bought.
    pub at_hand: Option<u32>,
    /// What one costs, 0 if it is there already. Among plans of equal cost that of
    /// least wood wins; without any prices the least wood wins alone.
    pub price: f64,
}

/// Pieces of one length.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Piece {
    /// What it is.
    pub name: String,
    /// How long it is, over its longest edge.
    pub length: Length,
    /// How many are needed.
    pub count: u32,
}

/// Which pieces come out of which board.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CutPlan {
    /// One entry for every group of boards cut alike.
    pub boards: Vec<BoardCut>,
    /// Whether no plan needs less.
    pub proved: bool,
    /// By how much of itself the plan may at most exceed the best one; 0 where proved.
    pub gap: f64,
    /// How much of the bought or used wood ends up in pieces, 0 to 1.
    pub used: f64,
    /// How much wood is used in all.
    pub wood: Length,
    /// What it costs.
    pub price: f64,
}

/// Boards cut alike.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BoardCut {
    /// How long the board is.
    pub board: Length,
    /// How many boards are cut so.
    pub times: u32,
    /// The pieces in cutting order: index into the list of pieces, and how many.
    pub pieces: Vec<(usize, u32)>,
    /// What is left of each board.
    pub rest: Length,
}

/// Nominal sizes of softwood in inches, and the dressed, dry size of each.
/// Source: American Softwood Lumber Standard PS 20.
pub const DRESSED: [(u32, Length); 8] = [
    (1, Length::inches(0.75)),
    (2, Length::inches(1.5)),
    (3, Length::inches(2.5)),
    (4, Length::inches(3.5)),
    (6, Length::inches(5.5)),
    (8, Length::inches(7.25)),
    (10, Length::inches(9.25)),
    (12, Length::inches(11.25)),
];

/// The nominal size in inches whose dressed size this is.
pub fn nominal(dressed: Length) -> Option<u32> {
    let same = |size: &&(u32, Length)| (size.1 - dressed).abs() < Length::mm(0.1);
    DRESSED.iter().find(same).map(|size| size.0)
}

/// The fewest-wood (or cheapest) way to cut the pieces, exact for shop-sized problems.
///
/// Lengths are rounded to a hundredth of a millimetre, pieces up and boards down.
///
/// # Errors
/// If a piece fits no board, the boards do not suffice, or numbers make no sense.
pub fn cut(
    pieces: &[Piece],
    boards: &[Board],
    settings: &LumberSettings,
) -> Result<CutPlan, Error> {
    check(pieces, boards)?;
    let kerf = hundredths_up(settings.kerf);
    let mut order: Vec<usize> = (0..pieces.len()).filter(|&i| pieces[i].count > 0).collect();
    order.sort_by(|&i, &j| pieces[j].length.to_mm().total_cmp(&pieces[i].length.to_mm()));
    let priced = boards.iter().any(|b| b.price > 0.0);
    let inner = |b: &Board| b.length - settings.trim;
    let problem = Problem {
        pieces: order
            .iter()
            .map(|&i| (hundredths_up(pieces[i].length) + kerf, pieces[i].count))
            .collect(),
        boards: boards
            .iter()
            .map(|b| {
                let wood = (inner(b).to_mm().max(0.0) * 100.0 + 1e-6).floor() as u64;
                // A cent outweighs any difference in wood; wood breaks ties by the metre.
                let cost = if priced {
                    (b.price * 100.0).round() as u64 * 1000
                        + (b.length.to_mm() / 100.0).round() as u64
                } else {
                    (b.length.to_mm() * 100.0).round() as u64
                };
                (wood + kerf, b.at_hand, cost)
            })
            .collect(),
    };
    let longest = boards.iter().map(inner).fold(Length::ZERO, Length::max);
    if let Some(&i) = order.first()
        && !pieces[i].length.fits(longest)
    {
        return Err(Error::PieceTooLong {
            piece: pieces[i].length.show(Unit::Mm),
            board: longest.show(Unit::Mm),
        });
    }
    let found = cutting::solve(&problem);
    let none = if found.proved { Error::TooFewBoards } else { Error::NoPlan };
    let cuts = found.cuts.ok_or(none)?;

    let mut plan = CutPlan {
        boards: vec![],
        proved: found.proved,
        gap: 0.0,
        used: 0.0,
        wood: Length::ZERO,
        price: 0.0,
    };
    if !found.proved {
        let cost: u64 = cuts.iter().map(|c| problem.boards[c.0].2).sum();
        plan.gap = 1.0 - found.linear / cost.max(1) as f64;
    }
    for (board, pattern) in cuts {
        let listed: Vec<(usize, u32)> =
            order.iter().zip(&pattern).filter(|(_, n)| **n > 0).map(|(&i, &n)| (i, n)).collect();
        plan.wood += boards[board].length;
        plan.price += boards[board].price;
        let number: u32 = pattern.iter().sum();
        let taken: Length = listed.iter().map(|&(i, n)| pieces[i].length * f64::from(n)).sum();
        let rest = inner(&boards[board]) - taken - settings.kerf * f64::from(number);
        let cut = BoardCut {
            board: boards[board].length,
            times: 1,
            pieces: listed,
            rest: rest.max(Length::ZERO),
        };
        match plan.boards.iter_mut().find(|b| b.board == cut.board && b.pieces == cut.pieces) {
            Some(same) => same.times += 1,
            None => plan.boards.push(cut),
        }
    }
    plan.boards.sort_by(|a, b| {
        b.board.to_mm().total_cmp(&a.board.to_mm()).then_with(|| a.pieces.cmp(&b.pieces))
    });
    let made: Length = pieces.iter().map(|p| p.length * f64::from(p.count)).sum();
    plan.used = if plan.wood > Length::ZERO { made / plan.wood } else { 0.0 };
    Ok(plan)
}

fn hundredths_up(length: Length) -> u64 {
    (length.to_mm() * 100.0 - 1e-6).ceil().max(0.0) as u64
}

fn check(pieces: &[Piece], boards: &[Board]) -> Result<(), Error> {
    if boards.is_empty() {
        return Err(Error::Missing("board"));
    }
    if pieces.iter().all(|p| p.count == 0) {
        return Err(Error::Missing("piece"));
    }
    let most = 2000;
    let count = pieces.iter().map(|p| u64::from(p.count)).sum::<u64>();
    for (n, what, most) in [
        (count, "pieces", most),
        (pieces.len() as u64, "lengths of pieces", 40),
        (boards.len() as u64, "lengths of boards", 20),
    ] {
        if n > most {
            return Err(Error::TooMany { count: format!("{n} {what}"), most });
        }
    }
    for p in pieces {
        check_length("piece", p.length, Length::mm(1.0)..=Length::mm(50_000.0))?;
    }
    for b in boards {
        check_length("board", b.length, Length::mm(1.0)..=Length::mm(50_000.0))?;
        crate::settings::check_number("price of a board", b.price, 0.0..=1e6, "")?;
    }
    Ok(())
}

/// The lumber section of the plan.
pub(crate) fn section(
    pieces: &[Piece],
    plan: &CutPlan,
    settings: &LumberSettings,
    unit: Unit,
) -> Section {
    let mut s = Section::new("lumber", "Lumber");
    let kerf = settings.kerf.show(unit);
    for b in &plan.boards {
        let list: Vec<String> = b
            .pieces
            .iter()
            .map(|&(i, n)| {
                format!("{n} \u{d7} {} {}", show_length(pieces[i].length, unit), pieces[i].name)
            })
            .collect();
        let how = format!(
            "each piece takes its length and {kerf} of kerf; {} is left of each board",
            show_length(b.rest, unit)
        );
        let name = format!("{} \u{d7} board {}", b.times, show_length(b.board, unit));
        s.add(name, Quantity::Words(list.join(", ")), how, Source::Arithmetic);
    }
    let boards: u32 = plan.boards.iter().map(|b| b.times).sum();
    let how = if plan.proved {
        "branch and bound over all full boards: no plan needs less".to_owned()
    } else {
        format!("the best plan found; at most {} % above the best", number(plan.gap * 100.0))
    };
    let source = Source::Recalled("Gilmore & Gomory 1961, doi:10.1287/opre.9.6.849");
    s.add("boards", Quantity::Count(u64::from(boards)), how, source);
    s.add("wood", Quantity::Length(plan.wood), "sum of the boards", Source::Arithmetic);
    let how = "length of all pieces / length of all boards";
    s.add("wood used", Quantity::Share(plan.used), how, Source::Arithmetic);
    if plan.price > 0.0 {
        s.add("price of boards", Quantity::Money(plan.price), "sum of the boards", Source::Shop);
    }
    s
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(mm: f64, count: u32) -> Piece {
        Piece { name: String::new(), length: Length::mm(mm), count }
    }
    fn board(mm: f64, at_hand: Option<u32>, price: f64) -> Board {
        Board { length: Length::mm(mm), at_hand, price }
    }
    fn exact(kerf_mm: f64) -> LumberSettings {
        LumberSettings { kerf: Length::mm(kerf_mm), trim: Length::ZERO }
    }

    #[test]
    fn dressed_sizes_of_ps_20() {
        // PS 20, dry: 3/4, 1 1/2, 2 1/2, 3 1/2, 5 1/2, 7 1/4, 9 1/4 and 11 1/4 in.
        let dry = [0.75, 1.5, 2.5, 3.5, 5.5, 7.25, 9.25, 11.25];
        for ((size, dressed), inches) in DRESSED.into_iter().zip(dry) {
            assert_eq!(dressed, Length::inches(inches));
            assert_eq!(nominal(dressed), Some(size));
        }
        assert_eq!(nominal(Length::inches(2.0)), None);
    }

    #[test]
    fn kerf_decides() {
        // 610 mm from 2440: four without kerf, three with 3 mm.
        for (kerf, boards) in [(0.0, 1), (3.0, 2)] {
            let plan = cut(&[piece(610.0, 4)], &[board(2440.0, None, 0.0)], &exact(kerf)).unwrap();
            assert_eq!(plan.boards.iter().map(|b| b.times).sum::<u32>(), boards);
            assert!(plan.proved);
        }
        // 4 of 976 and 4 of 700 from 2440 with 3 mm: three boards.
        let pieces = [piece(976.0, 4), piece(700.0, 4)];
        let plan = cut(&pieces, &[board(2440.0, None, 0.0)], &exact(3.0)).unwrap();
        assert_eq!(plan.boards.iter().map(|b| b.times).sum::<u32>(), 3);
        assert!(plan.proved);
    }

    #[test]
    fn boards_at_hand_come_before_bought_ones() {
        let boards = [board(2440.0, Some(2), 0.0), board(2440.0, None, 9.5)];
        let plan = cut(&[piece(1200.0, 6)], &boards, &exact(3.0)).unwrap();
        assert_eq!(plan.price, 9.5);
    }

    #[test]
    fn nonsense_gets_a_sentence() {
        let ok = board(2440.0, None, 0.0);
        let cases: [(&[Piece], &[Board]); 6] = [
            (&[piece(3000.0, 1)], &[ok]),
            (&[piece(f64::NAN, 1)], &[ok]),
            (&[piece(-5.0, 1)], &[ok]),
            (&[piece(500.0, 0)], &[ok]),
            (&[piece(500.0, 1)], &[]),
            (&[piece(2000.0, 3)], &[board(2440.0, Some(2), 0.0)]),
        ];
        for (pieces, boards) in cases {
            let error = cut(pieces, boards, &exact(3.0)).unwrap_err();
            assert!(!error.hint().is_empty(), "{error}");
        }
        assert!(cut(&[piece(500.0, u32::MAX)], &[ok], &exact(3.0)).is_err());
    }
}
