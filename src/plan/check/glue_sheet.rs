//! The figures of a glue-up: sizes before and after trimming, joints, glue area, clamps, which way it moves.
//!
//! Readings of the model where it leaves room: a panel is as wide as its nets together, a lamination as its blank; clamps
//! stand at both ends of a row and no more than the shop's spacing apart, and the rows of a lamination share its width in
//! the same way. How far wood moves and what it weighs are figures of the trade and not judged here; that shrinking comes
//! with dryness is. Areas are floats of a file and compared with a tolerance.

use crate::job::Part;
use crate::measure::Length;
use crate::pile::Rings;
use crate::plan::{GlueKind, GlueSheet, Size};

use super::walk::{Claim, View};
use super::{Findings, Rule};

/// An area is written to hundredths of a square unit.
const AREA_GRAIN: f64 = 0.0051;

/// The sheet of one glued copy, and what it is judged by.
pub(super) struct Judged<'a> {
    pub view: &'a View<'a>,
    pub part: &'a Part,
    pub kind: GlueKind,
    pub claims: &'a [&'a Claim],
    pub sheet: &'a GlueSheet<Length>,
    pub place: &'a str,
}

/// Judges the sheet of one glued copy.
pub(super) fn check(judged: &Judged, found: &mut Findings) {
    check_sizes(judged, found);
    check_joints(judged, found);
    check_movement(judged, found);
}

fn check_sizes(judged: &Judged, found: &mut Findings) {
    let Judged { view, part, kind, claims, sheet, place } = *judged;
    let allowance = &view.job.shop.allowance;
    let trimmed = Size { length: part.full_length(), width: part.width, thickness: part.thickness };
    let nets: Length = claims.iter().filter_map(|claim| view.blank(claim).node.net).map(|net| net.width).sum();
    let (glued, excess) = match kind {
        GlueKind::Panel => (
            Size {
                length: trimmed.length + allowance.panel_length,
                width: nets,
                thickness: part.thickness + allowance.panel_face,
            },
            nets - part.width - allowance.panel_width,
        ),
        GlueKind::Lamination => (
            Size {
                length: trimmed.length + allowance.length + allowance.layer_length,
                width: part.width + allowance.width + allowance.layer_width,
                thickness: claims.iter().map(|claim| view.needed_thickness(claim)).sum(),
            },
            Length::ZERO,
        ),
    };
    for (what, stated, right) in [("as glued", sheet.glued, glued), ("trimmed", sheet.trimmed, trimmed)] {
        if stated != right {
            let show =
                |size: Size<Length>| [size.length, size.width, size.thickness].map(|side| found.len(side)).join(" x ");
            let detail = format!("{what} {} where it is {}", show(stated), show(right));
            found.add(Rule::GlueSize, place, detail);
        }
    }
    let widths = [("to trim", sheet.to_trim, glued.width - trimmed.width), ("excess", sheet.excess, excess)];
    for (what, stated, right) in widths {
        if stated != right {
            found.add(Rule::GlueSize, place, format!("{what}: {} where it is {}", found.len(stated), found.len(right)));
        }
    }
}

fn check_joints(judged: &Judged, found: &mut Findings) {
    let Judged { view, kind, claims, sheet, place, .. } = *judged;
    let joints = claims.len().saturating_sub(1);
    let side = |length: Length| length.to_f64(view.job.units);
    let across = if kind == GlueKind::Panel { sheet.glued.thickness } else { sheet.glued.width };
    let area = joints as f64 * side(sheet.glued.length) * side(across);
    let near = (sheet.glue_area - area).abs() <= AREA_GRAIN;
    if sheet.joints as usize != joints || !near {
        let detail = format!("{} joints of {} where it is {joints} of {area:.2}", sheet.joints, sheet.glue_area);
        found.add(Rule::GlueJoints, place, detail);
    }
    let spacing = view.job.shop.glue.clamp_spacing.ticks().max(1);
    let gaps = |length: Length| ((length.ticks() + spacing - 1) / spacing).max(1);
    let right = match (joints, kind) {
        (0, _) => (0, 0),
        (_, GlueKind::Panel) => (gaps(sheet.glued.length) + 1, 1),
        (_, GlueKind::Lamination) => (gaps(sheet.glued.length) + 1, gaps(sheet.glued.width)),
    };
    let stated = (i64::from(sheet.clamps_in_row), i64::from(sheet.clamp_rows));
    if stated != right {
        let detail = format!("{} x {} clamps where {} x {} are needed", stated.1, stated.0, right.1, right.0);
        found.add(Rule::GlueJoints, place, detail);
    }
}

fn check_movement(judged: &Judged, found: &mut Findings) {
    let Judged { view, claims, sheet, place, .. } = *judged;
    let Some(movement) = &sheet.movement else { return };
    let rings = |claim: &&&Claim| view.board(view.blank(claim)).and_then(|board| board.rings);
    let quartersawn = claims.iter().all(|claim| rings(&claim) == Some(Rings::Quarter));
    let said = |quarter: bool| if quarter { "quartersawn" } else { "flat" };
    if movement.quartersawn != quartersawn {
        let detail = format!("taken as {} where its boards are {}", said(movement.quartersawn), said(quartersawn));
        found.add(Rule::GlueMovement, place, detail);
    }
    let built = view.job.shop.climate.build_moisture;
    // Both figures come from the same text of the same job, unrounded.
    if movement.built != built {
        found.add(Rule::GlueMovement, place, format!("built at {} % where the shop says {built} %", movement.built));
    }
    if movement.dry_change > movement.damp_change {
        found.add(Rule::GlueMovement, place, "wider when dry than when damp");
    }
}
