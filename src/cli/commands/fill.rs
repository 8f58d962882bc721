//! `fill`: what else can be made of one piece of the pile.

use crate::cli::args::Format;
use crate::cli::commands::plan::Files;
use crate::cli::failure::{Ending, Failure};
use crate::cli::settings::FillSettings;
use crate::cli::watch::catch_interrupts;
use crate::cli::{input, output};
use crate::nesting::Why;
use crate::plan;
use crate::plan::fill::{FillError, fill, text};

pub fn run(settings: &FillSettings) -> Result<Ending, Failure> {
    let job = input::read_job(&settings.job)?;
    let pile = input::read_pile(&settings.stock)?;
    let cancel = catch_interrupts()?;
    let filled = fill(&job, &pile, &settings.pick, &settings.options, cancel).map_err(|error| match error {
        FillError::UnknownStock { .. } | FillError::NoSuchCopy { .. } => {
            Failure::input(format!("{}: {error}", settings.stock.pile.display()))
        }
        FillError::Contradiction(_) | FillError::Unlawful(_) => Failure::Fault(error.to_string()),
    })?;
    let nothing = filled.plan.stock.is_empty();
    if nothing && filled.why == Why::Cancelled {
        return Err(Failure::Interrupted);
    }
    let json = plan::file::write_json(&filled.plan);
    if !nothing {
        let files = Files { out: settings.out.as_deref(), drawings: settings.drawings.as_deref() };
        files.write(&filled.plan, &json, &filled.job, &pile)?;
    }
    output::print(&match settings.format {
        Format::Text => text::summary(&filled, &filled.job.shop),
        Format::Json => json,
    })?;
    Ok(match filled.why {
        _ if nothing => Ending::Short,
        Why::Cancelled => Ending::Interrupted,
        _ => Ending::Done,
    })
}
