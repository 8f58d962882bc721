//! Time of the answers before any cutting: a quote of a plan, the grades of a pile, one random delivery of an order.
//!
//! `cargo bench --bench price`: the samples' sideboard; the plan that is priced is made with a small, fixed amount of work.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use criterion::{Criterion, criterion_group, criterion_main};
use flitchwork::grade::{GradeOptions, grade_pile};
use flitchwork::job::Job;
use flitchwork::order::{self, Offer, Question, Terms};
use flitchwork::pile::Pile;
use flitchwork::plan::{Options, make};
use flitchwork::quote::{Date, Occasion, quote};
use flitchwork::trade::grades::Grade;
use flitchwork::{job, pile};

fn sideboard() -> (Job, Pile) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("inventory-samples/sideboard");
    let read = |file: &str| std::fs::read_to_string(folder.join(file)).expect("a sample can be read");
    let job = job::file::read_json("job.json", &read("job.json"), None).expect("a good job");
    let pile = pile::file::read_json("pile.json", &read("pile.json")).expect("a good pile");
    (job, pile)
}

fn delivery() -> Question {
    Question {
        species: "cherry".to_owned(),
        thicknesses: Vec::new(),
        offers: vec![Offer { grade: Grade::Fas, price: None }],
        past: None,
        lots: 1,
        seed: 1,
        confidence: 0.95,
        terms: Terms::default(),
        threads: 1,
    }
}

fn answers(criterion: &mut Criterion) {
    let (job, pile) = sideboard();
    let cancel = AtomicBool::new(false);
    let options = Options { seconds: None, work: Some(1), ..Options::default() };
    let plan = make(&job, &pile, &options, &cancel, &|_| ()).expect("a plan");
    let date: Date = "2026-03-02".parse().expect("a date");
    let occasion = Occasion { date, client: None };
    let mut group = criterion.benchmark_group("sideboard");
    group.sample_size(10);
    group.bench_function("quote", |b| b.iter(|| quote(&job, &pile, &plan, occasion.clone()).expect("a quote")));
    group.bench_function("grades", |b| b.iter(|| grade_pile(&pile, &GradeOptions::default())));
    group.bench_function("a delivery", |b| {
        b.iter(|| order::answer(&job, &delivery(), &cancel, &|_| ()).expect("an answer"));
    });
    group.finish();
}

criterion_group!(benches, answers);
criterion_main!(benches);
