//! Sheets and sticks: trims, stages, thickness, grain, section.
//!
//! A stage is a change of cut direction that parts two kept pieces (blanks, credited offcuts). A node with one kept
//! child only trims, and a trim between two partings of one direction does not make them two stages: the same pieces
//! could be parted first and trimmed last.

use crate::job::PartGrain;
use crate::measure::{Length, Money};
use crate::pile::{Sheet, SheetGrain, Stick};
use crate::plan::{CutKind, Node, Role};

use super::walk::{Blank, Claim, Source, View, end_x, end_y};
use super::{Findings, Rule};

/// Sheet parts keep within 1/64 in of the sheet's thickness.
const THICKNESS_TOLERANCE: Length = Length::from_inch_fraction(1, 64);

/// Every piece from a sheet or a stick, every sheet.
pub(super) fn check(view: &View, found: &mut Findings) {
    for blank in &view.blanks {
        match view.source(blank) {
            Some(Source::Sheet(sheet)) => check_sheet_trim(view, blank, sheet, found),
            Some(Source::Stick(stick)) => check_stick_trim(view, blank, stick, found),
            _ => {}
        }
        if blank.node.turned && !matches!(view.source(blank), Some(Source::Sheet(_))) {
            found.add(Rule::Grain, &blank.place, "turned, and not from a sheet");
        }
    }
    for claim in &view.claims {
        match view.source(view.blank(claim)) {
            Some(Source::Sheet(sheet)) => check_sheet_piece(view, claim, sheet, found),
            Some(Source::Stick(stick)) => check_stick_piece(view, claim, stick, found),
            _ => {}
        }
    }
    check_stages(view, found);
}

fn check_sheet_trim(view: &View, blank: &Blank, sheet: &Sheet, found: &mut Findings) {
    let (node, trim) = (blank.node, view.job.shop.trim.sheet);
    let room = [node.x, node.y, sheet.length - end_x(node), sheet.width - end_y(node)];
    if let Some(least) = room.into_iter().min().filter(|least| *least < trim) {
        let detail = format!("{} from an edge, the trim is {}", found.len(least), found.len(trim));
        found.add(Rule::SheetTrim, &blank.place, detail);
    }
}

fn check_stick_trim(view: &View, blank: &Blank, stick: &Stick, found: &mut Findings) {
    let (node, trim) = (blank.node, view.job.shop.trim.stick);
    let least = node.x.min(stick.length - end_x(node));
    if least < trim {
        let detail = format!("{} from an end, the trim is {}", found.len(least), found.len(trim));
        found.add(Rule::StickTrim, &blank.place, detail);
    }
}

fn check_sheet_piece(view: &View, claim: &Claim, sheet: &Sheet, found: &mut Findings) {
    let (part, blank) = (view.part(claim), view.blank(claim));
    let off = if sheet.thickness > part.thickness {
        sheet.thickness - part.thickness
    } else {
        part.thickness - sheet.thickness
    };
    if off > THICKNESS_TOLERANCE {
        let detail = format!("{} thick where {} is asked", found.len(sheet.thickness), found.len(part.thickness));
        found.add(Rule::SheetThickness, &blank.place, detail);
    }
    let turned = match (part.grain, sheet.grain) {
        (PartGrain::Any, _) | (_, SheetGrain::None) => return,
        (PartGrain::Along, SheetGrain::Length) | (PartGrain::Across, SheetGrain::Width) => false,
        (PartGrain::Along, SheetGrain::Width) | (PartGrain::Across, SheetGrain::Length) => true,
    };
    if blank.node.turned != turned {
        let must = if turned { "must be turned" } else { "must not be turned" };
        let detail = format!("{must}: its length lies {:?} the face grain", part.grain).to_lowercase();
        found.add(Rule::Grain, &blank.place, detail);
    }
}

fn check_stick_piece(view: &View, claim: &Claim, stick: &Stick, found: &mut Findings) {
    let part = view.part(claim);
    if (stick.thickness, stick.width) != (part.thickness, part.width) {
        let detail = format!(
            "the stick is {} x {}, the part {} x {}",
            found.len(stick.thickness),
            found.len(stick.width),
            found.len(part.thickness),
            found.len(part.width)
        );
        found.add(Rule::StickSection, &view.blank(claim).place, detail);
    }
}

fn check_stages(view: &View, found: &mut Findings) {
    let allowed = view.job.shop.machine.sheet_stages;
    for piece in &view.stock {
        let stages = stages(&piece.entry.tree, None);
        if matches!(piece.source, Some(Source::Sheet(_))) && allowed > 0 && stages > allowed {
            found.add(Rule::SheetStages, &piece.place, format!("{stages} stages, the shop allows {allowed}"));
        }
    }
}

/// Stages of the deepest way down, `last` being the direction of the parting above.
fn stages(node: &Node<Length>, last: Option<CutKind>) -> u32 {
    let parts = node.children.iter().filter(|child| holds_kept(child)).count() >= 2;
    let here = u32::from(parts && node.cut != last);
    let last = if parts { node.cut } else { last };
    here + node.children.iter().map(|child| stages(child, last)).max().unwrap_or(0)
}

fn holds_kept(node: &Node<Length>) -> bool {
    match node.role {
        Some(Role::Blank) => true,
        Some(Role::Offcut) => node.credit.as_ref().is_some_and(|credit| *credit > Money::zero()),
        _ => node.children.iter().any(holds_kept),
    }
}
