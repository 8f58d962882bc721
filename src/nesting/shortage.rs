//! What is missing and provably had to be.
//!
//! For each product alone: no piece of stock yields more of an item than its best layout at a price of one for it and
//! nothing for all else says, so the stock together makes at most the sum. When that sum allows no more copies than were
//! made, the shortage is proven. What several products take from each other is not judged here.

use super::board::Effort;
use super::construct::Ground;
use super::engine::Scratch;
use super::solve::items_of;

/// By item: the copies of its product that are missing cannot be made from this stock, whatever else is made.
pub fn proven(ground: &Ground, copies: &[u32]) -> Vec<bool> {
    let problem = ground.problem;
    let product_proven: Vec<bool> = (0..problem.products.len())
        .map(|p| copies[p] < problem.products[p].copies && most_copies(ground, p) <= u64::from(copies[p]))
        .collect();
    problem.items.iter().map(|item| product_proven[item.product]).collect()
}

/// The most copies of product `p` that all the stock could make of it alone.
fn most_copies(ground: &Ground, p: usize) -> u64 {
    let problem = ground.problem;
    let items = problem.items.iter().enumerate().filter(|(_, item)| item.product == p);
    items.map(|(i, item)| most_pieces(ground, i) / u64::from(item.per_copy)).min().unwrap_or(0)
}

fn most_pieces(ground: &Ground, item: usize) -> u64 {
    let problem = ground.problem;
    let mut scratch = Scratch::default();
    let mut most = 0;
    for (engine, stock) in ground.engines.iter().zip(&problem.stock) {
        if !items_of(&stock.kind).contains(&item) {
            continue;
        }
        // A price that all the credit of a piece of stock does not reach, so that the upper value counts pieces.
        let price = stock.cost.max(1).saturating_mul(2);
        let mut prices = vec![0; problem.items.len()];
        prices[item] = price;
        let upper = engine.best(&prices, &mut scratch, Effort::EXACT).upper.max(0);
        most += (upper / price) as u64 * u64::from(stock.count);
    }
    most
}
