//! The best layout of a board with at most so many pieces of each item.
//!
//! Items that come out too often are counted exactly, one after another, in the states of [`Usage`] (state-space
//! relaxation, in the way of Righini and Salani 2008), as long as the states allow; the rest lose a share of their price
//! (Lagrangian relaxation), found by subgradient steps from the shares of earlier calls. Every layout on the way is repaired: surplus pieces go and
//! their strips are filled again within the limits. The best lawful layout and the least upper value are kept; when a
//! relaxed layout is lawful by itself at full prices, it is the best there is.

use super::section::Scratch;
use super::usage::Usage;
use super::{Ask, BoardEngine, Effort, Priced};
use crate::nesting::layout::{BlankAt, BoardLayout, SectionAt, StripAt};
use crate::nesting::problem::never;

/// A step after which the upper value fell makes the next one longer by this factor, any other shorter.
const LONGER: f64 = 1.1;
const SHORTER: f64 = 0.75;
/// A relaxation's layout and upper value are that far apart by rounding alone, micro-units.
const ROUNDED: i64 = 1000;
/// Steps never get shorter than this share of Polyak's.
const LEAST_PACE: f64 = 0.1;

/// What was learned about the limits of one board at earlier prices, to begin with at the next.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    /// By item: the share of its price that is taken off because it comes out too often; empty when nothing is known.
    shares: Vec<f64>,
    /// Length of the next step of the shares.
    pace: f64,
    /// Items that were counted exactly.
    counted: Vec<usize>,
    /// The best layout found last.
    layout: BoardLayout,
    /// Lawful layouts met on the way, other than the best.
    beside: Vec<BoardLayout>,
}

impl Memory {
    /// Lawful layouts that the last call met beside the one it returned.
    pub fn beside(&self) -> &[BoardLayout] {
        &self.beside
    }
}

impl BoardEngine {
    /// Best layout by prices and credit with at most `limits[item]` pieces of each item.
    ///
    /// The layout is lawful and never exceeds a limit; `upper` is proven for layouts within the limits. They meet when the
    /// items that are short can be counted in `effort.states`, and often without.
    pub fn best_within(&self, prices: &[i64], limits: &[u32], scratch: &mut Scratch, effort: Effort) -> Priced {
        self.best_within_from(Ask { prices, limits, effort, stop: &never }, &mut Memory::default(), scratch)
    }

    /// [`BoardEngine::best_within`] from what earlier calls with the same limits learned, which is kept in `memory`.
    pub fn best_within_from(&self, ask: Ask, memory: &mut Memory, scratch: &mut Scratch) -> Priced {
        let (search, evaluations) = self.searched(ask, memory, scratch);
        let counted = search.counted.iter().map(|c| c.0).collect();
        *memory = Memory {
            shares: search.shares,
            pace: search.pace,
            counted,
            layout: search.best.layout.clone(),
            beside: search.beside,
        };
        Priced { upper: search.upper.max(search.best.value), evaluations, ..search.best }
    }

    /// Prices, no higher than those asked at, from which what comes out too often lost a share: with what is given back for that, a
    /// layout without limits is worth no more at them than at those of any other of a few rounds. With them the section starts
    /// evaluated.
    pub fn lowered(&self, ask: Ask, rounds: u32, memory: &Memory, scratch: &mut Scratch) -> (Vec<i64>, u32) {
        let effort = Effort { states: 1, rounds, ..ask.effort };
        let (search, evaluations) = self.searched(Ask { effort, ..ask }, memory, scratch);
        (search.lowest, evaluations)
    }

    /// Relaxations of the limits, each from what the last one came to; with the section starts evaluated.
    fn searched<'a>(&'a self, ask: Ask<'a>, memory: &Memory, scratch: &mut Scratch) -> (Within<'a>, u32) {
        let Ask { prices, limits, effort, stop } = ask;
        let mut search = Within::new(self, prices, limits, memory, effort.states);
        let mut evaluations = 0;
        for _ in 0..effort.rounds.max(1) {
            let usage = Usage::new(search.counted.clone());
            let found = self.solve(&search.lowered, &search.may, &usage, scratch, effort, stop);
            evaluations += found.evaluations * usage.states as u32;
            let slack = effort.slack.max(ROUNDED);
            let done = search.take(&found, slack);
            let proven = search.upper - search.best.value <= effort.slack || search.upper <= effort.enough;
            if proven || done || stop() || !search.adapt(&found, slack) {
                break;
            }
        }
        (search, evaluations)
    }

    /// Cuttings that fit somewhere and that no limit forbids outright.
    pub(super) fn within(&self, limits: &[u32]) -> Vec<bool> {
        let allowed = |yields: &[(usize, u32)]| {
            yields
                .iter()
                .all(|&(item, _)| yields.iter().filter(|y| y.0 == item).map(|y| y.1).sum::<u32>() <= limits[item])
        };
        self.board.cuttings.iter().zip(&self.fits).map(|(c, &fits)| fits && allowed(&c.yields)).collect()
    }
}

/// What layouts within the limits are worth more at `prices` than at those `lowered`, at most.
pub(super) fn given_back(prices: &[i64], lowered: &[i64], limits: &[u32]) -> i128 {
    let lost = prices.iter().zip(lowered).zip(limits);
    lost.map(|((&price, &lowered), &n)| i128::from(price.max(0) - lowered.max(0)) * i128::from(n)).sum()
}

impl BoardEngine {
    /// A layout made to fit `limits`: strips that need a piece too many are filled again. `upper` says nothing.
    pub fn refit(&self, layout: &BoardLayout, prices: &[i64], limits: &[u32]) -> Priced {
        let search = Within::new(self, prices, limits, &Memory::default(), 1);
        let layout = search.repair(layout);
        debug_assert_eq!(self.verified(&layout), Ok(()));
        let (value, counts) = self.value(&layout, prices);
        Priced { layout, value, upper: i64::MAX, counts, evaluations: 0 }
    }
}

struct Within<'a> {
    engine: &'a BoardEngine,
    prices: &'a [i64],
    limits: &'a [u32],
    /// Cuttings that no limit forbids outright.
    may: Vec<bool>,
    /// By item, the share of the price taken off, and the price that leaves.
    shares: Vec<f64>,
    lowered: Vec<i64>,
    /// The prices at which the least upper value was found.
    lowest: Vec<i64>,
    /// Length of the next step of the shares.
    pace: f64,
    /// The upper value of the last shares.
    last_upper: i64,
    /// Items counted exactly, with their limits, and how many states these may make.
    counted: Vec<(usize, u32)>,
    /// By item: it was counted, and gave way to others.
    evicted: Vec<bool>,
    most_states: usize,
    best: Priced,
    beside: Vec<BoardLayout>,
    upper: i64,
}

impl<'a> Within<'a> {
    fn new(
        engine: &'a BoardEngine,
        prices: &'a [i64],
        limits: &'a [u32],
        memory: &Memory,
        most_states: usize,
    ) -> Within<'a> {
        let may = engine.within(limits);
        let (value, counts) = engine.value(&memory.layout, prices);
        let mut best = Priced { layout: memory.layout.clone(), value, upper: 0, counts, evaluations: 0 };
        if best.counts.iter().zip(limits).any(|(count, limit)| count > limit) {
            let (layout, counts) = (BoardLayout::default(), vec![0; prices.len()]);
            best = Priced { layout, value: 0, upper: 0, counts, evaluations: 0 };
        }
        let known = !memory.shares.is_empty();
        let shares = if known { memory.shares.clone() } else { vec![0.0; prices.len()] };
        let mut search = Within {
            engine,
            prices,
            limits,
            may,
            shares,
            pace: if known { memory.pace } else { 1.0 },
            last_upper: i64::MAX,
            lowered: vec![],
            lowest: prices.to_vec(),
            counted: vec![],
            evicted: vec![false; prices.len()],
            most_states,
            best,
            beside: vec![],
            upper: i64::MAX,
        };
        for &item in &memory.counted {
            if search.countable(item) {
                search.counted.push((item, limits[item]));
            }
        }
        search.lower();
        search
    }

    /// One more item can be counted exactly.
    fn countable(&self, item: usize) -> bool {
        self.countable_beside(item, &self.counted)
    }

    /// The same, were just `counted` items counted.
    fn countable_beside(&self, item: usize, counted: &[(usize, u32)]) -> bool {
        let states: usize = counted.iter().map(|c| c.1 as usize + 1).product();
        states.saturating_mul(self.limits[item] as usize + 1) <= self.most_states
    }

    /// Counts no more what `found` has less of than it may, so that another item can be counted.
    fn make_way(&mut self, item: usize, found: &Priced) {
        let spare = |&(other, limit): &(usize, u32)| found.counts[other] < limit && !self.evicted[other];
        let mut counted = self.counted.clone();
        while !self.countable_beside(item, &counted) {
            let Some(at) = counted.iter().position(spare) else { return };
            counted.remove(at);
        }
        for &(other, _) in self.counted.iter().filter(|c| !counted.contains(c)) {
            self.evicted[other] = true;
        }
        self.counted = counted;
    }

    /// The prices that the shares leave.
    fn lower(&mut self) {
        let left = |(&price, &share): (&i64, &f64)| price - ((price as f64 * share) as i64).clamp(0, price.max(0));
        self.lowered = self.prices.iter().zip(&self.shares).map(left).collect();
        self.counted.iter().for_each(|&(item, _)| self.lowered[item] = self.prices[item]);
    }

    /// Takes what a relaxation found; true when its layout keeps the limits and is a best one, but for `slack`.
    fn take(&mut self, found: &Priced, slack: i64) -> bool {
        let given_back = given_back(self.prices, &self.lowered, self.limits);
        let upper = i64::try_from(i128::from(found.upper) + given_back).unwrap_or(i64::MAX);
        self.pace *= if upper < self.last_upper { LONGER } else { SHORTER };
        self.pace = self.pace.clamp(LEAST_PACE, 1.0);
        self.last_upper = upper;
        if upper < self.upper {
            self.upper = upper;
            self.lowest.clone_from(&self.lowered);
        }
        let lawful = found.counts.iter().zip(self.limits).all(|(count, limit)| count <= limit);
        let mut left = self.limits.to_vec();
        let layout = if lawful {
            left.iter_mut().zip(&found.counts).for_each(|(left, count)| *left -= count);
            self.refill(found.layout.clone(), &mut left)
        } else {
            self.repair(&found.layout)
        };
        debug_assert_eq!(self.engine.verified(&layout), Ok(()));
        let (value, counts) = self.engine.value(&layout, self.prices);
        if value > self.best.value {
            let before = std::mem::replace(&mut self.best.layout, layout);
            self.beside.push(before);
            self.best = Priced { value, counts, ..self.best.clone() };
        } else if layout != self.best.layout {
            self.beside.push(layout);
        }
        // Nothing that has lost price is left over: by complementary slackness the layout is a best one.
        let binding = |i: usize| self.lowered[i] >= self.prices[i] || found.counts[i] == self.limits[i];
        let best_of_relaxed = found.upper - found.value <= slack;
        lawful && best_of_relaxed && (0..self.prices.len()).all(binding)
    }

    /// Counts one more item, or moves prices; false when nothing would change.
    fn adapt(&mut self, found: &Priced, slack: i64) -> bool {
        let surplus = |i: usize| f64::from(found.counts[i]) - f64::from(self.limits[i]);
        let mut over: Vec<usize> = (0..self.prices.len()).filter(|&i| surplus(i) > 0.0).collect();
        over.sort_by(|&a, &b| {
            let worth = |i: usize| surplus(i) * self.prices[i] as f64;
            worth(b).total_cmp(&worth(a)).then(a.cmp(&b))
        });
        if over.is_empty() && found.upper - found.value > slack {
            // The layout keeps the limits, and yet more may be possible: what has lost most of its price is counted.
            let lost = |i: usize| (self.prices[i] - self.lowered[i]).max(0).saturating_mul(i64::from(self.limits[i]));
            over = (0..self.prices.len()).filter(|&i| lost(i) > 0).collect();
            over.sort_by_key(|&i| (-lost(i), i));
            over.truncate(1);
        }
        if !over.iter().any(|&item| self.countable(item))
            && let Some(&item) = over.iter().find(|&&item| self.countable_beside(item, &[]))
        {
            self.make_way(item, found);
        }
        if let Some(&item) = over.iter().find(|&&item| self.countable(item)) {
            self.counted.push((item, self.limits[item]));
            self.lower();
            return true;
        }
        // A step of the subgradient in shares of price, at most as long as Polyak's (1969).
        let moves = |i: usize| self.prices[i] > 0 && (surplus(i) > 0.0 || surplus(i) < 0.0 && self.shares[i] > 0.0);
        let steps: Vec<(usize, f64)> =
            (0..self.prices.len()).filter(|&i| moves(i)).map(|i| (i, self.prices[i] as f64 * surplus(i))).collect();
        let norm: f64 = steps.iter().map(|(_, s)| s * s).sum();
        let pace = self.pace * (self.last_upper - self.best.value).max(1) as f64 / norm.max(1.0);
        let before = self.lowered.clone();
        for (i, step) in steps {
            self.shares[i] = (self.shares[i] + pace * step).clamp(0.0, 1.0);
        }
        self.lower();
        self.lowered != before
    }

    /// A layout within the limits: strips that need no surplus piece stay, the others are filled with what is left.
    fn repair(&self, layout: &BoardLayout) -> BoardLayout {
        let mut left = self.limits.to_vec();
        let mut kept = layout.clone();
        let mut strips: Vec<(usize, usize, i64)> = Vec::new();
        for (s, section) in layout.sections.iter().enumerate() {
            strips.extend(section.strips.iter().enumerate().map(|(t, strip)| (s, t, self.dense(section, strip))));
        }
        strips.sort_by_key(|&(s, t, dense)| (-dense, s, t));
        for &(s, t, _) in &strips {
            let blanks = &mut kept.sections[s].strips[t].blanks;
            let whole = blanks.clone();
            blanks.retain(|blank| self.spend(blank.cutting, &mut left));
            if blanks.len() < whole.len() {
                blanks.iter().for_each(|blank| self.give_back(blank.cutting, &mut left));
                blanks.clear();
            }
        }
        self.refill(kept, &mut left)
    }

    /// Value of a strip for its width and its section's length, in 2^-20ths.
    fn dense(&self, section: &SectionAt, strip: &StripAt) -> i64 {
        let value: i64 = strip.blanks.iter().map(|b| self.worth(b.cutting)).sum();
        let area = i128::from(strip.width) * i128::from(section.length);
        // Areas are square ticks; 2^40 keeps a micro-unit a square sixteenth apart.
        i64::try_from((i128::from(value) << 40) / area.max(1)).unwrap_or(i64::MAX)
    }

    /// Fills every strip anew within what is left where that is better, and drops what stays empty.
    fn refill(&self, layout: BoardLayout, left: &mut [u32]) -> BoardLayout {
        let mut layout = layout;
        for section in &mut layout.sections {
            let (x, length, class) = (section.x, section.length, section.class);
            for strip in &mut section.strips {
                strip.blanks.iter().for_each(|blank| self.give_back(blank.cutting, left));
                let before: i64 = strip.blanks.iter().map(|b| self.worth(b.cutting)).sum();
                if let Some(blanks) = self.fill(x, length, class, strip, left) {
                    let after: i64 = blanks.iter().map(|b| self.worth(b.cutting)).sum();
                    if after > before {
                        strip.blanks = blanks;
                    }
                }
                for blank in &strip.blanks {
                    let spent = self.spend(blank.cutting, left);
                    debug_assert!(spent, "a strip was filled from what was left");
                }
            }
            section.strips.retain(|strip| !strip.blanks.is_empty());
        }
        layout.sections.retain(|section| !section.strips.is_empty());
        if layout.sections.is_empty() {
            layout.offcuts.clear();
        }
        layout
    }

    /// A good filling of one strip from what is left: each cell keeps its best filling, not every useful one.
    fn fill(&self, x: i64, length: i64, class: usize, strip: &StripAt, left: &[u32]) -> Option<Vec<BlankAt>> {
        let (board, model) = (&self.engine.board, &self.engine.plan.model);
        let rows = &model.classes[class];
        let base = rows.bases.iter().position(|base| base.from == strip.y)?;
        let ops = &rows.ops[rows.starts[base]..rows.starts[base + 1]];
        let op = ops.iter().find(|op| self.engine.plan.board.classes[class].strips[op.strip].width == strip.width)?;
        let able = |&c: &usize| self.may[c] && self.worth(c) > 0 && self.left_for(c, left);
        // Of staves of many widths the widest that is still wanted, and the narrowest, which leaves most for the next.
        let parts: Vec<(usize, usize)> = model.rows[op.row]
            .parts
            .iter()
            .flat_map(|part| {
                let mut able = model.families.widest_first(part.run).filter(able);
                able.next().into_iter().chain(able.last()).map(|cutting| (cutting, part.pattern))
            })
            .collect();
        let from = ((x - board.end_trim) / model.step) as usize + rows.margin;
        let end = ((x + length + board.kerf_cross - board.end_trim) / model.step) as usize;
        let cells = end.checked_sub(rows.margin + from)?;
        // Value of the best filling up to a cell, and the last blank (start, cutting) in it.
        let mut best: Vec<(i64, Option<(usize, usize)>)> = vec![(0, None); cells + 1];
        for at in 1..=cells {
            best[at] = best[at - 1];
            for &(cutting, pattern) in &parts {
                let Some(start) = at.checked_sub(model.steps[cutting]) else { continue };
                let value = best[start].0 + self.worth(cutting);
                let cell = (from + start) as u32;
                let free = || model.patterns[pattern].iter().any(|r| r.0 <= cell && cell < r.1);
                if value > best[at].0 && free() && self.fits_after(&best, start, cutting, left) {
                    best[at] = (value, Some((start, cutting)));
                }
            }
        }
        let mut blanks: Vec<BlankAt> = chain_back(&best, cells)
            .map(|(start, cutting)| BlankAt { x: board.end_trim + (from + start) as i64 * model.step, cutting })
            .collect();
        blanks.reverse();
        Some(blanks)
    }

    /// What is left serves a cutting after the best filling up to a cell.
    fn fits_after(&self, best: &[(i64, Option<(usize, usize)>)], at: usize, cutting: usize, left: &[u32]) -> bool {
        let cuttings = &self.engine.board.cuttings;
        cuttings[cutting].yields.iter().all(|&(item, _)| {
            let used = |c: usize| cuttings[c].yields.iter().filter(|y| y.0 == item).map(|y| y.1).sum::<u32>();
            let before: u32 = chain_back(best, at).map(|(_, c)| used(c)).sum();
            before + used(cutting) <= left[item]
        })
    }

    fn left_for(&self, cutting: usize, left: &[u32]) -> bool {
        self.fits_after(&[(0, None)], 0, cutting, left)
    }

    fn worth(&self, cutting: usize) -> i64 {
        let yields = &self.engine.board.cuttings[cutting].yields;
        yields.iter().map(|&(item, n)| self.prices[item].max(0) * i64::from(n)).sum()
    }

    /// Takes a cutting's pieces from what is left; false, and nothing taken, when they are not there.
    fn spend(&self, cutting: usize, left: &mut [u32]) -> bool {
        let enough = self.left_for(cutting, left);
        if enough {
            self.engine.board.cuttings[cutting].yields.iter().for_each(|&(item, n)| left[item] -= n);
        }
        enough
    }

    fn give_back(&self, cutting: usize, left: &mut [u32]) {
        self.engine.board.cuttings[cutting].yields.iter().for_each(|&(item, n)| left[item] += n);
    }
}

/// Blanks (start, cutting) of the best filling up to a cell, last first.
fn chain_back(best: &[(i64, Option<(usize, usize)>)], at: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
    std::iter::successors(best[at].1, |&(start, _)| best[start].1)
}
