//! flitchwork: from a parts list and a measured pile of rough lumber to a checked cut plan.
//!
//! The library behind the command line. Modules depend downward only, in the order they are listed here:
//! `measure` knows lengths and money, `trade` the facts of the trade, `pile` and `job` the maker's files, `grade` what the
//! trade calls a board, `milling` turns job and pile into a pure integer problem, `nesting` solves that problem, `plan`
//! brings the answer back to the shop and checks it, `order` says how much to buy, `quote` prices a plan, `draw` puts it on
//! paper, `serve` and `cli` are thin doors. Nothing below reads a module further down. `markup` makes text safe for documents
//! and stands below all.

pub mod cli;
pub mod draw;
pub mod grade;
pub mod job;
mod markup;
pub mod measure;
pub mod milling;
pub mod nesting;
pub mod order;
pub mod pile;
pub mod plan;
pub mod quote;
pub mod serve;
pub mod trade;
