//! Plans made by hand for the drawing tests: lawful trees, and the saw cuts that free their pieces.
//!
//! Sizes are in sixteenths of an inch, written `s(n)`. The plans hold what a drawing reads and no more; no optimiser and no
//! milling made them.

use flitchwork::measure::{Length, Money, Units};
use flitchwork::pile::*;
use flitchwork::plan::*;

/// A sixteenth of an inch, the kerf being two.
pub fn s(n: i64) -> Length {
    Length::from_inch_fraction(n, 16)
}

pub fn inches(n: i64) -> Length {
    Length::from_inches(n)
}

const KERF: i64 = 2;

type Tree = Node<Length>;

fn node(
    x: i64,
    y: i64,
    length: i64,
    width: i64,
    role: Option<Role>,
    cut: Option<CutKind>,
    children: Vec<Tree>,
) -> Tree {
    Node {
        x: s(x),
        y: s(y),
        length: s(length),
        width: s(width),
        role,
        cut,
        children,
        credit: None,
        part: None,
        copy: None,
        layer: None,
        stave: None,
        thickness: None,
        turned: false,
        leaves: vec![],
        net: None,
    }
}

/// A blank whose finished piece is half an inch shorter and an eighth narrower.
pub fn blank(x: i64, y: i64, length: i64, width: i64, part: &str, copy: u32) -> Tree {
    let mut blank = exact(x, y, length, width, part, copy);
    blank.net = Some(Rectangle { x: s(x + 4), y: s(y + 1), length: s(length - 8), width: s(width - 2) });
    blank
}

/// A piece cut to its finished size at once, as from a sheet or a stick.
pub fn exact(x: i64, y: i64, length: i64, width: i64, part: &str, copy: u32) -> Tree {
    let mut blank = node(x, y, length, width, Some(Role::Blank), None, vec![]);
    blank.part = Some(part.to_string());
    blank.copy = Some(copy);
    blank.net = Some(Rectangle { x: s(x), y: s(y), length: s(length), width: s(width) });
    blank
}

pub fn strip(x: i64, y: i64, length: i64, width: i64, blanks: Vec<Tree>) -> Tree {
    node(x, y, length, width, Some(Role::Strip), Some(CutKind::Cross), blanks)
}

pub fn section(x: i64, length: i64, width: i64, strips: Vec<Tree>) -> Tree {
    node(x, 0, length, width, Some(Role::Section), Some(CutKind::Rip), strips)
}

pub fn offcut(x: i64, y: i64, length: i64, width: i64, cents: i64) -> Tree {
    let mut offcut = node(x, y, length, width, Some(Role::Offcut), None, vec![]);
    offcut.credit = Some(Money::from_micros(cents * 10_000));
    offcut
}

pub fn split(x: i64, y: i64, length: i64, width: i64, cut: CutKind, children: Vec<Tree>) -> Tree {
    node(x, y, length, width, None, Some(cut), children)
}

pub fn board(id: &str, species: &str, length: i64, width: i64, defects: Vec<Defect>) -> Board {
    Board {
        id: id.to_string(),
        species: species.to_string(),
        nominal: Some(Nominal { numerator: 5, denominator: 4 }),
        thickness: Length::from_inch_fraction(41, 32),
        width: s(width),
        length: s(length),
        grade: Some("FAS".to_string()),
        surfaced: Surfaced::Rough,
        rings: Some(Rings::Flat),
        heart: None,
        price: Price::Piece(Money::from_micros(61_250_000)),
        board_feet: None,
        surface_measure: None,
        moisture: None,
        warp: Warp::default(),
        defects,
        quantity: 1,
    }
}

pub fn defect(kind: DefectKind, x: i64, y: i64, length: i64, width: i64, face: DefectFace, sound: bool) -> Defect {
    Defect { kind, x: s(x), y: s(y), length: s(length), width: s(width), face, sound }
}

pub fn pile(boards: Vec<Board>) -> Pile {
    Pile { units: Units::Inches, tally: Tally::Hardwood, boards, sheets: vec![], sticks: vec![] }
}

pub fn sheet(id: &str) -> Sheet {
    Sheet {
        id: id.to_string(),
        material: "oak ply".to_string(),
        thickness: Length::from_inch_fraction(45, 64),
        length: inches(96),
        width: inches(48),
        grain: SheetGrain::Length,
        quantity: 2,
        cost: Money::from_micros(92_000_000),
    }
}

pub fn stick(id: &str) -> Stick {
    Stick {
        id: id.to_string(),
        material: "ash square".to_string(),
        thickness: inches(2),
        width: inches(2),
        length: inches(72),
        quantity: 6,
        cost: Money::from_micros(21_000_000),
    }
}

/// One piece of stock used, with its tree.
pub fn used(
    id: &str,
    copy: u32,
    kind: StockKind,
    length: i64,
    width: i64,
    cut: CutKind,
    children: Vec<Tree>,
) -> StockUse<Length> {
    StockUse {
        id: id.to_string(),
        copy,
        kind,
        cost: Money::from_micros(61_250_000),
        credit: Money::zero(),
        tree: node(0, 0, length, width, None, Some(cut), children),
    }
}

/// A plan of these pieces of stock, with the cuts that free every piece of their trees.
pub fn plan(title: &str, stock: Vec<StockUse<Length>>) -> ShopPlan {
    let mut cuts = Vec::new();
    for used in &stock {
        cuts_of(used, &used.tree, &mut cuts);
    }
    cuts.sort_by_key(|cut: &Cut<Length>| cut.station);
    for (i, cut) in cuts.iter_mut().enumerate() {
        cut.number = i as u32 + 1;
    }
    Plan {
        format: FORMAT.to_string(),
        units: Units::Inches,
        title: title.to_string(),
        status: Status::Complete,
        stop: Stop::Gap,
        cost: Money::from_micros(61_250_000),
        broken: Money::zero(),
        bound: Money::from_micros(60_123_456),
        gap: 0.018,
        proven: false,
        proof: "by hand".to_string(),
        seed: 1,
        run: Run { seconds: 0.1, threads: 1 },
        pieces_required: 10,
        pieces_placed: 10,
        stock,
        glueups: vec![],
        shortages: vec![],
        cautions: vec!["Rough or twisted stock is never ripped on the table saw.".to_string()],
        cuts,
        work: Work { pull: vec![], rough: vec![], planer: vec![], rips: vec![], crosscuts: vec![], sticks: vec![] },
        offcuts: vec![],
        weights: vec![],
    }
}

/// A cut at either side of every child, one kerf shared between close neighbours.
fn cuts_of(used: &StockUse<Length>, parent: &Tree, cuts: &mut Vec<Cut<Length>>) {
    let Some(direction) = parent.cut else { return };
    let start = |n: &Tree| if direction == CutKind::Cross { n.x } else { n.y };
    let size = |n: &Tree| if direction == CutKind::Cross { n.length } else { n.width };
    let (from_edge, to_edge) = match direction {
        CutKind::Cross => (parent.y, parent.y + parent.width),
        CutKind::Rip => (parent.x, parent.x + parent.length),
    };
    let station = match (used.kind, direction, parent.role) {
        (StockKind::Sheet, ..) => Station::Sheet,
        (StockKind::Stick, ..) => Station::Stick,
        (_, CutKind::Rip, _) => Station::Rip,
        (_, CutKind::Cross, None) => Station::RoughCrosscut,
        (_, CutKind::Cross, Some(_)) => Station::FinalCrosscut,
    };
    let mut reached = start(parent);
    let mut saw = |at: Length, setting: Option<Length>, what: String| {
        cuts.push(Cut {
            number: 0,
            stock: used.id.clone(),
            stock_copy: used.copy,
            station,
            cut: direction,
            at,
            to: at + s(KERF),
            from_edge,
            to_edge,
            setting,
            what,
        });
    };
    for child in &parent.children {
        let name = child.part.clone().unwrap_or_else(|| "the next piece".to_string());
        if start(child) - reached >= s(KERF) {
            saw(start(child) - s(KERF), None, format!("trims before {name}"));
        }
        reached = start(child) + size(child);
        if reached < start(parent) + size(parent) {
            saw(reached, Some(size(child)), format!("frees {name}"));
            reached += s(KERF);
        }
    }
    for child in &parent.children {
        cuts_of(used, child, cuts);
    }
}

/// A cherry board with a defect of most kinds, three sections' worth of strips, a kept end.
pub fn board_with_defects() -> (ShopPlan, Pile) {
    use DefectFace::*;
    use DefectKind::*;
    let (length, width) = (1576, 116);
    let defects = vec![
        defect(Knot, 760, 36, 40, 28, Through, false),
        defect(Check, 0, 50, 60, 8, Through, false),
        defect(Wane, 900, 106, 300, 10, Bottom, false),
        defect(Sap, 100, 0, 500, 9, Top, true),
        defect(Stain, 840, 20, 60, 24, Bottom, true),
        defect(Hole, 1400, 60, 8, 8, Through, false),
    ];
    let sections = vec![
        section(
            80,
            650,
            width,
            vec![
                strip(80, 3, 650, 50, vec![blank(128, 3, 384, 50, "rail", 1)]),
                strip(80, 55, 650, 34, vec![blank(128, 55, 260, 34, "stile", 1), blank(390, 55, 260, 30, "stile", 2)]),
                strip(80, 91, 650, 20, vec![blank(128, 91, 500, 20, "edging", 1)]),
            ],
        ),
        section(
            820,
            340,
            width,
            vec![
                strip(820, 4, 340, 60, vec![blank(868, 4, 240, 60, "drawer front", 1)]),
                strip(820, 66, 340, 34, vec![blank(868, 66, 110, 34, "cleat", 1), blank(980, 66, 110, 34, "cleat", 2)]),
            ],
        ),
        offcut(1162, 0, 414, width, 940),
    ];
    let stock = used("C-04", 1, StockKind::Board, length, width, CutKind::Cross, sections);
    let mut plan = plan("Hall bench", vec![stock]);
    plan.stock[0].credit = Money::from_micros(9_400_000);
    (plan, pile(vec![board("C-04", "cherry", length, width, defects)]))
}

/// A board cut into many pieces too small to be written on.
pub fn board_of_small_pieces() -> (ShopPlan, Pile) {
    let (length, width) = (1000, 96);
    let strips = (0..7)
        .map(|row| {
            let y = 2 + row * 13;
            let blanks = (0..14).map(|i| blank(64 + i * 62, y, 44, 11, "peg", (row * 14 + i + 1) as u32)).collect();
            strip(16, y, 960, 11, blanks)
        })
        .collect();
    let stock = used("A-1", 1, StockKind::Board, length, width, CutKind::Cross, vec![section(16, 960, width, strips)]);
    (plan("Pegs", vec![stock]), pile(vec![board("A-1", "ash", length, width, vec![])]))
}

/// Sixteen feet by five inches: the thinnest picture a maker is likely to ask for.
pub fn long_board() -> (ShopPlan, Pile) {
    use DefectFace::Through;
    let (length, width) = (3072, 80);
    let defects = vec![defect(DefectKind::Knot, 1500, 40, 30, 24, Through, false)];
    let sections = (0..4)
        .map(|i| {
            let x = 16 + i * 755;
            section(
                x,
                740,
                width,
                vec![
                    strip(x, 3, 740, 36, vec![blank(x + 48, 3, 640, 36, "rail", i as u32 * 2 + 1)]),
                    strip(
                        x,
                        41,
                        740,
                        34,
                        vec![
                            blank(x + 48, 41, 320, 34, "slat", i as u32 * 2 + 1),
                            blank(x + 370, 41, 320, 34, "slat", i as u32 * 2 + 2),
                        ],
                    ),
                ],
            )
        })
        .collect();
    let stock = used("W-16", 1, StockKind::Board, length, width, CutKind::Cross, sections);
    (plan("Long bench", vec![stock]), pile(vec![board("W-16", "walnut", length, width, defects)]))
}

/// A sheet ripped, crosscut and ripped again, with a remnant worth keeping.
pub fn ply_sheet() -> (ShopPlan, Pile) {
    use CutKind::*;
    let mut turned = exact(1000, 4, 250, 288, "shelf", 2);
    turned.turned = true;
    let rows = vec![
        split(
            0,
            4,
            1536,
            288,
            Cross,
            vec![
                exact(4, 4, 640, 288, "bottom", 1),
                split(
                    646,
                    4,
                    352,
                    288,
                    Rip,
                    vec![
                        exact(646, 4, 352, 100, "divider", 1),
                        exact(646, 106, 352, 100, "divider", 2),
                        exact(646, 208, 300, 60, "cleat", 1),
                    ],
                ),
                turned,
            ],
        ),
        split(0, 294, 1536, 220, Cross, vec![exact(4, 294, 700, 220, "back", 1), exact(706, 294, 700, 220, "back", 2)]),
        offcut(0, 516, 1536, 252, 1210),
    ];
    let stock = used("PLY-18", 2, StockKind::Sheet, 1536, 768, Rip, rows);
    let mut pile = pile(vec![]);
    pile.sheets.push(sheet("PLY-18"));
    (plan("Cabinet", vec![stock]), pile)
}

/// A stick cut into legs and pegs.
pub fn ash_stick() -> (ShopPlan, Pile) {
    let mut pieces = vec![exact(4, 0, 440, 32, "leg", 1), exact(446, 0, 440, 32, "leg", 2)];
    pieces.extend((0..8).map(|i| exact(888 + i * 18, 0, 16, 32, "foot", i as u32 + 1)));
    let stock = used("SQ", 1, StockKind::Stick, 1152, 32, CutKind::Cross, pieces);
    let mut plan = plan("Stool", vec![stock]);
    plan.offcuts.push(OffcutRow {
        stock: "SQ".to_string(),
        stock_copy: 1,
        x: s(1050),
        y: s(0),
        length: s(102),
        width: s(32),
        credit: Money::zero(),
    });
    let mut pile = pile(vec![]);
    pile.sticks.push(stick("SQ"));
    (plan, pile)
}

/// Names full of markup and of what cannot be printed; resawn leaves, layers and staves.
pub fn hostile_names() -> (ShopPlan, Pile) {
    let id = "<b>&\"C'\u{1}\u{202e}";
    let long = "a part whose name goes on and on because somebody pasted a whole sentence & <more> into the column";
    let mut layer = blank(64, 2, 400, 40, "leg <&>", 1);
    layer.layer = Some(2);
    layer.thickness = Some(s(17));
    let mut stave = blank(480, 2, 300, 40, long, 1);
    stave.stave = Some(3);
    let mut resawn = blank(64, 46, 400, 30, "", 1);
    resawn.part = None;
    resawn.copy = None;
    let leaf = |copy| Leaf { part: "side".to_string(), copy, layer: None, stave: None, thickness: s(6) };
    resawn.leaves = vec![leaf(1), leaf(2)];
    let strips = vec![strip(16, 2, 900, 40, vec![layer, stave]), strip(16, 46, 900, 30, vec![resawn])];
    let stock = used(id, 1, StockKind::Board, 960, 90, CutKind::Cross, vec![section(16, 900, 90, strips)]);
    let mut plan = plan("<script>alert(1)</script> & \"co\"", vec![stock]);
    plan.glueups.push(GlueUp {
        part: long.to_string(),
        copy: 1,
        kind: GlueKind::Panel,
        members: vec![Member {
            stock: id.to_string(),
            stock_copy: 1,
            x: s(480),
            y: s(2),
            stave: Some(3),
            layer: None,
            net_width: Some(s(38)),
            face_up: Some(Face::Bottom),
        }],
        sheet: None,
    });
    let mut board = board(id, "ch<erry", 960, 90, vec![]);
    board.grade = Some("F&S".to_string());
    (plan, pile(vec![board]))
}

/// A plan of one panel, glued from staves of these widths (sixteenths of an inch) from this stock.
pub fn panel(part: &str, stock: &str, widths: &[i64]) -> ShopPlan {
    let member = |(number, &width): (u32, &i64)| Member {
        stock: stock.to_string(),
        stock_copy: number,
        x: s(64 * i64::from(number)),
        y: s(3),
        stave: Some(number),
        layer: None,
        net_width: Some(s(width)),
        face_up: Some(if number % 2 == 0 { Face::Bottom } else { Face::Top }),
    };
    let glued = s(widths.iter().sum());
    let size = |length, width, thickness| Size { length: s(length), width, thickness: s(thickness) };
    let sheet = GlueSheet {
        glued: size(720, glued, 15),
        trimmed: size(704, glued - s(8), 14),
        to_trim: s(8),
        joints: widths.len() as u32 - 1,
        steps: vec!["Dry-fit with all clamps before the glue is opened.".to_string()],
        ..GlueSheet::default()
    };
    let members = (1..).zip(widths).map(member).collect();
    let mut plan = plan("A top", vec![]);
    plan.glueups.push(GlueUp { part: part.to_string(), copy: 1, kind: GlueKind::Panel, members, sheet: Some(sheet) });
    plan
}

/// Every scenario, named.
pub fn all() -> Vec<(&'static str, ShopPlan, Pile)> {
    [
        ("defects", board_with_defects()),
        ("small", board_of_small_pieces()),
        ("long", long_board()),
        ("sheet", ply_sheet()),
        ("stick", ash_stick()),
        ("names", hostile_names()),
    ]
    .into_iter()
    .map(|(name, (plan, pile))| (name, plan, pile))
    .collect()
}

/// All boards, sheets and sticks of the scenarios in one plan.
pub fn together() -> (ShopPlan, Pile) {
    let mut whole = plan("Whole shop", vec![]);
    let mut stock = pile(vec![]);
    for (_, plan, pile) in all() {
        whole.stock.extend(plan.stock);
        whole.cuts.extend(plan.cuts);
        whole.offcuts.extend(plan.offcuts);
        whole.glueups.extend(plan.glueups);
        stock.boards.extend(pile.boards);
        stock.sheets.extend(pile.sheets);
        stock.sticks.extend(pile.sticks);
    }
    whole.status = Status::Short;
    whole.shortages.push(Shortage {
        part: "apron".to_string(),
        missing: 1,
        why: "needs 74 1/2 in clear; the longest clear run in cherry 5/4 is 61 in, on C-04".to_string(),
        buy: "one board of cherry 5/4, 77 in or longer, 4 in or wider".to_string(),
        proven: true,
    });
    (whole, stock)
}
