//! What is cut for a part: the pieces of one copy, their blanks, the faces asked of them, the thickness they are planed to.
//!
//! Knows the part and the shop's allowances, no board.

use std::collections::BTreeSet;

use crate::job::{Faces, Panel, Part, Shop};
use crate::measure::Length;

/// What a piece asks of the wood on its two faces.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Asked {
    /// No defect on either face.
    ClearBoth,
    /// None on one face, sound ones on the other.
    ClearOne,
    /// Sound defects only.
    Sound,
    /// Sound on one face (a glue face), whatever comes on the other.
    SoundOne,
    /// Whatever comes.
    Any,
}

/// A kind of piece of which `per_copy` go into one copy of a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Pieces of this kind in one copy.
    pub per_copy: u32,
    pub asked: Asked,
    /// Blank, along and across the grain.
    pub length: Length,
    pub width: Length,
    /// The finished rectangle (with tenons) inside the blank.
    pub net_length: Length,
    pub net_width: Length,
    /// Planed thickness.
    pub thickness: Length,
}

impl Piece {
    /// Where the net rectangle begins in the blank: it sits in the middle, a half tick to the left when that is odd.
    pub fn net_offset(&self) -> (i64, i64) {
        ((self.length - self.net_length).ticks() / 2, (self.width - self.net_width).ticks() / 2)
    }
}

/// The thickness each of `layers` layers is planed to: n t >= thickness + the layer allowance, to the next tick; the
/// part's own thickness when it is not built up.
pub fn layer_thickness(part: &Part, layers: u32, shop: &Shop) -> Length {
    if layers <= 1 {
        return part.thickness;
    }
    let total = (part.thickness + shop.allowance.layer_face).ticks();
    let n = i64::from(layers);
    Length::from_ticks((total + n - 1) / n)
}

/// The kinds of lumber pieces in one copy of a part built from `layers` layers (1: one plain piece).
pub fn lumber_pieces(part: &Part, layers: u32, shop: &Shop) -> Vec<Piece> {
    let allowance = &shop.allowance;
    let glued = layers > 1;
    let net_length = part.full_length();
    let extra = |on: Length| if glued { on } else { Length::ZERO };
    let piece = |per_copy: u32, asked: Asked| Piece {
        per_copy,
        asked,
        length: net_length + allowance.length + extra(allowance.layer_length),
        width: part.width + allowance.width + extra(allowance.layer_width),
        net_length,
        net_width: part.width,
        thickness: layer_thickness(part, layers, shop),
    };
    if !glued {
        return vec![piece(1, asked_of(part.faces))];
    }
    // Outer layers show one face each; inner layers and every glue face are sound.
    let (outer, outer_asked) = match part.faces {
        Faces::C2f => (2, Asked::ClearOne),
        Faces::C1f => (1, Asked::ClearOne),
        Faces::Sound => (0, Asked::Sound),
        Faces::Any => (2, Asked::SoundOne),
    };
    let mut pieces = Vec::new();
    if outer > 0 {
        pieces.push(piece(outer, outer_asked));
    }
    if layers > outer {
        pieces.push(piece(layers - outer, Asked::Sound));
    }
    pieces
}

/// What a piece that shows both its faces, a plain part or a stave, is asked for.
const fn asked_of(faces: Faces) -> Asked {
    match faces {
        Faces::C2f => Asked::ClearBoth,
        Faces::C1f => Asked::ClearOne,
        Faces::Sound => Asked::Sound,
        Faces::Any => Asked::Any,
    }
}

/// The width the staves of a panel add up to at least: finished width and what is trimmed off the glued blank.
pub fn panel_needs(part: &Part, shop: &Shop) -> Length {
    part.width + shop.allowance.panel_width
}

/// A stave of some net width.
fn stave(part: &Part, shop: &Shop, per_copy: u32, net_width: Length) -> Piece {
    let allowance = &shop.allowance;
    let net_length = part.full_length();
    Piece {
        per_copy,
        asked: asked_of(part.faces),
        length: net_length + allowance.panel_length,
        width: net_width + allowance.joint * 2,
        net_length,
        net_width,
        thickness: part.thickness + allowance.panel_face,
    }
}

/// The staves that a copy of a panel may be glued from, and how their widths are counted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Staves {
    /// Every stave width is a whole number of these.
    pub unit: Length,
    /// Units that a copy needs at least: the least whole number that holds the width needed.
    pub needed: u32,
    /// Units beyond that which are of use at most: with as many as the narrowest stave has, a stave could be left out
    /// or all be ripped narrower.
    pub excess: u32,
    /// A piece for each width, ascending, with its units.
    pub widths: Vec<(Piece, u32)>,
}

/// The staves of a panel whose widths are free.
pub fn free_staves(part: &Part, panel: &Panel, shop: &Shop) -> Staves {
    let (least, most, step) = (panel.stave_min.ticks(), panel.stave_max.ticks(), shop.step.rip.ticks().max(1));
    let unit = gcd(gcd(step, least), most);
    let units = |ticks: i64| u32::try_from(ticks / unit).unwrap_or(u32::MAX);
    let on_step = (least / step..=most / step).map(|n| n * step).filter(|w| (least..=most).contains(w));
    let widths: BTreeSet<i64> = on_step.chain([least, most]).collect();
    let needed = panel_needs(part, shop).ticks();
    Staves {
        unit: Length::from_ticks(unit),
        needed: units(needed + unit - 1),
        excess: units(least).saturating_sub(1),
        widths: widths.into_iter().map(|w| (stave(part, shop, 1, Length::from_ticks(w)), units(w))).collect(),
    }
}

/// The stave of a panel glued from `count` equal ones: the narrowest lawful width of which so many are wide enough;
/// `None` when none is.
pub fn equal_stave(part: &Part, panel: &Panel, count: u32, shop: &Shop) -> Option<Piece> {
    let (needed, count_ticks) = (panel_needs(part, shop).ticks(), i64::from(count.max(1)));
    let each = Length::from_ticks((needed + count_ticks - 1) / count_ticks).max(panel.stave_min);
    let width = if each == panel.stave_min { each } else { each.round_up_to(shop.step.rip).min(panel.stave_max) };
    (width >= each && width <= panel.stave_max).then(|| stave(part, shop, count, width))
}

/// The narrowest stave of a panel.
pub fn narrowest_stave(part: &Part, panel: &Panel, shop: &Shop) -> Piece {
    stave(part, shop, 1, panel.stave_min)
}

/// The widest stave of a panel of equal staves: what is asked of the pile when no number of them is wide enough.
pub fn widest_stave(part: &Part, panel: &Panel, shop: &Shop) -> Piece {
    let needed = panel_needs(part, shop).ticks();
    let count = (needed + panel.stave_max.ticks() - 1) / panel.stave_max.ticks().max(1);
    stave(part, shop, u32::try_from(count).unwrap_or(u32::MAX), panel.stave_max)
}

/// The numbers of equal staves that a panel may be glued from, ascending; a larger number has narrower staves until
/// they are as narrow as may be.
pub fn equal_counts(part: &Part, panel: &Panel, shop: &Shop) -> Vec<u32> {
    let most = panel_needs(part, shop).ticks() / panel.stave_min.ticks().max(1) + 1;
    (1..=u32::try_from(most).unwrap_or(u32::MAX)).filter(|&n| equal_stave(part, panel, n, shop).is_some()).collect()
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// The one piece of a part cut from a sheet or a stick: its finished size, nothing added.
pub fn finished_piece(part: &Part) -> Piece {
    Piece {
        per_copy: 1,
        asked: Asked::Any,
        length: part.full_length(),
        width: part.width,
        net_length: part.full_length(),
        net_width: part.width,
        thickness: part.thickness,
    }
}
