//! The real binary, serving in a folder of the test's own.

use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use tempfile::TempDir;

use crate::client::{Answer, post};

/// A service, killed when dropped.
pub struct Running {
    pub address: SocketAddr,
    pub child: Child,
    folder: TempDir,
}

impl Running {
    /// A service on a free port, with these further options.
    pub fn start(options: &str) -> Running {
        let folder = tempfile::tempdir().expect("a folder for the test");
        let mut child = Command::new(env!("CARGO_BIN_EXE_flitchwork"))
            .current_dir(folder.path())
            .args("serve --bind 127.0.0.1:0 --max-seconds 20 --answer-within 60".split(' '))
            .args(options.split_whitespace())
            .stdout(Stdio::piped())
            .stderr(std::fs::File::create(folder.path().join("log")).expect("a log"))
            .spawn()
            .expect("the program starts");
        let mut first = String::new();
        BufReader::new(child.stdout.take().expect("a pipe")).read_line(&mut first).expect("a line");
        let address = first.trim().strip_prefix("http://").and_then(|address| address.parse().ok());
        let log = || std::fs::read_to_string(folder.path().join("log")).unwrap_or_default();
        let address = address.unwrap_or_else(|| panic!("no address in {first:?}; the log: {}", log()));
        Running { address, child, folder }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn log(&self) -> String {
        std::fs::read_to_string(self.path("log")).expect("a log")
    }

    /// Runs the program beside it, in the same folder.
    pub fn command(&self, line: &str) -> std::process::Output {
        Command::new(env!("CARGO_BIN_EXE_flitchwork"))
            .current_dir(self.folder.path())
            .args(line.split_whitespace())
            .output()
            .expect("the program runs")
    }

    /// A plan of these files, made before the answer comes.
    #[track_caller]
    pub fn plan(&self, job: &str, pile: &str, limits: &str) -> Answer {
        let body = format!("{{ \"job\": {job}, \"pile\": {pile}, \"limits\": {limits} }}");
        post(self.address, "/v1/plans", &[], &body).is(200)
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // It may have ended already; either way it is gone afterwards.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A file of a sample.
pub fn sample(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("inventory-samples").join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}
