//! Time of one board's best layout at given prices, by number of part types and of panels.
//!
//! A made-up board of 100 x 8 in with 6 knots, end trims, crook and thickness classes, the shop's default kerfs and margins,
//! parts in sixteenths, staves 2 1/2 to 5 1/2 in wide. Seeds and input are fixed. Quality is printed before each group: value, upper value, section
//! starts evaluated.

use criterion::{Criterion, criterion_group, criterion_main};
use flitchwork::nesting::board::{BoardEngine, Effort, Scratch};
use flitchwork::nesting::{BoardStock, Credit, Cutting, Kind, Rect, SectionClass, Stock, StripKind};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A sixteenth of an inch in ticks.
const SIXTEENTH: i64 = 127_000;
const INCH: i64 = 16 * SIXTEENTH;

/// A board and a price an item, micro-units; of `panels` more items the unit is a sixteenth of an inch of stave.
fn sample(parts: usize, panels: usize, seed: u64) -> (Stock, Vec<i64>) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (length, width) = (100 * INCH, 8 * INCH);
    let defects: Vec<Rect> = (0..6)
        .map(|_| {
            let (x0, y0) = (rng.random_range(0..96 * 16) * SIXTEENTH, rng.random_range(0..7 * 16) * SIXTEENTH);
            let (dx, dy) = (rng.random_range(8..56) * SIXTEENTH, rng.random_range(8..32) * SIXTEENTH);
            Rect { x0, x1: x0 + dx, y0, y1: (y0 + dy).min(width) }
        })
        .collect();
    let grown = |r: &Rect| Rect { x0: r.x0 - INCH / 2, x1: r.x1 + INCH / 2, y0: r.y0 - INCH / 4, y1: r.y1 + INCH / 4 };
    let blocked = vec![defects.iter().map(grown).collect(), defects[..3].iter().map(grown).collect()];
    let mut cuttings: Vec<Cutting> = (0..parts)
        .map(|item| {
            let net_length = rng.random_range(8 * 16..48 * 16) * SIXTEENTH;
            let net_width = rng.random_range(24..80) * SIXTEENTH;
            Cutting {
                length: net_length + INCH / 2,
                width: net_width + INCH / 8,
                net_dx: INCH / 4,
                net_dy: INCH / 16,
                net_length,
                net_width,
                blocked: item % 4 / 3,
                yields: vec![(item, 1)],
            }
        })
        .collect();
    let mut prices: Vec<i64> = cuttings
        .iter()
        .map(|c| {
            let area = (c.length / SIXTEENTH) * (c.width / SIXTEENTH);
            area * rng.random_range(90..140) * 2
        })
        .collect();
    for item in parts..parts + panels {
        let net_length = rng.random_range(14 * 16..44 * 16) * SIXTEENTH;
        cuttings.extend((40..=88).map(|units| Cutting {
            length: net_length + INCH,
            width: units * SIXTEENTH + INCH / 8,
            net_dx: INCH / 2,
            net_dy: INCH / 16,
            net_length,
            net_width: units * SIXTEENTH,
            blocked: 0,
            yields: vec![(item, units as u32)],
        }));
        prices.push((net_length / SIXTEENTH + 16) * rng.random_range(100..130) * 2);
    }
    let classes = (0..4)
        .map(|k: i64| SectionClass {
            min_length: 14 * INCH,
            max_length: [35 * INCH + 331, 60 * INCH + 777, 78 * INCH + 123, length][k as usize],
            end_margin: 3 * INCH,
            low: INCH / 8 + k * SIXTEENTH,
            high: width - INCH / 4,
            strips: strips(&cuttings),
        })
        .collect();
    let board = BoardStock {
        length,
        width,
        end_trim: INCH,
        kerf_cross: INCH / 8,
        kerf_rip: INCH / 8,
        cuttings,
        blocked,
        classes,
        defects,
    };
    let rate = Credit {
        rate_numerator: 3 * 45_000_000,
        rate_denominator: 10 * i128::from(length * width),
        min_length: 24 * INCH,
        min_width: 0,
    };
    (
        Stock {
            count: 1,
            cost: 45_000_000,
            credit: Some(rate),
            kind: Kind::Board(board),
            together: vec![],
            wider: None,
        },
        prices,
    )
}

/// A strip kind for every width; blanks under 12 in fill their strip's width.
fn strips(cuttings: &[Cutting]) -> Vec<StripKind> {
    let mut widths: Vec<i64> = cuttings.iter().map(|c| c.width).collect();
    widths.sort_unstable();
    widths.dedup();
    let holds = |width: i64, c: &Cutting| c.width == width || c.width < width && c.length >= 12 * INCH;
    let kind = |&width: &i64| StripKind {
        width,
        cuttings: (0..cuttings.len()).filter(|&c| holds(width, &cuttings[c])).collect(),
    };
    widths.iter().map(kind).collect()
}

fn best_layout(c: &mut Criterion) {
    for (parts, panels) in [(5, 0), (15, 0), (40, 0), (15, 1), (15, 3)] {
        let samples = engines(parts, panels);
        let mut scratch = Scratch::default();
        for (engine, prices) in &samples {
            let found = engine.best(prices, &mut scratch, Effort::EXACT);
            let cheap = engine.cheap_upper(prices);
            println!(
                "{parts} parts, {panels} panels: {} of {} (cheap {cheap}), {} starts",
                found.value, found.upper, found.evaluations
            );
        }
        c.bench_function(&format!("best layout of 8 boards, {parts} part types and {panels} panels"), |b| {
            b.iter(|| {
                let each =
                    samples.iter().map(|(engine, prices)| engine.best(prices, &mut scratch, Effort::EXACT).value);
                each.sum::<i64>()
            });
        });
    }
}

fn best_layout_within_limits(c: &mut Criterion) {
    let samples = engines(15, 0);
    let mut scratch = Scratch::default();
    for (name, states, rounds) in [("counted", 16, 12), ("by prices", 1, 6)] {
        let effort = Effort { states, rounds, ..Effort::EXACT };
        for (engine, prices) in &samples {
            let found = engine.best_within(prices, &[2; 15], &mut scratch, effort);
            println!("within 2 of each, {name}: {} of {}, {} starts", found.value, found.upper, found.evaluations);
        }
        c.bench_function(&format!("best layout of 8 boards within 2 of each of 15, {name}"), |b| {
            b.iter(|| {
                let each = samples
                    .iter()
                    .map(|(engine, prices)| engine.best_within(prices, &[2; 15], &mut scratch, effort).value);
                each.sum::<i64>()
            });
        });
    }
}

fn engines(parts: usize, panels: usize) -> Vec<(BoardEngine, Vec<i64>)> {
    let engine = |seed| {
        let (stock, prices) = sample(parts, panels, seed);
        (BoardEngine::new(&stock).expect("a board"), prices)
    };
    (0..8).map(engine).collect()
}

criterion_group! {
    name = board;
    config = Criterion::default().sample_size(10).measurement_time(std::time::Duration::from_secs(3));
    targets = best_layout, best_layout_within_limits
}
criterion_main!(board);
