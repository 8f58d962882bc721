//! Matched pieces: from one board, end to end in one strip, or side by side; kept whole or not made; what breaking costs.
//!
//! Readings of the model where it leaves room. `run` and `side` are judged by the node that holds all the pieces: on a
//! board it must be one strip (run) or one section (side); on sheets and sticks it is the node whose children hold one
//! piece each, parted along the pieces' length (run) or across it (side). More than kerf between two pieces of a run is
//! defect waste when a defect, grown by the margins, lies between their nets and across one of them. Pieces resawn from
//! one blank come from one board, and are neither end to end nor side by side. A group's worth is the first stated.

use std::collections::BTreeMap;

use crate::job::{Match, MatchRule, MatchScope};
use crate::measure::{Length, Money};
use crate::plan::{CutKind, Node, Role};

use super::walk::{Blank, Claim, Source, View, end_x, end_y};
use super::{Findings, Rule, prints_alike};

/// Pieces bound together, in the order of the file, then copy, layer, stave.
struct Bound<'v> {
    matching: &'v Match,
    /// The group or copy, in words.
    place: String,
    claims: Vec<&'v Claim>,
    /// All copies of all its parts are made.
    whole: bool,
}

/// Judges every matched group; the worth of those broken.
pub(super) fn check(view: &View, found: &mut Findings) -> Money {
    let mut broken = Money::zero();
    for bound in groups(view) {
        if bound.claims.is_empty() {
            continue;
        }
        let worth = worth_of(view, bound.matching);
        let fault = fault(view, &bound);
        match (worth, &fault) {
            (None, Some(fault)) => found.add(Rule::MatchBroken, &bound.place, fault),
            (Some(worth), Some(_)) => broken += worth,
            (Some(worth), None) if !bound.whole => broken += worth,
            _ => {}
        }
        if worth_of(view, bound.matching).is_none() && !bound.whole {
            found.add(Rule::MatchPartly, &bound.place, "some of its copies are not made");
        }
    }
    if !prints_alike(&view.plan.broken, &broken) {
        let detail = format!("{} where {broken} is the worth of those broken", view.plan.broken);
        found.add(Rule::BrokenCost, "broken", detail);
    }
    broken
}

fn worth_of(view: &View, matching: &Match) -> Option<Money> {
    let named = view.job.parts.iter().filter_map(|part| part.matching.as_ref());
    named.filter(|other| other.group == matching.group).find_map(|other| other.worth.clone())
}

fn groups<'v>(view: &'v View) -> Vec<Bound<'v>> {
    let mut groups: BTreeMap<(&str, usize, u32), Bound<'v>> = BTreeMap::new();
    let made = super::counts::made(view);
    for (index, part) in view.job.parts.iter().enumerate() {
        let Some(matching) = &part.matching else { continue };
        let whole = made.get(&index).copied().unwrap_or(0) == part.qty;
        for claim in view.claims.iter().filter(|claim| claim.part == index) {
            let (key, place) = match matching.scope {
                MatchScope::Group => ((matching.group.as_str(), 0, 0), format!("match \"{}\"", matching.group)),
                MatchScope::Copy => (
                    (matching.group.as_str(), index + 1, claim.copy),
                    format!("match \"{}\", {} {}", matching.group, part.id, claim.copy),
                ),
            };
            let bound = groups.entry(key).or_insert_with(|| Bound { matching, place, claims: Vec::new(), whole: true });
            bound.claims.push(claim);
        }
        if matching.scope == MatchScope::Group && !whole {
            let key = (matching.group.as_str(), 0, 0);
            let place = format!("match \"{}\"", matching.group);
            groups.entry(key).or_insert(Bound { matching, place, claims: Vec::new(), whole }).whole = false;
        }
    }
    let mut groups: Vec<Bound> = groups.into_values().collect();
    for bound in &mut groups {
        bound.claims.sort_by_key(|claim| (claim.part, claim.copy, claim.layer, claim.stave));
    }
    groups
}

/// Why the rule is not kept, if it is not.
fn fault(view: &View, bound: &Bound) -> Option<String> {
    let blanks: Vec<&Blank> = bound.claims.iter().map(|claim| view.blank(claim)).collect();
    let first = blanks.first()?;
    if let Some(other) = blanks.iter().find(|blank| blank.piece != first.piece) {
        let (one, two) = (&view.stock[first.piece].place, &view.stock[other.piece].place);
        return Some(format!("from {one} and {two}"));
    }
    match bound.matching.rule {
        MatchRule::Board => None,
        MatchRule::Run => run_fault(view, &blanks),
        MatchRule::Side => side_fault(view, &blanks),
    }
}

/// The deepest node above all the blanks, and which of its children holds each.
fn common<'a>(blanks: &[&Blank<'a>]) -> Option<(&'a Node<Length>, Vec<usize>)> {
    let first = blanks.first()?;
    let shared = blanks.iter().map(|blank| first.path.iter().zip(&blank.path).take_while(|(a, b)| a == b).count());
    let depth = shared.min()?.min(first.path.len().checked_sub(1)?);
    let node = *first.above.get(depth)?;
    let children = blanks.iter().map(|blank| blank.path.get(depth).copied()).collect::<Option<Vec<_>>>()?;
    Some((node, children))
}

/// Along the pieces' length: near end and far end.
fn along(blank: &Blank) -> (Length, Length) {
    let node = blank.node;
    if node.turned { (node.y, end_y(node)) } else { (node.x, end_x(node)) }
}

/// Pieces turned differently, or not parted by the cut that the rule asks for from the node that it asks for.
fn parent_fault(
    view: &View,
    blanks: &[&Blank],
    parent: &Node<Length>,
    (cut, role): (CutKind, Role),
    elsewhere: &str,
) -> Option<String> {
    if blanks.iter().any(|blank| blank.node.turned != blanks[0].node.turned) {
        return Some("not all turned the same way".to_string());
    }
    let on_board = view.board(blanks[0]).is_some();
    (parent.cut != Some(cut) || on_board && parent.role != Some(role)).then(|| elsewhere.to_string())
}

fn run_fault(view: &View, blanks: &[&Blank]) -> Option<String> {
    let (node, children) = common(blanks)?;
    if blanks.len() < 2 {
        return None;
    }
    let asked = if blanks[0].node.turned { CutKind::Rip } else { CutKind::Cross };
    if let Some(fault) = parent_fault(view, blanks, node, (asked, Role::Strip), "not in one strip") {
        return Some(fault);
    }
    let mut ordered: Vec<(usize, &Blank)> = children.iter().copied().zip(blanks.iter().copied()).collect();
    if children.first() > children.last() {
        ordered.reverse();
    }
    ordered.windows(2).find_map(|pair| {
        let [(before, left), (after, right)] = pair else { return None };
        if *after != before + 1 {
            return Some(format!("{} and {} do not follow one another in order", name(left), name(right)));
        }
        gap_fault(view, left, right)
    })
}

fn name(blank: &Blank) -> String {
    blank.place.rsplit(", ").next().unwrap_or(&blank.place).to_string()
}

/// More than kerf between two pieces of a run, and no defect to explain it.
fn gap_fault(view: &View, left: &Blank, right: &Blank) -> Option<String> {
    let shop = &view.job.shop;
    let kerf = if left.node.turned { shop.kerf.rip } else { shop.kerf.crosscut };
    let gap = along(right).0 - along(left).1;
    if gap <= kerf {
        return None;
    }
    let explained = match (view.source(left), &left.node.net, &right.node.net) {
        (Some(Source::Board(board, _)), Some(one), Some(two)) => board.defects.iter().any(|defect| {
            let margins = &shop.defect;
            let (x0, x1) = (defect.x - margins.margin_length, defect.x + defect.length + margins.margin_length);
            let (y0, y1) = (defect.y - margins.margin_width, defect.y + defect.width + margins.margin_width);
            let across = |net: &crate::plan::Rectangle<Length>| y0 < net.y + net.width && net.y < y1;
            x0 < two.x && x1 > one.x + one.length && (across(one) || across(two))
        }),
        _ => false,
    };
    (!explained).then(|| format!("waste that no defect explains between {} and {}", name(left), name(right)))
}

fn side_fault(view: &View, blanks: &[&Blank]) -> Option<String> {
    let (node, children) = common(blanks)?;
    if blanks.len() < 2 {
        return None;
    }
    let asked = if blanks[0].node.turned { CutKind::Cross } else { CutKind::Rip };
    let elsewhere = "not in neighbouring strips of one section";
    if let Some(fault) = parent_fault(view, blanks, node, (asked, Role::Section), elsewhere) {
        return Some(fault);
    }
    let mut ordered: Vec<(usize, &Blank)> = children.into_iter().zip(blanks.iter().copied()).collect();
    ordered.sort_by_key(|(child, _)| *child);
    ordered.windows(2).find_map(|pair| {
        let [(before, left), (after, right)] = pair else { return None };
        if *after != before + 1 {
            return Some(format!("{} and {} are not in neighbouring strips, one each", name(left), name(right)));
        }
        let ((left_from, left_to), (right_from, right_to)) = (along(left), along(right));
        let overlap = left_from < right_to && right_from < left_to;
        (!overlap).then(|| format!("{} and {} do not overlap in length", name(left), name(right)))
    })
}
