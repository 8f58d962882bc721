//! The true optimum of tiny problems, by enumeration of every lawful layout at every integer position.
//!
//! Written from the statements in `problem` alone and shares nothing with the engines but the plain types: no prices, no
//! dominance, no rounding. Sets of pieces are states of a mixed radix, at most 64 of them, so that a set of sets is one word;
//! money is counted in micro-units over a denominator common to all credits, exactly.

use std::collections::HashMap;

use crate::nesting::problem::{
    BoardStock, Credit, Direction, Kind, Problem, Rect, SectionClass, SheetStock, StickStock, Stock, Together,
};

/// A set of states, one bit each.
type States = u64;
/// By state: the greatest credit, or the least cost, with which it is reached.
pub type Table = Vec<Option<i128>>;

/// The state of no pieces.
const NOTHING: States = 1;

/// Numbers of pieces up to the demand, as states.
pub struct Space {
    /// By item: the most pieces.
    pub limits: Vec<u32>,
    weights: Vec<usize>,
    pub states: usize,
    /// By state: the states that may be added to it.
    joins: Vec<States>,
}

impl Space {
    /// All counts up to `limits`; at most 64 of them.
    pub fn new(limits: Vec<u32>) -> Space {
        let mut weights = Vec::new();
        let mut states = 1;
        for &limit in &limits {
            weights.push(states);
            states *= limit as usize + 1;
        }
        assert!(states <= 64, "too many states to enumerate");
        let mut space = Space { limits, weights, states, joins: Vec::new() };
        let within = |a: &[u32], b: &[u32]| a.iter().zip(b).zip(&space.limits).all(|((a, b), l)| a + b <= *l);
        let counts: Vec<Vec<u32>> = (0..states).map(|s| space.counts(s)).collect();
        let joins = counts.iter().map(|a| (0..states).filter(|&b| within(a, &counts[b])).fold(0, |m, b| m | 1 << b));
        space.joins = joins.collect();
        space
    }

    /// Pieces by item.
    pub fn counts(&self, state: usize) -> Vec<u32> {
        self.limits.iter().zip(&self.weights).map(|(&l, &w)| (state / w % (l as usize + 1)) as u32).collect()
    }

    /// The state of a few pieces; `None` when they are more than the limits.
    fn state(&self, yields: &[(usize, u32)]) -> Option<usize> {
        let mut counts = vec![0; self.limits.len()];
        yields.iter().for_each(|&(item, n)| counts[item] += n);
        let within = counts.iter().zip(&self.limits).all(|(n, l)| n <= l);
        within.then(|| counts.iter().zip(&self.weights).map(|(&n, &w)| n as usize * w).sum())
    }

    /// Every sum of one of each.
    fn join(&self, one: States, other: States) -> States {
        bits(one).fold(0, |sum, s| sum | (other & self.joins[s]) << s)
    }
}

fn bits(mut set: States) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let lowest = (set != 0).then(|| set.trailing_zeros() as usize);
        set &= set.wrapping_sub(1);
        lowest
    })
}

/// A length of a piece of stock that is cut into one of these sets of pieces.
struct Span {
    from: i64,
    to: i64,
    sets: States,
}

/// What the layouts of a row of spans and offcuts, `kerf` apart, can yield: by state the greatest credit.
/// `offcuts` are (from, to, credit).
fn row(space: &Space, length: i64, kerf: i64, spans: &[Span], offcuts: &[(i64, i64, i128)]) -> Table {
    let cells = length as usize + 1;
    let mut tail: Vec<Table> = vec![vec![None; space.states]; cells + 1];
    tail[cells][0] = Some(0);
    for at in (0..cells).rev() {
        let mut best = tail[at + 1].clone();
        let after = |to: i64| &tail[((to + kerf) as usize).clamp(at + 1, cells)];
        for span in spans.iter().filter(|span| span.from as usize == at) {
            for s in bits(span.sets) {
                for t in bits(space.joins[s]) {
                    best[s + t] = best[s + t].max(after(span.to)[t]);
                }
            }
        }
        for &(_, to, credit) in offcuts.iter().filter(|offcut| offcut.0 as usize == at) {
            for (best, rest) in best.iter_mut().zip(after(to)) {
                *best = (*best).max(rest.map(|rest| rest + credit));
            }
        }
        tail[at] = best;
    }
    tail.swap_remove(0)
}

/// By state: the greatest credit (times the credit's denominator) of a layout that yields exactly that; none of no pieces.
pub fn layouts(space: &Space, stock: &Stock) -> Table {
    let credit = stock.credit.as_ref();
    let mut table = match &stock.kind {
        Kind::Board(board) => board_layouts(space, board, credit),
        Kind::Sheet(sheet) => sheet_layouts(space, sheet, credit),
        Kind::Stick(stick) => stick_layouts(space, stick, credit),
    };
    table[0] = None;
    for (state, credit) in table.iter_mut().enumerate() {
        let counts = space.counts(state);
        // Every number of sets is tried, so that nothing is shared with how the search counts them.
        let lawful = |set: &Together| {
            let counts: Vec<(u32, u32)> = set.pieces.iter().map(|&(item, pieces)| (counts[item], pieces)).collect();
            let equal = |sets: u32| counts.iter().all(|&(count, pieces)| count == sets * pieces);
            let least = counts.iter().all(|&(count, pieces)| count >= pieces);
            equal(0) || !set.whole && least || (1..=64).any(equal)
        };
        if !stock.together.iter().all(lawful) {
            *credit = None;
        }
    }
    table
}

fn board_layouts(space: &Space, board: &BoardStock, credit: Option<&Credit>) -> Table {
    let (left, right) = (board.end_trim, board.length - board.end_trim);
    let mut strips = Strips { space, board, known: HashMap::new() };
    let mut spans = Vec::new();
    for from in left..=right {
        for to in from..=right {
            let classes = board.classes.iter().filter(|c| c.min_length <= to - from && to - from <= c.max_length);
            let sets = classes.fold(0, |sets, class| sets | strips.of_section(class, from, to));
            if sets & !NOTHING != 0 {
                spans.push(Span { from, to, sets: sets & !NOTHING });
            }
        }
    }
    let mut offcuts = Vec::new();
    if let Some(credit) = credit {
        for from in 0..board.length {
            for to in from + credit.min_length.max(1)..=board.length {
                offcuts.push((from, to, sound_area(board, from, to) * credit.rate_numerator));
            }
        }
    }
    row(space, board.length, board.kerf_cross, &spans, &offcuts)
}

fn sound_area(board: &BoardStock, from: i64, to: i64) -> i128 {
    let sound = |x: i64, y: i64| {
        let inside = |r: &Rect| r.x0 <= x && x < r.x1 && r.y0 <= y && y < r.y1;
        x >= board.end_trim && x < board.length - board.end_trim && !board.defects.iter().any(inside)
    };
    (from..to).flat_map(|x| (0..board.width).map(move |y| (x, y))).filter(|&(x, y)| sound(x, y)).count() as i128
}

/// Sets of pieces of the strips of one board.
struct Strips<'a> {
    space: &'a Space,
    board: &'a BoardStock,
    /// By cuttings, y and right end: the sets by left end.
    known: HashMap<(Vec<usize>, i64, i64), Vec<States>>,
}

impl Strips<'_> {
    fn of_section(&mut self, class: &SectionClass, from: i64, to: i64) -> States {
        let (from, to) = (from + class.end_margin, to - class.end_margin);
        let cells = (class.high - class.low).max(0) as usize;
        let mut tail = vec![NOTHING; cells + 1];
        for at in (0..cells).rev() {
            let y = class.low + at as i64;
            let mut sets = tail[at + 1];
            for kind in class.strips.iter().filter(|kind| y + kind.width <= class.high) {
                let next = (at + (kind.width + self.board.kerf_rip) as usize).min(cells);
                let strip = self.of_strip(&kind.cuttings, y, from, to) & !NOTHING;
                sets |= self.space.join(strip, tail[next]);
            }
            tail[at] = sets;
        }
        tail[0]
    }

    fn of_strip(&mut self, cuttings: &[usize], y: i64, from: i64, to: i64) -> States {
        if to <= from {
            return NOTHING;
        }
        let key = (cuttings.to_vec(), y, to);
        if !self.known.contains_key(&key) {
            let sets = self.by_left_end(cuttings, y, to);
            self.known.insert(key.clone(), sets);
        }
        self.known[&key][from as usize]
    }

    fn by_left_end(&self, cuttings: &[usize], y: i64, to: i64) -> Vec<States> {
        let mut tail = vec![NOTHING; to as usize + 1];
        for x in (0..to).rev() {
            let mut sets = tail[x as usize + 1];
            for cutting in cuttings.iter().map(|&c| &self.board.cuttings[c]).filter(|c| x + c.length <= to) {
                let (nx, ny) = (x + cutting.net_dx, y + cutting.net_dy);
                let net = Rect { x0: nx, x1: nx + cutting.net_length, y0: ny, y1: ny + cutting.net_width };
                let blocked = self.board.blocked[cutting.blocked].iter().any(|r| r.meets(&net));
                if let (Some(state), false) = (self.space.state(&cutting.yields), blocked) {
                    let next = (x + cutting.length + self.board.kerf_cross).min(to);
                    sets |= self.space.join(1 << state, tail[next as usize]);
                }
            }
            tail[x as usize] = sets;
        }
        tail
    }
}

/// Sets of pieces of rectangles of one sheet: by direction of the next cuts, stages left, length and width.
struct Rectangles<'a> {
    space: &'a Space,
    sheet: &'a SheetStock,
    known: HashMap<(bool, u32, i64, i64), States>,
}

impl Rectangles<'_> {
    fn sets(&mut self, cross: bool, stages: u32, length: i64, width: i64) -> States {
        if let Some(&known) = self.known.get(&(cross, stages, length, width)) {
            return known;
        }
        let mut sets = NOTHING;
        for piece in self.sheet.pieces.iter().filter(|p| p.length <= length && p.width <= width) {
            sets |= self.space.state(&[(piece.item, 1)]).map_or(0, |state| 1 << state);
        }
        if stages > 0 {
            sets |= self.sets(!cross, stages - 1, length, width);
            let (whole, kerf) = if cross { (length, self.sheet.kerf.cross) } else { (width, self.sheet.kerf.rip) };
            for at in 1..whole - kerf {
                let of = |size: i64| if cross { (size, width) } else { (length, size) };
                let ((l, w), (rest_l, rest_w)) = (of(at), of(whole - at - kerf));
                let first = self.sets(!cross, stages - 1, l, w);
                let rest = self.sets(cross, stages, rest_l, rest_w);
                sets |= self.space.join(first, rest);
            }
        }
        self.known.insert((cross, stages, length, width), sets);
        sets
    }
}

fn sheet_layouts(space: &Space, sheet: &SheetStock, credit: Option<&Credit>) -> Table {
    let mut all: Table = vec![None; space.states];
    let pieces: u32 = space.limits.iter().sum();
    let stages = if sheet.stages == 0 { pieces + 1 } else { sheet.stages };
    let first = sheet.first.filter(|_| sheet.stages > 0);
    let (inner_length, inner_width) = (sheet.length - 2 * sheet.trim, sheet.width - 2 * sheet.trim);
    let mut rectangles = Rectangles { space, sheet, known: HashMap::new() };
    // A piece alone needs no stage in any direction.
    let mut raise = |states: States| bits(states).for_each(|s| all[s] = all[s].max(Some(0)));
    raise(rectangles.sets(true, 0, inner_length, inner_width));
    for cross in [true, false] {
        // A fixed first stage that parts nothing is lost.
        let lost = u32::from(first.is_some_and(|first| (first == Direction::Cross) != cross));
        let Some(stages) = stages.checked_sub(lost + 1) else { continue };
        let (whole, inner, kerf) = match cross {
            true => (sheet.length, inner_length, sheet.kerf.cross),
            false => (sheet.width, inner_width, sheet.kerf.rip),
        };
        let mut spans = Vec::new();
        for from in sheet.trim..sheet.trim + inner.max(0) {
            for to in from + 1..=sheet.trim + inner {
                let (l, w) = if cross { (to - from, inner_width) } else { (inner_length, to - from) };
                let sets = rectangles.sets(!cross, stages, l, w) & !NOTHING;
                spans.push(Span { from, to, sets });
            }
        }
        let mut offcuts = Vec::new();
        if let Some(credit) = credit {
            for from in 0..whole {
                for to in from + 1..=whole {
                    let (l, w) = if cross { (to - from, sheet.width) } else { (sheet.length, to - from) };
                    if l >= credit.min_length && w >= credit.min_width {
                        offcuts.push((from, to, i128::from(l) * i128::from(w) * credit.rate_numerator));
                    }
                }
            }
        }
        let table = row(space, whole, kerf, &spans, &offcuts);
        all.iter_mut().zip(table).for_each(|(best, other)| *best = (*best).max(other));
    }
    all
}

fn stick_layouts(space: &Space, stick: &StickStock, credit: Option<&Credit>) -> Table {
    let mut spans = Vec::new();
    for &(item, length) in &stick.pieces {
        let Some(state) = space.state(&[(item, 1)]) else { continue };
        for from in stick.trim..=stick.length - stick.trim - length {
            spans.push(Span { from, to: from + length, sets: 1 << state });
        }
    }
    let mut offcuts = Vec::new();
    if let Some(credit) = credit {
        for from in 0..stick.length {
            for to in from + credit.min_length.max(1)..=stick.length {
                offcuts.push((from, to, i128::from(to - from) * credit.rate_numerator));
            }
        }
    }
    row(space, stick.length, stick.kerf, &spans, &offcuts)
}

/// What whole answers cost.
pub struct Truth {
    pub space: Space,
    /// By state: the least cost times `denominator` of an answer that makes exactly that.
    pub least: Table,
    pub denominator: i128,
}

impl Truth {
    /// Enumerates every answer.
    pub fn of(problem: &Problem) -> Truth {
        Truth::enumerated(problem, false)
    }

    /// Enumerates every answer that uses every piece of stock.
    pub fn of_all_stock(problem: &Problem) -> Truth {
        Truth::enumerated(problem, true)
    }

    fn enumerated(problem: &Problem, all_stock: bool) -> Truth {
        let space = Space::new(problem.items.iter().map(|item| item.demand).collect());
        let denominators = problem.stock.iter().filter_map(|s| s.credit.as_ref()).map(|c| c.rate_denominator);
        let mut denominator = 1;
        for d in denominators {
            denominator *= d / gcd(d, denominator);
        }
        let mut least: Table = vec![None; space.states];
        least[0] = Some(0);
        for stock in &problem.stock {
            let own = stock.credit.as_ref().map_or(1, |c| c.rate_denominator);
            let nets = layouts(&space, stock).into_iter().enumerate().filter_map(|(s, credit)| Some((s, credit?)));
            let nets: Vec<(usize, i128)> =
                nets.map(|(s, c)| (s, i128::from(stock.cost) * denominator - c * (denominator / own))).collect();
            for _ in 0..stock.count {
                let before = least.clone();
                if all_stock {
                    least.fill(None);
                }
                for &(s, net) in &nets {
                    for t in bits(space.joins[s]) {
                        if let Some(cost) = before[t] {
                            let cost = cost + net;
                            least[s + t] = Some(least[s + t].map_or(cost, |known| known.min(cost)));
                        }
                    }
                }
            }
        }
        Truth { space, least, denominator }
    }

    /// Every set of pieces that can be made, by item.
    pub fn reachable(&self) -> impl Iterator<Item = Vec<u32>> {
        (0..self.space.states).filter(|&s| self.least[s].is_some()).map(|s| self.space.counts(s))
    }

    /// The least cost, times the denominator, of an answer that makes at least `least` and no more than the demand; `None`
    /// when there is none.
    pub fn optimum(&self, least: &[u32]) -> Option<i128> {
        let enough = |s: &usize| self.space.counts(*s).iter().zip(least).all(|(n, l)| n >= l);
        (0..self.space.states).filter(enough).filter_map(|s| self.least[s]).min()
    }
}

fn gcd(a: i128, b: i128) -> i128 {
    if b == 0 { a } else { gcd(b, a % b) }
}
