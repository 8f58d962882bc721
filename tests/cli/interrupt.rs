//! Ctrl-C through the real binary: the best plan so far is written, lawful, with its own exit code.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

use crate::scratch::Scratch;

#[test]
fn an_interrupted_run_writes_the_best_plan_so_far() {
    let scratch = Scratch::new();
    scratch.run("sample --seed 4 --boards 60 --pieces 180 --out .").ends(0);
    let mut child = Command::new(env!("CARGO_BIN_EXE_flitchwork"))
        .current_dir(scratch.path("."))
        .args("plan job.json --pile pile.json --out plan.json --seconds 300 --progress always".split(' '))
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
    let first = lines.next().expect("progress is reported").unwrap();
    assert!(first.contains("180 pieces") && first.contains("at least"), "{first}");

    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
    let rest: Vec<String> = lines.map(|line| line.unwrap()).collect();
    assert_eq!(child.wait().unwrap().code(), Some(130), "{rest:?}");
    assert!(rest.iter().any(|line| line.contains("what there is so far")), "{rest:?}");

    let plan = scratch.json("plan.json");
    assert_eq!(plan["stop"], "cancelled");
    assert!(plan["bound"].as_f64().unwrap() <= plan["cost"].as_f64().unwrap());
    scratch.run("check job.json pile.json plan.json").ends(0);
    assert_eq!(scratch.names(), ["job.json", "pile.json", "plan.json"], "no draft stays");
}
