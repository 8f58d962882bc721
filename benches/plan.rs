//! Time of the road from files to a first plan: reading, milling, planning with little work, by size of job.
//!
//! The samples that are shipped, and made-up jobs of `cli::sample` with a fixed seed. The first plan is one with a fixed
//! work limit and no clock, on all cores. Quality is printed before each group: pieces placed, cost, bound and gap.

use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use criterion::{Criterion, criterion_group, criterion_main};
use flitchwork::cli::sample::generate;
use flitchwork::job::{self, Job};
use flitchwork::milling::mill;
use flitchwork::pile::{self, Pile};
use flitchwork::plan::{Options, make};

/// Layouts computed for a first plan.
const WORK: u64 = 200;
/// Seed of the made-up jobs.
const SEED: u64 = 1;

/// A job and a pile by name.
struct Input {
    name: String,
    job: String,
    pile: String,
}

impl Input {
    fn sample(name: &str) -> Input {
        let folder: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("inventory-samples").join(name);
        let text = |file: &str| fs::read_to_string(folder.join(file)).expect("the samples are shipped");
        Input { name: name.to_owned(), job: text("job.json"), pile: text("pile.json") }
    }

    fn made_up(boards: u32, pieces: u32) -> Input {
        let (job, pile) = generate(SEED, boards, pieces);
        let name = format!("{boards} boards, {pieces} pieces");
        Input { name, job: job::file::write_json(&job), pile: pile::file::write_json(&pile) }
    }

    fn read(&self) -> (Job, Pile) {
        let job = job::file::read_json("job.json", &self.job, None).expect("a good job");
        let pile = pile::file::read_json("pile.json", &self.pile).expect("a good pile");
        (job, pile)
    }
}

fn inputs() -> Vec<Input> {
    vec![Input::sample("bench"), Input::sample("sideboard"), Input::made_up(12, 30), Input::made_up(40, 120)]
}

/// The fewest layers a lamination states, two where it does not; one for plain parts.
fn layers(job: &Job) -> Vec<u32> {
    job.parts.iter().map(|part| part.lamination.as_ref().map_or(1, |l| l.layers.unwrap_or(2))).collect()
}

fn first_plan(job: &Job, pile: &Pile) -> flitchwork::plan::ShopPlan {
    let options = Options { seconds: None, work: Some(WORK), gap: 0.0, seed: SEED, threads: 0 };
    make(job, pile, &options, &AtomicBool::new(false), &|_| ()).expect("a lawful plan")
}

fn plans(c: &mut Criterion) {
    for input in inputs() {
        let (job, pile) = input.read();
        let layers = layers(&job);
        let plan = first_plan(&job, &pile);
        println!(
            "{}: {} of {} pieces, cost {}, bound {}, gap {:.1} %",
            input.name,
            plan.pieces_placed,
            plan.pieces_required,
            plan.cost,
            plan.bound,
            plan.gap * 100.0
        );
        let mut group = c.benchmark_group(&input.name);
        group.bench_function("read", |b| b.iter(|| input.read()));
        group.bench_function("mill", |b| b.iter(|| mill(black_box(&job), &pile, &layers)));
        group.sample_size(10);
        group.bench_function("first plan", |b| b.iter(|| first_plan(black_box(&job), &pile)));
        group.finish();
    }
}

criterion_group!(benches, plans);
criterion_main!(benches);
