//! Published families, whole sets at a time: our value and bound beside the published ones.
//!
//! `cargo bench --bench published -- FOLDER-OF-FAMILIES [SECONDS] [TEXT]` reads every folder that holds `instances.jsonl`
//! and `values.csv` (`data` says their form) and answers every row whose question is ours. SECONDS (default 10) bounds one
//! answer; TEXT picks rows whose family, set, instance or variant holds it. Each answer's layouts are verified, and an
//! answer that contradicts a proved value is marked. Not answered, with the reason in `question`: other classes of cuts.

mod bars;
mod boards;
mod data;
mod plates;
mod question;
mod report;

use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use flitchwork::nesting::Limits;

use data::{Bar, Instance, Row};
use question::Question;
use report::{Answer, Report};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    let Some(folder) = arguments.first() else {
        println!("usage: cargo bench --bench published -- FOLDER-OF-FAMILIES [SECONDS] [TEXT]");
        return ExitCode::SUCCESS;
    };
    let seconds = match arguments.get(1).map_or(Ok(10), |s| s.parse()) {
        Ok(seconds) => seconds,
        Err(error) => {
            eprintln!("SECONDS: {error}");
            return ExitCode::FAILURE;
        }
    };
    let text = arguments.get(2).map_or("", String::as_str);
    match run(Path::new(folder), seconds, text) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn run(folder: &Path, seconds: u64, text: &str) -> Result<(), Box<dyn std::error::Error>> {
    let mut families: Vec<_> = std::fs::read_dir(folder)?.collect::<Result<_, _>>()?;
    families.sort_by_key(|entry| entry.file_name());
    let mut report = Report::default();
    println!("family | set | instance | variant | value | bound | published | gap | seconds");
    for entry in families.iter().filter(|entry| entry.path().join("values.csv").exists()) {
        let family = entry.file_name().to_string_lossy().into_owned();
        let (instances, rows) = data::read(&entry.path())?;
        let wanted = |row: &&Row| [&family, &row.set, &row.instance, &row.variant].iter().any(|t| t.contains(text));
        for row in rows.iter().filter(wanted) {
            let Some(instance) = instances.get(&row.instance) else { continue };
            let (question, name) = question::of(row, instance);
            let start = Instant::now();
            match answer(question, instance, seconds).map_err(|error| format!("{}: {error}", row.instance))? {
                Some(answer) => report.add(&family, name, row, &answer, start.elapsed()),
                None => report.leave(&family, name, row),
            }
        }
    }
    report.print();
    Ok(())
}

/// Our answer; `None` when the question is not ours.
fn answer(question: Question, instance: &Instance, seconds: u64) -> Result<Option<Answer>, String> {
    let deadline = Some(Instant::now() + Duration::from_secs(seconds));
    let limits = Limits { deadline, ..Limits::default() };
    let answer = match (question, instance) {
        (Question::Bars, Instance::Bars { capacity, widths, demands }) => {
            bars::cheapest(&[Bar { length: *capacity, cost: 1 }], widths, demands, &limits)?
        }
        (Question::Bars, Instance::ManyBars { stock, widths, demands }) => {
            bars::cheapest(stock, widths, demands, &limits)?
        }
        (Question::Fullest(manner), Instance::Plates { plate, items, defects }) if defects.is_empty() => {
            plates::fullest(&plates::stock(plate, items, manner, 1, 0), items, &limits)?
        }
        (Question::Fullest(manner), Instance::Plates { plate, items, defects }) => {
            boards::fullest(plate, items, defects, manner.turns, manner.kerf)?
        }
        (Question::Filled(manner), Instance::Plates { plate, items, .. }) => {
            plates::filled(&plates::stock(plate, items, manner, 1, 0), items, &limits)?
        }
        (Question::Fits(manner), Instance::Plates { plate, items, .. }) => {
            plates::fits(&plates::stock(plate, items, manner, 1, 0), items, &limits)?
        }
        (Question::Fewest(manner), Instance::Plates { plate, items, .. }) => {
            plates::fewest(plate, items, manner, &limits)?
        }
        (Question::MostValuable(manner), Instance::Plates { plate, items, .. }) => {
            plates::most_valuable(plate, items, manner, &limits, seconds)?
        }
        _ => return Ok(None),
    };
    Ok(Some(answer))
}
