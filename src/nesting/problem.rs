//! The question put to the optimiser, in integers.
//!
//! Holds the problem's data and nothing of how it is solved. In mathematical form: items i in I with demand d_i; stock
//! classes s in S with n_s equal pieces of cost c_s; each class has a set of lawful layouts P_s, a layout p yielding
//! a_ip pieces of item i and a credit r_p. Find layouts, at most n_s of each class, that yield the pieces made (of elastic items up to e_i more),
//! first making as much as possible level by level of priority, then minimising the sum of (c_s - r_p).
//! Lengths are ticks; money is micro-units. Invariant: every index stored here is in range; `milling` builds it so.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use super::layout::Why;

/// The whole question.
#[derive(Clone, Debug, Default)]
pub struct Problem {
    /// What is to be made, piece by piece.
    pub items: Vec<Item>,
    /// What the pieces make.
    pub products: Vec<Product>,
    /// What it can be made from.
    pub stock: Vec<Stock>,
}

impl Problem {
    /// The most that an answer may make of each item: the demand, and what may be made beyond.
    pub fn most(&self) -> Vec<u32> {
        self.items.iter().map(|item| item.demand.saturating_add(item.excess)).collect()
    }
}

/// One kind of piece to be cut.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// Pieces wanted: `per_copy` times the product's copies. Of an elastic item (a panel's width), units of width.
    pub demand: u32,
    /// Pieces of this kind in one finished copy (layers of a lamination).
    pub per_copy: u32,
    /// How many more than the demand may be made: none but of elastic items, whose cuttings yield several units each. A
    /// layout may then yield up to demand + excess of it.
    pub excess: u32,
    /// Index of the product it belongs to.
    pub product: usize,
    /// Net length and width of one piece: its size, for heuristics.
    pub length: i64,
    pub width: i64,
}

impl Item {
    /// The only kind of piece of a product, one in a copy, and no more of them than asked for.
    pub const fn alone(product: usize, demand: u32, length: i64, width: i64) -> Item {
        Item { demand, per_copy: 1, excess: 0, product, length, width }
    }
}

/// One kind of finished thing; a copy is made when all its pieces are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Product {
    /// Copies wanted.
    pub copies: u32,
    /// Finished things in one copy: more than one where many are made together or not at all.
    pub finished: u32,
    /// Higher is served first when not everything can be made.
    pub priority: i32,
    /// What one finished copy is worth when not everything can be made, in any one unit.
    pub value: i64,
}

/// A class of equal pieces of stock.
#[derive(Clone, Debug)]
pub struct Stock {
    /// How many there are.
    pub count: u32,
    /// What one costs, micro-units (rounded down from the exact price).
    pub cost: i64,
    /// What a credited offcut earns; `None` when nothing is.
    pub credit: Option<Credit>,
    /// Its geometry.
    pub kind: Kind,
    /// What comes out together or not at all (a match from one board, a panel from few). Bounds are taken as if there were no
    /// such rule.
    pub together: Vec<Together>,
    /// The geometry that bounds are taken over, where the layouts of `kind` are only some of the lawful ones (pieces that
    /// are cut as one block there may lie apart here). Every layout of `kind` has one here that yields as much.
    pub wider: Option<Kind>,
}

/// Pieces of which a layout yields all or none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Together {
    /// (item, pieces) of one set.
    pub pieces: Vec<(usize, u32)>,
    /// A layout yields a whole number of sets; otherwise none of the pieces, or at least a set.
    pub whole: bool,
}

impl Stock {
    /// The items a piece can give, some of them more than once.
    pub fn items(&self) -> Vec<usize> {
        std::iter::once(&self.kind).chain(&self.wider).flat_map(Kind::items).collect()
    }
}

/// The geometry of a class of stock.
#[derive(Clone, Debug)]
pub enum Kind {
    Board(BoardStock),
    Sheet(SheetStock),
    Stick(StickStock),
}

impl Kind {
    /// The items it can give, some of them more than once.
    pub fn items(&self) -> Vec<usize> {
        match self {
            Kind::Board(board) => board.cuttings.iter().flat_map(|c| c.yields.iter().map(|&(item, _)| item)).collect(),
            Kind::Sheet(sheet) => sheet.pieces.iter().map(|p| p.item).collect(),
            Kind::Stick(stick) => stick.pieces.iter().map(|&(item, _)| item).collect(),
        }
    }

    /// The most pieces of an item that one cutting gives.
    pub fn most_at_once(&self, item: usize) -> u32 {
        match self {
            Kind::Board(board) => {
                let yields = board.cuttings.iter().flat_map(|c| &c.yields);
                yields.filter(|y| y.0 == item).map(|y| y.1).max().unwrap_or(0)
            }
            Kind::Sheet(_) | Kind::Stick(_) => u32::from(self.items().contains(&item)),
        }
    }

    /// The same with items numbered anew.
    pub fn renumber(&mut self, number_of: &[usize]) {
        match self {
            Kind::Board(board) => {
                board.cuttings.iter_mut().flat_map(|c| &mut c.yields).for_each(|(item, _)| *item = number_of[*item]);
            }
            Kind::Sheet(sheet) => sheet.pieces.iter_mut().for_each(|piece| piece.item = number_of[piece.item]),
            Kind::Stick(stick) => stick.pieces.iter_mut().for_each(|(item, _)| *item = number_of[*item]),
        }
    }
}

/// What kept offcuts earn: `rate_numerator / rate_denominator` micro-units a square tick of sound area (a tick of length
/// on sticks).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Credit {
    pub rate_numerator: i128,
    pub rate_denominator: i128,
    /// Shortest offcut that earns.
    pub min_length: i64,
    /// Narrowest that earns (sheets only).
    pub min_width: i64,
}

/// A rectangle, half open: x0 <= x < x1, y0 <= y < y1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Rect {
    pub x0: i64,
    pub x1: i64,
    pub y0: i64,
    pub y1: i64,
}

impl Rect {
    /// True when the interiors meet.
    pub const fn meets(&self, other: &Rect) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }
}

/// A board: crosscut into sections, ripped into strips, crosscut into blanks.
///
/// A section [a, b] lies inside [end_trim, length - end_trim]; neighbours (sections, offcuts) are `kerf_cross` apart. It
/// is cut under one of the `classes` with min_length <= b - a <= max_length. Its strips lie inside [low, high] of
/// that class, `kerf_rip` apart, each of one of the class's strip kinds. A strip's blanks lie at the strip's y, inside
/// [a + end_margin, b - end_margin], `kerf_cross` apart. A blank at (x, y) of cutting c is lawful when its net rectangle
/// [x + net_dx, + net_length] x [y + net_dy, + net_width] meets no rectangle of `blocked[c.blocked]`.
#[derive(Clone, Debug)]
pub struct BoardStock {
    pub length: i64,
    pub width: i64,
    pub end_trim: i64,
    pub kerf_cross: i64,
    pub kerf_rip: i64,
    /// What can be cut from this board.
    pub cuttings: Vec<Cutting>,
    /// Blocked rectangles (margins included), one list a requirement class.
    pub blocked: Vec<Vec<Rect>>,
    /// How a section may be treated. A section picks any one class whose length range it meets.
    pub classes: Vec<SectionClass>,
    /// The board's defects as they are (no margins), for the sound area of an offcut.
    pub defects: Vec<Rect>,
}

/// One blank that can be cut.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cutting {
    /// Blank size.
    pub length: i64,
    pub width: i64,
    /// Where the net rectangle lies in the blank.
    pub net_dx: i64,
    pub net_dy: i64,
    pub net_length: i64,
    pub net_width: i64,
    /// Index into `blocked`: which rectangles the net must not meet.
    pub blocked: usize,
    /// Items it makes: (item, pieces); one entry of one piece, but for resawn blanks.
    pub yields: Vec<(usize, u32)>,
}

/// How a section of some length may be treated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SectionClass {
    /// Shortest section (the planer's), inclusive.
    pub min_length: i64,
    /// Longest section, inclusive: a longer one loses more to crook or is too thin for some strip below.
    pub max_length: i64,
    /// Blanks keep so far from both ends of the section.
    pub end_margin: i64,
    /// Strips lie inside low..high across the board.
    pub low: i64,
    pub high: i64,
    /// The strips that may be ripped, ascending in width.
    pub strips: Vec<StripKind>,
}

/// A strip width and what may lie in it. Several cuttings of one strip may differ in length and width, never be wider.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StripKind {
    pub width: i64,
    /// Indices into `cuttings`, ascending.
    pub cuttings: Vec<usize>,
}

/// Panel stock: guillotine cuts inside [trim, length - trim] x [trim, width - trim], no defects.
///
/// A stage is a change of cut direction that parts two kept pieces; final trims are free; 0 stages = any number. A
/// credited remnant spans the sheet's full length or full width, own edges included; there may be one at each end.
#[derive(Clone, Debug)]
pub struct SheetStock {
    pub length: i64,
    pub width: i64,
    pub trim: i64,
    pub kerf: Kerfs,
    pub stages: u32,
    /// Direction of the first stage, when fixed (used by published two-stage instances); the shop leaves it free.
    pub first: Option<Direction>,
    /// What can be cut; a piece that may turn has two entries.
    pub pieces: Vec<SheetPiece>,
}

/// Kerfs of a sheet: cross cuts part pieces along x, rips along y.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kerfs {
    pub cross: i64,
    pub rip: i64,
}

/// Direction of a saw line's effect.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Direction {
    /// Pieces differ in x.
    Cross,
    /// Pieces differ in y.
    Rip,
}

/// One oriented piece of a sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetPiece {
    pub item: usize,
    pub length: i64,
    pub width: i64,
    /// Its own length lies across the sheet's.
    pub turned: bool,
}

/// Linear stock: lengths inside [trim, length - trim], `kerf` apart.
#[derive(Clone, Debug)]
pub struct StickStock {
    pub length: i64,
    pub trim: i64,
    pub kerf: i64,
    /// (item, length).
    pub pieces: Vec<(usize, i64)>,
}

/// When to stop, and who is told how it goes.
pub struct Limits<'a> {
    /// Stop when the clock passes this.
    pub deadline: Option<Instant>,
    /// Stop after so many units of work (deterministic; what a unit is, is the solver's business).
    pub work: Option<u64>,
    /// Stop when (cost - bound) / cost is at most this.
    pub gap: f64,
    /// Every random choice follows from it.
    pub seed: u64,
    /// Threads to use; 0 = one a core. The answer does not depend on it.
    pub threads: usize,
    /// Stop as soon as this is set.
    pub cancel: &'a AtomicBool,
    /// Called on every better plan or bound.
    pub progress: &'a (dyn Fn(&Progress) + Sync),
}

/// Nobody sets this.
static NEVER: AtomicBool = AtomicBool::new(false);

/// To the proof, or until nothing is left to try, on one thread, told to nobody.
impl Default for Limits<'_> {
    fn default() -> Self {
        Limits { deadline: None, work: None, gap: 0.0, seed: 1, threads: 1, cancel: &NEVER, progress: &|_| () }
    }
}

impl Limits<'_> {
    /// The caller or the clock wants an end.
    pub(super) fn called_off(&self) -> Option<Why> {
        if self.cancel.load(Ordering::Relaxed) {
            return Some(Why::Cancelled);
        }
        self.deadline.is_some_and(|deadline| Instant::now() >= deadline).then_some(Why::Time)
    }

    /// The deadline comes before so much time has gone by.
    pub(super) fn ends_within(&self, next: Duration) -> bool {
        self.deadline.is_some_and(|deadline| Instant::now() + next >= deadline)
    }

    /// One part in `parts` of what is left of them after so much work; nothing is told.
    pub(super) fn part(&self, spent: u64, parts: u32) -> Self {
        let now = Instant::now();
        let deadline = self.deadline.map(|end| now + end.saturating_duration_since(now) / parts);
        let work = self.work.map(|work| spent + work.saturating_sub(spent) / u64::from(parts));
        Limits { deadline, work, progress: &|_| (), ..*self }
    }

    /// As [`Limits::called_off`], or so much work is enough.
    pub(super) fn over(&self, work: u64) -> Option<Why> {
        self.called_off().or_else(|| self.work.is_some_and(|most| work >= most).then_some(Why::Work))
    }
}

/// Says when to give up.
pub type Stop<'a> = &'a (dyn Fn() -> bool + Sync);

/// Gives up at nothing.
pub const fn never() -> bool {
    false
}

/// How a run is going.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    /// Seconds since the start, by the clock of the caller's deadline.
    pub seconds: f64,
    /// Pieces made by the best plan.
    pub made: u64,
    /// Pieces asked for.
    pub asked: u64,
    /// Cost of the best plan, micro-units.
    pub cost: i64,
    /// Proven bound, micro-units.
    pub bound: i64,
}
