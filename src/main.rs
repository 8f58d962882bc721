//! The binary: everything it does is in `flitchwork::cli`.

use std::process::ExitCode;

fn main() -> ExitCode {
    flitchwork::cli::main()
}
