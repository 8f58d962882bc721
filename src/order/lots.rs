//! One lot: how many boards of a random delivery it takes until everything can be made.
//!
//! A lot of any size is the first boards of one stream, so lots of growing size differ only by the boards added (common
//! random numbers) and the smallest size that is enough says all about the stream. It is found by doubling and halving, each
//! step asking the optimiser of plans (`nesting::Enough`). A yes is a whole set of lawful layouts; a no is the search's, so a
//! figure may be a little high, never too low for the plan at hand.

use std::sync::atomic::{AtomicBool, Ordering};

use num_traits::ToPrimitive;

use super::boards::{Drawn, Source, Stream};
use crate::job::Job;
use crate::measure::{Length, Rational, Units};
use crate::milling::{self, Milled, StockRef};
use crate::nesting::Enough;
use crate::pile::{Pile, Tally};

/// Attempts at making everything from one set of boards; each begins with other prices.
const ATTEMPTS: usize = 4;
/// A lot is given up when it holds so many times the net need, or so many boards.
const MOST_TIMES_NET: f64 = 12.0;
const MOST_BOARDS: usize = 600;

/// What is asked of every lot.
pub(super) struct Task<'a> {
    /// Only the parts that this order is for.
    pub job: &'a Job,
    pub species: &'a str,
    pub source: &'a Source,
    /// Choices of layers and staves worth planning, as `plan::make` has them.
    pub choices: &'a [Vec<u32>],
    /// Board feet of the parts themselves.
    pub net: f64,
    pub seed: u64,
    pub cancel: &'a AtomicBool,
}

/// What a lot took.
#[derive(Clone, Debug)]
pub(super) struct LotFound {
    /// The boards that are enough, in the order they came; none when no quantity up to the limits was.
    pub boards: Option<Vec<Drawn>>,
    /// Board feet of those.
    pub board_feet: f64,
    /// By part of the task's job: missing from the largest lot that was asked and not enough; none when only the sheer area of
    /// wood was short.
    pub missing: Vec<bool>,
    /// By part: boards of the lot that can give a piece of it, and boards looked at.
    pub able: Vec<u32>,
    pub looked_at: u32,
}

impl Task<'_> {
    /// The smallest lot of stream `index` that is enough; `None` when cancelled.
    pub fn run(&self, index: u64) -> Option<LotFound> {
        let mut stream = Stream::new(self.source, self.species, mixed(self.seed, index));
        let mut drawn: Vec<Drawn> = Vec::new();
        let mut target = 2.0 * self.net;
        // Boards that are not enough.
        let mut too_few = 0;
        let mut missing = vec![false; self.job.parts.len()];
        loop {
            while sum(&drawn) < target && drawn.len() < MOST_BOARDS {
                drawn.extend(stream.next());
            }
            let bench = Bench::new(self, &drawn);
            let makers = bench.makers();
            let tried = makers.ask(drawn.len())?;
            if let Some(most) = tried.enough {
                let enough = makers.least(too_few, most, &mut missing)?;
                let able = bench.able(enough);
                drawn.truncate(enough);
                let board_feet = sum(&drawn);
                return Some(LotFound { boards: Some(drawn), board_feet, missing, able, looked_at: enough as u32 });
            }
            missing = tried.short;
            too_few = drawn.len();
            if target >= MOST_TIMES_NET * self.net || drawn.len() >= MOST_BOARDS {
                let able = bench.able(drawn.len());
                let looked_at = drawn.len() as u32;
                return Some(LotFound { boards: None, board_feet: f64::INFINITY, missing, able, looked_at });
            }
            target *= 1.6;
        }
    }
}

/// The boards of a lot, milled once for every choice of layers and staves.
struct Bench<'a> {
    task: &'a Task<'a>,
    milled: Vec<Milled>,
}

/// The optimiser, ready for each of them.
struct Makers<'a> {
    bench: &'a Bench<'a>,
    makers: Vec<Enough<'a>>,
}

impl<'a> Bench<'a> {
    fn new(task: &'a Task<'a>, drawn: &[Drawn]) -> Bench<'a> {
        let pile = pile_of(task.job.units, drawn);
        let mut milled: Vec<Milled> =
            task.choices.iter().map(|members| milling::mill(task.job, &pile, members)).collect();
        // Boards that came later cost up to half as much again, so that a set of layouts keeps to the first ones.
        let last = drawn.len().max(1) as i64;
        for milled in &mut milled {
            for (class, meaning) in milled.problem.stock.iter_mut().zip(&milled.stock) {
                if let StockRef::Board(at) = meaning.source {
                    class.cost += class.cost / 2 * at as i64 / last;
                }
            }
        }
        Bench { task, milled }
    }

    fn makers(&'a self) -> Makers<'a> {
        Makers { bench: self, makers: self.milled.iter().map(|milled| Enough::new(&milled.problem)).collect() }
    }

    /// By part: how many of the first boards can give a piece of it.
    fn able(&self, boards: usize) -> Vec<u32> {
        let mut able = vec![vec![false; boards]; self.task.job.parts.len()];
        for milled in &self.milled {
            for stock in &milled.stock {
                let StockRef::Board(at) = stock.source else { continue };
                for &item in stock.cuttings.iter().flat_map(|cutting| &cutting.leaves) {
                    if at < boards {
                        able[milled.items[item].part][at] = true;
                    }
                }
            }
        }
        able.iter().map(|of| of.iter().filter(|able| **able).count() as u32).collect()
    }
}

/// What the first boards of a lot came to.
struct Tried {
    /// The number of them that is enough: up to the last one used.
    enough: Option<usize>,
    /// By part: is something of it left unmade, in the nearest choice? Nothing where the area of wood alone is too little.
    short: Vec<bool>,
}

impl Makers<'_> {
    /// Tries to make everything from the first boards; `None` when cancelled.
    fn ask(&self, boards: usize) -> Option<Tried> {
        let task = self.bench.task;
        let mut nearest = (u32::MAX, vec![false; task.job.parts.len()]);
        for (milled, maker) in self.bench.milled.iter().zip(&self.makers) {
            let within = |source: StockRef| matches!(source, StockRef::Board(at) if at < boards);
            let available: Vec<u32> = milled.stock.iter().map(|stock| u32::from(within(stock.source))).collect();
            if maker.is_too_little(&available) {
                continue;
            }
            let tried = maker.attempt(&available, ATTEMPTS, task.seed, task.cancel);
            if task.cancel.load(Ordering::Relaxed) {
                return None;
            }
            let mut short = vec![false; task.job.parts.len()];
            for (item, &pieces) in tried.unmade.iter().enumerate() {
                short[milled.items[item].part] |= pieces > 0;
            }
            let count: u32 = tried.unmade.iter().sum();
            if count == 0 {
                let used = milled.stock.iter().zip(&tried.used).filter(|(_, used)| **used > 0);
                let places = used.filter_map(|(stock, _)| match stock.source {
                    StockRef::Board(at) => Some(at + 1),
                    StockRef::Sheet(_) | StockRef::Stick(_) => None,
                });
                return Some(Tried { enough: Some(places.max().unwrap_or(0)), short });
            }
            if count < nearest.0 {
                nearest = (count, short);
            }
        }
        Some(Tried { enough: None, short: nearest.1 })
    }

    /// The least number of boards that is enough, when `few` are not and `many` are; what is missing from one less is noted.
    fn least(&self, few: usize, many: usize, missing: &mut Vec<bool>) -> Option<usize> {
        let (mut few, mut many) = (few, many);
        while many > few + 1 {
            let middle = few + (many - few) / 2;
            let tried = self.ask(middle)?;
            match tried.enough {
                Some(enough) => many = enough,
                None => (few, *missing) = (middle, tried.short),
            }
        }
        Some(many)
    }
}

/// Square inches of everything that is to be cut.
pub(super) fn net_face(milled: &Milled) -> f64 {
    let inch = Length::PER_INCH as f64;
    let items = milled.problem.items.iter();
    items.map(|item| item.length as f64 / inch * (item.width as f64 / inch) * f64::from(item.demand)).sum()
}

/// A pile of drawn boards.
pub(super) fn pile_of(units: Units, drawn: &[Drawn]) -> Pile {
    let boards = drawn.iter().map(|drawn| drawn.board.clone()).collect();
    Pile { units, tally: Tally::Hardwood, boards, sheets: Vec::new(), sticks: Vec::new() }
}

fn sum(drawn: &[Drawn]) -> f64 {
    let exact: Rational = drawn.iter().map(|drawn| &drawn.board_feet).sum();
    exact.to_f64().unwrap_or(f64::MAX)
}

/// The seed of stream `index`: well spread (the finaliser of SplitMix64; Steele, Lea and Flood 2014).
fn mixed(seed: u64, index: u64) -> u64 {
    let mut z = seed
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .wrapping_add(index.wrapping_add(1).wrapping_mul(0xd1b5_4a32_d192_ed03));
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}
