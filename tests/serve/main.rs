//! The service through the real binary: plans, diagrams, documents, refusals, its end, and many clients at one time.
//!
//! How it behaves while a plan is in the making is tested beside the code, where the planner can be made to dawdle.

mod client;
mod crowd;
mod diagrams;
mod documents;
mod lifecycle;
mod orders;
mod plans;
mod quotes;
mod refusals;
mod running;
