//! Real boards: red oak of the US Forest Service's data bank of kiln-dried lumber, with the official grades.
//!
//! The boards are those of Gatchell, Thomas and Walker 1998 (General Technical Report NE-245, public domain), a dozen of
//! them, in quarter inches, as `tests/data/lumber/red_oak.json` holds them. The front is taken as our top face, the back
//! as our bottom one, both measured from the same corner; wood that is missing or split goes through.

use std::sync::atomic::AtomicBool;

use flitchwork::job::{Faces, Job, Part, PartGrain, Shop, Wanted};
use flitchwork::measure::{Length, Money, Units};
use flitchwork::pile::{Board, Defect, DefectFace, DefectKind, Nominal, Pile, Price, Surfaced, Tally, Warp};
use flitchwork::plan::check::check;
use flitchwork::plan::{Node, Options, Role, ShopPlan, Status, make};
use serde::Deserialize;

#[derive(Deserialize)]
struct Bank {
    source: String,
    boards: Vec<Measured>,
}

#[derive(Clone, Deserialize)]
struct Measured {
    name: String,
    grade: String,
    length: i64,
    width: i64,
    surface_measure_width: i64,
    defects: Marked,
}

#[derive(Clone, Deserialize)]
struct Marked {
    front: Vec<Rectangle>,
    back: Vec<Rectangle>,
}

/// Kind, and x0, y0, x1, y1 in quarter inches.
#[derive(Clone, Deserialize)]
struct Rectangle(String, i64, i64, i64, i64);

fn bank() -> Vec<Measured> {
    let bank: Bank = serde_json::from_str(include_str!("data/lumber/red_oak.json")).expect("the data are well formed");
    assert!(bank.source.contains("NE-245"));
    bank.boards
}

fn quarters(n: i64) -> Length {
    Length::from_inch_fraction(n, 4)
}

/// The bank's kinds in our words: what it is, whether it goes through, whether it is sound.
fn kind_of(name: &str) -> (DefectKind, bool, bool) {
    match name {
        "VOID" | "WANE" => (DefectKind::Wane, true, false),
        "SPLIT_OR_SHAKE" => (DefectKind::Split, true, false),
        "HOLE" => (DefectKind::Hole, true, false),
        "DECAY" => (DefectKind::Stain, true, false),
        "PITH" => (DefectKind::Pith, false, false),
        "BARK_POCKET" => (DefectKind::Bark, false, false),
        "UNSOUND_KNOT" => (DefectKind::Knot, false, false),
        "SOUND_KNOT" => (DefectKind::Knot, false, true),
        other => panic!("the bank has no kind {other}"),
    }
}

fn defects(marked: &Marked) -> Vec<Defect> {
    let of_face = |list: &[Rectangle], face: DefectFace| -> Vec<Defect> {
        let defect = |Rectangle(name, x0, y0, x1, y1): &Rectangle| {
            let (kind, through, sound) = kind_of(name);
            let face = if through { DefectFace::Through } else { face };
            let (length, width) = (quarters(x1 - x0), quarters(y1 - y0));
            Defect { kind, x: quarters(*x0), y: quarters(*y0), length, width, face, sound }
        };
        list.iter().map(defect).collect()
    };
    let mut all = of_face(&marked.front, DefectFace::Top);
    for defect in of_face(&marked.back, DefectFace::Bottom) {
        if !all.contains(&defect) {
            all.push(defect);
        }
    }
    all
}

/// The boards as a pile of 4/4 at an invented 6.40 a board foot. Flat: warp is not in the bank, crook is in its VOIDs.
fn pile(boards: &[Measured]) -> Pile {
    let board = |b: &Measured| Board {
        id: b.name.clone(),
        species: "red oak".into(),
        nominal: Some(Nominal { numerator: 4, denominator: 4 }),
        thickness: Length::from_inches(1),
        width: quarters(b.width),
        length: quarters(b.length),
        grade: Some(b.grade.clone()),
        surfaced: Surfaced::Rough,
        rings: None,
        heart: None,
        price: Price::BoardFoot(Money::from_micros(6_400_000)),
        board_feet: None,
        surface_measure: u32::try_from((b.surface_measure_width * b.length + 1152) / 2304).ok(),
        moisture: None,
        warp: Warp::default(),
        defects: defects(&b.defects),
        quantity: 1,
    };
    Pile {
        units: Units::Inches,
        tally: Tally::Hardwood,
        boards: boards.iter().map(board).collect(),
        sheets: Vec::new(),
        sticks: Vec::new(),
    }
}

fn part(id: &str, qty: u32, thickness: Length, width: Length, length: Length, faces: Faces) -> Part {
    Part {
        id: id.into(),
        qty,
        stock: Wanted::Species("red oak".into()),
        thickness,
        width,
        length,
        tenons: [Length::ZERO; 2],
        faces,
        rings: Vec::new(),
        grain: PartGrain::Along,
        priority: 0,
        value: None,
        group: None,
        note: None,
        lamination: None,
        panel: None,
        matching: None,
    }
}

fn planned(job: &Job, pile: &Pile, work: u64) -> ShopPlan {
    let options = Options { seconds: None, work: Some(work), gap: 0.0, seed: 1, threads: 2 };
    let plan = make(job, pile, &options, &AtomicBool::new(false), &|_| ()).expect("a lawful plan");
    assert_eq!(check(job, pile, &plan), Vec::new());
    plan
}

/// Every blank of a tree.
fn blanks<'a>(node: &'a Node<Length>, found: &mut Vec<&'a Node<Length>>) {
    if node.role == Some(Role::Blank) {
        found.push(node);
    }
    node.children.iter().for_each(|child| blanks(child, found));
}

/// Two small tables.
fn tables() -> Job {
    let (seven_eighths, sixteenths) = (Length::from_inch_fraction(13, 16), |n| Length::from_inch_fraction(n, 16));
    let inches = Length::from_inches;
    Job {
        units: Units::Inches,
        title: "two hall tables".into(),
        shop: Shop::defaults(Units::Inches),
        parts: vec![
            part("stave", 8, seven_eighths, inches(3), inches(38), Faces::C1f),
            part("long apron", 4, seven_eighths, sixteenths(52), inches(32), Faces::C2f),
            part("short apron", 4, seven_eighths, sixteenths(52), inches(10), Faces::C1f),
            part("runner", 4, sixteenths(12), sixteenths(24), inches(11), Faces::Sound),
            part("cleat", 4, sixteenths(12), sixteenths(16), inches(9), Faces::Any),
        ],
    }
}

#[test]
fn two_tables_are_cut_from_real_boards_clear_of_every_defect_of_the_data_bank() {
    let boards = bank();
    let (job, pile) = (tables(), pile(&boards));
    let plan = planned(&job, &pile, 60);
    assert_eq!(plan.status, Status::Complete);
    assert_eq!(plan.pieces_placed, 24);
    assert!(plan.bound <= plan.cost && plan.bound > Money::zero());
    for stock in &plan.stock {
        let board = boards.iter().find(|b| b.name == stock.id).expect("the plan uses boards of the pile");
        let mut cut = Vec::new();
        blanks(&stock.tree, &mut cut);
        assert!(!cut.is_empty());
        for blank in cut {
            let part = blank.part.as_deref().expect("nothing is resawn");
            let net = blank.net.as_ref().expect("a blank has its finished piece");
            // The bank's own quarters, against the net in ticks: no margin, no shared geometry.
            let meets = |Rectangle(_, x0, y0, x1, y1): &Rectangle| {
                net.x < quarters(*x1)
                    && quarters(*x0) < net.x + net.length
                    && net.y < quarters(*y1)
                    && quarters(*y0) < net.y + net.width
            };
            let on = |list: &[Rectangle]| list.iter().any(meets);
            let (front, back) = (on(&board.defects.front), on(&board.defects.back));
            let clear = match part {
                "stave" | "short apron" => !front || !back,
                "long apron" => !front && !back,
                "runner" => true,
                "cleat" => true,
                other => panic!("the job has no part {other}"),
            };
            assert!(clear, "{part} on {} at {:?}", stock.id, net);
            let unsound = |list: &[Rectangle]| list.iter().any(|r| meets(r) && !kind_of(&r.0).2);
            assert!(part == "cleat" || !(unsound(&board.defects.front) || unsound(&board.defects.back)));
        }
    }
}

/// A shop that loses nothing: what is left is the board's own figure.
fn shop_without_losses() -> Shop {
    let mut shop = Shop::defaults(Units::Inches);
    let zero = Length::ZERO;
    (shop.kerf.rip, shop.kerf.crosscut) = (zero, zero);
    (shop.trim.board_end, shop.trim.snipe, shop.trim.edge, shop.trim.far_edge) = (zero, zero, zero, zero);
    (shop.defect.margin_length, shop.defect.margin_width) = (zero, zero);
    (shop.allowance.length, shop.allowance.width, shop.allowance.face) = (zero, zero, zero);
    shop.machine.jointer_width = shop.machine.planer_width;
    shop
}

/// The American grading rule (National Hardwood Lumber Association, published rules): the cuttings of an FAS board are at
/// least 4 in x 5 ft or 3 in x 7 ft, clear on the face that is graded and sound on the other.
#[test]
fn every_board_officially_graded_fas_gives_a_cutting_of_the_least_size_of_that_grade() {
    let fas: Vec<Measured> = bank().into_iter().filter(|b| b.grade == "FAS").collect();
    assert_eq!(fas.len(), 4);
    for board in fas {
        let pile = pile(std::slice::from_ref(&board));
        let gives = |width: i64, length: i64| {
            let cutting =
                part("cutting", 1, Length::from_inches(1), quarters(width * 4), quarters(length * 4), Faces::C1f);
            let job = Job {
                units: Units::Inches,
                title: board.name.clone(),
                shop: shop_without_losses(),
                parts: vec![cutting],
            };
            planned(&job, &pile, 10).status == Status::Complete
        };
        assert!(gives(4, 60) || gives(3, 84), "{}", board.name);
    }
}
