//! The commands, one file each: read the files, call the library, print the answer.

mod check;
mod completions;
mod draw;
mod fill;
mod grade;
mod order;
mod plan;
mod quote;
mod sample;
mod schema;
mod serve;
mod tally;

use super::failure::{Ending, Failure};
use super::settings::Settings;

/// Does a resolved command.
pub fn run(settings: Settings) -> Result<Ending, Failure> {
    match settings {
        Settings::Plan(settings) => plan::run(&settings),
        Settings::Fill(settings) => fill::run(&settings),
        Settings::Quote(settings) => quote::run(&settings),
        Settings::Check(settings) => check::run(&settings),
        Settings::Draw(settings) => draw::run(&settings),
        Settings::Tally(settings) => tally::run(&settings),
        Settings::Grade(settings) => grade::run(&settings),
        Settings::Order(settings) => order::run(&settings),
        Settings::Schema(kind) => schema::run(kind),
        Settings::Serve(settings) => serve::run(*settings),
        Settings::Sample(settings) => sample::run(&settings),
        Settings::Completions(shell) => completions::run(shell),
    }
}
