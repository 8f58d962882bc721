//! The best cuttings of a face: at most so many clear rectangles that do not overlap, of the greatest total area.
//!
//! A search of its own and not the layout engine of plans: a cutting of the grading rules is marked on the board and not
//! sawn, so it needs no saw line from edge to edge and loses no kerf; planned with sawn layouts some boards would fall short of
//! their grade. Pure geometry in integers: which rule asks for what is `trade::grades`' business.
//!
//! Exact by branching. Every cutting lies in a *largest* clear rectangle, its room, so first the rooms are chosen (one may
//! serve several cuttings); cuttings cover no more than the union of their rooms, and a union grows less with every room
//! (it is submodular), so the best still possible is bounded by the marginal gains of the rooms left. Then rooms that overlap are
//! parted, pair by pair, by a line along or across. With all directions fixed, the area is linear in the place of each
//! line, so a best answer has every line at an edge of a defect or the board, moved at most by least sides of cuttings:
//! only these places are tried, from the better end inwards until the bound says stop.

use super::field::{Field, Least, Rect};

/// How hard to look.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Effort {
    /// Square ticks: enough when this is reached.
    pub goal: i128,
    /// Stop as well when the goal is proven out of reach.
    pub decide: bool,
    /// Steps until the search gives up.
    pub steps: u64,
}

/// Cuttings found, and what no others can exceed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Found {
    pub cuttings: Vec<Rect>,
    /// Square ticks of the cuttings.
    pub area: i128,
    /// No lawful set of cuttings has more square ticks.
    pub upper: i128,
}

/// Most cuttings taken where any number is allowed.
const MANY: u32 = 64;
/// Most cuttings taken from a face whose grid has more cells than `FINE`: hundreds of defects, and a service to keep up.
const FEW: usize = 8;
const FINE: usize = 100_000;

/// Cells of rooms beyond which rooms are not searched: a board with hundreds of defects.
const LARGEST: usize = 4_000_000;

/// The best set of at most `most` cuttings (any number when `None`). Deterministic.
///
/// Where any number is allowed the answer is the greedy one and the bound the whole area that can lie in some cutting;
/// the grades that allow it ask for a third of the board at most, so the two rarely leave a doubt, and then it is said.
/// The same holds of a board with more defects than can be searched.
pub(crate) fn best(field: &Field, least: &Least, most: Option<u32>, effort: Effort) -> Found {
    let rooms = field.largest_clear(least);
    let count = most.unwrap_or(MANY) as usize;
    let first = if field.size() > FINE { count.min(FEW) } else { count };
    let (cuttings, area) = greedy(field, least, first, effort.goal);
    let largest: i128 = rooms.iter().take(count).map(Rect::area).sum();
    let upper = match most {
        Some(_) => largest.min(field.clear_area()),
        None => field.clear_area(),
    };
    let too_many = rooms.len().saturating_mul(field.size()) > LARGEST;
    let mut found = Found { cuttings, area, upper };
    // Most boards are decided by the greedy cuttings and the plain bound, without a search.
    let decided = effort.goal <= area || upper <= area || effort.decide && upper < effort.goal;
    if !too_many && !decided {
        let mut search = Search::new(field, least, rooms, count, effort);
        search.cuttings = found.cuttings;
        search.area = area;
        let root = upper.min(search.union());
        let settled = most.is_none() || search.done(root) || effort.decide && root < effort.goal;
        if !settled {
            search.choose(0, 0, &mut Vec::new());
        }
        let exhausted = !settled && search.steps > 0 && search.area < effort.goal;
        let upper = if exhausted { search.area } else { root.max(search.area) };
        found = Found { cuttings: search.cuttings, area: search.area, upper };
    }
    found.cuttings.sort_unstable();
    found
}

/// A first answer: the largest clear rectangle of what is left, again and again, until the goal is reached.
fn greedy(field: &Field, least: &Least, most: usize, goal: i128) -> (Vec<Rect>, i128) {
    let (mut taken, mut area) = (Vec::new(), 0);
    while taken.len() < most && area < goal {
        let Some(&next) = field.without(&taken).largest_clear(least).first() else { break };
        area += next.area();
        taken.push(next);
    }
    (taken, area)
}

struct Search<'a> {
    least: &'a Least,
    /// Largest area first.
    rooms: Vec<Rect>,
    /// Cells of the grid in each room.
    cells: Vec<Vec<usize>>,
    cell_areas: Vec<i128>,
    /// Rooms chosen that hold each cell.
    covered: Vec<u16>,
    /// Places of lines across and along, ascending.
    xs: Vec<i64>,
    ys: Vec<i64>,
    most: usize,
    goal: i128,
    steps: u64,
    cuttings: Vec<Rect>,
    area: i128,
}

impl<'a> Search<'a> {
    fn new(field: &Field, least: &'a Least, rooms: Vec<Rect>, most: usize, effort: Effort) -> Search<'a> {
        let cells: Vec<Vec<usize>> = rooms.iter().map(|room| field.cells(room)).collect();
        let cell_areas = field.cell_areas();
        let lengths: Vec<i64> = least.pairs.iter().map(|pair| pair.1).collect();
        let widths: Vec<i64> = least.pairs.iter().map(|pair| pair.0).collect();
        Search {
            least,
            covered: vec![0; cell_areas.len()],
            xs: places(&field.xs, &lengths, most),
            ys: places(&field.ys, &widths, most),
            rooms,
            cells,
            cell_areas,
            most,
            goal: effort.goal,
            steps: effort.steps,
            cuttings: Vec::new(),
            area: 0,
        }
    }

    /// True when more cannot be had, or is not asked for.
    fn done(&self, upper: i128) -> bool {
        self.steps == 0 || self.area >= self.goal || upper <= self.area
    }

    fn spend(&mut self, steps: usize) {
        self.steps = self.steps.saturating_sub(steps as u64);
    }

    fn record(&mut self, cuttings: &[Rect]) {
        let area = cuttings.iter().map(Rect::area).sum();
        if area > self.area {
            self.area = area;
            self.cuttings = cuttings.to_vec();
        }
    }

    /// What a room adds to the area covered.
    fn gain(&mut self, room: usize) -> i128 {
        self.spend(self.cells[room].len());
        let open = self.cells[room].iter().filter(|&&cell| self.covered[cell] == 0);
        open.map(|&cell| self.cell_areas[cell]).sum()
    }

    /// The area that lies in some room.
    fn union(&self) -> i128 {
        let mut inside = vec![false; self.cell_areas.len()];
        self.cells.iter().flatten().for_each(|&cell| inside[cell] = true);
        inside.iter().zip(&self.cell_areas).filter(|(inside, _)| **inside).map(|(_, area)| area).sum()
    }

    /// Tries every choice of rooms from `first` on, on top of those chosen, which cover an area.
    fn choose(&mut self, first: usize, covered: i128, chosen: &mut Vec<Rect>) {
        if !chosen.is_empty() && covered > self.area {
            self.part(chosen.clone());
        }
        if chosen.len() == self.most || self.done(i128::MAX) {
            return;
        }
        let gains: Vec<i128> = (first..self.rooms.len()).map(|room| self.gain(room)).collect();
        for (room, &gain) in (first..).zip(&gains) {
            // Rooms are taken in ascending order, so what follows this one comes from here on.
            let mut rest = gains[room - first..].to_vec();
            rest.sort_unstable_by(|a, b| b.cmp(a));
            let after: i128 = rest.iter().take(self.most - chosen.len() - 1).sum();
            self.spend(rest.len());
            if self.done(covered + gain + after) {
                continue;
            }
            self.cover(room, true);
            chosen.push(self.rooms[room]);
            self.choose(room, covered + gain, chosen);
            chosen.pop();
            self.cover(room, false);
        }
    }

    fn cover(&mut self, room: usize, more: bool) {
        for &cell in &self.cells[room] {
            if more { self.covered[cell] += 1 } else { self.covered[cell] -= 1 }
        }
    }

    /// Parts the overlapping ones of `rects` in every way that may be best, and records what comes out.
    fn part(&mut self, rects: Vec<Rect>) {
        self.spend(rects.len() * rects.len());
        let total: i128 = rects.iter().map(Rect::area).sum();
        if self.done(total) {
            return;
        }
        let pairs = (0..rects.len()).flat_map(|i| (i + 1..rects.len()).map(move |j| (i, j)));
        let overlapping = pairs.filter(|&(i, j)| rects[i].meets(&rects[j]));
        let Some((i, j)) = overlapping.max_by_key(|&(i, j)| rects[i].common(&rects[j]).area()) else {
            self.record(&rects);
            return;
        };
        for (before, after) in [(i, j), (j, i)] {
            self.part_across(&rects, total, before, after);
            self.part_along(&rects, total, before, after);
        }
    }

    /// `before` ends where `after` begins, at a place along the board.
    fn part_across(&mut self, rects: &[Rect], total: i128, before: usize, after: usize) {
        let (low, high) = (rects[after].x1, rects[before].x2);
        let upwards = rects[before].width() < rects[after].width();
        for x in between(&self.xs, low, high, upwards) {
            let mut parted = rects.to_vec();
            parted[before].x2 = parted[before].x2.min(x);
            parted[after].x1 = parted[after].x1.max(x);
            if !self.try_parted(rects, total, parted, before, after) {
                break;
            }
        }
    }

    /// `before` ends where `after` begins, at a place across the board.
    fn part_along(&mut self, rects: &[Rect], total: i128, before: usize, after: usize) {
        let (low, high) = (rects[after].y1, rects[before].y2);
        let upwards = rects[before].length() < rects[after].length();
        for y in between(&self.ys, low, high, upwards) {
            let mut parted = rects.to_vec();
            parted[before].y2 = parted[before].y2.min(y);
            parted[after].y1 = parted[after].y1.max(y);
            if !self.try_parted(rects, total, parted, before, after) {
                break;
            }
        }
    }

    /// Goes on with a pair parted; false when places further in cannot be better than the best either.
    fn try_parted(&mut self, rects: &[Rect], total: i128, parted: Vec<Rect>, before: usize, after: usize) -> bool {
        self.spend(1);
        let (first, second) = (parted[before], parted[after]);
        let pair = |a: &Rect, b: &Rect| a.area() + b.area();
        // Where one of the two has been moved out of its room, its area counts negative: still linear, so still a bound.
        let bound = total - pair(&rects[before], &rects[after]) + pair(&first, &second);
        if self.done(bound) {
            return false;
        }
        if self.least.allows(&first) && self.least.allows(&second) {
            self.part(parted);
        }
        true
    }
}

/// The places from `low` to `high`, the given end first.
fn between(places: &[i64], low: i64, high: i64, upwards: bool) -> Vec<i64> {
    let from = places.partition_point(|&place| place < low);
    let to = places.partition_point(|&place| place <= high);
    let mut range = places[from..to.max(from)].to_vec();
    if !upwards {
        range.reverse();
    }
    range
}

/// Every line, and every line moved by a sum of fewer than `most` least sides either way, on the board.
fn places(lines: &[i64], least: &[i64], most: usize) -> Vec<i64> {
    let end = lines.last().copied().unwrap_or_default();
    let mut places: Vec<i64> = lines.to_vec();
    let mut newest = places.clone();
    for _ in 1..most {
        let moved = newest.iter().flat_map(|line| least.iter().flat_map(move |side| [line + side, line - side]));
        newest = moved.filter(|place| (0..=end).contains(place) && places.binary_search(place).is_err()).collect();
        newest.sort_unstable();
        newest.dedup();
        if newest.is_empty() {
            break;
        }
        places.extend(&newest);
        places.sort_unstable();
    }
    places
}

#[cfg(test)]
mod tests;
