//! What a short plan leaves out, and what it makes.

use crate::job::Job;
use crate::plan::ShopPlan;

/// Copies of a part that the plan does not make.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missing {
    pub part: String,
    pub copies: u32,
    /// Why, as the plan says it.
    pub why: String,
}

/// What the plan leaves out.
pub(super) fn of(plan: &ShopPlan) -> Vec<Missing> {
    let missing = plan.shortages.iter().map(|shortage| Missing {
        part: shortage.part.clone(),
        copies: shortage.missing,
        why: shortage.why.clone(),
    });
    missing.collect()
}

/// Finished copies of each part, in the order of the job.
pub(super) fn made(job: &Job, plan: &ShopPlan) -> Vec<u32> {
    let missing = |id: &str| plan.shortages.iter().filter(|s| s.part == id).map(|s| s.missing).sum::<u32>();
    job.parts.iter().map(|part| part.qty.saturating_sub(missing(&part.id))).collect()
}
