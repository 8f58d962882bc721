//! Is everything made, or said to be missing? Copies, shortages, totals, status.
//!
//! A copy counts as made when any blank is for it; a copy of which a layer is missing is reported by `glue`. Which copies
//! a short plan should have preferred is not judged.

use std::collections::BTreeMap;

use crate::plan::Status;

use super::walk::View;
use super::{Findings, Rule};

/// Copies made of each part, by index in the job: distinct copies that were asked for.
pub(super) fn made(view: &View) -> BTreeMap<usize, u32> {
    let mut made = BTreeMap::new();
    for &(part, copy) in view.copies().keys() {
        if (1..=view.job.parts[part].qty).contains(&copy) {
            *made.entry(part).or_insert(0) += 1;
        }
    }
    made
}

/// Shortages against copies made; totals; status.
pub(super) fn check(view: &View, found: &mut Findings) {
    check_shortage_rows(view, found);
    let made = made(view);
    for (index, part) in view.job.parts.iter().enumerate() {
        let missing = part.qty - made.get(&index).copied().unwrap_or(0);
        let rows = view.plan.shortages.iter().filter(|row| row.part == part.id);
        let listed: u64 = rows.map(|row| u64::from(row.missing)).sum();
        if listed != u64::from(missing) {
            let detail = format!("{missing} of {} are not made, {listed} are listed as missing", part.qty);
            found.add(Rule::ShortageCount, format!("part \"{}\"", part.id), detail);
        }
    }
    let required: u64 = view.job.parts.iter().map(|part| u64::from(part.qty)).sum();
    let placed: u64 = made.values().map(|copies| u64::from(*copies)).sum();
    let plan = view.plan;
    if u64::from(plan.pieces_required) != required {
        let detail = format!("{} where the job asks for {required}", plan.pieces_required);
        found.add(Rule::PiecesRequired, "pieces_required", detail);
    }
    if u64::from(plan.pieces_placed) != placed {
        let detail = format!("{} where the trees hold {placed}", plan.pieces_placed);
        found.add(Rule::PiecesPlaced, "pieces_placed", detail);
    }
    let status = if placed == required { Status::Complete } else { Status::Short };
    if plan.status != status {
        let detail = format!("{:?} with {placed} of {required} made", plan.status).to_lowercase();
        found.add(Rule::Status, "status", detail);
    }
}

fn check_shortage_rows(view: &View, found: &mut Findings) {
    let rows = &view.plan.shortages;
    for (nth, row) in rows.iter().enumerate() {
        let place = format!("shortages[{nth}] \"{}\"", row.part);
        if !view.job.parts.iter().any(|part| part.id == row.part) {
            found.add(Rule::ShortageRow, &place, "the job has no such part");
        }
        if rows[..nth].iter().any(|before| before.part == row.part) {
            found.add(Rule::ShortageRow, &place, "listed before");
        }
        if row.missing == 0 {
            found.add(Rule::ShortageRow, &place, "nothing is missing");
        }
        if row.why.trim().is_empty() || row.buy.trim().is_empty() {
            found.add(Rule::ShortageRow, &place, "no reason, or nothing to buy");
        }
    }
}
