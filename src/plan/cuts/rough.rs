//! Rough crosscuts: boards into sections, the scarcest and longest first.
//!
//! A section that holds a part no second board can make is freed before all others; after that the longest go first,
//! because a long piece can still become short ones and never the other way about. Positions are running dimensions
//! from the board's left end: one pull of the tape.

use std::cmp::Reverse;

use super::super::say;
use super::super::scarcity::Scarcity;
use super::super::{Cut, CutKind, Length, Node, Role, RoughRow, Station};
use super::{Bench, Freed, Planned, Saw, extent, part};
use crate::nesting::Kind;

/// A board being crosscut: its row of children and the numbers of the cuts made so far.
struct Row<'a> {
    used: usize,
    tree: &'a Node<Length>,
    freed: Vec<Freed>,
    /// Numbers of each child's cut before and after.
    made: Vec<[Option<u32>; 2]>,
}

/// Adds every rough crosscut; one row a section, in the order of work.
pub(super) fn crosscuts(bench: &Bench, scarcity: &Scarcity, cuts: &mut Vec<Cut<Length>>) -> Vec<RoughRow<Length>> {
    let mut boards = rows(bench);
    let mut sections = Vec::new();
    for (row, board) in boards.iter().enumerate() {
        for (child, node) in board.tree.children.iter().enumerate() {
            if node.role == Some(Role::Section) {
                let scarce = scarcest(bench, scarcity, node);
                sections.push((scarce > 1, Reverse(node.length), scarce, row, child));
            }
        }
    }
    sections.sort_unstable();
    let mut list = Vec::new();
    for (.., row, child) in sections {
        list.push(free_section(bench, &mut boards[row], child, cuts));
    }
    for board in &mut boards {
        for child in 0..board.tree.children.len() {
            free(bench, board, child, cuts, "free the offcut".to_owned(), None);
        }
    }
    list
}

fn rows<'a>(bench: &Bench<'a>) -> Vec<Row<'a>> {
    let mut rows = Vec::new();
    for (used, grown) in bench.grown.iter().enumerate() {
        if let Kind::Board(board) = &bench.case.milled.problem.stock[bench.uses[used].class].kind {
            let tree = &grown.tree;
            let spans = tree.children.iter().map(|c| extent(c, CutKind::Cross));
            let freed = part(spans, Length::ZERO, tree.length, Length::from_ticks(board.kerf_cross));
            rows.push(Row { used, tree, made: vec![[None; 2]; freed.len()], freed });
        }
    }
    rows
}

/// Boards that could make the scarcest part of a section.
fn scarcest(bench: &Bench, scarcity: &Scarcity, section: &Node<Length>) -> u64 {
    let part_of = |name: &say::Name| bench.case.job.parts.iter().position(|p| p.id == name.part);
    let counts = say::names(section).iter().filter_map(part_of).map(|part| scarcity.boards(part)).min();
    counts.unwrap_or(u64::MAX)
}

fn free_section(bench: &Bench, row: &mut Row, child: usize, cuts: &mut Vec<Cut<Length>>) -> RoughRow<Length> {
    let node = &row.tree.children[child];
    let (used, from, to) = (&bench.uses[row.used], node.x, node.right());
    let makes = say::tally(&say::names(node));
    let what = format!("crosscut the section for {makes}");
    let numbers = free(bench, row, child, cuts, what, Some(node.length));
    let stock = bench.case.piece(used.source).id.to_owned();
    RoughRow { stock, stock_copy: used.copy, from, to, cuts: numbers, makes }
}

/// Makes the cuts that still hold child `child`; the numbers of both its cuts, whoever made them. The cut that frees it
/// at last carries the setting.
fn free(
    bench: &Bench,
    row: &mut Row,
    child: usize,
    cuts: &mut Vec<Cut<Length>>,
    what: String,
    setting: Option<Length>,
) -> Vec<u32> {
    let left = match (row.freed[child].before, child) {
        (Some(_), _) => Some((child, 0)),
        (None, 0) => None,
        (None, _) => Some((child - 1, 1)),
    };
    let right = row.freed[child].after.map(|_| (child, 1));
    let held: Vec<(usize, usize)> = left.into_iter().chain(right).collect();
    let last_to_make = held.iter().rposition(|&(at, side)| row.made[at][side].is_none());
    let mut numbers = Vec::new();
    for (index, (at, side)) in held.into_iter().enumerate() {
        let saw = if side == 0 { row.freed[at].before } else { row.freed[at].after };
        let Some(saw) = saw else { continue };
        let number = match row.made[at][side] {
            Some(number) => number,
            None => {
                let last = last_to_make == Some(index);
                let what = if last { what.clone() } else { trim_words(saw, row.tree) };
                bench.add(cuts, planned(row, saw, setting.filter(|_| last), what))
            }
        };
        row.made[at][side] = Some(number);
        numbers.push(number);
    }
    numbers
}

fn trim_words(saw: Saw, board: &Node<Length>) -> String {
    let first = board.children.first().is_some_and(|child| child.x == saw.to);
    if first { "trim the left end".to_owned() } else { "crosscut at the left end of the section".to_owned() }
}

fn planned(row: &Row, saw: Saw, setting: Option<Length>, what: String) -> Planned {
    let edges = (Length::ZERO, row.tree.width);
    Planned { used: row.used, station: Station::RoughCrosscut, cut: CutKind::Cross, saw, edges, setting, what }
}
