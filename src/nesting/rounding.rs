//! A whole answer from the relaxation at once: the layouts it takes most of, made to fit each other.
//!
//! Layouts are taken in the order of their shares. One that makes more than is still wanted has its strips filled again;
//! what is lacking at the end is made from unused stock by `construct`. Nothing is priced on the way, so that this is the
//! cheapest way from prices to a plan; `dive` is slower and better.

use super::colgen::Colgen;
use super::construct::{FILLING, Ground, Judge, Wish, construct};
use super::engine::Scratch;
use super::problem::never;
use super::solution::Solution;

/// A layout made to fit is taken when it still is worth this share of what it was (thousandths).
const STILL: i64 = 960;
/// Columns of a smaller share are not tried.
const LEAST_SHARE: f64 = 0.02;

/// Makes an answer; returns it and the work spent.
pub fn rounded(ground: &Ground, target: &[u32], colgen: &Colgen, scratch: &mut Scratch) -> (Solution, u64) {
    let problem = ground.problem;
    let mut answer = Solution::empty(problem);
    let taken = &colgen.taken[..colgen.taken.len().min(colgen.columns.len())];
    let mut order: Vec<usize> = (0..taken.len()).filter(|&c| taken[c] > LEAST_SHARE).collect();
    order.sort_by(|&a, &b| taken[b].total_cmp(&taken[a]).then(a.cmp(&b)));
    let mut work = 0;
    for c in order {
        let column = &colgen.columns[c];
        for _ in 0..taken[c].round().max(1.0) as u32 {
            if answer.used[column.stock] >= problem.stock[column.stock].count {
                break;
            }
            let room = answer.room(problem, target);
            let Some((placed, spent)) = ground.fitted(column, &colgen.prices, &room) else { break };
            work += spent;
            let (now, then) = (placed.worth(&colgen.prices) - placed.net, column.worth(&colgen.prices) - column.net);
            if now < then - column.worth(&colgen.prices) / 1000 * (1000 - STILL) {
                break;
            }
            answer.place(placed);
        }
    }
    if !answer.complete(problem, target) {
        let spare = ground.unused(&answer);
        let wish = Wish { target, prices: &colgen.prices, judge: Judge::Ratio, effort: FILLING, stop: &never };
        work += construct(ground, &mut answer, wish, &spare, scratch);
    }
    (answer, work)
}
