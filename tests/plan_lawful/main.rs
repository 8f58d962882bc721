//! Whole jobs nobody wrote: whatever is asked of whatever pile, the plan is lawful, its bound holds and it is the same
//! on any number of threads.
//!
//! The judge is `plan::check`, which works from the published plan and shares no geometry with the optimiser. The cases
//! are always the same ones; `PROPTEST_CASES` asks for more of them.

mod generator;
mod regressions;

use std::cell::RefCell;
use std::sync::atomic::AtomicBool;

use flitchwork::job::Job;
use flitchwork::measure::Money;
use flitchwork::pile::Pile;
use flitchwork::plan::check::check;
use flitchwork::plan::file::{read_json, write_json};
use flitchwork::plan::{GlueKind, Node, Options, Run, ShopPlan, Status, StockKind, make};
use flitchwork::{job, pile};
use proptest::test_runner::{Config, RngAlgorithm, TestCaseError, TestRng, TestRunner};

use generator::Case;

/// Cases a run, when `PROPTEST_CASES` does not say otherwise.
const CASES: u32 = 96;
/// Layouts computed for one plan: little, so that plans are far from the best ones and stop in many places.
const WORK: u64 = 20;

type Length = flitchwork::measure::Length;

/// What the plans of a run held between them.
#[derive(Debug, Default)]
struct Seen {
    complete: u32,
    short: u32,
    boards: u32,
    sheets: u32,
    sticks: u32,
    second_copies: u32,
    laminations: u32,
    panels: u32,
    matched: u32,
    broken: u32,
    resawn: u32,
    turned: u32,
    credited: u32,
    proven: u32,
}

impl Seen {
    fn note(&mut self, case: &Case, plan: &ShopPlan) {
        self.matched += u32::from(case.job.contains("\"match\"") && plan.status == Status::Complete);
        self.broken += u32::from(plan.broken > Money::zero());
        match plan.status {
            Status::Complete => self.complete += 1,
            Status::Short => self.short += 1,
        }
        for stock in &plan.stock {
            match stock.kind {
                StockKind::Board => self.boards += 1,
                StockKind::Sheet => self.sheets += 1,
                StockKind::Stick => self.sticks += 1,
            }
            self.second_copies += u32::from(stock.copy > 1);
            self.credited += u32::from(stock.credit > Money::zero());
            self.note_node(&stock.tree);
        }
        let of = |kind: GlueKind| plan.glueups.iter().filter(|glueup| glueup.kind == kind).count() as u32;
        self.laminations += of(GlueKind::Lamination);
        self.panels += of(GlueKind::Panel);
        self.proven += u32::from(plan.proven);
    }

    fn note_node(&mut self, node: &Node<Length>) {
        self.resawn += u32::from(node.leaves.len() > 1);
        self.turned += u32::from(node.turned);
        node.children.iter().for_each(|child| self.note_node(child));
    }
}

/// The plan of a case on so many threads, with nothing left in it that may differ between runs.
fn planned(job: &Job, pile: &Pile, threads: usize) -> Result<ShopPlan, TestCaseError> {
    let options = Options { seconds: None, work: Some(WORK), gap: 0.0, seed: 7, threads };
    let plan = make(job, pile, &options, &AtomicBool::new(false), &|_| ());
    let mut plan = plan.map_err(|e| TestCaseError::fail(e.to_string()))?;
    plan.run = Run { seconds: 0.0, threads: 1 };
    Ok(plan)
}

fn judge(case: &Case) -> Result<ShopPlan, TestCaseError> {
    let fail = |what: String| Err(TestCaseError::fail(what));
    let job = job::file::read_json("job.json", &case.job, None).map_err(|e| TestCaseError::fail(e.to_string()))?;
    let pile = pile::file::read_json("pile.json", &case.pile).map_err(|e| TestCaseError::fail(e.to_string()))?;
    let plan = planned(&job, &pile, 1)?;
    if plan.bound > plan.cost {
        return fail(format!("the bound {} is above the cost {}", plan.bound, plan.cost));
    }
    let written = write_json(&plan);
    let read = read_json("plan.json", &written).map_err(|e| TestCaseError::fail(e.to_string()))?;
    let breaches = check(&job, &pile, &read);
    if !breaches.is_empty() {
        return fail(breaches.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "));
    }
    if write_json(&read) != written {
        return fail("the plan changes when it is read and written again".to_owned());
    }
    if write_json(&planned(&job, &pile, 2)?) != written {
        return fail("the plan on two threads is another one".to_owned());
    }
    Ok(plan)
}

/// The plan of a case, judged.
fn lawful_plan(case: &Case) -> ShopPlan {
    judge(case).unwrap_or_else(|fault| panic!("{fault}"))
}

#[test]
fn every_job_and_pile_give_a_lawful_plan_with_a_bound_that_holds_on_any_number_of_threads() {
    let cases = std::env::var("PROPTEST_CASES").ok().map_or(CASES, |n| n.parse().expect("a number of cases"));
    let config = Config { cases, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    let seen = RefCell::new(Seen::default());
    if let Err(fault) =
        runner.run(&generator::case(), |case| judge(&case).map(|plan| seen.borrow_mut().note(&case, &plan)))
    {
        panic!("{fault}");
    }
    let seen = seen.into_inner();
    let least = [
        seen.complete,
        seen.short,
        seen.boards,
        seen.sheets,
        seen.sticks,
        seen.second_copies,
        seen.laminations,
        seen.panels,
        seen.matched,
        seen.broken,
        seen.resawn,
        seen.turned,
        seen.credited,
        seen.proven,
    ];
    assert!(least.iter().all(|&n| n > 0), "the cases do not cover what they are meant to: {seen:?}");
}
