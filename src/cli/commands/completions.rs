//! `completions`: a script that completes commands, options and file names in a shell.

use clap::CommandFactory;

use crate::cli::args::Args;
use crate::cli::failure::{Ending, Failure};
use crate::cli::output;

pub fn run(shell: clap_complete::Shell) -> Result<Ending, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Args::command(), "flitchwork", &mut script);
    output::print(&String::from_utf8_lossy(&script))?;
    Ok(Ending::Done)
}
