//! `check`: is a plan lawful?

use crate::cli::args::Format;
use crate::cli::failure::{Ending, Failure};
use crate::cli::settings::CheckSettings;
use crate::cli::{input, output};
use crate::plan::check::{Report, Violation, check};

pub fn run(settings: &CheckSettings) -> Result<Ending, Failure> {
    let job = input::read_job(&settings.job)?;
    let pile = input::read_pile(&settings.stock)?;
    let plan = input::read_plan(&settings.plan)?;
    let breaches = check(&job, &pile, &plan);
    output::print(&match settings.format {
        Format::Text => as_text(&breaches),
        Format::Json => Report::of(&breaches).as_json(),
    })?;
    Ok(if breaches.is_empty() { Ending::Done } else { Ending::Unlawful })
}

fn as_text(breaches: &[Violation]) -> String {
    if breaches.is_empty() {
        return "lawful: no rule is broken\n".to_owned();
    }
    let mut text: String = breaches.iter().map(|breach| format!("{breach}\n")).collect();
    let plural = if breaches.len() == 1 { "breach" } else { "breaches" };
    text.push_str(&format!("unlawful: {} {plural}\n", breaches.len()));
    text
}
