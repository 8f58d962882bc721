//! From the optimiser's layouts to the plan of the shop.
//!
//! Puts together what the other files of this folder find: trees, copies, money, cuts, lists, cautions. Decides only
//! what stands at the head of a plan: status, cost, bound, gap. Every amount is exact until it is printed.

use super::Run;
use super::case::{Case, Use};
use super::cautions::{self, Subject};
use super::scarcity::Scarcity;
use super::tree::{self, Grown};
use super::{
    FORMAT, Length, Money, ShopPlan, Shortage, Status, StockUse, Stop, Work, copies, cuts, money, offcuts, weights,
    work,
};
use crate::measure::Rational;
use crate::milling::StockRef;
use crate::nesting::Why;

use num_traits::{Signed, ToPrimitive, Zero};

/// What a plan tells that neither the problem nor the layouts know.
pub struct Facts<'a> {
    /// What the copy (from 1) of a piece of stock costs, exactly.
    pub cost: &'a dyn Fn(StockRef, u32) -> Money,
    /// Of equal pieces, the copy (from 1) to cut from, when it must be a certain one.
    pub copy: Option<u32>,
    /// Worth of the matches that the plan breaks.
    pub broken: Money,
    /// Why the part (by its index in the job) is not all made, and what to buy for it.
    pub explain: &'a dyn Fn(usize) -> (String, String),
    /// Seed of the search.
    pub seed: u64,
    /// How the run went.
    pub run: Run,
}

/// An outcome that does not fit its problem: a fault of this program, never of its input.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum BuildError {
    #[error("the layouts yield {found} pieces of part \"{part}\", the outcome counts {said}")]
    Miscounted { part: String, said: u32, found: u32 },
    #[error("{pieces} pieces of part \"{part}\" are more than its {copies} whole copies take")]
    LooseLayers { part: String, pieces: u32, copies: u32 },
    #[error("no piece of stock \"{stock}\" is left in the pile at the price of its layout")]
    NoSuchPiece { stock: String },
    #[error("the bound of {bound} is above the cost of {cost}")]
    BoundAboveCost { bound: String, cost: String },
}

/// The plan that `case` answers.
///
/// # Errors
/// An outcome that contradicts its own problem (see [`BuildError`]).
pub fn build(case: &Case, facts: &Facts) -> Result<ShopPlan, BuildError> {
    let uses = case.uses(facts)?;
    let mut grown: Vec<Grown> = uses.iter().map(|used| tree::grow(case, used)).collect();
    let credits: Vec<Money> =
        uses.iter().zip(&mut grown).map(|(used, grown)| money::credit_offcuts(case, used, &mut grown.tree)).collect();
    let glueups = copies::label(case, &uses, &mut grown)?;
    let scarcity = Scarcity::of(case);
    let list = cuts::list(case, &uses, &grown, &scarcity);
    let work = Work {
        pull: work::pull(case, &uses, &grown, &scarcity),
        rough: list.rough,
        planer: work::planer(case, &uses, &grown),
        rips: list.rips,
        crosscuts: list.crosscuts,
        sticks: list.sticks,
    };
    let (weights, unweighed) = weights::list(case);
    let subject =
        Subject { case, uses: &uses, grown: &grown, cuts: &list.cuts, glueups: &glueups, unweighed: &unweighed };
    let cautions = cautions::list(&subject);
    let offcuts = offcuts::list(case, &uses, &grown);
    let price = price(case, &uses, &credits, facts.broken.clone())?;
    let made = case.copies_made();
    let shortages = shortages(case, facts, &made);
    Ok(ShopPlan {
        format: FORMAT.to_owned(),
        units: case.job.units,
        title: case.job.title.clone(),
        status: if shortages.is_empty() { Status::Complete } else { Status::Short },
        stop: stop(case.outcome.why),
        cost: price.cost,
        broken: price.broken,
        bound: price.bound,
        gap: price.gap,
        proven: price.proven,
        proof: case.outcome.proof.to_owned(),
        seed: facts.seed,
        run: facts.run.clone(),
        pieces_required: case.job.parts.iter().map(|part| part.qty).sum(),
        pieces_placed: made.iter().sum(),
        stock: stock(case, uses, credits, grown),
        glueups,
        shortages,
        cautions,
        cuts: list.cuts,
        work,
        offcuts,
        weights,
    })
}

fn stock(case: &Case, uses: Vec<Use>, credits: Vec<Money>, grown: Vec<Grown>) -> Vec<StockUse<Length>> {
    let entry = |((used, credit), grown): ((Use, Money), Grown)| {
        let piece = case.piece(used.source);
        StockUse {
            id: piece.id.to_owned(),
            copy: used.copy,
            kind: piece.kind,
            cost: used.cost,
            credit,
            tree: grown.tree,
        }
    };
    uses.into_iter().zip(credits).zip(grown).map(entry).collect()
}

const fn stop(why: Why) -> Stop {
    match why {
        Why::Proven => Stop::Proven,
        Why::Gap => Stop::Gap,
        Why::Time => Stop::Time,
        Why::Work => Stop::Work,
        Why::Cancelled => Stop::Cancelled,
    }
}

/// The figures at the head of a plan.
struct Price {
    cost: Money,
    broken: Money,
    bound: Money,
    gap: f64,
    proven: bool,
}

/// Cost and bound. The optimiser counts in millionths and rounds its cost up, so its bound may stand above the exact
/// cost by one of them a piece of stock; then the gap is closed. More than that is a fault.
fn price(case: &Case, uses: &[Use], credits: &[Money], broken: Money) -> Result<Price, BuildError> {
    let stock: Money = uses.iter().map(|used| used.cost.clone()).sum();
    let credit: Money = credits.iter().cloned().sum();
    let cost = stock - credit + broken.clone();
    let found = Money::from_micros(case.outcome.bound);
    let grain = Money::from_micros(uses.len() as i64 + 1);
    if found > cost.clone() + grain {
        return Err(BuildError::BoundAboveCost { bound: found.to_string(), cost: cost.to_string() });
    }
    let exact = found.min(cost.clone());
    let open = (cost.clone() - exact.clone()).as_rational().clone();
    let bound = Money::from_rational(Rational::new(exact.cents_floor().into(), 100.into()));
    Ok(Price { proven: is_proven(&open, cost.as_rational()), gap: gap(&open, cost.as_rational()), cost, broken, bound })
}

/// Within a hundredth of the currency unit or 0.05 % of the cost.
fn is_proven(open: &Rational, cost: &Rational) -> bool {
    let least = Rational::new(1.into(), 100.into());
    *open <= least.max(cost * Rational::new(1.into(), 2000.into()))
}

/// The open share of the cost, to six decimals, rounded up so that it never promises too much; none of a plan that
/// costs nothing.
fn gap(open: &Rational, cost: &Rational) -> f64 {
    if !cost.is_positive() || open.is_zero() {
        return 0.0;
    }
    let millionths = (open / cost * Rational::from_integer(1_000_000.into())).ceil().to_integer();
    millionths.to_f64().map_or(1.0, |millionths| millionths / 1_000_000.0)
}

fn shortages(case: &Case, facts: &Facts, made: &[u32]) -> Vec<Shortage> {
    let mut shortages = Vec::new();
    for (index, part) in case.job.parts.iter().enumerate() {
        let missing = part.qty.saturating_sub(made[index]);
        if missing > 0 {
            let (why, buy) = (facts.explain)(index);
            shortages.push(Shortage { part: part.id.clone(), missing, why, buy, proven: proven_short(case, index) });
        }
    }
    shortages
}

/// The optimiser has proven it for a kind of its pieces that falls short; a part it was never asked for has no proof.
fn proven_short(case: &Case, part: usize) -> bool {
    let demand = |item: usize| case.milled.problem.items[item].demand;
    let kinds = case.kinds_of(part).into_iter().flatten().map(|kind| kind.item);
    kinds.filter(|&item| case.outcome.made[item] < demand(item)).any(|item| case.outcome.shortage_proven[item])
}
