//! What else can be made of one board, sheet, stick or offcut: the most valuable set of the job's parts, with its cuts.
//!
//! Picks the piece out of the pile, mills the parts that a single blank gives, asks `nesting::fill` for the most valuable
//! set, and builds a plan of it that `check` finds lawful against the whole job and pile. `text` says it to a person. The
//! rules of the trade are `milling`'s, the search is `nesting`'s.
//!
//! A part counts its `value`, or else its finished volume in cubic inches, to the nearest thousandth; priorities play no
//! part. The stock is taken to be paid for: the bound on the cost of such a plan is nothing, what is proven is the value.

pub mod text;

use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use crate::job::{Job, Part, Wanted};
use crate::measure::Money;
use crate::milling::{self, Milled, StockRef};
use crate::nesting::fill::{Filled as Found, fill as most_valuable};
use crate::nesting::{Layout, Limits, Outcome, Why};
use crate::pile::reading::nearest_cure;
use crate::pile::value::billing;
use crate::pile::{Board, Pile, Price, Sheet, Stick, same_words};
use crate::plan::check::{Violation, check};
use crate::plan::{BuildError, Case, Facts, Run, ShopPlan, build};

/// Values are counted in thousandths: fine beside any part, and coarse enough that the engine of boards need not round.
const THOUSANDTH: i64 = Money::MICROS / 1000;
/// What a part not cut from the piece asks for: the rest of the pile may well hold it.
const NOTHING_TO_BUY: &str = "nothing before the rest of the pile is looked at";

/// Which piece of stock to fill.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pick {
    /// Its id in the pile.
    pub id: String,
    /// Which of its equal pieces, from 1.
    pub copy: u32,
}

/// How to fill it.
#[derive(Clone, Debug, PartialEq)]
pub struct FillOptions {
    /// Stop after so many seconds, proven or not.
    pub seconds: Option<f64>,
    /// Cut any number of a part, not at most what the job asks for.
    pub any_number: bool,
}

impl Default for FillOptions {
    /// Ten seconds, at most what the job asks for.
    fn default() -> FillOptions {
        FillOptions { seconds: Some(10.0), any_number: false }
    }
}

/// The most valuable set found, as a plan.
#[derive(Clone, Debug)]
pub struct Filled {
    /// The piece asked for.
    pub pick: Pick,
    /// The cuts of the piece; everything else of the job is among its shortages.
    pub plan: ShopPlan,
    /// The job the plan answers: the one given, but with the copies raised where more were cut than it asks for.
    pub job: Job,
    /// What the parts cut are worth together.
    pub value: Money,
    /// No set of these parts from this piece is worth more.
    pub upper: Money,
    /// Why the search ended.
    pub why: Why,
}

impl Filled {
    /// True when no set is worth more than this one.
    pub fn is_proven(&self) -> bool {
        self.value == self.upper
    }
}

/// Why a piece was not filled.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FillError {
    /// The pile has no piece of that id; `cure` names the nearest one, or all.
    #[error("there is no stock \"{id}\" in the pile; {cure}")]
    UnknownStock { id: String, cure: String },
    /// There are fewer equal pieces of it.
    #[error("there is no copy {copy} of \"{id}\" in the pile; its copies are 1 to {quantity}")]
    NoSuchCopy { id: String, copy: u32, quantity: u32 },
    /// The optimiser contradicted itself: a fault of the program.
    #[error("the answer contradicts itself: {0}")]
    Contradiction(#[from] BuildError),
    /// The checker refused the plan: a fault of the program, never of the maker.
    #[error("the plan broke a rule of its own and was thrown away: {}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Unlawful(Vec<Violation>),
}

/// Fills one piece of the pile with the most valuable set of parts of the job.
///
/// Panels, laminations and matched parts are left out, with the reason among the plan's shortages. `cancel` ends the search
/// with the best set so far.
///
/// # Errors
/// [`FillError::UnknownStock`] and [`FillError::NoSuchCopy`] for a piece that is not there; [`FillError::Contradiction`]
/// and [`FillError::Unlawful`] for faults of the program.
pub fn fill(
    job: &Job,
    pile: &Pile,
    pick: &Pick,
    options: &FillOptions,
    cancel: &AtomicBool,
) -> Result<Filled, FillError> {
    let start = Instant::now();
    let piece = Piece::find(pile, pick)?;
    let alone = piece.alone(pile);
    let served: Vec<usize> = (0..job.parts.len()).filter(|&p| not_served(&job.parts[p]).is_none()).collect();
    let mut milled = mill_served(job, &alone, &served);
    let budget = Limits {
        deadline: options.seconds.map(|s| start + Duration::from_secs_f64(s.clamp(0.0, 1e9))),
        cancel,
        ..Limits::default()
    };
    let found = search(&milled, options.any_number, &budget);
    let mut asked = job.clone();
    for (item, &count) in found.counts.iter().enumerate() {
        let part = &mut asked.parts[milled.items[item].part];
        part.qty = part.qty.max(count);
        milled.problem.items[item].demand = part.qty;
        let product = milled.problem.items[item].product;
        milled.problem.products[product].copies = part.qty;
    }
    if let Some(stock) = milled.stock.first_mut() {
        stock.source = piece.source;
    }
    let explain = |p: usize| (why_not(&asked, &alone, &piece, p, &found, &milled), NOTHING_TO_BUY.to_owned());
    let facts = Facts {
        cost: &|_, _| piece.cost.clone(),
        copy: Some(pick.copy),
        broken: Money::zero(),
        explain: &explain,
        seed: budget.seed,
        run: Run { seconds: start.elapsed().as_secs_f64(), threads: 1 },
    };
    let outcome = outcome(&milled, &found);
    let mut plan = build(&Case { job: &asked, pile, milled: &milled, outcome: &outcome }, &facts)?;
    let money = |thousandths: i64| Money::from_micros(thousandths.saturating_mul(THOUSANDTH));
    // That no second board can make a part was found of a pile of one.
    plan.work.pull.iter_mut().for_each(|row| row.remarks.clear());
    let (value, upper) = (money(found.value), money(found.upper));
    plan.proof = if value == upper {
        format!("one piece filled: worth {value}, proven the most; no bound on the cost was sought")
    } else {
        format!("one piece filled: worth {value}, at most {upper} is possible; no bound on the cost was sought")
    };
    let violations = check(&asked, pile, &plan);
    if !violations.is_empty() {
        return Err(FillError::Unlawful(violations));
    }
    Ok(Filled { pick: pick.clone(), plan, job: asked, value, upper, why: found.why })
}

/// The piece of stock to fill.
struct Piece<'a> {
    source: StockRef,
    id: &'a str,
    /// Species or material.
    wood: &'a str,
    /// Of this very copy.
    cost: Money,
}

impl<'a> Piece<'a> {
    fn find(pile: &'a Pile, pick: &Pick) -> Result<Piece<'a>, FillError> {
        let Some((source, quantity)) = locate(pile, &pick.id) else {
            let boards = pile.boards.iter().map(|board| board.id.as_str());
            let sheets = pile.sheets.iter().map(|sheet| sheet.id.as_str());
            let known = boards.chain(sheets).chain(pile.sticks.iter().map(|stick| stick.id.as_str()));
            return Err(FillError::UnknownStock {
                id: pick.id.clone(),
                cure: nearest_cure(&pick.id, known, "pieces of the pile"),
            });
        };
        if !(1..=quantity).contains(&pick.copy) {
            return Err(FillError::NoSuchCopy { id: pick.id.clone(), copy: pick.copy, quantity });
        }
        let (id, wood, cost) = match source {
            StockRef::Board(b) => {
                let board = &pile.boards[b];
                (&board.id, &board.species, billing(pile)[b].copy(pick.copy - 1).cost.clone())
            }
            StockRef::Sheet(s) => (&pile.sheets[s].id, &pile.sheets[s].material, pile.sheets[s].cost.clone()),
            StockRef::Stick(s) => (&pile.sticks[s].id, &pile.sticks[s].material, pile.sticks[s].cost.clone()),
        };
        Ok(Piece { source, id, wood, cost })
    }

    /// A pile of this piece and nothing else, at its own price.
    fn alone(&self, pile: &Pile) -> Pile {
        let (mut boards, mut sheets, mut sticks) = (Vec::new(), Vec::new(), Vec::new());
        match self.source {
            StockRef::Board(b) => {
                let price = Price::Piece(self.cost.clone());
                boards.push(Board { quantity: 1, price, ..pile.boards[b].clone() });
            }
            StockRef::Sheet(s) => sheets.push(Sheet { quantity: 1, ..pile.sheets[s].clone() }),
            StockRef::Stick(s) => sticks.push(Stick { quantity: 1, ..pile.sticks[s].clone() }),
        }
        Pile { boards, sheets, sticks, ..pile.clone() }
    }
}

/// Where a piece lies in the pile, and how many equal ones there are.
fn locate(pile: &Pile, id: &str) -> Option<(StockRef, u32)> {
    let board = || pile.boards.iter().position(|b| b.id == id).map(|b| (StockRef::Board(b), pile.boards[b].quantity));
    let sheet = || pile.sheets.iter().position(|s| s.id == id).map(|s| (StockRef::Sheet(s), pile.sheets[s].quantity));
    let stick = || pile.sticks.iter().position(|s| s.id == id).map(|s| (StockRef::Stick(s), pile.sticks[s].quantity));
    board().or_else(sheet).or_else(stick)
}

/// Why a part is left out whatever the piece is like; `None` for parts that a single blank gives.
fn not_served(part: &Part) -> Option<&'static str> {
    if part.panel.is_some() {
        Some("is a panel, glued up from several blanks; enter its staves as parts to fill with them")
    } else if part.lamination.is_some() {
        Some("is a lamination, glued up from several blanks; enter its layers as parts to fill with them")
    } else if part.matching.is_some() {
        Some("is matched with other pieces, which one piece of stock by itself does not keep together")
    } else {
        None
    }
}

/// The problem of the served parts and the one piece; parts are numbered as in the whole job.
fn mill_served(job: &Job, alone: &Pile, served: &[usize]) -> Milled {
    let parts = served.iter().map(|&p| job.parts[p].clone()).collect();
    let few = Job { parts, ..job.clone() };
    let mut milled = milling::mill(&few, alone, &vec![1; served.len()]);
    for item in &mut milled.items {
        item.part = served[item.part];
    }
    milled
}

/// The most valuable set of the milled parts; values in thousandths.
fn search(milled: &Milled, any_number: bool, budget: &Limits) -> Found {
    let problem = &milled.problem;
    let value = |item: &crate::nesting::Item| {
        let micros = problem.products[item.product].value;
        let least = i64::from(micros > 0);
        (micros.saturating_add(THOUSANDTH / 2) / THOUSANDTH).max(least)
    };
    let values: Vec<i64> = problem.items.iter().map(value).collect();
    let limits: Vec<u32> = problem.items.iter().map(|item| item.demand).collect();
    match problem.stock.first() {
        Some(stock) => most_valuable(stock, &values, (!any_number).then_some(&limits[..]), budget),
        None => Found { shape: None, counts: vec![0; values.len()], value: 0, upper: 0, why: Why::Proven },
    }
}

/// The answer as `build` reads it. Its bound is that of stock already paid for, so a search that has proven its value
/// still ended with "nothing left to try" as far as the cost goes.
fn outcome(milled: &Milled, found: &Found) -> Outcome {
    let layouts = found.shape.iter().map(|shape| Layout { stock: 0, shape: shape.clone() }).collect();
    Outcome {
        layouts,
        made: found.counts.clone(),
        cost: milled.problem.stock.first().map_or(0, |stock| stock.cost),
        bound: 0,
        proof: "",
        shortage_proven: vec![false; found.counts.len()],
        why: if found.why == Why::Proven { Why::Work } else { found.why },
        work: 0,
    }
}

/// Why not all copies of a part are cut from the piece.
fn why_not(job: &Job, alone: &Pile, piece: &Piece, p: usize, found: &Found, milled: &Milled) -> String {
    let part = &job.parts[p];
    if let Some(reason) = not_served(part) {
        return reason.to_owned();
    }
    let fits = match (&part.stock, piece.source) {
        (Wanted::Species(wood), StockRef::Board(_)) => same_words(wood, piece.wood),
        (Wanted::Material(wood), StockRef::Sheet(_) | StockRef::Stick(_)) => same_words(wood, piece.wood),
        _ => false,
    };
    if !fits {
        return format!("is not made of {}, which {} is", piece.wood, piece.id);
    }
    let items = milled.items.iter().zip(&found.counts).filter(|(item, _)| item.part == p);
    let made: u32 = items.map(|(_, &count)| count).sum();
    if made > 0 {
        return format!("{made} of {} are cut from {}; the rest found no room beside what is", part.qty, piece.id);
    }
    if gives(milled, p) {
        return format!("{} could give it, but not beside what is cut", piece.id);
    }
    milling::explain::explain(job, alone, p, 1, part.qty).why
}

/// True when the piece gives one copy of a part, with nothing else cut from it.
fn gives(milled: &Milled, p: usize) -> bool {
    let Some(stock) = milled.problem.stock.first() else { return false };
    let of_part: Vec<bool> = milled.items.iter().map(|item| item.part == p).collect();
    let values: Vec<i64> = of_part.iter().map(|&of_part| i64::from(of_part)).collect();
    let limits: Vec<u32> = of_part.iter().map(|&of_part| u32::from(of_part)).collect();
    let budget = Limits::default();
    most_valuable(stock, &values, Some(&limits), &budget).value > 0
}
