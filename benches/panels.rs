//! What it is worth that the optimiser chooses the staves: each job planned with its panels free, and again with every
//! panel glued from equal staves, their number chosen by the optimiser too, in the same time.
//!
//! `cargo bench --bench panels -- [SECONDS] [SEEDS]`: seconds a plan (10 unless said otherwise) and made-up jobs beside the
//! samples (4). Prints cost, bound and gap of both, and the ratio of the costs where both make everything.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use flitchwork::cli::sample;
use flitchwork::job::Job;
use flitchwork::measure::Units;
use flitchwork::pile::Pile;
use flitchwork::plan::{Options, ShopPlan, make};
use flitchwork::{job, pile};

fn main() {
    let numbers: Vec<f64> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let seconds = numbers.first().copied().unwrap_or(10.0);
    let seeds = numbers.get(1).copied().unwrap_or(4.0) as u64;
    let mut jobs: Vec<(String, Job, Pile)> = ["bench", "sideboard"].map(from_folder).into();
    for seed in 1..=seeds {
        let (job, pile) = sample::generate_with(Units::Inches, seed, 30, 80, true);
        jobs.push((format!("seed {seed}"), job, pile));
    }
    println!("job | free: cost, bound, gap, made | equal: cost, bound, gap, made | free / equal");
    for (name, job, pile) in &jobs {
        if job.parts.iter().all(|part| part.panel.is_none()) {
            continue;
        }
        let free = plan(job, pile, seconds);
        let mut equal = job.clone();
        equal.parts.iter_mut().filter_map(|part| part.panel.as_mut()).for_each(|panel| panel.equal = true);
        let equal = plan(&equal, pile, seconds);
        let ratio = if free.pieces_placed == equal.pieces_placed {
            format!("{:.3}", free.cost.to_f64() / equal.cost.to_f64())
        } else {
            "not the same pieces".to_owned()
        };
        println!("{name} | {} | {} | {ratio}", words(&free), words(&equal));
    }
}

fn from_folder(name: &str) -> (String, Job, Pile) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("inventory-samples").join(name);
    let read = |file: &str| std::fs::read_to_string(folder.join(file)).expect("a sample can be read");
    let job = job::file::read_json("job.json", &read("job.json"), None).expect("a good job");
    let pile = pile::file::read_json("pile.json", &read("pile.json")).expect("a good pile");
    (name.to_owned(), job, pile)
}

fn plan(job: &Job, pile: &Pile, seconds: f64) -> ShopPlan {
    let options = Options { seconds: Some(seconds), ..Options::default() };
    make(job, pile, &options, &AtomicBool::new(false), &|_| ()).expect("a plan")
}

fn words(plan: &ShopPlan) -> String {
    let made = format!("{} of {}", plan.pieces_placed, plan.pieces_required);
    format!("{}, {}, {:.1} %, {made}, {:.1} s", plan.cost, plan.bound, plan.gap * 100.0, plan.run.seconds)
}
