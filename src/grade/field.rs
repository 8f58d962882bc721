//! A face as plain geometry: a rectangle with blocked rectangles in it, and the clear rectangles that cannot be made larger.
//!
//! Integers only; what blocks wood is `faces`' business, which clear rectangles are taken is `cuttings`'. Coordinates are
//! ticks, x along the board and y across it.

use crate::measure::Area;
use crate::trade::grades::LeastCutting;

/// An upright rectangle; it holds wood when `x1 < x2` and `y1 < y2`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Rect {
    pub x1: i64,
    pub y1: i64,
    pub x2: i64,
    pub y2: i64,
}

impl Rect {
    pub fn length(&self) -> i64 {
        self.x2 - self.x1
    }

    pub fn width(&self) -> i64 {
        self.y2 - self.y1
    }

    pub fn area(&self) -> i128 {
        i128::from(self.length()) * i128::from(self.width())
    }

    pub fn meets(&self, other: &Rect) -> bool {
        self.x1 < other.x2 && other.x1 < self.x2 && self.y1 < other.y2 && other.y1 < self.y2
    }

    /// What both have in common; empty (not `x1 < x2` and `y1 < y2`) when they do not meet.
    pub fn common(&self, other: &Rect) -> Rect {
        Rect {
            x1: self.x1.max(other.x1),
            y1: self.y1.max(other.y1),
            x2: self.x2.min(other.x2),
            y2: self.y2.min(other.y2),
        }
    }
}

/// How small a cutting may be, in ticks.
#[derive(Clone, Debug)]
pub(crate) struct Least {
    /// Width and length; one pair must be met.
    pub pairs: Vec<(i64, i64)>,
    /// Square ticks.
    pub area: i128,
}

impl Least {
    pub fn allows(&self, rect: &Rect) -> bool {
        rect.x1 < rect.x2
            && rect.y1 < rect.y2
            && self.pairs.iter().any(|&(width, length)| width <= rect.width() && length <= rect.length())
            && self.area <= rect.area()
    }
}

impl From<&LeastCutting> for Least {
    fn from(least: &LeastCutting) -> Least {
        let pairs = least.pairs.iter().map(|(width, length)| (width.ticks(), length.ticks())).collect();
        Least { pairs, area: least.area.square_ticks() }
    }
}

/// A face: its size, and what is blocked on it.
#[derive(Clone, Debug)]
pub(crate) struct Field {
    length: i64,
    width: i64,
    /// Inside the face, none empty.
    blocked: Vec<Rect>,
    /// Ascending: the ends of the face and of everything blocked.
    pub xs: Vec<i64>,
    /// Ascending: the edges likewise.
    pub ys: Vec<i64>,
    /// By column, then row of the grid of `xs` and `ys`.
    taken: Vec<Vec<bool>>,
}

impl Field {
    /// A face of this size; what lies beyond it of a blocked rectangle does not count.
    pub fn new(length: i64, width: i64, blocked: impl IntoIterator<Item = Rect>) -> Field {
        let face = Rect { x1: 0, y1: 0, x2: length, y2: width };
        let blocked: Vec<Rect> =
            blocked.into_iter().map(|rect| rect.common(&face)).filter(|r| r.x1 < r.x2 && r.y1 < r.y2).collect();
        let mut xs: Vec<i64> = blocked.iter().flat_map(|rect| [rect.x1, rect.x2]).chain([0, length]).collect();
        let mut ys: Vec<i64> = blocked.iter().flat_map(|rect| [rect.y1, rect.y2]).chain([0, width]).collect();
        for lines in [&mut xs, &mut ys] {
            lines.sort_unstable();
            lines.dedup();
        }
        let mut taken = vec![vec![false; ys.len() - 1]; xs.len() - 1];
        for rect in &blocked {
            let (columns, rows) = (span(&xs, rect.x1, rect.x2), span(&ys, rect.y1, rect.y2));
            taken[columns].iter_mut().for_each(|column| column[rows.clone()].fill(true));
        }
        Field { length, width, blocked, xs, ys, taken }
    }

    /// The face with more of it blocked.
    pub fn without(&self, more: &[Rect]) -> Field {
        Field::new(self.length, self.width, self.blocked.iter().chain(more).copied())
    }

    /// True when nothing is blocked.
    pub fn is_clear(&self) -> bool {
        self.blocked.is_empty()
    }

    /// Every clear rectangle that is no part of a larger one and is large enough, the largest area first.
    ///
    /// Goes from column to column with the clear run that ends in each row, as heights of a skyline; the rectangles under
    /// the skyline that cannot grow are those popped from a stack. `O(columns x rows)` beside what is found.
    pub fn largest_clear(&self, least: &Least) -> Vec<Rect> {
        let (columns, rows) = (self.taken.len(), self.ys.len() - 1);
        let mut runs = vec![0; rows];
        let mut found = Vec::new();
        for column in 0..columns {
            for (run, &taken) in runs.iter_mut().zip(&self.taken[column]) {
                *run = if taken { 0 } else { *run + 1 };
            }
            let mut skyline: Vec<(usize, usize)> = Vec::new();
            for row in 0..=rows {
                // Beyond the last row the skyline ends.
                let height = runs.get(row).copied().unwrap_or(0);
                let mut start = row;
                while let Some(&(from, above)) = skyline.last()
                    && above > height
                {
                    skyline.pop();
                    start = from;
                    let grows = column + 1 < columns && !self.taken[column + 1][from..row].contains(&true);
                    let (x1, x2) = (self.xs[column + 1 - above], self.xs[column + 1]);
                    let rect = Rect { x1, y1: self.ys[from], x2, y2: self.ys[row] };
                    if !grows && least.allows(&rect) {
                        found.push(rect);
                    }
                }
                if height > 0 && skyline.last().is_none_or(|&(_, above)| above < height) {
                    skyline.push((start, height));
                }
            }
        }
        found.sort_unstable_by(|a, b| b.area().cmp(&a.area()).then(a.cmp(b)));
        found
    }

    /// Cells of the grid.
    pub fn size(&self) -> usize {
        self.taken.len() * (self.ys.len() - 1)
    }

    /// All clear area, square ticks.
    pub fn clear_area(&self) -> i128 {
        let open = self.taken.iter().flatten().zip(self.cell_areas()).filter(|(taken, _)| !**taken);
        open.map(|(_, area)| area).sum()
    }

    /// The cells of the grid inside a rectangle whose sides lie on it, counted column by column.
    pub fn cells(&self, rect: &Rect) -> Vec<usize> {
        let rows = self.ys.len() - 1;
        let (across, columns) = (span(&self.ys, rect.y1, rect.y2), span(&self.xs, rect.x1, rect.x2));
        columns.flat_map(|column| across.clone().map(move |row| column * rows + row)).collect()
    }

    /// The area of every cell of the grid, in the order of [`Field::cells`].
    pub fn cell_areas(&self) -> Vec<i128> {
        let sides = |lines: &[i64]| lines.windows(2).map(|pair| i128::from(pair[1] - pair[0])).collect::<Vec<_>>();
        let across = sides(&self.ys);
        sides(&self.xs).iter().flat_map(|x| across.iter().map(move |y| x * y)).collect()
    }

    /// The blocked area inside `window`, each place counted once.
    pub fn blocked_in(&self, window: &Rect) -> Area {
        let inside = Field::new(self.length, self.width, self.blocked.iter().map(|rect| rect.common(window)));
        let areas = inside.cell_areas();
        let taken = inside.taken.iter().flatten().zip(&areas).filter(|(taken, _)| **taken);
        Area::from_square_ticks(taken.map(|(_, area)| area).sum())
    }
}

/// The cells between two lines that are among `lines`.
fn span(lines: &[i64], from: i64, to: i64) -> std::ops::Range<usize> {
    lines.partition_point(|&line| line < from)..lines.partition_point(|&line| line < to)
}
