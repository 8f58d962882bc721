//! Direct costs: what the plan makes and how, counted exactly, at the shop's rates.
//!
//! Quantities come from the plan (cuts, glue-ups, pieces) and the job (surfaces, sub-assemblies); nothing is estimated
//! beyond the rates themselves. What is put on top of these costs is `price`'s business.

use num_traits::Zero;

use super::share::StockShare;
use crate::job::rates::{Basis, Operation, Rates};
use crate::job::{Job, Part, Wanted};
use crate::measure::{Area, Length, Money, Rational, Units};
use crate::pile::same_words;
use crate::plan::{GlueKind, GlueUp, ShopPlan, StockKind};

/// What a cost is for, as a client is shown it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Heading {
    Design,
    Making,
    Hardware,
    Delivery,
    Fitting,
}

impl Heading {
    /// All headings, in the order of a client's page.
    pub const ALL: [Heading; 5] =
        [Heading::Design, Heading::Making, Heading::Hardware, Heading::Delivery, Heading::Fitting];
}

/// What a cost is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineKind {
    /// The stock from the pile, all of it in one line.
    Stock,
    Material,
    Labour,
}

/// One direct cost.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    pub heading: Heading,
    pub kind: LineKind,
    pub what: String,
    /// How much of it, in `unit`.
    pub qty: Rational,
    /// What `qty` counts; empty for a sum.
    pub unit: &'static str,
    /// Money for one of the unit; for labour, for one hour.
    pub each: Money,
    /// Hours; nothing for materials.
    pub hours: Rational,
    pub amount: Money,
}

/// The direct costs of a lawful plan. `made` counts finished copies by part of the job.
pub(super) fn lines(job: &Job, plan: &ShopPlan, made: &[u32], stock: &[StockShare]) -> Vec<Line> {
    let rates = &job.shop.rates;
    let counts = Counts::of(job, plan, made);
    let mut lines = materials(rates, &counts, stock);
    lines.extend(labour(rates, &counts));
    lines.retain(|line| !line.amount.as_rational().is_zero() || !line.hours.is_zero());
    lines
}

/// Finished surface of what is made, square feet: all six sides between the shoulders.
pub(super) fn surface(job: &Job, made: &[u32]) -> Rational {
    let surface = job.parts.iter().zip(made).map(|(part, &made)| times(sides(part), made)).sum();
    square_feet(surface)
}

/// The woods of what is made, each once.
pub(super) fn woods(job: &Job, made: &[u32]) -> Vec<String> {
    let mut woods: Vec<String> = Vec::new();
    for (part, _) in job.parts.iter().zip(made).filter(|(_, made)| **made > 0) {
        let (Wanted::Species(wood) | Wanted::Material(wood)) = &part.stock;
        if !woods.iter().any(|known| same_words(known, wood)) {
            woods.push(wood.clone());
        }
    }
    woods
}

fn sides(part: &Part) -> Area {
    times(part.length * part.width + part.length * part.thickness + part.width * part.thickness, 2)
}

fn times(area: Area, count: u32) -> Area {
    Area::from_square_ticks(area.square_ticks() * i128::from(count))
}

fn square_feet(area: Area) -> Rational {
    let foot = Length::from_inches(12);
    area.share_of(foot * foot)
}

/// How much there is of what rates count by.
struct Counts {
    units: Units,
    cuts: usize,
    glueups: usize,
    /// Glue joint, square feet.
    joints: Rational,
    pieces: u32,
    groups: usize,
    surface: Rational,
}

impl Counts {
    fn of(job: &Job, plan: &ShopPlan, made: &[u32]) -> Counts {
        let glued: Vec<&GlueUp<Length>> = plan.glueups.iter().filter(|glueup| glueup.members.len() > 1).collect();
        Counts {
            units: job.units,
            cuts: plan.cuts.len(),
            glueups: glued.len(),
            joints: square_feet(glued.iter().map(|glueup| joint(job, glueup)).sum()),
            pieces: made.iter().sum(),
            groups: groups(job, made),
            surface: surface(job, made),
        }
    }
}

/// Sub-assemblies put together; a piece whose parts name none is one.
fn groups(job: &Job, made: &[u32]) -> usize {
    let made = job.parts.iter().zip(made).filter(|(_, made)| **made > 0).map(|(part, _)| part);
    let mut named: Vec<&str> = Vec::new();
    let mut any = false;
    for part in made {
        any = true;
        if let Some(group) = &part.group
            && !named.iter().any(|known| same_words(known, group))
        {
            named.push(group);
        }
    }
    if named.is_empty() { usize::from(any) } else { named.len() }
}

/// The glue joints of a panel or a lamination, as it lies in the clamps; by the part's own size where the plan has no
/// figures for it.
fn joint(job: &Job, glueup: &GlueUp<Length>) -> Area {
    let part = job.parts.iter().find(|part| part.id == glueup.part);
    let finished = part.map(|part| [part.full_length(), part.width, part.thickness]);
    let glued = glueup.sheet.as_ref().map(|sheet| [sheet.glued.length, sheet.glued.width, sheet.glued.thickness]);
    let [length, width, thickness] = glued.or(finished).unwrap_or_default();
    let across = if glueup.kind == GlueKind::Panel { thickness } else { width };
    times(length * across, glueup.members.len().saturating_sub(1) as u32)
}

/// An area of so many square feet in the units of a shop, and money for one of them. A square foot is exactly 0.09290304
/// square metres.
fn area(units: Units, square_feet: &Rational, each: &Money) -> (Rational, &'static str, Money) {
    match units {
        Units::Inches => (square_feet.clone(), "sq ft", each.clone()),
        Units::Millimetres => {
            let metres = Rational::new(9_290_304.into(), 100_000_000.into());
            (square_feet * &metres, "m2", each.times(&metres.recip()))
        }
    }
}

fn whole(count: impl Into<num_bigint::BigInt>) -> Rational {
    Rational::from_integer(count.into())
}

fn material(heading: Heading, what: String, (qty, unit, each): (Rational, &'static str, Money)) -> Line {
    let amount = each.times(&qty);
    Line { heading, kind: LineKind::Material, what, qty, unit, each, hours: Rational::zero(), amount }
}

fn materials(rates: &Rates, counts: &Counts, stock: &[StockShare]) -> Vec<Line> {
    let making = |what: &str, counted| material(Heading::Making, what.to_owned(), counted);
    let charged: Money = stock.iter().map(|piece| piece.charged.clone()).sum();
    let from_pile = making(&stock_words(stock), (whole(1), "", charged.clone()));
    let mut lines = vec![
        Line { kind: LineKind::Stock, ..from_pile },
        making("consumables, a share of the stock", (rates.consumables.share.clone(), "of it", charged)),
        making("consumables, by the part", (whole(counts.pieces), "parts", rates.consumables.part.clone())),
        making("glue", area(counts.units, &counts.joints, &rates.consumables.glue)),
    ];
    let coats = whole(rates.finish.coats);
    let coated = &counts.surface * &coats;
    let what = format!("finish, {} coats", rates.finish.coats);
    lines.push(making(&what, area(counts.units, &coated, &rates.finish.per_coat)));
    let hardware = rates.hardware.iter();
    lines.extend(
        hardware.map(|line| {
            material(Heading::Hardware, line.what.clone(), (line.qty.clone(), "pieces", line.cost.clone()))
        }),
    );
    lines
}

/// `stock: 4 boards, 2 sheets`.
fn stock_words(stock: &[StockShare]) -> String {
    let kinds = [(StockKind::Board, "board"), (StockKind::Sheet, "sheet"), (StockKind::Stick, "stick")];
    let counts: Vec<String> = kinds
        .into_iter()
        .map(|(kind, word)| (stock.iter().filter(|piece| piece.kind == kind).count(), word))
        .filter(|(count, _)| *count > 0)
        .map(|(count, word)| format!("{count} {word}{}", if count == 1 { "" } else { "s" }))
        .collect();
    format!("stock: {}", counts.join(", "))
}

fn labour(rates: &Rates, counts: &Counts) -> Vec<Line> {
    let one = Money::zero();
    let lines = Operation::ALL.map(|operation| {
        let (qty, unit) = match operation.basis() {
            Basis::Job => (whole(1), ""),
            Basis::Cut => (whole(counts.cuts), "cuts"),
            Basis::GlueUp => (whole(counts.glueups), "glue-ups"),
            Basis::Part => (whole(counts.pieces), "parts"),
            Basis::Group => (whole(counts.groups), "assemblies"),
            Basis::Area => (counts.surface.clone(), "sq ft"),
            Basis::CoatArea => (&counts.surface * whole(rates.finish.coats), "sq ft"),
        };
        let each = rates.labour.rate(operation);
        let hours = &rates.labour.of(operation).hours * &qty;
        let amount = each.times(&hours);
        let (qty, unit) = if unit == "sq ft" {
            let (qty, unit, _) = area(counts.units, &qty, &one);
            (qty, unit)
        } else {
            (qty, unit)
        };
        let (what, heading) = said(operation);
        Line { heading, kind: LineKind::Labour, what: what.to_owned(), qty, unit, each, hours, amount }
    });
    Vec::from(lines)
}

fn said(operation: Operation) -> (&'static str, Heading) {
    match operation {
        Operation::Design => ("design", Heading::Design),
        Operation::LumberTrip => ("lumber trip", Heading::Making),
        Operation::Cut => ("sawing and milling", Heading::Making),
        Operation::GlueUp => ("gluing up", Heading::Making),
        Operation::Part => ("shaping and joinery", Heading::Making),
        Operation::Sanding => ("sanding", Heading::Making),
        Operation::Finishing => ("finishing", Heading::Making),
        Operation::Assembly => ("assembly", Heading::Making),
        Operation::Delivery => ("delivery", Heading::Delivery),
        Operation::Fitting => ("fitting", Heading::Fitting),
    }
}
