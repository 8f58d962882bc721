//! The linear relaxation over patterns, by column generation, and the bound that its prices prove.
//!
//! Gilmore and Gomory 1961, over proper patterns (no more of a piece than is wanted; Nitsche, Scheithauer and Terno 1999).
//! Prices are smoothed between the best and the last (Wentges 1997). For any prices u >= 0 in integers, with U_s what no
//! pattern of class s exceeds in worth, credit included, an answer costs at least
//!
//! - sum u d - sum n_s max(0, U_s - c_s) (Lagrangian, Geoffrion 1974), and
//! - without credit, (sum u d) times the least of 1 and all c_s / U_s (Farley 1990: the prices scaled until no pattern
//!   earns).
//!
//! The greater of both, over all prices tried, is the bound; the solver's own figures never enter.

use super::case::{Case, Pattern};
use super::knapsack::Table;
use super::simplex::Simplex;
use super::{Pool, Stop};

/// Weight of the best prices when prices are smoothed.
const SMOOTHING: f64 = 0.6;
/// Patterns taken from one price vector: each uses up what it cuts before the next is looked for.
const PATTERNS: usize = 6;
/// Cost of leaving a piece unmade, in costs of the dearest stick: more than cutting it alone, more yet where cheap sticks
/// may run out.
const ESCAPE: f64 = 1.01;
const ESCAPE_WHEN_LIMITED: f64 = 8.0;
/// Least gain of a pattern that enters, share of the unit of cost.
const GAIN: f64 = 1e-7;

/// What is still to be made from what is left.
pub(super) struct Rest<'a> {
    /// By item of the case.
    pub demand: &'a [u32],
    /// By class: sticks left.
    pub left: &'a [u32],
}

/// What the relaxation says.
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
    table: &mut Table,
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
        let priced = price(case, rest, &mixed, table);
        stop.work += case.families.len() as u64;
        let fresh = priced.bound(case, rest);
        if best.as_ref().is_none_or(|(b, _)| fresh > *b) {
            best = Some((fresh, mixed));
            bound = bound.max(fresh);
        }
        if settled(bound, master.value()) || !optimal || stop.now() {
            break;
        }
        if !master.grow(case, rest, pool, table, priced, stop) {
            if smoothing == 0.0 {
                break;
            }
            // The smoothed prices showed nothing new: look at the programme's own.
            smoothing = 0.0;
        } else if smoothing == 0.0 {
            smoothing = SMOOTHING;
        }
    }
    let prices = master.prices().iter().map(|&p| p as i64).collect();
    let (taken, short) = master.answer();
    Relaxed { taken, bound, prices, short }
}

/// Whole prices and what they say.
struct Priced {
    prices: Vec<i64>,
    /// By class: no pattern is worth more.
    uppers: Vec<i64>,
    patterns: Vec<Pattern>,
}

/// Prices every class of stick.
fn price(case: &Case, rest: &Rest, prices: &[f64], table: &mut Table) -> Priced {
    let prices: Vec<i64> = prices.iter().map(|&p| p as i64).collect();
    let mut priced = Priced { uppers: vec![0; case.classes.len()], patterns: Vec::new(), prices };
    for_each_family(case, rest.left, |family, room, classes| {
        table.fill(&case.families[family], room, &priced.prices, rest.demand);
        for &class in classes {
            priced.uppers[class] = table.upper(&case.classes[class]);
            priced.patterns.extend(table.pattern(case, class));
        }
    });
    priced
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

impl Priced {
    /// What the prices prove about making the rest, micro-units.
    fn bound(&self, case: &Case, rest: &Rest) -> i64 {
        let pieces = |(&u, &d): (&i64, &u32)| i128::from(u) * i128::from(d);
        let worth: i128 = self.prices.iter().zip(rest.demand).map(pieces).sum();
        let open = || (0..case.classes.len()).filter(|&class| rest.left[class] > 0);
        let earned: i128 =
            open().map(|s| i128::from(rest.left[s]) * i128::from((self.uppers[s] - case.classes[s].cost).max(0))).sum();
        let lagrangian = (worth - earned).max(0);
        let plain = open().all(|s| case.classes[s].credit.is_none());
        let dearest = open().filter(|&s| self.uppers[s] > case.classes[s].cost).min_by(|&a, &b| {
            let cross = |s: usize, t: usize| i128::from(case.classes[s].cost) * i128::from(self.uppers[t]);
            cross(a, b).cmp(&cross(b, a))
        });
        let scaled = match dearest {
            Some(s) if plain => worth * i128::from(case.classes[s].cost) / i128::from(self.uppers[s]),
            Some(_) => 0,
            None => worth,
        };
        i64::try_from(lagrangian.max(scaled)).unwrap_or(i64::MAX)
    }

    fn worth(&self, pattern: &Pattern) -> i64 {
        pattern.counts.iter().map(|&(k, n)| self.prices[k] * i64::from(n)).sum::<i64>() - pattern.net
    }
}

/// The programme over the patterns at hand.
struct Master {
    simplex: Simplex,
    /// By item: its row.
    rows: Vec<Option<u32>>,
    /// By class: its row, when the sticks left may run out.
    class_rows: Vec<Option<u32>>,
    /// Patterns of the pool, in the order of the programme's columns.
    columns: Vec<usize>,
    first: usize,
    items: usize,
    /// Micro-units in one unit of the programme's costs.
    unit: f64,
}

impl Master {
    fn new(case: &Case, rest: &Rest, pool: &Pool) -> Master {
        let mut rows = vec![None; case.items.len()];
        let mut demand = Vec::new();
        for (k, &d) in rest.demand.iter().enumerate().filter(|(_, d)| **d > 0) {
            rows[k] = Some(demand.len() as u32);
            demand.push(d);
        }
        let pieces: u32 = demand.iter().sum();
        let mut class_rows = vec![None; case.classes.len()];
        let mut limits = Vec::new();
        for (class, &left) in rest.left.iter().enumerate().filter(|&(_, &left)| left > 0 && left < pieces) {
            class_rows[class] = Some((demand.len() + limits.len()) as u32);
            limits.push(left);
        }
        let unit = case.classes.iter().map(|class| class.cost).max().unwrap_or(1).max(1) as f64;
        let escape = if limits.is_empty() { ESCAPE } else { ESCAPE_WHEN_LIMITED };
        let simplex = Simplex::new(&demand, &limits, escape);
        let first = Simplex::first(demand.len(), limits.len());
        let mut master = Master { simplex, rows, class_rows, columns: Vec::new(), first, items: demand.len(), unit };
        for (at, pattern) in pool.patterns.iter().enumerate() {
            if rest.left[pattern.class] > 0 && pattern.within(rest.demand) {
                master.add(at, pattern);
            }
        }
        master
    }

    fn add(&mut self, at: usize, pattern: &Pattern) {
        let mut entries: Vec<(u32, f64)> = Vec::with_capacity(pattern.counts.len() + 1);
        for &(k, n) in &pattern.counts {
            entries.push((self.rows[k].expect("a proper pattern cuts what is wanted"), f64::from(n)));
        }
        entries.extend(self.class_rows[pattern.class].map(|row| (row, 1.0)));
        self.simplex.add(pattern.net as f64 / self.unit, &entries);
        self.columns.push(at);
    }

    /// Prices by item of the case, micro-units, not negative.
    fn prices(&self) -> Vec<f64> {
        let dual = |row: &Option<u32>| row.map_or(0.0, |row| self.simplex.duals[row as usize].max(0.0) * self.unit);
        self.rows.iter().map(dual).collect()
    }

    fn value(&self) -> f64 {
        self.simplex.value() * self.unit
    }

    /// What a pattern would gain at the programme's own prices, share of the unit.
    fn gain(&self, pattern: &Pattern) -> f64 {
        let of = |row: Option<u32>| row.map_or(0.0, |row| self.simplex.duals[row as usize]);
        let worth: f64 = pattern.counts.iter().map(|&(k, n)| of(self.rows[k]) * f64::from(n)).sum();
        worth + of(self.class_rows[pattern.class]) - pattern.net as f64 / self.unit
    }

    /// Adds patterns that gain: the best at the prices, then the best of what those leave; false when none does.
    fn grow(
        &mut self,
        case: &Case,
        rest: &Rest,
        pool: &mut Pool,
        table: &mut Table,
        priced: Priced,
        stop: &mut Stop,
    ) -> bool {
        let mut wanted = rest.demand.to_vec();
        let mut grown = false;
        let mut patterns = priced.patterns.clone();
        for round in 0..PATTERNS {
            patterns.retain(|pattern| self.gain(pattern) > GAIN);
            patterns.sort_by_key(|pattern| -priced.worth(pattern));
            for pattern in &patterns {
                if let Some(at) = pool.add(pattern.clone()) {
                    self.add(at, pattern);
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
                table.fill(&case.families[family], room, &priced.prices, &wanted);
                stop.work += 1;
                patterns.extend(classes.iter().filter_map(|&class| table.pattern(case, class)));
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
                None => short |= j < self.items,
            }
        }
        taken.sort_by_key(|t| t.0);
        (taken, short)
    }
}
