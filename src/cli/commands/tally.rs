//! `tally`: what a pile holds and what it cost, by wood and thickness.

use crate::cli::args::Format;
use crate::cli::failure::{Ending, Failure};
use crate::cli::settings::TallySettings;
use crate::cli::{input, output};
use crate::pile::tally_sheet::TallySheet;

pub fn run(settings: &TallySettings) -> Result<Ending, Failure> {
    let tally = TallySheet::of(&input::read_pile(&settings.stock)?);
    output::print(&match settings.format {
        Format::Text => tally.as_text(),
        Format::Json => tally.as_json(),
    })?;
    Ok(Ending::Done)
}
