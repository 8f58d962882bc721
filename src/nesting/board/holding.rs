//! Every set of pieces that a board may hold and that is worth enough: not the best layout alone.
//!
//! Sets are found by label setting over the same images of layouts that bound the best one (`section`, `chain`), so none
//! that a lawful layout holds is missed; some may be held by no lawful layout, where positions were rounded towards the wood.
//! A label is dropped when even the best that can follow it leaves the whole worth less than what is asked for. What may follow is
//! taken from the chain at prices from which surplus pieces lost a share (as in `within`), whose loss is given back.
//!
//! [`Fields`] counts the pieces of many items in one number; `section/holding` finds what a section may hold,
//! `chain/holding` puts sections and offcuts in a row.

use super::chain::{Search, UNIT};
use super::section::{PricedModel, Scratch};
use super::usage::Usage;
use super::within::{Memory, given_back};
use super::{Ask, BoardEngine, cuts_for_nothing, in_money};
use crate::nesting::problem::{Cutting, Stop};

/// Rounds in which prices are lowered before sets are looked for.
const ROUNDS: u32 = 4;
/// No price is lowered to less than one part in so many: what has a price has to be found.
const LOWEST: i64 = 32;
/// So many labels are about as much work as a section start.
pub const LABELS_A_START: u64 = 200;
/// Sets kept at the most.
const MOST_SETS: usize = 30_000;

/// Counts of pieces side by side in one number, each item in a field of as many bits as the others.
///
/// The highest bit of a field is clear in a set of pieces: sums and differences of two sets do not run over.
#[derive(Clone, Debug)]
pub struct Fields {
    /// Item of each field.
    items: Vec<usize>,
    /// By item: its field.
    field: Vec<Option<usize>>,
    bits: usize,
    /// The highest bit of each field.
    guard: u128,
}

impl Fields {
    /// Fields for `items`, of each of which there may be so many pieces; `None` when they are too many for one number.
    pub fn new(items: &[(usize, u32)], of: usize) -> Option<Fields> {
        let most = items.iter().map(|&(_, most)| most).max().unwrap_or(0);
        let bits = (u32::BITS - most.leading_zeros() + 1) as usize;
        if items.len() * bits > u128::BITS as usize {
            return None;
        }
        let mut field = vec![None; of];
        items.iter().enumerate().for_each(|(at, &(item, _))| field[item] = Some(at));
        let guard = (0..items.len()).map(|at| 1 << (at * bits + bits - 1)).sum();
        Some(Fields { items: items.iter().map(|&(item, _)| item).collect(), field, bits, guard })
    }

    /// A set of (item, pieces); items without a field are left out.
    pub fn set(&self, pieces: impl IntoIterator<Item = (usize, u32)>) -> u128 {
        let place = |(item, n): (usize, u32)| self.field[item].map_or(0, |at| u128::from(n) << (at * self.bits));
        pieces.into_iter().map(place).sum()
    }

    /// The (item, pieces) of a set.
    pub fn pieces(&self, set: u128) -> impl Iterator<Item = (usize, u32)> + '_ {
        let mask = (1u128 << self.bits) - 1;
        let of = move |(at, &item): (usize, &usize)| (item, ((set >> (at * self.bits)) & mask) as u32);
        self.items.iter().enumerate().map(of).filter(|piece| piece.1 > 0)
    }

    /// What a set is worth at some prices by item.
    pub fn worth(&self, set: u128, prices: &[i64]) -> i64 {
        self.pieces(set).map(|(item, n)| prices[item] * i64::from(n)).sum()
    }

    /// The items that have a field.
    pub fn items(&self) -> impl Iterator<Item = usize> + '_ {
        self.items.iter().copied()
    }

    /// An item has a field.
    pub fn has(&self, item: usize) -> bool {
        self.field[item].is_some()
    }

    /// Pieces of an item in a set; none when it has no field.
    pub fn count(&self, set: u128, item: usize) -> u32 {
        self.pieces(set).find(|piece| piece.0 == item).map_or(0, |piece| piece.1)
    }

    /// No field of `set`, which may be the sum of two that lie within, holds more than that of `whole`.
    pub fn within(&self, set: u128, whole: u128) -> bool {
        ((whole | self.guard) - set) & self.guard == self.guard
    }

    /// Field by field, the more of two.
    pub fn most(&self, one: u128, other: u128) -> u128 {
        other + self.without(one, other)
    }

    /// The sum of two sets, but no more in a field than `whole` holds, in which `one` lies.
    pub fn sum_within(&self, one: u128, other: u128, whole: u128) -> u128 {
        let left = whole - one;
        whole - self.without(left, other)
    }

    /// What `whole` holds more than `set`, field by field.
    pub fn without(&self, whole: u128, set: u128) -> u128 {
        let less = (whole | self.guard) - set;
        let more = less & self.guard;
        less & (more - (more >> (self.bits - 1)))
    }
}

/// A set of pieces that a board may hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Holding {
    /// As [`Fields`] has it.
    pub set: u128,
    /// Credit of the offcuts beside it at most, micro-units.
    pub credit: i64,
}

/// What sets of pieces are asked for.
#[derive(Clone, Copy)]
pub struct Listing<'a> {
    pub fields: &'a Fields,
    /// By item: a price no higher, at which labels are bounded.
    pub lowered: &'a [i64],
    /// The least worth, with the credit, at the prices; micro-units.
    pub least: i64,
    /// No layout within the limits is worth more.
    pub upper: i64,
    /// Labels at most.
    pub most: u64,
}

impl BoardEngine {
    /// The sets of pieces within the limits of `ask` that a lawful layout of that worth or more may hold, and its credit at most;
    /// of items without a field nothing is said. Items with a field need a price, others must have none. With them the work.
    /// `None` when there are too many, or told to stop.
    pub fn holdings(&self, ask: Ask, listing: Listing, scratch: &mut Scratch) -> Option<(Vec<Holding>, u64)> {
        let may = self.within(ask.limits);
        let given_back = given_back(ask.prices, listing.lowered, ask.limits);
        let given_back = i64::try_from(given_back).unwrap_or(i64::MAX);
        let (scaled, scale) = self.scaled(&self.worth(listing.lowered, &may));
        let sided = self.bound.as_ref().unwrap_or(&self.plan);
        let (board, model, usage) = (&sided.board, &sided.model, Usage::none());
        let priced = PricedModel::complete(board, model, &scaled, &usage);
        let clear = PricedModel::new(board, &sided.clear, &scaled, &usage);
        let credit = self.credit_cells(sided, scale);
        // Rounded down: what is worth just so much is not to be missed.
        let least = i128::from(listing.least.saturating_sub(given_back)) * i128::from(UNIT);
        let least = i64::try_from(least.div_euclid(i128::from(scale))).unwrap_or(i64::MAX).saturating_sub(1);
        // What may not be cut might not fit its field.
        let yields = |(c, &may): (&Cutting, &bool)| if may { listing.fields.set(c.yields.iter().copied()) } else { 0 };
        let pieces: Vec<u128> = self.board.cuttings.iter().zip(&may).map(yields).collect();
        let limits = listing.fields.set(ask.limits.iter().copied().enumerate());
        let sought =
            Sought { fields: listing.fields, pieces: &pieces, limits, least, most: listing.most, stop: ask.stop };
        let mut labels = 0;
        let found = match Search::new(board, &priced, &clear, credit.as_ref(), scratch) {
            Some(search) => search.holdings(&sought, &mut labels, scratch)?,
            None => Vec::new(),
        };
        let in_money = |(set, credit)| Holding { set, credit: in_money(credit, scale) };
        let mut found: Vec<Holding> = found.into_iter().map(in_money).collect();
        // A board may be cut for pieces without a price alone.
        if cuts_for_nothing(&self.worth(ask.prices, &may), &may) {
            found.push(Holding { set: 0, credit: self.whole_credit() });
        }
        Some((between(found, listing, ask.prices)?, labels / LABELS_A_START))
    }

    /// Prices at which labels may be bounded: the less a layout without limits is worth then, with what is given back, the fewer there
    /// are. With them the work.
    pub fn listing_prices(&self, ask: Ask, memory: &Memory, scratch: &mut Scratch) -> (Vec<i64>, u64) {
        let (lowered, work) = self.lowered(ask, ROUNDS, memory, scratch);
        let lowered = lowered.iter().zip(ask.prices).map(|(&lowered, &price)| lowered.max(price / LOWEST));
        (lowered.collect(), u64::from(work))
    }
}

/// What a search for sets is told.
pub(super) struct Sought<'a> {
    pub fields: &'a Fields,
    /// By cutting: what it yields.
    pub pieces: &'a [u128],
    pub limits: u128,
    /// The least worth at the lowered prices, in units of the chain.
    pub least: i64,
    /// Labels at most.
    pub most: u64,
    pub stop: Stop<'a>,
}

/// Those worth between `least` and `most` at the full prices, for no more credit than leaves them so; `None` when they are too many.
fn between(found: Vec<Holding>, listing: Listing, prices: &[i64]) -> Option<Vec<Holding>> {
    let capped = |h: Holding| {
        let worth = listing.fields.worth(h.set, prices);
        let credit = h.credit.min(listing.upper - worth);
        (credit >= 0 && worth + credit >= listing.least).then_some(Holding { credit, ..h })
    };
    let kept: Vec<Holding> = found.into_iter().filter_map(capped).collect();
    (kept.len() <= MOST_SETS).then_some(kept)
}
