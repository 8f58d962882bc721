//! The sheet of one glue-up: sizes before and after trimming, glue, clamps, movement, weight, and what to do in order.
//!
//! Figures for people at the bench; what was cut is decided elsewhere. A clamp stands near each end and no more than the
//! shop's spacing lies between two; wide laminations have rows of them (common practice). Movement is from the moisture the
//! shop builds at to what the wood settles at in the driest and the dampest season of the house, at [`INDOORS`].

use super::case::Case;
use super::{GlueKind, GlueSheet, Length, Movement, Size, weights};
use crate::job::{Part, Wanted};
use crate::measure::Units;
use crate::pile::{Board, Rings};
use crate::trade::movement::{self, Cut};
use crate::trade::species;

/// Degrees Fahrenheit of a heated room.
const INDOORS: f64 = 70.0;

/// A member of a glue-up, as far as its sheet goes.
pub(super) struct Glued<'a> {
    /// Net width.
    pub width: Length,
    /// Planed thickness.
    pub thickness: Length,
    pub board: Option<&'a Board>,
}

/// The sheet of one copy of a part, its members in the order they are glued up.
pub(super) fn sheet(case: &Case, part: &Part, kind: GlueKind, members: &[Glued]) -> GlueSheet<Length> {
    let shop = &case.job.shop;
    let trimmed = Size { length: part.full_length(), width: part.width, thickness: part.thickness };
    let sum: Length = members.iter().map(|member| member.width).sum();
    let (glued, excess) = match kind {
        GlueKind::Panel => {
            let thickness = part.thickness + shop.allowance.panel_face;
            let glued = Size { length: trimmed.length + shop.allowance.panel_length, width: sum, thickness };
            (glued, sum - part.width - shop.allowance.panel_width)
        }
        GlueKind::Lamination => {
            let length = trimmed.length + shop.allowance.length + shop.allowance.layer_length;
            let width = part.width + shop.allowance.width + shop.allowance.layer_width;
            let thickness = members.iter().map(|member| member.thickness).sum();
            (Size { length, width, thickness }, Length::ZERO)
        }
    };
    let joints = members.len().saturating_sub(1) as u32;
    let across = if kind == GlueKind::Panel { glued.thickness } else { glued.width };
    let square = |side: Length| side.to_f64(case.job.units);
    let glue_area = f64::from(joints) * square(glued.length) * square(across);
    let spacing = shop.glue.clamp_spacing;
    let (clamps_in_row, clamp_rows) = match (joints, kind) {
        (0, _) => (0, 0),
        (_, GlueKind::Panel) => (spans(glued.length, spacing) + 1, 1),
        (_, GlueKind::Lamination) => (spans(glued.length, spacing) + 1, spans(glued.width, spacing)),
    };
    let mut sheet = GlueSheet {
        glued,
        trimmed,
        to_trim: glued.width - trimmed.width,
        excess,
        joints,
        glue_area: (glue_area * 100.0).round() / 100.0,
        clamps_in_row,
        clamp_rows,
        movement: moves(case, part, members),
        pounds: weights::part_pounds(case, part).map(|pounds| (pounds * 100.0).round() / 100.0),
        steps: Vec::new(),
    };
    sheet.steps = steps(case, kind, &sheet, members);
    sheet
}

/// The least number of spans no longer than `spacing` that make up a length; one at least.
fn spans(length: Length, spacing: Length) -> u32 {
    let (length, spacing) = (length.ticks(), spacing.ticks().max(1));
    u32::try_from(((length + spacing - 1) / spacing).max(1)).unwrap_or(u32::MAX)
}

/// How the finished width moves; `None` for a wood whose figures are not known.
fn moves(case: &Case, part: &Part, members: &[Glued]) -> Option<Movement<Length>> {
    let Wanted::Species(wood) = &part.stock else { return None };
    let species = species::find(wood)?;
    let climate = &case.job.shop.climate;
    let quartersawn = members.iter().all(|m| m.board.is_some_and(|board| board.rings == Some(Rings::Quarter)));
    let cut = if quartersawn { Cut::Quarter } else { Cut::Flat };
    let settles = |humidity: f64| movement::equilibrium_moisture(INDOORS, humidity);
    let (dry, damp) = (settles(climate.rh_low)?, settles(climate.rh_high)?);
    let change = |to: f64| movement::change(part.width, species, cut, climate.build_moisture, to);
    let tenths = |percent: f64| (percent * 10.0).round() / 10.0;
    Some(Movement {
        quartersawn,
        built: climate.build_moisture,
        dry: tenths(dry),
        damp: tenths(damp),
        dry_change: change(dry)?,
        damp_change: change(damp)?,
    })
}

fn steps(case: &Case, kind: GlueKind, sheet: &GlueSheet<Length>, members: &[Glued]) -> Vec<String> {
    let shop = &case.job.shop;
    let show = |length: Length| length.show(case.job.units, shop.print.fine);
    let mut steps = Vec::new();
    let several = members.len() > 1;
    if several {
        let (pieces, way) = match kind {
            GlueKind::Panel => ("staves", "laid side by side in their order, edges jointed today"),
            GlueKind::Lamination => ("layers", "stacked in their order, faces planed today"),
        };
        steps.push(format!(
            "The {} {pieces} {way}: draw one large triangle across them all, so that the order can be found again.",
            members.len()
        ));
        steps.push(format!(
            "Dry-fit with {} before the glue is opened.",
            clamps(kind, sheet, &show(shop.glue.clamp_spacing))
        ));
    }
    let planer = shop.machine.planer_width;
    if kind == GlueKind::Panel && sheet.glued.width > planer {
        steps.push(too_wide(&groups(members, planer), &show(planer), &show(sheet.glued.thickness), &show));
    }
    if sheet.glued.length < shop.machine.min_length {
        steps.push(format!(
            "At {} it is too short for jointer and planer by itself: where its strips allow, glue it long, plane, \
             crosscut; else flatten it with a hand plane.",
            show(sheet.glued.length)
        ));
    }
    steps.push(format!(
        "Out of the clamps it is {} x {} x {}; plane it to {}, then trim it to {} x {}.",
        show(sheet.glued.length),
        show(sheet.glued.width),
        show(sheet.glued.thickness),
        show(sheet.trimmed.thickness),
        show(sheet.trimmed.length),
        show(sheet.trimmed.width)
    ));
    steps
}

fn clamps(kind: GlueKind, sheet: &GlueSheet<Length>, spacing: &str) -> String {
    let count = sheet.clamps_in_row * sheet.clamp_rows;
    match (kind, sheet.clamp_rows) {
        (GlueKind::Panel, _) => format!("all {count} clamps, {spacing} apart at most, over and under in turn"),
        (GlueKind::Lamination, 1) => format!("all {count} clamps in a row, {spacing} apart at most"),
        (GlueKind::Lamination, rows) => format!("all {count} clamps in {rows} rows, {spacing} apart at most"),
    }
}

/// Neighbouring members in as few groups no wider than `most` as can be, about equally wide; as numbers from 1 and the
/// width of each group.
fn groups(members: &[Glued], most: Length) -> Vec<(usize, usize, Length)> {
    let total: Length = members.iter().map(|member| member.width).sum();
    let fair = Length::from_ticks(total.ticks() / i64::from(spans(total, most)));
    let mut groups: Vec<(usize, usize, Length)> = Vec::new();
    for (number, member) in (1..).zip(members) {
        match groups.last_mut() {
            Some((_, last, width)) if *width < fair && *width + member.width <= most => {
                (*last, *width) = (number, *width + member.width);
            }
            _ => groups.push((number, number, member.width)),
        }
    }
    groups
}

fn too_wide(
    groups: &[(usize, usize, Length)],
    planer: &str,
    thickness: &str,
    show: &dyn Fn(Length) -> String,
) -> String {
    let each: Vec<String> = groups
        .iter()
        .map(|&(first, last, width)| {
            let staves = if first == last { format!("stave {first}") } else { format!("staves {first}-{last}") };
            format!("{staves} ({})", show(width))
        })
        .collect();
    format!(
        "Wider than the planer takes: glue {} apart, each under {planer}, plane them to one thickness of {thickness} or less, \
         then join them.",
        super::say::list(&each)
    )
}

/// A change of width in words: `shrinks 3/32"`, `grows 1/8"`.
pub(super) fn change_words(change: Length, units: Units, step: Length) -> String {
    let size = if change.is_negative() { Length::ZERO - change } else { change };
    let word = if change.is_negative() { "shrinks" } else { "grows" };
    format!("{word} {}", size.show(units, step))
}
