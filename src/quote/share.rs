//! Which part caused which stock: its own blanks, and its share of the waste of every piece they are cut from.
//!
//! A piece of stock is charged to the parts cut from it in proportion to the area of their blanks in it, so that each bears
//! the waste of its own boards and of no other; the leaves of a resawn blank part it by their thickness. Shares are exact
//! and add up to what the stock is charged at.

use std::collections::BTreeMap;

use crate::job::Job;
use crate::measure::Length;
use crate::measure::{Area, Money, Rational};
use crate::pile::value::billing;
use crate::pile::{Pile, same_words};
use crate::plan::{Leaf, Node, Role, ShopPlan, StockKind};

/// One piece of stock, and who pays for it.
#[derive(Clone, Debug, PartialEq)]
pub struct StockShare {
    pub id: String,
    pub copy: u32,
    pub kind: StockKind,
    /// Species or material.
    pub wood: String,
    /// What it costs in the pile.
    pub cost: Money,
    /// Credit of its kept offcuts that is taken off; nothing unless the shop gives it.
    pub credit: Money,
    /// What is charged for it: cost less credit.
    pub charged: Money,
    /// Area of its blanks over its whole area.
    pub used: Rational,
    /// By part: its share of the charge. The shares add up to one.
    pub shares: BTreeMap<String, Rational>,
}

/// The stock one part caused.
#[derive(Clone, Debug, PartialEq)]
pub struct PartShare {
    pub part: String,
    /// Sub-assembly.
    pub group: Option<String>,
    /// Copies made.
    pub made: u32,
    /// What its stock is charged at, all copies.
    pub material: Money,
}

/// The stock one sub-assembly caused.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupShare {
    /// None for parts of no group.
    pub group: Option<String>,
    /// Finished pieces.
    pub pieces: u32,
    pub material: Money,
}

/// Every piece of stock of a lawful plan.
pub(super) fn stock(pile: &Pile, plan: &ShopPlan, credited: bool) -> Vec<StockShare> {
    let billed = billing(pile);
    let priced = |id: &str, copy: u32| -> (Money, String) {
        let board = pile.boards.iter().position(|board| board.id == id);
        let sheet = pile.sheets.iter().find(|sheet| sheet.id == id);
        let stick = pile.sticks.iter().find(|stick| stick.id == id);
        match (board, sheet, stick) {
            (Some(b), _, _) => (billed[b].copy(copy - 1).cost.clone(), pile.boards[b].species.clone()),
            (_, Some(sheet), _) => (sheet.cost.clone(), sheet.material.clone()),
            (_, _, Some(stick)) => (stick.cost.clone(), stick.material.clone()),
            // The checker found the plan's stock in this pile.
            (None, None, None) => unreachable!("a lawful plan cuts stock of its pile"),
        }
    };
    let shares = plan.stock.iter().map(|piece| {
        let (cost, wood) = priced(&piece.id, piece.copy);
        // A plan states credit in cents; a plan in memory is taken at what its file would say.
        let credit = if credited { Money::from_micros(piece.credit.cents() * 10_000) } else { Money::zero() };
        let (own, blanks) = blanks(&piece.tree);
        StockShare {
            id: piece.id.clone(),
            copy: piece.copy,
            kind: piece.kind,
            wood,
            charged: cost.clone() - credit.clone(),
            cost,
            credit,
            used: blanks.share_of(piece.tree.length * piece.tree.width),
            shares: own.into_iter().map(|(part, area)| (part, area / rational(blanks))).collect(),
        }
    });
    shares.collect()
}

fn rational(area: Area) -> Rational {
    Rational::from_integer(area.square_ticks().into())
}

/// The blanks' area in square ticks by part, and in all.
fn blanks(tree: &Node<Length>) -> (BTreeMap<String, Rational>, Area) {
    let mut own = BTreeMap::new();
    let mut all = Area::ZERO;
    gather(tree, &mut own, &mut all);
    (own, all)
}

fn gather(node: &Node<Length>, own: &mut BTreeMap<String, Rational>, all: &mut Area) {
    if node.role == Some(Role::Blank) {
        let area = node.length * node.width;
        *all += area;
        if let Some(part) = &node.part {
            *own.entry(part.clone()).or_default() += rational(area);
        }
        let thick: i64 = node.leaves.iter().map(|leaf| leaf.thickness.ticks()).sum();
        for Leaf { part, thickness, .. } in &node.leaves {
            let share = Rational::new(thickness.ticks().into(), thick.into());
            *own.entry(part.clone()).or_default() += rational(area) * share;
        }
    }
    for child in &node.children {
        gather(child, own, all);
    }
}

/// What each part's stock is charged at; parts that are not made at all are left out.
pub(super) fn parts(job: &Job, made: &[u32], stock: &[StockShare]) -> Vec<PartShare> {
    let made = job.parts.iter().zip(made).filter(|(_, made)| **made > 0);
    let share = made.map(|(part, &made)| PartShare {
        part: part.id.clone(),
        group: part.group.clone(),
        made,
        material: stock
            .iter()
            .filter_map(|piece| piece.shares.get(&part.id).map(|share| piece.charged.times(share)))
            .sum(),
    });
    share.collect()
}

/// The parts' shares by sub-assembly.
pub(super) fn groups(parts: &[PartShare]) -> Vec<GroupShare> {
    let mut groups: Vec<GroupShare> = Vec::new();
    for part in parts {
        let same = |group: &GroupShare| match (&group.group, &part.group) {
            (Some(a), Some(b)) => same_words(a, b),
            (a, b) => a.is_none() && b.is_none(),
        };
        let at = groups.iter().position(same).unwrap_or_else(|| {
            groups.push(GroupShare { group: part.group.clone(), pieces: 0, material: Money::zero() });
            groups.len() - 1
        });
        groups[at].pieces += part.made;
        groups[at].material += part.material.clone();
    }
    groups
}
