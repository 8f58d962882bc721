//! What the README shows of runs that come out the same on every machine is what they print. Plans, and quotes of them, may differ.

use crate::scratch::Scratch;

/// Their runs end by themselves, before any time is up.
const STEADY: [&str; 4] = ["tally", "fill", "grade", "order"];

/// The commands of the README's console blocks with the lines shown below each.
fn shown() -> Vec<(String, Vec<String>)> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/README.md");
    let text = std::fs::read_to_string(path).expect("the README is there");
    let mut shown: Vec<(String, Vec<String>)> = Vec::new();
    for block in text.split("```console\n").skip(1) {
        let block = block.split("```").next().unwrap_or_default();
        for line in block.lines() {
            match line.strip_prefix("$ ") {
                Some(command) => shown.push((command.to_owned(), Vec::new())),
                None => shown.last_mut().expect("a block begins with a command").1.push(line.to_owned()),
            }
        }
    }
    shown
}

#[test]
fn what_the_readme_shows_is_what_is_printed() {
    let scratch = Scratch::new();
    let mut runs = Vec::new();
    for (command, lines) in shown() {
        let Some(line) = command.strip_prefix("flitchwork ") else { continue };
        let Some(verb) = STEADY.into_iter().find(|&verb| line.starts_with(verb)) else { continue };
        let run = scratch.run(&line.replace("inventory-samples/bench", "{bench}"));
        assert_eq!(run.code, 0, "{command}: {}", run.stderr);
        let printed: Vec<&str> = run.stdout.lines().collect();
        for line in lines.iter().filter(|line| !line.is_empty() && *line != "...") {
            assert!(printed.contains(&line.as_str()), "{command}\ndoes not print:\n{line}\nbut:\n{}", run.stdout);
        }
        runs.push(verb);
    }
    assert!(STEADY.iter().all(|verb| runs.contains(verb)), "shown: {runs:?}");
}
