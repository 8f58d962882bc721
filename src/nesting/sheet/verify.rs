//! Whether a sheet's layout is lawful, decided from the placed tree alone.
//!
//! Shares nothing with the programmes that find layouts but the types. Checks that every node lies inside its parent, that
//! neighbours are a kerf apart, that pieces keep the trim, that the cuts need no more stages than allowed in the order
//! asked, and that remnants span the sheet at its ends and are large enough to earn.

use crate::nesting::layout::SheetNode;
use crate::nesting::problem::{Direction, Kind, Rect, SheetStock, Stock};

/// Says what is wrong with a layout of that stock, if anything is.
///
/// # Errors
///
/// A sentence on the first breach found; also when the stock is no sheet.
pub fn verify(stock: &Stock, layout: &SheetNode) -> Result<(), String> {
    let Kind::Sheet(sheet) = &stock.kind else { return Err("the stock is no sheet".into()) };
    let whole = Rect { x0: 0, x1: sheet.length, y0: 0, y1: sheet.width };
    let mut remnants = Vec::new();
    let (stages, begins) = walk(sheet, layout, &whole, None, &mut remnants)?;
    let lost = u32::from(stages > 0 && sheet.first.is_some() && begins != sheet.first);
    if sheet.stages > 0 && stages + lost > sheet.stages {
        return Err(format!("{} stages where {} are allowed", stages + lost, sheet.stages));
    }
    if remnants.len() > 2 {
        return Err(format!("{} credited remnants on one sheet", remnants.len()));
    }
    for r in remnants {
        let credit = stock.credit.as_ref().ok_or("a remnant is credited where none earns")?;
        let (length, width) = (r.x1 - r.x0, r.y1 - r.y0);
        let across = r.y0 == 0 && r.y1 == sheet.width && (r.x0 == 0 || r.x1 == sheet.length);
        let along = r.x0 == 0 && r.x1 == sheet.length && (r.y0 == 0 || r.y1 == sheet.width);
        if !across && !along {
            return Err(format!("remnant {r:?} does not span the sheet at its edge"));
        }
        if length < credit.min_length || width < credit.min_width {
            return Err(format!("remnant {r:?} is too small to earn"));
        }
    }
    Ok(())
}

/// The node's rectangle.
fn rect(sheet: &SheetStock, node: &SheetNode) -> Result<Rect, String> {
    let (x, y, length, width) = match *node {
        SheetNode::Piece { x, y, piece } => {
            let p = sheet.pieces.get(piece).ok_or_else(|| format!("there is no piece {piece}"))?;
            (x, y, p.length, p.width)
        }
        SheetNode::Remnant { x, y, length, width } | SheetNode::Split { x, y, length, width, .. } => {
            (x, y, length, width)
        }
    };
    Ok(Rect { x0: x, x1: x + length, y0: y, y1: y + width })
}

/// Stages below a node cut in `inside` direction so far, and the direction of the outermost of them.
fn walk(
    sheet: &SheetStock,
    node: &SheetNode,
    parent: &Rect,
    inside: Option<Direction>,
    remnants: &mut Vec<Rect>,
) -> Result<(u32, Option<Direction>), String> {
    let own = rect(sheet, node)?;
    if own.x0 < parent.x0 || own.x1 > parent.x1 || own.y0 < parent.y0 || own.y1 > parent.y1 {
        return Err(format!("{own:?} reaches out of {parent:?}"));
    }
    match node {
        SheetNode::Piece { .. } => {
            let low = own.x0.min(own.y0);
            let high = (sheet.length - own.x1).min(sheet.width - own.y1);
            if low < sheet.trim || high < sheet.trim {
                Err(format!("piece {own:?} lies in the trim"))
            } else {
                Ok((0, None))
            }
        }
        SheetNode::Remnant { .. } => {
            remnants.push(own);
            Ok((0, None))
        }
        SheetNode::Split { direction, children, .. } => {
            let mut end: Option<i64> = None;
            for child in children {
                let r = rect(sheet, child)?;
                let (from, to, kerf) = match direction {
                    Direction::Cross => (r.x0, r.x1, sheet.kerf.cross),
                    Direction::Rip => (r.y0, r.y1, sheet.kerf.rip),
                };
                if end.is_some_and(|end| from < end + kerf) {
                    return Err(format!("{r:?} is less than a kerf from its neighbour"));
                }
                end = Some(to);
            }
            let parts = children.len() > 1;
            let now = if parts { Some(*direction) } else { inside };
            let mut deepest = (0, None);
            for child in children {
                let below = walk(sheet, child, &own, now, remnants)?;
                if below.0 > deepest.0 {
                    deepest = below;
                }
            }
            let turns = u32::from(parts && inside != Some(*direction));
            Ok((deepest.0 + turns, if parts { Some(*direction) } else { deepest.1 }))
        }
    }
}
