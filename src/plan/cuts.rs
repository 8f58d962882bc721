//! Every saw cut of a plan, numbered in the order of the shop.
//!
//! Rough crosscuts first (`rough`), then rips and final crosscuts by setting (`settings`), then blanks narrower than
//! their strip ripped to width, then sheets (`sheet`) one by one, and sticks by setting. A trim is a cut only where there is wood to take
//! off: no cut is made at a sawn edge that a neighbour's cut already left, nor at the reference edge, which is jointed.
//! The tree alone decides where the saw goes; nothing here moves a cut.

mod rough;
mod settings;
mod sheet;

use super::case::{Case, Use};
use super::scarcity::Scarcity;
use super::tree::Grown;
use super::{Cut, CutKind, Length, Node, RoughRow, SettingRow, Station};

/// The cuts and the lists that refer to them.
pub(super) struct CutList {
    pub cuts: Vec<Cut<Length>>,
    pub rough: Vec<RoughRow<Length>>,
    pub rips: Vec<SettingRow<Length>>,
    pub crosscuts: Vec<SettingRow<Length>>,
    pub sticks: Vec<SettingRow<Length>>,
}

/// Puts every cut of `grown` (parallel to `uses`) in shop order.
pub(super) fn list(case: &Case, uses: &[Use], grown: &[Grown], scarcity: &Scarcity) -> CutList {
    let bench = Bench { case, uses, grown };
    let mut cuts = Vec::new();
    let rough = rough::crosscuts(&bench, scarcity, &mut cuts);
    let mut rips = settings::rips(&bench, &mut cuts);
    let crosscuts = settings::crosscuts(&bench, &mut cuts);
    rips.extend(settings::rips_to_width(&bench, &mut cuts));
    sheet::cuts(&bench, &mut cuts);
    let sticks = settings::sticks(&bench, &mut cuts);
    CutList { cuts, rough, rips, crosscuts, sticks }
}

/// What every part of the cut list looks at.
struct Bench<'a> {
    case: &'a Case<'a>,
    uses: &'a [Use<'a>],
    grown: &'a [Grown],
}

impl Bench<'_> {
    fn show(&self, length: Length) -> String {
        length.show(self.case.job.units, self.case.job.shop.print.fine)
    }

    /// Numbers a cut and adds it; its number.
    fn add(&self, cuts: &mut Vec<Cut<Length>>, cut: Planned) -> u32 {
        let number = cuts.len() as u32 + 1;
        let used = &self.uses[cut.used];
        cuts.push(Cut {
            number,
            stock: self.case.piece(used.source).id.to_owned(),
            stock_copy: used.copy,
            station: cut.station,
            cut: cut.cut,
            at: cut.saw.at,
            to: cut.saw.to,
            from_edge: cut.edges.0,
            to_edge: cut.edges.1,
            setting: cut.setting,
            what: cut.what,
        });
        number
    }
}

/// A cut before it has a number.
struct Planned {
    /// Index of its stock among the uses.
    used: usize,
    station: Station,
    cut: CutKind,
    saw: Saw,
    edges: (Length, Length),
    setting: Option<Length>,
    what: String,
}

/// The two sides of a kerf.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Saw {
    at: Length,
    to: Length,
}

/// The saw lines that free one piece of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Freed {
    /// Where the piece in hand begins before it is freed: a sawn or jointed edge.
    bears_on: Length,
    /// Takes waste off before the piece; none when it begins at that edge.
    before: Option<Saw>,
    /// Parts it from what follows; none when it reaches the end of the piece in hand.
    after: Option<Saw>,
}

/// The saw lines that free the ascending `spans` from a piece in hand that reaches from `start` to `end`.
///
/// One line serves two neighbours that are a kerf apart; where less than a kerf is left beyond a line, it takes that.
fn part(spans: impl Iterator<Item = (Length, Length)>, start: Length, end: Length, kerf: Length) -> Vec<Freed> {
    let mut edge = start;
    spans
        .map(|(from, to)| {
            let bears_on = edge;
            let before = (from > edge).then(|| Saw { at: (from - kerf).max(edge), to: from });
            let after = (to < end).then(|| Saw { at: to, to: (to + kerf).min(end) });
            edge = after.map_or(end, |saw| saw.to);
            Freed { bears_on, before, after }
        })
        .collect()
}

/// The extent of a node in the coordinate that a cut of `kind` parts.
fn extent(node: &Node<Length>, kind: CutKind) -> (Length, Length) {
    match kind {
        CutKind::Cross => (node.x, node.right()),
        CutKind::Rip => (node.y, node.far()),
    }
}

/// The extent of a node along a saw line of `kind`.
fn along(node: &Node<Length>, kind: CutKind) -> (Length, Length) {
    match kind {
        CutKind::Cross => (node.y, node.far()),
        CutKind::Rip => (node.x, node.right()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn saws(spans: &[(i64, i64)], start: i64, end: i64, kerf: i64) -> Vec<i64> {
        let length = Length::from_ticks;
        let spans = spans.iter().map(|&(a, b)| (length(a), length(b)));
        let freed = part(spans, length(start), length(end), length(kerf));
        let both = freed.iter().flat_map(|f| [f.before, f.after]).flatten();
        both.flat_map(|s| [s.at.ticks(), s.to.ticks()]).collect()
    }

    #[test]
    fn neighbours_a_kerf_apart_share_one_saw_line() {
        assert_eq!(saws(&[(0, 10), (12, 20)], 0, 30, 2), [10, 12, 20, 22]);
    }

    #[test]
    fn waste_between_pieces_is_sawn_on_both_sides() {
        assert_eq!(saws(&[(5, 10), (20, 30)], 0, 30, 2), [3, 5, 10, 12, 18, 20]);
    }

    #[test]
    fn a_trim_thinner_than_the_kerf_is_taken_whole() {
        assert_eq!(saws(&[(1, 10), (13, 29)], 0, 30, 2), [0, 1, 10, 12, 12, 13, 29, 30]);
    }
}
