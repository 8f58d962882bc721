//! Chains sections and credited offcuts along a board, evaluating section starts only where that can matter.
//!
//! Possible starts are parted into intervals by the known ones. A section that starts anywhere in an interval is worth
//! no more than one with the same end from the interval's first cell, and the class limits on its length are those of
//! the shortest such section. What a start not yet evaluated is worth is bounded by the nearest evaluated one to its
//! left and by a board without defects. The *upper* chain takes these optimistic values and rounds every start down to
//! its interval; the *lower* chain knows evaluated starts only and rounds up. The upper chain's best path says which
//! start to evaluate, or where to part an interval, next. Both are valid whenever the search stops.
//!
//! Where all positions are on the grid but the longest lengths of sections are not, a section that does not follow an offcut
//! starts and ends in whole cells, and is no longer than the whole cells of its longest length: what keeps its blanks apart is on
//! the grid, so where they fit within the length they fit within its whole cells, and no piece or offcut gains by its start
//! lying further left than that. After an offcut a part of a cell more is allowed for the bound, to be on the safe side.
//!
//! Values are scaled prices times 2^16 ([`UNIT`]), so that credit can be added finely enough.

mod holding;

use super::credit::SoundArea;
use super::grid::{Grid, ceil_div};
use super::model::{ClassModel, Side};
use super::section::{Evaluated, PricedModel, Scratch};
use crate::nesting::layout::BoardLayout;
use crate::nesting::problem::{BoardStock, Credit, Stop};

/// One scaled unit of value.
pub(super) const UNIT: i64 = 1 << 16;
/// Less than any value.
pub(super) const NEVER: i64 = i64::MIN / 4;
/// Cells between the first starts, where the shortest section allows.
const SPACING: usize = 64;
/// Cells past a class's longest section that are evaluated for the sake of starts further right.
const BEYOND: usize = 128;
/// The chains are one when they differ by no more: roundings of credit.
const SAME: i64 = 16;

/// Credit by cell, in units of the chain.
#[derive(Debug)]
pub(super) struct CreditCells {
    /// Credit left of where an offcut may start, rounded down and up.
    at: Vec<(i64, i64)>,
    /// Credit left of where an offcut must end for a section to start here: down (start at the cell's left end), up.
    before: Vec<(i64, i64)>,
    /// All the board's credit, up.
    all: (i64, i64),
    /// Cells from an offcut's start to the next section's: an image may have, lawful for certain.
    between: (usize, usize),
    /// First cell of a section right of an offcut at the left end.
    left: (usize, usize),
    /// Last cell of an offcut that reaches the right end, if any.
    right: Option<usize>,
    /// Offcuts of a best layout end in whole cells.
    exact: bool,
}

impl CreditCells {
    pub fn new(
        board: &BoardStock,
        (credit, sound): (&Credit, &SoundArea),
        grid: Grid,
        last: usize,
        side: Side,
        scale: i64,
    ) -> CreditCells {
        let worths = |from: i64, count: usize| {
            let numerator = credit.rate_numerator * i128::from(UNIT);
            sound.shares_left_of((from, grid.step, count), numerator, credit.rate_denominator * i128::from(scale))
        };
        // An image's true position lies up to this much right of its cell's left end.
        let slack = if side != Side::Plan && !grid.exact_offcuts { grid.step - 1 } else { 0 };
        let kerf = board.kerf_cross;
        let first = board.end_trim - kerf;
        let (down, up) = (worths(first, last + 1), worths(first + slack, last + 1));
        let cells = |length: i64| ceil_div(length, grid.step).max(0) as usize;
        let least = credit.min_length + kerf;
        let right = board.length - board.end_trim - credit.min_length;
        CreditCells {
            at: worths(board.end_trim, last + 1),
            before: down.into_iter().zip(up).map(|(down, up)| (down.0, up.1)).collect(),
            all: worths(board.length, 1)[0],
            between: (cells(least - slack), cells(least)),
            left: (cells(least - slack - board.end_trim), cells(least - board.end_trim)),
            right: (right >= 0).then(|| right.div_euclid(grid.step) as usize),
            exact: grid.exact_offcuts,
        }
    }

    /// Credit of the whole board, rounded up.
    pub fn whole(&self) -> i64 {
        self.all.1
    }
}

/// A section start.
#[derive(Debug)]
struct Start {
    cell: usize,
    evaluated: Option<Evaluated>,
    /// By state: ends and bounds on the value of a section from this interval, both ascending.
    optimistic: Vec<Vec<(usize, i32)>>,
    /// The same of a section that does not follow an offcut; empty when there is no difference.
    direct: Vec<Vec<(usize, i32)>>,
    /// By state: ends and values of lawful sections from this cell, both ascending; only when evaluated.
    lawful: Vec<Vec<(usize, i32)>>,
}

impl Start {
    /// Nothing is known of it yet.
    const fn new(cell: usize) -> Start {
        Start { cell, evaluated: None, optimistic: Vec::new(), direct: Vec::new(), lawful: Vec::new() }
    }
}

/// What the search found.
#[derive(Debug)]
pub(super) struct Chained {
    /// Bound on the best chain, in [`UNIT`]s.
    pub upper: i64,
    /// The best chain of evaluated starts; lawful for a plan's model.
    pub layout: BoardLayout,
    pub evaluations: u32,
}

/// When to stop.
#[derive(Clone, Copy)]
pub(super) struct Until<'a> {
    pub evaluations: u32,
    /// Stop when the upper value is no more than this, in [`UNIT`]s.
    pub enough: i64,
    /// Stop when upper and lower differ by no more than this, in [`UNIT`]s.
    pub slack: i64,
    pub stop: Stop<'a>,
}

/// The search over one board.
pub(super) struct Search<'a> {
    board: &'a BoardStock,
    priced: &'a PricedModel<'a>,
    /// Section values of a board without defects.
    clear: Evaluated,
    credit: Option<&'a CreditCells>,
    starts: Vec<Start>,
    splits: Vec<(usize, usize, usize)>,
    spacing: usize,
    /// Some class has a longest length that is no whole number of cells, on a grid that is exact for the rest.
    uneven: bool,
    /// No section can start at this cell or further right.
    too_late: usize,
}

/// Which chain.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Which {
    Upper,
    Lower,
}

/// Best values of a chain, right of each start in its list, by list position and state.
struct Chain {
    which: Which,
    /// Positions in `starts`.
    list: Vec<usize>,
    /// For each cell the list position from which sections may start.
    from: Vec<usize>,
    /// A section starts exactly here, without and with an offcut before; at the best here or further right, and the same after an
    /// offcut.
    here: Vec<i64>,
    here_after: Vec<i64>,
    best: Vec<i64>,
    after_offcut: Vec<i64>,
    root: i64,
}

/// A step of a path: a section, and how it was come to.
struct Step {
    /// Position in `starts`.
    start: usize,
    end: usize,
    state: usize,
    value: i32,
    /// Where the piece of board before it ended.
    free_from: usize,
    offcut_before: bool,
}

/// A path through a chain; the last flag tells of an offcut at the right end.
struct Path {
    steps: Vec<Step>,
    offcut_after: bool,
}

impl<'a> Search<'a> {
    pub fn new(
        board: &'a BoardStock,
        priced: &'a PricedModel<'a>,
        clear: &PricedModel,
        credit: Option<&'a CreditCells>,
        scratch: &mut Scratch,
    ) -> Option<Search<'a>> {
        let model = priced.model;
        let shortest = model.shortest_section.filter(|&q| q <= model.last)?;
        let spacing = shortest.clamp(1, SPACING);
        let clear = clear.evaluate(0, spacing, scratch);
        let too_late = model.last - shortest + 1;
        let cells = (0..too_late).step_by(spacing);
        let starts = cells.map(Start::new).collect();
        let all = (1u32 << priced.usage.items.len()) - 1;
        let splits = priced.usage.splits(all);
        let exact = model.side == Side::Both && credit.is_none_or(|credit| credit.exact);
        let uneven = exact && model.classes.iter().any(|class| class.wide.1 != class.sure.1);
        let mut search = Search { board, priced, clear, credit, starts, splits, spacing, uneven, too_late };
        (0..search.starts.len()).for_each(|i| search.refresh(i));
        Some(search)
    }

    /// Searches until the chains meet or `until` says stop.
    pub fn run(mut self, until: Until, scratch: &mut Scratch) -> Chained {
        let mut upper = i64::MAX;
        let mut evaluations = 0;
        let mut next = 0;
        loop {
            if evaluations < until.evaluations {
                self.evaluate(next, scratch);
                evaluations += 1;
            }
            let chain = self.chain(Which::Upper);
            upper = upper.min(chain.root.max(0));
            let over = upper <= until.enough.max(SAME) || evaluations >= until.evaluations || (until.stop)();
            let path = (!over).then(|| self.path(&chain));
            // Only a path over evaluated starts alone can be lawful, so that the lower chain need not be looked at before.
            let open = |step: &&Step| self.starts[step.start].evaluated.is_none();
            if let Some(step) = path.as_ref().and_then(|path| path.steps.iter().find(open)) {
                next = step.start;
                continue;
            }
            let lower = self.chain(Which::Lower);
            let met = upper - lower.root.max(0) <= until.slack.max(SAME);
            match path.filter(|_| !met).and_then(|path| self.parted_at(&path)) {
                Some(start) => next = start,
                None => return self.finish(upper, &lower, evaluations, scratch),
            }
        }
    }

    fn finish(&self, upper: i64, lower: &Chain, evaluations: u32, scratch: &mut Scratch) -> Chained {
        let layout = if lower.root > 0 { self.layout(&self.path(lower), scratch) } else { BoardLayout::default() };
        Chained { upper, layout, evaluations }
    }

    /// Evaluates a start and renews the bounds that rest on it.
    fn evaluate(&mut self, start: usize, scratch: &mut Scratch) {
        let cell = self.starts[start].cell;
        let evaluated = self.priced.evaluate(cell, BEYOND + self.spacing, scratch);
        self.starts[start].lawful = self.lawful_points(cell, &evaluated);
        self.starts[start].evaluated = Some(evaluated);
        self.refresh(start);
        let mut i = start + 1;
        while i < self.starts.len() && self.starts[i].evaluated.is_none() {
            self.refresh(i);
            i += 1;
        }
    }

    /// First cell of the interval after start `i`'s.
    fn interval_end(&self, i: usize) -> usize {
        self.starts.get(i + 1).map_or(self.too_late, |next| next.cell)
    }

    fn refresh(&mut self, i: usize) {
        self.starts[i].optimistic = self.optimistic_points(i, |class| class.wide.1);
        if self.uneven {
            self.starts[i].direct = self.optimistic_points(i, |class| class.sure.1);
        }
    }

    /// Ends and bounds on the value of a section from interval `i`, no longer in cells than `longest` says.
    fn optimistic_points(&self, i: usize, longest: fn(&ClassModel) -> usize) -> Vec<Vec<(usize, i32)>> {
        let cell = self.starts[i].cell;
        let spread = self.interval_end(i) - 1 - cell;
        let known = self.starts[..=i].iter().rev().find_map(|s| s.evaluated.as_ref().map(|e| (s.cell, e)));
        let model = self.priced.model;
        let room = model.last - cell;
        let mut points = Vec::with_capacity(self.priced.usage.states);
        let mut best = vec![0; room + 1];
        for state in 0..self.priced.usage.states {
            best.fill(0);
            for (k, class) in model.classes.iter().enumerate() {
                let clear = &self.clear.classes[k];
                let last = (longest(class) + spread).min(room).min((clear.first + clear.count).saturating_sub(1));
                if clear.count == 0 || last < clear.first {
                    continue;
                }
                let bound = &clear.of(state)[..last + 1 - clear.first];
                let target = &mut best[clear.first..=last];
                let Some((from, evaluated)) = known else {
                    target.iter_mut().zip(bound).for_each(|(t, &b)| *t = b.max(*t));
                    continue;
                };
                let near = &evaluated.classes[k];
                if near.count == 0 {
                    continue;
                }
                // Length from the evaluated start of a section that ends where one of the clear length does.
                let offset = cell - from + clear.first - near.first;
                let both = near.count.saturating_sub(offset).min(target.len());
                let (shared, further) = target.split_at_mut(both);
                let values = if both > 0 { &near.of(state)[offset..offset + both] } else { &[] };
                for ((t, &b), &v) in shared.iter_mut().zip(bound).zip(values) {
                    *t = b.min(v).max(*t);
                }
                further.iter_mut().zip(&bound[both..]).for_each(|(t, &b)| *t = b.max(*t));
            }
            points.push(rising(cell, &best));
        }
        self.useful(&points)
    }

    /// Ends and values of the lawful sections from an evaluated cell.
    fn lawful_points(&self, cell: usize, evaluated: &Evaluated) -> Vec<Vec<(usize, i32)>> {
        let model = self.priced.model;
        let room = model.last - cell;
        let mut best = vec![0; room + 1];
        let mut points = Vec::new();
        for state in 0..self.priced.usage.states {
            best.fill(0);
            for (class, lengths) in model.classes.iter().zip(&evaluated.classes) {
                let first = lengths.first.max(class.sure.0);
                let beyond = (lengths.first + lengths.count).min(class.sure.1 + 1).min(room + 1);
                if lengths.count > 0 && first < beyond {
                    let values = &lengths.of(state)[first - lengths.first..beyond - lengths.first];
                    best[first..beyond].iter_mut().zip(values).for_each(|(t, &v)| *t = v.max(*t));
                }
            }
            points.push(rising(cell, &best));
        }
        self.useful(&points)
    }

    /// By state: the points that are worth more than the same end with a piece less of any tracked item. The others are no
    /// parts of use: they leave less to the sections further right, and no more is made of the rest.
    fn useful(&self, points: &[Vec<(usize, i32)>]) -> Vec<Vec<(usize, i32)>> {
        let more = |state: usize, &(end, value): &(usize, i32)| {
            self.priced.usage.below(state).all(|lesser| {
                let known = points[lesser].partition_point(|&(e, _)| e <= end).checked_sub(1);
                known.is_none_or(|at| points[lesser][at].1 < value)
            })
        };
        (0..points.len()).map(|s| points[s].iter().filter(|&point| more(s, point)).copied().collect()).collect()
    }

    fn chain(&self, which: Which) -> Chain {
        let model = self.priced.model;
        let states = self.priced.usage.states;
        let list: Vec<usize> = match which {
            Which::Upper => (0..self.starts.len()).collect(),
            Which::Lower => (0..self.starts.len()).filter(|&i| self.starts[i].evaluated.is_some()).collect(),
        };
        let size = (list.len() + 1) * states;
        let from = self.entries(&list, which, model.last);
        let none = || vec![NEVER; size];
        let (here, here_after, best, after_offcut) = (none(), none(), none(), none());
        let mut chain = Chain { which, list, from, here, here_after, best, after_offcut, root: NEVER };
        for at in (0..chain.list.len()).rev() {
            let i = chain.list[at];
            let now = at * states..(at + 1) * states;
            let of = |after_offcut| self.begun(&chain, chain.points(&self.starts[i], after_offcut));
            let differs = self.uneven && self.credit.is_some() && which == Which::Upper;
            let (here, other) = (of(false), differs.then(|| of(true)));
            chain.here_after[now.clone()].copy_from_slice(other.as_ref().unwrap_or(&here));
            chain.here[now].copy_from_slice(&here);
            let credited_before = self.credit_before(which, i);
            for state in 0..states {
                let (now, next) = (at * states + state, (at + 1) * states + state);
                chain.best[now] = chain.here[now].max(chain.best[next]);
                let credited = (chain.here_after[now] + credited_before).max(NEVER);
                chain.after_offcut[now] = credited.max(chain.after_offcut[next]);
            }
        }
        if !chain.list.is_empty() {
            let full = states - 1;
            chain.root = chain.best[chain.from[0] * states + full].max(self.after_left_offcut(&chain, full));
        }
        chain
    }

    /// By state: the best from sections that start here and have these ends and values.
    fn begun(&self, chain: &Chain, points: &[Vec<(usize, i32)>]) -> Vec<i64> {
        let mut here = vec![NEVER; points.len()];
        for &(part, rest, whole) in self.splits.iter().filter(|split| !points[split.0].is_empty()) {
            let mut value = here[whole];
            for &(end, v) in &points[part] {
                value = value.max(i64::from(v) * UNIT + self.after(chain, end, rest));
            }
            here[whole] = value;
        }
        here
    }

    /// For each cell, the position in a chain's list of the first start a section may take when the board is free from
    /// that cell on.
    fn entries(&self, list: &[usize], which: Which, last: usize) -> Vec<usize> {
        let mut at = 0;
        let entry = |cell: usize| {
            while at < list.len() && self.starts[list[at]].cell < cell {
                at += 1;
            }
            let exact = at < list.len() && self.starts[list[at]].cell == cell;
            if which == Which::Upper && !exact && at > 0 && cell < self.too_late { at - 1 } else { at }
        };
        (0..=last).map(entry).collect()
    }

    /// Credit left of an offcut's end when a section starts at start `i` right of it.
    fn credit_before(&self, which: Which, i: usize) -> i64 {
        self.credit.map_or(NEVER, |credit| match which {
            Which::Upper => credit.before[self.interval_end(i) - 1].1,
            Which::Lower => credit.before[self.starts[i].cell].0,
        })
    }

    /// The position in a chain's list of the first start right of an offcut at the left end.
    fn entry_after_left_offcut(&self, chain: &Chain) -> Option<usize> {
        let left = self.credit?.left;
        chain.from.get(if chain.which == Which::Upper { left.0 } else { left.1 }).copied()
    }

    /// The same right of an offcut that starts in cell `end`, and the credit left of that.
    fn entry_after_offcut(&self, chain: &Chain, end: usize) -> Option<(usize, i64)> {
        let credit = self.credit?;
        let (least, spent) = match chain.which {
            Which::Upper => (credit.between.0, credit.at[end].0),
            Which::Lower => (credit.between.1, credit.at[end].1),
        };
        chain.from.get(end + least).map(|&at| (at, spent))
    }

    fn after_left_offcut(&self, chain: &Chain, state: usize) -> i64 {
        let entry = self.entry_after_left_offcut(chain);
        entry.map_or(NEVER, |at| chain.after_offcut[at * self.priced.usage.states + state])
    }

    /// Best value right of a section that ends in cell `end`.
    fn after(&self, chain: &Chain, end: usize, state: usize) -> i64 {
        let direct = chain.best[chain.from[end] * self.priced.usage.states + state].max(0);
        direct.max(self.after_offcut(chain, end, state)).max(self.right_offcut(chain, end))
    }

    fn after_offcut(&self, chain: &Chain, end: usize, state: usize) -> i64 {
        let entry = self.entry_after_offcut(chain, end);
        entry.map_or(NEVER, |(at, spent)| chain.after_offcut[at * self.priced.usage.states + state] - spent)
    }

    fn right_offcut(&self, chain: &Chain, end: usize) -> i64 {
        let Some(credit) = self.credit else { return NEVER };
        match (credit.right, chain.which) {
            (Some(right), Which::Upper) if end <= right => credit.all.1 - credit.at[end].0,
            (Some(right), Which::Lower) if end <= right => credit.all.0 - credit.at[end].1,
            _ => NEVER,
        }
    }

    /// A best path of a chain whose root is a value.
    fn path(&self, chain: &Chain) -> Path {
        let states = self.priced.usage.states;
        let mut path = Path { steps: vec![], offcut_after: false };
        let mut state = states - 1;
        let mut free_from = 0;
        let mut offcut_before = chain.best[chain.from[0] * states + state] < chain.root;
        let mut at = if offcut_before {
            self.entry_after_left_offcut(chain).expect("an offcut has credit")
        } else {
            chain.from[0]
        };
        loop {
            let values = if offcut_before { &chain.after_offcut } else { &chain.best };
            while values[at * states + state] == values[(at + 1) * states + state] {
                at += 1;
            }
            let start = chain.list[at];
            let here = if offcut_before { &chain.here_after } else { &chain.here }[at * states + state];
            let points = chain.points(&self.starts[start], offcut_before);
            let splits = self.splits.iter().filter(|s| s.2 == state);
            let mut choices = splits.flat_map(|s| points[s.0].iter().map(move |p| (s.0, s.1, p.0, p.1)));
            let (part, rest, end, value) = choices
                .find(|&(_, rest, end, v)| i64::from(v) * UNIT + self.after(chain, end, rest) == here)
                .expect("a start's value comes from one of its sections");
            path.steps.push(Step { start, end, state: part, value, free_from, offcut_before });
            let after = self.after(chain, end, rest);
            (free_from, state) = (end, rest);
            if after == 0 {
                return path;
            }
            if after == self.right_offcut(chain, end) {
                path.offcut_after = true;
                return path;
            }
            offcut_before = after != chain.best[chain.from[end] * states + state];
            at = if offcut_before {
                self.entry_after_offcut(chain, end).expect("an offcut has credit").0
            } else {
                chain.from[end]
            };
        }
    }

    /// A new start where an upper path over evaluated starts was rounded, not yet evaluated itself. `None` when the path is exact
    /// already, but for lengths off the grid.
    fn parted_at(&mut self, path: &Path) -> Option<usize> {
        let (start, cell) = path.steps.iter().find_map(|step| Some((step.start, self.rounded_from(step)?)))?;
        Some(self.part(start, cell))
    }

    /// A new start inside the interval of another, from `cell` on.
    fn part(&mut self, start: usize, cell: usize) -> usize {
        self.starts.insert(start + 1, Start::new(cell));
        self.refresh(start);
        self.refresh(start + 1);
        start + 1
    }

    /// Where inside its interval a step's section would truly have to start, if not at its first cell.
    fn rounded_from(&self, step: &Step) -> Option<usize> {
        let first = self.starts[step.start].cell;
        let last = self.interval_end(step.start) - 1;
        if first == last {
            return None;
        }
        if step.offcut_before {
            return Some(first + (last - first).div_ceil(2));
        }
        let evaluated = self.starts[step.start].evaluated.as_ref()?;
        let length = step.end - first;
        let classes = self.priced.model.classes.iter().zip(&evaluated.classes);
        let longest = classes
            .filter(|(_, lengths)| lengths.at(step.state, length).is_some_and(|v| v >= step.value))
            .map(|(class, _)| if self.uneven && !step.offcut_before { class.sure.1 } else { class.wide.1 })
            .max()?;
        let cell = step.free_from.max(step.end.saturating_sub(longest));
        (cell > first && cell <= last).then_some(cell)
    }

    /// The layout of a lower path.
    fn layout(&self, path: &Path, scratch: &mut Scratch) -> BoardLayout {
        let board = self.board;
        let x = |cell: usize| board.end_trim + cell as i64 * self.priced.model.step;
        let mut layout = BoardLayout::default();
        for step in &path.steps {
            let start = &self.starts[step.start];
            let evaluated = start.evaluated.as_ref().expect("the lower chain knows evaluated starts only");
            let length = step.end - start.cell;
            let classes = self.priced.model.classes.iter().zip(&evaluated.classes);
            let class = classes
                .enumerate()
                .find(|(_, (class, lengths))| {
                    let lawful = class.sure.0 <= length && length <= class.sure.1;
                    lawful && lengths.at(step.state, length) == Some(step.value)
                })
                .expect("a section's value comes from one of its classes")
                .0;
            if step.offcut_before {
                let from = if step.free_from == 0 { 0 } else { x(step.free_from) };
                layout.offcuts.push((from, x(start.cell) - board.kerf_cross));
            }
            layout.sections.push(self.priced.trace(board, class, start.cell, length, step.state, scratch));
        }
        if path.offcut_after {
            let end = path.steps.last().map_or(0, |step| step.end);
            layout.offcuts.push((x(end), board.length));
        }
        layout
    }
}

impl Chain {
    fn points<'s>(&self, start: &'s Start, after_offcut: bool) -> &'s [Vec<(usize, i32)>] {
        match self.which {
            Which::Upper if !after_offcut && !start.direct.is_empty() => &start.direct,
            Which::Upper => &start.optimistic,
            Which::Lower => &start.lawful,
        }
    }
}

/// Ends (from `cell` on) at which a value is first reached.
fn rising(cell: usize, values: &[i32]) -> Vec<(usize, i32)> {
    let mut points = Vec::new();
    let mut best = 0;
    for (length, &value) in values.iter().enumerate() {
        if value > best {
            best = value;
            points.push((cell + length, value));
        }
    }
    points
}
