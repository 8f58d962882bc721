//! Matched parts: which pieces are bound together, and the blocks that those are cut in which must lie next to each other.
//!
//! Pieces that must come from one board are a rule of layouts ([`crate::nesting::Stock::together`]). Pieces in a run, or side
//! by side, are cut as one *block*: a row of blanks a kerf apart, laid like one blank, each kept clear of the defects that
//! stand in its own way, and of a run one gap may be longer for a defect that lies in it. Neighbours may be
//! shifted along their strips a little. The model would allow for more of both; bounds count on that by taking every piece
//! for itself. Which part a piece is of is `mill`'s business, where a block lies on a board `board`'s; sheets and sticks have
//! `rows`.

use std::collections::BTreeMap;

use crate::job::MatchRule;
use crate::measure::Length;
use crate::milling::blank::{Piece, Staves};

/// Widths of staves that are tried for the panels of one block.
const MOST_VARIANTS: usize = 6;

/// Pieces kept together.
#[derive(Clone, Debug)]
pub struct Bundle {
    pub rule: MatchRule,
    /// How often it is wanted, each by itself.
    pub copies: u32,
    /// What one is made of, in the order of the job.
    pub rows: Vec<Row>,
}

/// The pieces that one part, or one copy of it, gives to a bundle.
#[derive(Clone, Debug)]
pub struct Row {
    pub copies: u32,
    pub made_of: MadeOf,
}

/// What a copy is made of.
#[derive(Clone, Debug)]
pub enum MadeOf {
    /// Kinds of pieces with their items; of layers, the outer ones first.
    Pieces(Vec<(usize, Piece)>),
    /// One panel of staves of free width: its item.
    Staves(usize, Staves),
}

/// Matched pieces that are cut as one.
#[derive(Clone, Debug)]
pub struct Block {
    pub rule: MatchRule,
    /// In the order they lie in.
    pub members: Vec<Member>,
}

/// One piece of a block: its item, how often it counts for it, and what it is.
#[derive(Clone, Debug)]
pub struct Member {
    pub item: usize,
    pub count: u32,
    pub piece: Piece,
}

impl MadeOf {
    /// Pieces of one copy; of staves of free width the fewest that will do.
    fn pieces(&self) -> u32 {
        match self {
            MadeOf::Pieces(kinds) => kinds.iter().map(|(_, piece)| piece.per_copy).sum(),
            MadeOf::Staves(_, staves) => {
                staves.widths.last().map_or(0, |(_, units)| staves.needed.div_ceil((*units).max(1)))
            }
        }
    }
}

impl Bundle {
    /// Pieces bound together; of staves of free width the fewest that will do.
    pub fn pieces(&self) -> u32 {
        self.rows.iter().map(|row| row.copies * row.made_of.pieces()).sum()
    }

    /// Every item of one bundle, with the pieces (units of width) of it.
    pub fn items(&self) -> Vec<(usize, u32)> {
        let mut all: BTreeMap<usize, u32> = BTreeMap::new();
        for row in &self.rows {
            match &row.made_of {
                MadeOf::Pieces(kinds) => {
                    kinds
                        .iter()
                        .for_each(|(item, piece)| *all.entry(*item).or_default() += piece.per_copy * row.copies);
                }
                MadeOf::Staves(item, staves) => *all.entry(*item).or_default() += staves.needed,
            }
        }
        all.into_iter().collect()
    }

    /// The blocks that the whole bundle may be cut as, one for each number of staves that its panels are glued from; none
    /// for pieces that only come from one board.
    pub fn blocks(&self) -> Vec<Block> {
        if self.rule == MatchRule::Board {
            return Vec::new();
        }
        let with_panels = self.rows.iter().any(|row| matches!(row.made_of, MadeOf::Staves(..)));
        let variants = 0..if with_panels { MOST_VARIANTS as u32 } else { 1 };
        variants.filter_map(|more| self.block(more)).collect()
    }

    /// The block whose panels are glued from `more` staves more than the fewest.
    fn block(&self, more: u32) -> Option<Block> {
        let mut members = Vec::new();
        for row in &self.rows {
            match &row.made_of {
                MadeOf::Pieces(kinds) => {
                    for _ in 0..row.copies {
                        let of = |at: usize| Member { item: kinds[at].0, count: 1, piece: kinds[at].1.clone() };
                        members.extend(stacked(kinds).into_iter().map(of));
                    }
                }
                MadeOf::Staves(item, staves) => {
                    let of = |(piece, count)| Member { item: *item, count, piece };
                    members.extend(staves_of(staves, more)?.into_iter().map(of));
                }
            }
        }
        Some(Block { rule: self.rule, members })
    }
}

/// Which kind each piece of one copy is of, in the order they are glued up: one outer layer, the inner ones, the other outer.
fn stacked(kinds: &[(usize, Piece)]) -> Vec<usize> {
    let of = |at: usize, n: u32| std::iter::repeat_n(at, n as usize);
    match kinds {
        [] => Vec::new(),
        [(_, only)] => of(0, only.per_copy).collect(),
        [(_, outer), inner @ ..] => {
            let between = inner.iter().enumerate().flat_map(|(at, (_, piece))| of(at + 1, piece.per_copy));
            of(0, outer.per_copy.min(1)).chain(between).chain(of(0, outer.per_copy.saturating_sub(1))).collect()
        }
    }
}

/// Staves of about one width, `more` than the fewest, that are together just wide enough; `None` when none are.
fn staves_of(staves: &Staves, more: u32) -> Option<Vec<(Piece, u32)>> {
    let widest = staves.widths.last()?.1;
    let count = staves.needed.div_ceil(widest) + more;
    let at = staves.widths.iter().position(|(_, units)| units * count >= staves.needed)?;
    let mut chosen = vec![at; count as usize];
    let mut sum = staves.widths[at].1 * count;
    if at == 0 && sum > staves.needed + staves.excess {
        return None;
    }
    for stave in &mut chosen {
        let saved = at.checked_sub(1).map_or(0, |narrower| staves.widths[at].1 - staves.widths[narrower].1);
        if saved > 0 && sum - saved >= staves.needed {
            *stave = at - 1;
            sum -= saved;
        }
    }
    Some(chosen.into_iter().map(|at| staves.widths[at].clone()).collect())
}

impl Block {
    /// Where each member lies from the block's corner, along and across.
    pub fn offsets(&self, kerf_cross: Length, kerf_rip: Length) -> Vec<(Length, Length)> {
        let mut at = Length::ZERO;
        let mut next = |piece: &Piece| {
            let here = at;
            match self.rule {
                MatchRule::Side => {
                    at += piece.width + kerf_rip;
                    (Length::ZERO, here)
                }
                MatchRule::Run | MatchRule::Board => {
                    at += piece.length + kerf_cross;
                    (here, Length::ZERO)
                }
            }
        };
        self.members.iter().map(|member| next(&member.piece)).collect()
    }

    /// Length and width of the whole block.
    pub fn size(&self, kerf_cross: Length, kerf_rip: Length) -> (Length, Length) {
        let ends = self.offsets(kerf_cross, kerf_rip).into_iter().zip(&self.members);
        ends.fold((Length::ZERO, Length::ZERO), |(length, width), ((x, y), member)| {
            (length.max(x + member.piece.length), width.max(y + member.piece.width))
        })
    }
}
