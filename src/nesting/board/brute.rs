//! All layouts of a tiny board, by plain recursion over every integer position: the truth the engine is tested against.
//!
//! Shares nothing with the engine: no grid, no closure of bases, no dominance, no bounds. Values are exact fractions over
//! the credit's denominator.

use crate::nesting::problem::{BoardStock, Kind, Rect, SectionClass, Stock};

/// Best value by pieces used of each limited item (mixed radix); `None` where no layout uses exactly that.
type Table = Vec<Option<i128>>;

pub(super) struct Brute<'a> {
    stock: &'a Stock,
    board: &'a BoardStock,
    prices: &'a [i64],
    /// By item: at most so many.
    limits: Vec<Option<u32>>,
    denominator: i128,
}

impl<'a> Brute<'a> {
    pub fn new(stock: &'a Stock, prices: &'a [i64], limits: Vec<Option<u32>>) -> Brute<'a> {
        let Kind::Board(board) = &stock.kind else { panic!("a board") };
        let denominator = stock.credit.as_ref().map_or(1, |c| c.rate_denominator);
        Brute { stock, board, prices, limits, denominator }
    }

    /// The best value times the denominator, and the denominator.
    pub fn best(&self) -> (i128, i128) {
        let most = self.tails().iter().flatten().copied().max().unwrap_or(0).max(0);
        (most, self.denominator)
    }

    /// What can be cut of the limited items, with the best value of a layout that yields just that, times the denominator.
    pub fn all(&self) -> Vec<(Vec<u32>, i128)> {
        let tails = self.tails();
        tails.iter().enumerate().filter_map(|(state, value)| Some((self.digits(state), (*value)?))).collect()
    }

    /// By state: the best value of a layout with a section.
    fn tails(&self) -> Table {
        let length = self.board.length;
        let kerf = self.board.kerf_cross;
        let sections = self.sections();
        // tail[p]: best from p on, (without a section so far to the right, with one).
        let span = (length + kerf) as usize + 1;
        let mut with: Vec<Table> = vec![self.nothing(); span + 1];
        let mut bare: Vec<i128> = vec![0; span + 1];
        for p in (0..span).rev() {
            let mut best = with[p + 1].clone();
            let mut plain = bare[p + 1];
            for (a, b, value) in sections.iter().filter(|s| s.0 as usize == p) {
                debug_assert_eq!(*a as usize, p);
                let next = (*b + kerf) as usize;
                let alone: Table = value.iter().map(|v| v.map(|v| v + bare[next])).collect();
                raise(&mut best, &alone);
                raise(&mut best, &self.join(value, &with[next]));
            }
            if let Some(credit) = &self.stock.credit {
                for end in (p as i64 + credit.min_length)..=length {
                    let next = (end + kerf) as usize;
                    let earned = self.sound_area(p as i64, end) * credit.rate_numerator;
                    plain = plain.max(earned + bare[next]);
                    let table: Table = with[next].iter().map(|v| v.map(|v| v + earned)).collect();
                    raise(&mut best, &table);
                }
            }
            with[p] = best;
            bare[p] = plain;
        }
        with.swap_remove(0)
    }

    fn states(&self) -> usize {
        self.limits.iter().flatten().map(|&l| l as usize + 1).product()
    }

    fn nothing(&self) -> Table {
        vec![None; self.states()]
    }

    /// Digits of a state.
    fn digits(&self, mut state: usize) -> Vec<u32> {
        let digit = |&limit: &u32| {
            let d = state % (limit as usize + 1);
            state /= limit as usize + 1;
            d as u32
        };
        self.limits.iter().flatten().map(digit).collect()
    }

    fn number(&self, digits: &[u32]) -> Option<usize> {
        let limits: Vec<u32> = self.limits.iter().flatten().copied().collect();
        let (mut number, mut weight) = (0, 1);
        for (&d, &limit) in digits.iter().zip(&limits) {
            if d > limit {
                return None;
            }
            number += d as usize * weight;
            weight *= limit as usize + 1;
        }
        Some(number)
    }

    fn join(&self, one: &Table, other: &Table) -> Table {
        let mut joined = self.nothing();
        for (s, v) in one.iter().enumerate().filter_map(|(s, v)| Some((s, (*v)?))) {
            for (t, w) in other.iter().enumerate().filter_map(|(t, w)| Some((t, (*w)?))) {
                let sum: Vec<u32> = self.digits(s).iter().zip(self.digits(t)).map(|(a, b)| a + b).collect();
                if let Some(n) = self.number(&sum) {
                    joined[n] = joined[n].max(Some(v + w));
                }
            }
        }
        joined
    }

    fn sound_area(&self, x0: i64, x1: i64) -> i128 {
        let sound = |x: i64, y: i64| {
            let trimmed = x < self.board.end_trim || x >= self.board.length - self.board.end_trim;
            let inside = |r: &Rect| r.x0 <= x && x < r.x1 && r.y0 <= y && y < r.y1;
            !trimmed && !self.board.defects.iter().any(inside)
        };
        (x0..x1).flat_map(|x| (0..self.board.width).map(move |y| (x, y))).filter(|&(x, y)| sound(x, y)).count() as i128
    }

    /// Every (start, end) with the best values of a section there that holds at least one blank.
    fn sections(&self) -> Vec<(i64, i64, Table)> {
        let mut all = Vec::new();
        let (left, right) = (self.board.end_trim, self.board.length - self.board.end_trim);
        for a in left..=right {
            for b in a..=right {
                let mut best = self.nothing();
                for class in &self.board.classes {
                    if class.min_length <= b - a && b - a <= class.max_length {
                        raise(&mut best, &self.strips(class, a + class.end_margin, b - class.end_margin));
                    }
                }
                if best.iter().any(Option::is_some) {
                    all.push((a, b, best));
                }
            }
        }
        all
    }

    fn strips(&self, class: &SectionClass, from: i64, to: i64) -> Table {
        let kerf = self.board.kerf_rip;
        let count = (class.high - class.low).max(0) as usize;
        let mut tail: Vec<Table> = vec![self.nothing(); count + 2];
        for at in (0..count).rev() {
            let y = class.low + at as i64;
            let mut best = tail[at + 1].clone();
            for kind in class.strips.iter().filter(|kind| y + kind.width <= class.high) {
                let strip = self.strip(&kind.cuttings, y, from, to);
                let next = ((y + kind.width + kerf - class.low) as usize).min(count + 1);
                raise(&mut best, &strip);
                raise(&mut best, &self.join(&strip, &tail[next]));
            }
            tail[at] = best;
        }
        tail[0].clone()
    }

    fn strip(&self, cuttings: &[usize], y: i64, from: i64, to: i64) -> Table {
        let count = (to - from).max(0) as usize;
        let mut tail: Vec<Table> = vec![self.nothing(); count + 1];
        for at in (0..count).rev() {
            let x = from + at as i64;
            let mut best = tail[at + 1].clone();
            for &c in cuttings {
                let cutting = &self.board.cuttings[c];
                let (nx, ny) = (x + cutting.net_dx, y + cutting.net_dy);
                let net = Rect { x0: nx, x1: nx + cutting.net_length, y0: ny, y1: ny + cutting.net_width };
                let blocked = self.board.blocked[cutting.blocked].iter().any(|r| r.meets(&net));
                if x + cutting.length > to || blocked {
                    continue;
                }
                let one = self.blank(&cutting.yields);
                let next = (at + (cutting.length + self.board.kerf_cross) as usize).min(count);
                raise(&mut best, &one);
                raise(&mut best, &self.join(&one, &tail[next]));
            }
            tail[at] = best;
        }
        tail[0].clone()
    }

    fn blank(&self, yields: &[(usize, u32)]) -> Table {
        let limited = self.limits.iter().enumerate().filter(|(_, l)| l.is_some());
        let used = |item: usize| yields.iter().filter(|y| y.0 == item).map(|y| y.1).sum();
        let digits: Vec<u32> = limited.map(|(item, _)| used(item)).collect();
        let mut table = self.nothing();
        if let Some(n) = self.number(&digits) {
            let value: i128 = yields.iter().map(|&(i, n)| i128::from(self.prices[i]) * i128::from(n)).sum();
            table[n] = Some(value * self.denominator);
        }
        table
    }
}

fn raise(target: &mut Table, other: &Table) {
    for (t, o) in target.iter_mut().zip(other) {
        *t = (*t).max(*o);
    }
}
