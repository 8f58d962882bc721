//! How much lumber to order, with what confidence: from random boards of a grade to a quantity, a price and a shopping list.
//!
//! `boards` makes up or repeats random boards, `lots` finds how many of them one delivery takes, `figures` turns many lots
//! into quantities with intervals, `terms` into money, `wants` into drivers and boards to ask for; `text` says it all. The
//! yield is what the optimiser of plans really gets, not a factor. Invariant: lot k is a pure function of the question and k,
//! so the answer does not depend on threads, and a run that is cancelled answers from the lots it finished.

pub mod boards;
pub mod figures;
mod lots;
mod terms;
mod text;
mod wants;

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::job::{Job, Wanted};
use crate::measure::{Length, Money, Rational};
use crate::milling::{self, explain};
use crate::nesting::{Progress, with_threads};
use crate::pile::value::billing_thickness;
use crate::pile::{Board, Nominal, Pile, Price, Surfaced, Tally, Warp, same_words};
use crate::plan::{self, Options, Status};
use crate::trade::grades::Grade;
use crate::trade::thickness;

use boards::{OVERLENGTH, Source};
use figures::{Bar, Figure, figure, histogram};
use lots::{LotFound, Task, net_face, pile_of};

pub use terms::{GradeTotal, Terms, Total, premium_from};
pub use text::OrderFigures;
pub use wants::{AskFor, Driver};

/// A grade that might be ordered.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    pub grade: Grade,
    /// A board foot; no totals without.
    pub price: Option<Money>,
}

/// What is asked.
#[derive(Clone, Debug)]
pub struct Question {
    pub species: String,
    /// The thicknesses to order; empty for the standard ones that the parts need. A part is made from the thinnest that serves.
    pub thicknesses: Vec<Nominal>,
    /// The grades to compare, at least one.
    pub offers: Vec<Offer>,
    /// Boards of past deliveries, in place of made-up ones: those of the species, thickness and grade.
    pub past: Option<Pile>,
    /// Random deliveries tried, at least one.
    pub lots: u32,
    pub seed: u64,
    /// The share of deliveries that must be enough, above 0 and below 1.
    pub confidence: f64,
    pub terms: Terms,
    /// 0: one a core. The answer does not depend on it.
    pub threads: usize,
}

/// How far the answer is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LotsDone {
    pub done: usize,
    pub of: usize,
}

/// What to order.
#[derive(Clone, Debug)]
pub struct Answer {
    pub question: Question,
    /// Parts of the species that no order here is for, each with the reason.
    pub left_out: Vec<(String, String)>,
    pub orders: Vec<ThicknessOrder>,
    /// By offer, over all thicknesses, freight once; only for grades that can be had in all of them, with a price.
    pub totals: Vec<GradeTotal>,
    pub cancelled: bool,
}

/// The order of one thickness.
#[derive(Clone, Debug)]
pub struct ThicknessOrder {
    pub nominal: Nominal,
    /// Parts made from it.
    pub parts: Vec<String>,
    /// Board feet of those parts alone: finished faces at the billing thickness.
    pub net_board_feet: f64,
    pub grades: Vec<GradeOrder>,
}

/// The order of one thickness in one grade.
#[derive(Clone, Debug)]
pub struct GradeOrder {
    pub grade: Grade,
    /// Why it cannot be ordered at all.
    pub impossible: Option<String>,
    /// Lots finished.
    pub lots: usize,
    /// Lots that were never enough, however many boards came.
    pub never: usize,
    /// At 50 %, 80 % and the confidence asked for, ascending.
    pub figures: Vec<Figure>,
    /// Net board feet over board feet taken, by lot that was enough, ascending.
    pub yields: Vec<f64>,
    pub histogram: Vec<Bar>,
    pub drivers: Vec<Driver>,
    pub ask_for: Vec<AskFor>,
    /// Board feet by the usual waste factor of the grade; none where there is none.
    pub usual: Option<f64>,
    /// Whether the lot that the figure asked for rests on was planned whole and the plan found lawful.
    pub checked: Option<bool>,
    pub total: Option<Total>,
}

impl GradeOrder {
    /// The figure at the confidence asked for.
    pub fn asked(&self, confidence: f64) -> Option<&Figure> {
        self.figures.iter().find(|figure| (figure.share - confidence).abs() < 1e-9)
    }

    /// The middle yield of the lots; none without lots that were enough.
    pub fn median_yield(&self) -> Option<f64> {
        self.yields.get(self.yields.len() / 2).copied()
    }
}

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum OrderError {
    #[error("no part of the job is made of {species}; the job asks for {asked}")]
    NoSuchSpecies { species: String, asked: String },
    #[error("no part can be made from {species} of these thicknesses: {}", .why.join("; "))]
    NothingToOrder { species: String, why: Vec<String> },
    #[error("past boards hold no {what}; leave them out, or give a pile that has some")]
    NoPastBoards { what: String },
    #[error("there is no everyday {grade} board to draw: give past boards of it, or order {}", known())]
    NoSuchBoards { grade: &'static str },
    /// Cancelled before a single lot was finished.
    #[error("cancelled before there was a figure")]
    Cancelled,
}

fn known() -> String {
    boards::TABLE.iter().map(|row| row.grade.name()).collect::<Vec<_>>().join(", ")
}

/// Thicknesses that are tried when none is asked for: those that yards stock.
const STOCKED: [(u16, u16); 6] = [(4, 4), (5, 4), (6, 4), (8, 4), (10, 4), (12, 4)];
/// Bars of a histogram of yields, about.
const BARS: usize = 12;
/// Units of work of the plan that checks a figure.
const CHECKING: u64 = 8;

/// Answers the question.
///
/// `progress` hears of every lot; with `cancel` set the answer comes from the lots finished.
///
/// # Errors
/// [`OrderError`], when the job and the question do not go together, or when cancelled before any lot was finished.
pub fn answer(
    job: &Job,
    question: &Question,
    cancel: &AtomicBool,
    progress: &(dyn Fn(LotsDone) + Sync),
) -> Result<Answer, OrderError> {
    let job = &of_species(job, &question.species)?;
    let (groups, left_out) = by_thickness(job, question)?;
    let mut sources = Vec::new();
    for (nominal, _) in &groups {
        sources.push(sources_of(question, *nominal)?);
    }
    let all = groups.len() * question.offers.len() * question.lots as usize;
    let done = AtomicUsize::new(0);
    let count = || progress(LotsDone { done: done.fetch_add(1, Ordering::Relaxed) + 1, of: all });
    let run = || -> Vec<ThicknessOrder> {
        let pairs = groups.iter().zip(&sources);
        pairs
            .map(|((nominal, part), sources)| thickness_order(part, *nominal, sources, question, cancel, &count))
            .collect()
    };
    let orders = with_threads(question.threads, run);
    let cancelled = cancel.load(Ordering::Relaxed);
    let finished: usize = orders.iter().flat_map(|order| &order.grades).map(|grade| grade.lots).sum();
    if cancelled && finished == 0 {
        return Err(OrderError::Cancelled);
    }
    let totals = terms::totals(&orders, question);
    Ok(Answer { question: question.clone(), left_out, orders, totals, cancelled })
}

/// The job's parts of one species.
fn of_species(job: &Job, species: &str) -> Result<Job, OrderError> {
    let is = |wanted: &Wanted| matches!(wanted, Wanted::Species(wood) if same_words(wood, species));
    let parts: Vec<_> = job.parts.iter().filter(|part| is(&part.stock)).cloned().collect();
    if parts.is_empty() {
        let mut asked: Vec<&str> = Vec::new();
        for part in &job.parts {
            let Wanted::Species(wood) = &part.stock else { continue };
            if !asked.iter().any(|known| same_words(known, wood)) {
                asked.push(wood);
            }
        }
        let asked = if asked.is_empty() { "no lumber".to_owned() } else { asked.join(", ") };
        return Err(OrderError::NoSuchSpecies { species: species.to_owned(), asked });
    }
    Ok(Job { parts, ..job.clone() })
}

/// A thickness and the parts made from it.
type Group = (Nominal, Job);

/// A part that is left out, and why.
type LeftOut = (String, String);

/// The parts by the thinnest thickness that serves them, and those that none does.
fn by_thickness(job: &Job, question: &Question) -> Result<(Vec<Group>, Vec<LeftOut>), OrderError> {
    let mut nominals = question.thicknesses.clone();
    if nominals.is_empty() {
        nominals = STOCKED.map(|(numerator, denominator)| Nominal { numerator, denominator }).to_vec();
    }
    nominals.sort_by_key(|nominal| Length::from_inch_fraction(nominal.numerator.into(), nominal.denominator.into()));
    nominals.dedup();
    let mut groups: Vec<Group> =
        nominals.iter().map(|nominal| (*nominal, Job { parts: Vec::new(), ..job.clone() })).collect();
    let mut left_out = Vec::new();
    for part in &job.parts {
        let single = Job { parts: vec![part.clone()], ..job.clone() };
        let serving = groups.iter_mut().find(|(nominal, _)| {
            // The widest and longest board of everyday trade; what smaller ones of a grade can do shows in the lots.
            let board = clear_board(&question.species, *nominal, Length::from_inches(24), Length::from_inches(16 * 12));
            makes_all(&single, &one_board(job, board))
        });
        match serving {
            Some((_, group)) => group.parts.push(part.clone()),
            None => {
                let thickest = nominals.last().copied().unwrap_or(Nominal { numerator: 4, denominator: 4 });
                let board = clear_board(&question.species, thickest, Length::from_inches(24), Length::from_inches(192));
                left_out.push((part.id.clone(), why_not(&single, &one_board(job, board))));
            }
        }
    }
    groups.retain(|(_, group)| !group.parts.is_empty());
    if groups.is_empty() {
        let why = left_out.iter().map(|(part, why)| format!("{part}: {why}")).collect();
        return Err(OrderError::NothingToOrder { species: question.species.clone(), why });
    }
    Ok((groups, left_out))
}

/// A board without a flaw, of the thickness's kiln-dried minimum.
fn clear_board(species: &str, nominal: Nominal, width: Length, length: Length) -> Board {
    let full = Length::from_inch_fraction(nominal.numerator.into(), nominal.denominator.into());
    let row = thickness::find(nominal.numerator, nominal.denominator);
    Board {
        id: "clear".to_owned(),
        species: species.to_owned(),
        nominal: Some(nominal),
        thickness: row.map_or(full, |row| row.kiln_dried),
        width,
        length,
        grade: None,
        surfaced: Surfaced::Rough,
        rings: None,
        heart: None,
        price: Price::Piece(Money::zero()),
        board_feet: None,
        surface_measure: None,
        moisture: None,
        warp: Warp::default(),
        defects: Vec::new(),
        quantity: 1,
    }
}

fn one_board(job: &Job, board: Board) -> Pile {
    Pile { units: job.units, tally: Tally::Hardwood, boards: vec![board], sheets: Vec::new(), sticks: Vec::new() }
}

/// True when every piece of the job can be cut from something of the pile, in some choice of layers and staves. Rings are
/// left out of account, since a board here may not state them.
fn makes_all(job: &Job, pile: &Pile) -> bool {
    let mut job = job.clone();
    job.parts.iter_mut().for_each(|part| part.rings.clear());
    plan::choices::member_choices(&job, pile).iter().any(|members| {
        let milled = milling::mill(&job, pile, members);
        let mut yielded = vec![false; milled.items.len()];
        let leaves = milled.stock.iter().flat_map(|stock| &stock.cuttings).flat_map(|cutting| &cutting.leaves);
        leaves.for_each(|&item| yielded[item] = true);
        yielded.iter().all(|given| *given)
    })
}

fn why_not(job: &Job, pile: &Pile) -> String {
    let members = &plan::choices::member_choices(job, pile)[0];
    explain::explain(job, pile, 0, members[0], job.parts[0].qty).why
}

/// Where the boards of each offer come from, for one thickness.
fn sources_of(question: &Question, nominal: Nominal) -> Result<Vec<Source>, OrderError> {
    let billed = Rational::new(nominal.numerator.into(), nominal.denominator.into());
    let source = |offer: &Offer| match &question.past {
        None => Source::of_grade(offer.grade, nominal).ok_or(OrderError::NoSuchBoards { grade: offer.grade.name() }),
        Some(pile) => {
            let graded = |board: &Board| board.grade.as_deref().and_then(Grade::read) == Some(offer.grade);
            let fits = |board: &&Board| {
                same_words(&board.species, &question.species) && billing_thickness(board) == billed && graded(board)
            };
            // A line of equal boards is that many past boards.
            let past = pile.boards.iter().filter(fits);
            let past: Vec<Board> =
                past.flat_map(|board| std::iter::repeat_n(board.clone(), board.quantity as usize)).collect();
            if past.is_empty() {
                let (grade, top, bottom) = (offer.grade.name(), nominal.numerator, nominal.denominator);
                return Err(OrderError::NoPastBoards {
                    what: format!("{} {top}/{bottom} of grade {grade}", question.species),
                });
            }
            Ok(Source::Past(past))
        }
    };
    question.offers.iter().map(source).collect()
}

/// The largest boards a source gives, without a flaw: what none of them serves, no lot does.
fn largest(source: &Source, job: &Job, species: &str) -> Pile {
    match source {
        Source::Past(boards) => Pile {
            units: job.units,
            tally: Tally::Hardwood,
            boards: boards.iter().map(|board| Board { species: species.to_owned(), ..board.clone() }).collect(),
            sheets: Vec::new(),
            sticks: Vec::new(),
        },
        Source::Table(row, nominal) => {
            let width = Length::from_inch_fraction(row.width.1, 8);
            let length = Length::from_inch_fraction(row.feet.1 * 96 + OVERLENGTH, 8);
            let mut board = clear_board(species, *nominal, width, length);
            // Boards come up to 1/16 in over their nominal thickness.
            let over = Length::from_inch_fraction(nominal.numerator.into(), nominal.denominator.into());
            board.thickness = over + Length::from_inch_fraction(1, 16);
            one_board(job, board)
        }
    }
}

fn thickness_order(
    job: &Job,
    nominal: Nominal,
    sources: &[Source],
    question: &Question,
    cancel: &AtomicBool,
    count: &(dyn Fn() + Sync),
) -> ThicknessOrder {
    let inches = f64::from(nominal.numerator) / f64::from(nominal.denominator);
    let mut net_board_feet = 0.0;
    let mut grades = Vec::new();
    for (offer, source) in question.offers.iter().zip(sources) {
        let largest = largest(source, job, &question.species);
        let choices = plan::choices::member_choices(job, &largest);
        let face = choices.iter().map(|members| net_face(&milling::mill(job, &largest, members)));
        let net = face.fold(f64::INFINITY, f64::min) * inches.max(1.0) / 144.0;
        net_board_feet = net;
        if !makes_all(job, &largest) {
            let single = |part| Job { parts: vec![part], ..job.clone() };
            let beyond = job.parts.iter().cloned().map(single).find(|single| !makes_all(single, &largest));
            let why = beyond.map(|single| format!("{}: {}", single.parts[0].id, why_not(&single, &largest)));
            (0..question.lots).for_each(|_| count());
            grades.push(GradeOrder::impossible(offer.grade, why.unwrap_or_default()));
            continue;
        }
        let species = question.species.as_str();
        let task = Task { job, species, source, choices: &choices, net, seed: question.seed, cancel };
        let lots: Vec<Option<LotFound>> = (0..u64::from(question.lots))
            .into_par_iter()
            .map(|index| {
                let found = if cancel.load(Ordering::Relaxed) { None } else { task.run(index) };
                count();
                found
            })
            .collect();
        let lots: Vec<LotFound> = lots.into_iter().flatten().collect();
        grades.push(grade_order(&task, offer, question, lots));
    }
    let parts = job.parts.iter().map(|part| part.id.clone()).collect();
    ThicknessOrder { nominal, parts, net_board_feet, grades }
}

impl GradeOrder {
    fn impossible(grade: Grade, why: String) -> GradeOrder {
        GradeOrder {
            grade,
            impossible: Some(why),
            lots: 0,
            never: 0,
            figures: Vec::new(),
            yields: Vec::new(),
            histogram: Vec::new(),
            drivers: Vec::new(),
            ask_for: Vec::new(),
            usual: None,
            checked: None,
            total: None,
        }
    }
}

fn grade_order(task: &Task<'_>, offer: &Offer, question: &Question, mut lots: Vec<LotFound>) -> GradeOrder {
    lots.sort_by(|a, b| a.board_feet.total_cmp(&b.board_feet));
    let quantities: Vec<Option<f64>> = lots.iter().map(|lot| lot.boards.as_ref().map(|_| lot.board_feet)).collect();
    let mut shares = vec![0.5, 0.8, question.confidence];
    shares.sort_by(f64::total_cmp);
    shares.dedup();
    let figures: Vec<Figure> = shares.iter().map(|&share| figure(&quantities, share)).collect();
    let mut yields: Vec<f64> = quantities.iter().flatten().map(|feet| task.net / feet).collect();
    yields.sort_by(f64::total_cmp);
    let asked = figures.iter().find(|figure| figure.share == question.confidence).and_then(|figure| figure.board_feet);
    let total = asked.and_then(|feet| terms::total(feet, offer, question, &lots));
    GradeOrder {
        grade: offer.grade,
        impossible: None,
        lots: lots.len(),
        never: quantities.iter().filter(|quantity| quantity.is_none()).count(),
        histogram: histogram(&yields, BARS),
        drivers: wants::drivers(task, &lots),
        ask_for: wants::ask_for(task, &lots),
        usual: terms::usual(offer.grade, task.net),
        checked: asked.and_then(|feet| checked(task, &lots, feet)),
        figures,
        yields,
        total,
    }
}

/// Whether the lot that a figure rests on can be planned whole, the plan judged by the checker of plans; not looked at once
/// cancelled.
fn checked(task: &Task<'_>, lots: &[LotFound], feet: f64) -> Option<bool> {
    if task.cancel.load(Ordering::Relaxed) {
        return None;
    }
    let boards = lots.iter().find(|lot| lot.board_feet == feet)?.boards.as_ref()?;
    let options = Options { seconds: None, work: Some(CHECKING), gap: 0.0, seed: task.seed, threads: 0 };
    let silent = |_: &Progress| {};
    match plan::make(task.job, &pile_of(task.job.units, boards), &options, task.cancel, &silent) {
        Ok(plan) => Some(plan.status == Status::Complete),
        Err(_) => Some(false),
    }
}
