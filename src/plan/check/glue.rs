//! Laminations and panels: how layers and staves add up, how clear they are, and their glue-up entries.
//!
//! Readings of the model where it leaves room: the number of layers is one for a part, all its copies alike; a
//! lamination of one layer is a plain part and has no entry; a panel has its entry even when it is one stave. For `c1f`
//! the other outward face, as every inner one, is sound.

use std::collections::{BTreeMap, BTreeSet};

use crate::job::{Faces, Panel, Part};
use crate::measure::Length;
use crate::pile::Face;
use crate::plan::{GlueKind, GlueUp, Member};

use super::faces::{Look, look};
use super::walk::{Claim, View};
use super::{Findings, Rule, glue_sheet};

/// Every laminated or panelled part, every glue-up entry.
pub(super) fn check(view: &View, found: &mut Findings) {
    let copies = view.copies();
    for index in 0..view.job.parts.len() {
        check_layer_count(view, index, found);
    }
    for (&(index, copy), claims) in &copies {
        let part = &view.job.parts[index];
        let place = format!("part \"{}\" copy {copy}", part.id);
        let entry = find_entry(view, part, copy);
        if let Some(panel) = &part.panel {
            check_staves(view, part, panel, claims, &place, found);
            check_stave_faces(view, part, claims, entry, found);
        } else if part.lamination.is_some() {
            check_layer_numbers(view.layers(index), claims, &place, found);
            if view.layers(index) > 1 {
                check_layer_faces(view, part, claims, entry, &place, found);
            }
        }
        if let Some(kind) = glue_kind(view, index) {
            check_entry(view, part, copy, kind, claims, &place, found);
        }
    }
    check_known(view, &copies, found);
}

/// How a part is glued up in this plan, if it is.
fn glue_kind(view: &View, part: usize) -> Option<GlueKind> {
    if view.job.parts[part].panel.is_some() {
        Some(GlueKind::Panel)
    } else if view.layers(part) > 1 {
        Some(GlueKind::Lamination)
    } else {
        None
    }
}

fn find_entry<'a>(view: &View<'a>, part: &Part, copy: u32) -> Option<&'a GlueUp<Length>> {
    view.plan.glueups.iter().find(|entry| entry.part == part.id && entry.copy == copy)
}

fn check_layer_count(view: &View, index: usize, found: &mut Findings) {
    let part = &view.job.parts[index];
    let claims: Vec<&Claim> = view.claims.iter().filter(|claim| claim.part == index).collect();
    let (Some(lamination), false) = (&part.lamination, claims.is_empty()) else { return };
    let place = format!("part \"{}\"", part.id);
    let layers = view.layers(index);
    let most = view.job.shop.glue.max_layers;
    if layers > most {
        found.add(Rule::LayerCount, &place, format!("{layers} layers, the shop glues {most}"));
    }
    let seen = claims.iter().filter_map(|claim| claim.layer).max().unwrap_or(1);
    if let Some(stated) = lamination.layers.filter(|stated| *stated != seen) {
        found.add(Rule::LayerCount, &place, format!("{seen} layers where {stated} are stated"));
    }
    if layers < 2 {
        return;
    }
    let thicknesses: BTreeSet<Length> = claims.iter().map(|claim| view.needed_thickness(claim)).collect();
    let (Some(&thinnest), Some(&thickest)) = (thicknesses.first(), thicknesses.last()) else { return };
    if thinnest != thickest {
        let detail = format!("layers of {} and {}", found.len(thinnest), found.len(thickest));
        found.add(Rule::LayerThickness, &place, detail);
    }
    let needed = part.thickness + view.job.shop.allowance.layer_face;
    if i128::from(thinnest.ticks()) * i128::from(layers) < i128::from(needed.ticks()) {
        let detail = format!("{layers} layers of {} for {}", found.len(thinnest), found.len(needed));
        found.add(Rule::LayerThickness, &place, detail);
    }
}

/// True when the numbers are 1, 2, ... `count`, each once.
fn counts_up(mut numbers: Vec<u32>, count: usize) -> bool {
    numbers.sort_unstable();
    numbers.len() == count && numbers.iter().zip(1..).all(|(number, nth)| *number == nth)
}

fn check_layer_numbers(layers: u32, claims: &[&Claim], place: &str, found: &mut Findings) {
    let numbers: Vec<u32> = claims.iter().map(|claim| claim.layer.unwrap_or(if layers == 1 { 1 } else { 0 })).collect();
    if !counts_up(numbers.clone(), layers as usize) {
        found.add(Rule::LayerNumbers, place, format!("layers {numbers:?} where 1 to {layers} are needed"));
    }
}

/// The glue-up member that is this piece.
fn member_of<'a>(view: &View, entry: Option<&'a GlueUp<Length>>, claim: &Claim) -> Option<&'a Member<Length>> {
    entry?.members.iter().find(|member| is_member(view, member, claim))
}

fn is_member(view: &View, member: &Member<Length>, claim: &Claim) -> bool {
    let blank = view.blank(claim);
    let stock = view.stock[blank.piece].entry;
    member.stock == stock.id
        && member.stock_copy == stock.copy
        && (member.x, member.y) == (blank.node.x, blank.node.y)
        && (member.layer, member.stave) == (claim.layer, claim.stave)
}

fn face_up(view: &View, entry: Option<&GlueUp<Length>>, claim: &Claim) -> Option<Face> {
    member_of(view, entry, claim).and_then(|member| member.face_up)
}

/// Outward faces of the outer layers as clear as asked, all else sound.
fn check_layer_faces(
    view: &View,
    part: &Part,
    claims: &[&Claim],
    entry: Option<&GlueUp<Length>>,
    place: &str,
    found: &mut Findings,
) {
    if part.faces == Faces::Any {
        return;
    }
    let last = claims.iter().filter_map(|claim| claim.layer).max();
    let mut outward = Vec::new();
    for claim in claims {
        let Some(looks) = look(view, claim, found) else { continue };
        if looks.worst() < Look::Sound {
            let detail = format!("a layer must be sound; {}", looks.why);
            found.add(Rule::Defects, &view.blank(claim).place, detail);
        }
        if claim.layer == Some(1) || claim.layer == last {
            let shown = face_up(view, entry, claim).map_or(looks.best(), |face| looks.on(face));
            outward.push((*claim, shown, looks));
        }
    }
    let clear = outward.iter().filter(|(_, shown, _)| *shown == Look::Clear).count();
    let could = outward.iter().filter(|(_, _, looks)| looks.best() == Look::Clear).count();
    let asked = match part.faces {
        Faces::C2f => outward.len(),
        Faces::C1f => outward.len().min(1),
        Faces::Sound | Faces::Any => 0,
    };
    if could < asked {
        let why: Vec<&str> = outward.iter().map(|(_, _, looks)| looks.why.as_str()).collect();
        found.add(Rule::Defects, place, format!("{could} clear outward faces of {asked}; {}", why.join("; ")));
    } else if clear < asked {
        found.add(Rule::FaceUp, place, format!("{clear} clear faces are turned outward of {asked}"));
    }
}

fn check_stave_faces(
    view: &View,
    part: &Part,
    claims: &[&Claim],
    entry: Option<&GlueUp<Length>>,
    found: &mut Findings,
) {
    if !matches!(part.faces, Faces::C1f | Faces::C2f) {
        return;
    }
    for claim in claims {
        let (Some(looks), Some(face)) = (look(view, claim, found), face_up(view, entry, claim)) else { continue };
        if looks.on(face) != Look::Clear && looks.best() == Look::Clear {
            let detail = format!("{face:?} faces up, the other face is the clear one; {}", looks.why);
            found.add(Rule::FaceUp, &view.blank(claim).place, detail);
        }
    }
}

fn check_staves(view: &View, part: &Part, panel: &Panel, claims: &[&Claim], place: &str, found: &mut Findings) {
    let numbers: Vec<u32> = claims.iter().map(|claim| claim.stave.unwrap_or(0)).collect();
    if !counts_up(numbers.clone(), claims.len()) {
        found.add(Rule::StaveNumbers, place, format!("staves {numbers:?}"));
    }
    let mut nets = Vec::new();
    for claim in claims {
        let Some(net) = &view.blank(claim).node.net else { continue };
        nets.push(net.width);
        check_stave_width(view, panel, net.width, &view.blank(claim).place, found);
    }
    let widths: BTreeSet<Length> = nets.iter().copied().collect();
    if panel.equal && widths.len() > 1 {
        let listed: Vec<String> = widths.iter().map(|width| found.len(*width)).collect();
        found.add(Rule::StaveEqual, place, format!("net widths {}", listed.join(", ")));
    }
    let sum: Length = nets.into_iter().sum();
    let needed = part.width + view.job.shop.allowance.panel_width;
    if sum < needed {
        found.add(Rule::StaveSum, place, format!("{} where {} is needed", found.len(sum), found.len(needed)));
    }
    let boards: BTreeSet<usize> = claims.iter().map(|claim| view.blank(claim).piece).collect();
    if let Some(most) = panel.max_boards.filter(|most| boards.len() as u64 > u64::from(*most)) {
        found.add(Rule::PanelBoards, place, format!("from {} boards, at most {most}", boards.len()));
    }
}

fn check_stave_width(view: &View, panel: &Panel, net: Length, place: &str, found: &mut Findings) {
    let step = view.job.shop.step.rip;
    let at_limit = net == panel.stave_min || net == panel.stave_max;
    let on_step = step <= Length::ZERO || net.ticks() % step.ticks() == 0;
    if net < panel.stave_min || net > panel.stave_max || !(at_limit || on_step) {
        let detail = format!(
            "net width {}, it may be {} to {} in steps of {}",
            found.len(net),
            found.len(panel.stave_min),
            found.len(panel.stave_max),
            found.len(step)
        );
        found.add(Rule::StaveWidth, place, detail);
    }
}

/// The one entry of a glued copy and its members.
fn check_entry(
    view: &View,
    part: &Part,
    copy: u32,
    kind: GlueKind,
    claims: &[&Claim],
    place: &str,
    found: &mut Findings,
) {
    let entries: Vec<_> =
        view.plan.glueups.iter().filter(|entry| entry.part == part.id && entry.copy == copy).collect();
    let [entry] = entries.as_slice() else {
        found.add(Rule::GlueMissing, place, format!("{} glue-up entries where one is needed", entries.len()));
        return;
    };
    if entry.kind != kind {
        found.add(Rule::GlueUnknown, place, format!("glued as {:?}, it is {kind:?}", entry.kind));
    }
    if let Some(sheet) = &entry.sheet {
        glue_sheet::check(&glue_sheet::Judged { view, part, kind, claims, sheet, place }, found);
    }
    for claim in claims {
        let times = entry.members.iter().filter(|member| is_member(view, member, claim)).count();
        if times != 1 {
            found.add(Rule::GlueMembers, &view.blank(claim).place, format!("in {times} members of its glue-up"));
        }
    }
    for (nth, member) in entry.members.iter().enumerate() {
        let place = format!("{place}: glue-up member {}", nth + 1);
        let Some(claim) = claims.iter().find(|claim| is_member(view, member, claim)) else {
            let at = format!("\"{}\" at {}, {}", member.stock, found.len(member.x), found.len(member.y));
            found.add(Rule::GlueMembers, place, format!("no blank of this copy is on {at}"));
            continue;
        };
        let Some(net) = &view.blank(claim).node.net else { continue };
        let needed = kind == GlueKind::Panel || member.net_width.is_some();
        if needed && member.net_width != Some(net.width) {
            let stated = member.net_width.map_or("none".to_string(), |width| found.len(width));
            found.add(Rule::GlueNetWidth, place, format!("{stated} where the net is {}", found.len(net.width)));
        }
    }
}

/// Every entry is for a copy that is made and glued.
fn check_known(view: &View, copies: &BTreeMap<(usize, u32), Vec<&Claim>>, found: &mut Findings) {
    for (nth, entry) in view.plan.glueups.iter().enumerate() {
        let part = view.job.parts.iter().position(|part| part.id == entry.part);
        let glued =
            part.is_some_and(|index| glue_kind(view, index).is_some() && copies.contains_key(&(index, entry.copy)));
        if !glued {
            let place = format!("glueups[{nth}] \"{}\" copy {}", entry.part, entry.copy);
            found.add(Rule::GlueUnknown, place, "no such copy is made and glued up");
        }
    }
}
