//! A fresh folder, the real binary in it, and what came of a run.

use std::path::{Path, PathBuf};

use serde_json::Value;
use tempfile::TempDir;

/// A folder of a test's own.
pub struct Scratch(TempDir);

/// What a run left behind.
pub struct Run {
    pub code: i32,
    pub stdout: String,
    pub stderr: String,
}

impl Scratch {
    pub fn new() -> Scratch {
        Scratch(tempfile::tempdir().expect("a folder for the test"))
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).expect("a file of the test");
    }

    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    pub fn json(&self, name: &str) -> Value {
        serde_json::from_str(&self.read(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    /// Names of the files in the folder, sorted.
    pub fn names(&self) -> Vec<String> {
        self.names_in(".")
    }

    /// Names of the files in a folder of it, sorted.
    pub fn names_in(&self, folder: &str) -> Vec<String> {
        let entries = std::fs::read_dir(self.path(folder)).expect("a folder of the test");
        let mut names: Vec<String> =
            entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// Runs the program in the folder on the words of `line`; `{bench}` and `{sideboard}` stand for those samples.
    pub fn run(&self, line: &str) -> Run {
        let line = line.replace("{bench}", &sample("bench")).replace("{sideboard}", &sample("sideboard"));
        let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_flitchwork"))
            .current_dir(self.0.path())
            .args(line.split_whitespace())
            .output()
            .expect("the program runs");
        Run {
            code: output.status.code().expect("no signal ended it"),
            stdout: String::from_utf8(output.stdout).expect("text"),
            stderr: String::from_utf8(output.stderr).expect("text"),
        }
    }
}

impl Run {
    /// The run, if it ended with `code`; otherwise everything it said.
    #[track_caller]
    pub fn ends(self, code: i32) -> Run {
        assert_eq!(self.code, code, "\n--- stdout\n{}\n--- stderr\n{}", self.stdout, self.stderr);
        self
    }

    /// Fails unless standard error has every one of `words`, and standard output nothing.
    #[track_caller]
    pub fn complains_of(self, words: &[&str]) {
        for word in words {
            assert!(self.stderr.contains(word), "no {word:?} in:\n{}", self.stderr);
        }
        assert_eq!(self.stdout, "", "a complaint belongs on standard error only");
    }
}

/// The folder of a sample.
pub fn sample(name: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("inventory-samples").join(name).display().to_string()
}

/// A plan without the part that tells how the run went.
pub fn without_run(plan: &str) -> String {
    let mut plan: Value = serde_json::from_str(plan).expect("a plan is JSON");
    plan.as_object_mut().expect("an object").remove("run").expect("a plan tells how its run went");
    plan.to_string()
}
