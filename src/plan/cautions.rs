//! Reminders and warnings that apply to what a plan asks for, in our own words.
//!
//! What is particular to this plan comes first, then the reminders of each machine the work goes to, lifting, dust and
//! noise, and last the sentence that defers to manuals, rules and teachers. A reminder is given only when the plan asks
//! for the work it is about. Figures are `trade`'s.

use super::case::{Case, Use};
use super::tree::{Grown, nodes_of};
use super::{Cut, GlueKind, GlueUp, Length, Node, Role, Station, StockKind, say, tight, weights};
use crate::measure::{Rational, Units};
use crate::pile::Surfaced;
use crate::trade::lifting::{LOAD_CONSTANT, LOAD_CONSTANT_METRIC};
use crate::trade::warp::crook_loss;
use crate::trade::{Figure, safety};

/// Longest blank from surfaced stock that is taken as flat without a word.
const TAKEN_AS_FLAT: Length = Length::from_inches(36);
/// A piece this short brings the hands too near the blade of a crosscut saw on both sides of the cut.
const SHORT: Length = Length::from_inches(12);

/// What the cautions look at.
pub(super) struct Subject<'a> {
    pub case: &'a Case<'a>,
    pub uses: &'a [Use<'a>],
    pub grown: &'a [Grown],
    pub cuts: &'a [Cut<Length>],
    pub glueups: &'a [GlueUp<Length>],
    /// Woods whose weight is not known.
    pub unweighed: &'a [String],
}

/// Every caution, in the order they are printed.
pub(super) fn list(subject: &Subject) -> Vec<String> {
    let each = || subject.uses.iter().zip(subject.grown);
    let mut cautions: Vec<String> =
        each().filter_map(|(used, grown)| tight::remark(subject.case, used, grown)).collect();
    if !cautions.is_empty() {
        cautions.push(tight::ADVICE.to_owned());
    }
    for (used, grown) in each() {
        cautions.extend(subject.taken_as_flat(used, grown));
        cautions.extend(subject.crook_shift(used));
    }
    cautions.extend(subject.weight_unknown());
    if subject.cuts.is_empty() {
        return cautions;
    }
    cautions.extend(subject.rough_stock());
    cautions.extend(subject.ripping());
    cautions.extend(subject.narrow_strips());
    cautions.extend(subject.crosscutting());
    cautions.extend(subject.short_pieces());
    cautions.extend(subject.resawing());
    cautions.extend(subject.gluing());
    cautions.extend(subject.heavy());
    cautions.push(subject.dust_and_noise());
    cautions.push(
        "These are reminders, not instruction: the manual of each machine, the rules where you work and a qualified \
         teacher go before anything said here."
            .to_owned(),
    );
    cautions
}

impl Subject<'_> {
    fn show(&self, length: Length) -> String {
        length.show(self.case.job.units, self.case.job.shop.print.fine)
    }

    /// A figure in inches, in the units of the job.
    fn show_figure(&self, figure: &Figure) -> String {
        let sixteenths = Length::from_inch_fraction((figure.value * 16.0).round() as i64, 16);
        match self.case.job.units {
            Units::Inches => sixteenths.show(Units::Inches, self.case.job.shop.print.fine),
            Units::Millimetres => sixteenths.mm_text(0),
        }
    }

    fn stock(&self, used: &Use) -> String {
        say::stock(self.case.piece(used.source).id, used.copy)
    }

    fn taken_as_flat(&self, used: &Use, grown: &Grown) -> Option<String> {
        self.case.board(used.source)?;
        let blanks = nodes_of(&grown.tree, Role::Blank).into_iter().zip(&grown.cuttings);
        let long: Vec<String> = blanks
            .filter(|(blank, cutting)| blank.length > TAKEN_AS_FLAT && !self.case.cutting(used.class, **cutting).planed)
            .map(|(blank, _)| say::label(blank))
            .collect();
        (!long.is_empty()).then(|| {
            format!(
                "{}: surfaced stock is taken to be flat as it comes; sight along {}, longer than {}, before counting on it.",
                self.stock(used),
                say::list(&long),
                self.show(TAKEN_AS_FLAT)
            )
        })
    }

    /// Defects are measured from the hollow edge; straightening it shifts them.
    fn crook_shift(&self, used: &Use) -> Option<String> {
        let board = self.case.board(used.source)?;
        if matches!(board.surfaced, Surfaced::S4s | Surfaced::Slr1e) {
            return None;
        }
        let (_, layout) = self.case.board_layout(used)?;
        let half = Rational::new(self.case.job.shop.allowance.width.ticks().into(), 2.into());
        let shifted = layout.sections.iter().any(|section| {
            let (from, to) = (Length::from_ticks(section.x), Length::from_ticks(section.x + section.length));
            let length = Length::from_ticks(section.length);
            let has_defect = board.defects.iter().any(|d| d.x < to && from < d.x + d.length);
            has_defect && crook_loss(board.warp.crook, length, board.length) > half
        });
        shifted.then(|| {
            format!(
                "{}: straightening its crooked edge moves its defects by more than {}; measure them again before ripping.",
                self.stock(used),
                self.show(Length::from_ticks(self.case.job.shop.allowance.width.ticks() / 2))
            )
        })
    }

    fn weight_unknown(&self) -> Option<String> {
        let woods: Vec<String> = self.unweighed.iter().map(|wood| format!("\"{wood}\"")).collect();
        (!woods.is_empty())
            .then(|| format!("No density is known for {}: its parts have no weight here.", say::list(&woods)))
    }

    fn rough_stock(&self) -> Option<String> {
        let planed = self.uses.iter().any(|used| {
            self.case
                .board_layout(used)
                .is_some_and(|(_, layout)| layout.sections.iter().any(|section| self.case.is_planed(used, section)))
        });
        planed.then(|| {
            format!(
                "Jointer and planer: brush off grit and look for staples first; joint with the hollow face down and push \
                 blocks in hand; nothing shorter than {} goes over either machine by itself.",
                self.show(self.case.job.shop.machine.min_length)
            )
        })
    }

    fn rips(&self) -> impl Iterator<Item = &Cut<Length>> {
        self.cuts.iter().filter(|cut| cut.station == Station::Rip || self.is_sheet_rip(cut))
    }

    fn is_sheet_rip(&self, cut: &Cut<Length>) -> bool {
        cut.station == Station::Sheet && cut.cut == super::CutKind::Rip
    }

    fn ripping(&self) -> Option<String> {
        self.rips().next()?;
        let mut text =
            "Ripping: a straight edge against the fence and a flat face on the table, riving knife or splitter and \
                        guard in place; if the kerf closes on the blade, stop the saw before anything else."
                .to_owned();
        if self.cuts.iter().any(|cut| cut.station == Station::Rip) {
            text.push_str(" Rough or twisted stock never goes through the table saw: bandsaw or guided saw first.");
        }
        Some(text)
    }

    fn narrow_strips(&self) -> Option<String> {
        let narrow = Length::from_inches(safety::RIP_PUSH_STICK.value as i64);
        self.rips().find(|cut| cut.setting.is_some_and(|setting| setting <= narrow))?;
        Some(format!(
            "Rips of {} and under: a push stick or push block all the way past the blade; under {}, a jig that carries the \
             strip. Nothing is sawn freehand.",
            self.show_figure(&safety::RIP_PUSH_STICK),
            self.show_figure(&safety::RIP_NARROWEST)
        ))
    }

    fn crosscutting(&self) -> Option<String> {
        let stations = [Station::RoughCrosscut, Station::FinalCrosscut, Station::Stick];
        self.cuts.iter().find(|cut| stations.contains(&cut.station))?;
        Some(
            "Crosscutting: the crown of a bowed edge against the mitre-saw fence; never fence and mitre gauge together on \
             the table saw, a stop block that ends short of the blade instead."
                .to_owned(),
        )
    }

    fn short_pieces(&self) -> Option<String> {
        let is_short = |cut: &&Cut<Length>| {
            matches!(cut.station, Station::FinalCrosscut | Station::Stick) && cut.setting.is_some_and(|s| s < SHORT)
        };
        self.cuts.iter().find(is_short)?;
        Some(format!(
            "Short pieces: hands stay {} from the blade; clamp what is too short to hold, or cut it from a longer piece last.",
            self.show_figure(&safety::MITRE_SAW_HANDS)
        ))
    }

    fn resawing(&self) -> Option<String> {
        let resawn = |node: &Node<Length>| nodes_of(node, Role::Blank).iter().any(|blank| !blank.leaves.is_empty());
        self.grown.iter().find(|grown| resawn(&grown.tree))?;
        Some(
            "Resawing: a tall fence, the blade guard set just above the stock, and a push block for the end of the cut."
                .to_owned(),
        )
    }

    fn gluing(&self) -> Option<String> {
        let widest = self.glueups.iter().filter(|glueup| glueup.kind == GlueKind::Panel);
        let moves = widest.filter_map(|glueup| {
            let movement = glueup.sheet.as_ref()?.movement.as_ref()?;
            Some((movement.damp_change - movement.dry_change, &glueup.part))
        });
        let season = moves.max_by_key(|&(change, _)| change).map_or(String::new(), |(change, part)| {
            format!(
                " Glued panels move with the seasons, {part} by {} across its width from the driest to the dampest: fasten \
                 them so that they can.",
                self.show(change)
            )
        });
        let glued = self.glueups.iter().any(|glueup| glueup.members.len() > 1);
        glued.then(|| format!("Glue the faces and edges on the day they are jointed.{season}"))
    }

    fn heavy(&self) -> Option<String> {
        let limit = LOAD_CONSTANT.value;
        let mut heavy = Vec::new();
        for used in self.uses {
            if let Some(pounds) = weights::stock_pounds(self.case, used).filter(|&pounds| pounds > limit) {
                heavy.push(self.weighs(&self.stock(used), pounds));
            }
        }
        let made = self.case.copies_made();
        for (part, _) in self.case.job.parts.iter().zip(made).filter(|(_, made)| *made > 0) {
            if let Some(pounds) = weights::part_pounds(self.case, part).filter(|&pounds| pounds > limit) {
                heavy.push(self.weighs(&part.id, pounds));
            }
        }
        let base = match self.case.job.units {
            Units::Inches => format!("{limit:.0} lb"),
            Units::Millimetres => format!("{:.0} kg", LOAD_CONSTANT_METRIC.value),
        };
        (!heavy.is_empty()).then(|| {
            format!(
                "Two people for what weighs more than {base}, the most NIOSH would have one lift: {}.",
                say::list(&heavy)
            )
        })
    }

    fn weighs(&self, name: &str, pounds: f64) -> String {
        match self.case.job.units {
            Units::Inches => format!("{name} ({pounds:.0} lb)"),
            Units::Millimetres => format!("{name} ({:.0} kg)", pounds * crate::trade::weight::KILOGRAMS_PER_POUND),
        }
    }

    fn dust_and_noise(&self) -> String {
        let solid = self.uses.iter().any(|used| self.case.piece(used.source).kind == StockKind::Board);
        let mask = if solid { "machine planing and sawing" } else { "sawing sheets and sticks" };
        format!(
            "Eyes, ears and lungs: {mask} passes both limits soon without extraction. Wood dust over 8 h: {} mg/m3 by NIOSH \
             advice ({} total and {} respirable by OSHA rule); noise over 8 h: {} dBA by NIOSH advice ({} by OSHA rule).",
            safety::DUST_NIOSH.value,
            safety::DUST_OSHA_TOTAL.value,
            safety::DUST_OSHA_RESPIRABLE.value,
            safety::NOISE_NIOSH.value,
            safety::NOISE_OSHA.value
        )
    }
}
