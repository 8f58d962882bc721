//! A planted fault of every kind the checker knows is caught under its own rule.
//!
//! Each row changes one thing in the lawful workshop (a few change a setting of the job or the pile instead, which makes
//! the same plan unlawful). A rule without a row fails the test, so a new rule brings its fault.

use std::collections::BTreeSet;

use crate::support::{defect, finish, inch, matched, money, offcut};
use crate::workshop::workshop;
use flitchwork::job::shop::RipFirst;
use flitchwork::job::{Faces, Job, MatchRule, MatchScope, PartGrain};
use flitchwork::measure::{Length, Rational, Units};
use flitchwork::pile::{DefectFace, Face, Pile, Rings, SheetGrain};
use flitchwork::plan::check::{Rule, check};
use flitchwork::plan::{
    CutKind, GlueKind, GlueSheet, Movement, Node, Role, ShopPlan, Station, Status, StockKind, Stop,
};

type Fault = fn(&mut Job, &mut Pile, &mut ShopPlan);

/// A node by stock and child indices.
fn at<'a>(plan: &'a mut ShopPlan, stock: usize, path: &[usize]) -> &'a mut Node<Length> {
    path.iter().fold(&mut plan.stock[stock].tree, |node, index| &mut node.children[*index])
}

/// Moves a node and all in it.
fn shift(node: &mut Node<Length>, x: Length, y: Length) {
    node.x += x;
    node.y += y;
    if let Some(net) = &mut node.net {
        net.x += x;
        net.y += y;
    }
    for child in &mut node.children {
        shift(child, x, y);
    }
}

/// The sheet of a glue-up.
fn sheet(plan: &mut ShopPlan, glueup: usize) -> &mut GlueSheet<Length> {
    plan.glueups[glueup].sheet.as_mut().expect("every glue-up of the workshop has its sheet")
}

/// How the top moves.
fn moves(plan: &mut ShopPlan) -> &mut Movement<Length> {
    sheet(plan, 2).movement.as_mut().expect("the top moves")
}

const SIXTEENTH: Length = Length::from_inch_fraction(1, 16);
const TICK: Length = Length::from_ticks(1);

// Stock: 0 the warped board, 1 the legs' board, 2 the wide board, 3 the surfaced board, 4 the sheet, 5 the stick.
// Parts: 0 rail, 1 leg, 2 top, 3 slat, 4 front, 5 door, 6 bottom, 7 divider, 8 edging, 9 shelf, 10 spare.
const FAULTS: &[(Rule, &str, Fault)] = &[
    (Rule::Format, "another format", |_, _, p| p.format = "flitchwork.plan/2".into()),
    (Rule::Units, "other units", |_, _, p| p.units = Units::Millimetres),
    (Rule::Absurd, "a blank beyond the horizon", |_, _, p| at(p, 0, &[0, 0, 0]).x = Length::from_ticks(i64::MAX)),
    (Rule::Absurd, "a cut before the beginning", |_, _, p| p.cuts[0].at = Length::from_ticks(i64::MIN)),
    (Rule::StockUnknown, "a board that is not there", |_, _, p| p.stock[0].id = "C-99".into()),
    (Rule::StockKind, "a board used as a stick", |_, _, p| p.stock[1].kind = StockKind::Stick),
    (Rule::StockCopy, "a second of one board", |_, _, p| p.stock[1].copy = 2),
    (Rule::StockCopy, "copy nought", |_, _, p| p.stock[1].copy = 0),
    (Rule::StockTwice, "one stick cut twice", |_, _, p| p.stock.push(p.stock[5].clone())),
    (Rule::StockIdle, "a sheet taken for nothing", |_, _, p| {
        let mut idle = p.stock[4].clone();
        idle.copy = 2;
        idle.tree.cut = None;
        idle.tree.children.clear();
        p.stock.push(idle);
    }),
    (Rule::StockCost, "a cent too cheap", |_, _, p| p.stock[0].cost = money(61.24)),
    (Rule::StockCost, "the yard's tally taken as plain volume", |_, pile, _| {
        pile.tally = flitchwork::pile::Tally::Exact
    }),
    (Rule::RootRectangle, "a tree of a shorter board", |_, _, p| p.stock[1].tree.length = inch(79.0)),
    (Rule::NodeSize, "a strip of no width", |_, _, p| at(p, 1, &[0, 1]).width = Length::ZERO),
    (Rule::ChildOutside, "a blank over the strip's end", |_, _, p| {
        shift(at(p, 2, &[2, 0, 1]), inch(10.0), Length::ZERO)
    }),
    (Rule::ChildOrder, "strips that overlap", |_, _, p| shift(at(p, 1, &[0, 1]), Length::ZERO, -inch(0.25))),
    (Rule::ChildOrder, "children in the wrong order", |_, _, p| at(p, 1, &[0, 0]).children.reverse()),
    (Rule::Kerf, "a tick less than a kerf between blanks", |_, _, p| shift(at(p, 1, &[0, 0, 1]), -TICK, Length::ZERO)),
    (Rule::Kerf, "strips a sixteenth apart", |_, _, p| shift(at(p, 1, &[0, 1]), Length::ZERO, -SIXTEENTH)),
    (Rule::CutKind, "children without a cut", |_, _, p| at(p, 4, &[0]).cut = None),
    (Rule::CutKind, "a section that is crosscut", |_, _, p| at(p, 1, &[0]).cut = Some(CutKind::Cross)),
    (Rule::Role, "a strip under the root", |_, _, p| at(p, 1, &[0]).role = Some(Role::Strip)),
    (Rule::Role, "a whole sheet with a role", |_, _, p| at(p, 4, &[]).role = Some(Role::Section)),
    (Rule::Span, "a section short of the board's width", |_, _, p| at(p, 1, &[0]).width = inch(6.5)),
    (Rule::Span, "a strip short of its section", |_, _, p| at(p, 1, &[0, 1]).length = inch(60.0)),
    (Rule::StripEdge, "a blank in the middle of its strip", |_, _, p| {
        shift(at(p, 0, &[0, 1, 0]), Length::ZERO, SIXTEENTH)
    }),
    (Rule::NodeFields, "a blank for nothing", |_, _, p| at(p, 0, &[0, 0, 0]).part = None),
    (Rule::NodeFields, "a blank without its net", |_, _, p| at(p, 0, &[0, 0, 0]).net = None),
    (Rule::NodeFields, "a part and leaves", |_, _, p| at(p, 0, &[0, 1, 0]).part = Some("slat".into())),
    (Rule::NodeFields, "a layer of a plain part", |_, _, p| at(p, 0, &[0, 0, 0]).layer = Some(1)),
    (Rule::NodeFields, "a stave without number", |_, _, p| at(p, 2, &[0, 0, 0]).stave = None),
    (Rule::NodeFields, "a section with credit", |_, _, p| at(p, 1, &[0]).credit = Some(money(1.0))),
    (Rule::BoardEnd, "a dirty end", |job, _, _| job.shop.trim.board_end = inch(1.0) + TICK),
    (Rule::BoardEnd, "a section over the far end", |_, _, p| shift(at(p, 1, &[0]), inch(16.5), Length::ZERO)),
    (Rule::SectionEdge, "one tick into the crook", |_, _, p| shift(at(p, 0, &[0]), Length::ZERO, -TICK)),
    (Rule::SectionEdge, "more crook than was trimmed", |_, pile, _| pile.boards[0].warp.crook = inch(0.25)),
    (Rule::SectionEdge, "a wider far edge", |job, _, _| job.shop.trim.far_edge = inch(3.0)),
    (Rule::Snipe, "one tick into the snipe", |_, _, p| shift(at(p, 0, &[0, 0, 0]), -TICK, Length::ZERO)),
    (Rule::Snipe, "surfaced stock that is planed", |job, _, _| job.parts[9].thickness = inch(0.75)),
    (Rule::MinLength, "a longer planer", |job, _, _| job.shop.machine.min_length = inch(22.5) + TICK),
    (Rule::MinRip, "a short blank ripped", |job, _, _| job.shop.machine.min_rip_length = inch(16.0)),
    (Rule::MinRip, "a short section ripped", |job, _, _| job.shop.machine.min_rip_length = inch(23.0)),
    (Rule::JointerWidth, "a narrow jointer", |job, _, _| job.shop.machine.jointer_width = inch(5.0)),
    (Rule::PlanerWidth, "a narrow planer", |job, _, _| job.shop.machine.planer_width = inch(5.0)),
    (Rule::Thickness, "one tick too thin for a layer", |_, pile, _| {
        pile.boards[1].thickness = inch(1.03125) + inch(0.125) - TICK
    }),
    (Rule::Thickness, "a bowed board", |_, pile, _| pile.boards[0].warp.bow = inch(1.0)),
    (Rule::Thickness, "a twisted board", |_, pile, _| pile.boards[0].warp.twist = inch(1.0)),
    (Rule::Thickness, "a cupped strip", |_, pile, _| pile.boards[2].warp.cup = inch(2.0)),
    (Rule::ResawHeight, "a shop that does not resaw", |job, _, _| job.shop.machine.resaw_height = Length::ZERO),
    (Rule::ResawLeaves, "a single leaf", |_, _, p| {
        at(p, 0, &[0, 1, 0]).leaves.pop();
    }),
    (Rule::ResawLeaves, "leaves of two sizes", |_, _, p| at(p, 0, &[0, 1, 0]).leaves[1].part = "rail".into()),
    (Rule::ResawSum, "thicker leaves", |job, _, p| {
        job.parts[3].thickness = inch(0.5);
        at(p, 0, &[0, 1, 0]).leaves.iter_mut().for_each(|leaf| leaf.thickness = inch(0.5));
    }),
    (Rule::Defects, "a knot through a rail", |_, pile, _| {
        pile.boards[0].defects.push(defect(30.0, 1.0, 1.0, 1.0, DefectFace::Through, true))
    }),
    (Rule::Defects, "a margin of a hundred and twenty-eighth in a net", |_, pile, _| {
        pile.boards[0].defects.push(defect(2.0, 1.0, 1.7578125, 1.0, DefectFace::Through, true))
    }),
    (Rule::Defects, "an unsound knot on one face", |_, pile, _| pile.boards[0].defects[0].sound = false),
    (Rule::Defects, "a part that must be clear on both", |job, _, _| job.parts[0].faces = Faces::C2f),
    (Rule::Defects, "an unsound inner face of a layer", |_, pile, _| {
        pile.boards[1].defects.push(defect(40.0, 1.0, 1.0, 1.0, DefectFace::Bottom, false))
    }),
    (Rule::PartUnknown, "a part of another job", |_, _, p| at(p, 0, &[0, 0, 0]).part = Some("stile".into())),
    (Rule::CopyRange, "a third of two", |_, _, p| at(p, 0, &[0, 0, 1]).copy = Some(3)),
    (Rule::PieceTwice, "one copy twice", |_, _, p| at(p, 0, &[0, 0, 1]).copy = Some(1)),
    (Rule::BlankSize, "no allowance in length", |_, _, p| at(p, 2, &[1, 0, 0]).length = inch(16.0)),
    (Rule::BlankSize, "tenons forgotten", |job, _, _| job.parts[0].tenons = [inch(1.0), Length::ZERO]),
    (Rule::BlankSize, "layers' own allowance forgotten", |job, _, _| job.shop.allowance.layer_width = inch(0.25)),
    (Rule::BlankSize, "a sheet part an eighth too small", |job, _, _| job.parts[6].width = inch(18.125)),
    (Rule::NetPlace, "a net off the middle by a tick", |_, _, p| {
        let net = at(p, 0, &[0, 0, 0]).net.as_mut().expect("a blank has its net");
        net.x += TICK;
    }),
    (Rule::Wood, "maple for cherry", |_, pile, _| pile.boards[0].species = "maple".into()),
    (Rule::Wood, "another ply", |_, pile, _| pile.sheets[0].material = "birch ply".into()),
    (Rule::Rings, "flat for quartered", |_, pile, _| pile.boards[3].rings = Some(Rings::Flat)),
    (Rule::Rings, "rings not stated", |_, pile, _| pile.boards[3].rings = None),
    (Rule::PlanedThickness, "a plain part planed thick", |_, _, p| at(p, 0, &[0, 0, 0]).thickness = Some(inch(0.9375))),
    (Rule::PlanedThickness, "a stave without its face allowance", |_, _, p| {
        at(p, 2, &[0, 0, 0]).thickness = Some(inch(0.875))
    }),
    (Rule::SheetTrim, "a wider trim", |job, _, _| job.shop.trim.sheet = inch(0.25) + TICK),
    (Rule::SheetStages, "a saw of one stage", |job, _, _| job.shop.machine.sheet_stages = 1),
    (Rule::SheetThickness, "thinner ply", |job, _, _| job.parts[6].thickness = inch(0.6875)),
    (Rule::Grain, "grain along, laid across", |job, _, _| job.parts[7].grain = PartGrain::Along),
    (Rule::Grain, "a cross-grained sheet", |_, pile, _| pile.sheets[0].grain = SheetGrain::Width),
    (Rule::Grain, "a turned stick part", |_, _, p| at(p, 5, &[0]).turned = true),
    (Rule::StickTrim, "a wider trim", |job, _, _| job.shop.trim.stick = inch(0.25) + TICK),
    (Rule::StickSection, "a thinner stick", |_, pile, _| pile.sticks[0].thickness = inch(1.75)),
    (Rule::LayerCount, "more than the shop glues", |job, _, _| job.shop.glue.max_layers = 1),
    (Rule::LayerCount, "three stated, two made", |job, _, _| {
        job.parts[1].lamination.as_mut().expect("the leg is laminated").layers = Some(3)
    }),
    (Rule::LayerNumbers, "a layer missing", |_, _, p| {
        at(p, 1, &[0, 0]).children.pop();
    }),
    (Rule::LayerThickness, "a tick thicker than the others", |_, _, p| {
        at(p, 1, &[0, 1, 0]).thickness = Some(inch(1.03125) + TICK)
    }),
    (Rule::LayerThickness, "layers that do not add up", |job, _, _| {
        job.shop.allowance.layer_face = inch(0.0625) + TICK
    }),
    (Rule::StaveNumbers, "two staves of one number", |_, _, p| at(p, 2, &[0, 1, 0]).stave = Some(3)),
    (Rule::StaveWidth, "a stave over the limit", |job, _, _| {
        job.parts[2].panel.as_mut().expect("the top is a panel").stave_max = inch(5.0)
    }),
    (Rule::StaveWidth, "a stave off the step", |job, _, _| job.shop.step.rip = inch(0.25)),
    (Rule::StaveEqual, "one stave narrower", |_, _, p| {
        let node = at(p, 2, &[0, 1, 0]);
        node.width -= SIXTEENTH;
        let net = node.net.as_mut().expect("a blank has its net");
        net.width -= SIXTEENTH;
    }),
    (Rule::StaveSum, "a wider panel", |job, _, _| job.parts[2].width = inch(10.0) + TICK),
    (Rule::PanelBoards, "staves of no board", |job, _, _| {
        job.parts[2].panel.as_mut().expect("the top is a panel").max_boards = Some(0)
    }),
    (Rule::GlueMissing, "a leg without glue-up", |_, _, p| {
        p.glueups.remove(0);
    }),
    (Rule::GlueMissing, "two entries for one leg", |_, _, p| p.glueups.push(p.glueups[0].clone())),
    (Rule::GlueUnknown, "a glued rail", |_, _, p| p.glueups[0].part = "rail".into()),
    (Rule::GlueUnknown, "a panel glued face to face", |_, _, p| p.glueups[2].kind = GlueKind::Lamination),
    (Rule::GlueMembers, "a member forgotten", |_, _, p| {
        p.glueups[0].members.pop();
    }),
    (Rule::GlueMembers, "a member of another place", |_, _, p| p.glueups[0].members[1].x = inch(33.0)),
    (Rule::GlueNetWidth, "a stave said to be wider", |_, _, p| p.glueups[2].members[0].net_width = Some(inch(5.25))),
    (Rule::GlueSize, "a leg as thick as its layers were rough", |_, _, p| {
        sheet(p, 0).glued.thickness += SIXTEENTH;
    }),
    (Rule::GlueSize, "a top trimmed to another length", |_, _, p| sheet(p, 2).trimmed.length += SIXTEENTH),
    (Rule::GlueSize, "more to trim than there is", |_, _, p| sheet(p, 2).to_trim += SIXTEENTH),
    (Rule::GlueSize, "excess where the staves just add up", |_, _, p| sheet(p, 2).excess += SIXTEENTH),
    (Rule::GlueJoints, "a joint too many", |_, _, p| sheet(p, 2).joints = 2),
    (Rule::GlueJoints, "glue for half of the joint", |_, _, p| sheet(p, 0).glue_area /= 2.0),
    (Rule::GlueJoints, "a clamp too few", |_, _, p| sheet(p, 2).clamps_in_row -= 1),
    (Rule::GlueJoints, "a leg in two rows of clamps", |_, _, p| sheet(p, 0).clamp_rows = 2),
    (Rule::GlueMovement, "a flat-sawn top taken as quartersawn", |_, _, p| moves(p).quartersawn = true),
    (Rule::GlueMovement, "a top built wetter than the shop works", |_, _, p| moves(p).built = 12.0),
    (Rule::GlueMovement, "a top that swells as it dries", |_, _, p| moves(p).dry_change = inch(0.5)),
    (Rule::FaceUp, "the knotty face of a stave up", |_, pile, _| {
        pile.boards[2].defects.push(defect(10.0, 1.0, 1.0, 1.0, DefectFace::Top, true))
    }),
    (Rule::FaceUp, "the knotty faces of both outer layers outward", |_, pile, p| {
        for x in [10.0, 40.0] {
            pile.boards[1].defects.push(defect(x, 1.0, 1.0, 1.0, DefectFace::Bottom, true));
        }
        p.glueups[0].members.iter_mut().for_each(|member| member.face_up = Some(Face::Bottom));
    }),
    (Rule::MatchBroken, "waste in a run that no defect explains", |job, _, p| {
        job.parts[0].matching = job.parts[4].matching.clone();
        job.parts[0].matching.as_mut().expect("just set").group = "rails".into();
        shift(at(p, 0, &[0, 0, 1]), SIXTEENTH, Length::ZERO);
    }),
    (Rule::MatchBroken, "a run over two strips", |job, _, _| {
        let front = job.parts[4].matching.clone();
        job.parts[5].matching = front;
        job.parts[5].matching.as_mut().expect("just set").group = "doors".into();
    }),
    (Rule::MatchBroken, "two in one strip for side by side", |job, _, _| {
        job.parts[4].matching.as_mut().expect("the fronts are matched").rule = MatchRule::Side
    }),
    (Rule::MatchBroken, "rails and fronts from two boards for one", |job, _, _| {
        for part in [0, 4] {
            job.parts[part].matching = matched("one", MatchRule::Board, MatchScope::Group, None);
        }
    }),
    (Rule::MatchPartly, "one front of three", |job, _, _| job.parts[4].qty = 3),
    (Rule::BrokenCost, "doors made in part for nothing", |job, _, _| job.parts[5].qty = 3),
    (Rule::BrokenCost, "a worth charged for nothing", |_, _, p| p.broken = money(20.0)),
    (Rule::ShortageRow, "no reason", |_, _, p| p.shortages[0].why.clear()),
    (Rule::ShortageRow, "listed twice", |_, _, p| p.shortages.push(p.shortages[0].clone())),
    (Rule::ShortageRow, "a part of another job", |_, _, p| p.shortages[0].part = "stile".into()),
    (Rule::ShortageCount, "one more missing", |_, _, p| p.shortages[0].missing = 2),
    (Rule::ShortageCount, "not listed", |_, _, p| p.shortages.clear()),
    (Rule::PiecesRequired, "one less asked", |_, _, p| p.pieces_required = 16),
    (Rule::PiecesPlaced, "one more made", |_, _, p| p.pieces_placed = 17),
    (Rule::Status, "short said to be complete", |_, _, p| p.status = Status::Complete),
    (Rule::OffcutSize, "a shop that keeps more", |job, _, _| job.shop.keep.length = inch(45.375) + TICK),
    (Rule::CreditUnearned, "credit for part of the width", |_, _, p| at(p, 0, &[1]).width = inch(5.0)),
    (Rule::OffcutCredit, "a cent more", |_, _, p| at(p, 0, &[1]).credit = Some(money(8.11))),
    (Rule::OffcutCredit, "one defect counted twice over", |_, pile, _| {
        pile.boards[0].defects.push(defect(70.0, 0.0, 2.0, 2.0, DefectFace::Top, true))
    }),
    (Rule::StockCredit, "a cent more", |_, _, p| p.stock[4].credit = money(15.89)),
    (Rule::OffcutRow, "not in the list", |_, _, p| {
        p.offcuts.remove(0);
    }),
    (Rule::OffcutRow, "a row over a blank", |_, _, p| p.offcuts[1].y = inch(10.0)),
    (Rule::OffcutRow, "a row of no stock", |_, _, p| p.offcuts[1].stock = "none".into()),
    (Rule::Cost, "a cent too little", |_, _, p| p.cost = money(330.25)),
    (Rule::Bound, "above the cost", |_, _, p| p.bound = money(330.27)),
    (Rule::Gap, "another gap", |_, _, p| p.gap = 0.0313),
    (Rule::Gap, "no number", |_, _, p| p.gap = f64::NAN),
    (Rule::Proven, "proven at three per cent", |_, _, p| p.proven = true),
    (Rule::Proven, "not proven at no gap", |_, _, p| p.bound = money(330.26)),
    (Rule::Stop, "ended as proven, and not proven", |_, _, p| p.stop = Stop::Proven),
    (Rule::CutNumbers, "one number twice", |_, _, p| p.cuts[1].number = 1),
    (Rule::CutStock, "a cut in no stock", |_, _, p| p.cuts[0].stock = "none".into()),
    (Rule::CutStock, "a cut beside the board", |_, _, p| p.cuts[0].to_edge = inch(100.0)),
    (Rule::CutStation, "a crosscut at the rip fence", |_, _, p| p.cuts[0].station = Station::Rip),
    (Rule::CutKerf, "a tick more than a kerf", |_, _, p| p.cuts[0].at -= TICK),
    (Rule::CutThrough, "a cut in the middle of a blank", |_, _, p| {
        p.cuts[0].at = inch(20.0);
        p.cuts[0].to = inch(20.125);
    }),
    (Rule::CutAbsent, "a cut forgotten", |_, _, p| {
        let last = p.cuts.len();
        p.cuts.truncate(last - 1);
    }),
    (Rule::CutAbsent, "a kerf not sawn", |_, _, p| {
        p.cuts.remove(0);
    }),
    (Rule::CutTwice, "one kerf sawn twice", |_, _, p| {
        let mut again = p.cuts[0].clone();
        again.number = p.cuts.len() as u32 + 1;
        p.cuts.push(again);
    }),
    (Rule::CutSetting, "a stop a sixteenth off", |_, _, p| {
        p.cuts[0].setting = p.cuts[0].setting.map(|setting| setting + SIXTEENTH)
    }),
    (Rule::WorkRows, "a cut that is not there", |_, _, p| p.work.rough[0].cuts.push(999)),
    (Rule::WorkRows, "a fence setting of none of its cuts", |_, _, p| p.work.rips[0].setting = inch(1.0)),
    (Rule::WorkRows, "a board not pulled", |_, _, p| {
        p.work.pull.pop();
    }),
];

#[test]
fn every_planted_fault_is_caught_under_its_own_rule() {
    let mut missed = Vec::new();
    for (rule, what, plant) in FAULTS {
        let (mut job, mut pile, mut plan) = workshop();
        plant(&mut job, &mut pile, &mut plan);
        let found = check(&job, &pile, &plan);
        if !found.iter().any(|violation| violation.rule == *rule) {
            let codes: Vec<String> = found.iter().map(ToString::to_string).collect();
            missed.push(format!("{} ({what}): found {codes:?}", rule.code()));
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

#[test]
fn every_rule_has_a_planted_fault() {
    let planted: BTreeSet<Rule> = FAULTS.iter().map(|(rule, ..)| *rule).collect();
    let bare: Vec<&str> = Rule::ALL.iter().filter(|rule| !planted.contains(rule)).map(|rule| rule.code()).collect();
    assert!(bare.is_empty(), "no planted fault for {bare:?}");
}

#[test]
fn every_rule_has_a_code_and_a_meaning_of_its_own() {
    let codes: BTreeSet<&str> = Rule::ALL.iter().map(|rule| rule.code()).collect();
    let meanings: BTreeSet<&str> = Rule::ALL.iter().map(|rule| rule.meaning()).collect();
    assert_eq!(codes.len(), Rule::ALL.len());
    assert_eq!(meanings.len(), Rule::ALL.len());
}

#[test]
fn all_faults_of_a_plan_are_gathered_with_place_and_figures() {
    let (job, pile, mut plan) = workshop();
    shift(at(&mut plan, 1, &[0, 1]), Length::ZERO, -SIXTEENTH);
    plan.stock[0].cost = money(1.0);
    let found: Vec<String> = check(&job, &pile, &plan).iter().map(ToString::to_string).collect();
    let kerf =
        "[kerf] stock[1] \"C-02\" copy 1: section 1, strip 2: 0.0625 in from the one before it, the kerf is 0.125 in";
    let cost = "[stock-cost] stock[0] \"C-01\" copy 1: cost 1.00 where the pile gives 61.25";
    assert!(found.iter().any(|line| line == kerf), "{found:?}");
    assert!(found.iter().any(|line| line == cost), "{found:?}");
}

#[test]
fn matched_doors_may_be_broken_at_their_worth() {
    let (mut job, pile, mut plan) = workshop();
    let doors = job.parts[5].matching.as_mut().expect("the doors are matched");
    doors.rule = MatchRule::Run;
    plan.broken = money(20.0);
    plan.cost = money(350.26);
    plan.bound = money(340.0);
    plan.gap = 0.0293;
    assert_eq!(check(&job, &pile, &plan), []);
    job.parts[5].matching.as_mut().expect("the doors are matched").scope = MatchScope::Copy;
    let found = check(&job, &pile, &plan);
    assert!(found.iter().any(|violation| violation.rule == Rule::BrokenCost), "{found:?}");
}

#[test]
fn strips_are_flattened_one_by_one_when_the_shop_always_rips_first() {
    let (mut job, mut pile, plan) = workshop();
    pile.boards[1].warp.cup = inch(0.25);
    let thin = |job: &Job, pile: &Pile| {
        check(job, pile, &plan).iter().filter(|v| v.rule == Rule::Thickness && v.place.contains("C-02")).count()
    };
    // Whole: 1.28 - 1.25 x 0.25 - 0.125 is under 1 1/32; a strip of 2 1/4 of 7 in keeps all but a tenth of the cup.
    assert_eq!(thin(&job, &pile), 4);
    job.shop.machine.rip_first = RipFirst::Always;
    assert_eq!(thin(&job, &pile), 0);
    job.shop.warp.factor = Rational::from_integer(5.into());
    assert_eq!(thin(&job, &pile), 4);
}

#[test]
fn an_offcut_worth_keeping_may_lie_anywhere_and_earn_nothing() {
    let (job, pile, mut plan) = workshop();
    at(&mut plan, 2, &[2]).children.push(offcut((60.75, 4.375, 31.125, 7.625), None));
    finish(&mut plan, &job, (330.26, 320.0, 0.0311), (17, 16));
    assert_eq!(check(&job, &pile, &plan), []);
}
