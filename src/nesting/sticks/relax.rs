//! The linear relaxation over patterns, by column generation, and the bound that its prices prove.
//!
//! Gilmore and Gomory 1961, over proper patterns (no more of a piece than is wanted; Nitsche, Scheithauer and Terno 1999).
//! Prices are smoothed between the best and the last (Wentges 1997). For any prices u >= 0 in integers, with U_s what no
//! pattern of class s exceeds in worth, credit included, an answer costs at least
//!
//! - sum u d - sum n_s max(0, U_s - c_s) (Lagrangian, Geoffrion 1974), and
//! - without credit and branching, (sum u d) times the least of 1 and all c_s / U_s (Farley 1990: the prices scaled until no pattern
//!   earns).
//!
//! Where branching asks for l_s sticks of a class, those the prices call dear add l_s (c_s - U_s); where it limits a step, the
//! step has a price of its sign, earned by every pattern that takes it, and its count is added like a demand.
//! The greater of both, over all prices tried, is the bound; the solver's own figures never enter.

use rustc_hash::FxHashSet;

use super::super::simplex::{Row, Simplex};
use super::case::{Case, Pattern};
use super::knapsack::Table;
use super::paths::{Arc, Paths};
use super::{Pool, Stop};

/// Weight of the best prices when prices are smoothed.
const SMOOTHING: f64 = 0.6;
/// Patterns taken from one price vector: each uses up what it cuts before the next is looked for.
const PATTERNS: usize = 6;
/// Cost of leaving a piece unmade, in costs of the dearest stick: more than cutting it alone, more yet where cheap sticks
/// may run out.
const ESCAPE: f64 = 1.01;
const ESCAPE_WHEN_LIMITED: f64 = 8.0;
/// What that cost is raised by where branching finds it too low.
const RAISE: f64 = 8.0;
/// A pattern of the pool that loses more than this share of the unit at prices near by is left out.
const LOSS: f64 = 0.04;
/// Least gain of a pattern that enters, share of the unit of cost.
const GAIN: f64 = 1e-7;

/// What is still to be made from what is left.
pub(super) struct Rest<'a> {
    /// By item of the case.
    pub demand: &'a [u32],
    /// By class: sticks left.
    pub left: &'a [u32],
    /// Prices of a relaxation near this one: patterns that lose much at them are left out to begin with.
    pub prices: Option<&'a [i64]>,
    /// What branching asks beside.
    pub asked: &'a Asked,
}

/// What branching asks of answers: more of some sticks, more or fewer of some steps.
#[derive(Clone, Default)]
pub(super) struct Asked {
    /// Classes of which at least so many sticks are cut.
    pub sticks: Vec<(usize, u32)>,
    pub steps: Vec<Step>,
    /// Times the cost of leaving a piece unmade is raised.
    pub raised: u32,
}

/// At least, or at most, so many sticks take the step.
#[derive(Clone)]
pub(super) struct Step {
    pub arc: Arc,
    pub at_least: bool,
    pub count: u32,
}

/// Knapsacks at hand.
#[derive(Default)]
pub(super) struct Tables {
    pub table: Table,
    paths: Paths,
}

/// What the relaxation says.
#[derive(Clone)]
pub(super) struct Relaxed {
    /// Patterns taken: index into the pool, how much of it.
    pub taken: Vec<(usize, f64)>,
    /// No way to make the rest costs less, micro-units.
    pub bound: i64,
    /// By item of the case, micro-units.
    pub prices: Vec<i64>,
    /// Something stays uncovered.
    pub short: bool,
}

/// Solves the relaxation of `rest` with patterns of the pool and new ones, which are added to it, until `settled(bound,
/// value)` or nothing more is gained; `value` is the programme's own, for guidance.
pub(super) fn relax(
    case: &Case,
    rest: &Rest,
    pool: &mut Pool,
    tables: &mut Tables,
    stop: &mut Stop,
    settled: &dyn Fn(i64, f64) -> bool,
) -> Relaxed {
    let mut master = Master::new(case, rest, pool);
    let mut best: Option<(i64, Vec<f64>)> = None;
    let mut bound = 0;
    let mut smoothing = SMOOTHING;
    loop {
        let optimal = master.simplex.optimise();
        let duals = master.prices();
        let mixed: Vec<f64> = match &best {
            Some((_, best)) => duals.iter().zip(best).map(|(d, b)| d + smoothing * (b - d)).collect(),
            None => duals.clone(),
        };
        let priced = Priced::new(case, rest, &mixed, tables);
        stop.work += case.families.len() as u64;
        let fresh = priced.bound(case, rest);
        if best.as_ref().is_none_or(|(b, _)| fresh > *b) {
            best = Some((fresh, mixed));
            bound = bound.max(fresh);
        }
        if settled(bound, master.value()) || !optimal || stop.now() {
            break;
        }
        if !master.grow(case, rest, pool, tables, priced, stop) {
            if smoothing == 0.0 {
                break;
            }
            // The smoothed prices showed nothing new: look at the programme's own.
            smoothing = 0.0;
        } else if smoothing == 0.0 {
            smoothing = SMOOTHING;
        }
    }
    let prices = master.prices().iter().take(case.items.len()).map(|&p| p as i64).collect();
    let (taken, short) = master.answer();
    Relaxed { taken, bound, prices, short }
}

/// Whole prices and what they say.
struct Priced {
    /// By item of the case.
    prices: Vec<i64>,
    /// Steps that branching counts, and their prices.
    steps: Vec<(Arc, i64)>,
    /// By class: no pattern is worth more.
    uppers: Vec<i64>,
    patterns: Vec<Pattern>,
}

impl Priced {
    /// Prices every class of stick; `prices` are those of the items, then those of the steps asked for.
    fn new(case: &Case, rest: &Rest, prices: &[f64], tables: &mut Tables) -> Priced {
        let whole: Vec<i64> = prices.iter().map(|&p| p as i64).collect();
        let (items, steps) = whole.split_at(case.items.len());
        let steps = rest.asked.steps.iter().map(|step| step.arc).zip(steps.iter().copied()).collect();
        let uppers = vec![0; case.classes.len()];
        let mut priced = Priced { uppers, patterns: Vec::new(), prices: items.to_vec(), steps };
        for_each_family(case, rest.left, |family, room, classes| {
            let uppers = priced.fill(case, family, room, classes, rest.demand, tables);
            for ((upper, pattern), &class) in uppers.into_iter().zip(classes) {
                priced.uppers[class] = upper;
                priced.patterns.extend(pattern);
            }
        });
        priced
    }

    /// Upper value and best pattern of each class of a family.
    fn fill(
        &self,
        case: &Case,
        family: usize,
        room: i64,
        classes: &[usize],
        limits: &[u32],
        tables: &mut Tables,
    ) -> Vec<(i64, Option<Pattern>)> {
        let of = &case.families[family];
        let steps: Vec<(Arc, i64)> = self.steps.iter().copied().filter(|step| step.0.family == family).collect();
        if steps.is_empty() {
            let table = &mut tables.table;
            table.fill(of, room, &self.prices, limits);
            classes.iter().map(|&class| (table.upper(&case.classes[class]), table.pattern(case, class))).collect()
        } else {
            let paths = &mut tables.paths;
            paths.fill(of, room, &self.prices, limits, &steps);
            classes.iter().map(|&class| (paths.upper(&case.classes[class]), paths.pattern(case, class))).collect()
        }
    }

    /// What the prices prove about making the rest, micro-units.
    fn bound(&self, case: &Case, rest: &Rest) -> i64 {
        let pieces = |(&u, &d): (&i64, &u32)| i128::from(u) * i128::from(d);
        let steps = self.steps.iter().zip(&rest.asked.steps).map(|(priced, step)| (&priced.1, &step.count));
        let worth: i128 = self.prices.iter().zip(rest.demand).chain(steps).map(pieces).sum();
        let open = || (0..case.classes.len()).filter(|&class| rest.left[class] > 0);
        let profit = |s: usize| i128::from(self.uppers[s]) - i128::from(case.classes[s].cost);
        let earned: i128 = open().map(|s| i128::from(rest.left[s]) * profit(s).max(0)).sum();
        let forced: i128 = rest.asked.sticks.iter().map(|&(s, n)| i128::from(n) * (-profit(s)).max(0)).sum();
        let lagrangian = (worth - earned + forced).max(0);
        let plain = rest.asked.steps.is_empty() && open().all(|s| case.classes[s].credit.is_none());
        let dearest = open().filter(|&s| profit(s) > 0).min_by(|&a, &b| {
            let cross = |s: usize, t: usize| i128::from(case.classes[s].cost) * i128::from(self.uppers[t]);
            cross(a, b).cmp(&cross(b, a))
        });
        let scaled = match dearest {
            Some(s) if plain => worth * i128::from(case.classes[s].cost) / i128::from(self.uppers[s]),
            _ => 0,
        };
        i64::try_from(lagrangian.max(scaled)).unwrap_or(i64::MAX)
    }

    fn worth(&self, pattern: &Pattern) -> i64 {
        pattern.counts.iter().map(|&(k, n)| self.prices[k] * i64::from(n)).sum::<i64>() - pattern.net
    }
}

/// Calls for each family of which sticks are left, with its longest room and its classes left.
pub(super) fn for_each_family(case: &Case, left: &[u32], mut call: impl FnMut(usize, i64, &[usize])) {
    for family in 0..case.families.len() {
        let classes: Vec<usize> =
            (0..case.classes.len()).filter(|&c| case.classes[c].family == family && left[c] > 0).collect();
        if let Some(room) = classes.iter().map(|&c| case.classes[c].room).max() {
            call(family, room, &classes);
        }
    }
}

/// The programme over the patterns at hand.
struct Master<'a> {
    simplex: Simplex,
    asked: &'a Asked,
    /// By item: its row.
    rows: Vec<Option<u32>>,
    /// By class: its rows, when the sticks left may run out or some are asked for.
    class_rows: Vec<Vec<u32>>,
    /// Row of the first step asked for.
    steps: u32,
    /// Patterns of the pool, in the order of the programme's columns.
    columns: Vec<usize>,
    inside: FxHashSet<usize>,
    /// By row: it can be escaped from.
    escapes: Vec<bool>,
    /// Index of the first pattern's column.
    first: usize,
    /// Micro-units in one unit of the programme's costs.
    unit: f64,
}

impl<'a> Master<'a> {
    fn new(case: &Case, rest: &Rest<'a>, pool: &Pool) -> Master<'a> {
        let pieces: u32 = rest.demand.iter().sum();
        let limited = |left: u32| left > 0 && left < pieces;
        let plain = !rest.left.iter().any(|&left| limited(left)) && rest.asked.sticks.is_empty();
        let least = if plain && rest.asked.steps.is_empty() { ESCAPE } else { ESCAPE_WHEN_LIMITED };
        let escape = Some(least * RAISE.powi(rest.asked.raised as i32));
        let mut all = Vec::new();
        let mut rows = vec![None; case.items.len()];
        for (k, &count) in rest.demand.iter().enumerate().filter(|(_, d)| **d > 0) {
            rows[k] = Some(all.len() as u32);
            all.push(Row { count, escape });
        }
        let mut class_rows = vec![Vec::new(); case.classes.len()];
        for (class, &count) in rest.left.iter().enumerate().filter(|&(_, &left)| limited(left)) {
            class_rows[class].push(all.len() as u32);
            all.push(Row { count, escape: None });
        }
        for &(class, count) in &rest.asked.sticks {
            class_rows[class].push(all.len() as u32);
            all.push(Row { count, escape });
        }
        let steps = all.len() as u32;
        all.extend(
            rest.asked.steps.iter().map(|step| Row { count: step.count, escape: escape.filter(|_| step.at_least) }),
        );
        let unit = case.classes.iter().map(|class| class.cost).max().unwrap_or(1).max(1) as f64;
        let simplex = Simplex::new(&all);
        let escapes = all.iter().map(|row| row.escape.is_some()).collect();
        let (first, columns, inside) = (simplex.columns(), Vec::new(), FxHashSet::default());
        let mut master =
            Master { simplex, asked: rest.asked, rows, class_rows, steps, columns, inside, escapes, first, unit };
        let most = (unit * LOSS) as i64;
        for (at, pattern) in pool.patterns.iter().enumerate() {
            let near = |prices: &[i64]| {
                let worth: i64 = pattern.counts.iter().map(|&(k, n)| prices[k] * i64::from(n)).sum();
                pattern.net - worth <= most
            };
            if rest.left[pattern.class] > 0 && pattern.within(rest.demand) && rest.prices.is_none_or(near) {
                master.inside.insert(at);
                master.add(case, at, pattern);
            }
        }
        master
    }

    /// The entries of a pattern's column.
    fn entries(&self, case: &Case, pattern: &Pattern) -> Vec<(u32, f64)> {
        let item = |&(k, n): &(usize, u32)| self.rows[k].map(|row| (row, f64::from(n)));
        let mut entries: Vec<(u32, f64)> = pattern.counts.iter().filter_map(item).collect();
        entries.extend(self.class_rows[pattern.class].iter().map(|&row| (row, 1.0)));
        for (step, row) in self.asked.steps.iter().zip(self.steps..) {
            if step.arc.within(case, pattern) {
                entries.push((row, 1.0));
            }
        }
        entries
    }

    fn add(&mut self, case: &Case, at: usize, pattern: &Pattern) {
        let entries = self.entries(case, pattern);
        self.simplex.add(pattern.net as f64 / self.unit, &entries);
        self.columns.push(at);
    }

    /// Prices by item of the case, not negative, then by step asked for, of its sign; micro-units.
    fn prices(&self) -> Vec<f64> {
        let dual = |row: u32| self.simplex.duals[row as usize] * self.unit;
        let items = self.rows.iter().map(|row| row.map_or(0.0, |row| dual(row).max(0.0)));
        let steps = self.asked.steps.iter().zip(self.steps..).map(|(step, row)| match step.at_least {
            true => dual(row).max(0.0),
            false => dual(row).min(0.0),
        });
        items.chain(steps).collect()
    }

    fn value(&self) -> f64 {
        self.simplex.value() * self.unit
    }

    /// What a pattern would gain at the programme's own prices, share of the unit.
    fn gain(&self, case: &Case, pattern: &Pattern) -> f64 {
        let entries = self.entries(case, pattern);
        let worth: f64 = entries.iter().map(|&(row, n)| self.simplex.duals[row as usize] * n).sum();
        worth - pattern.net as f64 / self.unit
    }

    /// Adds patterns that gain: the best at the prices, then the best of what those leave; false when none does.
    fn grow(
        &mut self,
        case: &Case,
        rest: &Rest,
        pool: &mut Pool,
        tables: &mut Tables,
        mut priced: Priced,
        stop: &mut Stop,
    ) -> bool {
        let mut wanted = rest.demand.to_vec();
        let mut grown = false;
        let mut patterns = std::mem::take(&mut priced.patterns);
        for round in 0..PATTERNS {
            patterns.retain(|pattern| self.gain(case, pattern) > GAIN);
            patterns.sort_by_key(|pattern| -priced.worth(pattern));
            for pattern in &patterns {
                let at = pool.add(pattern);
                if self.inside.insert(at) {
                    self.add(case, at, pattern);
                    grown = true;
                }
            }
            let Some(best) = patterns.first().filter(|_| round + 1 < PATTERNS) else { break };
            // All copies that whole patterns like this would take.
            let copies = best.counts.iter().map(|&(k, n)| wanted[k] / n).min().unwrap_or(1).max(1);
            for &(k, n) in &best.counts {
                wanted[k] = wanted[k].saturating_sub(n * copies);
            }
            patterns.clear();
            for_each_family(case, rest.left, |family, room, classes| {
                let found = priced.fill(case, family, room, classes, &wanted, tables);
                stop.work += 1;
                patterns.extend(found.into_iter().filter_map(|(_, pattern)| pattern));
            });
        }
        grown
    }

    fn answer(&self) -> (Vec<(usize, f64)>, bool) {
        let mut taken = Vec::new();
        let mut short = false;
        for (j, x) in self.simplex.taken() {
            match j.checked_sub(self.first) {
                Some(column) => taken.push((self.columns[column], x)),
                None => short |= self.escapes.get(j) == Some(&true),
            }
        }
        taken.sort_by_key(|t| t.0);
        (taken, short)
    }
}
