//! Plan files: written in a fixed order and format, read back to the same tick.
//!
//! A plan is written in its own units, every number with the digits that bring it back to the same tick. Reading checks
//! the form only; whether what it says is lawful is `check`'s business.

use super::{FORMAT, Length, Number, Plan, PlanFile, ShopPlan};
use crate::measure::{Units, decimal_from_f64};

/// Why a plan file could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanFileError {
    /// Not JSON, or not of a plan's form.
    #[error("{file}, line {line} column {column}: {what}")]
    Form { file: String, line: usize, column: usize, what: String },
    /// A file of another kind or version.
    #[error("{file}, format: read \"{found}\", this version reads \"{FORMAT}\"")]
    Format { file: String, found: String },
    /// A length too great for any workshop.
    #[error("{file}: {number} is no length; write a number of {units}")]
    Length { file: String, number: String, units: &'static str },
}

/// The plan as JSON, two spaces a level, with a line feed at the end. Equal plans give equal bytes.
pub fn write_json(plan: &ShopPlan) -> String {
    let mut text = serde_json::to_string_pretty(&to_file(plan)).expect("a plan has only text keys and finite numbers");
    text.push('\n');
    text
}

/// A plan from its JSON. `file` names it in errors.
///
/// # Errors
/// The first thing wrong: the form (unknown and missing fields included, with line and column), the format, a length
/// that no 64-bit number of ticks holds.
pub fn read_json(file: &str, text: &str) -> Result<ShopPlan, PlanFileError> {
    let plan: PlanFile = serde_json::from_str(text.trim_start_matches('\u{feff}')).map_err(|e| {
        let what = e.to_string();
        let what = what.split(" at line ").next().unwrap_or(&what).to_owned();
        PlanFileError::Form { file: file.to_owned(), line: e.line(), column: e.column(), what }
    })?;
    if plan.format != FORMAT {
        return Err(PlanFileError::Format { file: file.to_owned(), found: plan.format });
    }
    let units = plan.units;
    plan.try_map(&|number| {
        length(*number, units).ok_or_else(|| PlanFileError::Length {
            file: file.to_owned(),
            number: number.0.to_string(),
            units: units.symbol(),
        })
    })
}

/// The plan with its lengths as numbers of its units.
pub fn to_file(plan: &ShopPlan) -> PlanFile {
    let number = |length: &Length| Ok::<Number, std::convert::Infallible>(Number(length.to_f64(plan.units)));
    match plan.try_map(&number) {
        Ok(file) => file,
        Err(never) => match never {},
    }
}

/// JSON Schema of plan files, made from the types.
pub fn schema() -> serde_json::Value {
    let mut schema = schemars::schema_for!(Plan<Number>);
    schema.insert("title".to_owned(), "A flitchwork plan".into());
    schema.to_value()
}

/// The whole tick nearest to a number of `units`.
fn length(number: Number, units: Units) -> Option<Length> {
    Length::from_rational(&decimal_from_f64(number.0)?, units)
}
