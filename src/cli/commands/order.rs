//! `order`: how much lumber to order, with what confidence.

use crate::cli::args::Format;
use crate::cli::failure::{Ending, Failure};
use crate::cli::settings::OrderSettings;
use crate::cli::watch::{Reporter, catch_interrupts};
use crate::cli::{input, output};
use crate::draw;
use crate::order::{self, Answer, OrderError, Question};

pub fn run(settings: &OrderSettings) -> Result<Ending, Failure> {
    let job = input::read_job(&settings.job)?;
    let past = settings.past.as_ref().map(input::read_pile).transpose()?;
    let question = Question {
        species: settings.species.clone(),
        thicknesses: settings.thicknesses.clone(),
        offers: settings.offers.clone(),
        past,
        lots: settings.lots,
        seed: settings.seed,
        confidence: settings.confidence,
        terms: settings.terms.clone(),
        threads: settings.threads,
    };
    let cancel = catch_interrupts()?;
    let reporter = Reporter::new(settings.reporting);
    let answered = order::answer(&job, &question, cancel, &|done| reporter.say(&|| done.sentence(reporter.seconds())));
    reporter.finish();
    let answer = answered.map_err(|error| match error {
        OrderError::Cancelled => Failure::Interrupted,
        other => Failure::input(format!("{}: {other}", settings.job.job.display())),
    })?;
    if let Some(path) = &settings.drawing {
        output::write_file(path, &draw::as_svg(&draw::order_drawing(&answer, job.units)))?;
    }
    output::print(&match settings.format {
        Format::Text => answer.as_text(job.units),
        Format::Json => answer.as_json(job.units),
    })?;
    Ok(if answer.cancelled {
        Ending::Interrupted
    } else if suffices(&answer) {
        Ending::Done
    } else {
        Ending::Short
    })
}

/// True when every thickness has a figure at the confidence asked for, in some grade.
fn suffices(answer: &Answer) -> bool {
    let figure =
        |grade: &order::GradeOrder| grade.asked(answer.question.confidence).and_then(|figure| figure.board_feet);
    answer.orders.iter().all(|order| order.grades.iter().any(|grade| figure(grade).is_some()))
}
