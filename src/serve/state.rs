//! How a plan is going: the words for it, and the figures of the best plan so far.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::measure::Money;
use crate::nesting::Progress;
use crate::plan::ShopPlan;

/// Where a plan is on its way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// Waits for its turn.
    Waiting,
    /// Is being made.
    Working,
    /// Is made.
    Done,
    /// Was cancelled; the best plan so far is kept, if there was one.
    Stopped,
    /// Could not be made; the problem says why.
    Failed,
}

impl State {
    /// True when nothing more will happen.
    pub const fn is_final(self) -> bool {
        matches!(self, State::Done | State::Stopped | State::Failed)
    }

    /// The state's word.
    pub const fn word(self) -> &'static str {
        match self {
            State::Waiting => "waiting",
            State::Working => "working",
            State::Done => "done",
            State::Stopped => "stopped",
            State::Failed => "failed",
        }
    }
}

/// The best plan so far, in figures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Best {
    /// Seconds since the plan was begun.
    pub seconds: f64,
    /// Pieces made (blanks while the search goes on, finished copies at its end).
    pub pieces_placed: u64,
    /// Pieces asked for, counted alike.
    pub pieces_required: u64,
    /// What it costs.
    pub cost: f64,
    /// No plan that makes as much costs less; rounded down.
    pub bound: f64,
    /// (cost - bound) / cost.
    pub gap: f64,
}

impl Best {
    /// From what the search tells on its way.
    pub fn of(progress: &Progress) -> Best {
        let apart = (progress.cost - progress.bound).max(0);
        Best {
            seconds: progress.seconds,
            pieces_placed: progress.made,
            pieces_required: progress.asked,
            cost: Money::from_micros(progress.cost).to_f64(),
            bound: Money::from_micros(progress.bound.div_euclid(10_000) * 10_000).to_f64(),
            gap: if progress.cost > 0 { apart as f64 / progress.cost as f64 } else { 0.0 },
        }
    }

    /// From a plan that is made.
    pub fn at_end(plan: &ShopPlan) -> Best {
        Best {
            seconds: plan.run.seconds,
            pieces_placed: u64::from(plan.pieces_placed),
            pieces_required: u64::from(plan.pieces_required),
            cost: plan.cost.to_f64(),
            bound: plan.bound.to_f64(),
            gap: plan.gap,
        }
    }
}
