//! Defects against the faces a part asks for.
//!
//! A defect counts where, grown by the margins, its inside meets the net rectangle. Plain parts, staves and single
//! layers are judged here; the layers of a lamination through `glue`, by the same `look`. A leaf of a resawn blank shows
//! a face of the board only outside; its new faces show through defects alone.

use crate::job::Faces;
use crate::measure::Length;
use crate::pile::{Board, DefectFace, Face};
use crate::plan::Rectangle;

use super::walk::{Claim, View};
use super::{Findings, Rule};

/// How clear one face is over a net rectangle, from worst to best.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Look {
    Unsound,
    Sound,
    Clear,
}

/// How clear both faces of a piece are, and why.
#[derive(Clone, Debug)]
pub(super) struct Looks {
    pub top: Look,
    pub bottom: Look,
    /// The defects that meet the net rectangle, in words.
    pub why: String,
}

impl Looks {
    pub fn worst(&self) -> Look {
        self.top.min(self.bottom)
    }

    pub fn best(&self) -> Look {
        self.top.max(self.bottom)
    }

    pub fn on(&self, face: Face) -> Look {
        match face {
            Face::Top => self.top,
            Face::Bottom => self.bottom,
        }
    }
}

/// Every piece from a board but the layers of laminations.
pub(super) fn check(view: &View, found: &mut Findings) {
    for claim in &view.claims {
        if view.layers(claim.part) > 1 {
            continue;
        }
        let Some(looks) = look(view, claim, found) else { continue };
        let lawful = match view.part(claim).faces {
            Faces::C2f => looks.worst() == Look::Clear,
            Faces::C1f => looks.best() == Look::Clear && looks.worst() >= Look::Sound,
            Faces::Sound => looks.worst() >= Look::Sound,
            Faces::Any => true,
        };
        if !lawful {
            let asked = format!("{:?}", view.part(claim).faces).to_lowercase();
            found.add(Rule::Defects, &view.blank(claim).place, format!("{asked} asked; {}", looks.why));
        }
    }
}

/// How clear a piece from a board is; `None` for sheets, sticks and blanks without net rectangle.
pub(super) fn look(view: &View, claim: &Claim, found: &Findings) -> Option<Looks> {
    let blank = view.blank(claim);
    let board = view.board(blank)?;
    let net = blank.node.net.as_ref()?;
    let (shows_top, shows_bottom) = match claim.leaf {
        None => (true, true),
        Some((nth, of)) => (nth == 0, nth + 1 == of),
    };
    Some(look_at(view, board, net, shows_top, shows_bottom, found))
}

fn look_at(
    view: &View,
    board: &Board,
    net: &Rectangle<Length>,
    shows_top: bool,
    shows_bottom: bool,
    found: &Findings,
) -> Looks {
    let margins = &view.job.shop.defect;
    let (along, across) = (margins.margin_length, margins.margin_width);
    let mut looks = Looks { top: Look::Clear, bottom: Look::Clear, why: String::new() };
    for defect in &board.defects {
        let meets = defect.x - along < net.x + net.length
            && net.x < defect.x + defect.length + along
            && defect.y - across < net.y + net.width
            && net.y < defect.y + defect.width + across;
        if !meets {
            continue;
        }
        let look = if defect.sound { Look::Sound } else { Look::Unsound };
        let through = defect.face == DefectFace::Through;
        if through || defect.face == DefectFace::Top && shows_top {
            looks.top = looks.top.min(look);
        }
        if through || defect.face == DefectFace::Bottom && shows_bottom {
            looks.bottom = looks.bottom.min(look);
        }
        let name = format!(
            "{} {:?} ({:?}) at {}, {}",
            if defect.sound { "sound" } else { "unsound" },
            defect.kind,
            defect.face,
            found.len(defect.x),
            found.len(defect.y)
        );
        let gap = if looks.why.is_empty() { "" } else { ", " };
        looks.why.push_str(&format!("{gap}{}", name.to_lowercase()));
    }
    looks
}
