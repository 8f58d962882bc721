//! Why matched parts cannot be kept together, and the piece of stock that comes nearest to it.
//!
//! Every piece of stock is asked by itself how many of the matched pieces it could give as the match wants them. Which
//! part alone is too wide or too thick for the pile is `explain`'s to say, before.

use crate::job::{Job, Match, MatchRule, MatchScope, Wanted};
use crate::measure::Length;
use crate::milling::matches::{Block, Bundle};
use crate::milling::{Milled, StaveCount, StockRef, board, board_suits, mill};
use crate::nesting::{self, Kind, Stock};
use crate::pile::Pile;

/// What a match asks of one piece of stock, and how near the best one comes.
pub struct Nearest {
    /// Pieces bound together (staves of free width counted as the fewest that will do).
    pub pieces: u32,
    /// The block they make, along and across, for a run or neighbours.
    pub block: Option<(Length, Length)>,
    /// The piece of stock that holds most of them, and how many; none when no stock holds any.
    pub best: Option<(String, u32)>,
}

/// The nearest to keeping the match of part `p`; `members` as given to [`mill`] for it. `None` when it binds nothing.
pub fn nearest(job: &Job, pile: &Pile, p: usize, matching: &Match, members: u32) -> Option<Nearest> {
    let bound = |q: usize| match matching.scope {
        MatchScope::Copy => q == p,
        MatchScope::Group => job.parts[q].matching.as_ref().is_some_and(|other| other.group == matching.group),
    };
    let parts: Vec<_> = (0..job.parts.len()).filter(|&q| bound(q)).map(|q| job.parts[q].clone()).collect();
    let mut few = Job { parts, ..job.clone() };
    if matching.scope == MatchScope::Copy {
        few.parts.iter_mut().for_each(|part| part.qty = 1);
    }
    let members = vec![members; few.parts.len()];
    let bundle = super::bundles(&few, pile, &members).into_iter().next()?;
    match bundle.rule {
        MatchRule::Board => on_one_piece(&few, pile, &members, &bundle),
        MatchRule::Run | MatchRule::Side => as_block(&few, pile, &members, &bundle),
    }
}

/// How many pieces each piece of stock could give, lying anywhere.
fn on_one_piece(few: &Job, pile: &Pile, members: &[u32], bundle: &Bundle) -> Option<Nearest> {
    let mut free = few.clone();
    free.parts.iter_mut().for_each(|part| part.matching = None);
    // Without the match, items are told apart by part; of panels, by copy.
    let milled = mill(&free, pile, members);
    let limits: Vec<u32> = milled.problem.items.iter().map(|item| item.demand).collect();
    let pieces = bundle.pieces();
    let best = (0..milled.stock.len()).map(|s| (held(&milled, s, &limits), std::cmp::Reverse(s))).max()?;
    let (held, std::cmp::Reverse(s)) = best;
    let id = || id_of(pile, milled.stock[s].source);
    Some(Nearest { pieces, block: None, best: (held > 0).then(|| (id(), held.min(pieces))) })
}

fn id_of(pile: &Pile, source: StockRef) -> String {
    match source {
        StockRef::Board(b) => pile.boards[b].id.clone(),
        StockRef::Sheet(s) => pile.sheets[s].id.clone(),
        StockRef::Stick(s) => pile.sticks[s].id.clone(),
    }
}

/// Pieces that one piece of stock gives; staves by their width, as parts of the fewest that will do.
fn held(milled: &Milled, stock: usize, limits: &[u32]) -> u32 {
    let counts = nesting::most_of(&milled.problem.stock[stock], limits);
    let of_item = |(item, &count): (usize, &u32)| match milled.items[item].staves {
        Some(StaveCount::Width(_)) => {
            let widest = milled.problem.stock[stock].kind.most_at_once(item).max(1);
            count.min(limits[item]) / widest
        }
        _ => count,
    };
    counts.iter().enumerate().map(of_item).sum()
}

/// How much of the block each piece of stock could give, from its first piece on.
fn as_block(few: &Job, pile: &Pile, members: &[u32], bundle: &Bundle) -> Option<Nearest> {
    let shop = &few.shop;
    let blocks = bundle.blocks();
    let whole = blocks.first()?;
    let block = Some(whole.size(shop.kerf.crosscut, shop.kerf.rip));
    let pieces = whole.members.len() as u32;
    if few.parts.iter().any(|part| matches!(part.stock, Wanted::Material(_))) {
        let milled = mill(few, pile, members);
        let best = milled.most_of_row().map(|(s, count)| (id_of(pile, milled.stock[s].source), count));
        return Some(Nearest { pieces, block, best });
    }
    let able: Vec<_> =
        pile.boards.iter().filter(|board| few.parts.iter().all(|part| board_suits(board, part))).collect();
    let gives = |board: &crate::pile::Board, block: &Block| {
        let (geometry, _) = board::board_stock(board, &[], std::slice::from_ref(block), shop);
        if geometry.cuttings.is_empty() {
            return false;
        }
        let items = block.members.iter().map(|member| member.item).max().unwrap_or(0) + 1;
        let stock =
            Stock { count: 1, cost: 0, credit: None, kind: Kind::Board(geometry), together: vec![], wider: None };
        nesting::most_of(&stock, &vec![u32::MAX; items]).iter().any(|&count| count > 0)
    };
    let best = (1..=whole.members.len()).rev().find_map(|count| {
        let mut parts = blocks
            .iter()
            .filter(|block| block.members.len() >= count)
            .map(|block| Block { rule: block.rule, members: block.members[..count].to_vec() });
        parts.find_map(|part| {
            able.iter().find(|board| gives(board, &part)).map(|board| (board.id.clone(), count as u32))
        })
    });
    Some(Nearest { pieces, block, best: best.map(|(id, count)| (id, count.min(pieces))) })
}
