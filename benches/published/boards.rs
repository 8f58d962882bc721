//! Plates with defects, cut as the program cuts boards: crosscut, rip, crosscut, round what is marked.
//!
//! The published answers allow any guillotine cuts; sections, strips and blanks are a part of these. Our value can
//! therefore not exceed the published one, and what lies between is what the shop's simpler cutting costs.

use flitchwork::nesting::board::{BoardEngine, Effort, Scratch, verify};
use flitchwork::nesting::{BoardStock, Cutting, Kind, Rect, SectionClass, Stock, StripKind};

use super::data;
use super::report::Answer;

/// The most valuable pieces of one plate with defects.
pub fn fullest(
    plate: &data::Plate,
    items: &[data::Item],
    defects: &[[i64; 4]],
    turns: bool,
    kerf: i64,
) -> Result<Answer, String> {
    let mut cuttings = Vec::new();
    for (item, i) in items.iter().enumerate() {
        let mut offer = |length: i64, width: i64| {
            if length <= plate.w && width <= plate.h {
                let yields = vec![(item, 1)];
                let (net_dx, net_dy, net_length, net_width, blocked) = (0, 0, length, width, 0);
                cuttings.push(Cutting { length, width, net_dx, net_dy, net_length, net_width, blocked, yields });
            }
        };
        offer(i.w, i.h);
        if turns && i.w != i.h {
            offer(i.h, i.w);
        }
    }
    let mut widths: Vec<i64> = cuttings.iter().map(|c| c.width).collect();
    widths.sort_unstable();
    widths.dedup();
    let strip = |&width: &i64| StripKind {
        width,
        cuttings: (0..cuttings.len()).filter(|&c| cuttings[c].width <= width).collect(),
    };
    let strips = widths.iter().map(strip).collect();
    let class = SectionClass { min_length: 1, max_length: plate.w, end_margin: 0, low: 0, high: plate.h, strips };
    let rect = |&[x, y, w, h]: &[i64; 4]| Rect { x0: x, x1: x + w, y0: y, y1: y + h };
    let rects: Vec<Rect> = defects.iter().map(rect).collect();
    let board = BoardStock {
        length: plate.w,
        width: plate.h,
        end_trim: 0,
        kerf_cross: kerf,
        kerf_rip: kerf,
        cuttings,
        blocked: vec![rects.clone()],
        classes: vec![class],
        defects: rects,
    };
    let stock = Stock { count: 1, cost: 0, credit: None, kind: Kind::Board(board), together: vec![], wider: None };
    let values: Vec<i64> = items.iter().map(|i| i.value.unwrap_or(0)).collect();
    let engine = BoardEngine::new(&stock).ok_or("no board")?;
    let found = engine.best(&values, &mut Scratch::default(), Effort::EXACT);
    verify(&stock, &found.layout)?;
    Ok(Answer { narrower: true, ..Answer::most(found.value, found.upper) })
}
