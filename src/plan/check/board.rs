//! What a board gives: ends, section edges, snipe, machine limits, thickness after flattening, resawing.
//!
//! Readings of the model where it leaves room: a section flattened whole is planed as one piece, so if any blank in it
//! is planed then all are; where strips are flattened one by one that holds strip by strip. Snipe goes by the section.
//! Only blanks must lie between the section's edges; a strip may reach further. A strip narrower than its section was
//! ripped from it, so the section is not shorter than the machine's minimum for ripping.

use crate::job::shop::RipFirst;
use crate::measure::{Length, Rational};
use crate::pile::{Board, Surfaced};
use crate::plan::{Node, Role};

use super::walk::{Blank, Source, View, end_x, end_y, place_of};
use super::{Findings, Rule, exact};

/// Every section of every board.
pub(super) fn check(view: &View, found: &mut Findings) {
    for (index, piece) in view.stock.iter().enumerate() {
        let Some(Source::Board(board, _)) = piece.source else { continue };
        let root = &piece.entry.tree;
        for (nth, node) in root.children.iter().enumerate() {
            if node.role == Some(Role::Section) {
                let place = place_of(&piece.place, &[root], &[nth], node);
                let section = Section::of(view, index, board, node, place);
                section.check(view, found);
            }
        }
    }
}

/// A section and the blanks in it.
struct Section<'v, 'a> {
    board: &'a Board,
    node: &'a Node<Length>,
    blanks: Vec<(usize, &'v Blank<'a>)>,
    place: String,
}

impl<'v, 'a> Section<'v, 'a> {
    fn of(view: &'v View<'a>, piece: usize, board: &'a Board, node: &'a Node<Length>, place: String) -> Self {
        let inside = |blank: &Blank| blank.piece == piece && blank.above.iter().any(|above| std::ptr::eq(*above, node));
        let blanks = view.blanks.iter().enumerate().filter(|(_, blank)| inside(blank)).collect();
        Section { board, node, blanks, place }
    }

    fn check(&self, view: &View, found: &mut Findings) {
        self.check_ends(view, found);
        self.check_edges(view, found);
        self.check_rips(view, found);
        if self.blanks.iter().any(|(index, _)| !at_own_thickness(view, self.board, *index)) {
            self.check_planed(view, found);
        }
        self.check_flattening(view, found);
    }

    fn check_ends(&self, view: &View, found: &mut Findings) {
        let trim = view.job.shop.trim.board_end;
        if self.node.x < trim || end_x(self.node) > self.board.length - trim {
            let detail = format!(
                "from {} to {}; the board is good from {} to {}",
                found.len(self.node.x),
                found.len(end_x(self.node)),
                found.len(trim),
                found.len(self.board.length - trim)
            );
            found.add(Rule::BoardEnd, &self.place, detail);
        }
    }

    fn check_edges(&self, view: &View, found: &mut Findings) {
        let (low, high) = usable_width(view, self.board, self.node.length);
        for (_, blank) in &self.blanks {
            if blank.node.y < low || end_y(blank.node) > high {
                let detail = format!(
                    "y {} to {}; the section is good from {} to {}",
                    found.len(blank.node.y),
                    found.len(end_y(blank.node)),
                    found.len(low),
                    found.len(high)
                );
                found.add(Rule::SectionEdge, &blank.place, detail);
            }
        }
    }

    /// Snipe and the shortest section, of a section that is planed.
    fn check_planed(&self, view: &View, found: &mut Findings) {
        let least = view.job.shop.machine.min_length;
        if self.node.length < least {
            let detail = format!("{} long, the least is {}", found.len(self.node.length), found.len(least));
            found.add(Rule::MinLength, &self.place, detail);
        }
        let snipe = view.job.shop.trim.snipe;
        for (_, blank) in &self.blanks {
            let (near, far) = (blank.node.x - self.node.x, end_x(self.node) - end_x(blank.node));
            if near < snipe || far < snipe {
                let detail = format!(
                    "{} and {} from the section's ends, snipe takes {}",
                    found.len(near),
                    found.len(far),
                    found.len(snipe)
                );
                found.add(Rule::Snipe, &blank.place, detail);
            }
        }
    }

    fn check_rips(&self, view: &View, found: &mut Findings) {
        let least = view.job.shop.machine.min_rip_length;
        for (nth, strip) in self.node.children.iter().enumerate() {
            let ripped = strip.role == Some(Role::Strip) && strip.width < self.node.width;
            if ripped && self.node.length < least {
                let place = format!("{}, strip {}", self.place, nth + 1);
                let detail =
                    format!("ripped at {} long, the least is {}", found.len(self.node.length), found.len(least));
                found.add(Rule::MinRip, place, detail);
            }
        }
        for (_, blank) in &self.blanks {
            let Some(strip) = blank.within(Role::Strip) else { continue };
            if blank.node.length < least && blank.node.width != strip.width {
                let detail = format!(
                    "{} long and {} wide in a strip of {}: nothing shorter than {} is ripped",
                    found.len(blank.node.length),
                    found.len(blank.node.width),
                    found.len(strip.width),
                    found.len(least)
                );
                found.add(Rule::MinRip, &blank.place, detail);
            }
        }
    }

    /// Thickness of everything that is flattened and planed: the whole section, or strip by strip.
    fn check_flattening(&self, view: &View, found: &mut Findings) {
        let machine = &view.job.shop.machine;
        if machine.rip_first == RipFirst::Wide && self.node.width <= machine.jointer_width {
            self.check_slab(view, self.node, &self.blanks, &self.place, found);
            return;
        }
        for (nth, strip) in self.node.children.iter().enumerate() {
            let inside = |blank: &Blank| blank.above.iter().any(|above| std::ptr::eq(*above, strip));
            let blanks: Vec<_> = self.blanks.iter().filter(|(_, blank)| inside(blank)).copied().collect();
            let place = format!("{}, strip {}", self.place, nth + 1);
            let planed = blanks.iter().any(|(index, _)| !at_own_thickness(view, self.board, *index));
            if planed && strip.width > machine.jointer_width {
                let detail = format!(
                    "{} wide, flattened by itself, the jointer takes {}",
                    found.len(strip.width),
                    found.len(machine.jointer_width)
                );
                found.add(Rule::JointerWidth, &place, detail);
            }
            self.check_slab(view, strip, &blanks, &place, found);
        }
    }

    /// One piece that is flattened in one go, and the blanks in it.
    fn check_slab(
        &self,
        view: &View,
        slab: &Node<Length>,
        blanks: &[(usize, &Blank)],
        place: &str,
        found: &mut Findings,
    ) {
        if blanks.iter().all(|(index, _)| at_own_thickness(view, self.board, *index)) {
            return;
        }
        let planer = view.job.shop.machine.planer_width;
        if slab.width > planer {
            let detail = format!("{} wide, the planer takes {}", found.len(slab.width), found.len(planer));
            found.add(Rule::PlanerWidth, place, detail);
        }
        let flat = flattened(view, self.board, self.node.length, slab.width);
        for (index, blank) in blanks {
            if blank.node.leaves.is_empty() {
                check_plain(view, self.board, *index, blank, &flat, found);
            } else {
                check_resawn(view, blank, &flat, found);
            }
        }
    }
}

/// What is left across a section of length `length` after crook and edge trims: (low, high).
fn usable_width(view: &View, board: &Board, length: Length) -> (Length, Length) {
    let trim = &view.job.shop.trim;
    let crook = || {
        let share = ratio(length, board.length);
        let lost = (exact(board.warp.crook) * &share * &share).ceil().to_integer();
        let lost = num_traits::ToPrimitive::to_i64(&lost).map_or(board.width, Length::from_ticks);
        match view.job.shop.step.rip {
            step if step > Length::ZERO => lost.round_up_to(step),
            _ => lost,
        }
    };
    match board.surfaced {
        Surfaced::S4s => (Length::ZERO, board.width),
        Surfaced::Slr1e => (Length::ZERO, board.width - trim.far_edge),
        Surfaced::Rough | Surfaced::S2s => (crook() + trim.edge, board.width - trim.far_edge),
    }
}

/// Thickness, in ticks, of a piece `length` x `width` of the board after flattening both faces, before face allowances.
fn flattened(view: &View, board: &Board, length: Length, width: Length) -> Rational {
    let (along, across) = (ratio(length, board.length), ratio(width, board.width));
    let half = Rational::new(1.into(), 2.into());
    let lost = exact(board.warp.bow) * &along * &along
        + exact(board.warp.cup) * &across * &across
        + exact(board.warp.twist) * half * along * across;
    exact(board.thickness) - &view.job.shop.warp.factor * lost
}

fn ratio(part: Length, whole: Length) -> Rational {
    if whole == Length::ZERO { exact(part) } else { exact(part) / exact(whole) }
}

/// Surfaced stock used at its own thickness: every piece of the blank, and not resawn.
fn at_own_thickness(view: &View, board: &Board, blank: usize) -> bool {
    board.surfaced.faces_planed()
        && view.blanks[blank].node.leaves.is_empty()
        && view.claims_of(blank).all(|claim| view.needed_thickness(claim) == board.thickness)
}

fn check_plain(view: &View, board: &Board, index: usize, blank: &Blank, flat: &Rational, found: &mut Findings) {
    let allowance = &view.job.shop.allowance;
    let face = if board.surfaced.faces_planed() { allowance.face_surfaced } else { allowance.face };
    let left = flat - exact(face * 2);
    for claim in view.claims_of(index) {
        let needed = view.needed_thickness(claim);
        if exact(needed) > left {
            let detail = format!(
                "needs {}; flattened to {}, less {} on both faces, {} is left",
                found.len(needed),
                found.ticks(flat),
                found.len(face),
                found.ticks(&left)
            );
            found.add(Rule::Thickness, &blank.place, detail);
        }
    }
}

fn check_resawn(view: &View, blank: &Blank, flat: &Rational, found: &mut Findings) {
    let shop = &view.job.shop;
    let leaves = &blank.node.leaves;
    if blank.node.width > shop.machine.resaw_height {
        let (width, height) = (found.len(blank.node.width), found.len(shop.machine.resaw_height));
        found.add(Rule::ResawHeight, &blank.place, format!("{width} wide, the saw resaws {height}"));
    }
    let wood: Rational = leaves.iter().map(|leaf| exact(leaf.thickness + shop.allowance.resaw)).sum();
    let kerfs = exact(shop.kerf.resaw) * Rational::from_integer(leaves.len().saturating_sub(1).into());
    let needed = wood + kerfs;
    if needed > *flat {
        let detail = format!("needs {}, flattened to {}", found.ticks(&needed), found.ticks(flat));
        found.add(Rule::ResawSum, &blank.place, detail);
    }
}
