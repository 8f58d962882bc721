//! How near to the best plans of made-up jobs are proven to be after some seconds, and how soon the first plan is there.
//!
//! `cargo bench --bench gaps -- BOARDS PIECES SECONDS [SEEDS] [FIRST-SEED]`: a line a job of `flitchwork sample`, warp and credit on, then
//! the median and the worst. The first plan is counted from entering the optimiser; a job its pile cannot make has one as well, with
//! fewer pieces. Seconds are given to each job alone, on all cores.

use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;

use flitchwork::cli::sample::generate;
use flitchwork::plan::{Options, Stop, make};

/// As in the binary.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

const USAGE: &str = "cargo bench --bench gaps -- BOARDS PIECES SECONDS [SEEDS] [FIRST-SEED]";

/// What became of one job.
struct Row {
    /// Seconds to the first plan, and to the first that makes everything, where one does.
    first: f64,
    whole: Option<f64>,
    /// (cost - bound) / cost, per cent.
    gap: f64,
    proven: bool,
}

fn row(seed: u64, boards: u32, pieces: u32, seconds: f64) -> Row {
    let (job, pile) = generate(seed, boards, pieces);
    let options = Options { seconds: Some(seconds), work: None, gap: 0.0, seed: 1, threads: 0 };
    let seen: Mutex<(Option<f64>, Option<f64>)> = Mutex::new((None, None));
    let progress = |now: &flitchwork::nesting::Progress| {
        let mut seen = seen.lock().expect("no thread panics with it");
        seen.0.get_or_insert(now.seconds);
        if now.made == u64::from(pieces) {
            seen.1.get_or_insert(now.seconds);
        }
    };
    let plan = make(&job, &pile, &options, &AtomicBool::new(false), &progress).expect("a lawful plan");
    let (first, whole) = seen.into_inner().expect("no thread panics with it");
    let row = Row {
        first: first.unwrap_or(plan.run.seconds),
        whole,
        gap: 100.0 * plan.gap,
        proven: plan.stop == Stop::Proven,
    };
    println!(
        "| {seed} | {} | {} | {} of {} | {} | {} | {:.2} | {} | {:.1} |",
        milliseconds(Some(row.first)),
        milliseconds(row.whole),
        plan.pieces_placed,
        plan.pieces_required,
        plan.cost,
        plan.bound,
        row.gap,
        if row.proven { "proven" } else { "" },
        plan.run.seconds
    );
    row
}

fn milliseconds(seconds: Option<f64>) -> String {
    seconds.map_or_else(|| "-".to_owned(), |seconds| format!("{:.0}", 1000.0 * seconds))
}

/// The median and the greatest of some figures.
fn spread(mut figures: Vec<f64>) -> (f64, f64) {
    figures.sort_by(f64::total_cmp);
    let middle = |at: usize| figures[at.min(figures.len() - 1)];
    ((middle(figures.len() / 2) + middle((figures.len() - 1) / 2)) / 2.0, middle(usize::MAX))
}

fn main() -> ExitCode {
    // The harness passes `--bench` along.
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let numbers: Option<Vec<f64>> = arguments.iter().map(|a| a.parse().ok().filter(|n| *n >= 0.0)).collect();
    let Some(numbers) = numbers.filter(|numbers| (3..=5).contains(&numbers.len())) else {
        eprintln!("{USAGE}");
        return ExitCode::FAILURE;
    };
    let (boards, pieces, seconds) = (numbers[0] as u32, numbers[1] as u32, numbers[2]);
    let seeds = numbers.get(3).map_or(10, |&n| (n as u64).max(1));
    let from = numbers.get(4).map_or(1, |&n| n as u64);
    println!("{boards} boards, {pieces} pieces, {seconds} s each\n");
    println!("| seed | first plan, ms | whole, ms | pieces | cost | bound | gap, % | | s |");
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    let rows: Vec<Row> = (from..from + seeds).map(|seed| row(seed, boards, pieces, seconds)).collect();
    let gaps = spread(rows.iter().map(|row| row.gap).collect());
    let first = spread(rows.iter().map(|row| 1000.0 * row.first).collect());
    let whole: Vec<f64> = rows.iter().filter_map(|row| Some(1000.0 * row.whole?)).collect();
    let mean = rows.iter().map(|row| row.gap).sum::<f64>() / rows.len() as f64;
    println!("\ngap: median {:.2} %, mean {mean:.2} %, worst {:.2} %", gaps.0, gaps.1);
    println!("first plan: median {:.0} ms, worst {:.0} ms", first.0, first.1);
    if !whole.is_empty() {
        let (median, worst) = spread(whole);
        println!("first plan that makes everything: median {median:.0} ms, worst {worst:.0} ms");
    }
    println!("proven: {} of {}", rows.iter().filter(|row| row.proven).count(), rows.len());
    ExitCode::SUCCESS
}
