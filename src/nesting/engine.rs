//! One question for every kind of stock: the best layout of one piece at given prices.
//!
//! A thin dispatch over the engines of boards, sheets and sticks, so that the search above them never asks what kind a
//! piece is. No geometry lives here.

use super::board::{Ask, BoardEngine, Effort, Holding, Listing, Memory as BoardMemory, Scratch as BoardScratch};
use super::layout::{BoardLayout, Shape};
use super::problem::{Credit, Kind, SheetStock, Stock, Together, never};
use super::sheet::{Scratch as SheetScratch, SheetEngine};
use super::stick;
use super::together;

/// The stock behind a stick's engine was checked when it was made.
const STICK: &str = "the stock is a stick";
/// Effort with which a sheet's layout is brought within the pieces wanted, for an effort of at least so many states; more
/// takes seconds on a full sheet.
const SHEET_ROUNDS: [(usize, u32); 3] = [(128, 60), (32, 10), (0, 1)];
/// Up to so many rounds an effort is a light one.
const LIGHT_ROUNDS: u32 = 3;
/// What a layout of a sheet, of a stick costs to find, in section starts of a board: rough, but the same everywhere.
const SHEET_WORK: u64 = 40;
const STICK_WORK: u64 = 4;

/// The engine of one class of stock, prepared once.
pub struct Engine {
    own: Cutter,
    /// Of the wider geometry that bounds are taken over, where there is one.
    wider: Option<Cutter>,
    together: Vec<Together>,
}

/// The engine of one geometry.
enum Cutter {
    /// The engine, and one of few widths of staves where there are many.
    Board(Box<BoardEngine>, Option<Box<BoardEngine>>),
    /// The engine, the items it can give, and the credit of a whole sheet, rounded up.
    Sheet(Box<SheetEngine>, Vec<usize>, i64),
    Stick(Box<Stock>),
}

/// What was learned about one class of stock at earlier prices, to begin with at the next.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    own: BoardMemory,
    wider: BoardMemory,
}

/// Buffers one thread works with; any engine of the problem may use them in turn.
#[derive(Default)]
pub struct Scratch {
    board: BoardScratch,
    sheet: SheetScratch,
}

/// A layout found for one piece of stock, and what is proven of all others.
#[derive(Clone, Debug)]
pub struct Found {
    /// The cuts; `None` when the piece is better left whole.
    pub shape: Option<Shape>,
    /// Pieces it yields: (item, pieces), ascending, none of zero.
    pub counts: Vec<(usize, u32)>,
    /// Worth of its pieces at the prices it was found at, micro-units.
    pub worth: i64,
    /// Credit of its offcuts alone, micro-units, rounded down.
    pub credit: i64,
    /// No layout is worth more at these prices (unlimited pieces); micro-units, rounded up.
    pub upper: i64,
    /// Work spent: section starts evaluated, or what comes near to it.
    pub work: u64,
}

impl Found {
    fn new(shape: Shape, counts: &[u32], value: i64, upper: i64, prices: &[i64], work: u64) -> Found {
        let counts: Vec<(usize, u32)> =
            counts.iter().enumerate().filter(|&(_, &n)| n > 0).map(|(i, &n)| (i, n)).collect();
        let made: i64 = counts.iter().map(|&(i, n)| prices[i] * i64::from(n)).sum();
        let shape = (!counts.is_empty()).then_some(shape);
        Found { shape, worth: made, credit: value - made, counts, upper, work }
    }
}

impl Engine {
    /// Prepares the engine of a class of stock.
    pub fn new(stock: &Stock) -> Engine {
        let wider = stock.wider.as_ref().map(|kind| Cutter::new(&Stock { kind: kind.clone(), ..stock.clone() }));
        Engine { own: Cutter::new(stock), wider, together: stock.together.clone() }
    }

    /// The same engine for a class of stock that differs in the numbers of its items alone.
    pub fn renumbered(self, stock: &Stock) -> Engine {
        let wider = self.wider.zip(stock.wider.as_ref());
        let wider = wider.map(|(wider, kind)| wider.renumbered(&Stock { kind: kind.clone(), ..stock.clone() }));
        Engine { own: self.own.renumbered(stock), wider, together: stock.together.clone() }
    }

    /// A lawful layout with at most `limits[item]` pieces of each item, as good as the engine finds; no layout within the
    /// limits is worth more than its `upper`.
    pub fn best_within(&self, prices: &[i64], limits: &[u32], scratch: &mut Scratch, effort: Effort) -> Found {
        self.recalling(Ask { prices, limits, effort, stop: &never }, &mut Memory::default(), scratch)
    }

    /// [`Engine::best_within`] from what was learned at earlier prices with like limits.
    pub fn recalling(&self, ask: Ask, memory: &mut Memory, scratch: &mut Scratch) -> Found {
        let mut found = self.of_own(ask, self.wider.is_none(), memory, scratch);
        if let Some(cutter) = &self.wider {
            let bounding = cutter.best_within(ask, &mut memory.wider, scratch);
            found.work += bounding.work;
            found.upper = bounding.upper;
        }
        found
    }

    /// As [`Engine::recalling`], for the layout alone: the upper value says nothing.
    pub fn laying(&self, ask: Ask, memory: &mut Memory, scratch: &mut Scratch) -> Found {
        Found { upper: i64::MAX, ..self.of_own(ask, false, memory, scratch) }
    }

    /// The best layout of the own geometry; the upper value of that when it is to be `bounded`.
    fn of_own(&self, ask: Ask, bounded: bool, memory: &mut Memory, scratch: &mut Scratch) -> Found {
        let ask = Ask { effort: Effort { bounded, ..ask.effort }, ..ask };
        let mut first = true;
        let own = &mut memory.own;
        let lightly = ask.effort.rounds <= LIGHT_ROUNDS;
        together::keeping(&self.together, ask.prices, ask.limits, lightly, &mut |prices, limits| {
            // With other limits, what was learned about these is of no use.
            let (mut other, again) = (BoardMemory::default(), !std::mem::take(&mut first));
            self.own.best_within(Ask { prices, limits, ..ask }, if again { &mut other } else { own }, scratch)
        })
    }

    /// All sets of pieces that a layout worth enough may hold, and the work; `None` when they take too many labels, and of
    /// stock that is no board.
    pub fn holdings(&self, ask: Ask, listing: Listing, scratch: &mut Scratch) -> Option<(Vec<Holding>, u64)> {
        self.board_of_bounds()?.holdings(ask, listing, &mut scratch.board)
    }

    /// Prices by item at which [`Engine::holdings`] may bound its labels, and the work; `None` of stock that is no board.
    pub fn listing_prices(&self, ask: Ask, memory: &Memory, scratch: &mut Scratch) -> Option<(Vec<i64>, u64)> {
        let memory = if self.wider.is_some() { &memory.wider } else { &memory.own };
        Some(self.board_of_bounds()?.listing_prices(ask, memory, &mut scratch.board))
    }

    /// The engine that bounds are taken from, of a board.
    fn board_of_bounds(&self) -> Option<&BoardEngine> {
        match self.wider.as_ref().unwrap_or(&self.own) {
            Cutter::Board(engine, _) => Some(engine),
            Cutter::Sheet(..) | Cutter::Stick(_) => None,
        }
    }

    /// The layouts that the last call with this memory met beside the one it returned.
    pub fn beside(&self, memory: &Memory, prices: &[i64]) -> Vec<Found> {
        let Cutter::Board(engine, _) = &self.own else { return Vec::new() };
        let of = |layout: &BoardLayout| {
            let (value, counts) = engine.value(layout, prices);
            Found::new(Shape::Board(layout.clone()), &counts, value, i64::MAX, prices, 0)
        };
        memory.own.beside().iter().map(of).filter(|found| together::kept(&self.together, &found.counts)).collect()
    }

    /// A layout found earlier, made to fit `limits`: strips that need a piece too many are filled again with what `prices`
    /// are best at. `None` for a kind of stock whose layouts are found anew as fast.
    pub fn refit(&self, shape: &Shape, prices: &[i64], limits: &[u32]) -> Option<Found> {
        let (Cutter::Board(engine, _), Shape::Board(layout)) = (&self.own, shape) else { return None };
        Some(together::without_broken(&self.together, limits, &mut |limits| {
            let p = engine.refit(layout, prices, limits);
            Found::new(Shape::Board(p.layout), &p.counts, p.value, p.upper, prices, 1)
        }))
    }
}

impl Cutter {
    fn new(stock: &Stock) -> Cutter {
        let cutter = match &stock.kind {
            Kind::Board(_) => {
                let coarse = BoardEngine::coarse(stock).map(Box::new);
                BoardEngine::new(stock).map(|engine| Cutter::Board(Box::new(engine), coarse))
            }
            Kind::Sheet(sheet) => SheetEngine::new(stock).map(|e| {
                let items = sheet.pieces.iter().map(|p| p.item).collect();
                Cutter::Sheet(Box::new(e), items, whole_credit(sheet, stock.credit.as_ref()))
            }),
            Kind::Stick(_) => Some(Cutter::Stick(Box::new(stock.clone()))),
        };
        cutter.expect("every kind of stock has its engine")
    }

    fn renumbered(self, stock: &Stock) -> Cutter {
        match (self, &stock.kind) {
            (Cutter::Board(engine, coarse), Kind::Board(board)) => {
                let coarse = coarse.map(|engine| Box::new(engine.renumbered(board)));
                Cutter::Board(Box::new(engine.renumbered(board)), coarse)
            }
            _ => Cutter::new(stock),
        }
    }

    fn best_within(&self, ask: Ask, memory: &mut BoardMemory, scratch: &mut Scratch) -> Found {
        let Ask { prices, limits, effort, .. } = ask;
        match self {
            Cutter::Board(engine, coarse) => {
                let engine = coarse.as_ref().filter(|_| effort.coarse).unwrap_or(engine);
                let p = engine.best_within_from(ask, memory, &mut scratch.board);
                // A board at which nothing is worth a look takes its time too.
                let work = u64::from(p.evaluations).max(1);
                Found::new(Shape::Board(p.layout), &p.counts, p.value, p.upper, prices, work)
            }
            Cutter::Sheet(engine, items, credit) => {
                let rounds = SHEET_ROUNDS.iter().find(|(states, _)| effort.states >= *states).map_or(1, |of| of.1);
                let p = engine.best_within(prices, limits, &mut scratch.sheet, rounds);
                let upper = with_credit(p.upper, items, *credit, prices);
                let work = SHEET_WORK * u64::from(rounds);
                Found::new(Shape::Sheet(p.layout), &p.counts, p.value, upper, prices, work)
            }
            Cutter::Stick(stock) => {
                let p = stick::best_within(stock, prices, limits).expect(STICK);
                Found::new(Shape::Stick(p.layout), &p.counts, p.value, p.upper, prices, STICK_WORK)
            }
        }
    }
}

/// Credit of a whole sheet, micro-units rounded up: no remnant of it earns more.
fn whole_credit(sheet: &SheetStock, credit: Option<&Credit>) -> i64 {
    let Some(credit) = credit else { return 0 };
    let area = i128::from(sheet.length) * i128::from(sheet.width);
    let earned = (area * credit.rate_numerator + credit.rate_denominator - 1) / credit.rate_denominator;
    i64::try_from(earned).unwrap_or(i64::MAX)
}

/// The sheet's engine leaves out items without a price, and rounds credit down. Beside priced pieces the others change no
/// value; a layout of nothing else is worth its credit, which is `credit` at the most.
fn with_credit(upper: i64, items: &[usize], credit: i64, prices: &[i64]) -> i64 {
    let rounded_up = upper + i64::from(credit > 0);
    if items.iter().any(|&i| prices[i] <= 0) { rounded_up.max(credit) } else { rounded_up }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nesting::problem::{Kerfs, SheetPiece};

    /// A bound of a plan once stood above its cost: a sheet whose pieces had no price was taken to be worth nothing,
    /// though what is left of it earns credit.
    #[test]
    fn a_sheet_of_unpriced_pieces_is_still_worth_its_credit() {
        let piece = SheetPiece { item: 0, length: 10, width: 10, turned: false };
        let kerf = Kerfs { cross: 1, rip: 1 };
        let sheet = SheetStock { length: 100, width: 50, trim: 0, kerf, stages: 3, first: None, pieces: vec![piece] };
        let credit = Credit { rate_numerator: 3, rate_denominator: 1, min_length: 20, min_width: 20 };
        let stock = Stock {
            count: 1,
            cost: 20_000,
            credit: Some(credit),
            kind: Kind::Sheet(sheet),
            together: vec![],
            wider: None,
        };
        let engine = Engine::new(&stock);
        let mut scratch = Scratch::default();
        // The piece off one end leaves a remnant of 89 x 50.
        assert!(engine.best_within(&[0], &[u32::MAX], &mut scratch, Effort::EXACT).upper >= 89 * 50 * 3);
        assert!(engine.best_within(&[0], &[1], &mut scratch, Effort::EXACT).upper >= 89 * 50 * 3);
    }
}
