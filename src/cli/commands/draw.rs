//! `draw`: the cut diagrams of a plan that is there already.

use crate::cli::failure::{Ending, Failure};
use crate::cli::input;
use crate::cli::settings::DrawSettings;
use crate::draw::DrawOptions;

use super::plan::draw_into;

pub fn run(settings: &DrawSettings) -> Result<Ending, Failure> {
    let plan = input::read_plan(&settings.plan)?;
    let pile = input::read_pile(&settings.stock)?;
    draw_into(&settings.out, &plan, &pile, &DrawOptions::defaults(plan.units))?;
    Ok(Ending::Done)
}
