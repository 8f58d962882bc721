//! Which parts drive an order, and which boards to ask the yard for by name.
//!
//! A part drives when it was still missing from the largest lot that was not enough: it is what the last boards were bought
//! for. A board is worth asking for when a part that is large for the boards that come
//! drives in a fifth of the lots, or when fewer than half of the boards are large and thick enough for it.

use crate::job::{Part, Wanted};
use crate::measure::Length;
use crate::milling::blank::{self, Piece};
use crate::pile::Board;

use super::lots::{LotFound, Task};

/// A part and how much of the order is due to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Driver {
    pub part: String,
    /// The rough piece: blank of the part, or of its narrowest stave.
    pub length: Length,
    pub width: Length,
    /// Share of lots in which it was missing until the last board came.
    pub last: f64,
    /// Share of the boards that come from which it can be cut.
    pub able: f64,
}

/// Boards to ask for.
#[derive(Clone, Debug, PartialEq)]
pub struct AskFor {
    pub part: String,
    pub boards: u32,
    /// At least.
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
}

/// A part drives from this share of lots on.
const DRIVES: f64 = 0.2;
/// A board is rare when fewer than this share of those that come will do.
const RARE: f64 = 0.5;
/// Boards asked for are named by this step of width.
const WIDTH_STEP: Length = Length::from_inch_fraction(1, 2);
/// And by whole feet.
const FOOT: Length = Length::from_inches(12);

/// Every part with its share, the greatest first.
pub(super) fn drivers(task: &Task<'_>, lots: &[LotFound]) -> Vec<Driver> {
    let mut drivers: Vec<Driver> = (0..task.job.parts.len()).filter_map(|index| driver(task, lots, index)).collect();
    drivers.sort_by(|a, b| b.last.total_cmp(&a.last).then(b.length.cmp(&a.length)).then(a.part.cmp(&b.part)));
    drivers
}

fn driver(task: &Task<'_>, lots: &[LotFound], index: usize) -> Option<Driver> {
    let part = &task.job.parts[index];
    let piece = piece_of(task, part)?;
    let looked: u32 = lots.iter().map(|lot| lot.looked_at).sum();
    let able: u32 = lots.iter().map(|lot| lot.able[index]).sum();
    let last = lots.iter().filter(|lot| lot.missing[index]).count();
    let share = |some: f64, all: f64| if all > 0.0 { some / all } else { 0.0 };
    Some(Driver {
        part: part.id.clone(),
        length: piece.length,
        width: piece.width,
        last: share(last as f64, lots.len() as f64),
        able: share(f64::from(able), f64::from(looked)),
    })
}

/// The piece of a part that is hardest to find: its blank, or its narrowest stave.
fn piece_of(task: &Task<'_>, part: &Part) -> Option<Piece> {
    let shop = &task.job.shop;
    let index = task.job.parts.iter().position(|other| other.id == part.id)?;
    match (&part.stock, &part.panel) {
        (Wanted::Species(_), Some(panel)) => Some(blank::narrowest_stave(part, panel, shop)),
        (Wanted::Species(_), None) => {
            let pieces = blank::lumber_pieces(part, task.choices[0][index], shop);
            pieces.into_iter().max_by_key(|piece| (piece.length, piece.width))
        }
        (Wanted::Material(_), _) => None,
    }
}

/// The boards to ask for, the longest first; none without lots to judge by.
pub(super) fn ask_for(task: &Task<'_>, lots: &[LotFound]) -> Vec<AskFor> {
    if lots.is_empty() {
        return Vec::new();
    }
    let shop = &task.job.shop;
    let (width, length) = (usual(lots, |board| board.width), usual(lots, |board| board.length));
    let ends = (shop.trim.board_end + shop.trim.snipe) * 2;
    let edges = shop.trim.edge + shop.trim.far_edge;
    let mut list: Vec<AskFor> = Vec::new();
    for (index, part) in task.job.parts.iter().enumerate() {
        let (Some(driver), Some(piece)) = (driver(task, lots, index), piece_of(task, part)) else { continue };
        // A piece that is large for the boards that come; small ones come along anyway.
        let large = (piece.length + ends) * 3 >= length * 2 || (piece.width + edges) * 3 >= width * 2;
        if driver.able >= RARE && !(driver.last >= DRIVES && large) {
            continue;
        }
        let room = (width - edges).max(piece.width).ticks();
        let copies = i64::from(part.qty);
        let boards = match &part.panel {
            // Staves of a copy fill the width of boards side by side.
            Some(_) => div_up(blank::panel_needs(part, shop).ticks() * copies, room),
            None => {
                div_up(i64::from(piece.per_copy.max(1)) * copies, room / (piece.width + shop.kerf.rip).ticks().max(1))
            }
        };
        list.push(AskFor {
            part: part.id.clone(),
            boards: u32::try_from(boards).unwrap_or(u32::MAX),
            length: (piece.length + ends).round_up_to(FOOT),
            width: (piece.width + edges).round_up_to(WIDTH_STEP),
            thickness: piece.thickness + shop.allowance.face * 2,
        });
    }
    list.sort_by(|a, b| b.length.cmp(&a.length).then(b.width.cmp(&a.width)).then(a.part.cmp(&b.part)));
    list
}

/// The middle of a side over all boards taken.
fn usual(lots: &[LotFound], side: impl Fn(&Board) -> Length) -> Length {
    let boards = lots.iter().filter_map(|lot| lot.boards.as_ref()).flatten();
    let mut sides: Vec<Length> = boards.map(|drawn| side(&drawn.board)).collect();
    sides.sort_unstable();
    sides.get(sides.len() / 2).copied().unwrap_or_default()
}

/// Rounded up; a board gives one piece at least.
fn div_up(pieces: i64, of_board: i64) -> i64 {
    let of_board = of_board.max(1);
    (pieces + of_board - 1) / of_board
}
