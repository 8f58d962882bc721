//! `quote`: from a plan, or a job and a pile, to a price; the maker's own sheet, and the client's page.

use std::sync::atomic::AtomicBool;

use crate::cli::args::SheetFormat;
use crate::cli::failure::{Ending, Failure};
use crate::cli::settings::{ClientPage, QuoteSettings};
use crate::cli::watch::{Reporter, catch_interrupts};
use crate::cli::{input, output};
use crate::draw::offer;
use crate::job::Job;
use crate::pile::Pile;
use crate::plan::{self, ShopPlan, Stop};
use crate::quote::page::Page;
use crate::quote::{self, Date, InsteadError, Occasion, Quote, QuoteError};

pub fn run(settings: &QuoteSettings) -> Result<Ending, Failure> {
    let job = input::read_job(&settings.job)?;
    let pile = input::read_pile(&settings.stock)?;
    let given = settings.plan.as_deref().map(input::read_plan).transpose()?;
    let occasion = Occasion { date: settings.date.unwrap_or_else(Date::today), client: settings.client.clone() };
    let cancel = catch_interrupts()?;
    let plan = match given {
        Some(plan) => plan,
        None => planned(settings, &job, &pile, cancel)?,
    };
    let mut quote = quote::quote(&job, &pile, &plan, occasion.clone()).map_err(|error| refused(settings, &error))?;
    let mut interrupted = settings.plan.is_none() && plan.stop == Stop::Cancelled;
    for instead in &settings.instead {
        let reporter = Reporter::new(settings.reporting);
        let tell = |progress: &_| reporter.tell(progress);
        let priced = instead.priced(&job, &pile, &occasion, &settings.options, cancel, &tell);
        reporter.finish();
        match priced {
            Ok(alternative) => quote.alternatives.push(alternative),
            Err(InsteadError::Cancelled) => {
                interrupted = true;
                break;
            }
            Err(InsteadError::Make(error)) => return Err(Failure::Fault(error.to_string())),
            Err(InsteadError::Quote(error)) => return Err(refused(settings, &error)),
            Err(error) => return Err(Failure::input(format!("--instead: {error}"))),
        }
    }
    write(settings, &quote)?;
    Ok(match quote.is_complete() {
        _ if interrupted => Ending::Interrupted,
        true => Ending::Done,
        false => Ending::Short,
    })
}

fn planned(settings: &QuoteSettings, job: &Job, pile: &Pile, cancel: &AtomicBool) -> Result<ShopPlan, Failure> {
    let reporter = Reporter::new(settings.reporting);
    let made = plan::make(job, pile, &settings.options, cancel, &|progress| reporter.tell(progress));
    reporter.finish();
    let plan = made.map_err(|error| Failure::Fault(error.to_string()))?;
    if plan.stop == Stop::Cancelled && plan.pieces_placed == 0 { Err(Failure::Interrupted) } else { Ok(plan) }
}

fn refused(settings: &QuoteSettings, error: &QuoteError) -> Failure {
    match (error, &settings.plan) {
        (QuoteError::Unlawful(_), Some(plan)) => Failure::input(format!("{}: {error}", plan.display())),
        (QuoteError::Unlawful(_), None) => Failure::Fault(error.to_string()),
        _ => Failure::input(format!("{}: {error}", settings.job.job.display())),
    }
}

fn write(settings: &QuoteSettings, quote: &Quote) -> Result<(), Failure> {
    let json = quote::file::write_json(quote);
    if let Some(path) = &settings.out {
        output::write_file(path, &json)?;
    }
    let page = Page::of(quote);
    for wanted in &settings.pages {
        match wanted {
            ClientPage::Html(path) => output::write_file(path, &quote::as_html(&page))?,
            ClientPage::Pdf(path) => {
                let pages = offer::offer_pdf(&page).map_err(|error| Failure::Fault(error.to_string()))?;
                output::write_bytes(path, &pages)?;
            }
        }
    }
    output::print(&match settings.format {
        SheetFormat::Text => quote::summary(quote),
        SheetFormat::Json => json,
        SheetFormat::Csv => quote::as_csv(quote),
    })
}
