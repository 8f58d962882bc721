//! Short ways to put parts, boards, nodes and plans down in a test.
//!
//! Lengths are plain inches here; what follows from the trees of a plan (cuts, offcut rows, work lists) is filled in by
//! `finish`.

use flitchwork::job::{Faces, Job, Match, MatchRule, MatchScope, Part, PartGrain, Wanted};
use flitchwork::measure::{Length, Money, Units};
use flitchwork::pile::{Board, Defect, DefectFace, DefectKind, Price, Surfaced, Warp};
use flitchwork::plan::{
    CutKind, FORMAT, Node, OffcutRow, PullRow, Rectangle, Role, RoughRow, Run, SettingRow, ShopPlan, Status, StockKind,
    StockUse, Stop, Work,
};

use crate::saw::saw;

/// Inches, exactly, for figures in 128ths.
pub fn inch(value: f64) -> Length {
    let of_128 = value * 128.0;
    assert_eq!(of_128.fract(), 0.0, "{value} in is no whole 128th");
    Length::from_inch_fraction(of_128 as i64, 128)
}

/// Thousandths of an inch, exactly.
pub fn mil(thousandths: i64) -> Length {
    Length::from_inch_fraction(thousandths, 1000)
}

pub fn money(amount: f64) -> Money {
    Money::from_f64(amount).expect("a finite amount")
}

pub fn part(id: &str, qty: u32, stock: Wanted, thickness: f64, width: f64, length: f64) -> Part {
    Part {
        id: id.into(),
        qty,
        stock,
        thickness: inch(thickness),
        width: inch(width),
        length: inch(length),
        tenons: [Length::ZERO; 2],
        faces: Faces::C1f,
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

pub fn species(name: &str) -> Wanted {
    Wanted::Species(name.into())
}

pub fn material(name: &str) -> Wanted {
    Wanted::Material(name.into())
}

pub fn matched(group: &str, rule: MatchRule, scope: MatchScope, worth: Option<f64>) -> Option<Match> {
    Some(Match { group: group.into(), rule, scope, worth: worth.map(money) })
}

pub fn board(id: &str, species: &str, thickness: Length, width: f64, length: f64, price: Price) -> Board {
    Board {
        id: id.into(),
        species: species.into(),
        nominal: None,
        thickness,
        width: inch(width),
        length: inch(length),
        grade: None,
        surfaced: Surfaced::Rough,
        rings: None,
        heart: None,
        price,
        board_feet: None,
        surface_measure: None,
        moisture: None,
        warp: Warp::default(),
        defects: Vec::new(),
        quantity: 1,
    }
}

pub fn defect(x: f64, y: f64, length: f64, width: f64, face: DefectFace, sound: bool) -> Defect {
    Defect { kind: DefectKind::Knot, x: inch(x), y: inch(y), length: inch(length), width: inch(width), face, sound }
}

/// A plain node.
pub fn node(x: f64, y: f64, length: f64, width: f64) -> Node<Length> {
    Node {
        x: inch(x),
        y: inch(y),
        length: inch(length),
        width: inch(width),
        role: None,
        cut: None,
        children: Vec::new(),
        credit: None,
        part: None,
        copy: None,
        layer: None,
        stave: None,
        thickness: None,
        turned: false,
        leaves: Vec::new(),
        net: None,
    }
}

/// A parted node.
pub fn parted(
    (x, y, length, width): (f64, f64, f64, f64),
    role: Option<Role>,
    cut: CutKind,
    children: Vec<Node<Length>>,
) -> Node<Length> {
    Node { role, cut: Some(cut), children, ..node(x, y, length, width) }
}

/// A blank with its net rectangle, given as (x, y, length, width) each.
pub fn blank(part: &str, copy: u32, (x, y, l, w): (f64, f64, f64, f64), net: (f64, f64, f64, f64)) -> Node<Length> {
    let net = Rectangle { x: inch(net.0), y: inch(net.1), length: inch(net.2), width: inch(net.3) };
    Node { role: Some(Role::Blank), part: Some(part.into()), copy: Some(copy), net: Some(net), ..node(x, y, l, w) }
}

/// A blank that is its own net: from a sheet or a stick.
pub fn ready(part: &str, copy: u32, at: (f64, f64, f64, f64)) -> Node<Length> {
    blank(part, copy, at, at)
}

pub fn offcut((x, y, length, width): (f64, f64, f64, f64), credit: Option<f64>) -> Node<Length> {
    Node { role: Some(Role::Offcut), credit: credit.map(money), ..node(x, y, length, width) }
}

pub fn stock_use(id: &str, kind: StockKind, cost: f64, credit: f64, tree: Node<Length>) -> StockUse<Length> {
    StockUse { id: id.into(), copy: 1, kind, cost: money(cost), credit: money(credit), tree }
}

/// A plan with those pieces of stock and nothing else said; `finish` fills in what follows from the trees.
pub fn plan_of(stock: Vec<StockUse<Length>>) -> ShopPlan {
    ShopPlan {
        format: FORMAT.into(),
        units: Units::Inches,
        title: "test".into(),
        status: Status::Complete,
        stop: Stop::Gap,
        cost: Money::zero(),
        broken: Money::zero(),
        bound: Money::zero(),
        gap: 0.0,
        proven: false,
        proof: "by hand".into(),
        seed: 1,
        run: Run { seconds: 0.0, threads: 1 },
        pieces_required: 0,
        pieces_placed: 0,
        stock,
        glueups: Vec::new(),
        shortages: Vec::new(),
        cautions: Vec::new(),
        cuts: Vec::new(),
        work: Work {
            pull: Vec::new(),
            rough: Vec::new(),
            planer: Vec::new(),
            rips: Vec::new(),
            crosscuts: Vec::new(),
            sticks: Vec::new(),
        },
        offcuts: Vec::new(),
        weights: Vec::new(),
    }
}

/// Sets the figures (given by hand) and draws up cuts, offcut rows and work lists.
pub fn finish(plan: &mut ShopPlan, job: &Job, (cost, bound, gap): (f64, f64, f64), (required, placed): (u32, u32)) {
    plan.cost = money(cost);
    plan.bound = money(bound);
    plan.gap = gap;
    plan.pieces_required = required;
    plan.pieces_placed = placed;
    saw(plan, job);
    list_offcuts(plan);
    list_work(plan);
}

fn list_offcuts(plan: &mut ShopPlan) {
    fn gather(entry: &StockUse<Length>, node: &Node<Length>, rows: &mut Vec<OffcutRow<Length>>) {
        if node.role == Some(Role::Offcut) {
            rows.push(OffcutRow {
                stock: entry.id.clone(),
                stock_copy: entry.copy,
                x: node.x,
                y: node.y,
                length: node.length,
                width: node.width,
                credit: node.credit.clone().unwrap_or_default(),
            });
        }
        for child in &node.children {
            gather(entry, child, rows);
        }
    }
    let mut rows = Vec::new();
    for entry in &plan.stock {
        gather(entry, &entry.tree, &mut rows);
    }
    plan.offcuts = rows;
}

fn list_work(plan: &mut ShopPlan) {
    let row = |entry: &StockUse<Length>| PullRow {
        stock: entry.id.clone(),
        stock_copy: entry.copy,
        kind: entry.kind,
        wood: String::new(),
        thickness: Length::ZERO,
        width: entry.tree.width,
        length: entry.tree.length,
        makes: String::new(),
        remarks: Vec::new(),
    };
    plan.work.pull = plan.stock.iter().map(row).collect();
    let set = |kind: CutKind| {
        let cut = plan.cuts.iter().find(|cut| cut.cut == kind && cut.setting.is_some());
        cut.map(|cut| SettingRow {
            setting: cut.setting.unwrap_or_default(),
            cuts: vec![cut.number],
            makes: String::new(),
        })
    };
    plan.work.rips = set(CutKind::Rip).into_iter().collect();
    plan.work.crosscuts = set(CutKind::Cross).into_iter().collect();
    let first = plan.stock.first().expect("a plan uses stock");
    plan.work.rough = vec![RoughRow {
        stock: first.id.clone(),
        stock_copy: 1,
        from: Length::ZERO,
        to: first.tree.length,
        cuts: plan.cuts.first().map(|cut| cut.number).into_iter().collect(),
        makes: String::new(),
    }];
}
