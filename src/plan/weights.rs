//! What parts and pieces of stock weigh, from the density of their wood.
//!
//! Figures for people, to two decimals, so in floats. Solid wood is taken at its species' density at the shop's moisture
//! content, veneer plywood at that of oak-faced plywood. A wood without a known density has no weight: it is named in a
//! caution and never guessed.

use super::WeightRow;
use super::case::{Case, Use};
use crate::job::{Part, Wanted};
use crate::measure::Length;
use crate::trade::species::{self, Species};
use crate::trade::weight::{KILOGRAMS_PER_POUND, OAK_PLYWOOD, cubic_feet, piece_pounds};

/// The weights of the parts of the job, in its order; the woods that have none.
pub(super) fn list(case: &Case) -> (Vec<WeightRow>, Vec<String>) {
    let (mut rows, mut unknown): (Vec<WeightRow>, Vec<String>) = (Vec::new(), Vec::new());
    for (index, part) in case.job.parts.iter().enumerate() {
        match part_pounds(case, part) {
            Some(pounds) => rows.push(WeightRow {
                part: part.id.clone(),
                pounds: two_decimals(pounds),
                kilograms: two_decimals(pounds * KILOGRAMS_PER_POUND),
            }),
            None => {
                let wood = case.wood_of(index).to_owned();
                if !unknown.contains(&wood) {
                    unknown.push(wood);
                }
            }
        }
    }
    (rows, unknown)
}

/// Pounds of one finished copy, its tenons taken at full section.
pub(super) fn part_pounds(case: &Case, part: &Part) -> Option<f64> {
    let (Wanted::Species(wood) | Wanted::Material(wood)) = &part.stock;
    pounds(case, wood, None, [part.full_length(), part.width, part.thickness])
}

/// Pounds of a piece of stock as it is pulled from the pile.
pub(super) fn stock_pounds(case: &Case, used: &Use) -> Option<f64> {
    let piece = case.piece(used.source);
    let moisture = case.board(used.source).and_then(|board| board.moisture);
    pounds(case, piece.wood, moisture, [piece.length, piece.width, piece.thickness])
}

fn pounds(case: &Case, wood: &str, moisture: Option<f64>, [length, width, thickness]: [Length; 3]) -> Option<f64> {
    let moisture = moisture.unwrap_or(case.job.shop.climate.build_moisture);
    match substance(wood)? {
        Substance::Solid(species) => Some(piece_pounds(species, moisture, length, width, thickness)),
        Substance::Plywood => Some(OAK_PLYWOOD.value * cubic_feet(length, width, thickness)),
    }
}

enum Substance {
    Solid(&'static Species),
    Plywood,
}

/// What a species or material is made of. A material names its wood first (`ash square`), so words are dropped from the
/// end until the rest is a species.
fn substance(wood: &str) -> Option<Substance> {
    let words: Vec<&str> = wood.split_whitespace().collect();
    let is_ply = |word: &&str| ["ply", "plywood"].contains(&word.to_lowercase().as_str());
    if words.iter().any(is_ply) {
        return Some(Substance::Plywood);
    }
    let found = (1..=words.len()).rev().find_map(|count| species::find(&words[..count].join(" ")));
    found.map(Substance::Solid)
}

fn two_decimals(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
