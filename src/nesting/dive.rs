//! Whole answers from the relaxation: fix the layouts it is surest of, price the rest anew, again and again.
//!
//! A diving heuristic inside column generation (in the way of Sadykov, Vanderbeck, Pessoa, Tahiri and Uchoa 2019): after
//! every fixing, new layouts within what is still wanted are priced, so that the last boards are not left with layouts made
//! for another demand. Works on any part of the stock.

use rayon::prelude::*;
use rustc_hash::FxHashSet;

use super::board::{Ask, Effort};
use super::construct::Ground;
use super::engine::Scratch;
use super::master::{Column, pieces, relax};
use super::pack::{Aim, Known, Spend, Task, pack};
use super::problem::{Stop, never};
use super::solution::{Placed, Solution};

/// Layouts whose share is at least this are fixed together; else the one of the greatest share alone.
const SURE: f64 = 0.85;
/// Masters solved between two fixings; before each but the last, layouts are priced.
const PRICINGS: usize = 6;
/// Effort of one pricing: good layouts, not proofs.
const DIVING: Effort = Effort { states: 2, rounds: 2, ..Effort::starts(16) };
/// Pricing stops when a round gains no more than this share of the whole cost.
const LITTLE: f64 = 3e-4;
/// The end of a dive begins when what is left costs about as much as so many average pieces of stock.
const FINISH: f64 = 5.0;
/// Classes of stock that the end of a dive may use, and the work on it.
const SEATS: usize = 9;
const FINISHING: u64 = 6_000;
/// Improvements below this (micro-units) are the solver's noise.
const NOISE: i64 = 100;

/// Makes as much of `target` as a dive from `left` pieces of each class of stock does; it begins
/// with the layouts of `known`. Ends early, with what is fixed by then, when `stop` says so. Returns the answer and the work
/// spent. The last pieces of stock are packed by branch and price, if all comes to less than `cutoff`.
pub fn dive(ground: &Ground, target: &[u32], left: &[u32], known: &Known, cutoff: i64, stop: Stop) -> (Solution, u64) {
    let mut answer = Solution::empty(ground.problem);
    let mut left = left.to_vec();
    let (mut work, mut tried) = (0, false);
    let mut memories = known.memories.to_vec();
    let fits = |c: &Column, wanted: &[u32], left: &[u32]| left[c.stock] > 0 && c.within(wanted);
    let most = answer.room(ground.problem, target);
    let mut columns: Vec<Column> = known.columns.iter().filter(|c| fits(c, &most, &left)).cloned().collect();
    loop {
        let wanted = answer.wanted(target);
        if wanted.iter().all(|&n| n == 0) || stop() {
            break;
        }
        let room = answer.room(ground.problem, target);
        columns.retain(|c| fits(c, &room, &left));
        let mut seen: FxHashSet<Column> = columns.iter().cloned().collect();
        let (mut taken, mut value) = (Vec::new(), f64::INFINITY);
        for pricing in 1..=PRICINGS {
            let Some(relaxed) = relax(&wanted, &pieces(&left), &columns, known.caps) else { break };
            let little = value - relaxed.value < LITTLE * (answer.cost as f64 + relaxed.value);
            value = relaxed.value;
            taken = relaxed.taken;
            if pricing > 2 && little {
                break;
            }
            if pricing == PRICINGS {
                break;
            }
            let found: Vec<(u64, Option<Column>)> = memories
                .par_iter_mut()
                .enumerate()
                .filter(|(s, _)| left[*s] > 0)
                .map_init(Scratch::default, |scratch, (s, memory)| {
                    let effort = Effort { enough: ground.problem.stock[s].cost + relaxed.rents[s], ..DIVING };
                    let found = ground.engines[s].laying(
                        Ask { prices: &relaxed.prices, limits: &room, effort, stop: &never },
                        memory,
                        scratch,
                    );
                    let spent = found.work;
                    let gains = |c: &Column| c.worth(&relaxed.prices) - c.net - relaxed.rents[s] > NOISE;
                    (spent, Column::new(ground.problem, s, found).filter(gains))
                })
                .collect();
            work += found.iter().map(|f| f.0).sum::<u64>();
            let before = columns.len();
            columns.extend(found.into_iter().filter_map(|f| f.1).filter(|c| seen.insert(c.clone())));
            if columns.len() == before {
                break;
            }
        }
        if !tried && value < FINISH * answer.cost.max(1) as f64 / answer.placed.len().max(1) as f64 {
            tried = true;
            let now = Known { columns: &columns, memories: &memories, ..*known };
            let (end, spent) = finished(ground, &wanted, &left, &taken, &now, cutoff - answer.cost, stop);
            work += spent;
            if let Some(end) = end {
                end.placed.into_iter().for_each(|placed| answer.place(placed));
                break;
            }
        }
        if !fix(ground, &mut answer, &mut left, target, &columns, &taken) {
            break;
        }
    }
    (answer, work)
}

/// The end of a dive by branch and price, from the pieces of stock that the relaxation takes most of; they must make all
/// that is wanted for less than `cutoff`.
fn finished(
    ground: &Ground,
    wanted: &[u32],
    left: &[u32],
    taken: &[f64],
    known: &Known,
    cutoff: i64,
    stop: Stop,
) -> (Option<Solution>, u64) {
    let mut share = vec![0.0; left.len()];
    taken.iter().zip(known.columns).for_each(|(taken, column)| share[column.stock] += taken);
    let mut order: Vec<usize> = (0..left.len()).filter(|&s| left[s] > 0).collect();
    order.sort_by(|&a, &b| share[b].total_cmp(&share[a]).then(a.cmp(&b)));
    let mut stock = vec![0; left.len()];
    for &s in order.iter().take(SEATS) {
        stock[s] = left[s].min((share[s].ceil() as u32).max(1));
    }
    let task = Task { target: wanted, stock: &stock, aim: Aim::Answer };
    let packing = pack(ground, &task, known, Spend { cutoff, until: None, sought: 0, budget: FINISHING }, stop);
    (packing.answer, packing.work)
}

/// Takes the surest layouts into the answer; false when there is none to take.
fn fix(
    ground: &Ground,
    answer: &mut Solution,
    left: &mut [u32],
    target: &[u32],
    columns: &[Column],
    taken: &[f64],
) -> bool {
    let mut order: Vec<usize> = (0..taken.len().min(columns.len())).filter(|&c| taken[c] > 1e-6).collect();
    order.sort_by(|&a, &b| taken[b].total_cmp(&taken[a]).then(a.cmp(&b)));
    let mut fixed = false;
    for c in order {
        let column = &columns[c];
        if fixed && taken[c] < SURE {
            break;
        }
        if left[column.stock] == 0 || !column.within(&answer.room(ground.problem, target)) {
            continue;
        }
        left[column.stock] -= 1;
        answer.place(Placed::from(column));
        fixed = true;
    }
    fixed
}
