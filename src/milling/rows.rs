//! Matched pieces of sheets and sticks that lie in a row: one piece each to the optimiser, parted again in its answer.
//!
//! The engines of sheets and sticks know pieces of one item. So that a run or neighbours come out together or not at all, the
//! pieces of a row become an item of their own, as large as they are with the kerfs between them; a row takes a stage of
//! cuts of its own, so the sheet gives the rest one stage less. The contract allows more (pieces of a row may lie apart
//! across it), so nothing that is proven of the problem of rows holds for plans: bounds are the caller's business, over
//! pieces that are free. How matched pieces lie on a board is `matches`' business.

use super::Milled;
use crate::job::MatchRule;
use crate::nesting::{
    Direction, Item, Kind, Layout, Outcome, Problem, Shape, SheetNode, SheetPiece, SheetStock, StickLayout, StickStock,
    Stock, Why,
};

/// Pieces that must lie in a row, at least one of them from a sheet or a stick.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatchedRow {
    pub rule: MatchRule,
    /// How many such rows are wanted.
    pub copies: u32,
    /// The items, in the order they lie in.
    pub members: Vec<usize>,
}

/// The problem of a milled job with its rows as items of their own.
pub struct InRows<'a> {
    milled: &'a Milled,
    pub problem: Problem,
    /// By item of the milled job: the item here.
    item_of: Vec<usize>,
    /// By class of stock here: the class of the milled job, and what its pieces are.
    classes: Vec<(usize, Vec<Cut>)>,
}

/// What a piece of a sheet or stick is: indices into the pieces of the milled job's.
#[derive(Clone, Debug)]
enum Cut {
    Piece(usize),
    /// One after another in a direction.
    Row(Vec<usize>, Direction),
}

/// A piece of a sheet or a stick as a row is laid out of them: its index there, its item, whether it is turned, its size.
#[derive(Clone, Copy)]
struct Laid {
    piece: usize,
    item: usize,
    turned: bool,
    size: (i64, i64),
}

impl Milled {
    /// The job as a problem of rows; `None` when it has none.
    pub fn in_rows(&self) -> Option<InRows<'_>> {
        if self.rows.is_empty() {
            return None;
        }
        let mut row_of = vec![None; self.items.len()];
        for (r, row) in self.rows.iter().enumerate() {
            row.members.iter().for_each(|&item| row_of[item] = Some(r));
        }
        let (mut items, mut item_of) = (Vec::new(), Vec::new());
        let mut of_row: Vec<Option<usize>> = vec![None; self.rows.len()];
        for (item, counted) in self.problem.items.iter().enumerate() {
            let Some(r) = row_of[item] else {
                item_of.push(items.len());
                items.push(counted.clone());
                continue;
            };
            item_of.push(*of_row[r].get_or_insert_with(|| {
                items.push(self.item_of_row(&self.rows[r]));
                items.len() - 1
            }));
        }
        let (mut stock, mut classes) = (Vec::new(), Vec::new());
        for (s, class) in self.problem.stock.iter().enumerate() {
            let (kind, cuts) = match &class.kind {
                Kind::Board(_) => {
                    let mut kind = class.kind.clone();
                    kind.renumber(&item_of);
                    (kind, Vec::new())
                }
                Kind::Sheet(sheet) => {
                    let (sheet, cuts) = self.sheet_of_rows(sheet, &item_of, &row_of);
                    (Kind::Sheet(sheet), cuts)
                }
                Kind::Stick(stick) => {
                    let (stick, cuts) = self.stick_of_rows(stick, &item_of, &row_of);
                    (Kind::Stick(stick), cuts)
                }
            };
            if kind.items().is_empty() {
                continue;
            }
            let (mut wider, mut together) = (class.wider.clone(), class.together.clone());
            wider.iter_mut().for_each(|kind| kind.renumber(&item_of));
            together.iter_mut().flat_map(|set| &mut set.pieces).for_each(|(item, _)| *item = item_of[*item]);
            stock.push(Stock { kind, wider, together, ..class.clone() });
            classes.push((s, cuts));
        }
        let problem = Problem { items, products: self.problem.products.clone(), stock };
        Some(InRows { milled: self, problem, item_of, classes })
    }

    /// The class of stock that gives most of the first row, from its first piece on, and how many; none when none gives any.
    pub(super) fn most_of_row(&self) -> Option<(usize, u32)> {
        let row = self.rows.first()?;
        (1..=row.members.len()).rev().find_map(|count| {
            let part = MatchedRow { members: row.members[..count].to_vec(), ..row.clone() };
            let gives = |stock: &Stock| match &stock.kind {
                Kind::Board(_) => false,
                Kind::Sheet(sheet) => !rows_of_sheet(sheet, &part).is_empty(),
                Kind::Stick(stick) => row_of_stick(stick, &part).is_some(),
            };
            self.problem.stock.iter().position(gives).map(|s| (s, count as u32))
        })
    }

    /// A row as one kind of piece.
    fn item_of_row(&self, row: &MatchedRow) -> Item {
        let of = |&item: &usize| &self.problem.items[item];
        let product = row.members.first().map_or(0, |first| of(first).product);
        let (length, width): (Vec<i64>, Vec<i64>) = row.members.iter().map(of).map(|i| (i.length, i.width)).unzip();
        let (length, width) = match row.rule {
            MatchRule::Side => (length.into_iter().max(), Some(width.into_iter().sum())),
            MatchRule::Run | MatchRule::Board => (Some(length.into_iter().sum()), width.into_iter().max()),
        };
        Item::alone(product, row.copies, length.unwrap_or(0), width.unwrap_or(0))
    }

    fn sheet_of_rows(&self, sheet: &SheetStock, item_of: &[usize], row_of: &[Option<usize>]) -> (SheetStock, Vec<Cut>) {
        let (mut pieces, mut cuts) = (Vec::new(), Vec::new());
        for (at, piece) in sheet.pieces.iter().enumerate().filter(|(_, piece)| row_of[piece.item].is_none()) {
            pieces.push(SheetPiece { item: item_of[piece.item], ..piece.clone() });
            cuts.push(Cut::Piece(at));
        }
        for row in &self.rows {
            for (members, direction, (length, width)) in rows_of_sheet(sheet, row) {
                let item = item_of[row.members[0]];
                pieces.push(SheetPiece { item, length, width, turned: members[0].turned });
                cuts.push(Cut::Row(members.iter().map(|laid| laid.piece).collect(), direction));
            }
        }
        let parted = cuts.iter().any(|cut| matches!(cut, Cut::Row(members, _) if members.len() > 1));
        let stages = if parted { sheet.stages.saturating_sub(1) } else { sheet.stages };
        (SheetStock { pieces, stages, ..sheet.clone() }, cuts)
    }

    fn stick_of_rows(&self, stick: &StickStock, item_of: &[usize], row_of: &[Option<usize>]) -> (StickStock, Vec<Cut>) {
        let (mut pieces, mut cuts) = (Vec::new(), Vec::new());
        for (at, &(item, length)) in stick.pieces.iter().enumerate().filter(|(_, (item, _))| row_of[*item].is_none()) {
            pieces.push((item_of[item], length));
            cuts.push(Cut::Piece(at));
        }
        for row in &self.rows {
            if let Some((members, length)) = row_of_stick(stick, row) {
                pieces.push((item_of[row.members[0]], length));
                cuts.push(Cut::Row(members.iter().map(|laid| laid.piece).collect(), Direction::Cross));
            }
        }
        (StickStock { pieces, ..stick.clone() }, cuts)
    }
}

/// The ways a row may lie on a sheet: its pieces, the direction that parts them, the size of it all.
fn rows_of_sheet(sheet: &SheetStock, row: &MatchedRow) -> Vec<(Vec<Laid>, Direction, (i64, i64))> {
    // A row takes a stage; with one in all there would be none left, and 0 is any number of them.
    if sheet.stages == 1 && row.members.len() > 1 {
        return Vec::new();
    }
    let all: Vec<Laid> = (0..sheet.pieces.len()).map(|piece| Laid::of_sheet(piece, sheet)).collect();
    let ways = [false, true].into_iter().filter_map(|turned| {
        let members = laid(row, &all, turned)?;
        let direction = direction_of(row.rule, turned);
        let size = size_of(&members, direction, sheet);
        Some((members, direction, size))
    });
    let (length, width) = (sheet.length - 2 * sheet.trim, sheet.width - 2 * sheet.trim);
    ways.filter(|(_, _, size)| size.0 <= length && size.1 <= width).collect()
}

/// A row along a stick: its pieces, and how long it is. Nothing lies beside another piece on a stick.
fn row_of_stick(stick: &StickStock, row: &MatchedRow) -> Option<(Vec<Laid>, i64)> {
    let all: Vec<Laid> = (0..stick.pieces.len()).map(|piece| Laid::of_stick(piece, stick)).collect();
    let members = laid(row, &all, false)?;
    let length = places(&members, Direction::Cross, stick.kerf).1;
    let in_line = row.rule == MatchRule::Run || members.len() == 1;
    (in_line && length <= stick.length - 2 * stick.trim).then_some((members, length))
}

/// The pieces of a row, one after another, all turned or none; `None` when the stock cannot give one of them so.
fn laid(row: &MatchedRow, pieces: &[Laid], turned: bool) -> Option<Vec<Laid>> {
    let of = |&item: &usize| pieces.iter().copied().find(|laid| laid.item == item && laid.turned == turned);
    row.members.iter().map(of).collect()
}

/// The way a row is parted: a run along its pieces' length, neighbours across it.
fn direction_of(rule: MatchRule, turned: bool) -> Direction {
    if (rule == MatchRule::Side) == turned { Direction::Cross } else { Direction::Rip }
}

/// Where each piece of a row begins in its direction, and how long the row is.
fn places(members: &[Laid], direction: Direction, kerf: i64) -> (Vec<i64>, i64) {
    let extent = |laid: &Laid| if direction == Direction::Cross { laid.size.0 } else { laid.size.1 };
    let mut next = 0;
    let begins = members.iter().map(|laid| {
        let here = next;
        next += extent(laid) + kerf;
        here
    });
    (begins.collect(), next - kerf)
}

/// The kerf between pieces that a direction parts.
fn kerf_of(direction: Direction, sheet: &SheetStock) -> i64 {
    if direction == Direction::Cross { sheet.kerf.cross } else { sheet.kerf.rip }
}

/// Length and width of a row on a sheet.
fn size_of(members: &[Laid], direction: Direction, sheet: &SheetStock) -> (i64, i64) {
    let along = places(members, direction, kerf_of(direction, sheet)).1;
    let most = |of: fn(&Laid) -> i64| members.iter().map(of).max().unwrap_or(0);
    match direction {
        Direction::Cross => (along, most(|laid| laid.size.1)),
        Direction::Rip => (most(|laid| laid.size.0), along),
    }
}

impl InRows<'_> {
    /// Prices of the items here, from those of the milled job's: of a row what its pieces are worth together.
    pub fn prices(&self, prices: &[i64]) -> Vec<i64> {
        let mut here = vec![0i64; self.problem.items.len()];
        for (item, &price) in prices.iter().enumerate() {
            let times = self.times(item).max(1);
            here[self.item_of[item]] = here[self.item_of[item]].saturating_add(price.saturating_mul(times.into()));
        }
        here
    }

    /// How often an item lies in its row; 0 for one that is in none.
    fn times(&self, item: usize) -> u32 {
        let members = self.milled.rows.iter().flat_map(|row| &row.members);
        members.filter(|&&member| member == item).count() as u32
    }

    /// An answer here as one to the milled job. It proves nothing of that: neither what an answer costs at least, nor, of
    /// what sheets and sticks give, that something cannot be made.
    pub fn opened(&self, outcome: &Outcome) -> Outcome {
        let items = self.milled.problem.items.len();
        let made = |item: usize| outcome.made[self.item_of[item]] * self.times(item).max(1);
        let mut flat = vec![false; self.problem.items.len()];
        let sheets_and_sticks = self.problem.stock.iter().filter(|stock| !matches!(stock.kind, Kind::Board(_)));
        sheets_and_sticks.flat_map(Stock::items).for_each(|item| flat[item] = true);
        let proven = |item: usize| {
            let here = self.item_of[item];
            outcome.shortage_proven[here] && !flat[here] && self.times(item) == 0
        };
        Outcome {
            layouts: outcome.layouts.iter().map(|layout| self.layout(layout)).collect(),
            made: (0..items).map(made).collect(),
            bound: 0,
            shortage_proven: (0..items).map(proven).collect(),
            why: if matches!(outcome.why, Why::Proven | Why::Gap) { Why::Work } else { outcome.why },
            ..outcome.clone()
        }
    }

    fn layout(&self, layout: &Layout) -> Layout {
        let (class, cuts) = &self.classes[layout.stock];
        let shape = match (&layout.shape, &self.milled.problem.stock[*class].kind) {
            (Shape::Sheet(node), Kind::Sheet(sheet)) => Shape::Sheet(parted(node, sheet, cuts)),
            (Shape::Stick(cut), Kind::Stick(stick)) => Shape::Stick(StickLayout {
                pieces: cut.pieces.iter().flat_map(|&(x, piece)| in_line(x, &cuts[piece], stick)).collect(),
                offcuts: cut.offcuts.clone(),
            }),
            (shape, _) => shape.clone(),
        };
        Layout { stock: *class, shape }
    }
}

/// A sheet's cut tree with its rows parted.
fn parted(node: &SheetNode, sheet: &SheetStock, cuts: &[Cut]) -> SheetNode {
    match *node {
        SheetNode::Piece { x, y, piece } => match &cuts[piece] {
            Cut::Piece(piece) => SheetNode::Piece { x, y, piece: *piece },
            Cut::Row(pieces, direction) => {
                let members: Vec<Laid> = pieces.iter().map(|&piece| Laid::of_sheet(piece, sheet)).collect();
                let (length, width) = size_of(&members, *direction, sheet);
                let begins = places(&members, *direction, kerf_of(*direction, sheet)).0;
                let children = members.iter().zip(begins).map(|(laid, at)| match direction {
                    Direction::Cross => SheetNode::Piece { x: x + at, y, piece: laid.piece },
                    Direction::Rip => SheetNode::Piece { x, y: y + at, piece: laid.piece },
                });
                SheetNode::Split { x, y, length, width, direction: *direction, children: children.collect() }
            }
        },
        SheetNode::Remnant { .. } => node.clone(),
        SheetNode::Split { x, y, length, width, direction, ref children } => {
            let children = children.iter().map(|child| parted(child, sheet, cuts)).collect();
            SheetNode::Split { x, y, length, width, direction, children }
        }
    }
}

/// A piece of a stick, or the pieces of a row one after another.
fn in_line(x: i64, cut: &Cut, stick: &StickStock) -> Vec<(i64, usize)> {
    match cut {
        Cut::Piece(piece) => vec![(x, *piece)],
        Cut::Row(pieces, direction) => {
            let members: Vec<Laid> = pieces.iter().map(|&piece| Laid::of_stick(piece, stick)).collect();
            let begins = places(&members, *direction, stick.kerf).0;
            members.iter().zip(begins).map(|(laid, at)| (x + at, laid.piece)).collect()
        }
    }
}

impl Laid {
    fn of_sheet(piece: usize, sheet: &SheetStock) -> Laid {
        let SheetPiece { item, length, width, turned } = sheet.pieces[piece];
        Laid { piece, item, turned, size: (length, width) }
    }

    fn of_stick(piece: usize, stick: &StickStock) -> Laid {
        let (item, length) = stick.pieces[piece];
        Laid { piece, item, turned: false, size: (length, 0) }
    }
}
