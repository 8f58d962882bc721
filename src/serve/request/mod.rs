//! What a body asks for: a job, a pile and a shop as their files have them, and limits to the search.
//!
//! The parts of a body are read by the readers of the files they stand for, so that the service and the command line
//! take the same and refuse the same, in the same words. Everything wrong is found at once.

mod parts;
mod purchase;

pub use purchase::{Asked, Purchase};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use parts::{Parts, whole};

use super::problem::{BodyError, Problem};
use super::settings::Limits;
use crate::job::{self, Job};
use crate::pile::{self, Pile};
use crate::plan::fill::{FillOptions, Pick};
use crate::plan::{Options, ShopPlan};
use crate::quote::{self, Date, Instead, Occasion};

/// Seconds a plan may take when nothing else was asked for, or the service's longest if that is less.
const PATIENT_SECONDS: f64 = 10.0;
/// Most exchanges of wood that one quote is asked for.
pub const MOST_INSTEAD: usize = 6;
/// The greatest whole number that every JSON reader keeps exactly (RFC 8259, section 6).
const EXACT: u64 = (1 << 53) - 1;

/// How long to look, how good is good enough, and what every random choice follows from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Search {
    /// Stop after so many seconds. Left out: ten, or the service's longest when `work` is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "f64", extend("exclusiveMinimum" = 0.0))]
    pub seconds: Option<f64>,
    /// Stop after so many units of work: the same plan on every machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "u64", range(min = 1, max = 9_007_199_254_740_991_u64))]
    pub work: Option<u64>,
    /// Stop when the plan is proven to be within this share of the best.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1.0))]
    pub gap: f64,
    /// What every random choice follows from.
    #[serde(default = "first_seed")]
    #[schemars(range(min = 0, max = 9_007_199_254_740_991_u64))]
    pub seed: u64,
}

fn first_seed() -> u64 {
    1
}

impl Search {
    /// What the library is asked, with the service's longest solve as the clock behind a limit of work.
    pub fn options(&self, limits: &Limits, threads: usize) -> Options {
        let seconds = match (self.seconds, self.work) {
            (Some(seconds), _) => seconds.min(limits.seconds),
            (None, Some(_)) => limits.seconds,
            (None, None) => PATIENT_SECONDS.min(limits.seconds),
        };
        Options { seconds: Some(seconds), work: self.work, gap: self.gap, seed: self.seed, threads }
    }
}

/// The files of an order, as they were written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Files {
    pub job: String,
    pub pile: String,
    pub shop: Option<String>,
}

/// A plan to be made.
pub struct Planning {
    pub job: Job,
    pub pile: Pile,
    pub files: Files,
    pub search: Search,
}

/// A plan to be checked.
pub struct Doubt {
    pub job: Job,
    pub pile: Pile,
    pub plan: ShopPlan,
}

/// A piece of stock to be filled.
pub struct Filling {
    pub job: Job,
    pub pile: Pile,
    pub pick: Pick,
    pub options: FillOptions,
}

/// A plan to be priced.
pub struct Pricing {
    pub doubt: Doubt,
    pub occasion: Occasion,
    /// What else is to be planned and priced beside it.
    pub instead: Vec<Instead>,
    pub search: Search,
}

impl Planning {
    /// Reads the body of a request for a plan.
    ///
    /// # Errors
    /// A problem with everything wrong.
    pub fn read(text: &str, limits: &Limits) -> Result<Planning, Problem> {
        let mut parts = Parts::read(text, &["job", "pile", "shop", "limits"])?;
        let (job, pile) = parts.job_and_pile(limits);
        let search = parts.search(limits);
        let files = Files {
            job: parts.text("job").unwrap_or_default().to_owned(),
            pile: parts.text("pile").unwrap_or_default().to_owned(),
            shop: parts.text("shop").map(str::to_owned),
        };
        parts.finish((job, pile)).map(|(job, pile)| Planning { job, pile, files, search })
    }

    /// Reads an order again that was good when it was kept.
    ///
    /// # Errors
    /// A problem when this version no longer reads what an earlier one did.
    pub fn again(files: Files, search: Search) -> Result<Planning, Problem> {
        let (job, pile) = files.read().map_err(Problem::invalid)?;
        Ok(Planning { job, pile, files, search })
    }
}

impl Files {
    /// The job and the pile in them.
    ///
    /// # Errors
    /// Everything wrong with them.
    pub fn read(&self) -> Result<(Job, Pile), Vec<BodyError>> {
        let mut errors = Vec::new();
        let pair = read_pair(Some(&self.job), Some(&self.pile), self.shop.as_deref(), &mut errors);
        match pair {
            (Some(job), Some(pile)) if errors.is_empty() => Ok((job, pile)),
            _ => Err(errors),
        }
    }
}

impl Doubt {
    /// Reads the body of a request for a check.
    ///
    /// # Errors
    /// A problem with everything wrong.
    pub fn read(text: &str, limits: &Limits) -> Result<Doubt, Problem> {
        Parts::read(text, &["job", "pile", "shop", "plan"])?.doubt(limits)
    }
}

impl Pricing {
    /// Reads the body of a request for a quote; it is dated today unless it says otherwise.
    ///
    /// # Errors
    /// A problem with everything wrong.
    pub fn read(text: &str, limits: &Limits) -> Result<Pricing, Problem> {
        let mut parts = Parts::read(text, &["job", "pile", "shop", "plan", "date", "for", "instead", "limits"])?;
        let client = parts.line("for", &|text| Ok(text.to_owned()));
        let date = parts.line("date", &|text| text.parse().map_err(|error: quote::DateError| error.to_string()));
        let occasion = Occasion { date: date.unwrap_or_else(Date::today), client };
        let (instead, search) = (parts.instead(), parts.search(limits));
        Ok(Pricing { doubt: parts.doubt(limits)?, occasion, instead, search })
    }
}

impl Filling {
    /// Reads the body of a request to fill one piece of stock.
    ///
    /// # Errors
    /// A problem with everything wrong.
    pub fn read(text: &str, limits: &Limits) -> Result<Filling, Problem> {
        let mut parts = Parts::read(text, &["job", "pile", "shop", "stock", "copy", "any_number", "seconds"])?;
        let (job, pile) = parts.job_and_pile(limits);
        parts.required("stock");
        let id = parts.field("stock", "write the id of a piece of the pile", |value| value.as_str().map(str::to_owned));
        let copy = parts.field("copy", "write a whole number from 1", |value| {
            whole(value).and_then(|copy| u32::try_from(copy).ok()).filter(|copy| *copy > 0)
        });
        let any_number = parts.field("any_number", "write true or false", Value::as_bool);
        let longest = limits.fill_seconds();
        let what = format!("write a number of seconds above 0, up to {longest}");
        let in_time = |seconds: &f64| *seconds > 0.0 && *seconds <= longest;
        let seconds = parts.field("seconds", &what, |value| value.as_f64().filter(in_time));
        let (job, pile) = parts.finish((job, pile))?;
        let pick = Pick { id: id.unwrap_or_default(), copy: copy.unwrap_or(1) };
        let options =
            FillOptions { seconds: Some(seconds.unwrap_or(longest)), any_number: any_number.unwrap_or(false) };
        Ok(Filling { job, pile, pick, options })
    }
}

/// Reads a pile that is a body by itself.
///
/// # Errors
/// A problem with everything wrong.
pub fn read_pile(text: &str, limits: &Limits) -> Result<Pile, Problem> {
    let pile =
        pile::file::read_json("pile", text).map_err(|faults| Problem::invalid(BodyError::all_of(&faults, "")))?;
    match pile_excess(&pile, limits, "") {
        Some(error) => Err(Problem::invalid(vec![error])),
        None => Ok(pile),
    }
}

/// A pile with more lines than the service takes.
pub fn pile_excess(pile: &Pile, limits: &Limits, prefix: &str) -> Option<BodyError> {
    let lines = pile.boards.len() + pile.sheets.len() + pile.sticks.len();
    let what = format!("a pile has up to {} lines here; this one has {lines}", limits.lines);
    (lines > limits.lines).then(|| BodyError::at(prefix, what))
}

fn job_excess(job: &Job, limits: &Limits) -> Vec<BodyError> {
    let mut errors = Vec::new();
    if job.parts.len() > limits.parts {
        let what = format!("a job has up to {} lines here; this one has {}", limits.parts, job.parts.len());
        errors.push(BodyError::at("/job/parts", what));
    }
    let pieces: u64 = job.parts.iter().map(|part| u64::from(part.qty)).sum();
    if pieces > limits.pieces {
        let what = format!("a job has up to {} pieces here; this one has {pieces}", limits.pieces);
        errors.push(BodyError::at("/job/parts", what));
    }
    errors
}

fn read_pair(
    job: Option<&str>,
    pile: Option<&str>,
    shop: Option<&str>,
    errors: &mut Vec<BodyError>,
) -> (Option<Job>, Option<Pile>) {
    let mut note = |faults: pile::Faults, prefix: &str| errors.extend(BodyError::all_of(&faults, prefix));
    let base = shop.and_then(|text| job::file::read_shop("shop", text).map_err(|f| note(f, "/shop")).ok());
    let job = job.and_then(|text| job::file::read_json("job", text, base.as_ref()).map_err(|f| note(f, "/job")).ok());
    let pile = pile.and_then(|text| pile::file::read_json("pile", text).map_err(|f| note(f, "/pile")).ok());
    (job, pile)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pointers(text: &str) -> Vec<String> {
        let problem = Planning::read(text, &Limits::default()).err().expect("the body is wrong");
        problem.errors.into_iter().map(|error| error.pointer).collect()
    }

    #[test]
    fn everything_wrong_with_an_order_is_said_at_once() {
        let text = r#"{ "job": { "format": "flitchwork.job/1", "units": "in", "parts": [ { "id": "a", "qty": 0 } ] },
            "pile": { "format": "flitchwork.pile/1", "units": "ell" }, "limits": { "seconds": -1, "speed": 2 },
            "shop": 3, "colour": 1, "pile": {} }"#;
        let pointers = pointers(text);
        for wanted in
            ["/colour", "/pile", "/pile/units", "/job/parts/0/qty", "/limits/seconds", "/limits/speed", "/shop"]
        {
            assert!(pointers.iter().any(|p| p == wanted), "no {wanted} in {pointers:?}");
        }
    }

    #[test]
    fn fields_that_are_missing_are_named() {
        assert_eq!(pointers("{}"), ["/job", "/pile"]);
        assert_eq!(pointers("[]"), [""]);
    }

    #[test]
    fn everything_wrong_with_what_is_to_be_filled_is_said_at_once() {
        let problem = Filling::read(r#"{ "copy": 0, "any_number": 1, "seconds": 1e9 }"#, &Limits::default());
        let problem = problem.err().expect("the body is wrong");
        let pointers: Vec<&str> = problem.errors.iter().map(|error| error.pointer.as_str()).collect();
        assert_eq!(pointers, ["/job", "/pile", "/stock", "/copy", "/any_number", "/seconds"]);
    }

    #[test]
    fn what_is_not_json_is_malformed_and_not_invalid() {
        for text in ["", "{", "{\"job\": tru}", "{} {}"] {
            assert_eq!(Planning::read(text, &Limits::default()).err().map(|p| p.status), Some(400), "{text}");
        }
    }

    #[test]
    fn a_limit_of_work_has_the_longest_solve_as_its_clock() {
        let limits = Limits { seconds: 20.0, ..Limits::default() };
        let search = |seconds, work| Search { seconds, work, gap: 0.0, seed: 1 }.options(&limits, 1).seconds;
        assert_eq!(search(None, Some(5)), Some(20.0));
        assert_eq!(search(Some(3.0), Some(5)), Some(3.0));
        assert_eq!(search(None, None), Some(10.0));
    }
}
