//! The independent checker: is a finished plan lawful?
//!
//! Decides from what the three files say (job, pile, plan) and re-derives every rule from scratch. Shares no code with
//! the modules that make plans: only the types and arithmetic of `measure`, `pile`, `job` and the plan's own types are
//! used, and the yard's tally is worked out again in `tally`. Each file here holds one concern. All breaches are
//! gathered, none stops the search for the next, save lengths so absurd that no sum of them could be trusted.
//! Invariant: nothing is decided by a float, except that `gap` is compared with a stated tolerance.

mod blank;
mod board;
mod counts;
mod cuts;
mod faces;
mod glue;
mod glue_sheet;
mod matching;
mod money;
mod offcuts;
mod report;
mod rule;
mod sheet;
mod stock;
mod tally;
mod tree;
mod walk;

use std::fmt;

use crate::job::Job;
use crate::measure::{Length, Money, Rational, Units};
use crate::pile::Pile;

use super::ShopPlan;

pub use report::{Breach, Report};
pub use rule::Rule;

/// One breach of one rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Violation {
    /// The rule.
    pub rule: Rule,
    /// Where: `stock[2] "C-04" copy 1: section 1, strip 2, blank rail 3`.
    pub place: String,
    /// What is wrong, with figures in the job's units.
    pub detail: String,
}

/// `[kerf] stock[0] "C-04" copy 1: section 2: 0.1 in from its neighbour, the kerf is 0.125 in`.
impl fmt::Display for Violation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "[{}] {}: {}", self.rule.code(), self.place, self.detail)
    }
}

/// Every breach of every rule, in the order of the plan; empty for a lawful plan.
///
/// `job` and `pile` are taken as read and found good. Cost: O(cuts x blanks of each piece of stock), small beside the
/// search for a plan.
pub fn check(job: &Job, pile: &Pile, plan: &ShopPlan) -> Vec<Violation> {
    let mut found = Findings { units: job.units, list: Vec::new() };
    stock::check_head(job, plan, &mut found);
    if !walk::lengths_are_sane(plan, &mut found) {
        return found.list;
    }
    let view = walk::View::of(job, pile, plan, &mut found);
    stock::check(&view, &mut found);
    tree::check(&view, &mut found);
    blank::check(&view, &mut found);
    board::check(&view, &mut found);
    sheet::check(&view, &mut found);
    faces::check(&view, &mut found);
    glue::check(&view, &mut found);
    counts::check(&view, &mut found);
    let broken = matching::check(&view, &mut found);
    offcuts::check(&view, &mut found);
    money::check(&view, &broken, &mut found);
    cuts::check(&view, &mut found);
    found.list
}

/// The worth of the matches that a plan breaks.
pub fn broken_matches(job: &Job, pile: &Pile, plan: &ShopPlan) -> Money {
    let mut found = Findings { units: job.units, list: Vec::new() };
    let view = walk::View::of(job, pile, plan, &mut found);
    matching::check(&view, &mut found)
}

/// The breaches found so far, and how to put figures into words.
struct Findings {
    units: Units,
    list: Vec<Violation>,
}

impl Findings {
    fn add(&mut self, rule: Rule, place: impl Into<String>, detail: impl Into<String>) {
        self.list.push(Violation { rule, place: place.into(), detail: detail.into() });
    }

    /// A length in the job's units: `0.125 in`.
    fn len(&self, length: Length) -> String {
        format!("{} {}", length.to_f64(self.units), self.units.symbol())
    }

    /// An exact number of ticks in the job's units, to six decimals, for figures that are no whole tick.
    fn ticks(&self, ticks: &Rational) -> String {
        let millionths = (ticks * Rational::from_integer(1_000_000.into())
            / Rational::from_integer(self.units.ticks().into()))
        .round()
        .to_integer();
        let units = Rational::new(millionths, 1_000_000.into());
        let float = num_traits::ToPrimitive::to_f64(&units).unwrap_or(f64::NAN);
        format!("{float} {}", self.units.symbol())
    }
}

/// True when a stated amount prints as the exact one does: each printed figure is rounded once, from its exact value.
fn prints_alike(stated: &Money, exact: &Money) -> bool {
    stated.cents() == exact.cents()
}

/// Words compare without case or extra spaces.
fn same_words(left: &str, right: &str) -> bool {
    let plain = |text: &str| text.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>();
    plain(left) == plain(right)
}

/// A whole number of ticks as an exact fraction.
fn exact(length: Length) -> Rational {
    Rational::from_integer(length.ticks().into())
}
