//! Offcuts: large enough, credit only where it is earned and at the right figure, the list against the trees.
//!
//! Readings of the model where it leaves room: length and width of a sheet's remnant are taken along the sheet's own;
//! an offcut that could earn credit may be left without (its plan then costs more); every defect, sound or not, is less
//! sound area, without margins; sheets and sticks lose no trim from the area. A board's offcut of full width is large
//! enough by its length alone.

use std::collections::BTreeSet;

use crate::measure::{Area, Length, Money};
use crate::plan::{Node, OffcutRow, Role};

use super::walk::{Piece, Source, View, each_node, end_x, end_y, place_of};
use super::{Findings, Rule, prints_alike, stock};

/// Every offcut of every tree, every row of the list.
pub(super) fn check(view: &View, found: &mut Findings) {
    for piece in &view.stock {
        let Some(source) = piece.source else { continue };
        let mut above = Vec::new();
        let mut path = Vec::new();
        visit(&piece.entry.tree, &mut above, &mut path, &mut |node, above, path| {
            if node.role == Some(Role::Offcut) {
                let place = place_of(&piece.place, above, path, node);
                check_offcut(view, (source, piece.entry.copy), node, above.len() == 1, &place, found);
            }
        });
    }
    check_rows(view, found);
}

/// The credit of all offcuts of a piece of stock that may earn it, exactly.
pub(super) fn earned(view: &View, piece: &Piece) -> Money {
    let Some(source) = piece.source else { return Money::zero() };
    let root = &piece.entry.tree;
    let mut sum = Money::zero();
    each_node(root, &mut |node| {
        if is_credited(node) {
            sum += credit(view, source, piece.entry.copy, node);
        }
    });
    sum
}

fn is_credited(node: &Node<Length>) -> bool {
    node.role == Some(Role::Offcut) && node.credit.as_ref().is_some_and(|credit| *credit != Money::zero())
}

type Visit<'f, 'a> = &'f mut dyn FnMut(&'a Node<Length>, &[&'a Node<Length>], &[usize]);

fn visit<'a>(node: &'a Node<Length>, above: &mut Vec<&'a Node<Length>>, path: &mut Vec<usize>, act: Visit<'_, 'a>) {
    act(node, above, path);
    above.push(node);
    for (index, child) in node.children.iter().enumerate() {
        path.push(index);
        visit(child, above, path, act);
        path.pop();
    }
    above.pop();
}

fn check_offcut(
    view: &View,
    (source, copy): (Source, u32),
    node: &Node<Length>,
    under_root: bool,
    place: &str,
    found: &mut Findings,
) {
    if !large_enough(view, source, (node.y, node.length, node.width)) {
        let keep = &view.job.shop.keep;
        let detail = format!(
            "{} x {}, worth keeping from {} x {}",
            found.len(node.length),
            found.len(node.width),
            found.len(keep.length),
            found.len(keep.width)
        );
        found.add(Rule::OffcutSize, place, detail);
    }
    if !is_credited(node) {
        return;
    }
    if !may_earn(source, node, under_root) {
        found.add(Rule::CreditUnearned, place, "neither a full-width length nor a full remnant of a sheet");
        return;
    }
    let exact = credit(view, source, copy, node);
    let stated = node.credit.clone().unwrap_or_default();
    if !prints_alike(&stated, &exact) {
        found.add(Rule::OffcutCredit, place, format!("{stated} where its sound area earns {exact}"));
    }
}

fn large_enough(view: &View, source: Source, (y, length, width): (Length, Length, Length)) -> bool {
    let keep = &view.job.shop.keep;
    let full_width = y == Length::ZERO && width == source.width();
    let free_of_width = full_width && !matches!(source, Source::Sheet(_));
    length >= keep.length && (free_of_width || width >= keep.width)
}

fn may_earn(source: Source, node: &Node<Length>, under_root: bool) -> bool {
    let full_width = node.y == Length::ZERO && node.width == source.width();
    let full_length = node.x == Length::ZERO && node.length == source.length();
    match source {
        Source::Sheet(_) => full_width || full_length,
        Source::Board(..) | Source::Stick(_) => under_root && full_width,
    }
}

/// `keep.credit` x cost per area x sound area.
fn credit(view: &View, source: Source, copy: u32, node: &Node<Length>) -> Money {
    let whole = source.length() * source.width();
    if whole == Area::ZERO {
        return Money::zero();
    }
    let share = sound_area(view, source, node).share_of(whole);
    stock::price(view, source, copy).times(&(share * &view.job.shop.keep.credit))
}

/// An offcut's area less a board's dirty ends and the union of its defects.
fn sound_area(view: &View, source: Source, node: &Node<Length>) -> Area {
    let (mut x0, mut x1) = (node.x, end_x(node));
    let (y0, y1) = (node.y, end_y(node));
    let Source::Board(board, _) = source else { return (x1 - x0) * (y1 - y0) };
    let trim = view.job.shop.trim.board_end;
    x0 = x0.max(trim);
    x1 = x1.min(board.length - trim);
    if x1 <= x0 || y1 <= y0 {
        return Area::ZERO;
    }
    let spots: Vec<[Length; 4]> = board
        .defects
        .iter()
        .map(|defect| {
            let (far_x, far_y) = (defect.x + defect.length, defect.y + defect.width);
            [defect.x.max(x0), far_x.min(x1), defect.y.max(y0), far_y.min(y1)]
        })
        .filter(|[from_x, to_x, from_y, to_y]| from_x < to_x && from_y < to_y)
        .collect();
    (x1 - x0) * (y1 - y0) - union_area(&spots)
}

/// Area of the union of rectangles (x0, x1, y0, y1): column by column between their ends.
fn union_area(spots: &[[Length; 4]]) -> Area {
    let ends: Vec<Length> = spots.iter().flat_map(|s| [s[0], s[1]]).collect::<BTreeSet<_>>().into_iter().collect();
    let mut area = Area::ZERO;
    for column in ends.windows(2) {
        let [from, to] = column else { continue };
        let mut bands: Vec<(Length, Length)> =
            spots.iter().filter(|s| s[0] <= *from && s[1] >= *to).map(|s| (s[2], s[3])).collect();
        bands.sort_unstable();
        let mut covered = Length::ZERO;
        let mut reached = None::<Length>;
        for (low, high) in bands {
            let low = reached.map_or(low, |reached| low.max(reached));
            if high > low {
                covered += high - low;
            }
            reached = Some(reached.map_or(high, |reached| reached.max(high)));
        }
        area += (*to - *from) * covered;
    }
    area
}

/// Each offcut of the trees has its row; a row without one is plain waste worth keeping: free of blanks and offcuts.
fn check_rows(view: &View, found: &mut Findings) {
    let rows = &view.plan.offcuts;
    for piece in &view.stock {
        each_node(&piece.entry.tree, &mut |node| {
            if node.role != Some(Role::Offcut) {
                return;
            }
            let times = rows.iter().filter(|row| is_row_of(row, piece, node)).count();
            if times != 1 {
                let at = format!("offcut at {}, {}", found.len(node.x), found.len(node.y));
                found.add(Rule::OffcutRow, format!("{}: {at}", piece.place), format!("in {times} rows of the list"));
            }
        });
    }
    for (nth, row) in rows.iter().enumerate() {
        let place = format!("offcuts[{nth}] of \"{}\" copy {}", row.stock, row.stock_copy);
        let holder = view.stock.iter().find(|p| p.entry.id == row.stock && p.entry.copy == row.stock_copy);
        match holder {
            None => found.add(Rule::OffcutRow, place, "no such piece of stock is cut"),
            Some(piece) => check_row(view, piece, row, &place, found),
        }
    }
}

fn is_row_of(row: &OffcutRow<Length>, piece: &Piece, node: &Node<Length>) -> bool {
    let credit = node.credit.clone().unwrap_or_default();
    (row.stock.as_str(), row.stock_copy) == (piece.entry.id.as_str(), piece.entry.copy)
        && (row.x, row.y, row.length, row.width) == (node.x, node.y, node.length, node.width)
        && prints_alike(&row.credit, &credit)
}

fn check_row(view: &View, piece: &Piece, row: &OffcutRow<Length>, place: &str, found: &mut Findings) {
    let mut listed = false;
    let mut clash = false;
    each_node(&piece.entry.tree, &mut |node| {
        listed |= node.role == Some(Role::Offcut) && is_row_of(row, piece, node);
        let kept = matches!(node.role, Some(Role::Blank | Role::Offcut));
        let meets =
            row.x < end_x(node) && node.x < row.x + row.length && row.y < end_y(node) && node.y < row.y + row.width;
        clash |= kept && meets;
    });
    if listed {
        return;
    }
    if clash {
        found.add(Rule::OffcutRow, place, "overlaps a blank or an offcut of the tree");
    }
    if row.credit != Money::zero() {
        found.add(Rule::OffcutRow, place, format!("credit {} that the tree does not have", row.credit));
    }
    let Some(source) = piece.source else { return };
    let outside = row.x.is_negative()
        || row.y.is_negative()
        || row.x + row.length > source.length()
        || row.y + row.width > source.width();
    if outside {
        found.add(Rule::OffcutRow, place, "reaches outside its piece of stock");
    }
    if !large_enough(view, source, (row.y, row.length, row.width)) {
        let detail = format!("{} x {} is not worth keeping", found.len(row.length), found.len(row.width));
        found.add(Rule::OffcutSize, place, detail);
    }
}
