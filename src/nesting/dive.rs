//! Whole answers from the relaxation: fix the layouts it is surest of, price the rest anew, again and again.
//!
//! A diving heuristic inside column generation (in the way of Sadykov, Vanderbeck, Pessoa, Tahiri and Uchoa 2019): after
//! every fixing, new layouts within what is still wanted are priced, so that the last boards are not left with layouts made
//! for another demand. Works on any part of the stock, so that `improve` uses it on a few boards at a time.

use rayon::prelude::*;
use rustc_hash::FxHashSet;

use super::board::Effort;
use super::construct::Ground;
use super::engine::Scratch;
use super::master::{Column, relax};
use super::solution::{Placed, Solution};

/// Layouts whose share is at least this are fixed together; else the one of the greatest share alone.
const SURE: f64 = 0.85;
/// Masters solved between two fixings; before each but the last, layouts are priced.
const PRICINGS: usize = 2;
/// Effort of one pricing: good layouts, not proofs.
const DIVING: Effort = Effort { states: 4, rounds: 2, ..Effort::starts(8) };
/// Improvements below this (micro-units) are the solver's noise.
const NOISE: i64 = 100;

/// Makes as much of `target` as a dive from `left` pieces of each class of stock does; `pool` are layouts to begin with,
/// `caps` what a piece may cost at most. Ends early, with what is fixed by then, when `stop` says so. Returns the answer and
/// the number of layouts computed.
pub fn dive(
    ground: &Ground,
    target: &[u32],
    left: &[u32],
    pool: &[Column],
    caps: &[i64],
    stop: &(dyn Fn() -> bool + Sync),
) -> (Solution, u64) {
    let mut answer = Solution::empty(ground.problem);
    let mut left = left.to_vec();
    let mut calls = 0;
    let fits = |c: &Column, wanted: &[u32], left: &[u32]| left[c.stock] > 0 && c.within(wanted);
    let most = answer.room(ground.problem, target);
    let mut columns: Vec<Column> = pool.iter().filter(|c| fits(c, &most, &left)).cloned().collect();
    loop {
        let wanted = answer.wanted(target);
        if wanted.iter().all(|&n| n == 0) || stop() {
            break;
        }
        let room = answer.room(ground.problem, target);
        columns.retain(|c| fits(c, &room, &left));
        let mut seen: FxHashSet<Column> = columns.iter().cloned().collect();
        let mut taken = Vec::new();
        for pricing in 1..=PRICINGS {
            let Some(relaxed) = relax(&wanted, &left, &columns, caps) else { break };
            taken = relaxed.taken;
            if pricing == PRICINGS {
                break;
            }
            let open: Vec<usize> = (0..left.len()).filter(|&s| left[s] > 0).collect();
            calls += open.len() as u64;
            let found: Vec<Option<Column>> = open
                .par_iter()
                .map_init(Scratch::default, |scratch, &s| {
                    let effort = Effort { enough: ground.problem.stock[s].cost + relaxed.rents[s], ..DIVING };
                    let found = ground.engines[s].best_within(&relaxed.prices, &room, scratch, effort);
                    let column = Column::new(ground.problem, s, found)?;
                    (column.worth(&relaxed.prices) - column.net - relaxed.rents[s] > NOISE).then_some(column)
                })
                .collect();
            let before = columns.len();
            columns.extend(found.into_iter().flatten().filter(|c| seen.insert(c.clone())));
            if columns.len() == before {
                break;
            }
        }
        if !fix(ground, &mut answer, &mut left, target, &columns, &taken) {
            break;
        }
    }
    (answer, calls)
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
        answer.place(Placed {
            stock: column.stock,
            shape: (*column.shape).clone(),
            counts: column.counts.clone(),
            net: column.net,
        });
        fixed = true;
    }
    fixed
}
