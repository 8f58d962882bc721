//! Our answer beside the published one: a line a row, and a table a family.

use std::collections::BTreeMap;
use std::time::Duration;

use super::data::Row;

/// What we say.
pub struct Answer {
    /// What our layouts reach; none when a question of yes or no stays open.
    pub value: Option<i64>,
    /// What no layout of our class beats.
    pub bound: Option<i64>,
    /// Our class of layouts is a part of the published one: our value may be worse, never better, and our bound says
    /// nothing about theirs.
    pub narrower: bool,
}

impl Answer {
    /// A question for the least.
    pub fn least(value: i64, bound: i64) -> Answer {
        Answer { value: Some(value), bound: Some(bound), narrower: false }
    }

    /// A question for the most.
    pub fn most(value: i64, bound: i64) -> Answer {
        Answer::least(value, bound)
    }

    /// Yes (1), no (0), or neither proven.
    pub fn fits(yes: bool, no: bool) -> Answer {
        let said = if yes { Some(1) } else { no.then_some(0) };
        Answer { value: said, bound: said, narrower: false }
    }
}

/// How an answer stands to the published one.
struct Standing {
    reached: bool,
    proven: bool,
    contradicts: bool,
    /// Our value is better than the best known, which was not proved.
    better: bool,
    /// Distance of our bound from our value, and of our value from the published one, shares.
    gap: f64,
    behind: f64,
}

fn standing(row: &Row, answer: &Answer) -> Standing {
    let share = |apart: i64, of: i64| apart.max(0) as f64 / of.max(1) as f64;
    let open = Standing { reached: false, proven: false, contradicts: false, better: false, gap: 0.0, behind: 0.0 };
    let (Some(value), Some(bound)) = (answer.value, answer.bound) else { return open };
    let (low, high) = (row.lower(), row.upper());
    let proven = value == bound;
    let sound = !answer.narrower;
    match row.sense.as_str() {
        "feasibility" => {
            let same = (value == 1) == row.status.starts_with("feasible");
            Standing { reached: same, proven: true, contradicts: !same, ..open }
        }
        "max" => Standing {
            reached: value >= low,
            proven,
            contradicts: value > high || (sound && bound < low),
            better: value > low && value <= high,
            gap: share(bound - value, value),
            behind: share(low - value, low),
        },
        _ => Standing {
            reached: value <= high,
            proven,
            contradicts: value < low || (sound && bound > high),
            better: value < high && value >= low,
            gap: share(value - bound, value),
            behind: share(value - high, high),
        },
    }
}

/// Sums of one set of a family.
#[derive(Default)]
struct Tally {
    rows: usize,
    reached: usize,
    proven: usize,
    better: usize,
    contradicts: usize,
    unanswered: usize,
    narrower: bool,
    gap: f64,
    behind: f64,
    seconds: Vec<f64>,
}

/// All answers so far.
#[derive(Default)]
pub struct Report {
    tallies: BTreeMap<(String, String, String), Tally>,
    missed: Vec<String>,
}

impl Report {
    /// Counts and prints an answer.
    pub fn add(&mut self, family: &str, question: &str, row: &Row, answer: &Answer, time: Duration) {
        let stands = standing(row, answer);
        let seconds = time.as_secs_f64();
        let published = match row.sense.as_str() {
            "max" => row.lower().to_string(),
            "min" => row.upper().to_string(),
            _ => row.status.clone(),
        };
        let show = |figure: Option<i64>| figure.map_or("open".to_owned(), |figure| figure.to_string());
        let (value, bound, gap) = (show(answer.value), show(answer.bound), stands.gap * 100.0);
        let name = format!("{family} | {} | {} | {}", row.set, row.instance, row.variant);
        let line = format!("{name} | {value} | {bound} | {published} | {gap:.3} % | {seconds:.2}");
        println!("{}{line}", if stands.contradicts { "CONTRADICTS " } else { "" });
        if !stands.reached && !answer.narrower {
            self.missed.push(line);
        }
        let tally = self.tally(family, &row.set, question);
        tally.rows += 1;
        tally.reached += usize::from(stands.reached);
        tally.proven += usize::from(stands.proven);
        tally.better += usize::from(stands.better);
        tally.contradicts += usize::from(stands.contradicts);
        tally.narrower |= answer.narrower;
        tally.gap = tally.gap.max(stands.gap);
        tally.behind = tally.behind.max(stands.behind);
        tally.seconds.push(seconds);
    }

    /// Counts a row whose question is not ours.
    pub fn leave(&mut self, family: &str, question: &str, row: &Row) {
        self.tally(family, &row.set, question).unanswered += 1;
    }

    fn tally(&mut self, family: &str, set: &str, question: &str) -> &mut Tally {
        self.tallies.entry((family.to_owned(), set.to_owned(), question.to_owned())).or_default()
    }

    /// Prints the table of sets.
    pub fn print(&self) {
        println!(
            "\n| family | set | question | rows | reach the published value | proven | better | contradict | behind, worst | gap, worst | median s | longest s |"
        );
        println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
        for ((family, set, question), tally) in &self.tallies {
            if tally.rows == 0 {
                println!("| {family} | {set} | {question} | {} not answered | | | | | | | | |", tally.unanswered);
                continue;
            }
            let mut seconds = tally.seconds.clone();
            seconds.sort_by(f64::total_cmp);
            let (median, longest) = (seconds[seconds.len() / 2], seconds[seconds.len() - 1]);
            let Tally { rows, reached, proven, better, contradicts, .. } = tally;
            let (behind, gap) = (tally.behind * 100.0, tally.gap * 100.0);
            let note = if tally.narrower { " (narrower class)" } else { "" };
            println!(
                "| {family} | {set} | {question}{note} | {rows} | {reached} | {proven} | {better} | {contradicts} | {behind:.2} % | {gap:.2} % | {median:.2} | {longest:.1} |"
            );
        }
        println!("\nBehind the published value:");
        self.missed.iter().for_each(|line| println!("  {line}"));
    }
}
