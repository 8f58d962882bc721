//! What the command line comes to: defaults, limits, and what is refused.

use clap::{CommandFactory, Parser};
use rstest::rstest;

use super::*;

const UNWATCHED: Surroundings = Surroundings { stderr_is_terminal: false };

fn settle(line: &str) -> Result<Settings, Failure> {
    let args = Args::try_parse_from(line.split_whitespace()).expect("the line is well formed");
    resolve(args, UNWATCHED)
}

fn plan_of(line: &str) -> PlanSettings {
    match settle(line) {
        Ok(Settings::Plan(plan)) => plan,
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_definitions_of_the_command_line_are_consistent() {
    Args::command().debug_assert();
}

#[test]
fn a_plan_has_ten_seconds_unless_told_otherwise() {
    let plan = plan_of("flitchwork plan job.json --pile pile.json");
    assert_eq!(plan.options, plan::Options { seconds: Some(10.0), work: None, gap: 0.0, seed: 1, threads: 0 });
    assert_eq!((plan.out, plan.drawings, plan.format), (None, None, Format::Text));
}

#[test]
fn a_work_limit_alone_leaves_the_clock_out_of_it() {
    let plan = plan_of("flitchwork plan job.json --pile pile.json --work 500");
    assert_eq!((plan.options.seconds, plan.options.work), (None, Some(500)));
}

#[test]
fn a_work_limit_and_seconds_both_hold() {
    let plan = plan_of("flitchwork plan job.json --pile pile.json --work 500 --seconds 2.5");
    assert_eq!((plan.options.seconds, plan.options.work), (Some(2.5), Some(500)));
}

#[rstest]
#[case::a_share("0.01", 0.01)]
#[case::percent("1%", 0.01)]
#[case::percent_with_a_fraction("0.5%", 0.005)]
#[case::everything("1", 1.0)]
fn a_gap_is_a_share_or_a_percentage(#[case] text: &str, #[case] gap: f64) {
    let plan = plan_of(&format!("flitchwork plan job.json --pile pile.json --gap {text}"));
    assert!((plan.options.gap - gap).abs() < 1e-12);
}

#[rstest]
#[case::more_than_all("--gap 2")]
#[case::negative("--gap=-0.1")]
#[case::no_number("--gap NaN")]
#[case::no_time("--seconds 0")]
#[case::not_a_time("--seconds nan")]
#[case::endless("--seconds inf")]
#[case::negative_work("--work=-1")]
#[case::unknown_units("--units furlong")]
#[case::unknown_option("--colour")]
fn a_limit_that_makes_no_sense_is_refused(#[case] option: &str) {
    let line = format!("flitchwork plan job.json --pile pile.json {option}");
    let error = Args::try_parse_from(line.split_whitespace()).unwrap_err();
    assert_eq!(error.exit_code(), 2);
}

#[rstest]
#[case::none("sample --boards 0")]
#[case::too_many("sample --boards 5001")]
#[case::no_pieces("sample --pieces 0")]
#[case::a_milliard("sample --pieces 1000000000")]
fn a_sample_of_no_size_or_absurd_size_is_refused(#[case] line: &str) {
    let line = format!("flitchwork {line}");
    assert_eq!(Args::try_parse_from(line.split_whitespace()).unwrap_err().exit_code(), 2);
}

#[test]
fn the_plan_may_not_overwrite_what_it_is_made_from() {
    let failure = settle("flitchwork plan job.json --pile pile.json --out pile.json").unwrap_err();
    assert_eq!(failure.code(), 2);
    assert!(failure.to_string().contains("pile.json would overwrite"));
}

#[test]
fn the_same_file_by_another_path_may_not_be_overwritten_either() {
    let folder = tempfile::tempdir().unwrap();
    let pile = folder.path().join("pile.json");
    std::fs::write(&pile, "{}").unwrap();
    let detour = folder.path().join(".").join("pile.json");
    assert!(refuse_overwriting(&detour, &pile).is_err());
    assert!(refuse_overwriting(&folder.path().join("plan.json"), &pile).is_ok());
}

#[rstest]
#[case::watched("auto", true, Reporting::OneLine)]
#[case::unwatched("auto", false, Reporting::Silent)]
#[case::asked_for("always", false, Reporting::Lines)]
#[case::unwanted("never", true, Reporting::Silent)]
fn progress_goes_to_a_terminal_or_where_it_is_asked_for(
    #[case] choice: &str,
    #[case] stderr_is_terminal: bool,
    #[case] expected: Reporting,
) {
    let line = format!("flitchwork plan job.json --pile pile.json --progress {choice}");
    let args = Args::try_parse_from(line.split_whitespace()).unwrap();
    let Ok(Settings::Plan(plan)) = resolve(args, Surroundings { stderr_is_terminal }) else { panic!("a plan") };
    assert_eq!(plan.reporting, expected);
}

#[test]
fn a_service_listens_on_this_machine_only_unless_told_otherwise() {
    let Ok(Settings::Serve(serve)) = settle("flitchwork serve") else { panic!("a service") };
    assert!(serve.service.bind.ip().is_loopback() && serve.service.judged().is_ok());
    let Ok(Settings::Serve(serve)) = settle("flitchwork serve --bind 0.0.0.0:80") else { panic!("a service") };
    assert!(serve.service.judged().is_err());
}

#[test]
fn units_of_csv_files_are_inches_unless_told_otherwise() {
    let Ok(Settings::Tally(tally)) = settle("flitchwork tally pile.csv") else { panic!("a tally") };
    assert_eq!(tally.stock.units, Units::Inches);
    let Ok(Settings::Tally(tally)) = settle("flitchwork tally pile.csv --units mm --defects d.csv") else {
        panic!("a tally")
    };
    assert_eq!((tally.stock.units, tally.stock.defects), (Units::Millimetres, Some("d.csv".into())));
}
