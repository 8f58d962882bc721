//! A small workshop: one job, one pile and a lawful plan of them, worked out by hand.
//!
//! Covers boards (flat, warped, wide, surfaced), a sheet, a stick, a lamination, a panel, a resawn blank and every rule
//! of matching; one part is missing. Every coordinate is worked out by hand from the model. The scenario is invented.

use flitchwork::job::shop::Shop;
use flitchwork::job::{Faces, Job, Lamination, MatchRule, MatchScope, Panel, Part, PartGrain};
use flitchwork::measure::{Length, Units};
use flitchwork::pile::{
    Board, DefectFace, Face, Nominal, Pile, Price, Rings, Sheet, SheetGrain, Stick, Surfaced, Tally, Warp,
};
use flitchwork::plan::{
    CutKind, GlueKind, GlueSheet, GlueUp, Leaf, Member, Movement, Node, Role, ShopPlan, Shortage, Size, Status,
    StockKind,
};

use crate::support::*;

/// The job of the workshop.
pub fn workshop_job() -> Job {
    let mut shop = Shop::defaults(Units::Inches);
    shop.machine.resaw_height = inch(6.0);
    let cherry = || species("cherry");
    let group = MatchScope::Group;
    Job {
        units: Units::Inches,
        title: "workshop".into(),
        shop,
        parts: vec![
            Part { tenons: [inch(1.0); 2], ..part("rail", 2, cherry(), 0.875, 3.0, 20.0) },
            Part {
                lamination: Some(Lamination { layers: Some(2) }),
                matching: matched("leg", MatchRule::Board, MatchScope::Copy, None),
                ..part("leg", 2, cherry(), 2.0, 2.0, 27.0)
            },
            Part {
                panel: Some(Panel { stave_min: inch(2.5), stave_max: inch(5.5), equal: true, max_boards: Some(1) }),
                ..part("top", 1, cherry(), 0.875, 10.0, 30.0)
            },
            part("slat", 2, cherry(), 0.25, 2.0, 15.0),
            Part {
                matching: matched("fronts", MatchRule::Run, group, None),
                ..part("front", 2, cherry(), 0.875, 4.0, 12.0)
            },
            Part {
                matching: matched("doors", MatchRule::Side, group, Some(20.0)),
                ..part("door", 2, cherry(), 0.875, 3.0, 16.0)
            },
            Part { thickness: mil(709), ..part("bottom", 1, material("oak ply"), 0.5, 18.0, 40.0) },
            Part {
                thickness: mil(700),
                grain: PartGrain::Across,
                ..part("divider", 1, material("oak ply"), 0.5, 10.0, 20.0)
            },
            part("edging", 2, material("ash square"), 2.0, 2.0, 30.0),
            Part {
                rings: vec![Rings::Quarter],
                faces: Faces::C2f,
                ..part("shelf", 1, species("Black  Walnut"), 0.8125, 5.0, 30.0)
            },
            part("spare", 1, cherry(), 0.875, 11.0, 60.0),
        ],
    }
}

/// The pile of the workshop.
pub fn workshop_pile() -> Pile {
    let warped = Board {
        nominal: Some(Nominal { numerator: 5, denominator: 4 }),
        warp: Warp { bow: inch(0.25), crook: inch(0.125), cup: inch(0.0625), twist: Length::ZERO },
        defects: vec![
            defect(10.0, 1.0, 1.0, 1.0, DefectFace::Top, true),
            defect(60.0, 2.25, 2.5, 1.75, DefectFace::Through, false),
            defect(61.0, 3.0, 2.0, 2.0, DefectFace::Through, false),
        ],
        ..board("C-01", "cherry", mil(1280), 7.25, 98.5, Price::BoardFoot(money(9.8)))
    };
    let surfaced = Board {
        surfaced: Surfaced::S2s,
        rings: Some(Rings::Quarter),
        ..board("W-01", "black walnut", inch(0.8125), 6.0, 40.0, Price::Piece(money(30.0)))
    };
    Pile {
        units: Units::Inches,
        tally: Tally::Hardwood,
        boards: vec![
            warped,
            board("C-02", "Cherry ", mil(1280), 7.0, 80.0, Price::Piece(money(50.0))),
            board("C-03", "cherry", mil(1280), 12.0, 100.0, Price::Piece(money(100.0))),
            surfaced,
        ],
        sheets: vec![Sheet {
            id: "PLY".into(),
            material: "oak ply".into(),
            thickness: mil(709),
            length: inch(96.0),
            width: inch(48.0),
            grain: SheetGrain::Length,
            quantity: 2,
            cost: money(92.0),
        }],
        sticks: vec![Stick {
            id: "SQ".into(),
            material: "ash square".into(),
            thickness: inch(2.0),
            width: inch(2.0),
            length: inch(72.0),
            quantity: 6,
            cost: money(21.0),
        }],
    }
}

/// Section 1 x 1..53, blanks in 4..50, crook 1/16 + trim 1/8; then a credited end from 53 1/8.
fn warped_board() -> Node<Length> {
    let rails = vec![
        blank("rail", 1, (4.0, 0.1875, 22.5, 3.125), (4.25, 0.25, 22.0, 3.0)),
        blank("rail", 2, (26.625, 0.1875, 22.5, 3.125), (26.875, 0.25, 22.0, 3.0)),
    ];
    let leaf = |copy| Leaf { part: "slat".into(), copy, layer: None, stave: None, thickness: inch(0.25) };
    let slats = Node {
        part: None,
        copy: None,
        leaves: vec![leaf(1), leaf(2)],
        ..blank("slat", 1, (4.0, 3.4375, 15.5, 2.125), (4.25, 3.5, 15.0, 2.0))
    };
    let strips = vec![
        parted((1.0, 0.1875, 52.0, 3.125), Some(Role::Strip), CutKind::Cross, rails),
        parted((1.0, 3.4375, 52.0, 2.5), Some(Role::Strip), CutKind::Cross, vec![slats]),
    ];
    let section = parted((1.0, 0.0, 52.0, 7.25), Some(Role::Section), CutKind::Rip, strips);
    let end = offcut((53.125, 0.0, 45.375, 7.25), Some(8.10));
    parted((0.0, 0.0, 98.5, 7.25), None, CutKind::Cross, vec![section, end])
}

/// Four layers of 28 x 2 1/4, two a strip.
fn leg_board() -> Node<Length> {
    let layer = |copy, layer, x: f64, y: f64| Node {
        layer: Some(layer),
        thickness: Some(inch(1.03125)),
        ..blank("leg", copy, (x, y, 28.0, 2.25), (x + 0.5, y + 0.125, 27.0, 2.0))
    };
    let strip = |copy, y: f64| {
        let layers = vec![layer(copy, 1, 4.0, y), layer(copy, 2, 32.125, y)];
        parted((1.0, y, 62.125, 2.25), Some(Role::Strip), CutKind::Cross, layers)
    };
    let strips = vec![strip(1, 0.125), strip(2, 2.5)];
    let section = parted((1.0, 0.0, 62.125, 7.0), Some(Role::Section), CutKind::Rip, strips);
    parted((0.0, 0.0, 80.0, 7.0), None, CutKind::Cross, vec![section])
}

/// Twelve inches wide, so flattened strip by strip: staves, doors side by side, fronts in a run.
fn wide_board() -> Node<Length> {
    let stave = |nth, y: f64| {
        let stave = Node { stave: Some(nth), ..blank("top", 1, (4.0, y, 31.0, 5.25), (4.5, y + 0.0625, 30.0, 5.125)) };
        parted((1.0, y, 37.0, 5.25), Some(Role::Strip), CutKind::Cross, vec![stave])
    };
    let door = |copy, y: f64| {
        let door = blank("door", copy, (41.125, y, 16.5, 3.125), (41.375, y + 0.0625, 16.0, 3.0));
        parted((38.125, y, 22.5, 3.125), Some(Role::Strip), CutKind::Cross, vec![door])
    };
    let front = |copy, x: f64| blank("front", copy, (x, 0.125, 12.5, 4.125), (x + 0.25, 0.1875, 12.0, 4.0));
    let fronts = vec![front(1, 63.75), front(2, 76.375)];
    let fronts = parted((60.75, 0.125, 31.125, 4.125), Some(Role::Strip), CutKind::Cross, fronts);
    let section = |x, length, strips| parted((x, 0.0, length, 12.0), Some(Role::Section), CutKind::Rip, strips);
    let sections = vec![
        section(1.0, 37.0, vec![stave(1, 0.125), stave(2, 5.5)]),
        section(38.125, 22.5, vec![door(1, 0.125), door(2, 3.375)]),
        section(60.75, 31.125, vec![fronts]),
    ];
    parted((0.0, 0.0, 100.0, 12.0), None, CutKind::Cross, sections)
}

/// Surfaced stock at its own thickness: no snipe.
fn surfaced_board() -> Node<Length> {
    let shelf = blank("shelf", 1, (1.0, 0.125, 30.5, 5.125), (1.25, 0.1875, 30.0, 5.0));
    let strip = parted((1.0, 0.125, 30.5, 5.125), Some(Role::Strip), CutKind::Cross, vec![shelf]);
    let section = parted((1.0, 0.0, 30.5, 6.0), Some(Role::Section), CutKind::Rip, vec![strip]);
    parted((0.0, 0.0, 40.0, 6.0), None, CutKind::Cross, vec![section])
}

/// Two stages: a rip frees the remnant, a crosscut parts the two parts, the last trim is free.
fn sheet_tree() -> Node<Length> {
    let bottom = ready("bottom", 1, (0.25, 0.25, 40.0, 18.0));
    let divider = Node { turned: true, ..ready("divider", 1, (40.375, 0.25, 10.0, 20.0)) };
    let lane = parted((0.0, 0.25, 96.0, 20.0), None, CutKind::Cross, vec![bottom, divider]);
    let remnant = offcut((0.0, 20.375, 96.0, 27.625), Some(15.88));
    parted((0.0, 0.0, 96.0, 48.0), None, CutKind::Rip, vec![lane, remnant])
}

fn stick_tree() -> Node<Length> {
    let pieces = vec![ready("edging", 1, (0.25, 0.0, 30.0, 2.0)), ready("edging", 2, (30.375, 0.0, 30.0, 2.0))];
    parted((0.0, 0.0, 72.0, 2.0), None, CutKind::Cross, pieces)
}

fn glueups() -> Vec<GlueUp<Length>> {
    let member = |stock: &str, x: f64, y: f64| Member {
        stock: stock.into(),
        stock_copy: 1,
        x: inch(x),
        y: inch(y),
        stave: None,
        layer: None,
        net_width: None,
        face_up: Some(Face::Top),
    };
    let leg = |copy, y: f64| GlueUp {
        part: "leg".into(),
        copy,
        kind: GlueKind::Lamination,
        members: vec![
            Member { layer: Some(1), ..member("C-02", 4.0, y) },
            Member { layer: Some(2), ..member("C-02", 32.125, y) },
        ],
        sheet: Some(leg_sheet()),
    };
    let stave = |nth, y| Member { stave: Some(nth), net_width: Some(inch(5.125)), ..member("C-03", 4.0, y) };
    let members = vec![stave(1, 0.125), stave(2, 5.5)];
    let top = GlueUp { part: "top".into(), copy: 1, kind: GlueKind::Panel, members, sheet: Some(top_sheet()) };
    vec![leg(1, 0.125), leg(2, 2.5), top]
}

/// A leg: 27 + 1/2 + 1/2 long, 2 + 1/8 + 1/8 wide, two layers of 1 1/32 in; five clamps in a row of 28 in.
fn leg_sheet() -> GlueSheet<Length> {
    GlueSheet {
        glued: Size { length: inch(28.0), width: inch(2.25), thickness: inch(2.0625) },
        trimmed: Size { length: inch(27.0), width: inch(2.0), thickness: inch(2.0) },
        to_trim: inch(0.25),
        excess: Length::ZERO,
        joints: 1,
        glue_area: 63.0,
        clamps_in_row: 5,
        clamp_rows: 1,
        movement: None,
        pounds: None,
        steps: Vec::new(),
    }
}

/// The top: 30 + 1 long, two staves of 5 1/8 in, 7/8 + 1/16 thick; 31 x 15/16 in of glue. Its movement is a round figure.
fn top_sheet() -> GlueSheet<Length> {
    let movement = Movement {
        quartersawn: false,
        built: 7.0,
        dry: 6.2,
        damp: 11.0,
        dry_change: inch(-0.015625),
        damp_change: inch(0.09375),
    };
    GlueSheet {
        glued: Size { length: inch(31.0), width: inch(10.25), thickness: inch(0.9375) },
        trimmed: Size { length: inch(30.0), width: inch(10.0), thickness: inch(0.875) },
        to_trim: inch(0.25),
        excess: Length::ZERO,
        joints: 1,
        glue_area: 29.06,
        clamps_in_row: 5,
        clamp_rows: 1,
        movement: Some(movement),
        pounds: Some(6.5),
        steps: vec!["Dry-fit before the glue is opened.".into()],
    }
}

/// The lawful plan of the workshop: 354.25 of stock, 8.10... + 15.88... of credit.
pub fn workshop_plan(job: &Job) -> ShopPlan {
    let mut plan = plan_of(vec![
        stock_use("C-01", StockKind::Board, 61.25, 8.10, warped_board()),
        stock_use("C-02", StockKind::Board, 50.0, 0.0, leg_board()),
        stock_use("C-03", StockKind::Board, 100.0, 0.0, wide_board()),
        stock_use("W-01", StockKind::Board, 30.0, 0.0, surfaced_board()),
        stock_use("PLY", StockKind::Sheet, 92.0, 15.88, sheet_tree()),
        stock_use("SQ", StockKind::Stick, 21.0, 0.0, stick_tree()),
    ]);
    plan.status = Status::Short;
    plan.glueups = glueups();
    plan.shortages = vec![Shortage {
        part: "spare".into(),
        missing: 1,
        why: "needs 11 in clear".into(),
        buy: "cherry 5/4, 12 in wide".into(),
        proven: true,
    }];
    finish(&mut plan, job, (330.26, 320.0, 0.0311), (17, 16));
    plan
}

/// All three files of the workshop.
pub fn workshop() -> (Job, Pile, ShopPlan) {
    let job = workshop_job();
    let plan = workshop_plan(&job);
    (job, workshop_pile(), plan)
}
