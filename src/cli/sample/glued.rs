//! Parts of a sample as they are asked for when the optimiser chooses what they are glued up from.
//!
//! A set of staves becomes one panel, or several of at most [`WIDEST`], of the width they have together; legs become
//! laminations, the layers of each leg from one board; drawer fronts that are few enough run end to end in one strip. Draws
//! nothing: the sample of a seed is the same but for this.

use crate::job::{Lamination, Match, MatchRule, MatchScope, Panel, Part};
use crate::measure::{Length, Units};

use super::on_grid;

/// Widest panel.
const WIDEST: Length = Length::from_inches(24);
/// Staves of panels (common practice: 2 to 6 in).
const STAVES: [Length; 2] = [Length::from_inches(2), Length::from_inches(6)];
/// Drawer fronts are cut in one run up to this length.
const LONGEST_RUN: Length = Length::from_inches(72);
/// What the staves of a panel lose when it is trimmed.
const TRIM: Length = Length::from_inch_fraction(1, 4);

/// Makes a panel of a set of staves, a lamination of a leg, a run of drawer fronts; other parts stay.
pub fn glue_up(part: &mut Part, units: Units) {
    let kept = |rule, scope| Some(Match { group: part.id.clone(), rule, scope, worth: None });
    if part.id.starts_with("leg-") {
        part.matching = kept(MatchRule::Board, MatchScope::Copy);
        part.lamination = Some(Lamination { layers: None });
    }
    if part.id.starts_with("drawer-front-") && part.qty > 1 && part.length * i64::from(part.qty) <= LONGEST_RUN {
        part.matching = kept(MatchRule::Run, MatchScope::Group);
    }
    if !part.id.contains("-stave-") {
        return;
    }
    let together = part.width * i64::from(part.qty);
    let copies = (together.ticks() + WIDEST.ticks() - 1) / WIDEST.ticks();
    let step = Length::from_inch_fraction(1, 8);
    let each = Length::from_ticks(together.ticks() / copies) - TRIM;
    part.width = on_grid(each.max(STAVES[0]).round_up_to(step), units);
    part.qty = u32::try_from(copies).unwrap_or(u32::MAX);
    part.id = part.id.replace("-stave", "");
    let [stave_min, stave_max] = STAVES.map(|width| on_grid(width, units));
    part.panel = Some(Panel { stave_min, stave_max, equal: false, max_boards: None });
}
