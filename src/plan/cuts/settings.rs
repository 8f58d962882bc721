//! Rips by fence setting, final crosscuts and crosscuts of sticks by stop setting.
//!
//! The pieces of one section are ripped in the order they lie, away from the reference edge, and those of one strip are
//! crosscut from the left; within that order, cuts of one setting are made together over the whole job. At each turn the
//! setting whose cuts can all be made now goes first, so that the fence need not come back to it; then the one that serves
//! the most cuts now; of two that serve as many the larger, for what is large is cut while it can still be saved. A trim is made with the cut it prepares; it has no setting of its own,
//! so the lists by setting leave it to `cuts`.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::super::say::{self, Name};
use super::super::tree::nodes_of;
use super::super::{Cut, CutKind, Length, Node, Role, SettingRow, Station};
use super::{Bench, Freed, Planned, Saw, extent, part};
use crate::nesting::{BoardLayout, BoardStock, Kind};

/// Cuts made at one setting without letting go of the piece.
struct Unit {
    setting: Length,
    cuts: Vec<Planned>,
    makes: Vec<Name>,
}

/// The order of one piece's units.
type Chain = VecDeque<Unit>;

/// Rips of sections into strips. Sections that are ripped before they are flattened come first, among themselves.
pub(super) fn rips(bench: &Bench, cuts: &mut Vec<Cut<Length>>) -> Vec<SettingRow<Length>> {
    let (mut rough, mut flat) = (Vec::new(), Vec::new());
    for (used, board, layout) in boards(bench) {
        for (section, at) in nodes_of(&bench.grown[used].tree, Role::Section).into_iter().zip(&layout.sections) {
            let first = bench.case.rips_before_flattening(&bench.uses[used], at);
            let chain = rip_chain(bench, used, section, board, board.classes[at.class].low, first);
            if first { rough.push(chain) } else { flat.push(chain) }
        }
    }
    let mut rows = run(bench, rough, cuts);
    rows.extend(run(bench, flat, cuts));
    rows
}

/// Crosscuts of strips into blanks.
pub(super) fn crosscuts(bench: &Bench, cuts: &mut Vec<Cut<Length>>) -> Vec<SettingRow<Length>> {
    let mut chains = Vec::new();
    for (used, board, _) in boards(bench) {
        for strip in nodes_of(&bench.grown[used].tree, Role::Strip) {
            chains.push(crosscut_chain(used, strip, board));
        }
    }
    run(bench, chains, cuts)
}

/// Crosscuts of sticks into pieces, an offcut freed with the last of them.
pub(super) fn sticks(bench: &Bench, cuts: &mut Vec<Cut<Length>>) -> Vec<SettingRow<Length>> {
    let mut chains = Vec::new();
    for (used, grown) in bench.grown.iter().enumerate() {
        if let Kind::Stick(stick) = &bench.case.milled.problem.stock[bench.uses[used].class].kind {
            chains.push(stick_chain(bench, used, &grown.tree, Length::from_ticks(stick.kerf)));
        }
    }
    run(bench, chains, cuts)
}

/// Rips of blanks that are narrower than the strip they were cut from.
pub(super) fn rips_to_width(bench: &Bench, cuts: &mut Vec<Cut<Length>>) -> Vec<SettingRow<Length>> {
    let mut chains = Vec::new();
    for (used, board, _) in boards(bench) {
        for strip in nodes_of(&bench.grown[used].tree, Role::Strip) {
            for blank in strip.children.iter().filter(|blank| blank.far() < strip.far()) {
                chains.push(Chain::from([rip_to_width(bench, used, strip, blank, board)]));
            }
        }
    }
    run(bench, chains, cuts)
}

fn boards<'a>(bench: &Bench<'a>) -> Vec<(usize, &'a BoardStock, &'a BoardLayout)> {
    let layouts = bench.uses.iter().enumerate().filter_map(|(index, used)| {
        let (board, layout) = bench.case.board_layout(used)?;
        Some((index, board, layout))
    });
    layouts.collect()
}

fn rip_chain(bench: &Bench, used: usize, section: &Node<Length>, board: &BoardStock, low: i64, rough: bool) -> Chain {
    let spans = section.children.iter().map(|strip| extent(strip, CutKind::Rip));
    let freed = part(spans, Length::from_ticks(low), section.far(), Length::from_ticks(board.kerf_rip));
    let mut chain = Chain::new();
    for (strip, freed) in section.children.iter().zip(freed) {
        let rip = |saw, setting, what: String| Planned {
            used,
            station: Station::Rip,
            cut: CutKind::Rip,
            saw,
            edges: (section.x, section.right()),
            setting,
            what: if rough { format!("{what}, still rough: bandsaw or track saw") } else { what },
        };
        let makes = say::names(strip);
        let what = format!("rip {} wide for {}", bench.show(strip.width), say::tally(&makes));
        let trim = |saw: Saw| match saw.at - freed.bears_on {
            Length::ZERO => "shave the near edge straight".to_owned(),
            waste => format!("rip {} off the near edge", bench.show(waste)),
        };
        let cuts = freeing(freed, strip.width, what, &trim, &rip);
        if !cuts.is_empty() {
            chain.push_back(Unit { setting: strip.width, cuts, makes });
        }
    }
    chain
}

/// Cuts that free one piece of a row, a trim at its near side first; empty when it is free already.
fn freeing(
    freed: Freed,
    size: Length,
    what: String,
    trim: &dyn Fn(Saw) -> String,
    cut: &dyn Fn(Saw, Option<Length>, String) -> Planned,
) -> Vec<Planned> {
    match (freed.before, freed.after) {
        (Some(before), None) => vec![cut(before, Some(size), what)],
        (before, after) => {
            let before = before.map(|saw| cut(saw, None, trim(saw)));
            before.into_iter().chain(after.map(|saw| cut(saw, Some(size), what))).collect()
        }
    }
}

fn crosscut_chain(used: usize, strip: &Node<Length>, board: &BoardStock) -> Chain {
    let spans = strip.children.iter().map(|blank| extent(blank, CutKind::Cross));
    let freed = part(spans, strip.x, strip.right(), Length::from_ticks(board.kerf_cross));
    let mut chain = Chain::new();
    for (blank, freed) in strip.children.iter().zip(freed) {
        let cross = |saw, setting, what| Planned {
            used,
            station: Station::FinalCrosscut,
            cut: CutKind::Cross,
            saw,
            edges: (strip.y, strip.far()),
            setting,
            what,
        };
        let what = format!("crosscut {}{}", say::label(blank), resawn(blank));
        let trim = |_| format!("square the end for {}", say::label(blank));
        let cuts = freeing(freed, blank.length, what, &trim, &cross);
        if !cuts.is_empty() {
            chain.push_back(Unit { setting: blank.length, cuts, makes: say::names(blank) });
        }
    }
    chain
}

fn stick_chain(bench: &Bench, used: usize, stick: &Node<Length>, kerf: Length) -> Chain {
    let spans = stick.children.iter().map(|piece| extent(piece, CutKind::Cross));
    let freed = part(spans, stick.x, stick.right(), kerf);
    let mut chain = Chain::new();
    for (piece, freed) in stick.children.iter().zip(freed) {
        let cross = |saw, setting, what| Planned {
            used,
            station: Station::Stick,
            cut: CutKind::Cross,
            saw,
            edges: (stick.y, stick.far()),
            setting,
            what,
        };
        let trim = |_| "trim to a clean end".to_owned();
        let what = match piece.role {
            Some(Role::Offcut) => "crosscut the offcut free".to_owned(),
            _ => format!("crosscut {} to {}", say::label(piece), bench.show(piece.length)),
        };
        let cuts = freeing(freed, piece.length, what, &trim, &cross);
        if !cuts.is_empty() {
            chain.push_back(Unit { setting: piece.length, cuts, makes: say::names(piece) });
        }
    }
    chain
}

fn resawn(blank: &Node<Length>) -> String {
    match blank.leaves.len() {
        0 | 1 => String::new(),
        leaves => format!(", to be resawn into {leaves}"),
    }
}

fn rip_to_width(bench: &Bench, used: usize, strip: &Node<Length>, blank: &Node<Length>, board: &BoardStock) -> Unit {
    let kerf = Length::from_ticks(board.kerf_rip);
    let saw = Saw { at: blank.far(), to: (blank.far() + kerf).min(strip.far()) };
    let cut = Planned {
        used,
        station: Station::Rip,
        cut: CutKind::Rip,
        saw,
        edges: (blank.x, blank.right()),
        setting: Some(blank.width),
        what: format!("rip {} to its width, {}", say::label(blank), bench.show(blank.width)),
    };
    Unit { setting: blank.width, cuts: vec![cut], makes: say::names(blank) }
}

/// Makes all chains' cuts, setting by setting; one row a turn of the fence or stop.
fn run(bench: &Bench, mut chains: Vec<Chain>, cuts: &mut Vec<Cut<Length>>) -> Vec<SettingRow<Length>> {
    let mut rows = Vec::new();
    while let Some(setting) = next_setting(&chains) {
        let mut row = SettingRow { setting, cuts: Vec::new(), makes: String::new() };
        let mut makes = Vec::new();
        for chain in &mut chains {
            while chain.front().is_some_and(|unit| unit.setting == setting) {
                if let Some(unit) = chain.pop_front() {
                    for cut in unit.cuts {
                        let at_setting = cut.setting == Some(setting);
                        let number = bench.add(cuts, cut);
                        row.cuts.extend(at_setting.then_some(number));
                    }
                    makes.extend(unit.makes);
                }
            }
        }
        row.makes = say::tally(&makes);
        rows.push(row);
    }
    rows
}

/// The setting of which no unit waits behind another; then the one that serves the most units now; then the larger.
fn next_setting(chains: &[Chain]) -> Option<Length> {
    let mut served: BTreeMap<Length, usize> = BTreeMap::new();
    let mut waiting: BTreeSet<Length> = BTreeSet::new();
    for chain in chains {
        if let Some(front) = chain.front() {
            let run = chain.iter().take_while(|unit| unit.setting == front.setting).count();
            *served.entry(front.setting).or_default() += run;
            waiting.extend(chain.iter().skip(run).map(|unit| unit.setting));
        }
    }
    let best = served.into_iter().max_by_key(|&(setting, count)| (!waiting.contains(&setting), count, setting));
    best.map(|(setting, _)| setting)
}
