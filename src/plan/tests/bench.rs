//! Hand-made cases: a job, a pile, the milled problem and a layout, without any search.
//!
//! Lengths are inches as floats that are exact in binary (halves, eighths), so that a case reads like a cutting ticket.

use super::super::check::check;
use super::super::{Case, Facts, Length, Money, Run, ShopPlan, build};
use crate::job::{Faces, Job, Lamination, Part, PartGrain, Shop, Wanted};
use crate::measure::Units;
use crate::milling::{Milled, MilledCutting, MilledItem, MilledStock, StockRef};
use crate::nesting::{
    BlankAt, BoardLayout, BoardStock, Credit, Cutting, Item, Kerfs, Kind, Layout, Outcome, Problem, Product, Rect,
    SectionAt, SectionClass, Shape, SheetNode, SheetPiece, SheetStock, StickLayout, StickStock, Stock, StripAt,
    StripKind, Why,
};
use crate::pile::{
    Board, Defect, DefectFace, DefectKind, Face, Pile, Price, Sheet, SheetGrain, Stick, Surfaced, Tally, Warp,
};

/// Ticks of so many inches.
pub fn t(inches: f64) -> i64 {
    (inches * Length::PER_INCH as f64).round() as i64
}

/// So many inches.
pub fn len(inches: f64) -> Length {
    Length::from_ticks(t(inches))
}

/// The money of a decimal.
pub fn money(amount: f64) -> Money {
    Money::from_f64(amount).expect("an amount in a test is a number")
}

/// A case under construction.
pub struct Bench {
    pub job: Job,
    pub pile: Pile,
    pub milled: Milled,
    pub outcome: Outcome,
}

impl Bench {
    pub fn new() -> Bench {
        let shop = Shop::defaults(Units::Inches);
        Bench {
            job: Job { units: Units::Inches, title: "Bench".to_owned(), shop, parts: Vec::new() },
            pile: Pile {
                units: Units::Inches,
                tally: Tally::Exact,
                boards: Vec::new(),
                sheets: Vec::new(),
                sticks: Vec::new(),
            },
            milled: Milled { problem: Problem::default(), items: Vec::new(), stock: Vec::new(), rows: Vec::new() },
            outcome: Outcome {
                layouts: Vec::new(),
                made: Vec::new(),
                cost: 0,
                bound: 0,
                proof: "by hand",
                shortage_proven: Vec::new(),
                why: Why::Gap,
                work: 1,
            },
        }
    }

    /// A cherry part, finished `length` x `width` x 7/8, with its item; the item's index.
    pub fn part(&mut self, id: &str, qty: u32, length: f64, width: f64) -> usize {
        self.made_of(id, qty, length, width, Wanted::Species("cherry".to_owned()))
    }

    pub fn made_of(&mut self, id: &str, qty: u32, length: f64, width: f64, stock: Wanted) -> usize {
        self.job.parts.push(Part {
            id: id.to_owned(),
            qty,
            stock,
            thickness: len(0.875),
            width: len(width),
            length: len(length),
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
        });
        let part = self.job.parts.len() - 1;
        self.milled.items.push(MilledItem { part, copies: 1, layers: 1, thickness: len(0.875), staves: None });
        self.milled.problem.items.push(Item {
            demand: qty,
            per_copy: 1,
            excess: 0,
            product: part,
            length: t(length),
            width: t(width),
        });
        self.milled.problem.products.push(Product { copies: qty, finished: 1, priority: 0, value: 1 });
        self.outcome.made.push(0);
        self.outcome.shortage_proven.push(false);
        self.milled.items.len() - 1
    }

    /// Makes the part of an item a lamination of layers 1 1/16 thick: `outer` pieces of the item and `inner` of a new one,
    /// whose index it gives.
    pub fn laminate(&mut self, item: usize, outer: u32, inner: u32) -> usize {
        let layers = outer + inner;
        let part = self.milled.items[item].part;
        self.job.parts[part].lamination = Some(Lamination { layers: Some(layers) });
        self.job.parts[part].thickness = len(2.0);
        (self.milled.items[item].layers, self.milled.items[item].thickness) = (layers, len(1.03125));
        self.milled.items.push(self.milled.items[item].clone());
        let mut kind = self.milled.problem.items[item].clone();
        let copies = kind.demand;
        (kind.demand, kind.per_copy) = (copies * inner, inner);
        self.milled.problem.items.push(kind);
        let kind = &mut self.milled.problem.items[item];
        (kind.demand, kind.per_copy) = (copies * outer, outer);
        self.outcome.made.push(0);
        self.outcome.shortage_proven.push(false);
        self.milled.items.len() - 1
    }

    /// A flat, straight cherry board 1 1/4 thick that costs `cost`; its class.
    pub fn board(&mut self, id: &str, length: f64, width: f64, cost: f64) -> usize {
        self.pile.boards.push(Board {
            id: id.to_owned(),
            species: "Cherry".to_owned(),
            nominal: None,
            thickness: len(1.25),
            width: len(width),
            length: len(length),
            grade: None,
            surfaced: Surfaced::Rough,
            rings: None,
            heart: None,
            price: Price::Piece(money(cost)),
            board_feet: None,
            surface_measure: None,
            moisture: None,
            warp: Warp::default(),
            defects: Vec::new(),
            quantity: 1,
        });
        let geometry = BoardStock {
            length: t(length),
            width: t(width),
            end_trim: t(1.0),
            kerf_cross: t(0.125),
            kerf_rip: t(0.125),
            cuttings: Vec::new(),
            blocked: vec![Vec::new()],
            classes: vec![SectionClass {
                min_length: t(14.0),
                max_length: t(length - 2.0),
                end_margin: t(3.0),
                low: t(0.125),
                high: t(width - 0.25),
                strips: Vec::new(),
            }],
            defects: Vec::new(),
        };
        self.stock(StockRef::Board(self.pile.boards.len() - 1), cost, Kind::Board(geometry))
    }

    fn stock(&mut self, source: StockRef, cost: f64, kind: Kind) -> usize {
        let credit = Credit { rate_numerator: 0, rate_denominator: 1, min_length: t(24.0), min_width: t(3.0) };
        self.milled.problem.stock.push(Stock {
            count: 1,
            cost: money(cost).micros_floor(),
            credit: Some(credit),
            kind,
            together: vec![],
            wider: None,
        });
        self.milled.stock.push(MilledStock { source, cuttings: Vec::new() });
        self.milled.stock.len() - 1
    }

    pub fn geometry(&mut self, class: usize) -> &mut BoardStock {
        match &mut self.milled.problem.stock[class].kind {
            Kind::Board(board) => board,
            _ => panic!("class {class} is no board"),
        }
    }

    /// The board behind a class.
    pub fn lumber(&mut self, class: usize) -> &mut Board {
        match self.milled.stock[class].source {
            StockRef::Board(index) => &mut self.pile.boards[index],
            _ => panic!("class {class} is no board"),
        }
    }

    /// A knot that blocks everything, with the shop's margins of 1/2 x 1/4 round it.
    pub fn knot(&mut self, class: usize, x: f64, y: f64, length: f64, width: f64, face: DefectFace) {
        self.lumber(class).defects.push(Defect {
            kind: DefectKind::Knot,
            x: len(x),
            y: len(y),
            length: len(length),
            width: len(width),
            face,
            sound: false,
        });
        let grown = Rect { x0: t(x - 0.5), x1: t(x + length + 0.5), y0: t(y - 0.25), y1: t(y + width + 0.25) };
        self.geometry(class).blocked[0].push(grown);
    }

    /// A cutting of the board: blank = the part's finished size + 1/2 x 1/8, and as much again on a layer; planed. Its
    /// index.
    pub fn cutting(&mut self, class: usize, leaves: &[usize]) -> usize {
        let milled = &self.milled.items[leaves[0]];
        let part = &self.job.parts[milled.part];
        let times = if milled.layers > 1 { 2.0 } else { 1.0 };
        let (net_length, net_width) = (part.length.ticks(), part.width.ticks());
        let cutting = Cutting {
            length: net_length + t(0.5 * times),
            width: net_width + t(0.125 * times),
            net_dx: t(0.25 * times),
            net_dy: t(0.0625 * times),
            net_length,
            net_width,
            blocked: 0,
            yields: leaves.iter().map(|&item| (item, 1)).collect(),
        };
        let width = cutting.width;
        self.milled.stock[class].cuttings.push(MilledCutting {
            leaves: leaves.to_vec(),
            planed: true,
            face_up: Face::Top,
            block: Vec::new(),
        });
        let board = self.geometry(class);
        board.cuttings.push(cutting);
        let index = board.cuttings.len() - 1;
        board.classes[0].strips.push(StripKind { width, cuttings: vec![index] });
        index
    }

    /// Cuts a board; every blank counts as made.
    pub fn cut(&mut self, class: usize, sections: Vec<SectionAt>, offcuts: &[(f64, f64)]) {
        for blank in sections.iter().flat_map(|s| &s.strips).flat_map(|s| &s.blanks) {
            for &leaf in &self.milled.stock[class].cuttings[blank.cutting].leaves {
                self.outcome.made[leaf] += 1;
            }
        }
        let offcuts = offcuts.iter().map(|&(from, to)| (t(from), t(to))).collect();
        let shape = Shape::Board(BoardLayout { sections, offcuts });
        self.outcome.layouts.push(Layout { stock: class, shape });
    }

    /// Oak plywood that costs 92, with one piece kind an item; its class.
    pub fn sheet(&mut self, id: &str, length: f64, width: f64, items: &[usize]) -> usize {
        self.pile.sheets.push(Sheet {
            id: id.to_owned(),
            material: "oak ply".to_owned(),
            thickness: len(0.75),
            length: len(length),
            width: len(width),
            grain: SheetGrain::Length,
            quantity: 1,
            cost: money(92.0),
        });
        let pieces = items
            .iter()
            .map(|&item| {
                let part = &self.job.parts[self.milled.items[item].part];
                SheetPiece { item, length: part.length.ticks(), width: part.width.ticks(), turned: false }
            })
            .collect();
        let kind = Kind::Sheet(SheetStock {
            length: t(length),
            width: t(width),
            trim: t(0.25),
            kerf: Kerfs { cross: t(0.125), rip: t(0.125) },
            stages: 3,
            first: None,
            pieces,
        });
        let class = self.stock(StockRef::Sheet(self.pile.sheets.len() - 1), 92.0, kind);
        self.milled.stock[class].cuttings = flat_cuttings(items);
        class
    }

    pub fn cut_sheet(&mut self, class: usize, tree: SheetNode, made: &[(usize, u32)]) {
        self.count(made);
        self.outcome.layouts.push(Layout { stock: class, shape: Shape::Sheet(tree) });
    }

    /// Ash squares 72 long that cost 21 each, with one piece kind an item; their class.
    pub fn sticks(&mut self, id: &str, quantity: u32, items: &[usize]) -> usize {
        self.pile.sticks.push(Stick {
            id: id.to_owned(),
            material: "ash square".to_owned(),
            thickness: len(2.0),
            width: len(2.0),
            length: len(72.0),
            quantity,
            cost: money(21.0),
        });
        let pieces =
            items.iter().map(|&item| (item, self.job.parts[self.milled.items[item].part].length.ticks())).collect();
        let kind = Kind::Stick(StickStock { length: t(72.0), trim: t(0.25), kerf: t(0.125), pieces });
        let class = self.stock(StockRef::Stick(self.pile.sticks.len() - 1), 21.0, kind);
        self.milled.problem.stock[class].count = quantity;
        self.milled.stock[class].cuttings = flat_cuttings(items);
        class
    }

    pub fn cut_stick(&mut self, class: usize, pieces: &[(f64, usize)], offcuts: &[(f64, f64)], made: &[(usize, u32)]) {
        self.count(made);
        let shape = Shape::Stick(StickLayout {
            pieces: pieces.iter().map(|&(x, piece)| (t(x), piece)).collect(),
            offcuts: offcuts.iter().map(|&(from, to)| (t(from), t(to))).collect(),
        });
        self.outcome.layouts.push(Layout { stock: class, shape });
    }

    fn count(&mut self, made: &[(usize, u32)]) {
        for &(item, pieces) in made {
            self.outcome.made[item] += pieces;
        }
    }

    pub fn case(&self) -> Case<'_> {
        Case { job: &self.job, pile: &self.pile, milled: &self.milled, outcome: &self.outcome }
    }

    pub fn plan(&self) -> ShopPlan {
        self.try_plan().expect("the case was made to fit")
    }

    /// What the independent checker has against the plan.
    pub fn violations(&self) -> Vec<String> {
        check(&self.job, &self.pile, &self.plan()).iter().map(ToString::to_string).collect()
    }

    pub fn try_plan(&self) -> Result<ShopPlan, super::super::BuildError> {
        let cost = |source: StockRef, _: u32| match source {
            StockRef::Board(i) => match &self.pile.boards[i].price {
                Price::Piece(money) | Price::BoardFoot(money) => money.clone(),
            },
            StockRef::Sheet(i) => self.pile.sheets[i].cost.clone(),
            StockRef::Stick(i) => self.pile.sticks[i].cost.clone(),
        };
        let explain = |part: usize| (format!("why {part}"), format!("buy {part}"));
        let run = Run { seconds: 0.5, threads: 2 };
        build(&self.case(), &Facts { cost: &cost, copy: None, broken: Money::zero(), explain: &explain, seed: 7, run })
    }
}

fn flat_cuttings(items: &[usize]) -> Vec<MilledCutting> {
    items
        .iter()
        .map(|&item| MilledCutting { leaves: vec![item], planed: false, face_up: Face::Top, block: Vec::new() })
        .collect()
}

/// A section of class 0.
pub fn section(x: f64, length: f64, strips: Vec<StripAt>) -> SectionAt {
    SectionAt { x: t(x), length: t(length), class: 0, strips }
}

/// A strip with (x, cutting) of its blanks.
pub fn strip(y: f64, width: f64, blanks: &[(f64, usize)]) -> StripAt {
    let blanks = blanks.iter().map(|&(x, cutting)| BlankAt { x: t(x), cutting }).collect();
    StripAt { y: t(y), width: t(width), blanks }
}

/// The example of the plan's contract: one rail from C-04, the rest of the board kept.
pub fn one_rail() -> Bench {
    let mut bench = Bench::new();
    let rail = bench.part("rail", 1, 23.5, 3.0);
    let class = bench.board("C-04", 98.5, 7.25, 61.25);
    let cutting = bench.cutting(class, &[rail]);
    bench.geometry(class).classes[0].low = t(0.1875);
    let strips = vec![strip(0.1875, 3.125, &[(4.0, cutting)])];
    bench.cut(class, vec![section(1.0, 46.0, strips)], &[(47.125, 98.5)]);
    bench.outcome.bound = 51_000_000;
    bench
}

/// Two boards, a sheet and two sticks: rails and stiles, a narrow slat, a bottom, four feet.
pub fn small_cabinet() -> Bench {
    let mut bench = Bench::new();
    let rail = bench.part("rail", 3, 24.0, 3.0);
    let stile = bench.part("stile", 2, 30.0, 2.0);
    let slat = bench.part("slat", 1, 20.0, 1.5);
    let ply = Wanted::Material("oak ply".to_owned());
    let bottom = bench.made_of("bottom", 2, 40.0, 18.0, ply);
    bench.job.parts[3].thickness = len(0.75);
    let square = Wanted::Material("ash square".to_owned());
    let foot = bench.made_of("foot", 4, 20.0, 2.0, square);
    bench.job.parts[4].thickness = len(2.0);

    let first = bench.board("A-1", 96.0, 8.0, 40.0);
    let rail_cutting = bench.cutting(first, &[rail]);
    let stile_cutting = bench.cutting(first, &[stile]);
    let slat_cutting = bench.cutting(first, &[slat]);
    bench.geometry(first).classes[0].strips[0].cuttings.push(slat_cutting);
    // 1 to 31.5: two rail-wide strips, the slat in the second; 31.625 to 68.125: two stile strips.
    let rails = vec![strip(0.125, 3.125, &[(4.0, rail_cutting)]), strip(3.375, 3.125, &[(4.0, slat_cutting)])];
    let stiles = vec![strip(0.125, 2.125, &[(34.625, stile_cutting)]), strip(2.375, 2.125, &[(34.625, stile_cutting)])];
    bench.cut(first, vec![section(1.0, 30.5, rails), section(31.625, 36.5, stiles)], &[(68.25, 96.0)]);

    let second = bench.board("A-2", 72.0, 4.0, 20.0);
    let only_rail = bench.cutting(second, &[rail]);
    let rails = vec![strip(0.125, 3.125, &[(4.0, only_rail), (28.625, only_rail)])];
    bench.cut(second, vec![section(1.0, 55.125, rails)], &[]);

    let sheet = bench.sheet("PLY", 96.0, 48.0, &[bottom]);
    let pieces = [(0.25, 0.25), (40.375, 0.25)].map(|(x, y)| SheetNode::Piece { x: t(x), y: t(y), piece: 0 });
    let row = SheetNode::Split {
        x: t(0.25),
        y: t(0.25),
        length: t(95.5),
        width: t(18.0),
        direction: crate::nesting::Direction::Cross,
        children: pieces.to_vec(),
    };
    let rest = SheetNode::Remnant { x: 0, y: t(18.375), length: t(96.0), width: t(29.625) };
    let whole = SheetNode::Split {
        x: 0,
        y: 0,
        length: t(96.0),
        width: t(48.0),
        direction: crate::nesting::Direction::Rip,
        children: vec![row, rest],
    };
    bench.cut_sheet(sheet, whole, &[(bottom, 2)]);

    let sticks = bench.sticks("SQ", 2, &[foot]);
    bench.cut_stick(sticks, &[(0.25, 0), (20.375, 0), (40.5, 0)], &[], &[(foot, 3)]);
    bench.cut_stick(sticks, &[(0.25, 0)], &[(20.375, 72.0)], &[(foot, 1)]);
    bench.outcome.bound = 150_000_000;
    bench
}
