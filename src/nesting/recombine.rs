//! Better answers from layouts already known: which of them go together, and what they lack laid anew.
//!
//! Every search on the way to prices leaves layouts behind, far more than any answer takes. A round draws from them by
//! simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983): a state takes for every piece of stock (a *seat*) one of its layouts or
//! none, a piece that is lacking costs its price and a share on top, one too many nothing, and a move puts another
//! layout on one seat. A move takes a hundred nanoseconds where a layout takes a millisecond, so whole choices of stock are
//! gone through. Chains of three kinds stand beside each other. *Wanderers* go on from round to round at a small share: each seat
//! in turn is laid out for what the others leave it, which brings the pool the layouts it lacked, and what is lacking in the end
//! is made from other stock; items that stay lacking get dearer. *Settlers* start from nothing and the share rises as they
//! cool down, so that they end whole; where one ends, a wanderer that no longer moves goes on. *Renewers* do the same with a
//! part of the best answer's seats and what stock it does not use, while the other seats stay (large neighbourhood search,
//! Shaw 1998): that is found whole far more often. Chains of one round are independent, so threads do not change what is
//! found. Prices come from `colgen`.

use std::cmp::Reverse;

use rand::rngs::Xoshiro256PlusPlus;
use rand::seq::SliceRandom;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use rustc_hash::FxHashSet;

use super::board::{Ask, Effort};
use super::construct::{Candidate, FILLING, Ground, Judge, Wish, construct};
use super::engine::Scratch;
use super::master::Column;
use super::problem::{Problem, Stop};
use super::solution::{Solution, room};

/// Chains a round that wander, that settle, and that renew; more than the cores of a shop's machine, so that all of them are
/// used.
const WANDERERS: usize = 4;
const SETTLERS: usize = 2;
const RENEWERS: usize = 6;
/// Answers of more pieces of stock than this are not found by settling in the time a wanderer takes.
const SETTLED: usize = 50;
/// So many moves take about as long as a section start of a board.
const MOVES_A_WORK: u64 = 2_500;

/// How a chain cools down. A lacking piece costs its price and a share on top.
#[derive(Clone, Copy, Debug)]
struct Cooling {
    /// Moves a seat.
    moves: usize,
    /// The temperature falls from the one to the other, in shares of what an average piece of stock of the best answer costs (or
    /// is worth, where worth is sought).
    hot: f64,
    cold: f64,
    /// The share on top rises from the one to the other.
    soft: f64,
    hard: f64,
}

/// Pieces may lack to the end: what is short of a few is near to the best, and shows which layouts are worth having.
const WANDERING: Cooling = Cooling { moves: 7_500, hot: 0.05, cold: 0.001, soft: 0.3, hard: 0.3 };
/// At first pieces may lack, in the end hardly any do.
const SETTLING: Cooling = Cooling { moves: 15_000, hot: 0.05, cold: 0.01, soft: 0.1, hard: 8.0 };
/// As settling, but of fewer seats.
const RENEWING: Cooling = Cooling { moves: 8_000, ..SETTLING };
/// Such a share of the best answer's layouts stays where it is when the rest is renewed.
const STAYING: f64 = 0.35;
/// Moves between two steps of the temperature.
const STEP: usize = 256;
/// One move in so many takes a layout off its seat; a power of two, so that a few bits of a draw say which.
const EMPTYING: u64 = 16;
/// Values of a draw whether a dearer state is taken.
const PATIENCES: usize = 4096;
/// Prices of a chain are shaken by up to such a share either way.
const SHAKE: f64 = 0.1;
/// Heat, shares on top and shakes are those for answers of so many pieces of stock; for more of them they are less in proportion,
/// as what one piece more or less means to the whole.
const MANY: f64 = 25.0;
/// What an item that is lacking at the end of every chain gets dearer, what it loses of that again when it is not, and how
/// dear it may get.
const DEARER: f64 = 0.1;
const CHEAPER: f64 = 0.05;
const DEAREST: f64 = 4.0;
/// A chain starts from the best answer once in so many rounds, else from where it was.
const BACK: u32 = 10;
/// Layouts a class of stock; at twice as many those of the worst reduced cost go, but for the latest.
const POOL: usize = 400;
/// Effort of laying out one seat.
const LAYING: Effort = Effort { states: 2, rounds: 2, ..Effort::starts(3) };
/// Seats laid out in a round of one chain at the most.
const LAID: usize = 60;
/// Empty seats that are tried beside those taken; so often in the place of one of them, else beside all.
const EMPTY: usize = 10;
const INSTEAD: f64 = 0.7;
/// Layouts made of a seat's by filling its strips again, without some of their pieces and at prices shaken by up to such a share.
const VARIANTS: usize = 2;
const WILD: f64 = 0.4;
/// A piece is left out of a variant once in so many.
const LEFT_OUT: u32 = 3;
/// Unused classes of stock offered to complete an answer.
const COMPLETERS: usize = 8;
/// More pieces of a class than the best answer uses, by so many, get a seat.
const SPARE: u32 = 2;

/// What a better answer is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sought {
    /// One that costs less; what it lacks must not stay lacking.
    Cheapness,
    /// One whose pieces are worth more; prices are far above costs, and something may stay lacking.
    Worth,
}

/// The layouts known, and where the chains are.
pub struct Recombination {
    sought: Sought,
    /// By class of stock, the latest last.
    pool: Vec<Vec<Column>>,
    seen: FxHashSet<Column>,
    /// By item: how many times dearer it has become.
    weights: Vec<f64>,
    /// The layouts of each chain's state.
    states: Vec<Vec<Column>>,
    rng: ChaCha8Rng,
}

/// What all chains of a round work with.
struct Round<'a> {
    ground: &'a Ground<'a>,
    target: &'a [u32],
    /// By item: what a piece is worth, micro-units.
    prices: Vec<i64>,
    /// Class of stock by seat.
    seats: Vec<usize>,
    /// By class of stock: its layouts, the least reduced cost first.
    pool: Vec<Vec<&'a Column>>,
    /// The same in the form that moves are quickest in, all of them in a row; by class, where its layouts begin there and how many
    /// there are.
    bare: Bare,
    places: Vec<(u32, u32)>,
    /// What a state may get dearer at a heat of one, as often as annealing has it: -ln(u) for u spread evenly.
    patience: Vec<f64>,
    /// What an average piece of stock of the best answer costs or is worth, micro-units.
    average: f64,
    /// How much of heat and shakes is due to an answer of as many pieces of stock as the best.
    measure: f64,
    stop: Stop<'a>,
}

/// Where a chain begins, and how it goes from there.
#[derive(Clone, Copy)]
enum Start<'a> {
    /// On from a state.
    Wander(&'a [Column]),
    /// From nothing.
    Settle,
    /// From a whole answer.
    Renew(&'a [Column]),
}

/// What became of one chain.
struct Chain {
    state: Vec<Column>,
    fresh: Vec<Column>,
    /// By item: the state lacks some.
    lacking: Vec<bool>,
    answer: Solution,
    work: u64,
}

impl Recombination {
    /// Knows no layouts yet.
    pub fn new(problem: &Problem, seed: u64, sought: Sought) -> Recombination {
        Recombination {
            sought,
            pool: vec![Vec::new(); problem.stock.len()],
            seen: FxHashSet::default(),
            weights: vec![1.0; problem.items.len()],
            states: Vec::new(),
            rng: ChaCha8Rng::seed_from_u64(seed),
        }
    }

    fn offer(&mut self, column: &Column) {
        if self.seen.insert(column.clone()) {
            self.pool[column.stock].push(column.clone());
        }
    }

    /// One round with the layouts of `columns` beside those known, at `prices` (worth of the items, micro-units). Returns an
    /// answer of each chain, whole or not, and the work spent.
    pub fn round(
        &mut self,
        ground: &Ground,
        target: &[u32],
        columns: &[Column],
        prices: &[i64],
        best: &Solution,
        stop: Stop,
    ) -> (Vec<Solution>, u64) {
        columns.iter().for_each(|column| self.offer(column));
        let placed: Vec<Column> = best.placed.iter().map(Column::from).collect();
        placed.iter().for_each(|column| self.offer(column));
        self.prune(prices);
        let seats = seats(ground.problem, best);
        self.states.resize(WANDERERS, placed.clone());
        for state in &mut self.states {
            if self.rng.random_range(0..BACK) == 0 {
                state.clone_from(&placed);
            }
        }
        let placed_in_all = best.placed.len().max(1) as f64;
        let measure = (MANY / placed_in_all).min(1.0);
        let whole = match self.sought {
            Sought::Cheapness => best.cost,
            Sought::Worth => best.placed.iter().map(|placed| placed.worth(prices)).sum(),
        };
        let average = whole.max(1) as f64 / placed_in_all;
        let pool: Vec<Vec<&Column>> = self.pool.iter().map(|pool| ordered(pool, prices)).collect();
        let (mut bare, mut places) = (Bare::default(), Vec::with_capacity(pool.len()));
        for pool in &pool {
            places.push((bare.nets.len() as u32, pool.len() as u32));
            pool.iter().for_each(|&column| bare.push(Some(column)));
        }
        let patience = (0..PATIENCES).map(|at| -((at as f64 + 0.5) / PATIENCES as f64).ln()).collect();
        let prices = prices.iter().zip(&self.weights).map(|(&price, &weight)| (price as f64 * weight) as i64).collect();
        let round = Round { ground, target, prices, seats, pool, bare, places, patience, average, measure, stop };
        let settles = self.sought == Sought::Cheapness && best.placed.len() <= SETTLED;
        let (settlers, renewers) = if settles { (SETTLERS, RENEWERS) } else { (0, 0) };
        let starts = self.states.iter().map(|state| Start::Wander(state));
        let starts = starts.chain(std::iter::repeat_n(Start::Settle, settlers));
        let starts = starts.chain(std::iter::repeat_n(Start::Renew(&placed), renewers));
        let starts: Vec<(Start, u64)> = starts.map(|start| (start, self.rng.random())).collect();
        let chains: Vec<Chain> = starts
            .into_par_iter()
            .map_init(Scratch::default, |scratch, (start, seed)| round.chain(start, seed, scratch))
            .collect();
        let mut lacked = vec![0; target.len()];
        let (mut answers, mut work) = (Vec::new(), 0);
        let before = std::mem::take(&mut self.states);
        let mut settled = Vec::new();
        for (nth, chain) in chains.into_iter().enumerate() {
            work += chain.work;
            answers.push(chain.answer);
            chain.fresh.iter().for_each(|column| self.offer(column));
            if nth < WANDERERS {
                lacked.iter_mut().zip(&chain.lacking).for_each(|(n, &lacking)| *n += u32::from(lacking));
                self.states.push(chain.state);
            } else if nth < WANDERERS + settlers {
                settled.push(chain.state);
            }
        }
        // A wanderer that stays where it is goes on from elsewhere.
        for (state, before) in self.states.iter_mut().zip(before) {
            if *state == before
                && let Some(elsewhere) = settled.pop()
            {
                *state = elsewhere;
            }
        }
        let dearer = self.weights.iter_mut().zip(&lacked).filter(|_| self.sought == Sought::Cheapness);
        for (weight, &lacked) in dearer {
            *weight = if lacked > 0 {
                (*weight * (1.0 + DEARER * f64::from(lacked) / WANDERERS as f64)).min(DEAREST)
            } else {
                1.0 + (*weight - 1.0) * (1.0 - CHEAPER)
            };
        }
        (answers, work)
    }

    /// Forgets the layouts of the worst reduced cost where there are too many.
    fn prune(&mut self, prices: &[i64]) {
        for pool in self.pool.iter_mut().filter(|pool| pool.len() > 2 * POOL) {
            let latest = pool.split_off(pool.len() - POOL / 2);
            pool.sort_by_key(|column| column.reduced_cost(prices));
            for gone in pool.drain(POOL / 2..) {
                self.seen.remove(&gone);
            }
            pool.extend(latest);
        }
    }
}

/// Class of stock by seat: all pieces, or a few more than the best answer uses where there are many alike.
fn seats(problem: &Problem, best: &Solution) -> Vec<usize> {
    let of = |s: usize| problem.stock[s].count.min(best.used[s] + SPARE);
    (0..problem.stock.len()).flat_map(|s| std::iter::repeat_n(s, of(s) as usize)).collect()
}

/// The layouts of a class, the least reduced cost first.
fn ordered<'a>(pool: &'a [Column], prices: &[i64]) -> Vec<&'a Column> {
    let mut ordered: Vec<&Column> = pool.iter().collect();
    ordered.sort_by_key(|column| column.reduced_cost(prices));
    ordered
}

/// Price of each item shaken by up to `share` either way.
fn shaken(prices: &[i64], share: f64, rng: &mut ChaCha8Rng) -> Vec<i64> {
    prices.iter().map(|&price| (price as f64 * (1.0 + share * rng.random_range(-1.0..1.0))) as i64).collect()
}

impl Round<'_> {
    /// One chain, and an answer from where it ends.
    fn chain(&self, start: Start, seed: u64, scratch: &mut Scratch) -> Chain {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut prices = shaken(&self.prices, SHAKE * self.measure, &mut rng);
        let mut state = self.seated(match start {
            Start::Wander(from) | Start::Renew(from) => from,
            Start::Settle => &[],
        });
        let all: Vec<usize> = (0..self.seats.len()).collect();
        let (mut work, mut fresh) = (0, Vec::new());
        match start {
            Start::Wander(_) => {
                work += self.anneal(&mut state, &all, &prices, WANDERING, &mut rng);
                // Each seat is laid out anew for what the others leave it.
                let on_top = 1.0 + WANDERING.hard * self.measure;
                prices.iter_mut().for_each(|price| *price = (*price as f64 * on_top) as i64);
                work += self.lay(&mut state, &prices, &mut fresh, &mut rng, scratch);
            }
            Start::Settle => work += self.anneal(&mut state, &all, &prices, SETTLING, &mut rng),
            Start::Renew(_) => work += self.renew(&mut state, &prices, &mut rng),
        }
        let lacking = wanted(self.target, &state).iter().map(|&n| n > 0).collect();
        let (answer, spent) = self.answer(&state, &prices, &mut rng, scratch);
        Chain { state: state.into_iter().flatten().collect(), fresh, lacking, answer, work: work + spent }
    }

    /// Takes a good part of the layouts off a whole state's seats and settles there anew; keeps that if it costs no more. Returns
    /// the work spent.
    fn renew(&self, state: &mut [Option<Column>], worth: &[i64], rng: &mut ChaCha8Rng) -> u64 {
        let mut kept: Vec<usize> = (0..state.len()).filter(|&seat| state[seat].is_some()).collect();
        kept.shuffle(rng);
        kept.truncate((STAYING * kept.len() as f64) as usize);
        let open: Vec<usize> = (0..state.len()).filter(|seat| !kept.contains(seat)).collect();
        let mut other = state.to_vec();
        open.iter().for_each(|&seat| other[seat] = None);
        let work = self.anneal(&mut other, &open, worth, RENEWING, rng);
        let cost = |state: &[Option<Column>]| state.iter().flatten().map(|column| column.net).sum::<i64>();
        if wanted(self.target, &other).iter().all(|&n| n == 0) && cost(&other) <= cost(state) {
            state.clone_from_slice(&other);
        }
        work
    }

    /// Layouts on their seats; those that find none go.
    fn seated(&self, from: &[Column]) -> Vec<Option<Column>> {
        let mut state = vec![None; self.seats.len()];
        for column in from {
            let free = |k: &usize| self.seats[*k] == column.stock && state[*k].is_none();
            if let Some(seat) = (0..state.len()).find(free) {
                state[seat] = Some(column.clone());
            }
        }
        state
    }

    /// Moves the `open` seats of `state` to the best of the states met while it cools down: by its cost where what is lacking
    /// costs the same all the time; else the cheapest that lacks nothing, or the last where all lacked something. Returns the
    /// work spent.
    fn anneal(
        &self,
        state: &mut [Option<Column>],
        open: &[usize],
        worth: &[i64],
        cooling: Cooling,
        rng: &mut ChaCha8Rng,
    ) -> u64 {
        let moves = cooling.moves * open.len();
        let [hot, soft, hard] = [cooling.hot, cooling.soft, cooling.hard].map(|share| share * self.measure);
        let steady = soft == hard;
        let falling = (cooling.cold / hot).powf(STEP as f64 / moves as f64);
        let mut heat = hot * self.average;
        let mut cast = Cast::new(self, state, worth, soft);
        let (mut least, mut best) = (f64::INFINITY, None);
        if steady || cast.lacking == 0 {
            (least, best) = (cast.cost(), Some(cast.taken.clone()));
        }
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(rng.random());
        for step in 1..=moves {
            if step.is_multiple_of(STEP) {
                heat *= falling;
                cast.harden(soft + (hard - soft) * step as f64 / moves as f64);
                if (self.stop)() {
                    break;
                }
            }
            // One draw makes a move: its upper half names the seat, its lower half what comes there.
            let drawn = rng.next_u64();
            let seat = open[below(drawn >> 32, open.len())];
            let old = cast.taken[seat];
            let known = cast.known(seat);
            let new = if old != NOTHING && drawn & (EMPTYING - 1) == 0 {
                NOTHING
            } else {
                // Of a class, the layouts of least reduced cost are drawn most: at the fourth power of an even share.
                let share = f64::from(drawn as u32 / EMPTYING as u32) / f64::from(u32::MAX / EMPTYING as u32 + 1);
                (share.powi(4) * known as f64) as u32
            };
            if new == old || new != NOTHING && known == 0 {
                continue;
            }
            let patience = heat * self.patience[below(rng.next_u64() >> 32, PATIENCES)];
            let moved = cast.put(seat, new, patience);
            // Sums of floats drift by far less than a hundredth of the currency unit.
            if moved && (steady || cast.lacking == 0) && cast.cost() < least - 1.0 {
                least = cast.cost();
                best = Some(cast.taken.clone());
            }
        }
        for (seat, taken) in best.unwrap_or(cast.taken).into_iter().enumerate() {
            let pool = &self.pool[self.seats[seat]];
            match pool.get(taken as usize) {
                Some(&column) => state[seat] = Some(column.clone()),
                None if taken == NOTHING => state[seat] = None,
                // What was on the seat at first is there still.
                None => {}
            }
        }
        moves as u64 / MOVES_A_WORK
    }

    /// Lays out each seat that is taken, and some that are not, for what the others leave it, or for what all but one do, whose
    /// place it takes if that is better; what is met on the way is `fresh`. Returns the work spent.
    fn lay(
        &self,
        state: &mut [Option<Column>],
        prices: &[i64],
        fresh: &mut Vec<Column>,
        rng: &mut ChaCha8Rng,
        scratch: &mut Scratch,
    ) -> u64 {
        let (problem, engines) = (self.ground.problem, self.ground.engines);
        let mut order: Vec<usize> = (0..self.seats.len()).collect();
        order.shuffle(rng);
        let (mut taken, mut empty, mut work) = (0, 0, 0);
        for seat in order {
            let (tried, most) = if state[seat].is_some() { (&mut taken, LAID) } else { (&mut empty, EMPTY) };
            *tried += 1;
            if *tried > most || (self.stop)() {
                continue;
            }
            let old = state[seat].take();
            let rival = if old.is_none() { self.rival(state, rng) } else { None };
            let rival = rival.and_then(|at| state[at].take().map(|layout| (at, layout)));
            let (class, engine) = (self.seats[seat], &engines[self.seats[seat]]);
            let wanted = wanted(self.target, state);
            let limits = room(problem, &wanted);
            let own = shaken(prices, SHAKE * self.measure, rng);
            let ask = Ask { prices: &own, limits: &limits, effort: LAYING, stop: self.stop };
            let mut found = vec![self.ground.lay(class, ask, scratch)];
            if let Some(old) = &old {
                found.extend(engine.refit(&old.shape, prices, &limits));
                for _ in 0..VARIANTS {
                    let mut limits = room(problem, self.target);
                    for &(item, n) in &old.counts {
                        if rng.random_range(0..LEFT_OUT) == 0 {
                            limits[item] = n - 1;
                        }
                    }
                    found.extend(engine.refit(&old.shape, &shaken(prices, WILD, rng), &limits));
                }
            }
            work += found.iter().map(|found| found.work).sum::<u64>();
            let found: Vec<Column> = found.into_iter().filter_map(|found| Column::new(problem, class, found)).collect();
            let gain = |column: &Column| {
                let pieces = column.counts.iter().map(|&(i, n)| prices[i].saturating_mul(i64::from(n.min(wanted[i]))));
                pieces.sum::<i64>() - column.net
            };
            // An empty seat gains nothing; of equals what was there stays.
            let mut most = rival.as_ref().map_or(0, |(_, layout)| gain(layout));
            for column in old.iter().chain(&found) {
                if gain(column) > most {
                    most = gain(column);
                    state[seat] = Some(column.clone());
                }
            }
            if let (None, Some((at, layout))) = (&state[seat], rival) {
                state[at] = Some(layout);
            }
            fresh.extend(found);
        }
        work
    }

    /// A taken seat whose place an empty one may take, or none.
    fn rival(&self, state: &[Option<Column>], rng: &mut ChaCha8Rng) -> Option<usize> {
        let taken: Vec<usize> = (0..state.len()).filter(|&seat| state[seat].is_some()).collect();
        let instead = !taken.is_empty() && rng.random_bool(INSTEAD);
        instead.then(|| taken[rng.random_range(0..taken.len())])
    }

    /// A state as an answer: each layout, the worst first, made to fit what the others leave it, and what is lacking made from unused
    /// stock.
    fn answer(
        &self,
        state: &[Option<Column>],
        prices: &[i64],
        rng: &mut ChaCha8Rng,
        scratch: &mut Scratch,
    ) -> (Solution, u64) {
        let (problem, target) = (self.ground.problem, self.target);
        let mut answer = Solution::empty(problem);
        let mut order: Vec<&Column> = state.iter().flatten().collect();
        order.sort_by_key(|column| Reverse(column.reduced_cost(prices)));
        let mut left = left(target, state);
        for column in order {
            column.counts.iter().for_each(|&(item, n)| left[item] += i64::from(n));
            let limits = room(problem, &at_least_none(&left));
            if let Some((placed, _)) = self.ground.fitted(column, prices, &limits) {
                placed.counts.iter().for_each(|&(item, n)| left[item] -= i64::from(n));
                answer.place(placed);
            }
        }
        let mut work = 0;
        if !answer.complete(problem, target) && !(self.stop)() {
            let mut spare: Vec<Candidate> = self.ground.unused(&answer);
            while spare.len() > COMPLETERS {
                spare.swap_remove(rng.random_range(0..spare.len()));
            }
            let wish = Wish { target, prices, judge: Judge::Profit, effort: FILLING, stop: self.stop };
            work = construct(self.ground, &mut answer, wish, &spare, scratch);
        }
        (answer, work)
    }
}

/// Pieces of `target` that a state leaves wanted, by item; below zero where it has too many.
fn left(target: &[u32], state: &[Option<Column>]) -> Vec<i64> {
    let mut left: Vec<i64> = target.iter().map(|&n| i64::from(n)).collect();
    for &(item, n) in state.iter().flatten().flat_map(|column| &column.counts) {
        left[item] -= i64::from(n);
    }
    left
}

/// The same, none where it has too many.
fn wanted(target: &[u32], state: &[Option<Column>]) -> Vec<u32> {
    at_least_none(&left(target, state))
}

fn at_least_none(left: &[i64]) -> Vec<u32> {
    left.iter().map(|&n| u32::try_from(n).unwrap_or(0)).collect()
}

/// No layout on a seat.
const NOTHING: u32 = u32::MAX;

/// One of `n` numbers, from an even draw of 32 bits.
const fn below(drawn: u64, n: usize) -> usize {
    ((drawn * n as u64) >> 32) as usize
}

/// A state while it is annealed.
struct Cast<'a> {
    known: &'a Bare,
    /// By seat: where the layouts of its class begin in `known`, and how many there are.
    places: Vec<(u32, u32)>,
    /// By seat: the layout there at first; its number comes after those of the class.
    first: Bare,
    /// By seat: the number of its layout.
    taken: Vec<u32>,
    /// Pieces still wanted, by item; below zero where there are too many.
    left: Vec<i32>,
    /// What a piece is worth, and what one costs that is lacking.
    worth: Vec<f64>,
    prices: Vec<f64>,
    /// What the layouts cost together, and what is lacking.
    net: f64,
    lacking: i32,
    for_lacking: f64,
}

/// What layouts yield, and their costs less credit, close together.
#[derive(Default)]
struct Bare {
    pieces: Vec<(u32, i32)>,
    /// By layout: where its pieces end.
    ends: Vec<u32>,
    nets: Vec<f64>,
}

impl Bare {
    fn push(&mut self, column: Option<&Column>) {
        let pieces = column.into_iter().flat_map(|column| &column.counts);
        self.pieces.extend(pieces.map(|&(item, n)| (item as u32, n as i32)));
        self.ends.push(self.pieces.len() as u32);
        self.nets.push(column.map_or(0.0, |column| column.net as f64));
    }

    fn pieces(&self, at: usize) -> &[(u32, i32)] {
        let begin = at.checked_sub(1).map_or(0, |before| self.ends[before]);
        &self.pieces[begin as usize..self.ends[at] as usize]
    }
}

impl<'a> Cast<'a> {
    fn new(round: &'a Round, state: &[Option<Column>], worth: &[i64], share: f64) -> Cast<'a> {
        let places: Vec<(u32, u32)> = round.seats.iter().map(|&class| round.places[class]).collect();
        let taken = state.iter().zip(&places);
        let taken = taken.map(|(column, place)| if column.is_some() { place.1 } else { NOTHING }).collect();
        let mut first = Bare::default();
        state.iter().for_each(|column| first.push(column.as_ref()));
        let left: Vec<i32> = left(round.target, state).iter().map(|&n| n as i32).collect();
        let mut cast = Cast {
            known: &round.bare,
            places,
            first,
            taken,
            lacking: left.iter().map(|&n| n.max(0)).sum(),
            left,
            worth: worth.iter().map(|&price| price as f64).collect(),
            prices: Vec::new(),
            net: state.iter().flatten().map(|column| column.net as f64).sum(),
            for_lacking: 0.0,
        };
        cast.harden(share);
        cast
    }

    /// What is lacking costs its worth and such a share on top from now on.
    fn harden(&mut self, share: f64) {
        self.prices.clear();
        self.prices.extend(self.worth.iter().map(|worth| worth * (1.0 + share)));
        self.for_lacking = self.left.iter().zip(&self.prices).map(|(&n, price)| f64::from(n.max(0)) * price).sum();
    }

    fn cost(&self) -> f64 {
        self.net + self.for_lacking
    }

    /// Layouts known for a seat, but for the one there at first.
    fn known(&self, seat: usize) -> usize {
        self.places[seat].1 as usize
    }

    /// Pieces and net cost of a layout by its number on a seat.
    fn layout(&self, seat: usize, number: u32) -> (&[(u32, i32)], f64) {
        let (begin, count) = self.places[seat];
        if number == NOTHING {
            (&[], 0.0)
        } else if number == count {
            (self.first.pieces(seat), self.first.nets[seat])
        } else {
            let at = (begin + number) as usize;
            (self.known.pieces(at), self.known.nets[at])
        }
    }

    /// Puts another layout on a seat, or none, if the state does not get dearer by more than `most`; says whether it did.
    fn put(&mut self, seat: usize, new: u32, most: f64) -> bool {
        let mut left = std::mem::take(&mut self.left);
        let (old, old_net) = self.layout(seat, self.taken[seat]);
        let (new_pieces, new_net) = self.layout(seat, new);
        let (mut more, mut for_lacking) = (0, 0.0);
        for &(item, n) in old {
            let left = &mut left[item as usize];
            let lacks = (*left + n).max(0) - (*left).max(0);
            more += lacks;
            for_lacking += f64::from(lacks) * self.prices[item as usize];
            *left += n;
        }
        for &(item, n) in new_pieces {
            let left = left[item as usize];
            let spared = left.max(0) - (left - n).max(0);
            more -= spared;
            for_lacking -= f64::from(spared) * self.prices[item as usize];
        }
        let net = new_net - old_net;
        let done = net + for_lacking <= most;
        let stays = if done { new_pieces } else { old };
        stays.iter().for_each(|&(item, n)| left[item as usize] -= n);
        self.left = left;
        if done {
            self.taken[seat] = new;
            self.net += net;
            self.for_lacking += for_lacking;
            self.lacking += more;
        }
        done
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nesting::engine::Engine;
    use crate::nesting::problem::{Item, Kind, Product, StickStock, Stock, never};
    use crate::nesting::solution::Placed;

    /// Three sticks of 10 for pieces of 6, 4, 5 and 5: the layouts 6 + 4 and 5 + 5 are known, the best answer so far takes
    /// a stick more. Two sticks are the least, since the pieces are 20 long together.
    #[test]
    fn known_layouts_are_put_together_to_a_cheaper_answer() {
        let stick = |pieces| StickStock { length: 10, trim: 0, kerf: 0, pieces };
        let stock = Stock {
            count: 3,
            cost: 1_000_000,
            credit: None,
            kind: Kind::Stick(stick(vec![(0, 6), (1, 4), (2, 5)])),
            together: vec![],
            wider: None,
        };
        let product = |copies| Product { copies, finished: 1, priority: 0, value: 1 };
        let problem = Problem {
            items: vec![Item::alone(0, 1, 6, 1), Item::alone(1, 1, 4, 1), Item::alone(2, 2, 5, 1)],
            products: vec![product(1), product(1), product(2)],
            stock: vec![stock],
        };
        let engines = vec![Engine::new(&problem.stock[0])];
        let ground = Ground { problem: &problem, engines: &engines };
        let prices = vec![600_000, 400_000, 500_000];
        let cut = |limits: &[u32]| {
            let found = engines[0].best_within(&prices, limits, &mut Scratch::default(), Effort::EXACT);
            Column::new(&problem, 0, found).expect("pieces fit")
        };
        let mut best = Solution::empty(&problem);
        [[1, 0, 0], [0, 1, 1], [0, 0, 1]].iter().for_each(|limits| best.place(Placed::from(&cut(limits))));
        let columns = [cut(&[1, 1, 0]), cut(&[0, 0, 2])];
        let mut recombination = Recombination::new(&problem, 1, Sought::Cheapness);
        let target = [1, 1, 2];
        let (answers, _) = recombination.round(&ground, &target, &columns, &prices, &best, &never);
        assert_eq!(answers.len(), WANDERERS + SETTLERS + RENEWERS);
        for answer in &answers[..WANDERERS + SETTLERS] {
            assert!(answer.complete(&problem, &target));
            assert_eq!((answer.cost, answer.placed.len()), (2_000_000, 2));
        }
        // A renewer keeps a stick as it is, so that it comes to two only where the others make that one superfluous; it never ends
        // dearer than it began.
        let mut least = i64::MAX;
        for _ in 0..8 {
            let (answers, _) = recombination.round(&ground, &target, &columns, &prices, &best, &never);
            for answer in &answers[WANDERERS + SETTLERS..] {
                assert!(answer.complete(&problem, &target) && answer.cost <= best.cost);
                least = least.min(answer.cost);
            }
        }
        assert_eq!(least, 2_000_000);
    }
}
