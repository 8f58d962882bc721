//! The head of the plan and its pieces of stock: format, units, identity, count, price, the whole piece as root.
//!
//! What is cut from a piece is judged elsewhere; what a board costs by the foot is worked out in `tally`.

use std::collections::BTreeSet;

use crate::job::Job;
use crate::measure::{Length, Money};
use crate::plan::{FORMAT, ShopPlan, StockKind};

use super::walk::{Piece, Source, View};
use super::{Findings, Rule, prints_alike, tally};

/// Format and units.
pub(super) fn check_head(job: &Job, plan: &ShopPlan, found: &mut Findings) {
    if plan.format != FORMAT {
        found.add(Rule::Format, "format", format!("\"{}\" where \"{FORMAT}\" is meant", plan.format));
    }
    if plan.units != job.units {
        let (plan, job) = (plan.units.symbol(), job.units.symbol());
        found.add(Rule::Units, "units", format!("the plan is in {plan}, its job in {job}"));
    }
}

/// What copy `copy` of a piece of stock costs, exactly.
pub(super) fn price(view: &View, source: Source, copy: u32) -> Money {
    match source {
        Source::Board(_, index) => tally::board_price(view.pile, index, copy),
        Source::Sheet(sheet) => sheet.cost.clone(),
        Source::Stick(stick) => stick.cost.clone(),
    }
}

/// Identity, count, price and root of every piece of stock.
pub(super) fn check(view: &View, found: &mut Findings) {
    let mut seen = BTreeSet::new();
    for (index, piece) in view.stock.iter().enumerate() {
        let entry = piece.entry;
        if !seen.insert((entry.id.as_str(), entry.copy)) {
            found.add(Rule::StockTwice, &piece.place, "this very piece is already used above");
        }
        if !view.blanks.iter().any(|blank| blank.piece == index) {
            found.add(Rule::StockIdle, &piece.place, "no blank is cut from it");
        }
        match piece.source {
            Some(source) => check_against_pile(view, piece, source, found),
            None => report_missing(view, piece, found),
        }
    }
}

fn report_missing(view: &View, piece: &Piece, found: &mut Findings) {
    let id = &piece.entry.id;
    let kinds = [
        (StockKind::Board, view.pile.boards.iter().any(|board| &board.id == id)),
        (StockKind::Sheet, view.pile.sheets.iter().any(|sheet| &sheet.id == id)),
        (StockKind::Stick, view.pile.sticks.iter().any(|stick| &stick.id == id)),
    ];
    match kinds.iter().find(|(_, there)| *there) {
        Some((kind, _)) => {
            found.add(Rule::StockKind, &piece.place, format!("used as {:?}, it is {kind:?}", piece.entry.kind));
        }
        None => found.add(Rule::StockUnknown, &piece.place, "the pile has no such piece"),
    }
}

fn check_against_pile(view: &View, piece: &Piece, source: Source, found: &mut Findings) {
    let entry = piece.entry;
    if entry.copy == 0 || entry.copy > source.quantity() {
        let at_hand = source.quantity();
        found.add(Rule::StockCopy, &piece.place, format!("copy {} of {at_hand} at hand", entry.copy));
    }
    let price = price(view, source, entry.copy);
    if !prints_alike(&entry.cost, &price) {
        found.add(Rule::StockCost, &piece.place, format!("cost {} where the pile gives {price}", entry.cost));
    }
    let root = &entry.tree;
    let whole = (Length::ZERO, Length::ZERO, source.length(), source.width());
    if (root.x, root.y, root.length, root.width) != whole {
        let detail = format!(
            "{} x {} at {}, {} where the whole is {} x {}",
            found.len(root.length),
            found.len(root.width),
            found.len(root.x),
            found.len(root.y),
            found.len(source.length()),
            found.len(source.width())
        );
        found.add(Rule::RootRectangle, &piece.place, detail);
    }
}
