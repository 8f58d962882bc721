//! What is cut for a part: the pieces of one copy, their blanks, the faces asked of them, the thickness they are planed to.
//!
//! Knows the part and the shop's allowances, no board. Staves of panels are not made here.

use crate::job::{Faces, Part, Shop};
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
        let asked = match part.faces {
            Faces::C2f => Asked::ClearBoth,
            Faces::C1f => Asked::ClearOne,
            Faces::Sound => Asked::Sound,
            Faces::Any => Asked::Any,
        };
        return vec![piece(1, asked)];
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
