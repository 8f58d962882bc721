//! `sample`: a made-up job and pile, written as files.

use crate::cli::failure::{Ending, Failure};
use crate::cli::output;
use crate::cli::sample;
use crate::cli::settings::SampleSettings;
use crate::{job, pile};

pub fn run(settings: &SampleSettings) -> Result<Ending, Failure> {
    let (job, pile) =
        sample::generate_with(settings.units, settings.seed, settings.boards, settings.pieces, settings.glued);
    output::make_folder(&settings.out)?;
    let (job_file, pile_file) = (settings.out.join("job.json"), settings.out.join("pile.json"));
    output::write_file(&job_file, &job::file::write_json(&job))?;
    output::write_file(&pile_file, &pile::file::write_json(&pile))?;
    output::print(&format!("{}\n{}\n", job_file.display(), pile_file.display()))?;
    Ok(Ending::Done)
}
