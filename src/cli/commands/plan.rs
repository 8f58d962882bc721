//! `plan`: the main road, from two files to a checked plan, its drawings and its summary.

use std::io::{self, Write};
use std::path::Path;

use crate::cli::args::Format;
use crate::cli::failure::{Ending, Failure};
use crate::cli::settings::PlanSettings;
use crate::cli::watch::{Reporter, catch_interrupts};
use crate::cli::{input, output};
use crate::draw::{self, DrawError, DrawOptions};
use crate::job::Job;
use crate::pile::Pile;
use crate::plan::{self, ShopPlan, Status, Stop};

pub fn run(settings: &PlanSettings) -> Result<Ending, Failure> {
    let job = input::read_job(&settings.job)?;
    let pile = input::read_pile(&settings.stock)?;
    let cancel = catch_interrupts()?;
    let reporter = Reporter::new(settings.reporting);
    let made = plan::make(&job, &pile, &settings.options, cancel, &|progress| reporter.tell(progress));
    reporter.finish();
    let plan = made.map_err(|error| Failure::Fault(error.to_string()))?;
    if plan.stop == Stop::Cancelled && plan.pieces_placed == 0 {
        // An empty plan must not take the place of an older one that may be good.
        return Err(Failure::Interrupted);
    }

    let text = plan::file::write_json(&plan);
    let files = Files { out: settings.out.as_deref(), drawings: settings.drawings.as_deref() };
    files.write(&plan, &text, &job, &pile)?;
    output::print(&match settings.format {
        Format::Text => plan::text::summary(&plan, &job.shop),
        Format::Json => text,
    })?;
    Ok(match (plan.stop, plan.status) {
        (Stop::Cancelled, _) => Ending::Interrupted,
        (_, Status::Short) => Ending::Short,
        (_, Status::Complete) => Ending::Done,
    })
}

/// The files that a plan is written into, if any.
pub struct Files<'a> {
    /// The plan itself.
    pub out: Option<&'a Path>,
    /// The folder of its drawings.
    pub drawings: Option<&'a Path>,
}

impl Files<'_> {
    /// Writes the plan, whose JSON is `text`, and its drawings.
    pub fn write(&self, plan: &ShopPlan, text: &str, job: &Job, pile: &Pile) -> Result<(), Failure> {
        if let Some(path) = self.out {
            output::write_file(path, text)?;
        }
        if let Some(folder) = self.drawings {
            draw_into(folder, plan, pile, &DrawOptions::of(&job.shop, plan.units))?;
        }
        Ok(())
    }
}

/// Draws a plan, and says on standard error where the drawings are.
pub fn draw_into(folder: &Path, plan: &ShopPlan, pile: &Pile, options: &DrawOptions) -> Result<(), Failure> {
    let files = draw::write_all(plan, pile, options, folder).map_err(|error| match error {
        DrawError::Write { path, source } => Failure::write(&path, &source),
        other => Failure::input(other),
    })?;
    // Where they are is a courtesy; the drawings are there whether or not anyone can read it.
    let _ = writeln!(io::stderr(), "{} drawings; open {}", files.len() - 1, folder.join("index.html").display());
    Ok(())
}
