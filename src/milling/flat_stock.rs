//! Sheets and sticks as the optimiser sees them: finished sizes, grain, trims; nothing is planed and nothing is grown.

use crate::job::{Part, PartGrain, Shop};
use crate::measure::Length;
use crate::milling::MilledCutting;
use crate::milling::blank::Piece;
use crate::nesting::{Kerfs, SheetPiece, SheetStock, StickStock};
use crate::pile::{Face, Sheet, SheetGrain, Stick};

/// How far a sheet's thickness may lie from the part's: 1/64 in.
pub const SHEET_TOLERANCE: Length = Length::from_inch_fraction(1, 64);

/// True when the part can be cut from sheets of this thickness.
pub fn sheet_is_as_thick(sheet: &Sheet, part: &Part) -> bool {
    let off = sheet.thickness - part.thickness;
    off <= SHEET_TOLERANCE && -off <= SHEET_TOLERANCE
}

/// True when the stick's section is the part's.
pub fn stick_is_the_section(stick: &Stick, part: &Part) -> bool {
    stick.thickness == part.thickness && stick.width == part.width
}

/// The ways a part may lie on a sheet: (turned), turned meaning its length lies across the sheet's.
fn ways(sheet: SheetGrain, part: PartGrain) -> &'static [bool] {
    match (sheet, part) {
        (SheetGrain::None, _) | (_, PartGrain::Any) => &[false, true],
        (SheetGrain::Length, PartGrain::Along) | (SheetGrain::Width, PartGrain::Across) => &[false],
        (SheetGrain::Length, PartGrain::Across) | (SheetGrain::Width, PartGrain::Along) => &[true],
    }
}

/// The sheet's geometry, with the pieces that fit it.
pub fn sheet_stock(sheet: &Sheet, wanted: &[(usize, &Piece, &Part)], shop: &Shop) -> (SheetStock, Vec<MilledCutting>) {
    let trim = shop.trim.sheet;
    let (room_length, room_width) = (sheet.length - trim * 2, sheet.width - trim * 2);
    let mut pieces = Vec::new();
    let mut milled = Vec::new();
    for &(item, piece, part) in wanted {
        for &turned in ways(sheet.grain, part.grain) {
            let (length, width) = if turned { (piece.width, piece.length) } else { (piece.length, piece.width) };
            let square_again = turned && length == width && ways(sheet.grain, part.grain).len() == 2;
            if length <= room_length && width <= room_width && !square_again {
                pieces.push(SheetPiece { item, length: length.ticks(), width: width.ticks(), turned });
                milled.push(as_it_is(item));
            }
        }
    }
    let stock = SheetStock {
        length: sheet.length.ticks(),
        width: sheet.width.ticks(),
        trim: trim.ticks(),
        kerf: Kerfs { cross: shop.kerf.crosscut.ticks(), rip: shop.kerf.rip.ticks() },
        stages: shop.machine.sheet_stages,
        first: None,
        pieces,
    };
    (stock, milled)
}

/// The stick's geometry, with the pieces that fit it.
pub fn stick_stock(stick: &Stick, wanted: &[(usize, &Piece)], shop: &Shop) -> (StickStock, Vec<MilledCutting>) {
    let room = stick.length - shop.trim.stick * 2;
    let fitting: Vec<_> = wanted.iter().filter(|(_, piece)| piece.length <= room).collect();
    let stock = StickStock {
        length: stick.length.ticks(),
        trim: shop.trim.stick.ticks(),
        kerf: shop.kerf.crosscut.ticks(),
        pieces: fitting.iter().map(|(item, piece)| (*item, piece.length.ticks())).collect(),
    };
    (stock, fitting.iter().map(|(item, _)| as_it_is(*item)).collect())
}

fn as_it_is(item: usize) -> MilledCutting {
    MilledCutting { leaves: vec![item], planed: false, face_up: Face::Top, block: Vec::new() }
}
