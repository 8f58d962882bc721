//! What a plan is built from, and short questions about it.
//!
//! Gathers the job, the pile, the milled problem and the optimiser's outcome in one place, and decides which piece of the
//! pile each layout is cut from. Nothing here looks at geometry.

use std::collections::{BTreeMap, BTreeSet};

use super::build::{BuildError, Facts};
use super::{Length, Money, StockKind};
use crate::job::shop::RipFirst;
use crate::job::{Job, Wanted};
use crate::milling::{Milled, MilledCutting, StaveCount, StockRef};
use crate::nesting::{BoardLayout, BoardStock, Kind, Layout, Outcome, SectionAt, Shape};
use crate::pile::{Board, Pile};

/// The question and its answer, as the optimiser saw them.
#[derive(Clone, Copy)]
pub struct Case<'a> {
    pub job: &'a Job,
    pub pile: &'a Pile,
    pub milled: &'a Milled,
    pub outcome: &'a Outcome,
}

/// A piece of stock as it lies in the pile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Piece<'a> {
    pub id: &'a str,
    pub kind: StockKind,
    /// Species or material.
    pub wood: &'a str,
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
}

/// One piece of stock that is cut.
#[derive(Clone)]
pub(super) struct Use<'a> {
    pub source: StockRef,
    /// Index of the stock class.
    pub class: usize,
    /// Which of the equal pieces of its line in the pile, from 1.
    pub copy: u32,
    pub cost: Money,
    pub layout: &'a Layout,
}

/// One kind of piece in a copy of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct PieceKind {
    pub item: usize,
    /// Pieces of it in one copy.
    pub per_copy: usize,
}

impl<'a> Case<'a> {
    /// The piece of the pile behind `source`.
    pub(super) fn piece(&self, source: StockRef) -> Piece<'a> {
        match source {
            StockRef::Board(i) => {
                let b = &self.pile.boards[i];
                Piece {
                    id: &b.id,
                    kind: StockKind::Board,
                    wood: &b.species,
                    length: b.length,
                    width: b.width,
                    thickness: b.thickness,
                }
            }
            StockRef::Sheet(i) => {
                let s = &self.pile.sheets[i];
                Piece {
                    id: &s.id,
                    kind: StockKind::Sheet,
                    wood: &s.material,
                    length: s.length,
                    width: s.width,
                    thickness: s.thickness,
                }
            }
            StockRef::Stick(i) => {
                let s = &self.pile.sticks[i];
                Piece {
                    id: &s.id,
                    kind: StockKind::Stick,
                    wood: &s.material,
                    length: s.length,
                    width: s.width,
                    thickness: s.thickness,
                }
            }
        }
    }

    /// The board behind `source`, if it is one.
    pub(super) fn board(&self, source: StockRef) -> Option<&'a Board> {
        match source {
            StockRef::Board(i) => Some(&self.pile.boards[i]),
            StockRef::Sheet(_) | StockRef::Stick(_) => None,
        }
    }

    /// A board's layout beside the optimiser's view of the board; `None` for sheets and sticks.
    pub(super) fn board_layout(&self, used: &Use<'a>) -> Option<(&'a BoardStock, &'a BoardLayout)> {
        match (&self.milled.problem.stock[used.class].kind, &used.layout.shape) {
            (Kind::Board(board), Shape::Board(layout)) => Some((board, layout)),
            _ => None,
        }
    }

    /// What cutting `cutting` of class `class` is in the shop.
    pub(super) fn cutting(&self, class: usize, cutting: usize) -> &'a MilledCutting {
        &self.milled.stock[class].cuttings[cutting]
    }

    /// The id of the part that item `item` makes.
    pub(super) fn part_id(&self, item: usize) -> &'a str {
        &self.job.parts[self.milled.items[item].part].id
    }

    /// Species or material a part is made from.
    pub(super) fn wood_of(&self, part: usize) -> &'a str {
        match &self.job.parts[part].stock {
            Wanted::Species(wood) | Wanted::Material(wood) => wood,
        }
    }

    /// True when some blank of the section is planed, so that the whole section is.
    pub(super) fn is_planed(&self, used: &Use, section: &SectionAt) -> bool {
        let mut blanks = section.strips.iter().flat_map(|strip| &strip.blanks);
        blanks.any(|blank| self.cutting(used.class, blank.cutting).planed)
    }

    /// True when each strip of the section is flattened by itself: it is planed, and wider than is flattened in one go.
    pub(super) fn rips_before_flattening(&self, used: &Use, section: &SectionAt) -> bool {
        let machine = &self.job.shop.machine;
        let wide = self.piece(used.source).width > machine.jointer_width || machine.rip_first == RipFirst::Always;
        wide && self.is_planed(used, section)
    }

    /// Kerfs of a stock class: of its crosscuts, of its rips.
    pub(super) fn kerfs(&self, class: usize) -> [Length; 2] {
        let (cross, rip) = match &self.milled.problem.stock[class].kind {
            Kind::Board(board) => (board.kerf_cross, board.kerf_rip),
            Kind::Sheet(sheet) => (sheet.kerf.cross, sheet.kerf.rip),
            Kind::Stick(stick) => (stick.kerf, stick.kerf),
        };
        [Length::from_ticks(cross), Length::from_ticks(rip)]
    }

    /// The kinds of pieces in a copy of a part, by product (one of all copies, or one each copy of a panel), in the order of
    /// their items: outer layers before inner ones.
    pub(super) fn kinds_of(&self, part: usize) -> Vec<Vec<PieceKind>> {
        let mut by_product: BTreeMap<(usize, usize), Vec<PieceKind>> = BTreeMap::new();
        let items = self.milled.items.iter().zip(&self.milled.problem.items).enumerate();
        for (item, (milled, asked)) in items.filter(|(_, (milled, _))| milled.part == part) {
            let per_copy = (asked.per_copy / milled.copies.max(1)).max(1) as usize;
            // Panels of one matched group are one product; each is an item, and a copy, of its own.
            let panel = if matches!(milled.staves, Some(StaveCount::Width(_))) { item + 1 } else { 0 };
            by_product.entry((asked.product, panel)).or_default().push(PieceKind { item, per_copy });
        }
        by_product.into_values().collect()
    }

    /// Finished copies made, by part: a copy is made when all its pieces are.
    pub(super) fn copies_made(&self) -> Vec<u32> {
        self.milled.copies_made(&self.outcome.made, self.job.parts.len())
    }

    /// What one piece counts for its item: a stave of free width the units of its net width, any other piece one.
    pub(super) fn counts_as(&self, item: usize, net_width: Option<Length>) -> u32 {
        match (self.milled.items[item].staves, net_width) {
            (Some(StaveCount::Width(unit)), Some(width)) => u32::try_from(width.ticks() / unit.ticks()).unwrap_or(0),
            _ => 1,
        }
    }

    /// The pieces of stock cut, in the order of the pile, each with the copy of its line that it is.
    ///
    /// Equal pieces that cost differently (an exact half of a surface measure goes up, then down) are told apart by what
    /// the optimiser was told they cost: each layout takes the lowest free copy of that price.
    pub(super) fn uses(&self, facts: &Facts) -> Result<Vec<Use<'a>>, BuildError> {
        let mut taken: BTreeSet<(u8, usize, u32)> = BTreeSet::new();
        let mut uses = Vec::with_capacity(self.outcome.layouts.len());
        for layout in &self.outcome.layouts {
            let class = layout.stock;
            let source = self.milled.stock[class].source;
            let (kind, index) = rank(source);
            let price = self.milled.problem.stock[class].cost;
            let free = (1..=self.quantity(source)).find_map(|copy| {
                if taken.contains(&(kind, index, copy)) || facts.copy.is_some_and(|only| only != copy) {
                    return None;
                }
                let cost = (facts.cost)(source, copy);
                (cost.micros_floor() == price).then_some((copy, cost))
            });
            let Some((copy, cost)) = free else {
                return Err(BuildError::NoSuchPiece { stock: self.piece(source).id.to_owned() });
            };
            taken.insert((kind, index, copy));
            uses.push(Use { source, class, copy, cost, layout });
        }
        uses.sort_by_key(|u| (rank(u.source), u.copy));
        Ok(uses)
    }

    fn quantity(&self, source: StockRef) -> u32 {
        match source {
            StockRef::Board(i) => self.pile.boards[i].quantity,
            StockRef::Sheet(i) => self.pile.sheets[i].quantity,
            StockRef::Stick(i) => self.pile.sticks[i].quantity,
        }
    }
}

/// The order of the pile: boards, sheets, sticks, each as in the file.
pub(super) const fn rank(source: StockRef) -> (u8, usize) {
    match source {
        StockRef::Board(i) => (0, i),
        StockRef::Sheet(i) => (1, i),
        StockRef::Stick(i) => (2, i),
    }
}
