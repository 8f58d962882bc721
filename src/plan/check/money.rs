//! The figures of the plan: credit of each piece of stock, cost, bound, gap, proven, stop.
//!
//! All are worked out from the pile and the trees; a stated amount is right when it prints as the exact one does. The
//! bound is printed rounded down, so it may lie up to a hundredth under the one that was proven. The gap is a float and
//! is compared with a tolerance: half of its fourth decimal, and what printing cost and bound to hundredths can move it.

use num_traits::{Signed, ToPrimitive, Zero};

use crate::measure::{Money, Rational, decimal_from_f64};
use crate::plan::Stop;

use super::walk::View;
use super::{Findings, Rule, offcuts, prints_alike, stock};

/// Credit, cost, bound, gap, proven, stop. `broken` is the worth of the matches found broken.
pub(super) fn check(view: &View, broken: &Money, found: &mut Findings) {
    let mut cost = broken.clone();
    for piece in &view.stock {
        let credit = offcuts::earned(view, piece);
        let entry = piece.entry;
        let price = piece.source.map_or_else(|| entry.cost.clone(), |source| stock::price(view, source, entry.copy));
        if !prints_alike(&piece.entry.credit, &credit) {
            let detail = format!("{} where its offcuts earn {credit}", piece.entry.credit);
            found.add(Rule::StockCredit, &piece.place, detail);
        }
        cost += price - credit;
    }
    let plan = view.plan;
    if !prints_alike(&plan.cost, &cost) {
        let detail = format!("{} where stock, broken matches and credit come to {cost}", plan.cost);
        found.add(Rule::Cost, "cost", detail);
    }
    if plan.bound.cents_floor() > cost.cents_floor() {
        found.add(Rule::Bound, "bound", format!("{} is above the cost of {cost}", plan.bound));
    }
    check_gap(view, &cost, found);
    check_proven(view, &cost, found);
}

fn check_gap(view: &View, cost: &Money, found: &mut Findings) {
    let plan = view.plan;
    let cost = cost.as_rational();
    let gap = if cost.is_positive() { (cost - plan.bound.as_rational()) / cost } else { Rational::zero() };
    let printing = if cost.is_positive() { fraction(2, 100) / cost } else { Rational::zero() };
    let tolerance = fraction(5, 100_000) + printing;
    let off = decimal_from_f64(plan.gap).map(|stated| (stated - &gap).abs());
    if off.is_none_or(|off| off > tolerance) {
        let gap = gap.to_f64().unwrap_or(f64::NAN);
        found.add(Rule::Gap, "gap", format!("{} where (cost - bound) / cost is {gap:.6}", plan.gap));
    }
}

fn check_proven(view: &View, cost: &Money, found: &mut Findings) {
    let plan = view.plan;
    let cost = cost.as_rational();
    let open = cost - plan.bound.as_rational();
    let closed = fraction(1, 100).max(fraction(5, 10_000) * cost);
    if plan.proven && open > &closed + fraction(1, 100) {
        let detail = format!("said to be proven, {} below {} is open", plan.bound, plan.cost);
        found.add(Rule::Proven, "proven", detail);
    }
    if !plan.proven && open <= closed {
        let detail = format!("not said to be proven, the bound {} meets the cost {}", plan.bound, plan.cost);
        found.add(Rule::Proven, "proven", detail);
    }
    if plan.stop == Stop::Proven && !plan.proven {
        found.add(Rule::Stop, "stop", "ended as proven, and is not said to be proven");
    }
}

fn fraction(numerator: i64, denominator: i64) -> Rational {
    Rational::new(numerator.into(), denominator.into())
}
