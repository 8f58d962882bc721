//! The summary of a plan that a maker reads first, in plain text.
//!
//! What it costs and how far from the best that can be, how much of the stock ends up in parts, what is short and what to
//! buy, what to pull from the pile, then the work lists. Everything shown stands in the plan; only the yield is worked
//! out here. Lines are ended by a line feed; nothing depends on a terminal.

use std::fmt::Write;

use super::tree::nodes_of;
use super::{
    Cut, GlueKind, GlueSheet, Length, Member, Money, Node, OffcutRow, Role, SettingRow, ShopPlan, Station, Status,
    StockKind, StockUse, Stop, glue, say,
};
use crate::job::Shop;
use crate::measure::{Area, Rational, Rounding, Units};
use crate::pile::Face;
use crate::trade::tally::volume_board_feet;
use crate::trade::weight::KILOGRAMS_PER_POUND;

use num_traits::{ToPrimitive, Zero};

/// The summary. `shop` says how finely lengths are printed.
pub fn summary(plan: &ShopPlan, shop: &Shop) -> String {
    let page = Page { plan, shop };
    join(vec![page.head(), page.shortages(), work_lists(plan, shop)])
}

/// The work lists alone: what to pull and to keep, the cuts by machine, glue-ups, what to mind.
pub(super) fn work_lists(plan: &ShopPlan, shop: &Shop) -> String {
    let page = Page { plan, shop };
    join(vec![
        page.pull(),
        page.offcuts(),
        page.rough(),
        page.planer(),
        page.settings("Rips, by fence setting", Station::Rip),
        page.settings("Final crosscuts, by stop setting", Station::FinalCrosscut),
        page.sheets(),
        page.settings("Stick cuts, by stop setting", Station::Stick),
        page.glueups(),
        page.cautions(),
    ])
}

/// A line for each kind of stock that is cut: how much of it ends up in parts, how much is kept.
pub(super) fn yields(plan: &ShopPlan, shop: &Shop) -> Vec<String> {
    let page = Page { plan, shop };
    [StockKind::Board, StockKind::Sheet, StockKind::Stick]
        .into_iter()
        .filter_map(|kind| page.yield_words(kind))
        .collect()
}

/// Sections with a blank line between them; empty ones are left out.
pub(super) fn join(sections: Vec<String>) -> String {
    let written: Vec<String> = sections.into_iter().filter(|section| !section.is_empty()).collect();
    written.join("\n")
}

struct Page<'a> {
    plan: &'a ShopPlan,
    shop: &'a Shop,
}

/// Adds a line; writing to a string cannot fail.
macro_rules! line {
    ($text:expr, $($arg:tt)*) => {
        writeln!($text, $($arg)*).expect("a string takes any text")
    };
}

impl Page<'_> {
    fn fine(&self, length: Length) -> String {
        length.show(self.plan.units, self.shop.print.fine)
    }

    /// A rough cut is printed on the safe side: its left end no further right, its right end no further left.
    fn rough_mark(&self, length: Length, rounding: Rounding) -> String {
        length.show_rounded(self.plan.units, self.shop.print.rough, rounding)
    }

    fn head(&self) -> String {
        let plan = self.plan;
        let mut text = String::new();
        let made = match plan.status {
            Status::Complete => format!("all {} pieces are made", plan.pieces_required),
            Status::Short => format!("{} of {} pieces are made", plan.pieces_placed, plan.pieces_required),
        };
        let title = if plan.title.is_empty() { "Plan" } else { &plan.title };
        line!(text, "{title}: {made} from {}.", self.stock_words());
        let credit: Money = plan.stock.iter().map(|piece| piece.credit.clone()).sum();
        let stock: Money = plan.stock.iter().map(|piece| piece.cost.clone()).sum();
        line!(text, "Cost {}: stock {stock}, less {credit} for offcuts kept{}.", plan.cost, self.broken_words());
        line!(text, "{}", self.bound_words());
        for words in yields(plan, self.shop) {
            line!(text, "{words}");
        }
        text
    }

    fn broken_words(&self) -> String {
        if self.plan.broken == Money::zero() {
            String::new()
        } else {
            format!(", and {} for matches broken", self.plan.broken)
        }
    }

    fn stock_words(&self) -> String {
        let words = [(StockKind::Board, "board"), (StockKind::Sheet, "sheet"), (StockKind::Stick, "stick")];
        let counts: Vec<String> = words
            .into_iter()
            .filter_map(|(kind, word)| {
                let count = self.plan.stock.iter().filter(|piece| piece.kind == kind).count();
                (count > 0).then(|| format!("{count} {word}{}", if count == 1 { "" } else { "s" }))
            })
            .collect();
        if counts.is_empty() { "no stock".to_owned() } else { say::list(&counts) }
    }

    fn bound_words(&self) -> String {
        let plan = self.plan;
        let scope = match plan.status {
            Status::Complete => "no plan from this pile",
            Status::Short => "no plan that makes as much from this pile",
        };
        let stop = match plan.stop {
            Stop::Proven => "The search ended with the proof.",
            Stop::Gap => "The search ended at the gap asked for.",
            Stop::Time => "The search ended when its time was up.",
            Stop::Work => "The search ended at its work limit.",
            Stop::Cancelled => "The search was cancelled.",
        };
        let gap = plan.gap * 100.0;
        let near = if plan.proven { "Proven".to_owned() } else { format!("Within {gap:.1} % of the best") };
        format!("{near}: {scope} costs less than {}. {stop}", plan.bound)
    }

    /// What becomes of the stock of one kind: net area of its pieces, and of what is kept, over its whole area.
    fn yield_words(&self, kind: StockKind) -> Option<String> {
        let (mut net, mut whole) = (Area::ZERO, Area::ZERO);
        for piece in self.plan.stock.iter().filter(|piece| piece.kind == kind) {
            whole += piece.tree.length * piece.tree.width;
            net += nodes_of(&piece.tree, Role::Blank).into_iter().map(net_area).sum();
        }
        if whole == Area::ZERO {
            return None;
        }
        let is_kind = |row: &&OffcutRow<Length>| {
            let of_row = |piece: &&StockUse<Length>| piece.id == row.stock && piece.copy == row.stock_copy;
            self.plan.stock.iter().find(of_row).is_some_and(|piece| piece.kind == kind)
        };
        let kept: Area = self.plan.offcuts.iter().filter(is_kind).map(|row| row.length * row.width).sum();
        let percent = |area: Area| (area.share_of(whole) * Rational::from_integer(100.into())).to_f64();
        let name = match kind {
            StockKind::Board => format!("boards ({:.1} board feet as measured)", self.board_feet().to_f64()?),
            StockKind::Sheet => "sheets".to_owned(),
            StockKind::Stick => "sticks".to_owned(),
        };
        Some(format!(
            "Yield of the {name}: {:.0} % of their face in finished parts, {:.0} % in offcuts worth keeping.",
            percent(net)?,
            percent(kept)?
        ))
    }

    fn board_feet(&self) -> Rational {
        let boards = self.plan.work.pull.iter().filter(|row| row.kind == StockKind::Board);
        let feet = boards.map(|row| {
            volume_board_feet(row.width, row.length, &row.thickness.to_rational(crate::measure::Units::Inches))
        });
        feet.fold(Rational::zero(), |sum, feet| sum + feet)
    }

    fn shortages(&self) -> String {
        let mut text = String::new();
        if self.plan.shortages.is_empty() {
            return text;
        }
        line!(text, "Short");
        for short in &self.plan.shortages {
            let proven = if short.proven { "no plan can make them" } else { "not proven that no plan can" };
            line!(text, "  {} {}: {} ({proven}). To buy: {}", short.missing, short.part, short.why, short.buy);
        }
        text
    }

    fn pull(&self) -> String {
        let mut text = String::new();
        if self.plan.work.pull.is_empty() {
            return text;
        }
        line!(text, "Pull from the pile");
        for row in &self.plan.work.pull {
            let size = [row.thickness, row.width, row.length].map(|side| self.fine(side)).join(" x ");
            line!(text, "  {}  {}, {size}: {}", say::stock(&row.stock, row.stock_copy), row.wood, row.makes);
            for remark in &row.remarks {
                line!(text, "      {remark}");
            }
        }
        text
    }

    fn offcuts(&self) -> String {
        let mut text = String::new();
        if self.plan.offcuts.is_empty() {
            return text;
        }
        line!(text, "Keep");
        for row in &self.plan.offcuts {
            let credit = if row.credit == Money::zero() { String::new() } else { format!(", credited {}", row.credit) };
            let size = format!("{} x {}", self.fine(row.length), self.fine(row.width));
            let at = format!("{} from the left end", self.fine(row.x));
            line!(text, "  {}  {size}, {at}{credit}", say::stock(&row.stock, row.stock_copy));
        }
        text
    }

    fn rough(&self) -> String {
        let mut text = String::new();
        if self.plan.work.rough.is_empty() {
            return text;
        }
        line!(text, "Rough crosscuts, measured from the left end");
        for row in &self.plan.work.rough {
            let (from, to) = (self.rough_mark(row.from, Rounding::Down), self.rough_mark(row.to, Rounding::Up));
            let stock = say::stock(&row.stock, row.stock_copy);
            line!(text, "  {stock}  {from} to {to}: {} ({})", row.makes, cuts(&row.cuts));
        }
        text
    }

    fn planer(&self) -> String {
        let mut text = String::new();
        if self.plan.work.planer.is_empty() {
            return text;
        }
        line!(text, "Plane together");
        for batch in &self.plan.work.planer {
            let parts = say::list(&batch.parts);
            let blanks = if batch.blanks == 1 { "blank" } else { "blanks" };
            line!(text, "  {} {}: {} {blanks} for {parts}", self.fine(batch.thickness), batch.wood, batch.blanks);
        }
        text
    }

    /// Rips, final crosscuts or cuts of sticks, one line a setting; their trims are in the list of cuts.
    fn settings(&self, heading: &str, station: Station) -> String {
        let rows = match station {
            Station::Rip => &self.plan.work.rips,
            Station::Stick => &self.plan.work.sticks,
            _ => &self.plan.work.crosscuts,
        };
        let mut text = String::new();
        if rows.is_empty() {
            return text;
        }
        line!(text, "{heading}");
        let crosscut = self.plan.cuts.iter().find(|cut| cut.station == Station::FinalCrosscut);
        let is_last = |row: &&SettingRow<Length>| {
            station == Station::Rip && crosscut.is_some_and(|cut| row.cuts.iter().all(|&number| number > cut.number))
        };
        let to_width = rows.iter().find(is_last);
        for row in rows {
            if to_width.is_some_and(|first| std::ptr::eq(first, row)) {
                line!(text, "  after the final crosscuts, to width:");
            }
            line!(text, "  {}: {} ({})", self.fine(row.setting), row.makes, cuts(&row.cuts));
        }
        let trims = self.trims(station);
        if !trims.is_empty() {
            line!(text, "  no setting (trims, each before the cut it prepares): {}", cuts(&trims));
        }
        text
    }

    fn trims(&self, station: Station) -> Vec<u32> {
        let is_trim = |cut: &&Cut<Length>| cut.station == station && cut.setting.is_none();
        self.plan.cuts.iter().filter(is_trim).map(|cut| cut.number).collect()
    }

    /// Sheet cuts, one line a cut, under the sheet they are in.
    fn sheets(&self) -> String {
        let sheet_cuts: Vec<&Cut<Length>> = self.plan.cuts.iter().filter(|cut| cut.station == Station::Sheet).collect();
        let mut text = String::new();
        if sheet_cuts.is_empty() {
            return text;
        }
        line!(text, "Sheet cuts");
        for sheet in sheet_cuts.chunk_by(|a, b| (&a.stock, a.stock_copy) == (&b.stock, b.stock_copy)) {
            line!(text, "  {}", say::stock(&sheet[0].stock, sheet[0].stock_copy));
            for cut in sheet {
                line!(text, "    {}  {}", cut.number, cut.what);
            }
        }
        text
    }

    fn glueups(&self) -> String {
        let mut text = String::new();
        for glueup in &self.plan.glueups {
            if text.is_empty() {
                line!(text, "Glue up");
            }
            let (count, pieces) = match (glueup.kind, glueup.members.len()) {
                (GlueKind::Panel, 1) => (1, "stave"),
                (GlueKind::Panel, count) => (count, "staves"),
                (GlueKind::Lamination, count) => (count, "layers"),
            };
            line!(text, "  {} {}: {count} {pieces}", glueup.part, glueup.copy);
            glueup.members.iter().for_each(|member| line!(text, "    {}", self.member(member)));
            let Some(sheet) = &glueup.sheet else { continue };
            for words in self.glue_figures(sheet, glueup.kind) {
                line!(text, "    {words}");
            }
            sheet.steps.iter().for_each(|step| line!(text, "    - {step}"));
        }
        text
    }

    /// `2  C-07 at 4", 3/16" from the chalked edge, 4 1/2" wide, top up`.
    fn member(&self, member: &Member<Length>) -> String {
        let number = member.stave.or(member.layer).unwrap_or_default();
        let stock = say::stock(&member.stock, member.stock_copy);
        let width = member.net_width.map_or(String::new(), |width| format!(", {} wide", self.fine(width)));
        let turned = if member.stave.is_some() { "up" } else { "outwards" };
        let face = match member.face_up {
            Some(Face::Top) => format!(", top face {turned}"),
            Some(Face::Bottom) => format!(", bottom face {turned}"),
            None => String::new(),
        };
        let (x, y) = (self.fine(member.x), self.fine(member.y));
        format!("{number}  {stock}, {x} from its left end and {y} from its chalked edge{width}{face}")
    }

    fn glue_figures(&self, sheet: &GlueSheet<Length>, kind: GlueKind) -> Vec<String> {
        let mut words = Vec::new();
        if kind == GlueKind::Panel {
            let excess = if sheet.excess > Length::ZERO {
                format!(", {} of it more than needed", self.fine(sheet.excess))
            } else {
                String::new()
            };
            words.push(format!("{} to trim off its width{excess}", self.fine(sheet.to_trim)));
        }
        let square = format!("square {}", self.plan.units.symbol());
        let weight = sheet.pounds.map_or(String::new(), |pounds| format!("; weighs {}", self.weight(pounds)));
        let joints = if sheet.joints == 1 { "joint" } else { "joints" };
        words.push(format!("glue: {:.0} {square} in {} {joints}{weight}", sheet.glue_area, sheet.joints));
        if let Some(movement) = &sheet.movement {
            let say = |change: Length| glue::change_words(change, self.plan.units, self.shop.print.fine);
            words.push(format!(
                "across its width it {} by the driest season ({:.1} % moisture) and {} by the dampest ({:.1} %)",
                say(movement.dry_change),
                movement.dry,
                say(movement.damp_change),
                movement.damp
            ));
        }
        words
    }

    fn weight(&self, pounds: f64) -> String {
        match self.plan.units {
            Units::Inches => format!("{pounds:.1} lb"),
            Units::Millimetres => format!("{:.1} kg", pounds * KILOGRAMS_PER_POUND),
        }
    }

    fn cautions(&self) -> String {
        let mut text = String::new();
        if self.plan.cautions.is_empty() {
            return text;
        }
        line!(text, "Mind");
        for caution in &self.plan.cautions {
            line!(text, "  - {caution}");
        }
        text
    }
}

/// Net area that a blank yields: its net rectangle, once for each leaf.
fn net_area(blank: &Node<Length>) -> Area {
    let Some(net) = &blank.net else { return Area::ZERO };
    std::iter::repeat_n(net.length * net.width, blank.leaves.len().max(1)).sum()
}

/// `cut 7`, `cuts 1-4, 7, 9-10`.
fn cuts(list: &[u32]) -> String {
    let word = if list.len() == 1 { "cut" } else { "cuts" };
    format!("{word} {}", say::ranges(list))
}
