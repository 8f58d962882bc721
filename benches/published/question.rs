//! What a row asks, read from its words, and whether it is a question of ours.
//!
//! Ours: bars in one direction; guillotine cuts in any number of stages, or in two or three with free trims from a given
//! first direction (strips along w are parted across it, by rips). Not ours: exact stages, where no trim may follow
//! (the saw trims freely); strips without the guillotine rule; glass, whose cuts keep distances, whose pieces leave in
//! order and whose plates come in order.

use flitchwork::nesting::Direction;

use super::data::{Instance, Row};
use super::plates::Manner;

/// A question the library answers.
#[derive(Clone, Copy)]
pub enum Question {
    /// All pieces from the cheapest bars.
    Bars,
    /// The most valuable pieces of one plate, copies unlimited.
    Fullest(Manner),
    /// The same, copies bounded.
    Filled(Manner),
    /// Whether all pieces fit one plate.
    Fits(Manner),
    /// All pieces from as few plates as possible.
    Fewest(Manner),
    /// The most valuable pieces of several plates.
    MostValuable(Manner),
    NotOurs,
}

/// The question of a row, and its name for the table.
pub fn of(row: &Row, instance: &Instance) -> (Question, &'static str) {
    let says = |words: &str| row.variant.contains(words);
    let Instance::Plates { plate, defects, .. } = instance else {
        return match instance {
            Instance::Bars { .. } => (Question::Bars, "fewest bars"),
            Instance::ManyBars { .. } => (Question::Bars, "cheapest bars"),
            _ => (Question::NotOurs, "glass: cut distances, order of pieces and plates"),
        };
    };
    let turns = says("rotation allowed");
    let first = if says("along h") { Direction::Cross } else { Direction::Rip };
    let (stages, first, class) = match () {
        () if says("non-guillotine") => return (Question::NotOurs, "strip without the guillotine rule"),
        () if says("general guillotine") => (0, None, 0),
        () if says("2-stage non-exact") => (2, Some(first), 1),
        () if says("3-stage non-exact") => (3, Some(first), 2),
        () => return (Question::NotOurs, "exact stages: no trim"),
    };
    let kerf = row.variant.split("kerf ").nth(1).and_then(|rest| rest.split(',').next()?.parse().ok()).unwrap_or(0);
    let manner = Manner { stages, first, turns, kerf };
    let named = |question, names: [&'static str; 3]| (question, names[class]);
    match () {
        () if row.sense == "feasibility" => named(Question::Fits(manner), ["one plate, fits or not"; 3]),
        () if plate.count.is_some() => named(Question::MostValuable(manner), ["several plates, most value"; 3]),
        () if row.sense == "min" => named(
            Question::Fewest(manner),
            ["fewest plates, any stages", "fewest plates, 2 stages", "fewest plates, 3 stages"],
        ),
        () if says("unconstrained") && !defects.is_empty() => {
            named(Question::Fullest(manner), ["one plate with defects, cut as a board"; 3])
        }
        () if says("unconstrained") => named(
            Question::Fullest(manner),
            ["one plate, copies unlimited, any stages", "one plate, copies unlimited, 2 stages", "one plate, 3 stages"],
        ),
        () => named(
            Question::Filled(manner),
            ["one plate, copies bounded, any stages", "one plate, copies bounded, 2 stages", "one plate, 3 stages"],
        ),
    }
}
