//! How a command ends: the documented exit codes, and the failures that lead to them.

use std::fmt;
use std::path::Path;
use std::process::ExitCode;

/// How a command that did its work ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// Everything asked for is there.
    Done,
    /// A lawful plan that does not make everything.
    Short,
    /// Interrupted; the best plan so far is written.
    Interrupted,
    /// The file that was to be checked breaks a rule.
    Unlawful,
}

impl Ending {
    /// The process's exit code.
    pub fn code(self) -> u8 {
        match self {
            Ending::Done => 0,
            Ending::Unlawful => 2,
            Ending::Short => 3,
            Ending::Interrupted => INTERRUPTED,
        }
    }
}

/// 128 + SIGINT, as shells report it.
pub const INTERRUPTED: u8 = 130;

/// Why a command could not do its work.
#[derive(Debug, PartialEq, Eq)]
pub enum Failure {
    /// Something typed or read is wrong: one finding a line, each with its place and its cure.
    Input(Vec<String>),
    /// Something could not be read or written.
    Io(String),
    /// The program itself is at fault.
    Fault(String),
    /// Interrupted before there was anything to write.
    Interrupted,
}

impl Failure {
    /// A wrong input with one finding.
    pub fn input(finding: impl fmt::Display) -> Failure {
        Failure::Input(vec![finding.to_string()])
    }

    /// A failed write.
    pub fn write(path: &Path, error: &std::io::Error) -> Failure {
        Failure::Io(format!("cannot write {}: {error}; is the folder there, and may you write in it?", path.display()))
    }

    /// The process's exit code. What cannot be read or written was named by the user, so it is wrong input.
    pub fn code(&self) -> u8 {
        match self {
            Failure::Input(_) | Failure::Io(_) => 2,
            Failure::Fault(_) => 1,
            Failure::Interrupted => INTERRUPTED,
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failure::Input(findings) => write!(f, "{}", findings.join("\n")),
            Failure::Io(what) => write!(f, "{what}"),
            Failure::Fault(what) => write!(
                f,
                "a fault of the program: {what}\nplease report it with the job, the pile and the options used"
            ),
            Failure::Interrupted => write!(f, "interrupted before there was a plan; nothing was written"),
        }
    }
}

/// The exit code of a command.
pub fn exit_code(result: &Result<Ending, Failure>) -> ExitCode {
    ExitCode::from(match result {
        Ok(ending) => ending.code(),
        Err(failure) => failure.code(),
    })
}
