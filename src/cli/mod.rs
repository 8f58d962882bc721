//! A thin door to the library: what was typed becomes settings, settings become calls, answers become text.
//!
//! `args` says what may be typed, `settings` what it means, one file under `commands` does each command; `input` reads
//! the files a command names, `output` writes results, `watch` reports progress and minds Ctrl-C, `failure` knows the
//! exit codes; `sample` makes up jobs and piles. Invariant: standard output carries the result and nothing else; no rule
//! of the trade lives here.

mod args;
mod commands;
mod failure;
mod input;
mod output;
pub mod sample;
mod settings;
mod watch;

use std::io::{self, IsTerminal, Write};
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches};

use args::Args;
use failure::{Ending, Failure};
use settings::Surroundings;

/// The program: reads the command line, does the command, answers with the exit code.
pub fn main() -> ExitCode {
    let args = match typed() {
        Ok(args) => args,
        Err(answer) => {
            // Help and version go to standard output, complaints to standard error; a closed pipe is nobody's fault.
            let _ = answer.print();
            return ExitCode::from(u8::try_from(answer.exit_code()).unwrap_or(2));
        }
    };
    // A panic is a fault of the program (its message is on standard error by then), and has a documented code.
    let result = std::panic::catch_unwind(|| run(args))
        .unwrap_or_else(|_| Err(Failure::Fault("the program stopped where it never should".to_owned())));
    if let Err(failure) = &result {
        // Without a standard error there is nobody to tell; the exit code still says it.
        let _ = writeln!(io::stderr(), "{failure}");
    }
    failure::exit_code(&result)
}

/// The command line, as far as it makes sense. A number below zero is an option's value, so that the option says what is wrong
/// with it.
fn typed() -> Result<Args, clap::Error> {
    let negative = |arg: clap::Arg| {
        let valued = !arg.is_positional() && arg.get_action().takes_values();
        if valued { arg.allow_negative_numbers(true) } else { arg }
    };
    let mut command = Args::command().mut_subcommands(|command| command.mut_args(negative));
    let mut matches = command.try_get_matches_from_mut(std::env::args_os())?;
    Args::from_arg_matches_mut(&mut matches).map_err(|error| error.format(&mut command))
}

fn run(args: Args) -> Result<Ending, Failure> {
    let around = Surroundings { stderr_is_terminal: io::stderr().is_terminal() };
    commands::run(settings::resolve(args, around)?)
}
