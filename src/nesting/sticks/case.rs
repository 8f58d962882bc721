//! The question as the stick solver sees it: what is wanted, and classes of sticks that hold so much.
//!
//! Pieces carry their kerf and a stick's room the kerf after its last piece, so that a set of pieces fits when their
//! lengths add up to no more than the room (the kerf identity). Sticks that take the same pieces at the same kerf
//! form a family: one knapsack answers for all of them. Nothing here searches.

use super::super::layout::Shape;
use super::super::problem::{Credit, Kind, Problem, StickStock};
use super::super::solution::Placed;
use super::super::stick::{credit_of, earned, lay, shortest};

/// Most cells along a stick: a finer measure is rounded, up for plans and down for bounds.
const MOST_CELLS: i64 = 100_000;

/// What is wanted and what it may be cut from.
pub(super) struct Case<'a> {
    /// Items of the problem, longest first.
    pub items: Vec<usize>,
    /// Pieces wanted, parallel to `items`.
    pub demand: Vec<u32>,
    pub families: Vec<Family>,
    pub classes: Vec<Class<'a>>,
}

/// Sticks that take the same pieces at the same kerf.
pub(super) struct Family {
    /// By item of the case: index into the sticks' pieces, and length with its kerf, ticks; `None` where it cannot be cut.
    pub pieces: Vec<Option<(usize, i64)>>,
    /// Ticks a cell of the knapsack.
    pub step: i64,
    /// Every length is a whole number of cells.
    pub exact: bool,
}

/// Equal sticks.
pub(super) struct Class<'a> {
    /// Index of the problem's stock.
    pub stock: usize,
    pub family: usize,
    pub stick: &'a StickStock,
    /// What pieces with their kerfs may add up to, ticks.
    pub room: i64,
    /// Micro-units.
    pub cost: i64,
    pub count: u32,
    pub credit: Option<&'a Credit>,
}

/// Pieces cut from one stick of a class.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) struct Pattern {
    pub class: usize,
    /// (item of the case, pieces), ascending.
    pub counts: Vec<(usize, u32)>,
    /// Cost less credit, micro-units, rounded up.
    pub net: i64,
}

impl Pattern {
    /// True when it makes no more of anything than `demand`.
    pub fn within(&self, demand: &[u32]) -> bool {
        self.counts.iter().all(|&(k, n)| n <= demand[k])
    }
}

impl<'a> Case<'a> {
    /// The case of making `target` pieces of each item; `None` when some stock is no stick, some piece fits none, or some
    /// must come from one stick.
    pub fn new(problem: &'a Problem, target: &[u32]) -> Option<Case<'a>> {
        let mut sticks = Vec::new();
        for (stock, class) in problem.stock.iter().enumerate() {
            let Kind::Stick(stick) = &class.kind else { return None };
            if !class.together.is_empty() {
                return None;
            }
            let room = stick.length - 2 * stick.trim + stick.kerf;
            if class.count > 0 && room > stick.kerf {
                sticks.push((stock, stick, room));
            }
        }
        let longest = |item: usize| {
            let of = |stick: &StickStock| shortest(stick, item).map(|piece| stick.pieces[piece].1);
            sticks.iter().filter_map(|(_, stick, _)| of(stick)).max().unwrap_or(0)
        };
        let mut items: Vec<usize> = (0..target.len()).filter(|&item| target[item] > 0).collect();
        items.sort_by_key(|&item| (-longest(item), item));
        let demand: Vec<u32> = items.iter().map(|&item| target[item]).collect();
        let most: u32 = demand.iter().fold(0, |sum, &d| sum.saturating_add(d));
        let mut case = Case { items, demand, families: Vec::new(), classes: Vec::new() };
        let mut alike: Vec<&StickStock> = Vec::new();
        for (stock, stick, room) in sticks {
            let same = |other: &&StickStock| other.kerf == stick.kerf && other.pieces == stick.pieces;
            let family = alike.iter().position(same).unwrap_or_else(|| {
                alike.push(stick);
                alike.len() - 1
            });
            let of = &problem.stock[stock];
            let (cost, count, credit) = (of.cost, of.count.min(most), of.credit.as_ref());
            case.classes.push(Class { stock, family, stick, room, cost, count, credit });
        }
        for (family, stick) in alike.into_iter().enumerate() {
            let family = case.family(family, stick);
            case.families.push(family);
        }
        (0..case.items.len()).all(|k| case.classes.iter().any(|class| case.fits(class, k))).then_some(case)
    }

    fn family(&self, family: usize, stick: &StickStock) -> Family {
        let room = self.classes.iter().filter(|c| c.family == family).map(|c| c.room).max().unwrap_or(0);
        let pieces: Vec<Option<(usize, i64)>> = self
            .items
            .iter()
            .map(|&item| shortest(stick, item).map(|piece| (piece, stick.pieces[piece].1 + stick.kerf)))
            .map(|piece| piece.filter(|&(_, length)| length <= room))
            .collect();
        let measure = pieces.iter().flatten().map(|piece| piece.1).fold(0, gcd).max(1);
        let exact = room / measure <= MOST_CELLS;
        Family { pieces, step: if exact { measure } else { room / MOST_CELLS + 1 }, exact }
    }

    fn fits(&self, class: &Class, k: usize) -> bool {
        self.families[class.family].pieces[k].is_some_and(|(_, length)| length <= class.room)
    }

    /// Ticks that pieces take of a stick of the family, kerfs included.
    pub fn used(&self, family: usize, counts: &[(usize, u32)]) -> i64 {
        let length = |k: usize| self.families[family].pieces[k].map_or(i64::MAX / 1024, |piece| piece.1);
        counts.iter().map(|&(k, n)| length(k).saturating_mul(i64::from(n))).fold(0, i64::saturating_add)
    }

    /// The pattern of these pieces on a stick of the class; `None` when they do not fit.
    pub fn pattern(&self, class: usize, counts: Vec<(usize, u32)>) -> Option<Pattern> {
        let of = &self.classes[class];
        let used = self.used(of.family, &counts);
        let net = of.cost - earned(of.stick, of.credit, used).0;
        (used <= of.room).then_some(Pattern { class, counts, net })
    }

    /// The cheapest pattern of these pieces on any class with sticks `left`.
    pub fn cheapest(&self, counts: &[(usize, u32)], left: &[u32]) -> Option<Pattern> {
        let open = (0..self.classes.len()).filter(|&class| left[class] > 0);
        open.filter_map(|class| self.pattern(class, counts.to_vec())).min_by_key(|pattern| pattern.net)
    }

    /// The saw lines of a pattern, what it makes and what it costs, as the problem states it.
    pub fn placed(&self, pattern: &Pattern) -> Placed {
        let class = &self.classes[pattern.class];
        let pieces: Vec<usize> = pattern
            .counts
            .iter()
            .flat_map(|&(k, n)| {
                let piece = self.families[class.family].pieces[k].expect("a pattern holds what its family cuts").0;
                std::iter::repeat_n(piece, n as usize)
            })
            .collect();
        let layout = lay(class.stick, class.credit, &pieces);
        let net = class.cost - credit_of(class.credit, &layout);
        let mut counts: Vec<(usize, u32)> = pattern.counts.iter().map(|&(k, n)| (self.items[k], n)).collect();
        counts.sort_unstable();
        Placed { stock: class.stock, shape: Shape::Stick(layout), counts, net }
    }
}

pub(super) fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}
