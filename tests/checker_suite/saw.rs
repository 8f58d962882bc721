//! The list of cuts of a plan worked out by hand: a cut at every side that must be sawn.
//!
//! Knows trees and kerfs alone; the order of the cuts means nothing.

use flitchwork::job::Job;
use flitchwork::measure::Length;
use flitchwork::plan::{Cut, CutKind, Node, Role, ShopPlan, Station, StockKind, StockUse};

/// Draws up a cut for every side that must be sawn.
pub fn saw(plan: &mut ShopPlan, job: &Job) {
    let mut cuts = Vec::new();
    for entry in &plan.stock {
        let mut bench = Bench { entry, job, cuts: Vec::new() };
        bench.part(&entry.tree);
        bench.free(&entry.tree, &entry.tree);
        cuts.extend(bench.cuts);
    }
    for (cut, number) in cuts.iter_mut().zip(1..) {
        cut.number = number;
    }
    plan.cuts = cuts;
}

struct Bench<'a> {
    entry: &'a StockUse<Length>,
    job: &'a Job,
    cuts: Vec<Cut<Length>>,
}

impl Bench<'_> {
    fn kerf(&self, kind: CutKind) -> Length {
        match kind {
            CutKind::Cross => self.job.shop.kerf.crosscut,
            CutKind::Rip => self.job.shop.kerf.rip,
        }
    }

    fn cut(&mut self, kind: CutKind, at: Length, along: (Length, Length), setting: Option<Length>) {
        let station = match (self.entry.kind, kind) {
            (StockKind::Sheet, _) => Station::Sheet,
            (StockKind::Stick, _) => Station::Stick,
            (StockKind::Board, CutKind::Rip) => Station::Rip,
            (StockKind::Board, CutKind::Cross) => Station::FinalCrosscut,
        };
        self.cuts.push(Cut {
            number: 0,
            stock: self.entry.id.clone(),
            stock_copy: self.entry.copy,
            station,
            cut: kind,
            at,
            to: at + self.kerf(kind),
            from_edge: along.0,
            to_edge: along.1,
            setting,
            what: "frees a piece".into(),
        });
    }

    /// One cut after each child that has a neighbour, one before the neighbour where more than kerf lies between.
    fn part(&mut self, node: &Node<Length>) {
        if let Some(kind) = node.cut {
            let along = sides(node, other(kind));
            for pair in node.children.windows(2) {
                let (before, after) = (sides(&pair[0], kind), sides(&pair[1], kind));
                self.cut(kind, before.1, along, Some(before.1 - before.0));
                if after.0 - before.1 > self.kerf(kind) {
                    self.cut(kind, after.0 - self.kerf(kind), along, None);
                }
            }
        }
        for child in &node.children {
            self.part(child);
        }
    }

    /// Cuts at the sides of every piece that no cut borders yet.
    fn free(&mut self, node: &Node<Length>, parent: &Node<Length>) {
        let board = self.entry.kind == StockKind::Board;
        if node.role.is_some_and(|role| role != Role::Offcut) {
            let holder = if board { parent } else { &self.entry.tree };
            for kind in [CutKind::Cross, CutKind::Rip] {
                let (near, far) = sides(node, kind);
                if far != sides(holder, kind).1 && !self.bordered(node, kind, |cut| cut.at == far) {
                    self.cut(kind, far, sides(node, other(kind)), Some(far - near));
                }
                let jointed = board && kind == CutKind::Rip;
                if !jointed && near != sides(holder, kind).0 && !self.bordered(node, kind, |cut| cut.to == near) {
                    self.cut(kind, near - self.kerf(kind), sides(node, other(kind)), None);
                }
            }
        }
        for child in &node.children {
            self.free(child, node);
        }
    }

    fn bordered(&self, node: &Node<Length>, kind: CutKind, at: impl Fn(&Cut<Length>) -> bool) -> bool {
        let (from, to) = sides(node, other(kind));
        self.cuts.iter().any(|cut| cut.cut == kind && cut.from_edge <= from && cut.to_edge >= to && at(cut))
    }
}

fn other(kind: CutKind) -> CutKind {
    match kind {
        CutKind::Cross => CutKind::Rip,
        CutKind::Rip => CutKind::Cross,
    }
}

fn sides(node: &Node<Length>, kind: CutKind) -> (Length, Length) {
    match kind {
        CutKind::Cross => (node.x, node.x + node.length),
        CutKind::Rip => (node.y, node.y + node.width),
    }
}
