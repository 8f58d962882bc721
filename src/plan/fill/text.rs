//! What a filled piece of stock gives, in plain text: the parts and their worth, what is proven, what is not cut and why,
//! then the work lists of its plan.

use std::fmt::Write;

use super::Filled;
use crate::job::Shop;
use crate::nesting::Why;
use crate::plan::say;
use crate::plan::text::{join, work_lists, yields};

/// The summary. `shop` says how finely lengths are printed.
pub fn summary(filled: &Filled, shop: &Shop) -> String {
    join(vec![head(filled, shop), not_cut(filled), work_lists(&filled.plan, shop)])
}

/// Adds a line; writing to a string cannot fail.
macro_rules! line {
    ($text:expr, $($arg:tt)*) => {
        writeln!($text, $($arg)*).expect("a string takes any text")
    };
}

fn head(filled: &Filled, shop: &Shop) -> String {
    let plan = &filled.plan;
    let mut text = String::new();
    let name = say::stock(&filled.pick.id, filled.pick.copy);
    let Some(makes) = plan.work.pull.first().map(|row| &row.makes) else {
        line!(text, "{name} gives nothing of this job.");
        return text;
    };
    let pieces = if plan.pieces_placed == 1 { "piece" } else { "pieces" };
    line!(text, "{name} gives {} {pieces} worth {}: {makes}.", plan.pieces_placed, filled.value);
    line!(text, "{}", proof(filled));
    for words in yields(plan, shop) {
        line!(text, "{words}");
    }
    text
}

fn proof(filled: &Filled) -> String {
    if filled.is_proven() {
        return "Proven: no set of these parts from this piece is worth more.".to_owned();
    }
    let stop = match filled.why {
        Why::Time => "The search ended when its time was up.",
        Why::Cancelled => "The search was cancelled.",
        Why::Proven | Why::Gap | Why::Work => "The search had nothing left to try.",
    };
    format!("No set of these parts from this piece is worth more than {}. {stop}", filled.upper)
}

fn not_cut(filled: &Filled) -> String {
    let mut text = String::new();
    for short in &filled.plan.shortages {
        if text.is_empty() {
            line!(text, "Not cut from it");
        }
        line!(text, "  {} {}: {}", short.missing, short.part, short.why);
    }
    text
}
