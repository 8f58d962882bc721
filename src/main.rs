//! The binary: everything it does is in `flitchwork::cli`.

use std::process::ExitCode;

/// A tenth of a plan from many boards is small buffers that come and go on several threads.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    flitchwork::cli::main()
}
