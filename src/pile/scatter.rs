//! Defects laid on a board at random, for made-up boards: how many, and where each of a kind lies.
//!
//! Which kinds come how often, how large, and on which face is said by whoever makes the boards up.

use super::{Defect, DefectKind};
use crate::measure::dice::{Dice, eighths};
use crate::measure::{Area, Length};

/// Most defects of a board.
const MOST: usize = 24;

/// Defects as `draw` gives them until they cover so many square ticks; sorted along the board.
pub(crate) fn covering(target: i128, mut draw: impl FnMut() -> Defect) -> Vec<Defect> {
    let mut found: Vec<Defect> = Vec::new();
    let mut covered = Area::ZERO;
    while covered.square_ticks() < target && found.len() < MOST {
        let defect = draw();
        let area = defect.length * defect.width;
        covered += area;
        // The last one is left out where it would overshoot more than it fills.
        if covered.square_ticks() - target > area.square_ticks() / 2 {
            break;
        }
        found.push(defect);
    }
    found.sort_by_key(|defect| (defect.x, defect.y));
    found
}

/// Where a defect of a kind and size (along, across) lies on a board of `length` and `width`: checks and splits begin at an end,
/// wane and sap at an edge, anything else anywhere, at eighths of an inch as `on` writes them.
pub(crate) fn place(
    dice: &mut Dice,
    kind: DefectKind,
    (long, wide): (Length, Length),
    (length, width): (Length, Length),
    on: impl Fn(Length) -> Length,
) -> (Length, Length) {
    let free = |dice: &mut Dice, whole: Length, part: Length| {
        on(eighths(dice.roll(0, (whole - part).ticks() / eighths(1).ticks()))).min(whole - part)
    };
    let end = |dice: &mut Dice, whole: Length, part: Length| if dice.chance(50) { Length::ZERO } else { whole - part };
    let x = match kind {
        DefectKind::Check | DefectKind::Split => end(dice, length, long),
        _ => free(dice, length, long),
    };
    let y = match kind {
        DefectKind::Wane | DefectKind::Sap => end(dice, width, wide),
        _ => free(dice, width, wide),
    };
    (x, y)
}
