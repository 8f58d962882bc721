//! Is a layout one of the class that `BoardStock` states? Read from that statement, sharing nothing with the search.

use crate::nesting::layout::{BoardLayout, SectionAt, StripAt};
use crate::nesting::problem::{BoardStock, Credit, Kind, Rect, Stock};

/// Checks every rule of the class, and the form: everything ascending, nothing empty.
///
/// # Errors
/// The first rule broken, in words with the figures.
pub fn verify(stock: &Stock, layout: &BoardLayout) -> Result<(), String> {
    let Kind::Board(board) = &stock.kind else { return Err("the stock is no board".into()) };
    neighbours_keep_the_kerf(board, layout)?;
    offcuts_earn(board, stock.credit.as_ref(), layout)?;
    layout.sections.iter().try_for_each(|section| section_is_lawful(board, section))
}

fn neighbours_keep_the_kerf(board: &BoardStock, layout: &BoardLayout) -> Result<(), String> {
    if layout.sections.is_empty() && !layout.offcuts.is_empty() {
        return Err("offcuts of a board that is not cut".into());
    }
    let sections = layout.sections.iter().map(|s| (s.x, s.x + s.length));
    let mut spans: Vec<(i64, i64)> = sections.clone().chain(layout.offcuts.iter().copied()).collect();
    spans.sort_unstable();
    let ascending = |list: &[(i64, i64)]| list.windows(2).all(|w| w[0].1 + board.kerf_cross <= w[1].0);
    if !ascending(&spans) {
        return Err(format!("sections and offcuts closer than the kerf: {spans:?}"));
    }
    if !ascending(&sections.collect::<Vec<_>>()) || !ascending(&layout.offcuts) {
        return Err("sections or offcuts out of order".into());
    }
    Ok(())
}

fn offcuts_earn(board: &BoardStock, credit: Option<&Credit>, layout: &BoardLayout) -> Result<(), String> {
    for &(x0, x1) in &layout.offcuts {
        let Some(credit) = credit else { return Err("an offcut where none earns".into()) };
        if x0 < 0 || x1 > board.length || x1 - x0 < credit.min_length {
            return Err(format!("offcut {x0}..{x1} is outside the board or too short"));
        }
    }
    Ok(())
}

fn section_is_lawful(board: &BoardStock, section: &SectionAt) -> Result<(), String> {
    let (a, b) = (section.x, section.x + section.length);
    let class = board.classes.get(section.class).ok_or("no such class")?;
    if a < board.end_trim || b > board.length - board.end_trim {
        return Err(format!("section {a}..{b} reaches into the end trim"));
    }
    if section.length < class.min_length || section.length > class.max_length {
        return Err(format!("section {a}..{b} is too short or too long for class {}", section.class));
    }
    if section.strips.is_empty() {
        return Err(format!("section {a}..{b} is empty"));
    }
    if section.strips.windows(2).any(|w| w[0].y + w[0].width + board.kerf_rip > w[1].y) {
        return Err(format!("strips of section {a}..{b} closer than the kerf or out of order"));
    }
    for strip in &section.strips {
        if strip.y < class.low || strip.y + strip.width > class.high {
            return Err(format!("strip at y {} leaves the section's width", strip.y));
        }
        let kind = class.strips.iter().find(|k| k.width == strip.width).ok_or("no strip of that width")?;
        let room = (a + class.end_margin, b - class.end_margin);
        blanks_are_lawful(board, strip, &kind.cuttings, room)?;
    }
    Ok(())
}

fn blanks_are_lawful(board: &BoardStock, strip: &StripAt, allowed: &[usize], room: (i64, i64)) -> Result<(), String> {
    if strip.blanks.is_empty() {
        return Err(format!("strip at y {} is empty", strip.y));
    }
    let mut free = room.0;
    for blank in &strip.blanks {
        if !allowed.contains(&blank.cutting) {
            return Err(format!("cutting {} in a strip that cannot hold it", blank.cutting));
        }
        let cutting = &board.cuttings[blank.cutting];
        if blank.x < free || blank.x + cutting.length > room.1 {
            return Err(format!("blank at x {} overlaps or leaves its section", blank.x));
        }
        free = blank.x + cutting.length + board.kerf_cross;
        let (x, y) = (blank.x + cutting.net_dx, strip.y + cutting.net_dy);
        let net = Rect { x0: x, x1: x + cutting.net_length, y0: y, y1: y + cutting.net_width };
        if let Some(rect) = board.blocked[cutting.blocked].iter().find(|r| r.meets(&net)) {
            return Err(format!("net {net:?} meets blocked {rect:?}"));
        }
    }
    Ok(())
}
