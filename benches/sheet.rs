//! Published plates, whole sets at a time: our value and bound beside the published ones.
//!
//! `cargo bench --bench sheet -- FOLDER [SECONDS] [TEXT]` reads `instances.jsonl` and `values.csv` of a folder and answers
//! every row the engine serves: two stages with free trims or any number of stages, copies unlimited or bounded, pieces
//! fixed or free to turn. SECONDS (default 10) bounds one fill; TEXT picks instances or variants that hold it. Rows of
//! other classes are counted and left. An instance is a line `{"name", "plate": {"w", "h"}, "items": [{"w", "h", "max",
//! "value"}]}`, `max` null where copies are unlimited; a value row names the instance, the variant and the proved bounds.

use std::collections::BTreeMap;
use std::process::ExitCode;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use flitchwork::nesting::sheet::{Scratch, SheetEngine, fill, verify};
use flitchwork::nesting::{Direction, Kerfs, Kind, Limits, SheetPiece, SheetStock, Stock};
use serde::Deserialize;

/// Steps of one run with copies unlimited: enough for every pattern of a plate of 3000 x 3000.
const STEPS: u64 = 20_000_000_000;

#[derive(Deserialize)]
struct Instance {
    name: String,
    plate: Plate,
    items: Vec<Item>,
}

#[derive(Deserialize)]
struct Plate {
    w: i64,
    h: i64,
}

#[derive(Deserialize)]
struct Item {
    w: i64,
    h: i64,
    max: Option<u32>,
    value: i64,
}

#[derive(Deserialize)]
struct Row {
    instance: String,
    variant: String,
    lower: Option<f64>,
    upper: Option<f64>,
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    let Some(folder) = arguments.first() else {
        println!("usage: cargo bench --bench sheet -- FOLDER [SECONDS] [TEXT]");
        return ExitCode::SUCCESS;
    };
    let seconds = arguments.get(1).and_then(|s| s.parse().ok()).unwrap_or(10);
    let text = arguments.get(2).map_or("", String::as_str);
    match run(folder, seconds, text) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn run(folder: &str, seconds: u64, text: &str) -> Result<(), Box<dyn std::error::Error>> {
    let mut instances = BTreeMap::new();
    for line in std::fs::read_to_string(format!("{folder}/instances.jsonl"))?.lines() {
        let instance: Instance = serde_json::from_str(line)?;
        instances.insert(instance.name.clone(), instance);
    }
    let (mut rows, mut proven, mut reached, mut other, mut wrong) = (0, 0, 0, 0, 0);
    let mut missed = Vec::new();
    println!("instance | variant | value | bound | published | gap | seconds");
    for row in csv::Reader::from_path(format!("{folder}/values.csv"))?.deserialize() {
        let row: Row = row?;
        if !row.instance.contains(text) && !row.variant.contains(text) {
            continue;
        }
        let Some(instance) = instances.get(&row.instance) else { continue };
        let Some(stock) = stock(instance, &row.variant) else {
            other += 1;
            continue;
        };
        let start = Instant::now();
        let (value, upper) = solve(instance, &stock, row.variant.starts_with("constrained"), seconds)?;
        let time = start.elapsed().as_secs_f64();
        let (low, high) = (row.lower.unwrap_or(0.0) as i64, row.upper.map_or(i64::MAX, |u| u as i64));
        rows += 1;
        proven += usize::from(value == upper);
        reached += usize::from(value >= low);
        let name = format!("{} | {}", row.instance, row.variant);
        if value > high || upper < low {
            wrong += 1;
            println!("WRONG {name} | {value} | {upper} | {low}..{high}");
        }
        if value < low || value != upper {
            missed.push(format!("{name}: {value}..{upper}, published {low}"));
        }
        let gap = (upper - value) as f64 / (value.max(1)) as f64 * 100.0;
        println!("{name} | {value} | {upper} | {low} | {gap:.3} % | {time:.2}");
    }
    println!(
        "\n{rows} rows: {reached} reach the published value, {proven} proven here, {wrong} contradict; {other} of other classes"
    );
    for line in missed {
        println!("  {line}");
    }
    Ok(())
}

/// The sheet of a row, or `None` when its class is not served.
fn stock(instance: &Instance, variant: &str) -> Option<Stock> {
    let (stages, first) = match variant {
        v if v.contains("general guillotine") => (0, None),
        // Strips along w are parted across it: by rips.
        v if v.contains("2-stage non-exact") && v.contains("along w") => (2, Some(Direction::Rip)),
        v if v.contains("2-stage non-exact") && v.contains("along h") => (2, Some(Direction::Cross)),
        _ => return None,
    };
    let mut pieces = Vec::new();
    for (item, i) in instance.items.iter().enumerate() {
        pieces.push(SheetPiece { item, length: i.w, width: i.h, turned: false });
        if variant.contains("rotation allowed") && i.w != i.h {
            pieces.push(SheetPiece { item, length: i.h, width: i.w, turned: true });
        }
    }
    let kerf = Kerfs { cross: 0, rip: 0 };
    let sheet = SheetStock { length: instance.plate.w, width: instance.plate.h, trim: 0, kerf, stages, first, pieces };
    Some(Stock { count: 1, cost: 0, credit: None, kind: Kind::Sheet(sheet) })
}

fn solve(instance: &Instance, stock: &Stock, bounded: bool, seconds: u64) -> Result<(i64, i64), String> {
    let values: Vec<i64> = instance.items.iter().map(|i| i.value).collect();
    if bounded {
        let limits: Vec<u32> = instance.items.iter().map(|i| i.max.unwrap_or(u32::MAX)).collect();
        let cancel = AtomicBool::new(false);
        let deadline = Some(Instant::now() + Duration::from_secs(seconds));
        let budget = Limits { deadline, work: None, gap: 0.0, seed: 0, threads: 1, cancel: &cancel, progress: &|_| {} };
        let found = fill(stock, &values, &limits, &budget).ok_or("no sheet")?;
        verify(stock, &found.layout)?;
        Ok((found.value, found.upper))
    } else {
        let engine = SheetEngine::with_steps(stock, STEPS).ok_or("no sheet")?;
        let found = engine.best(&values, &mut Scratch::default());
        verify(stock, &found.layout)?;
        Ok((found.value, found.upper))
    }
}
