//! Puts the problem together: items and products from the parts, stock classes from the pile, sets and blocks from the matches.
//!
//! Rules of the trade are not here; every one is a file of its own beside this one.

use std::collections::BTreeMap;

use num_traits::ToPrimitive;

use crate::job::{Job, Match, MatchRule, MatchScope, Panel, Part, Wanted};
use crate::measure::{Money, Rational};
use crate::milling::blank::{self, Piece};
use crate::milling::matches::{Block, Bundle, MadeOf, Row};
use crate::milling::{
    MilledCutting, MilledItem, MilledStock, StaveCount, StockRef, board, board_suits, copy_value, flat_stock,
    material_is,
};
use crate::nesting::{BoardStock, Credit, Item, Kind, Product, Stock, Together};
use crate::pile::value::{self, Billing};
use crate::pile::{Board, Pile};

/// The parts of the problem as they come together.
pub(super) struct Mill<'a> {
    job: &'a Job,
    pile: &'a Pile,
    /// What may be cut: the item it counts for, how often it does, and the piece.
    pieces: Vec<(usize, u32, Piece)>,
    pub(super) items: Vec<MilledItem>,
    /// Parallel to `items`.
    pub(super) counted: Vec<Item>,
    pub(super) products: Vec<Product>,
    /// Matched pieces that are kept together.
    pub(super) bundles: Vec<Bundle>,
    /// The product and bundle of each group that is bound as a whole.
    of_group: BTreeMap<String, (usize, usize)>,
    /// The copies of a panel of free staves are one item, of which nothing says that each copy is wide enough.
    pooled: bool,
}

impl<'a> Mill<'a> {
    pub(super) fn new(job: &'a Job, pile: &'a Pile, members: &[u32]) -> Mill<'a> {
        let mut mill = Mill::empty(job, pile, false);
        for (p, part) in job.parts.iter().enumerate() {
            mill.add_part(p, part, members[p]);
        }
        mill
    }

    /// Every part of a job without matches in every number of members it may have, and the product of each.
    pub(super) fn in_every_way(job: &'a Job, pile: &'a Pile, members: &[Vec<u32>]) -> (Mill<'a>, Vec<Vec<usize>>) {
        let mut mill = Mill::empty(job, pile, true);
        let mut ways = Vec::new();
        for (p, part) in job.parts.iter().enumerate() {
            let mut of_part = Vec::new();
            for &n in &members[p] {
                of_part.push(mill.products.len());
                mill.add_part(p, part, n);
            }
            ways.push(of_part);
        }
        (mill, ways)
    }

    fn empty(job: &'a Job, pile: &'a Pile, pooled: bool) -> Mill<'a> {
        Mill {
            job,
            pile,
            pieces: Vec::new(),
            items: Vec::new(),
            counted: Vec::new(),
            products: Vec::new(),
            bundles: Vec::new(),
            of_group: BTreeMap::new(),
            pooled,
        }
    }

    fn add_part(&mut self, p: usize, part: &Part, members: u32) {
        let shop = &self.job.shop;
        let pieces = match (&part.stock, &part.panel) {
            (Wanted::Material(_), _) => vec![blank::finished_piece(part)],
            (Wanted::Species(_), None) => blank::lumber_pieces(part, members, shop),
            (Wanted::Species(_), Some(panel)) if panel.equal => {
                vec![
                    blank::equal_stave(part, panel, members, shop)
                        .unwrap_or_else(|| blank::widest_stave(part, panel, shop)),
                ]
            }
            (Wanted::Species(_), Some(panel)) => return self.add_panel(p, part, panel),
        };
        let layers = if part.panel.is_none() && matches!(part.stock, Wanted::Species(_)) { members } else { 1 };
        // A copy of one piece has nothing to be matched with.
        let single = pieces.iter().map(|piece| piece.per_copy).sum::<u32>() == 1;
        match &part.matching {
            Some(matching) if matching.scope == MatchScope::Group => {
                let (product, bundle) = self.in_group(part, matching, part.qty);
                let kinds = self.add_pieces(p, layers, &pieces, product, part.qty, part.qty);
                self.bundles[bundle].rows.push(Row { copies: part.qty, made_of: MadeOf::Pieces(kinds) });
            }
            Some(matching) if !single => {
                // Copies share their pieces, but for neighbours, of which the strips would not tell the copies apart.
                let apart = matching.rule == MatchRule::Side;
                let (products, copies) = if apart { (part.qty, 1) } else { (1, part.qty) };
                for _ in 0..products {
                    let product = self.add_product(part, copies);
                    let kinds = self.add_pieces(p, layers, &pieces, product, 1, copies);
                    let rows = vec![Row { copies: 1, made_of: MadeOf::Pieces(kinds) }];
                    self.bundles.push(Bundle { rule: matching.rule, copies, rows });
                }
            }
            _ => {
                // Copies that must each come from few boards are kept apart, others share their pieces.
                let apart = part.panel.as_ref().is_some_and(|panel| panel.max_boards.is_some());
                let (products, copies) = if apart { (part.qty, 1) } else { (1, part.qty) };
                for _ in 0..products {
                    let product = self.add_product(part, copies);
                    self.add_pieces(p, layers, &pieces, product, 1, copies);
                }
            }
        }
    }

    /// A product of so many copies of the part.
    fn add_product(&mut self, part: &Part, copies: u32) -> usize {
        self.products.push(Product { copies, finished: 1, priority: part.priority, value: copy_value(part) });
        self.products.len() - 1
    }

    /// The product and the bundle of the part's group, which grow by `copies` of it: a group is made as a whole, as its
    /// most important part is.
    fn in_group(&mut self, part: &Part, matching: &Match, copies: u32) -> (usize, usize) {
        let value = copy_value(part).saturating_mul(i64::from(copies));
        let (products, bundles) = (&mut self.products, &mut self.bundles);
        let &mut (product, bundle) = self.of_group.entry(matching.group.clone()).or_insert_with(|| {
            products.push(Product { copies: 1, finished: 0, priority: part.priority, value: 0 });
            bundles.push(Bundle { rule: matching.rule, copies: 1, rows: Vec::new() });
            (products.len() - 1, bundles.len() - 1)
        });
        let of_group = &mut products[product];
        of_group.finished += copies;
        of_group.value = of_group.value.saturating_add(value);
        of_group.priority = of_group.priority.max(part.priority);
        (product, bundle)
    }

    /// Adds an item for each kind of piece, of `copies` copies of the product, of which one stands for `finished` copies of
    /// the part; the kinds with their items.
    fn add_pieces(
        &mut self,
        p: usize,
        layers: u32,
        pieces: &[Piece],
        product: usize,
        finished: u32,
        copies: u32,
    ) -> Vec<(usize, Piece)> {
        let part = &self.job.parts[p];
        let mut kinds = Vec::new();
        for piece in pieces {
            let item = self.items.len();
            let staves = part.panel.as_ref().map(|_| StaveCount::Pieces);
            self.items.push(MilledItem { part: p, copies: finished, layers, thickness: piece.thickness, staves });
            self.counted.push(Item {
                demand: piece.per_copy * copies,
                per_copy: piece.per_copy * finished,
                excess: 0,
                product,
                length: piece.net_length.ticks(),
                width: piece.net_width.ticks(),
            });
            self.pieces.push((item, 1, piece.clone()));
            kinds.push((item, piece.clone()));
        }
        kinds
    }

    /// Adds a panel whose staves are of free width. Every copy is an item of its own, unless pooled, since what it is glued
    /// from must be wide enough for it alone.
    fn add_panel(&mut self, p: usize, part: &Part, panel: &Panel) {
        let staves = blank::free_staves(part, panel, &self.job.shop);
        let (items, copies) = if self.pooled { (1, part.qty) } else { (part.qty, 1) };
        for _ in 0..items {
            let item = self.items.len();
            let (product, bundle) = match &part.matching {
                Some(matching) if matching.scope == MatchScope::Group => {
                    let (product, bundle) = self.in_group(part, matching, copies);
                    (product, Some(bundle))
                }
                Some(matching) => {
                    self.bundles.push(Bundle { rule: matching.rule, copies: 1, rows: Vec::new() });
                    (self.add_product(part, copies), Some(self.bundles.len() - 1))
                }
                None => (self.add_product(part, copies), None),
            };
            if let Some(bundle) = bundle {
                let row = Row { copies: 1, made_of: MadeOf::Staves(item, staves.clone()) };
                self.bundles[bundle].rows.push(row);
            }
            let thickness = part.thickness + self.job.shop.allowance.panel_face;
            let count = StaveCount::Width(staves.unit);
            self.items.push(MilledItem { part: p, copies: 1, layers: 1, thickness, staves: Some(count) });
            self.counted.push(Item {
                demand: staves.needed.saturating_mul(copies),
                per_copy: staves.needed,
                excess: staves.excess.saturating_mul(copies),
                product,
                length: part.full_length().ticks(),
                width: staves.unit.ticks(),
            });
            self.pieces.extend(staves.widths.iter().map(|(piece, units)| (item, *units, piece.clone())));
        }
    }

    /// The bundles that lie in a row and have pieces of sheets or sticks among them.
    pub(super) fn rows(&self) -> Vec<super::MatchedRow> {
        let flat = |block: &Block| {
            block.members.iter().any(|m| matches!(self.job.parts[self.items[m.item].part].stock, Wanted::Material(_)))
        };
        let row = |bundle: &Bundle| {
            let block = bundle.blocks().into_iter().next().filter(flat)?;
            let members = block.members.iter().map(|member| member.item).collect();
            Some(super::MatchedRow { rule: bundle.rule, copies: bundle.copies, members })
        };
        self.bundles.iter().filter_map(row).collect()
    }

    /// By item: the bundle it belongs to.
    fn bundle_of(&self) -> Vec<Option<usize>> {
        let mut of = vec![None; self.items.len()];
        for (b, bundle) in self.bundles.iter().enumerate() {
            bundle.items().iter().for_each(|&(item, _)| of[item] = Some(b));
        }
        of
    }

    /// What a layout of a piece of stock gives whole or not at all, if it can give `items`.
    fn together(&self, kind: &Kind, of_bundle: &[Option<usize>]) -> Vec<Together> {
        let mut given = vec![false; self.items.len()];
        kind.items().into_iter().for_each(|item| given[item] = true);
        // What is cut as one block is together as it is.
        let on_one_board = self.bundles.iter().filter(|bundle| bundle.rule == MatchRule::Board);
        let sets = on_one_board.map(|bundle| Together { pieces: bundle.items(), whole: bundle.copies > 1 });
        let sets = sets.filter(|set| set.pieces.iter().any(|&(item, _)| given[item]));
        let fewest = |item: usize| {
            let milled = &self.items[item];
            fewest_of_layout(&self.job.parts[milled.part], self.counted[item].per_copy / milled.copies.max(1))
        };
        let alone = (0..self.items.len()).filter(|&item| given[item] && of_bundle[item].is_none());
        let shares = alone.map(|item| (item, fewest(item))).filter(|&(_, units)| units > 0);
        sets.chain(shares.map(|share| Together { pieces: vec![share], whole: false })).collect()
    }

    /// Geometry of a board, the wider one for bounds where matched pieces are cut as blocks, and the meaning of cuttings;
    /// `None` when nothing can be cut from it.
    fn board(&self, board: &Board, of_bundle: &[Option<usize>]) -> Option<(Kind, Option<Kind>, Vec<MilledCutting>)> {
        let suits: Vec<bool> = self.job.parts.iter().map(|part| board_suits(board, part)).collect();
        let in_block = |item: usize| of_bundle[item].is_some_and(|b| self.bundles[b].rule != MatchRule::Board);
        let all: Vec<(board::Wanted, bool)> = self
            .wanted()
            .filter(|&(item, ..)| suits[self.items[item].part])
            .map(|(item, count, piece, _)| (board::Wanted { item, count, piece }, in_block(item)))
            .collect();
        let able = |block: &Block| block.members.iter().all(|member| suits[self.items[member.item].part]);
        let blocks: Vec<Block> = self.bundles.iter().flat_map(Bundle::blocks).filter(able).collect();
        let shop = &self.job.shop;
        let some = |stock: &BoardStock| !stock.cuttings.is_empty();
        if all.iter().all(|(_, in_block)| !in_block) {
            let all: Vec<board::Wanted> = all.into_iter().map(|(wanted, _)| wanted).collect();
            let (stock, cuttings) = board::board_stock(board, &all, &[], shop);
            return some(&stock).then_some((Kind::Board(stock), None, cuttings));
        }
        let (bound, _) =
            board::board_stock(board, &all.iter().map(|(wanted, _)| *wanted).collect::<Vec<_>>(), &[], shop);
        let free: Vec<board::Wanted> = all.into_iter().filter(|(_, in_block)| !in_block).map(|(w, _)| w).collect();
        let (stock, cuttings) = board::board_stock(board, &free, &blocks, shop);
        some(&bound).then_some((Kind::Board(stock), Some(Kind::Board(bound)), cuttings))
    }

    /// What may be cut: item, how often it counts, piece, part.
    fn wanted(&self) -> impl Iterator<Item = (usize, u32, &Piece, &'a Part)> {
        let job = self.job;
        self.pieces.iter().map(|(item, count, piece)| (*item, *count, piece, &job.parts[self.items[*item].part]))
    }

    /// What may be cut from sheets or sticks that `fits` says: item, piece, part.
    fn ready(&self, fits: impl Fn(&Part) -> bool) -> Vec<(usize, &Piece, &'a Part)> {
        let wanted = self.wanted().filter(|&(_, _, _, part)| fits(part));
        wanted.map(|(item, _, piece, part)| (item, piece, part)).collect()
    }

    pub(super) fn stock(&self) -> (Vec<Stock>, Vec<MilledStock>) {
        let mut stock = Vec::new();
        let mut milled = Vec::new();
        let mut add = |class: Stock, meaning: MilledStock| {
            stock.push(class);
            milled.push(meaning);
        };
        let billing = value::billing(self.pile);
        let of_bundle = self.bundle_of();
        for (b, board) in self.pile.boards.iter().enumerate() {
            let Some((kind, wider, cuttings)) = self.board(board, &of_bundle) else { continue };
            let together = self.together(wider.as_ref().unwrap_or(&kind), &of_bundle);
            for (cost, count) in counts_by_cost(&billing[b]) {
                let credit = self.credit(&cost, (board.length * board.width).square_ticks());
                let (kind, together, wider) = (kind.clone(), together.clone(), wider.clone());
                add(
                    Stock { count, cost: cost.micros_floor(), credit, kind, together, wider },
                    MilledStock { source: StockRef::Board(b), cuttings: cuttings.clone() },
                );
            }
        }
        let mut add_flat = |kind: Kind, source: StockRef, cuttings: Vec<MilledCutting>, line: Line| {
            if cuttings.is_empty() {
                return;
            }
            let Line { count, cost, size } = line;
            let credit = self.credit(cost, size);
            let together = self.together(&kind, &of_bundle);
            let class = Stock { count, cost: cost.micros_floor(), credit, together, kind, wider: None };
            add(class, MilledStock { source, cuttings });
        };
        for (s, sheet) in self.pile.sheets.iter().enumerate() {
            let fits = |part: &Part| material_is(part, &sheet.material) && flat_stock::sheet_is_as_thick(sheet, part);
            let (geometry, cuttings) = flat_stock::sheet_stock(sheet, &self.ready(fits), &self.job.shop);
            let size = (sheet.length * sheet.width).square_ticks();
            let line = Line { count: sheet.quantity, cost: &sheet.cost, size };
            add_flat(Kind::Sheet(geometry), StockRef::Sheet(s), cuttings, line);
        }
        for (s, stick) in self.pile.sticks.iter().enumerate() {
            let fits =
                |part: &Part| material_is(part, &stick.material) && flat_stock::stick_is_the_section(stick, part);
            let wanted: Vec<_> = self.ready(fits).into_iter().map(|(item, piece, _)| (item, piece)).collect();
            let (geometry, cuttings) = flat_stock::stick_stock(stick, &wanted, &self.job.shop);
            let line = Line { count: stick.quantity, cost: &stick.cost, size: i128::from(stick.length.ticks()) };
            add_flat(Kind::Stick(geometry), StockRef::Stick(s), cuttings, line);
        }
        (stock, milled)
    }

    /// Credit for kept offcuts of a piece that costs `cost` and measures `size` (square ticks, or ticks of a stick),
    /// never below the exact figure so that a bound that counts on it holds.
    fn credit(&self, cost: &Money, size: i128) -> Option<Credit> {
        let keep = &self.job.shop.keep;
        let share = keep.credit.clone() * Rational::from_integer(CREDIT_GRAIN.into());
        let share = share.ceil().to_integer().to_i128()?;
        if share == 0 || cost.micros_ceil() == 0 {
            return None;
        }
        Some(Credit {
            rate_numerator: i128::from(cost.micros_ceil()) * share,
            rate_denominator: size * CREDIT_GRAIN,
            min_length: keep.length.ticks(),
            min_width: keep.width.ticks(),
        })
    }
}

/// A line of equal sheets or sticks: how many, what one costs, and its area or length in ticks.
struct Line<'a> {
    count: u32,
    cost: &'a Money,
    size: i128,
}

/// `keep.credit` is carried to this many parts of one.
const CREDIT_GRAIN: i128 = 1_000_000;

/// What a board must give a copy of a panel at least, if anything, so that no more than the allowed number of boards make
/// it up: one board more would give more than `per_copy` and its excess.
fn fewest_of_layout(part: &Part, per_copy: u32) -> u32 {
    part.panel.as_ref().and_then(|panel| panel.max_boards).map_or(0, |most| per_copy.div_ceil(most))
}

/// How many of a line of equal boards cost how much: the tally may bill them differently on an exact half foot.
fn counts_by_cost(billing: &Billing) -> Vec<(Money, u32)> {
    let (first, second) = (billing.copy(0).cost.clone(), billing.copy(1).cost.clone());
    if first == second || billing.quantity == 1 {
        return vec![(first, billing.quantity)];
    }
    vec![(first, billing.quantity - billing.quantity / 2), (second, billing.quantity / 2)]
}
