//! shim
use super::board::{BoardEngine, Effort, Priced, Scratch};
use super::layout::StickLayout;
use super::problem::*;

pub struct StickEngine { engine: BoardEngine }
pub struct PricedStick { pub layout: StickLayout, pub counts: Vec<u32>, pub value: i64, pub upper: i64 }

impl StickEngine {
    pub fn new(stock: &Stock) -> Option<StickEngine> {
        let Kind::Stick(stick) = &stock.kind else { return None };
        let cuttings: Vec<Cutting> = stick.pieces.iter().map(|&(item, length)| Cutting { length, width: 1, net_dx: 0, net_dy: 0, net_length: length, net_width: 1, blocked: 0, yields: vec![(item, 1)] }).collect();
        let strips = vec![StripKind { width: 1, cuttings: (0..cuttings.len()).collect() }];
        let class = SectionClass { min_length: 0, max_length: stick.length - 2 * stick.trim, end_margin: 0, low: 0, high: 1, strips };
        let board = BoardStock { length: stick.length, width: 1, end_trim: stick.trim, kerf_cross: stick.kerf, kerf_rip: 1, cuttings, blocked: vec![vec![]], classes: vec![class], defects: vec![] };
        let stock = Stock { kind: Kind::Board(board), ..stock.clone() };
        Some(StickEngine { engine: BoardEngine::new(&stock)? })
    }
    fn turn(p: Priced) -> PricedStick {
        let mut layout = StickLayout::default();
        for s in &p.layout.sections { for b in &s.strips[0].blanks { layout.pieces.push((b.x, b.cutting)); } }
        layout.offcuts = p.layout.offcuts.clone();
        PricedStick { layout, counts: p.counts, value: p.value, upper: p.upper }
    }
    pub fn best(&self, prices: &[i64], scratch: &mut Scratch) -> PricedStick { Self::turn(self.engine.best(prices, scratch, Effort::EXACT)) }
    pub fn best_within(&self, prices: &[i64], limits: &[u32], scratch: &mut Scratch) -> PricedStick { Self::turn(super::engine::within(&self.engine, prices, limits, scratch, Effort::EXACT)) }
}
